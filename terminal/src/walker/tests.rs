//! The walker against a fake daemon that knows one simple sheet, and its decisions one by one.

use super::next::{Next, next};
use super::*;
use crate::client::fake::{Fake, Reply, Request};
use crate::ui::samples::{self, offer, refused};
use chargehand_types::act::{ActAnswer, ActRequest, Axis};
use chargehand_types::checklist::{Ask, StepAnswer};
use chargehand_types::now::{HeldNow, OfferedAct};
use chargehand_types::problem::Problem;
use chargehand_types::quantity::Length;
use chargehand_types::queue::SheetList;
use chargehand_types::stage::{Grade, HeldBy, Reason};
use std::sync::{Arc, Mutex};

fn plan(sheets: u32, answers: Answers) -> Plan {
    Plan { card: Some("plant-stand-sides".into()), sheets, answers }
}

fn decided(now: &Now) -> Next {
    next(now, &plan(1, Answers::default()), &BTreeSet::new())
}

fn act(now: &Now) -> Act {
    match decided(now) {
        Next::Do(step) => step.act,
        other => panic!("{other:?}"),
    }
}

#[test]
fn signing_in_comes_first() {
    assert_eq!(act(&samples::lost_position()), Act::SignIn { who: "owner".into(), pin: None });
}

#[test]
fn home_comes_before_a_sheet() {
    let mut now = samples::idle();
    now.actions.insert(0, offer(OfferedAct::Home, "Find home."));
    assert_eq!(act(&now), Act::Home);
    now.actions.remove(0);
    assert_eq!(decided(&now), Next::Take);
}

#[test]
fn a_value_is_the_expected_one() {
    let value = |act| match act {
        Act::Answer { answer: StepAnswer::Value { value }, .. } => value,
        other => panic!("{other:?}"),
    };
    assert_eq!(value(act(&samples::value())), 18.0);
    let answers = Answers::read("[step]\nthickness-1 = 17.9").unwrap();
    let wanted = plan(1, answers);
    let Next::Do(step) = next(&samples::value(), &wanted, &BTreeSet::new()) else { panic!("no act") };
    assert_eq!(value(step.act), 17.9);
    let tried = BTreeSet::from(["thickness-1".to_owned()]);
    let Next::Do(step) = next(&samples::value(), &wanted, &tried) else { panic!("no act") };
    assert_eq!(value(step.act), 18.0, "a refused answer is given once");
}

#[test]
fn run_down_is_waited_for_then_looked_at() {
    assert!(matches!(decided(&samples::run_down()), Next::Wait(Some(_))));
    let mut now = samples::run_down();
    now.machine.run_down_left = Some(Seconds::ZERO);
    assert_eq!(act(&now), Act::Answer { step: "still".into(), answer: StepAnswer::Still });
}

#[test]
fn the_bit_goes_down_in_ever_smaller_steps() {
    let mut now = samples::touch();
    let mut moves = Vec::new();
    now.machine.at = Some(samples::point(10, 10, 62));
    for _ in 0..40 {
        match act(&now) {
            Act::HandMove { axis: Axis::Z, by } => {
                moves.push(by.mm());
                let at = now.machine.at.as_mut().unwrap();
                at.z += by;
            }
            Act::ZeroHere { axis: Axis::Z, above } => {
                assert_eq!(above, Length::from_mm(0.1).unwrap());
                assert!((now.machine.at.unwrap().z.mm() - 0.1).abs() < 0.02, "{moves:?}");
                return;
            }
            other => panic!("{other:?}"),
        }
    }
    panic!("never touched: {moves:?}");
}

#[test]
fn the_bit_is_brought_over_the_mark_then_looked_at() {
    assert_eq!(act(&samples::hover(false)), Act::Approach);
    assert_eq!(act(&samples::hover(true)), Act::Answer { step: "mark".into(), answer: StepAnswer::Done });
}

#[test]
fn the_bit_is_brought_over_the_place_before_it_touches() {
    assert_eq!(act(&samples::touch_far()), Act::Approach);
    assert!(matches!(act(&samples::touch_spot()), Act::HandMove { axis: Axis::Z, .. }));
}

#[test]
fn parts_are_graded_as_told() {
    assert_eq!(act(&samples::parts()), Act::GradePart { index: 1, grade: Grade::Good, reason: None, note: None });
    let answers = Answers::read("[part]\n2 = { grade = \"scrap\", reason = \"torn-face\" }").unwrap();
    let Next::Do(step) = next(&samples::parts(), &plan(1, answers), &BTreeSet::new()) else { panic!("no act") };
    let torn = Act::GradePart { index: 1, grade: Grade::Scrap, reason: Some(Reason::TornFace), note: None };
    assert_eq!(step.act, torn);
}

#[test]
fn only_prompts_are_resumed() {
    let mut now = samples::held();
    assert_eq!(decided(&now), Next::Wait(None), "a person's hold is that person's");
    now.sheet.as_mut().unwrap().held =
        Some(HeldNow { by: HeldBy::Prompt, seconds: Seconds::ZERO, bit_in_cut: false, raised: false });
    now.machine.motion = Motion::Held;
    assert_eq!(act(&now), Act::Resume);
}

