//! A state being changed: the copy that a transition works on, with the changes that several of them share.
//!
//! May live here: changes that keep the facts in step with each other. May not: conditions.

use crate::floor::happening::{BitAt, By};
use crate::floor::outcome::{Deed, Outcome};
use crate::floor::permit::{Epoch, Permit};
use crate::floor::proofs::{BitServes, PersonHere, ToolingSigned, ZeroFresh};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{AtStage, Held, OnMachine, Ops, Stopped};
use crate::floor::state::{Homing, Link, Motion, Position, Signed, Spindle, SpindleKind, State, Way, WorkZero};
use chargehand_types::call::CallReason;
use chargehand_types::card::ZZero;
use chargehand_types::stage::{HeldBy, Stage, StopCause};

/// A state being changed.
#[derive(Debug)]
pub(super) struct Draft {
    pub(super) state: State,
    pub(super) epoch: Epoch,
    deeds: Vec<Deed>,
    permit: Option<Permit>,
    before: Option<Stage>,
}

impl Draft {
    pub(super) fn on(state: &State, epoch: Epoch) -> Self {
        Self { state: state.clone(), epoch, deeds: Vec::new(), permit: None, before: state.stage() }
    }

    /// Done: a change of stage is written down last.
    pub(super) fn done(mut self) -> Outcome {
        if let (Some(from), Some(to)) = (self.before, self.state.stage())
            && from != to
        {
            self.deeds.push(Deed::StageChanged { from, to });
        }
        Outcome { state: self.state, deeds: self.deeds, permit: self.permit }
    }

    pub(super) fn deed(&mut self, deed: Deed) {
        self.deeds.push(deed);
    }

    pub(super) fn call(&mut self, reason: CallReason) {
        self.deeds.push(Deed::Call(reason));
    }

    /// A deed that needs a permit, with it.
    pub(super) fn permitted(&mut self, deed: Deed, permit: Permit) {
        self.deeds.push(deed);
        self.permit = Some(permit);
    }

    pub(super) fn person(&self, by: By) -> Result<PersonHere, Refusal> {
        PersonHere::of(&self.state, by)
    }

    pub(super) fn sheet(&mut self) -> Result<&mut OnMachine, Refusal> {
        self.state.sheet.as_mut().ok_or(Refusal::NoSheet)
    }

    pub(super) fn go(&mut self, at: AtStage) {
        if let Some(sheet) = &mut self.state.sheet {
            sheet.at = at;
        }
    }

    /// To the list that is needed before the operation at hand can be cut: none when bit and zero already serve.
    pub(super) fn go_prepare(&mut self) {
        let serves = BitServes::of(&self.state).is_ok()
            && ZeroFresh::of(&self.state).is_ok()
            && ToolingSigned::of(&self.state).is_ok();
        self.go(if serves { AtStage::Ready } else { AtStage::Tooling });
    }

    /// After a change of bit, zero or position: a sheet that was ready may need tooling again.
    pub(super) fn review_ready(&mut self) {
        if matches!(self.state.at(), Some(AtStage::Ready)) {
            self.go_prepare();
        }
    }

    /// The ready list no longer covers things as they are.
    pub(super) fn unsign_ready(&mut self) {
        if let Some(sheet) = &mut self.state.sheet {
            sheet.ready = Signed::No;
        }
    }

    /// Neither do bit and zero.
    pub(super) fn unsign_tooling(&mut self) {
        self.state.machine.tooling = Signed::No;
        self.unsign_ready();
    }

    /// The chain goes on to nothing by itself.
    pub(super) fn end_chain(&mut self) {
        if let Some(OnMachine { at: AtStage::Cutting(cutting), .. }) = &mut self.state.sheet {
            cutting.chain = Ops::NONE;
        }
    }

    /// Position is not known, and nothing that rests on it counts.
    pub(super) fn lose_position(&mut self) {
        if self.state.machine.position == Position::Known {
            self.deed(Deed::PositionLost);
        }
        let machine = &mut self.state.machine;
        machine.position = Position::Unknown;
        machine.zero = WorkZero::Unconfirmed;
        machine.z_zero = None;
        machine.way = Way::NotSaid;
        self.unsign_tooling();
        if let Some(OnMachine { at: AtStage::Stopped(stopped), .. }) = &mut self.state.sheet {
            stopped.position = Position::Unknown;
        }
        self.review_ready();
    }

