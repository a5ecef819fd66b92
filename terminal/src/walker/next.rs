//! What an operator does next, given how things stand. Pure: the same look gives the same act.
//!
//! May live here: the order of what is needed. May not: looking, waiting, sending.

use super::{Plan, moves};
use chargehand_types::act::{Act, Axis, HAND_STEPS_MM};
use chargehand_types::checklist::{Ask, ListKind, StepAnswer, Task};
use chargehand_types::id::Person;
use chargehand_types::now::{LinkNow, Motion, Now, Offer, OfferedAct, PersonHere, SheetNow};
use chargehand_types::quantity::{Length, Seconds, Spot};
use chargehand_types::stage::{HeldBy, Role, Stage};
use serde_json::Value;
use std::collections::BTreeSet;

/// The bit is taken to touch at the zero that was last set, less a sheet of paper; a hundredth is close enough.
const TOUCHES_MM: f64 = 0.1;
const CLOSE_MM: f64 = 0.01;

/// What is done next.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Next {
    /// An act.
    Do(Step),
    /// Put the next sheet on the machine.
    Take,
    /// Wait for an event, or for so many machine seconds.
    Wait(Option<Seconds>),
    /// Nothing a person at the terminal does would help.
    Stuck(String),
}

/// An act and how it is told.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Step {
    pub name: String,
    pub list: Option<ListKind>,
    pub answer: Value,
    pub act: Act,
}

/// The next thing to do. `tried` holds the steps whose wanted answer was given and not taken.
pub(super) fn next(now: &Now, plan: &Plan, tried: &BTreeSet<String>) -> Next {
    if let Some(step) = first(now, plan) {
        return Next::Do(step);
    }
    match &now.machine.link {
        LinkNow::Up => {}
        LinkNow::Opening | LinkNow::Down { .. } => return Next::Wait(None),
    }
    if moves(now.machine.motion) {
        return Next::Wait(None);
    }
    if now.machine.motion == Motion::Faulted && now.sheet.is_none() && !open_any(now, &WAY) {
        return Next::Stuck("the controller refuses motion".to_owned());
    }
    if let Some(next) = of_the_day(now, plan, tried) {
        return next;
    }
    match &now.sheet {
        Some(sheet) => on_machine(now, sheet, plan, tried),
        None => way(now).unwrap_or_else(|| if open(now, OfferedAct::TakeSheet) { Next::Take } else { none_open(now) }),
    }
}

/// A list of the day under way is walked to its end; one that is due is begun.
fn of_the_day(now: &Now, plan: &Plan, tried: &BTreeSet<String>) -> Option<Next> {
    if now.task.as_ref().is_some_and(|t| t.list.is_of_day()) {
        return Some(task(now, plan, tried));
    }
    let due = now.lists.iter().find(|l| l.due.is_some())?.list;
    // after a stop the first question comes before any list
    let stopped = now.sheet.as_ref().is_some_and(|s| matches!(s.stage, Stage::Stopped | Stage::Held));
    (due == ListKind::Opening && !stopped).then(|| plain("begin-list", Act::BeginList { list: due }))
}

/// Signing in and answering calls come before everything else.
fn first(now: &Now, plan: &Plan) -> Option<Step> {
    if open(now, OfferedAct::SignIn) {
        let who = somebody(now, &plan.answers.who);
        return Some(Step {
            name: "sign-in".to_owned(),
            list: None,
            answer: Value::from(who.0.clone()),
            act: Act::SignIn { who, pin: None },
        });
    }
    let call = now.calls.first().filter(|_| open(now, OfferedAct::AnswerCall))?;
    Some(Step {
        name: "answer-call".to_owned(),
        list: None,
        answer: Value::from(call.number),
        act: Act::AnswerCall { number: call.number },
    })
}

/// What makes position and work zero known.
const WAY: [OfferedAct; 3] = [OfferedAct::BitFree, OfferedAct::Home, OfferedAct::ConfirmZero];

