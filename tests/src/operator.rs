//! An operator who walks sheets through their lists over the public API alone, doing what is offered and answering
//! what is asked.
//!
//! May live here: what a person would do next. May not: anything the screen would not show them.

use crate::client::Client;
use chargehand_types::act::{Act, ActAnswer, Axis, HAND_STEPS_MM};
use chargehand_types::checklist::{Ask, Step, StepAnswer};
use chargehand_types::id::Person;
use chargehand_types::now::{LinkNow, Motion, Now, OfferedAct, SheetNow};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::Length;
use chargehand_types::stage::{Grade, Reason, Stage};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// A walk must come to its end within this.
const WALKS_WITHIN: Duration = Duration::from_secs(120);
/// Between two looks while nothing is to be done.
const LOOK_EVERY: Duration = Duration::from_millis(10);

/// One who works at the machine.
pub struct Operator<'c> {
    client: &'c Client,
    who: &'static str,
    /// How each part is graded, by its index.
    pub grading: fn(u32) -> (Grade, Option<Reason>),
    /// Sheets this operator closed.
    pub closed: u32,
    /// Each act done, with the stage it was done in, as a word.
    pub walked: Vec<String>,
}

/// A person by rule: what they do next follows from what the screen shows.
#[derive(Debug, Clone, Copy)]
pub struct ByRule {
    /// Their name.
    pub who: &'static str,
    /// How each part is graded, by its index.
    pub grading: fn(u32) -> (Grade, Option<Reason>),
}

/// What a person does about what they see.
pub enum Next {
    /// This.
    Do(Act),
    /// Wait and look again.
    Wait,
}

impl<'c> Operator<'c> {
    /// The owner of the demo's shop.
    #[must_use]
    pub fn owner(client: &'c Client) -> Self {
        Self::named(client, "Solveig")
    }

    /// The helper of the demo's shop.
    #[must_use]
    pub fn helper(client: &'c Client) -> Self {
        Self::named(client, "Emrik")
    }

    fn named(client: &'c Client, who: &'static str) -> Self {
        Self { client, who, grading: |_| (Grade::Good, None), closed: 0, walked: Vec::new() }
    }

    /// Signs in.
    pub fn sign_in(&self) -> ActAnswer {
        self.client
            .act(Act::SignIn { who: Person::from(self.who), pin: None })
            .unwrap_or_else(|p| panic!("signing in: {p}"))
    }

    /// Walks until so many sheets are closed by this operator.
    pub fn walk_sheets(&mut self, sheets: u32) -> Now {
        self.closed = 0;
        let mut closed = 0;
        let now = self.walk(&format!("{sheets} sheets closed"), |operator, _| {
            closed = operator.closed;
            closed >= sheets
        });
        assert_eq!(closed, sheets);
        now
    }

    /// Walks until it is cutting, with the bit below the face of the sheet.
    pub fn walk_into_cut(&mut self) -> Now {
        self.walk("in the cut", |_, now| in_cut(now))
    }

    /// Walks until things stand so.
    pub fn walk(&mut self, what: &str, mut so: impl FnMut(&Self, &Now) -> bool) -> Now {
        let begun = Instant::now();
        loop {
            let now = self.client.now();
            if so(self, &now) {
                return now;
            }
            if begun.elapsed() > WALKS_WITHIN {
                let shown = serde_json::to_string_pretty(&now).unwrap_or_default();
                panic!("the walk never came to: {what}\nwalked: {:#?}\n{shown}", self.walked);
            }
            match (ByRule { who: self.who, grading: self.grading }).next(&now) {
                Next::Do(act) => self.done(&now, act),
                Next::Wait => sleep(LOOK_EVERY),
            }
        }
    }

