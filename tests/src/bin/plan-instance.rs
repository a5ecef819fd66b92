//! Plans scheduling instances with the daemon's own planner: prints objective, time and the ratio to the order of due
//! dates, instance by instance, and writes each schedule.
#![allow(clippy::disallowed_methods, reason = "a program: it reads files and the clock")]

use chargehand_daemon::dayplan::{self, Objective, Pace, Proof, Rule};
use chargehand_tests::instance::{self, Instance};
use chargehand_tests::plan_verifier;
use clap::Parser as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, Instant};

/// Plans scheduling instances.
#[derive(Debug, clap::Parser)]
#[command(name = "plan-instance")]
struct Arguments {
    /// Instance files.
    #[arg(required = true)]
    files: Vec<PathBuf>,
    /// Seconds for each; without it a number of evaluations that makes the plan the same each time.
    #[arg(long)]
    seconds: Option<f64>,
    /// Evaluations for each, without --seconds.
    #[arg(long, default_value_t = 300_000)]
    evaluations: u64,
    /// What chance starts from.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// A folder for the schedules, one file each.
    #[arg(long)]
    out: Option<PathBuf>,
}

/// Up to so many sheets one search is enough.
const FEW: usize = 25;

/// After one event a plan is made anew in so many milliseconds at most.
const REPLAN_MS: f64 = 120.0;

/// A stretch of time and nothing else.
struct Timed {
    begun: Instant,
    all: Duration,
}

impl Pace for Timed {
    fn spent(&mut self, _: u64) -> f64 {
        self.begun.elapsed().as_secs_f64() / self.all.as_secs_f64()
    }

    fn cut_short(&self) -> bool {
        false
    }
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let good = arguments.seconds.is_none_or(|s| s > 0.0 && s <= 86_400.0);
    if !good {
        eprintln!("--seconds must lie between 0 and 86400");
        return ExitCode::from(2);
    }
    println!(
        "{:<12} {:>6} {:>12} {:>7} {:>7} {:>9} {:>8} {:>10} {:>12} {:>8} {:>10} {:>9}",
        "instance",
        "sheets",
        "tardiness",
        "finish",
        "changes",
        "found",
        "seconds",
        "looks",
        "due order",
        "ratio",
        "best known",
        "replan ms"
    );
    let mut fine = true;
    for file in &arguments.files {
        if let Err(fault) = one(&arguments, file) {
            eprintln!("{fault}");
            fine = false;
        }
    }
    if fine { ExitCode::SUCCESS } else { ExitCode::from(5) }
}

fn one(arguments: &Arguments, file: &Path) -> Result<(), String> {
    let instance = instance::read(file).map_err(|e| e.to_string())?;
    let problem = instance.problem();
    let told = |e: dayplan::Unfit| format!("{}: {e}", file.display());
    let due_order = dayplan::by_rule(&problem, Rule::DueFirst).map_err(told)?.objective;
    let begun = Instant::now();
    let pace = || -> Box<dyn Pace + Send> {
        match arguments.seconds {
            Some(seconds) => Box::new(Timed { begun, all: Duration::from_secs_f64(seconds) }),
            None => Box::new(dayplan::Evaluations(arguments.evaluations)),
        }
    };
    // as the daemon plans: many sheets by two searches side by side
    let plan = if problem.sheets.len() > FEW {
        let pool = rayon::ThreadPoolBuilder::new().build().map_err(|e| e.to_string())?;
        let (mut first, mut second) = (pace(), pace());
        dayplan::plan_by_two(&problem, None, arguments.seed, [first.as_mut(), second.as_mut()], &pool)
    } else {
        dayplan::plan(&problem, None, arguments.seed, pace().as_mut())
    };
    let plan = plan.map_err(told)?;
    let seconds = begun.elapsed().as_secs_f64();
    let written = instance::written(&plan.schedule);
    plan_verifier::verify(&instance, &written).map_err(|e| format!("{}: {e}", file.display()))?;
    let objective = plan.schedule.objective;
    let proof = match plan.proof {
        Proof::Best => "proven",
        Proof::Searched => "searched",
        Proof::CutShort => "cut short",
    };
    println!(
        "{:<12} {:>6} {:>12} {:>7} {:>7} {:>9} {:>8.3} {:>10} {:>12} {:>8.4} {:>10} {:>9.1}",
        instance.name,
        instance.sheets.len(),
        objective.weighted_tardiness(),
        objective.finish.0,
        objective.changes,
        proof,
        seconds,
        plan.evaluations,
        due_order.weighted_tardiness(),
        ratio(objective, due_order),
        against_truth(file, &instance, objective).unwrap_or_else(|| "-".to_owned()),
        replanned(&problem, &plan, arguments.seed).map_err(told)?,
    );
    match &arguments.out {
        Some(folder) => write(folder, &instance, objective, &written),
        None => Ok(()),
    }
}

