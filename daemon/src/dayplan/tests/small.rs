//! Small days whose plan can be seen by looking.

use super::*;

#[test]
fn no_sheets_make_an_empty_plan() {
    let plan = planned(&problem(&[], Vec::new()));
    assert!(plan.schedule.blocks.is_empty());
    assert_eq!(plan.schedule.objective.finish, Minute(0));
}

#[test]
fn a_long_unattended_cut_fills_the_night() {
    let sheets = vec![sheet("long", 5000, vec![alone("x", 300, "a")]), sheet("short", 5000, vec![alone("x", 20, "a")])];
    let plan = planned(&problem(&[(0, 60), (1000, 1060)], sheets));
    assert_eq!(ids(&plan), ["short", "long"]);
    assert_eq!(plan.schedule.objective.finish, Minute(1010));
    assert_eq!(plan.proof, Proof::Best);
}

#[test]
fn the_bit_in_the_spindle_goes_first() {
    let sheets = vec![sheet("b", 500, vec![alone("x", 20, "b")]), sheet("a", 500, vec![alone("x", 20, "a")])];
    let plan = planned(&problem(&[(0, 400)], sheets));
    assert_eq!(ids(&plan), ["a", "b"]);
    assert_eq!(plan.schedule.objective.changes, 1);
    let doing: Vec<_> = plan.schedule.blocks[1].steps.iter().map(|s| s.doing.clone()).collect();
    assert_eq!(doing[1], Doing::BitChange(BitName::from("b")));
}

#[test]
fn an_unknown_bit_is_changed_first() {
    let mut problem = problem(&[(0, 400)], vec![sheet("a", 500, vec![alone("x", 20, "a")])]);
    problem.bit_on_machine = None;
    assert_eq!(planned(&problem).schedule.objective.changes, 1);
}

#[test]
fn operations_change_places_where_nothing_forbids_it() {
    let free = vec![alone("x", 20, "b"), alone("y", 20, "a")];
    let plan = planned(&problem(&[(0, 400)], vec![sheet("s", 500, free.clone())]));
    assert_eq!(plan.schedule.objective.changes, 1);
    let mut bound = free;
    bound[1].after = vec!["x".to_owned()];
    let plan = planned(&problem(&[(0, 400)], vec![sheet("s", 500, bound)]));
    assert_eq!(plan.schedule.objective.changes, 2);
}

#[test]
fn unattended_cutting_waits_for_earshot_where_there_is_such_a_calendar() {
    let mut problem = problem(&[(0, 60), (500, 600)], vec![sheet("s", 500, vec![alone("x", 100, "a")])]);
    problem.hours.alone = Some(windows(&[(0, 90), (300, 450)]));
    let plan = planned(&problem);
    assert_eq!(plan.schedule.blocks[0].steps[1].start, Minute(300));
}

#[test]
fn the_frozen_head_keeps_its_place_though_another_is_due_sooner() {
    let sheets = vec![
        sheet("begun", 900, vec![alone("x", 100, "b"), alone("y", 10, "a")]),
        sheet("urgent", 30, vec![alone("x", 10, "a")]),
    ];
    let mut problem = problem(&[(0, 400)], sheets);
    assert_eq!(ids(&planned(&problem)), ["urgent", "begun"]);
    problem.frozen = 1;
    let plan = planned(&problem);
    assert_eq!(ids(&plan), ["begun", "urgent"]);
    assert_eq!(plan.order[0].route, 0);
}

#[test]
fn due_in_the_past_is_late_from_the_start() {
    let mut problem = problem(&[(1000, 1400)], vec![sheet("s", 100, vec![alone("x", 10, "a")])]);
    problem.now = Minute(1000);
    assert_eq!(planned(&problem).schedule.objective.tardiness, 925 * 1000);
}

#[test]
fn what_fits_no_window_is_told_with_the_step() {
    let told = |p: &Problem| plan(p, None, 1, &mut Evaluations(10)).unwrap_err().to_string();
    let mut long = problem(&[(0, 60)], vec![sheet("s", 100, vec![alone("outline", 100, "a")])]);
    long.sheets[0].operations[0].unattended = false;
    assert_eq!(told(&long), "sheet s: outline takes 100 min, and the longest time in which it may be done is 60 min");
    let nobody = problem(&[], vec![sheet("s", 100, vec![alone("outline", 1, "a")])]);
    assert_eq!(told(&nobody), "sheet s: loading takes 5 min, and the longest time in which it may be done is 0 min");
}

#[test]
fn contradictions_are_refused() {
    let told = |p: &Problem| plan(p, None, 1, &mut Evaluations(10)).unwrap_err();
    let mut circle = problem(&[(0, 600)], vec![sheet("s", 1, vec![alone("x", 1, "a"), alone("y", 1, "a")])]);
    circle.sheets[0].operations[0].after = vec!["y".to_owned()];
    circle.sheets[0].operations[1].after = vec!["x".to_owned()];
    assert!(matches!(told(&circle), Unfit::Circle { .. }));
    let twice = problem(&[(0, 600)], vec![sheet("s", 1, vec![alone("x", 1, "a"), alone("x", 1, "a")])]);
    assert!(matches!(told(&twice), Unfit::SameName { .. }));
    let mut head = problem(&[(0, 600)], Vec::new());
    head.frozen = 1;
    assert!(matches!(told(&head), Unfit::HeadTooLong { .. }));
    let mut weight = problem(&[(0, 600)], vec![sheet("s", 1, Vec::new())]);
    weight.sheets[0].weight = f64::NAN;
    assert!(matches!(told(&weight), Unfit::Weight { .. }));
}

#[test]
fn beyond_the_calendar_counts_as_not_placed() {
    let sheets = (0..4).map(|i| sheet(&format!("s{i}"), 100, vec![alone("x", 10, "a")])).collect();
    let plan = planned(&problem(&[(0, 60)], sheets));
    let placed: Vec<_> = plan.schedule.blocks.iter().map(|b| b.placed).collect();
    assert_eq!(placed, [true, true, false, false]);
}

#[test]
fn a_seed_always_gives_the_same_plan() {
    let sheets: Vec<_> = (0..20u32)
        .map(|i| {
            sheet(&format!("s{i}"), 100 * (i % 7), vec![alone("x", 10 + i * 7 % 40, ["a", "b", "c"][i as usize % 3])])
        })
        .collect();
    let problem = problem(&[(0, 120), (200, 300), (1440, 1700), (2880, 3300)], sheets);
    assert_eq!(planned(&problem), planned(&problem));
}
