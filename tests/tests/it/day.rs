//! The plan of the day through the real daemon and its socket.

use chargehand_daemon::calendar::read_ics;
use chargehand_tests::client::{Client, fresh};
use chargehand_tests::http;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::plan::{Change, DayPlan};
use chargehand_types::queue::{AddBatch, CancelBatch, Done};
use chrono::{DateTime, TimeDelta, Utc};
use std::fmt::Write as _;

/// A workshop in which somebody is in around the clock but for midnight's minute.
pub(super) fn shop() -> Workshop {
    let shop = Workshop::new(20.0);
    shop.edit("daemon.toml", |text| {
        let mut hours = String::from("\n[[shop.presence]]\nwho = \"owner\"\nfrom = \"00:00\"\nto = \"23:59\"\n");
        let _ = writeln!(hours, "days = [\"mon\", \"tue\", \"wed\", \"thu\", \"fri\", \"sat\", \"sun\"]");
        text + &hours
    });
    shop
}

fn add(client: &Client, sheets: u32, due: Option<DateTime<Utc>>) -> String {
    let request = AddBatch { command_id: fresh(), card: CARD.into(), sheets, due, weight: None };
    let done: Done = client.post("/v1/batches", &request).unwrap();
    done.id.unwrap()
}

pub(super) fn plan(client: &Client, query: &str) -> DayPlan {
    client.get(&format!("/v1/plan{query}")).unwrap()
}

#[test]
fn the_plan_follows_what_waits() {
    let mut shop = shop();
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    assert!(plan(&client, "").sheets.is_empty());
    let now = Utc::now();
    let later = add(&client, 2, Some(now + TimeDelta::days(5)));
    assert_eq!(plan(&client, "").changes.len(), 2);
    let soon = add(&client, 1, Some(now + TimeDelta::days(1)));
    let all = plan(&client, "");
    assert_eq!(all.sheets.len(), 3);
    assert!(all.changes.contains(&Change::New { sheet: format!("{soon}-1").into() }));
    for (one, next) in all.sheets.iter().zip(&all.sheets[1..]) {
        assert!(one.finish <= next.start);
    }
    assert!(!all.needed.is_empty());
    // supposing changes nothing
    assert_eq!(plan(&client, &format!("?sheets={later}-1")).sheets.len(), 2);
    assert_eq!(plan(&client, &format!("?sheets={later}%2B2")).sheets.len(), 5);
    assert_eq!(plan(&client, "").sheets.len(), 3);
    let cancel = CancelBatch { command_id: fresh() };
    let _: Done = client.post(&format!("/v1/batches/{later}/cancel"), &cancel).unwrap();
    let rest = plan(&client, "");
    assert_eq!(rest.sheets.len(), 1);
    assert!(rest.changes.contains(&Change::Gone { sheet: format!("{later}-2").into() }));
}

#[test]
fn what_is_not_understood_is_refused() {
    let mut shop = shop();
    let client = shop.start();
    for query in ["?presence=tomorrow", "?sheets=many", "?sheets=B9%2B1", "?colour=red"] {
        let refused = client.get::<DayPlan>(&format!("/v1/plan{query}"));
        assert!(refused.is_err(), "{query}");
    }
}

#[test]
fn a_calendar_kept_elsewhere_counts_and_a_bad_one_is_named() {
    let mut shop = shop();
    let file = "BEGIN:VCALENDAR\nBEGIN:VEVENT\nDTSTART:20200101T000000Z\nDURATION:PT1H\nEND:VEVENT\nEND:VCALENDAR\n";
    let folder = shop.path("");
    shop.write("helper.ics", file.as_bytes());
    shop.edit("daemon.toml", |t| t + "[[shop.calendar]]\nwho = \"helper\"\nfile = \"helper.ics\"\n");
    let client = shop.start();
    assert!(plan(&client, "").sheets.is_empty());
    client.add_card(&shop.card()).unwrap();
    add(&client, 1, None);
    std::fs::write(folder.join("helper.ics"), file.replace("DURATION", "RRULE:FREQ=YEARLY\nDURATION")).unwrap();
    let told = client.get::<DayPlan>("/v1/plan").unwrap_err();
    assert!(format!("{told:?}").contains("FREQ=YEARLY"), "{told:?}");
}

#[test]
fn the_calendar_written_reads_back() {
    let mut shop = shop();
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    add(&client, 3, None);
    let plan = plan(&client, "");
    let file = chargehand_terminal::day::calendar(&plan);
    let last = plan.until + TimeDelta::days(1);
    let read = read_ics(&file, "UTC".parse().unwrap(), plan.at - TimeDelta::days(1), last).unwrap();
    let needed: Vec<_> = plan.needed.iter().map(|n| (n.from, n.to)).collect();
    assert_eq!(read, needed);
}

/// The feed as it is served, read by a general-purpose reader of calendars (the crate `icalendar`), as a phone's would be.
#[test]
fn a_reader_of_calendars_takes_the_feed() {
    use icalendar::parser::{read_calendar, unfold};
    let mut shop = shop();
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    add(&client, 3, None);
    let plan = plan(&client, "");
    let answer = http::send(&shop.socket(), "GET", "/calendar.ics", &[], None).unwrap();
    assert_eq!(answer.status, 200);
    let served = unfold(&answer.whole().unwrap());
    let feed = read_calendar(&served).unwrap_or_else(|e| panic!("{e}\n{served}"));
    // RFC 5545, 3.6: both are required, and an event has UID and DTSTAMP (3.6.1)
    for name in ["VERSION", "PRODID"] {
        assert!(feed.properties.iter().any(|p| p.name == name), "{name}");
    }
    assert!(!plan.needed.is_empty());
    assert_eq!(feed.components.len(), plan.needed.len());
    for (event, needed) in feed.components.iter().zip(&plan.needed) {
        assert_eq!(event.name, "VEVENT");
        let told = |name: &str| event.find_prop(name).unwrap_or_else(|| panic!("{name}\n{served}")).val.to_string();
        assert!(told("UID").ends_with("@chargehand") && told("DTSTAMP").ends_with('Z'));
        // the plan may have been made anew between the two questions: days and hours stand, seconds may not
        let start = chrono::NaiveDateTime::parse_from_str(&told("DTSTART"), "%Y%m%dT%H%M%SZ").unwrap().and_utc();
        assert!(start.signed_duration_since(needed.from).abs() < TimeDelta::minutes(10), "{start} {}", needed.from);
        assert!(told("SUMMARY").starts_with("Router: "));
    }
}