#[test]
fn findings_are_signed_and_cutting_is_watched() {
    assert_eq!(act(&samples::to_sign()), Act::SignFinding { fingerprint: "f-plunge".into() });
    assert_eq!(decided(&samples::cutting()), Next::Wait(None));
    assert_eq!(act(&samples::ready()), Act::CycleStart);
}

#[test]
fn a_stop_ends_the_walk() {
    let mut now = samples::stopped();
    now.calls.clear();
    let Next::Stuck(why) = decided(&now) else { panic!("went on") };
    assert!(why.contains("The daemon was restarted"), "{why}");
}

#[test]
fn refusals_are_told_when_nothing_else_is_left() {
    let mut now = samples::warning();
    now.actions = vec![refused(OfferedAct::Answer, "Answer the step.", "Only the owner may do this.")];
    let Next::Stuck(why) = decided(&now) else { panic!("went on") };
    assert!(why.contains("Only the owner"), "{why}");
}

/// A daemon with one sheet of one card: a value, a confirmation, cycle start, a short cut, two parts.
#[derive(Default)]
struct OneSheet {
    at: usize,
    looks_while_cutting: u32,
}

impl OneSheet {
    /// The state at each place of the walk.
    fn now(&self) -> Now {
        let mut now = match self.at {
            0 => samples::lost_position(),
            1 => samples::idle(),
            2 => samples::value(),
            3 => samples::warning(),
            4 => samples::ready(),
            5 => samples::cutting(),
            6 | 7 => samples::parts(),
            _ => samples::idle(),
        };
        if let Some(Ask::Parts { names, graded }) = now.task.as_mut().map(|t| &mut t.step.ask) {
            names.truncate(2);
            *graded = if self.at == 7 { vec![0] } else { vec![] };
        }
        now.version = StageVersion(u64::try_from(self.at).unwrap());
        now.seq = Seq(now.version.0 + 1);
        now
    }

    fn answer(&mut self, request: &Request) -> Reply {
        match request.line.as_str() {
            "GET /v1/now" => {
                if self.at == 5 {
                    self.looks_while_cutting += 1;
                    if self.looks_while_cutting > 2 {
                        self.at = 6;
                    }
                }
                Reply::ok(&self.now())
            }
            "GET /v1/sheets" => Reply::ok(&self.sheets()),
            "GET /v1/events" => Reply::Stays(String::new()),
            "POST /v1/acts" => self.act(&request.act()),
            other => panic!("{other} is not asked of a walk"),
        }
    }

    fn sheets(&self) -> SheetList {
        let mut list = samples::sheets();
        list.sheets.truncate(1);
        list.sheets[0].stage = match self.at {
            0 | 1 => Stage::Queued,
            8 => Stage::Closed,
            _ => Stage::Securing,
        };
        list
    }

    fn act(&mut self, request: &ActRequest) -> Reply {
        let wanted = match (self.at, &request.act) {
            (0, Act::SignIn { .. }) => true,
            (1, Act::TakeSheet { sheet: Some(id) }) => id.0 == "B1-1",
            (2, Act::Answer { answer: StepAnswer::Value { value }, .. }) => *value == 18.0,
            (3, Act::Answer { answer: StepAnswer::Done, .. }) | (4, Act::CycleStart) => true,
            (6, Act::GradePart { index: 0, .. }) | (7, Act::GradePart { index: 1, .. }) => true,
            _ => false,
        };
        if !wanted || request.seen != Some(StageVersion(u64::try_from(self.at).unwrap())) {
            return Reply::no(&Problem::new(ProblemKind::NotPermitted, format!("not at {}: {:?}", self.at, request)));
        }
        self.at += 1;
        Reply::ok(&ActAnswer { schema: 1, said: "Done.".into(), now: self.now() })
    }
}

#[tokio::test]
async fn one_sheet_is_walked_to_its_end() {
    let shop = Arc::new(Mutex::new(OneSheet::default()));
    let fake = Fake::start(move |request| shop.lock().unwrap().answer(request));
    let mut lines = Vec::new();
    let mut tell = |told| {
        if let Told::Step(line) = told {
            lines.push(serde_json::to_string(&line).unwrap());
        }
    };
    let closed = walk(&fake.api(), &plan(1, Answers::default()), &mut tell).await.unwrap();
    assert_eq!(closed, [SheetId::from("B1-1")]);
    let steps: Vec<String> = lines
        .iter()
        .map(|l| serde_json::from_str::<serde_json::Value>(l).unwrap()["step"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(steps, ["sign-in", "take-sheet", "thickness-1", "router-off", "cycle-start", "parts", "parts"]);
    assert_eq!(
        lines[2],
        r#"{"step":"thickness-1","list":"securing","answer":{"answer":"value","value":18.0},"stage":"tooling","sheet":"B1-1"}"#
    );
}

#[tokio::test]
async fn a_final_refusal_is_told_with_its_place() {
    let fake = Fake::start(|request| {
        if request.line.starts_with("POST") {
            Reply::no(&Problem::new(ProblemKind::NotPermitted, "Not from here."))
        } else if request.line == "GET /v1/sheets" {
            Reply::ok(&SheetList { schema: 1, sheets: vec![] })
        } else {
            Reply::ok(&samples::warning())
        }
    });
    let stuck = walk(&fake.api(), &plan(1, Answers::default()), &mut |_| {}).await.unwrap_err();
    let text = stuck.to_string();
    assert!(text.contains("step `router-off`") && text.contains("Not from here."), "{text}");
}
