//! What `config` takes and what it refuses, with the words of each fault.

use super::*;
use crate::shop::fault::Fault;
use chargehand_types::quantity::{Rpm, Seconds};

const CASES: &str = include_str!("../../../../tests/cases/daemon.toml");

fn told(text: &str) -> Vec<String> {
    let faults = read("daemon.toml", text).unwrap_err();
    let nearest = |f: &Fault| f.nearest.clone().map(|n| format!(" ({n})")).unwrap_or_default();
    faults.iter().map(|f| format!("{}: {}{}", f.key, f.found, nearest(f))).collect()
}

fn with(from: &str, to: &str) -> Vec<String> {
    assert!(CASES.contains(from), "{from}");
    told(&CASES.replacen(from, to, 1))
}

#[test]
fn short_config_gets_defaults() {
    let config = read("daemon.toml", CASES).unwrap();
    assert_eq!(config.machine.spindle.run_down(), Seconds::of(15.0));
    assert_eq!(config.machine.park, Spot { x: Length::ZERO, y: Length::whole_mm(1250) });
    assert_eq!(config.machine.max_feed_tried, None);
    assert_eq!(config.people.len(), 2);
    assert_eq!(config.role_of(&Person::from("owner")), Some(Role::Owner));
    assert_eq!(config.limits.tab_safety, 2.0);
    assert_eq!(config.limits.fastener_safety, 4.0);
    assert!(!config.bench.scripted_operator);
    assert_eq!(config.clock_rate(), 20.0);
}

#[test]
fn real_ports_run_at_rate_one() {
    let config = read("d", &CASES.replace("\"simulated\"", "\"/dev/ttyUSB0\"")).unwrap();
    assert_eq!(config.machine.port, Port::Path("/dev/ttyUSB0".to_owned()));
    assert_eq!(config.clock_rate(), 1.0);
}

#[test]
fn impossible_machines_are_refused() {
    assert_eq!(with("x = [0.0, 640.0]", "x = [640.0, 0.0]"), ["machine.travel.x: from 640 mm to 0 mm there is no way"]);
    assert_eq!(
        with("[10.0, 10.0, -60.0]", "[10.0, 10.0, 60.0]"),
        ["machine.work_zero 3: 60 mm lies outside the travel in z"]
    );
    assert_eq!(with("[8000.0, 8000.0, 3000.0]", "[8000.0, 0.0, 3000.0]"), ["machine.max_rate 2: found 0 mm/min"]);
    assert_eq!(
        with("corner_deviation", "corner_deviaton"),
        ["machine.corner_deviaton: there is no key `corner_deviaton` here (corner_deviation)"]
    );
}

#[test]
fn spindles_bear_what_their_kind_needs() {
    let from = "{ kind = \"controlled\", least = 8000, most = 32000 }";
    assert_eq!(
        with(from, "{ kind = \"manual\", least = 8000, dial = [[1, 10000], [2, 9000]] }"),
        [
            "machine.spindle.least: `least` means nothing here",
            "machine.spindle.dial 2: marks and speeds must rise along the dial"
        ]
    );
    assert_eq!(
        with(from, "{ kind = \"controlled\", most = 7000, run_down_s = 0 }"),
        ["machine.spindle.least: the key `least` is missing", "machine.spindle.run_down_s: found 0 s"]
    );
    assert_eq!(
        with(from, "{ kind = \"manuel\" }"),
        ["machine.spindle.kind: `manuel` is none of the words allowed (manual)"]
    );
}

#[test]
fn dial_lies_between_marks() {
    let rpm = |n: i64| Rpm(n * 1000);
    let mark = |mark: f64, n: i64| DialMark { mark, speed: rpm(n) };
    let dial = vec![mark(1.0, 10_000), mark(2.0, 14_000), mark(3.0, 18_000)];
    let spindle = Spindle::Manual { dial, run_down: Seconds::of(12.0) };
    assert_eq!(spindle.dial_for(rpm(14_000)), Some(2.0));
    assert_eq!(spindle.dial_for(rpm(12_000)), Some(1.5));
    assert_eq!(spindle.dial_for(rpm(10_000)), Some(1.0));
    assert_eq!(spindle.dial_for(rpm(9_000)), None);
    assert_eq!(spindle.dial_for(rpm(20_000)), None);
}

#[test]
fn hours_are_held_to_the_clock() {
    assert_eq!(
        with("Europe/Oslo", "Europe/Olso"),
        ["shop.time_zone: there is no time zone `Europe/Olso` (Europe/Oslo)"]
    );
    assert_eq!(with("to = \"15:00\"", "to = \"08:30\""), ["shop.presence 1.to: 08:30 is when it begins"]);
    let over_midnight = read("daemon.toml", &CASES.replace("to = \"15:00\"", "to = \"02:00\""));
    assert!(over_midnight.is_ok());
    assert_eq!(with("to = \"15:00\"", "to = \"25:00\""), ["shop.presence 1.to: `25:00` is no time of day"]);
    assert_eq!(with("\"helper\"", "\"helpr\""), ["shop.presence 2.who: there is no person or role `helpr` (helper)"]);
    assert_eq!(with("\"tue\"", "\"tus\""), ["shop.presence 2.days 1: `tus` is none of the words allowed (tue)"]);
}

#[test]
fn other_days_and_calendars_are_read() {
    let text = CASES.to_owned()
        + "[[shop.exception]]\ndate = \"2026-12-24\"\n"
        + "[[shop.exception]]\ndate = \"2026-12-28\"\nwho = \"helper\"\nfrom = \"10:00\"\nto = \"12:00\"\n"
        + "[[shop.calendar]]\nwho = \"helper\"\nfile = \"helper.ics\"\n"
        + "[[shop.quiet]]\ndays = [\"sun\"]\nfrom = \"22:00\"\nto = \"06:00\"\n";
    let hours = read("daemon.toml", &text).unwrap().hours;
    assert!(hours.exceptions[0].closes() && !hours.exceptions[1].closes());
    assert!(hours.exceptions[1].concerns("helper") && !hours.exceptions[1].concerns("owner"));
    assert_eq!((hours.calendars.len(), hours.quiet.len()), (1, 1));
    assert_eq!(hours.hand_times, HandTimes::default());
    assert_eq!(told(&text.replace("2026-12-24", "24 December")), ["shop.exception 1.date: `24 December` is no date"]);
    assert_eq!(told(&text.replace("from = \"10:00\"\n", "")), ["shop.exception 2.from: the key `from` is missing"]);
}

#[test]
fn somebody_must_be_the_owner() {
    let text = CASES.to_owned() + "[[people]]\nname = \"Runa\"\nrole = \"helper\"\n";
    assert_eq!(told(&text), ["people: nobody is the owner"]);
    let text = text + "[[people]]\nname = \"Runa\"\nrole = \"owner\"\n";
    assert_eq!(told(&text), ["people 2.name: the person `Runa` is there twice"]);
}

#[test]
fn rest_of_the_file_is_judged_too() {
    let text = CASES.replace("tab_safety = 2.0", "tab_safety = 0")
        + "[waste_board]\nkeep_out = [{ from = [10, 0], to = [0, 10] }]\n[practice]\nrate = 0\n";
    assert_eq!(
        told(&text),
        ["limits.tab_safety: found 0", "waste_board.keep_out 1: the rectangle has no area", "practice.rate: found 0"]
    );
}