fn way(now: &Now) -> Option<Next> {
    let simple = [
        (OfferedAct::BitFree, "bit-free", Act::BitFree),
        (OfferedAct::Home, "home", Act::Home),
        (OfferedAct::ConfirmZero, "confirm-zero", Act::ConfirmZero),
    ];
    simple.into_iter().find(|(offered, _, _)| open(now, *offered)).map(|(_, name, act)| plain(name, act))
}

fn plain(name: &str, act: Act) -> Next {
    Next::Do(Step { name: name.to_owned(), list: None, answer: Value::Null, act })
}

fn on_machine(now: &Now, sheet: &SheetNow, plan: &Plan, tried: &BTreeSet<String>) -> Next {
    if plan.card.as_ref().is_some_and(|c| *c != sheet.card) {
        return Next::Stuck(format!("a sheet of another card, {}, is on the machine", sheet.card));
    }
    match sheet.stage {
        Stage::Cutting => return Next::Wait(None),
        Stage::Stopped => {
            let why = sheet.stopped.as_ref().map(|s| s.record.text.clone()).unwrap_or_default();
            return Next::Stuck(format!("the sheet is stopped and a person has to decide: {why}"));
        }
        Stage::Held => return held(now, sheet, plan, tried),
        Stage::Queued | Stage::Securing | Stage::Tooling | Stage::Ready | Stage::SetAside => {}
        Stage::TakingOff | Stage::Checking | Stage::Closed => {}
    }
    if let Some(next) = way(now) {
        return next;
    }
    if let Some(finding) = sheet.to_sign.first().filter(|_| open(now, OfferedAct::SignFinding)) {
        let fingerprint = finding.fingerprint.clone();
        return Next::Do(Step {
            name: "sign-finding".to_owned(),
            list: None,
            answer: Value::from(finding.code.to_string()),
            act: Act::SignFinding { fingerprint },
        });
    }
    if open(now, OfferedAct::CycleStart) {
        return plain("cycle-start", Act::CycleStart);
    }
    task(now, plan, tried)
}

/// Somebody else's hold is somebody else's to end; a prompt of the program is answered.
fn held(now: &Now, sheet: &SheetNow, plan: &Plan, tried: &BTreeSet<String>) -> Next {
    match sheet.held.as_ref().map(|h| h.by) {
        Some(HeldBy::Prompt | HeldBy::BitChange) => {
            if now.task.is_some() && open(now, OfferedAct::Answer) {
                return task(now, plan, tried);
            }
            if open(now, OfferedAct::Resume) { plain("resume", Act::Resume) } else { none_open(now) }
        }
        Some(HeldBy::Person | HeldBy::Lift | HeldBy::Machine | HeldBy::Trouble | HeldBy::NobodyThere) | None => {
            Next::Wait(None)
        }
    }
}

fn open(now: &Now, act: OfferedAct) -> bool {
    now.actions.iter().any(|o| o.act == act && o.refused.is_none())
}

fn open_any(now: &Now, acts: &[OfferedAct]) -> bool {
    acts.iter().any(|a| open(now, *a))
}

/// Everything is refused: waited for if something may change by itself, else told with every reason.
fn none_open(now: &Now) -> Next {
    let why = |o: &Offer| o.refused.as_ref().map(|r| format!("{} {r}", o.text));
    let refused: Vec<String> = now.actions.iter().filter_map(why).collect();
    if refused.is_empty() {
        return Next::Wait(None);
    }
    Next::Stuck(refused.join(" / "))
}

