//! What may be done now, asked of the same table that decides it.
//!
//! May live here: which acts a person is shown in which stage, in which order. May not: rules of its own.

use crate::floor::happening::{Asked, By, Happening};
use crate::floor::permit::Epoch;
use crate::floor::proofs::PersonHere;
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{
    Approval, Article, AtStage, Attendance, Change, Cutting, Findings, OnMachine, OperationFacts, Ops, Origin, Raise,
    SheetFacts, Stopped, Watch,
};
use crate::floor::state::{Homing, Link, Motion, Position, Signed, Slot, Spindle, State, Way, WorkZero};
use crate::floor::table::step;
use chargehand_types::card::ZZero;
use chargehand_types::checklist::ListKind;
use chargehand_types::now::OfferedAct;
use chargehand_types::stage::{Decision, HeldBy};

/// What a person can do now, or could if it were allowed, in the order in which it is needed. Each is asked of
/// [`step`], so it is refused here exactly when it would be refused there. Answering a call is not the floor's.
#[must_use]
pub fn offers(state: &State, by: By) -> Vec<(OfferedAct, Option<Refusal>)> {
    shown(state, by).into_iter().map(|act| (act, refusal(state, by, act))).collect()
}

/// What may be decided about the sheet on the machine now, by whoever asks.
#[must_use]
pub fn decisions(state: &State, by: By) -> Vec<Decision> {
    [Decision::Next, Decision::ReEnter, Decision::Restart, Decision::SetAside, Decision::End]
        .into_iter()
        .filter(|d| asked(state, by, Asked::Decide(*d)).is_none())
        .collect()
}

/// Whether a list must ask for the run-down (switched off, counted, looked) before it can be signed.
#[must_use]
pub const fn asks_run_down(state: &State, list: ListKind) -> bool {
    match list {
        ListKind::Securing | ListKind::TakingOff | ListKind::Tooling => {
            !matches!(state.machine.spindle, Spindle::Still)
        }
        ListKind::Ready
        | ListKind::Checking
        | ListKind::Opening
        | ListKind::Closing
        | ListKind::HandOver
        | ListKind::AfterPowerCut => false,
    }
}

fn shown(state: &State, by: By) -> Vec<OfferedAct> {
    let mut acts = Vec::new();
    let held = matches!(state.at(), Some(AtStage::Held(_))) && state.machine.motion == Motion::Held;
    if let Some(AtStage::Cutting(Cutting { watch: Watch::Asked | Watch::Called, .. })) = state.at() {
        acts.push(OfferedAct::StillThere);
    }
    if state.machine.link == Link::Up && !held {
        acts.extend(halting(state.machine.motion));
    }
    if PersonHere::of(state, by).err() == Some(Refusal::NobodyHere) {
        acts.push(OfferedAct::SignIn);
    }
    for act in of_stage(state) {
        if !acts.contains(&act) {
            acts.push(act);
        }
    }
    acts.push(OfferedAct::Trouble);
    if PersonHere::of(state, by).is_ok() {
        acts.push(OfferedAct::SignOut);
    }
    acts
}

/// The ways to stop, while something may move. A hold with no program to go on with can only be given up.
fn halting(motion: Motion) -> Vec<OfferedAct> {
    match motion {
        Motion::Still | Motion::Faulted | Motion::Stopping => Vec::new(),
        Motion::Held => vec![OfferedAct::Stop],
        Motion::Homing
        | Motion::Hand
        | Motion::Program
        | Motion::HoldAsked(_)
        | Motion::LiftAsked
        | Motion::Raising
        | Motion::Unknown => {
            vec![OfferedAct::Hold, OfferedAct::HoldAtLift, OfferedAct::Stop]
        }
    }
}

/// What belongs to the stage.
fn of_stage(state: &State) -> Vec<OfferedAct> {
    let Some(sheet) = &state.sheet else {
        return [finding_the_way(state), vec![OfferedAct::TakeSheet]].concat();
    };
    match &sheet.at {
        AtStage::Securing => [vec![OfferedAct::Answer], before_cut(sheet)].concat(),
        AtStage::Tooling => [finding_the_way(state), vec![OfferedAct::Answer], before_cut(sheet)].concat(),
        AtStage::Ready => [of_ready(state, sheet), before_cut(sheet)].concat(),
        AtStage::Cutting(_) => Vec::new(),
        AtStage::Held(held) => of_held(held.by, held.raise, held.change, state),
        AtStage::Stopped(stopped) => of_stopped(state, stopped),
        // a fault there leaves the closing touch undone, and nothing else is to be decided
        AtStage::TakingOff if state.machine.motion == Motion::Faulted => {
            [finding_the_way(state), vec![OfferedAct::Answer]].concat()
        }
        AtStage::TakingOff | AtStage::Checking { .. } => vec![OfferedAct::Answer],
    }
}

fn of_ready(state: &State, sheet: &OnMachine) -> Vec<OfferedAct> {
    match sheet.ready {
        Signed::Yes => vec![OfferedAct::CycleStart],
        Signed::No => [finding_the_way(state), vec![OfferedAct::Answer]].concat(),
    }
}