/// Milliseconds in which the daemon has a new plan after the first sheet came out scrap and is wanted once more.
fn replanned(problem: &dayplan::Problem, plan: &dayplan::Plan, seed: u64) -> Result<f64, dayplan::Unfit> {
    let mut after = problem.clone();
    let at = plan.order.first().map_or(0, |place| usize::from(place.sheet));
    if let Some(first) = after.sheets.get(at).cloned() {
        after.sheets.push(dayplan::Sheet { id: format!("{}-again", first.id).as_str().into(), ..first });
    }
    let last = u16::try_from(problem.sheets.len()).unwrap_or(u16::MAX);
    let again = plan.order.first().map(|place| dayplan::Place { sheet: last, ..*place });
    let from: dayplan::Order = plan.order.iter().copied().chain(again).collect();
    let begun = Instant::now();
    let mut pace = Timed { begun, all: Duration::from_secs_f64(REPLAN_MS / 1000.0) };
    let made = dayplan::replan(&after, Some(&from), seed, &mut pace)?;
    dayplan::reasons(&after, &made.order)?;
    Ok(begun.elapsed().as_secs_f64() * 1000.0)
}

/// Tardiness against the due-date order's; 1 when neither is late.
fn ratio(plan: Objective, due_order: Objective) -> f64 {
    if due_order.tardiness == 0 {
        return if plan.tardiness == 0 { 1.0 } else { f64::INFINITY };
    }
    plan.weighted_tardiness() / due_order.weighted_tardiness()
}

/// How far above the best known tardiness, when a `truth.json` lies beside the instance; the later parts of the
/// objective where tardiness is equal.
fn against_truth(file: &Path, instance: &Instance, objective: Objective) -> Option<String> {
    let text = std::fs::read_to_string(file.parent()?.join("truth.json")).ok()?;
    let truth: serde_json::Value = serde_json::from_str(&text).ok()?;
    let known = truth.get(&instance.name)?.get("objective")?;
    let part = |name: &str| known.get(name).and_then(serde_json::Value::as_f64);
    let (tardiness, finish, changes) = (part("weighted_tardiness")?, part("last_finish")?, part("bit_changes")?);
    let percent = 100.0 * (objective.weighted_tardiness() - tardiness) / tardiness.max(1.0);
    if percent != 0.0 {
        return Some(format!("{percent:+.1} %"));
    }
    let finish = f64::from(objective.finish.0) - finish;
    let changes = f64::from(objective.changes) - changes;
    Some(if finish == 0.0 && changes == 0.0 { "equal".to_owned() } else { format!("={finish:+}{changes:+}") })
}

fn write(
    folder: &Path,
    instance: &Instance,
    objective: Objective,
    schedule: &[instance::Written],
) -> Result<(), String> {
    let document = serde_json::json!({
        "name": instance.name,
        "objective": {
            "weighted_tardiness": objective.weighted_tardiness(),
            "last_finish": objective.finish.0,
            "bit_changes": objective.changes,
        },
        "schedule": schedule,
    });
    let path = folder.join(format!("{}.json", instance.name));
    std::fs::create_dir_all(folder)
        .and_then(|()| std::fs::write(&path, format!("{document:#}\n")))
        .map_err(|e| format!("{}: {e}", path.display()))
}