    fn done(&mut self, now: &Now, act: Act) {
        let stage = now.sheet.as_ref().map_or("free", |s| s.stage.word());
        let step = now.task.as_ref().map_or_else(String::new, |t| format!(" {}/{}", t.list.word(), t.step.id));
        let name = name_of(&act);
        match self.client.act_seen(now.version, act.clone()) {
            Ok(answer) => {
                self.walked.push(format!("{stage}{step}: {name}"));
                if matches!(act, Act::GradePart { .. }) && answer.now.sheet.is_none() {
                    self.closed += 1;
                }
            }
            // things moved on between the look and the act: look again
            Err(Problem { kind: ProblemKind::SeenIsOld, .. }) => {}
            // the count on the screen may end a moment before the daemon's own
            Err(Problem { kind: ProblemKind::StartCondition, .. }) if is_still(&act) => sleep(LOOK_EVERY),
            Err(problem) => panic!("{stage}{step}: {name} was refused: {problem}\nwalked: {:#?}", self.walked),
        }
    }
}

impl ByRule {
    /// What this person does about what they see.
    #[must_use]
    pub fn next(&self, now: &Now) -> Next {
        if !now.people.iter().any(|p| p.who.0 == self.who) {
            return Next::Do(Act::SignIn { who: Person::from(self.who), pin: None });
        }
        let moving = matches!(now.machine.motion, Motion::Moving | Motion::Homing | Motion::HoldAsked);
        let cutting = now.sheet.as_ref().is_some_and(|s| s.stage == Stage::Cutting);
        if moving || cutting || now.machine.link != LinkNow::Up {
            return Next::Wait;
        }
        let of_day = now.task.as_ref().is_some_and(|t| t.list.is_of_day());
        if let Some(act) = self.offered(now).filter(|_| !of_day) {
            return Next::Do(act);
        }
        match (&now.task, &now.sheet) {
            (Some(task), sheet) => self.step(now, sheet.as_ref(), &task.step),
            _ => Next::Wait,
        }
    }

    /// What is offered and comes before the list.
    fn offered(&self, now: &Now) -> Option<Act> {
        let open = |act| now.actions.iter().any(|o| o.act == act && o.refused.is_none());
        let sheet = now.sheet.as_ref();
        if open(OfferedAct::RedButtonNo) {
            return Some(Act::RedButton { pressed: false });
        }
        if open(OfferedAct::BitFree) {
            return Some(Act::BitFree);
        }
        let lost = !now.machine.position_known || now.machine.motion == Motion::Faulted;
        if open(OfferedAct::Home) && lost {
            return Some(Act::Home);
        }
        if open(OfferedAct::ConfirmZero) && now.machine.position_known && !now.machine.zero_confirmed {
            return Some(Act::ConfirmZero);
        }
        if let Some(finding) = sheet.and_then(|s| s.to_sign.first()).filter(|_| open(OfferedAct::SignFinding)) {
            return Some(Act::SignFinding { fingerprint: finding.fingerprint.clone() });
        }
        // a helper begins nothing before the lists that are due; the owner may
        if open(OfferedAct::Opening) && !open(OfferedAct::TakeSheet) && sheet.is_none() {
            let due = now.lists.iter().find(|l| l.due.is_some());
            return due.map(|l| Act::BeginList { list: l.list });
        }
        if sheet.is_none() && open(OfferedAct::TakeSheet) {
            return Some(Act::TakeSheet { sheet: None });
        }
        if open(OfferedAct::CycleStart) {
            return Some(Act::CycleStart);
        }
        (open(OfferedAct::Resume) && now.task.is_none()).then_some(Act::Resume)
    }

