//! Tests of a day as people read it.

use super::*;
use crate::words::english;
use chargehand_types::plan::{
    DayPlan, Help, Measure, Minutes, Missed, Needed, PlannedSheet, PlannedStep, Proof, Stretch, Task, Why, Work,
};

fn at(time: &str) -> DateTime<Utc> {
    format!("2026-11-26T{time}:00Z").parse().unwrap()
}

fn utc_wall(at: DateTime<Utc>) -> NaiveDateTime {
    at.naive_utc()
}

/// A morning with one sheet: loaded at nine, cut for an hour, a bit change, cut again, taken off.
pub(crate) fn morning() -> DayPlan {
    let step = |work: Work, from: &str, to: &str, person| PlannedStep { work, from: at(from), to: at(to), person };
    let cut = |name: &str| Work::Cut { operation: name.to_owned() };
    let change = || Work::BitChange { bit: "c635".into() };
    let steps = vec![
        step(Work::Load, "09:00", "09:12", true),
        step(cut("slots"), "09:12", "10:12", false),
        step(change(), "10:12", "10:17", true),
        step(cut("outlines"), "10:17", "11:00", false),
        step(Work::TakeOff, "11:00", "11:10", true),
    ];
    let needed = |from: &str, to: &str, early: &str, late: &str, work: Work| Needed {
        from: at(from),
        between: Stretch { from: at(early), to: at(late) },
        to: at(to),
        minutes: Minutes(u32::try_from((at(to) - at(from)).num_minutes()).unwrap()),
        tasks: vec![Task { sheet: "B1-1".into(), work }],
    };
    let measure = Measure { weighted_tardiness_min: 0.0, finish: Some(at("11:10")), calls: 3, bit_changes: 1 };
    DayPlan {
        schema: 1,
        at: at("08:00"),
        time_zone: "UTC".to_owned(),
        until: at("23:00"),
        supposed: Vec::new(),
        proof: Proof::Best,
        measure,
        by_due_date: measure,
        sheets: vec![PlannedSheet {
            sheet: "B1-1".into(),
            card: "plant-stand-sides".into(),
            due: Some(at("12:00")),
            start: at("09:00"),
            finish: at("11:10"),
            late: Minutes(0),
            why: Why::Last,
            steps,
        }],
        needed: vec![
            needed("09:00", "09:12", "09:00", "09:00", Work::Load),
            needed("10:12", "10:17", "10:01", "10:23", change()),
            needed("11:00", "11:10", "10:42", "11:18", Work::TakeOff),
        ],
        free: vec![Stretch { from: at("09:12"), to: at("10:12") }],
        presence: vec![Stretch { from: at("09:00"), to: at("12:30") }],
        quiet: Vec::new(),
        unplanned: Vec::new(),
        missed: Vec::new(),
        changes: Vec::new(),
        sets: Vec::new(),
        stock: Vec::new(),
        pace: None,
        hands: Vec::new(),
        changed: None,
    }
}

#[test]
fn a_morning_reads_at_a_glance() {
    let strips = strips(&morning(), &utc_wall, english(), 7);
    assert_eq!(strips.len(), 1);
    let rows = &strips[0].rows;
    let drawn = "\
Thu 26 Nov 9               10               11               12
in         -----------------------------------------------------------
machine    LLLL================bb===========TTTT
needed     !!!!                !!           !!!!";
    assert_eq!(rows.join("\n"), drawn);
    assert!(rows.iter().all(|r| r.chars().count() <= 78), "{rows:#?}");
    // 4 hours over 67 cells
    let cell = |row: usize, minute: usize| rows[row].chars().nth(11 + minute * 67 / 240).unwrap_or(' ');
    assert_eq!([cell(2, 5), cell(2, 40), cell(2, 14 + 60), cell(2, 100), cell(2, 125)], ['L', '=', 'b', '=', 'T']);
    assert_eq!([cell(3, 5), cell(3, 40), cell(3, 125), cell(3, 200)], ['!', ' ', '!', ' ']);
    assert_eq!([cell(1, 5), cell(1, 200), cell(1, 220)], ['-', '-', ' ']);
}

#[test]
fn the_list_says_when_and_what_for() {
    let text = list(&morning(), &utc_wall, english());
    assert!(text.contains("  09:00  you are needed for 12 min: fix sheet B1-1\n"), "{text}");
    assert!(
        text.contains("  10:12  you are needed for 5 min (between 10:01 and 10:23): bit change to\n         c635"),
        "{text}"
    );
    assert!(text.contains("  nobody needed 09:12-10:12\n"), "{text}");
}

#[test]
fn nothing_is_wider_than_a_screen() {
    let mut plan = morning();
    plan.missed = vec![Missed {
        sheet: "B1-1".into(),
        late: Minutes(40),
        would_help: vec![
            Help::Longer { after: at("12:30"), minutes: Minutes(40) },
            Help::Without { sheets: vec!["B2-1".into(), "B2-2".into()] },
        ],
    }];
    let text = page(&plan, &utc_wall);
    assert!(text.lines().all(|l| l.chars().count() <= 78), "{text}");
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(joined.contains("somebody in 40 min longer on Thursday (after 12:30) would make it"), "{joined}");
    assert!(joined.contains("or 2 sheets fewer (B2-1, B2-2)"), "{joined}");
    assert!(joined.contains("No order is better: nothing late"), "{joined}");
}

#[test]
fn a_cut_over_midnight_is_on_both_days() {
    let mut plan = morning();
    plan.sheets[0].steps[3].to = "2026-11-27T02:00:00Z".parse().unwrap();
    let strips = strips(&plan, &utc_wall, english(), 7);
    assert_eq!(strips.len(), 2);
    assert!(strips[1].rows[2].starts_with("machine    ===="), "{:#?}", strips[1]);
}

#[test]
fn the_calendar_file_follows_the_standard() {
    let mut plan = morning();
    plan.needed[0].tasks[0].sheet = "Bø;1,2\\".into();
    let file = calendar(&plan);
    assert_eq!(file.matches("BEGIN:VEVENT\r\n").count(), 3);
    assert!(file.split("\r\n").all(|l| l.len() <= 75 && !l.contains('\n')), "{file}");
    assert!(file.contains("DTSTART:20261126T090000Z\r\nDTEND:20261126T091200Z\r\n"));
    assert!(file.contains("fix sheet Bø\\;1\\,2\\\\"), "{file}");
    let uids: std::collections::BTreeSet<_> = file.lines().filter(|l| l.starts_with("UID:")).collect();
    assert_eq!(uids.len(), 3);
}
