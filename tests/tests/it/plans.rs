//! The planner against instances whose best plans a constraint solver found, judged by a verifier of its own.

use chargehand_daemon::dayplan::{self, Evaluations, Problem, Rule};
use chargehand_tests::instance::{self, Instance, Measured, Written};
use chargehand_tests::plan_verifier::verify;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

#[derive(Deserialize)]
struct Truth {
    objective: Measured,
    schedule: Vec<Written>,
    proven: [bool; 3],
    baseline_by_due_time: (f64, u32, u32),
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("plan")
}

fn truths() -> BTreeMap<String, Truth> {
    serde_json::from_str(&std::fs::read_to_string(folder().join("truth.json")).unwrap()).unwrap()
}

fn read(name: &str) -> (Instance, Problem) {
    let instance = instance::read(&folder().join(format!("{name}.json"))).unwrap();
    let problem = instance.problem();
    (instance, problem)
}

/// A plan with that effort, judged by the verifier and measured by it.
fn measured(instance: &Instance, problem: &Problem, evaluations: u64) -> Measured {
    let plan = dayplan::plan(problem, None, 1, &mut Evaluations(evaluations)).unwrap();
    let measured = verify(instance, &instance::written(&plan.schedule)).unwrap();
    let own = plan.schedule.objective;
    let own =
        Measured { weighted_tardiness: own.weighted_tardiness(), last_finish: own.finish.0, bit_changes: own.changes };
    assert_eq!(own, measured, "{}", instance.name);
    measured
}

#[test]
fn the_verifier_agrees_with_every_truth_and_sees_a_broken_one() {
    for (name, truth) in truths() {
        let (instance, _) = read(&name);
        assert_eq!(verify(&instance, &truth.schedule).unwrap(), truth.objective, "{name}");
        let mut broken = truth.schedule.clone();
        broken[1].steps[0].start -= 1;
        broken[1].steps[0].end -= 1;
        assert!(verify(&instance, &broken).is_err());
        let mut missing = truth.schedule;
        missing.pop();
        assert!(verify(&instance, &missing).is_err());
    }
}

#[test]
fn small_instances_are_planned_as_well_as_can_be() {
    for (name, truth) in truths().into_iter().filter(|(n, _)| n.starts_with("small")) {
        let (instance, problem) = read(&name);
        assert_eq!(truth.proven, [true; 3], "{name}");
        assert_eq!(measured(&instance, &problem, 2000), truth.objective, "{name}");
    }
}

#[test]
fn medium_instances_come_within_a_hundredth_of_the_best_known() {
    for (name, truth) in truths().into_iter().filter(|(n, _)| n.starts_with("medium")) {
        let (instance, problem) = read(&name);
        let best = truth.objective.weighted_tardiness;
        let found = measured(&instance, &problem, MEDIUM_EFFORT).weighted_tardiness;
        println!("{name}: {found} of {best}");
        assert!(found <= 1.01 * best, "{name}: {found} against {best}");
    }
}

/// Evaluations for a medium instance; well under 0.3 s in a release build.
const MEDIUM_EFFORT: u64 = 800_000;

#[test]
fn large_instances_stay_below_a_tenth_of_the_due_date_orders_lateness() {
    for (name, truth) in truths().into_iter().filter(|(n, _)| n.starts_with("large")) {
        let (instance, problem) = read(&name);
        let found = measured(&instance, &problem, 200_000).weighted_tardiness;
        let by_list = truth.baseline_by_due_time.0;
        println!("{name}: {found}, best known {}, by due date {by_list}", truth.objective.weighted_tardiness);
        assert!(found < 0.1 * by_list, "{name}: {found} against {by_list}");
    }
}

#[test]
fn the_due_date_order_is_the_truths_baseline() {
    for (name, truth) in truths() {
        let (instance, problem) = read(&name);
        let schedule = dayplan::by_rule(&problem, Rule::DueFirst).unwrap();
        let measured = verify(&instance, &instance::written(&schedule)).unwrap();
        let (tardiness, finish, changes) = truth.baseline_by_due_time;
        assert_eq!(
            (measured.weighted_tardiness, measured.last_finish, measured.bit_changes),
            (tardiness, finish, changes),
            "{name}"
        );
    }
}
