//! Tests of what is supposed, and of a day as the API tells it.

use super::*;
use crate::shop::config::HandTimes;
use chargehand_types::plan::{Change, Why, Work};
use intake::Waiting;

const DEMO: &str = include_str!("../../../../config/demo/daemon.toml");

/// The demo's shop, with somebody in from nine to one on working days and its zone's clocks one hour ahead.
fn config() -> Config {
    let mut config = crate::shop::config::read("daemon.toml", DEMO).unwrap();
    config.hours.time_zone = chrono_tz::Europe::Oslo;
    config.hours.presence = vec![crate::shop::config::Presence {
        who: "helper".to_owned(),
        window: crate::shop::config::Window {
            days: vec![chrono::Weekday::Wed, chrono::Weekday::Thu, chrono::Weekday::Fri],
            from: "09:00:00".parse().unwrap(),
            to: "13:00:00".parse().unwrap(),
        },
    }];
    config.hours.exceptions.clear();
    config.hours.quiet.clear();
    config.hours.hand_times = HandTimes::default();
    config
}

fn pool() -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap()
}

fn utc(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

/// Thursday 26 November 2026, half past eight in Oslo.
const MORNING: &str = "2026-11-26T07:30:00Z";

fn question(seq: u64, now: &str) -> Question {
    Question {
        config: config(),
        booked: Vec::new(),
        supposed: Supposed::default(),
        now: utc(now),
        seq,
        effort: Effort::Whole,
    }
}

fn waiting(id: &str, minutes: u32, due: &str) -> Waiting {
    Waiting::of(id, "plant-stand-sides", Some(utc(due)), &[("slots", minutes, "c635")])
}

fn intake(sheets: Vec<Waiting>) -> Intake {
    Intake {
        sheets,
        left_out: Vec::new(),
        bit: Some("c635".into()),
        sets: Vec::new(),
        stock: Vec::new(),
        known: known::Known::usual(HandTimes::default()),
    }
}

#[test]
fn a_day_is_told_in_the_shops_hours() {
    let sheets = vec![waiting("B1-1", 30, "2026-11-27T11:00:00Z"), waiting("B2-1", 45, "2026-11-26T11:00:00Z")];
    let plan = make(&question(1, MORNING), intake(sheets), None, &pool()).unwrap().answer;
    let ids: Vec<_> = plan.sheets.iter().map(|s| s.sheet.0.as_str()).collect();
    assert_eq!(ids, ["B2-1", "B1-1"]);
    // nine in Oslo; load 12, cut 45, take off 10, as nothing waits between
    assert_eq!(plan.sheets[0].start, utc("2026-11-26T08:00:00Z"));
    assert_eq!(plan.sheets[0].finish, utc("2026-11-26T09:07:00Z"));
    let works: Vec<_> = plan.sheets[0].steps.iter().map(|s| s.work.clone()).collect();
    assert_eq!(works, [Work::Load, Work::Cut { operation: "slots".to_owned() }, Work::TakeOff]);
    assert_eq!((plan.missed.len(), plan.unplanned.len(), plan.time_zone.as_str()), (0, 0, "Europe/Oslo"));
    assert_eq!(plan.sheets[1].why, Why::Last);
}

#[test]
fn starts_are_ranges_that_grow_until_a_wait() {
    let sheets = vec![waiting("B1-1", 100, "2026-11-27T11:00:00Z"), waiting("B1-2", 100, "2026-11-27T11:00:00Z")];
    let plan = make(&question(1, MORNING), intake(sheets), None, &pool()).unwrap().answer;
    let wide = |n: usize| (plan.needed[n].between.to - plan.needed[n].between.from).num_minutes();
    assert_eq!(wide(0), 0, "it starts when somebody comes");
    // 12 and 100 minutes, 15 % more or less
    assert_eq!(wide(1), 34);
    assert_eq!(plan.needed[1].tasks.len(), 2, "take off, then fix the next");
    assert!(plan.free.iter().any(|f| (f.to - f.from).num_minutes() == 100));
}

#[test]
fn a_later_plan_says_what_changed_and_leaves_what_is_about_to_start() {
    let one = waiting("B1-1", 60, "2026-11-27T20:00:00Z");
    let first = make(&question(1, MORNING), intake(vec![one.clone()]), None, &pool()).unwrap();
    let urgent = waiting("B2-1", 30, "2026-11-26T08:30:00Z");
    let second = make(&question(2, MORNING), intake(vec![one.clone(), urgent.clone()]), Some(&first), &pool()).unwrap();
    assert_eq!(second.answer.sheets[0].sheet.0, "B1-1", "it starts in half an hour");
    assert_eq!(second.answer.sheets[0].why, Why::AboutToStart);
    assert_eq!(second.answer.changes, [Change::New { sheet: "B2-1".into() }]);
    let third = make(&question(3, MORNING), intake(vec![urgent]), Some(&second), &pool()).unwrap();
    assert!(third.answer.changes.contains(&Change::Gone { sheet: "B1-1".into() }));
    assert!(third.holds(3, utc("2026-11-26T07:30:40Z")));
    assert!(!third.holds(4, utc(MORNING)) && !third.holds(3, utc("2026-11-26T07:31:00Z")));
}

#[test]
fn a_missed_due_time_comes_with_a_remedy() {
    // four hours are there on Thursday; three sheets take 87 minutes each
    let sheets = ["B1-1", "B1-2", "B1-3"].map(|id| waiting(id, 65, "2026-11-26T20:00:00Z")).to_vec();
    let plan = make(&question(1, MORNING), intake(sheets), None, &pool()).unwrap().answer;
    assert_eq!(plan.missed.len(), 1);
    let longer = chargehand_types::plan::Help::Longer { after: utc("2026-11-26T12:00:00Z"), minutes: Minutes(30) };
    assert_eq!(plan.missed[0].would_help[0], longer);
}

#[test]
fn hours_and_sheets_can_be_supposed() {
    let supposed = Supposed::read(Some("2026-11-26 none, 2026-11-27 10:00-12:00"), Some("B2+3,B1-1")).unwrap();
    assert_eq!(supposed.sheets, [("B2".into(), 3), ("B1".into(), -1)]);
    let question = Question { supposed, ..question(1, MORNING) };
    let plan =
        make(&question, intake(vec![waiting("B1-1", 30, "2026-11-27T20:00:00Z")]), None, &pool()).unwrap().answer;
    assert_eq!(plan.sheets[0].start, utc("2026-11-27T09:00:00Z"));
    assert_eq!(plan.supposed.len(), 4);
    for (presence, sheets) in [
        (Some("tomorrow"), None),
        (Some("2026-11-26 9-13"), None),
        (Some("2026-02-30 none"), None),
        (None, Some("B2")),
        (None, Some("B2+0")),
        (None, Some("+3")),
        (None, Some("B2+99999999999")),
    ] {
        assert!(Supposed::read(presence, sheets).is_err(), "{presence:?} {sheets:?}");
    }
}

#[test]
fn nobody_in_and_nothing_waiting_are_plans_too() {
    let plan = make(&question(1, MORNING), intake(Vec::new()), None, &pool()).unwrap().answer;
    assert_eq!((plan.sheets.len(), plan.measure.finish), (0, None));
    let mut question = question(1, MORNING);
    question.config.hours.presence.clear();
    let plan =
        make(&question, intake(vec![waiting("B1-1", 30, "2026-11-27T20:00:00Z")]), None, &pool()).unwrap().answer;
    assert_eq!(plan.unplanned.len(), 1);
    assert!(plan.unplanned[0].reason.contains("loading takes 12 min"), "{}", plan.unplanned[0].reason);
}

#[test]
fn unattended_cuts_leave_the_hours_only_where_the_shop_says_so() {
    // somebody is in from nine to one and hears the machine until six; a cut of 250 minutes fits no morning
    let earshot = crate::shop::config::Window {
        days: vec![chrono::Weekday::Thu, chrono::Weekday::Fri],
        from: "08:00:00".parse().unwrap(),
        to: "18:00:00".parse().unwrap(),
    };
    let mut question = question(1, MORNING);
    question.config.hours.earshot = vec![earshot];
    let long = || intake(vec![waiting("B1-1", 250, "2026-11-30T11:00:00Z")]);
    let off = make(&question, long(), None, &pool()).unwrap().answer;
    assert_eq!(off.unplanned.len(), 1, "off unless the owner turns it on");
    question.config.hours.leave_running = true;
    let on = make(&question, long(), None, &pool()).unwrap().answer;
    let cut = &on.sheets[0].steps[1];
    assert_eq!((cut.from, cut.to), (utc("2026-11-26T08:12:00Z"), utc("2026-11-26T12:22:00Z")));
    // earshot ends at six, 17:00 UTC, and the extractor is watched for 45 minutes before that
    let too_long = intake(vec![waiting("B1-1", 8 * 60 + 5, "2026-11-30T11:00:00Z")]);
    let fits = make(&question, intake(vec![waiting("B1-1", 8 * 60 + 3, "2026-11-30T11:00:00Z")]), None, &pool());
    assert_eq!(fits.unwrap().answer.sheets[0].steps[1].to, utc("2026-11-26T16:15:00Z"));
    let later = make(&question, too_long, None, &pool()).unwrap().answer;
    assert!(later.sheets.iter().all(|s| s.steps[1].to <= utc("2026-11-27T16:15:00Z")), "{:?}", later.sheets);
}

#[test]
fn a_quick_plan_keeps_the_order_and_what_changed_stays_told() {
    let sheets = || -> Vec<Waiting> {
        (1..=9).map(|n| waiting(&format!("B1-{n}"), 20 + 7 * (n * 5 % 9), "2026-11-27T11:00:00Z")).collect()
    };
    let first = make(&question(1, MORNING), intake(sheets()), None, &pool()).unwrap();
    let ids = |kept: &Kept| -> Vec<SheetId> { kept.answer.sheets.iter().map(|s| s.sheet.clone()).collect() };
    // one is closed: the rest is planned quickly, from the order there was
    let rest: Vec<Waiting> = sheets().into_iter().filter(|s| s.id != ids(&first)[0]).collect();
    let touched = Question { effort: Effort::Touch, ..question(2, MORNING) };
    let second = make(&touched, intake(rest.clone()), Some(&first), &pool()).unwrap();
    assert!(second.answer.measure.weighted_tardiness_min <= first.answer.measure.weighted_tardiness_min);
    assert!(second.answer.changes.contains(&Change::Gone { sheet: ids(&first)[0].clone() }));
    assert_eq!(second.answer.changed, Some(utc(MORNING)));
    assert!(!second.is_whole() && first.is_whole());
    // nothing happens: what changed is told for an hour
    let again = make(&question(2, "2026-11-26T07:31:00Z"), intake(rest.clone()), Some(&second), &pool()).unwrap();
    assert_eq!((again.answer.changes, again.answer.changed), (second.answer.changes.clone(), Some(utc(MORNING))));
}

#[test]
fn history_makes_the_range_narrower() {
    let range = |known: known::Known| {
        let sheets = vec![waiting("B1-1", 60, "2026-11-27T20:00:00Z"), waiting("B1-2", 60, "2026-11-27T20:00:00Z")];
        let plan = make(&question(1, MORNING), Intake { known, ..intake(sheets) }, None, &pool()).unwrap().answer;
        let last = plan.needed.last().unwrap().clone();
        ((last.from - last.between.from).num_minutes(), (last.between.to - last.from).num_minutes())
    };
    let settings = HandTimes::default();
    let usual = range(known::Known::usual(settings));
    assert!(usual.0 > 0 && usual.0 == usual.1, "{usual:?}");
    let narrow = known::Spread { early: 0.0, late: 0.02 };
    let known = range(known::Known::spreading(settings, narrow));
    assert!(known.0 == 0 && (1..usual.1).contains(&known.1), "{known:?}");
}