fn before_cut(sheet: &OnMachine) -> Vec<OfferedAct> {
    let mut acts = Vec::new();
    if sheet.findings == Findings::Unsigned {
        acts.push(OfferedAct::SignFinding);
    }
    acts.extend([OfferedAct::SetAside, OfferedAct::End]);
    acts
}

fn of_held(by: HeldBy, raise: Raise, change: Change, state: &State) -> Vec<OfferedAct> {
    let tooling_due = change != Change::None || state.machine.tooling == Signed::No;
    let mut acts = Vec::new();
    // a spindle that was stopped for want of anybody is started again by a list
    let stopped_alone = by == HeldBy::NobodyThere && raise == Raise::Not && state.machine.spindle != Spindle::MayTurn;
    if (by == HeldBy::BitChange && tooling_due) || stopped_alone {
        acts.push(OfferedAct::Answer);
    }
    if raise == Raise::Not {
        acts.extend([OfferedAct::Resume, OfferedAct::Raise]);
    }
    acts.push(OfferedAct::Stop);
    acts
}

fn of_stopped(state: &State, stopped: &Stopped) -> Vec<OfferedAct> {
    if stopped.red_button.is_none() {
        return vec![OfferedAct::RedButtonNo, OfferedAct::RedButtonYes];
    }
    let ran_out = state.sheet.as_ref().is_some_and(|s| s.done.contains(s.operation));
    let mut acts = if ran_out { vec![OfferedAct::Next] } else { vec![OfferedAct::Restart, OfferedAct::ReEnter] };
    acts.extend([OfferedAct::SetAside, OfferedAct::End]);
    [acts, finding_the_way(state)].concat()
}

/// What makes position and work zero known again.
fn finding_the_way(state: &State) -> Vec<OfferedAct> {
    let machine = &state.machine;
    let mut acts = Vec::new();
    // one that stands in a fault takes no motion but this
    if machine.position == Position::Unknown || machine.motion == Motion::Faulted {
        if machine.way == Way::NotSaid {
            acts.push(OfferedAct::BitFree);
        }
        if machine.setup.homing == Homing::Able {
            acts.push(OfferedAct::Home);
        }
    }
    if machine.zero == WorkZero::Unconfirmed {
        acts.push(OfferedAct::ConfirmZero);
    }
    acts
}

/// Why an offered act would be refused now.
fn refusal(state: &State, by: By, act: OfferedAct) -> Option<Refusal> {
    let what = match act {
        // lists of the day are not the floor's
        OfferedAct::SignIn
        | OfferedAct::SignOut
        | OfferedAct::AnswerCall
        | OfferedAct::Opening
        | OfferedAct::Closing
        | OfferedAct::HandOver
        | OfferedAct::AfterPowerCut
        | OfferedAct::LeaveList
        | OfferedAct::ApproveArticle => return None,
        OfferedAct::Answer => return PersonHere::of(state, by).err(),
        OfferedAct::TakeSheet => Asked::TakeSheet(any_sheet()),
        OfferedAct::SignFinding => Asked::FindingsSigned,
        OfferedAct::CycleStart => Asked::CycleStart,
        OfferedAct::Hold => Asked::Hold,
        OfferedAct::HoldAtLift => Asked::HoldAtLift,
        OfferedAct::Resume => Asked::Resume,
        OfferedAct::Raise => Asked::Raise,
        OfferedAct::Stop => Asked::Stop,
        OfferedAct::Trouble => Asked::Trouble,
        OfferedAct::StillThere => Asked::StillThere,
        OfferedAct::RedButtonYes => Asked::RedButton { pressed: true },
        OfferedAct::RedButtonNo => Asked::RedButton { pressed: false },
        OfferedAct::BitFree => Asked::BitFree,
        OfferedAct::Home => Asked::Home,
        OfferedAct::ConfirmZero => Asked::ConfirmZero,
        OfferedAct::Next => Asked::Decide(Decision::Next),
        OfferedAct::ReEnter => Asked::Decide(Decision::ReEnter),
        OfferedAct::Restart => Asked::Decide(Decision::Restart),
        OfferedAct::SetAside => Asked::Decide(Decision::SetAside),
        OfferedAct::End => Asked::Decide(Decision::End),
    };
    asked(state, by, what)
}

fn asked(state: &State, by: By, what: Asked) -> Option<Refusal> {
    step(state, &Happening::Act { by, what }, Epoch::default()).err()
}

/// A sheet that nothing speaks against, to ask whether any could be taken.
fn any_sheet() -> SheetFacts {
    let operation = OperationFacts { bit: Slot(0), attendance: Attendance::Attended, after: Ops::NONE };
    SheetFacts {
        from: Origin::Queued,
        article: Article::First,
        z_on: ZZero::Top,
        operations: vec![operation],
        done: Ops::NONE,
        findings: Findings::Clear,
        bit_in: None,
        approval: Approval::Given,
    }
}
