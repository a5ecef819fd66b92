//! Imported calendars. The examples and their dates are those of RFC 5545, 3.8.5.3 (from memory).

use super::*;
use proptest::prelude::*;

fn calendar(lines: &str) -> String {
    format!("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nBEGIN:VEVENT\r\n{lines}\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n")
}

fn starts(rule: &str, first: &str) -> Vec<String> {
    let lines = format!(
        "DTSTART;TZID=America/New_York:{first}T090000\r\nDTEND;TZID=America/New_York:{first}T100000\r\nRRULE:{rule}"
    );
    let zone = chrono_tz::Europe::Oslo;
    let found = read_ics(&calendar(&lines), zone, utc("1997-01-01T00:00:00Z"), utc("1998-06-01T00:00:00Z")).unwrap();
    let local = found.iter().map(|s| s.0.with_timezone(&chrono_tz::America::New_York));
    local.map(|t| t.format("%m%d-%H").to_string()).collect()
}

fn mornings(days: &str) -> Vec<String> {
    days.split(' ').map(|d| format!("{d}-09")).collect()
}

#[test]
fn rules_give_the_dates_of_the_standard() {
    let ten = "0902 0903 0904 0905 0906 0907 0908 0909 0910 0911";
    assert_eq!(starts("FREQ=DAILY;COUNT=10", "19970902"), mornings(ten));
    assert_eq!(starts("FREQ=DAILY;INTERVAL=10;COUNT=5", "19970902"), mornings("0902 0912 0922 1002 1012"));
    let weeks = "0902 0904 0909 0911 0916 0918 0923 0925 0930 1002";
    assert_eq!(starts("FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH", "19970902"), mornings(weeks));
    assert_eq!(starts("FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH", "19970902"), mornings(weeks));
    let other = "0901 0903 0905 0915 0917 0919 0929 1001 1003 1013 1015 1017 1027 1029 1031 1110 1112 1114 1124 1126 \
                 1128 1208 1210 1212 1222";
    let rule = "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR";
    assert_eq!(starts(rule, "19970901"), mornings(other));
}

#[test]
fn the_start_of_the_week_matters_as_in_the_standard() {
    let rule = "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=";
    assert_eq!(starts(&format!("{rule}MO"), "19970805"), mornings("0805 0810 0819 0824"));
    assert_eq!(starts(&format!("{rule}SU"), "19970805"), mornings("0805 0817 0819 0831"));
}

fn one(lines: &str) -> Result<Vec<Stretch>, BadCalendar> {
    let zone = chrono_tz::Europe::Oslo;
    read_ics(&calendar(lines), zone, utc("2026-11-01T00:00:00Z"), utc("2026-12-31T00:00:00Z"))
}

#[test]
fn every_form_of_time_is_read() {
    let nine = [(utc("2026-11-25T09:00:00Z"), utc("2026-11-25T11:00:00Z"))];
    assert_eq!(one("DTSTART:20261125T090000Z\r\nDTEND:20261125T110000Z").unwrap(), nine);
    assert_eq!(one("DTSTART:20261125T100000\r\nDURATION:PT2H").unwrap(), nine);
    assert_eq!(one("DTSTART;TZID=Europe/London:20261125T0900\r\n 00\r\nDTEND:20261125T110000Z").unwrap(), nine);
    let day = [(utc("2026-11-24T23:00:00Z"), utc("2026-11-25T23:00:00Z"))];
    assert_eq!(one("DTSTART;VALUE=DATE:20261125").unwrap(), day);
}

#[test]
fn days_left_out_and_cancelled_events_do_not_come() {
    let weekly = "DTSTART:20261103T090000Z\r\nDURATION:PT1H\r\nRRULE:FREQ=WEEKLY;COUNT=3";
    assert_eq!(one(weekly).unwrap().len(), 3);
    assert_eq!(one(&format!("{weekly}\r\nEXDATE:20261110T090000Z")).unwrap().len(), 2);
    assert_eq!(one(&format!("{weekly}\r\nSTATUS:CANCELLED")).unwrap().len(), 0);
}

#[test]
fn what_is_not_understood_is_refused_with_its_line() {
    let told = |lines: &str| one(lines).unwrap_err().to_string();
    let start = "DTSTART:20261103T090000Z\r\nDURATION:PT1H";
    assert!(told(&format!("{start}\r\nRRULE:FREQ=MONTHLY")).starts_with("line 6: the part `FREQ=MONTHLY`"));
    assert!(told(&format!("{start}\r\nRRULE:FREQ=WEEKLY;BYDAY=1MO")).contains("BYDAY=1MO"));
    assert!(told(&format!("{start}\r\nRDATE:20261104T090000Z")).contains("events of their own"));
    assert!(told("DTSTART;TZID=Nowhere/Town:20261103T090000").contains("Nowhere/Town"));
    assert!(told("DTSTART:yesterday").contains("no date"));
    assert!(told("SUMMARY:nothing").contains("without DTSTART"));
    assert!(told("DTSTART:20261103T090000Z\r\nDTEND:20261103T080000Z").contains("before it begins"));
    let zone = chrono_tz::UTC;
    let open =
        read_ics("BEGIN:VCALENDAR\nBEGIN:VEVENT\n", zone, utc("2026-11-01T00:00:00Z"), utc("2026-12-01T00:00:00Z"));
    assert!(open.unwrap_err().what.contains("does not end"));
    assert!(read_ics("", zone, utc("2026-11-01T00:00:00Z"), utc("2026-12-01T00:00:00Z")).is_err());
}

proptest! {
    #[test]
    fn no_text_brings_it_down(text in ".{0,200}", rule in "[A-Z=;,0-9+-]{0,40}", start in "[0-9TZ]{0,18}") {
        let _ = one(&text);
        let _ = one(&format!("DTSTART:{start}\r\nDURATION:P{rule}\r\nRRULE:{rule}"));
        let _ = read_ics(&text, chrono_tz::UTC, utc("2026-11-01T00:00:00Z"), utc("2026-12-01T00:00:00Z"));
    }
}