fn task(now: &Now, plan: &Plan, tried: &BTreeSet<String>) -> Next {
    let Some(task) = &now.task else { return none_open(now) };
    if !open(now, OfferedAct::Answer) {
        return none_open(now);
    }
    let wanted = plan.answers.step.get(&task.step.id).filter(|_| !tried.contains(&task.step.id));
    if let Some(wanted) = wanted {
        return answered(task, wanted.answer());
    }
    match &task.step.ask {
        Ask::Confirm | Ask::Lot { .. } => answered(task, StepAnswer::Done),
        Ask::Value { expect, least, most, .. } => {
            let value = expect.unwrap_or(f64::midpoint(*least, *most));
            answered(task, StepAnswer::Value { value })
        }
        Ask::Choose { options } => match options.first() {
            Some(option) => answered(task, StepAnswer::Choice { key: option.key.clone() }),
            None => Next::Stuck(format!("step `{}` offers nothing to choose", task.step.id)),
        },
        Ask::Place { places, .. } => answered(task, StepAnswer::Placed { places: places.clone() }),
        Ask::RunDown { left, .. } => {
            let left = now.machine.run_down_left.map_or(*left, Seconds::value);
            if left > 0.0 { Next::Wait(Some(Seconds::of(left))) } else { answered(task, StepAnswer::Still) }
        }
        Ask::TouchZ { leg: None } => touch(now, task),
        Ask::TouchAgain { at } => touch_again(now, task, *at),
        Ask::Hover { leg: None, .. } | Ask::Raise { leg: None, .. } => answered(task, StepAnswer::Done),
        Ask::Hover { leg: Some(leg), .. } | Ask::Raise { leg: Some(leg), .. } | Ask::TouchZ { leg: Some(leg) } => {
            Next::Do(Step {
                name: task.step.id.clone(),
                list: Some(task.list),
                answer: Value::from(format!("{} {} mm", leg.axis.letter(), leg.by.mm())),
                act: Act::Approach,
            })
        }
        Ask::Parts { names, graded } => parts(task, names, graded, plan),
    }
}

fn answered(task: &Task, answer: StepAnswer) -> Next {
    Next::Do(Step {
        name: task.step.id.clone(),
        list: Some(task.list),
        answer: serde_json::to_value(&answer).unwrap_or(Value::Null),
        act: Act::Answer { step: task.step.id.clone(), answer },
    })
}

/// Over the place first; then as the zero was touched.
fn touch_again(now: &Now, task: &Task, at: Spot) -> Next {
    let aside = now.machine.at.map_or(0.0, |b| (b.x - at.x).mm().hypot((b.y - at.y).mm()));
    if aside > 1.0 {
        return Next::Do(Step {
            name: task.step.id.clone(),
            list: Some(task.list),
            answer: Value::from("over the place"),
            act: Act::OverSpot,
        });
    }
    touch(now, task)
}

/// Down by the named distances, ever smaller, to where the paper is pinched; then the zero.
fn touch(now: &Now, task: &Task) -> Next {
    let rest = now.machine.at.map_or(0.0, |at| at.z.mm() - TOUCHES_MM);
    let step = HAND_STEPS_MM.iter().rev().find(|s| **s <= rest + CLOSE_MM).filter(|_| rest > CLOSE_MM);
    let told = |act: Act, answer: String| {
        Next::Do(Step { name: task.step.id.clone(), list: Some(task.list), answer: Value::from(answer), act })
    };
    match step.and_then(|s| Length::from_mm(-s).ok()) {
        Some(by) => told(Act::HandMove { axis: Axis::Z, by }, format!("down {} mm", by.abs().mm())),
        None => {
            let above = Length::from_mm(TOUCHES_MM).unwrap_or_default();
            told(Act::ZeroHere { axis: Axis::Z, above }, format!("zero here, {above} of paper"))
        }
    }
}

fn parts(task: &Task, names: &[String], graded: &[u32], plan: &Plan) -> Next {
    let next = names.iter().enumerate().find_map(|(i, name)| {
        let index = u32::try_from(i).ok()?;
        (!graded.contains(&index)).then_some((index, name))
    });
    let Some((index, name)) = next else { return answered(task, StepAnswer::Done) };
    let (grade, reason, note) = plan.answers.grade(index, name);
    Next::Do(Step {
        name: task.step.id.clone(),
        list: Some(task.list),
        answer: serde_json::json!({ "part": name, "index": index, "grade": grade, "reason": reason }),
        act: Act::GradePart { index, grade, reason, note },
    })
}

/// The wanted person, if one of the shop; else its first owner, who may sign and decide.
fn somebody(now: &Now, wanted: &Person) -> Person {
    let known = |p: &&PersonHere| p.who == *wanted;
    let owner = |p: &&PersonHere| p.role == Role::Owner;
    let found = now.staff.iter().find(known).or_else(|| now.staff.iter().find(owner));
    found.map_or_else(|| wanted.clone(), |p| p.who.clone())
}
