//! Small random problems against full enumeration, written here anew on plain numbers.

use super::*;
use proptest::prelude::*;

/// The least of (tardiness, finish, changes) over every order and every route, by trying them all.
fn enumerate(problem: &Problem) -> (u64, u32, u32) {
    let all: Vec<usize> = (0..problem.sheets.len()).collect();
    let bit = problem.bit_on_machine.clone();
    try_sheets(problem, &all, problem.now.0, bit, 0, 0)
}

fn try_sheets(p: &Problem, left: &[usize], at: u32, bit: Option<BitName>, late: u64, changes: u32) -> (u64, u32, u32) {
    if left.is_empty() {
        return (late, at, changes);
    }
    let mut best = (u64::MAX, u32::MAX, u32::MAX);
    for next in left {
        let rest: Vec<usize> = left.iter().copied().filter(|s| s != next).collect();
        let sheet = &p.sheets[*next];
        let loaded = first_fit(&p.hours.hands, at, sheet.load.0);
        for (end, last, more) in cut(p, sheet, &[], loaded, bit.clone(), 0) {
            let end = first_fit(&p.hours.hands, end, sheet.cleanup.0);
            let due = sheet.due.map_or(u32::MAX, |d| d.0);
            let cost = sheet.weight as u64 * u64::from(end.saturating_sub(due)) * 1000;
            best = best.min(try_sheets(p, &rest, end, last, late + cost, changes + more));
        }
    }
    best
}

/// Every way to cut a sheet's operations: end, bit, changes.
fn cut(
    p: &Problem,
    sheet: &Sheet,
    done: &[usize],
    at: u32,
    bit: Option<BitName>,
    changes: u32,
) -> Vec<(u32, Option<BitName>, u32)> {
    if done.len() == sheet.operations.len() {
        return vec![(at, bit, changes)];
    }
    let mut ways = Vec::new();
    for (number, operation) in sheet.operations.iter().enumerate() {
        let ready = operation.after.iter().all(|a| done.iter().any(|d| sheet.operations[*d].name == *a));
        if done.contains(&number) || !ready {
            continue;
        }
        let (mut start, mut more) = (at, 0);
        if bit.as_ref() != Some(&operation.bit) {
            start = first_fit(&p.hours.hands, at, p.bit_change.0);
            more = 1;
        }
        let end = match (operation.unattended, &p.hours.alone) {
            (true, None) => start + operation.minutes.0,
            (true, Some(alone)) => first_fit(alone, start, operation.minutes.0),
            (false, _) => first_fit(&p.hours.attended, start, operation.minutes.0),
        };
        let done = [done, &[number]].concat();
        ways.extend(cut(p, sheet, &done, end, Some(operation.bit.clone()), changes + more));
    }
    ways
}

/// The end of something that long, begun as early as a window allows, minute by minute.
fn first_fit(windows: &Windows, at: u32, minutes: u32) -> u32 {
    if minutes == 0 {
        return at;
    }
    let fits = |s: &u32| windows.all().iter().any(|w| w.from.0 <= *s && s + minutes <= w.to.0);
    (at..100_000).find(fits).expect("the last window is long enough for all") + minutes
}

prop_compose! {
    fn an_operation()(minutes in 1u32..40, bit in 0usize..3, unattended: bool) -> Operation {
        Operation { minutes: Minutes(minutes), unattended, ..alone("", 1, ["a", "b", "c"][bit]) }
    }
}

prop_compose! {
    fn a_sheet()(
        load in 0u32..8, cleanup in 0u32..12, due in 0u32..500, weight in 0u32..5,
        mut operations in proptest::collection::vec(an_operation(), 0..4), bound: bool,
    ) -> Sheet {
        for (i, operation) in operations.iter_mut().enumerate() {
            operation.name = format!("o{i}");
            if bound && i > 0 {
                operation.after = vec![format!("o{}", i - 1)];
            }
        }
        let due = Some(Minute(due));
        let id = SheetId::from("");
        Sheet { id, load: Minutes(load), cleanup: Minutes(cleanup), due, weight: f64::from(weight), operations }
    }
}

prop_compose! {
    fn a_problem()(
        mut sheets in proptest::collection::vec(a_sheet(), 0..5),
        hands in proptest::collection::vec((0u32..600, 20u32..90), 0..4),
        lone in proptest::option::of(proptest::collection::vec((0u32..600, 20u32..90), 0..4)),
        quiet in 0u32..300,
    ) -> Problem {
        for (i, sheet) in sheets.iter_mut().enumerate() {
            sheet.id = SheetId(format!("s{i}"));
        }
        // the last window takes everything
        let open = |w: Vec<(u32, u32)>| Windows::of(
            w.into_iter().map(|(a, l)| (Minute(a), Minute(a + l))).chain([(Minute(700), Minute(5000))]));
        let hands = open(hands);
        let attended = hands.without(&Windows::of([(Minute(quiet), Minute(quiet + 60))]));
        let hours = Hours { attended, hands, alone: lone.map(open) };
        Problem { hours, ..problem(&[], sheets) }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn the_proven_plan_is_the_best_of_all(problem in a_problem()) {
        let plan = planned(&problem);
        prop_assert_eq!(plan.proof, Proof::Best);
        let o = plan.schedule.objective;
        prop_assert_eq!((o.tardiness, o.finish.0, o.changes), enumerate(&problem));
    }

    #[test]
    fn a_plan_is_never_worse_than_a_careful_list(problem in a_problem()) {
        let plan = plan(&problem, None, 3, &mut Evaluations(0)).unwrap();
        for rule in [Rule::DueFirst, Rule::DueFirstSameBit] {
            prop_assert!(plan.schedule.objective <= by_rule(&problem, rule).unwrap().objective);
        }
    }
}