    fn step(&self, now: &Now, sheet: Option<&SheetNow>, step: &Step) -> Next {
        let answer = match &step.ask {
            Ask::Confirm | Ask::Lot { .. } => StepAnswer::Done,
            Ask::Value { expect, least, .. } => {
                let value = expect.or_else(|| looked_up(now, sheet, &step.id)).unwrap_or(*least);
                StepAnswer::Value { value }
            }
            Ask::Choose { options } => {
                let first = || options.first().map(|o| o.key.clone()).unwrap_or_default();
                StepAnswer::Choice { key: seen_at_machine(now, sheet, &step.id).map_or_else(first, str::to_owned) }
            }
            Ask::Place { places, .. } => StepAnswer::Placed { places: places.clone() },
            Ask::RunDown { left, .. } if *left > 0.0 => return Next::Wait,
            Ask::RunDown { .. } => StepAnswer::Still,
            Ask::TouchZ { leg: None } => return touch(now),
            Ask::TouchAgain { at } => {
                let aside = now.machine.at.map_or(0.0, |b| (b.x - at.x).mm().hypot((b.y - at.y).mm()));
                return if aside > 1.0 { Next::Do(Act::OverSpot) } else { touch(now) };
            }
            Ask::Hover { leg: Some(_), .. } | Ask::Raise { leg: Some(_), .. } | Ask::TouchZ { leg: Some(_) } => {
                return Next::Do(Act::Approach);
            }
            Ask::Hover { .. } | Ask::Raise { .. } => StepAnswer::Done,
            Ask::Parts { names, graded } => return self.grade(&step.id, names, graded, sheet),
        };
        Next::Do(Act::Answer { step: step.id.clone(), answer })
    }

    fn grade(&self, step: &str, names: &[String], graded: &[u32], sheet: Option<&SheetNow>) -> Next {
        let all = 0..u32::try_from(names.len()).unwrap_or(u32::MAX);
        let Some(index) = all.into_iter().find(|i| !graded.contains(i)) else {
            return Next::Do(Act::Answer { step: step.to_owned(), answer: StepAnswer::Done });
        };
        assert_eq!(sheet.map(|s| s.graded.len()), Some(graded.len()));
        let (grade, reason) = (self.grading)(index);
        Next::Do(Act::GradePart { index, grade, reason, note: None })
    }
}

/// What is not shown, since it proves a look: the number on the label of the sheet, the calls that are open.
fn looked_up(now: &Now, sheet: Option<&SheetNow>, step: &str) -> Option<f64> {
    match step {
        "sheet" => sheet.map(|s| f64::from(s.number)),
        "calls" => Some(now.calls.len() as f64),
        _ => None,
    }
}

/// What the machine does, as whoever looks at it sees.
fn seen_at_machine(now: &Now, sheet: Option<&SheetNow>, step: &str) -> Option<&'static str> {
    let held = now.machine.motion == Motion::Held || sheet.is_some_and(|s| s.stage == Stage::Held);
    (step == "doing").then_some(if held { "held" } else { "still" })
}

/// Down onto the sheet in named steps, and the zero taken there.
fn touch(now: &Now) -> Next {
    let Some(at) = now.machine.at else { return Next::Wait };
    let above = at.z.mm();
    let down = HAND_STEPS_MM.iter().rev().find(|s| **s <= above + 1.0e-6);
    Next::Do(match down.and_then(|s| Length::from_mm(-s).ok()) {
        Some(by) => Act::HandMove { axis: Axis::Z, by },
        None => Act::ZeroHere { axis: Axis::Z, above: Length::ZERO },
    })
}

/// Whether a sheet is being cut with the bit below the sheet's face (the practice cards have their zero on top).
#[must_use]
pub fn in_cut(now: &Now) -> bool {
    let cutting = now.sheet.as_ref().is_some_and(|s| s.stage == Stage::Cutting);
    cutting && now.machine.motion == Motion::Moving && now.machine.at.is_some_and(|p| p.z < Length::ZERO)
}

const fn is_still(act: &Act) -> bool {
    matches!(act, Act::Answer { answer: StepAnswer::Still, .. })
}

fn name_of(act: &Act) -> String {
    let value = serde_json::to_value(act).unwrap_or_default();
    value["act"].as_str().unwrap_or_default().to_owned()
}
