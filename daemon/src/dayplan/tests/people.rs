//! What a plan says to people: visits, reasons, remedies, what is left as it was.

use super::*;
use proptest::prelude::*;

fn times(schedule: &Schedule) -> Vec<(u32, u32)> {
    schedule.blocks.iter().flat_map(|b| b.steps.iter().map(|s| (s.start.0, s.end.0))).collect()
}

#[test]
fn a_visit_is_not_moved_to_when_nobody_is_there() {
    // the bit change does not fit behind the load before the break
    let sheets = vec![sheet("s", 500, vec![alone("x", 50, "b")])];
    let problem = problem(&[(0, 8), (100, 300)], sheets);
    let plan = planned(&problem);
    assert_eq!(times(&plan.schedule), [(0, 5), (100, 104), (104, 154), (154, 164)]);
    assert_eq!(visits(&plan.schedule, Minutes(0)).len(), 3);
    let merged = merged(&problem, &plan.schedule, Minutes(0));
    // it would have to be loaded at 95, when nobody is there: it stays
    assert_eq!(times(&merged), times(&plan.schedule));
}

#[test]
fn a_short_walk_is_saved_where_it_costs_nothing() {
    // quiet hours hold the cut back until 200; the load may as well be done then
    let mut held = sheet("s", 500, vec![alone("x", 50, "a")]);
    held.operations[0].unattended = false;
    let mut problem = problem(&[(0, 400)], vec![held]);
    problem.hours.attended = windows(&[(200, 400)]);
    let plan = planned(&problem);
    assert_eq!(times(&plan.schedule), [(0, 5), (200, 250), (250, 260)]);
    let merged = merged(&problem, &plan.schedule, Minutes(0));
    assert_eq!(times(&merged), [(195, 200), (200, 250), (250, 260)]);
    assert_eq!(visits(&merged, Minutes(0)).len(), 1);
}

#[test]
fn a_person_stays_through_a_short_cut() {
    let plan = planned(&problem(&[(0, 400)], vec![sheet("s", 500, vec![alone("x", 6, "a")])]));
    assert_eq!(visits(&plan.schedule, Minutes(5)).len(), 2);
    assert_eq!(visits(&plan.schedule, Minutes(6)).len(), 1);
}

#[test]
fn reasons_say_what_would_be_worse() {
    let of = |sheets: Vec<Sheet>| {
        let problem = problem(&[(0, 2000)], sheets);
        reasons(&problem, &planned(&problem).order).unwrap()
    };
    let due = vec![sheet("late", 900, vec![alone("x", 20, "a")]), sheet("soon", 40, vec![alone("x", 20, "a")])];
    assert_eq!(of(due), [Reason::LateOtherwise { before: "late".into(), more: 30.0 }, Reason::Last]);
    let bits = vec![sheet("b", 900, vec![alone("x", 20, "b")]), sheet("ab", 900, vec![alone("x", 20, "a")])];
    assert_eq!(of(bits)[0], Reason::LongerOtherwise { before: "b".into(), by: Minutes(4) });
    let same = vec![sheet("one", 900, vec![alone("x", 20, "a")]), sheet("two", 900, vec![alone("x", 20, "a")])];
    assert!(matches!(of(same)[0], Reason::Either { .. }));
    let mut kept = problem(&[(0, 2000)], vec![sheet("one", 900, vec![alone("x", 20, "a")])]);
    kept.frozen = 1;
    assert_eq!(reasons(&kept, &planned(&kept).order).unwrap(), [Reason::Kept]);
}

#[test]
fn a_missed_due_time_is_told_with_what_would_make_it() {
    // three sheets of 35 minutes; 100 minutes are there before all are due, 105 are needed
    let sheets = ["p", "q", "r"].map(|id| sheet(id, 500, vec![alone("x", 20, "a")])).to_vec();
    let problem = problem(&[(0, 100), (600, 700)], sheets);
    let plan = planned(&problem);
    let late = &plan.schedule.blocks[2];
    assert_eq!(late.finish, Minute(610));
    let found = remedies(&problem, &plan.order, &late.sheet, 1, 500).unwrap();
    let window = crate::calendar::Window { from: Minute(0), to: Minute(100) };
    assert_eq!(found[0], Remedy::Longer { window, by: Minutes(10) });
    assert!(matches!(&found[1], Remedy::Without(gone) if gone.len() == 1));
}