    /// A zero that was on its way when something else ended it may never have been taken: it counts for nothing. What was
    /// on its way is not known, so a hand move that is ended costs the zero too.
    pub(super) fn doubt_setting(&mut self) {
        if !matches!(self.state.machine.motion, Motion::Hand | Motion::HoldAsked(_)) {
            return;
        }
        match self.state.at() {
            // at a bit change only the Z zero is set, and nothing is while a program runs or is held otherwise
            Some(AtStage::Held(Held { by: HeldBy::BitChange, .. })) => {
                self.state.machine.z_zero = None;
                self.unsign_tooling();
            }
            Some(AtStage::Cutting(_) | AtStage::Held(_)) => {}
            _ => {
                self.state.machine.zero = WorkZero::Unconfirmed;
                self.state.machine.z_zero = None;
                self.unsign_tooling();
                self.review_ready();
                // what a machine without switches was shown did not reach its controller
                if self.state.machine.setup.homing == Homing::Unable {
                    self.lose_position();
                }
            }
        }
    }

    /// Something moves from here on.
    pub(super) fn moves(&mut self, motion: Motion) {
        self.state.machine.motion = motion;
        self.state.machine.way = Way::NotSaid;
    }

    /// The spindle was switched off by a person, or is by command; the run-down counts from now.
    pub(super) fn switch_off(&mut self) {
        let machine = &self.state.machine;
        if machine.setup.spindle == SpindleKind::Controlled && machine.link == Link::Up {
            self.deed(Deed::SpindleOff);
        }
        self.state.machine.spindle = Spindle::RunningDown;
        self.deed(Deed::StartRunDown);
        self.unsign_ready();
    }

    /// The same, but only where the controller can do it; a router switched by hand may go on turning.
    pub(super) fn switch_off_by_command(&mut self) {
        if self.state.machine.setup.spindle == SpindleKind::Controlled {
            self.switch_off();
        }
    }

    /// A controlled spindle is told to stop, but nobody can rely on it.
    pub(super) fn try_switch_off(&mut self) {
        if self.state.machine.setup.spindle == SpindleKind::Controlled {
            self.deed(Deed::SpindleOff);
            self.state.machine.spindle = Spindle::MayTurn;
        }
    }

    /// A sheet that was being cut, or held, is stopped. Whether there was one.
    pub(super) fn stop_sheet(&mut self, cause: StopCause) -> Option<Stopped> {
        let bit = match self.state.at()? {
            AtStage::Cutting(_) => BitAt::MaybeInCut,
            AtStage::Held(held) => held.bit,
            AtStage::Securing
            | AtStage::Tooling
            | AtStage::Ready
            | AtStage::Stopped(_)
            | AtStage::TakingOff
            | AtStage::Checking { .. } => return None,
        };
        let position = self.state.machine.position;
        let stopped = Stopped { cause, red_button: None, position, bit };
        self.state.machine.way = Way::NotSaid;
        self.unsign_tooling();
        self.go(AtStage::Stopped(stopped));
        Some(stopped)
    }

    /// Something new went wrong on a stopped sheet: the first question is asked again, and what was a person's own
    /// stop is none any more.
    pub(super) fn worsen_stop(&mut self, cause: StopCause) {
        self.state.machine.way = Way::NotSaid;
        if let Some(OnMachine { at: AtStage::Stopped(stopped), .. }) = &mut self.state.sheet {
            stopped.red_button = None;
            if stopped.cause == StopCause::Person {
                stopped.cause = cause;
            }
        }
    }

    /// The sheet leaves the floor. The bit has no slot until the next card, and a zero on top of this sheet is no
    /// zero for another.
    pub(super) fn leave(&mut self, to: Stage, last: Deed) {
        if let Some(from) = self.state.stage() {
            self.deed(Deed::StageChanged { from, to });
        }
        self.state.sheet = None;
        self.deed(last);
        self.state.machine.bit = None;
        if self.state.machine.z_zero == Some(ZZero::Top) {
            self.state.machine.z_zero = None;
            self.state.machine.tooling = Signed::No;
        }
    }
}
