//! What may be done now, found by asking the table itself, so that a screen's list of actions cannot lie.

use super::acts::role;
use super::happening::{Asked, Happening, Pressed};
use super::permit::Epoch;
use super::refusal::Refusal;
use super::state::{By, Findings, Homing, Moving, Position, State, Zero};
use super::table::step;
use chargehand_types::now::OfferedAct;
use chargehand_types::stage::{Decision, Stage};

/// The acts that make sense now, in the order a person needs them, each with why it is refused, if it is.
#[must_use]
pub fn offers(state: &State, by: By) -> Vec<(OfferedAct, Option<Refusal>)> {
    let mut offered = Vec::new();
    if role(by).is_none() {
        offered.push((OfferedAct::SignIn, None));
    }
    for act in sensible(state) {
        offered.push((act, refused(state, by, act)));
    }
    offered
}

fn sensible(state: &State) -> Vec<OfferedAct> {
    let mut acts = Vec::new();
    match state.stage() {
        None => {
            machine(state, &mut acts);
            if state.moving == Moving::Nothing {
                acts.push(OfferedAct::TakeSheet);
            }
        }
        Some(Stage::Cutting) => {
            acts.extend([OfferedAct::Hold, OfferedAct::HoldAtLift, OfferedAct::Trouble, OfferedAct::Stop])
        }
        Some(Stage::Held) if state.moving == Moving::Nothing => {
            acts.extend([OfferedAct::Resume, OfferedAct::Raise, OfferedAct::Trouble, OfferedAct::Stop]);
        }
        Some(Stage::Held) => acts.push(OfferedAct::Stop),
        Some(Stage::Stopped) => stopped(state, &mut acts),
        Some(Stage::Ready) => {
            sign(state, &mut acts);
            machine(state, &mut acts);
            if state.sheet.as_ref().is_some_and(|s| s.signed.ready) {
                acts.push(OfferedAct::CycleStart);
            } else {
                acts.push(OfferedAct::Answer);
            }
        }
        Some(Stage::Securing | Stage::Tooling | Stage::TakingOff | Stage::Checking) => {
            sign(state, &mut acts);
            if matches!(state.stage(), Some(Stage::Tooling)) {
                machine(state, &mut acts);
            }
            acts.push(OfferedAct::Answer);
        }
        Some(Stage::Queued | Stage::SetAside | Stage::Closed) => {}
    }
    acts
}

fn sign(state: &State, acts: &mut Vec<OfferedAct>) {
    if state.sheet.as_ref().is_some_and(|s| s.findings == Findings::Unsigned) {
        acts.push(OfferedAct::SignFinding);
    }
}

fn machine(state: &State, acts: &mut Vec<OfferedAct>) {
    if state.position == Position::Unknown && state.moving == Moving::Nothing {
        if state.way == super::state::Way::Unknown {
            acts.push(OfferedAct::BitFree);
        } else if state.homing == Homing::BySwitches {
            acts.push(OfferedAct::Home);
        } else {
            acts.push(OfferedAct::ConfirmZero);
        }
    } else if state.zero == Zero::Unconfirmed && state.moving == Moving::Nothing {
        acts.push(OfferedAct::ConfirmZero);
    }
}

fn stopped(state: &State, acts: &mut Vec<OfferedAct>) {
    let answered = state.sheet.as_ref().and_then(|s| s.stopped).is_some_and(|s| s.red_button.is_some());
    if answered {
        machine(state, acts);
        acts.extend([OfferedAct::Restart, OfferedAct::SetAside, OfferedAct::End]);
    } else {
        acts.extend([OfferedAct::RedButtonYes, OfferedAct::RedButtonNo]);
    }
}

fn refused(state: &State, by: By, act: OfferedAct) -> Option<Refusal> {
    let what = match act {
        OfferedAct::CycleStart => Asked::CycleStart,
        OfferedAct::Hold => Asked::Hold,
        OfferedAct::HoldAtLift => Asked::HoldAtLift,
        OfferedAct::Resume => Asked::Resume,
        OfferedAct::Raise => Asked::Raise,
        OfferedAct::Stop => Asked::Stop,
        OfferedAct::Trouble => Asked::Trouble,
        OfferedAct::RedButtonYes => Asked::RedButton(Pressed::Yes),
        OfferedAct::RedButtonNo => Asked::RedButton(Pressed::No),
        OfferedAct::BitFree => Asked::BitFree,
        OfferedAct::Home => Asked::Home,
        OfferedAct::ConfirmZero => Asked::ConfirmZero,
        OfferedAct::ReEnter => Asked::Decide(Decision::ReEnter),
        OfferedAct::Restart => Asked::Decide(Decision::Restart),
        OfferedAct::SetAside => Asked::Decide(Decision::SetAside),
        OfferedAct::End => Asked::Decide(Decision::End),
        OfferedAct::SignFinding => Asked::FindingsSigned,
        OfferedAct::TakeSheet | OfferedAct::Answer => {
            return if role(by).is_some() { None } else { Some(signed_in(by)) };
        }
        OfferedAct::SignIn | OfferedAct::SignOut | OfferedAct::AnswerCall => return None,
    };
    step(state, &Happening::Asked { by, what }, Epoch::default()).err()
}

const fn signed_in(by: By) -> Refusal {
    match by {
        By::Afar => Refusal::NotAtMachine,
        By::Unsigned | By::AtMachine(_) => Refusal::NobodySignedIn,
    }
}