#[test]
fn what_can_never_be_cut_is_taken_out_and_the_rest_planned() {
    let mut long = sheet("long", 500, vec![alone("x", 200, "a")]);
    long.operations[0].unattended = false;
    let mut problem = problem(&[(0, 100)], vec![long, sheet("fits", 500, vec![alone("x", 20, "a")])]);
    problem.frozen = 2;
    let (rest, unfit) = sift(problem);
    assert_eq!((rest.sheets.len(), rest.frozen), (1, 1));
    assert_eq!(unfit[0].0, SheetId::from("long"));
    assert!(plan(&rest, None, 1, &mut Evaluations(10)).is_ok());
}

#[test]
fn sheets_that_are_alike_come_in_turn() {
    let sheets: Vec<_> =
        (0..15).map(|i| sheet(&format!("s{i:02}"), 500, vec![alone("x", 20 + 10 * (i / 8), "a")])).collect();
    let plan = planned(&problem(&[(0, 200), (300, 800)], sheets));
    for kind in [0..8, 8..15] {
        let of_kind = plan.schedule.blocks.iter().map(|b| b.number).filter(|n| kind.contains(n));
        assert!(of_kind.clone().eq(kind.clone()), "{:?}", of_kind.collect::<Vec<_>>());
    }
}

#[test]
fn a_plan_taken_up_again_starts_from_the_old_order() {
    let sheets: Vec<_> =
        (0..14).map(|i| sheet(&format!("s{i}"), 60 * (i % 5), vec![alone("x", 20 + i, "a")])).collect();
    let problem = problem(&[(0, 200), (300, 800)], sheets);
    let first = planned(&problem);
    let again = plan(&problem, Some(&first.order), 1, &mut Evaluations(0)).unwrap();
    assert!(again.schedule.objective <= first.schedule.objective);
}

proptest! {
    #[test]
    fn merging_never_costs_anything(
        gaps in proptest::collection::vec((1u32..60, 20u32..80), 1..6),
        jobs in proptest::collection::vec((1u32..60, 0u32..600, any::<bool>(), 0usize..2), 1..7),
        quiet in 0u32..400, stay in 0u32..6,
    ) {
        let mut at = 0;
        let mut hours: Vec<(u32, u32)> = gaps.iter().map(|(gap, long)| {
            at += gap + long;
            (at - long, at)
        }).collect();
        hours.push((at + 50, at + 9000));
        let sheets = jobs.iter().enumerate().map(|(i, (minutes, due, unattended, bit))| {
            let operation = Operation { unattended: *unattended, ..alone("x", *minutes, ["a", "b"][*bit]) };
            sheet(&format!("s{i}"), *due, vec![operation])
        });
        let mut problem = problem(&hours, sheets.collect());
        problem.hours.attended = problem.hours.hands.without(&windows(&[(quiet, quiet + 80)]));
        let plan = plan(&problem, None, 1, &mut Evaluations(300)).unwrap();
        let merged = merged(&problem, &plan.schedule, Minutes(stay));
        let stays = Minutes(stay);
        prop_assert!(visits(&merged, stays).len() <= visits(&plan.schedule, stays).len());
        let late = |s: &Schedule| s.blocks.iter()
            .map(|b| b.finish.since(problem.sheets[b.number].due.unwrap()).0).collect::<Vec<_>>();
        prop_assert_eq!(late(&merged), late(&plan.schedule));
        prop_assert_eq!(merged.blocks.last().map(|b| b.finish), plan.schedule.blocks.last().map(|b| b.finish));
        let mut end = Minute(0);
        for step in merged.blocks.iter().flat_map(|b| &b.steps) {
            prop_assert!(step.start >= end);
            end = step.end;
            let hours = match step.doing {
                Doing::Cut { unattended: true, .. } => continue,
                Doing::Cut { .. } => &problem.hours.attended,
                _ => &problem.hours.hands,
            };
            prop_assert!(hours.hold(step.start, step.end), "{:?}", step);
        }
    }
}

#[test]
fn two_searches_are_never_worse_than_either_and_workers_change_nothing() {
    let bits = ["a", "b", "c"];
    let sheets: Vec<Sheet> = (0..30_u32)
        .map(|n| {
            sheet(&format!("s{n}"), 200 + 37 * (n * 7 % 30), vec![alone("cut", 11 + n * 5 % 17, bits[n as usize % 3])])
        })
        .collect();
    let problem = problem(&[(0, 4000)], sheets);
    let effort = || Evaluations(4_000);
    let by_two = |workers| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(workers).build().unwrap();
        plan_by_two(&problem, None, 5, [&mut effort(), &mut effort()], &pool).unwrap()
    };
    let two = by_two(1);
    assert_eq!(two.order, by_two(3).order);
    let kernel = kernel::Kernel::new(&problem).unwrap();
    for seed in [5, 6] {
        let one = planner::search(&problem, &kernel, None, seed, &mut effort());
        assert!(two.schedule.objective <= kernel.run(&one.order).objective());
    }
}
