//! Deeds: what the floor decided, brought to the link, the timers and the record.

use super::foreman::{Ahead, Foreman, Source};
use super::stopwatch::Doing;
use super::stretch::{Feeding, Text};
use crate::floor::permit::Permit;
use crate::floor::state::Motion;
use crate::floor::{AtStage, Deed, Happening, State as Floor, Tried};
use crate::link::wire::{Command, TickSource, Wanted};
use crate::sending::Sender;
use chargehand_types::card::Bit;
use chargehand_types::event::{StopRecord, What};
use chargehand_types::id::BitName;
use chargehand_types::quantity::{Length, Seconds};
use chargehand_types::stage::{Grade, Stage, StopCause};
use std::sync::Arc;

/// Machine seconds after which a chain has a gap.
const CHAIN_GAP_MS: u64 = 30_000;

/// How a sheet came out as a whole: good when every part is; scrap when none is and none can become so; rework between.
#[must_use]
pub(in crate::app) const fn outcome(good: usize, rework: usize, of: usize) -> Grade {
    if good == of {
        Grade::Good
    } else if good + rework == 0 {
        Grade::Scrap
    } else {
        Grade::Rework
    }
}

impl Foreman {
    /// What is written down about deeds, beside the stage.
    pub(in crate::app) fn told_by(&self, deeds: &[Deed]) -> Vec<What> {
        let mut whats = Vec::new();
        for deed in deeds {
            match deed {
                Deed::PositionLost => {
                    whats.push(What::PositionLost { why: "a stop, a fault or a lost link".to_owned() });
                }
                Deed::Begin { operation } => whats.extend(self.operation_started(*operation)),
                Deed::OperationDone { operation } => whats.extend(self.operation_finished(*operation)),
                Deed::CloseSheet => whats.extend(self.sheet_closed()),
                Deed::AskStillThere => whats.push(self.still_there_asked()),
                Deed::Call(reason) => {
                    let fold = self.shared.fold.read();
                    if let Ok(fold) = fold
                        && !fold.calls().any(|c| c.reason == *reason)
                    {
                        whats.push(What::CallRaised {
                            number: fold.next_call(),
                            reason: *reason,
                            text: super::foreman::call_text(*reason).to_owned(),
                        });
                    }
                }
                _ => {}
            }
        }
        whats
    }

    fn operation_started(&self, at: u8) -> Option<What> {
        let work = self.work.as_ref()?;
        let operation = work.operation(at)?;
        let from_line = work.first_line(at);
        Some(What::OperationStarted { operation: operation.name.clone(), predicted: self.predicted(at), from_line })
    }

    fn operation_finished(&self, at: u8) -> Option<What> {
        let work = self.work.as_ref()?;
        let operation = work.operation(at)?;
        let index = work.judged.index_on_card(&operation.name)?;
        let judged = work.judged.judged.operations.get(index)?;
        let (real, held) = self.feeding.as_ref().map(|f| f.watch.read(self.clock.now())).unwrap_or_default();
        let fold = self.shared.fold.read().ok();
        let fitted = fold.as_ref().and_then(|f| f.fitted()).filter(|fitted| fitted.bit.0 == operation.bit);
        Some(What::OperationFinished {
            operation: operation.name.clone(),
            number: fitted.and_then(|fitted| fitted.number),
            bit: BitName(operation.bit.clone()),
            predicted: judged.seconds,
            real,
            held,
            cut: judged.cut,
        })
    }

    /// Seconds an operation should take.
    pub(in crate::app) fn predicted(&self, at: u8) -> Seconds {
        let judged = self.work.as_ref().and_then(|w| {
            let index = w.judged.index_on_card(&w.operation(at)?.name)?;
            w.judged.judged.operations.get(index)
        });
        judged.map(|j| j.seconds).unwrap_or_default()
    }

    /// How the sheet came out as a whole.
    fn sheet_closed(&self) -> Option<What> {
        let work = self.work.as_ref()?;
        let fold = self.shared.fold.read().ok()?;
        let sheet = fold.sheet(&work.sheet)?;
        let of = work.judged.part_names().len();
        let count = |grade: Grade| sheet.parts.iter().filter(|p| p.grade == grade).count();
        let good = count(Grade::Good);
        let grade = outcome(good, count(Grade::Rework), of);
        Some(What::SheetClosed {
            grade,
            good: u32::try_from(good).unwrap_or(u32::MAX),
            of: u32::try_from(of).unwrap_or(u32::MAX),
        })
    }

    /// Keeps what is known of a stop when one begins, and forgets it when it ends.
    pub(in crate::app) fn note_stop(&mut self, before: &Floor, after: &Floor) {
        let reached = self.feeding.as_ref().map(|f| f.reached).unwrap_or_default();
        let Some(work) = &mut self.work else { return };
        let at = match after.at() {
            Some(AtStage::Stopped(stopped)) => stopped,
            _ => {
                work.stop = None;
                return;
            }
        };
        let done = |floor: &Floor| floor.sheet.as_ref().is_some_and(|s| s.done.contains(s.operation));
        let ran_out = done(after) && !done(before);
        let known = at.position == crate::floor::state::Position::Known;
        let in_cut = at.bit == crate::floor::BitAt::MaybeInCut;
        match &mut work.stop {
            Some(record) if before.stage() == Some(Stage::Stopped) => {
                record.position_known = known;
                record.bit_in_cut = in_cut;
                if ran_out {
                    record.text = super::wording::RAN_OUT.to_owned();
                    record.last_line_done = reached.done.or(record.last_line_done);
                    // there is no line of it to go on at
                    work.proposed = Some(None);
                }
            }
            _ => {
                let text = self.stop_text.take().unwrap_or_default();
                work.stop = Some(StopRecord {
                    cause: at.cause,
                    text,
                    last_line_done: reached.done.or(self.left_off.and_then(|l| l.done)),
                    last_line_sent: reached.sent.or(self.left_off.and_then(|l| l.sent)),
                    position_known: known,
                    bit_in_cut: in_cut,
                });
            }
        }
        if at.cause != StopCause::DaemonRestarted {
            self.left_off = None;
        }
    }

    /// Carries one deed out.
    pub(in crate::app) async fn deed(&mut self, deed: Deed, permit: Option<Permit>, source: &Source) {
        match (deed, permit) {
            (Deed::Hold, _) => self.unless_acted(source, Ahead::Hold, Command::Hold),
            (Deed::HoldAtLift, _) => self.unless_acted(source, Ahead::Lift, Command::HoldAtLift),
            (Deed::StopLink, _) => self.unless_acted(source, Ahead::Stop, Command::Stop),
            (Deed::Begin { operation }, Some(permit)) => self.begin(operation, permit).await,
            (Deed::ResumeLink, Some(permit)) => {
                if let Some(f) = &mut self.feeding {
                    f.watch.turn(Doing::Cutting, self.clock.now());
                }
                self.try_it(Command::Resume(permit));
            }
            (Deed::RaiseLink, Some(permit)) => {
                let top = self.premises.config.machine.travel.z.most;
                let machine_z = top - Length::whole_mm(1);
                self.try_it(Command::Raise { permit, machine_z });
            }
            (Deed::HomeLink, Some(permit)) => self.try_it(Command::Home(permit)),
            (Deed::UnlockLink, Some(permit)) => self.try_it(Command::Unlock(permit)),
            (Deed::HandMoveLink, Some(permit)) => {
                if let Some(how) = self.plate.how() {
                    return self.try_it(Command::Touch { permit, how });
                }
                if let Some(how) = self.run.as_mut().and_then(|r| r.how.take()) {
                    return self.try_it(Command::Run { permit, how });
                }
                if let Some(at) = self.over.take() {
                    return self.try_it(Command::Over { permit, at });
                }
                if let Some((axis, by)) = self.hand.take() {
                    let feed = self.premises.profile.keys.hand_feed;
                    self.try_it(Command::HandMove { permit, axis, by, feed });
                }
            }
            (Deed::SpindleOff, _) => self.try_it(Command::Spindle(None)),
            (Deed::SpindleOn, _) => {
                let rpm = self.rpm();
                self.try_it(Command::Spindle(rpm));
            }
            (Deed::SetWorkZero, _) => {
                let at = self.premises.config.machine.work_zero;
                self.bench.work_zero = at;
                self.try_it(Command::SetWorkZero { at, epoch: self.epoch });
            }
            (Deed::SetZZero, _) => {
                if let Some((axis, value)) = self.hand.take() {
                    self.try_it(Command::ZeroHere { epoch: self.epoch, axis, value });
                }
            }
            (Deed::StartRunDown, _) => {
                let seconds = self.premises.config.machine.spindle.run_down().value();
                #[allow(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "config holds it within limits"
                )]
                let until = self.clock.now().after_us((seconds * 1.0e6) as u64);
                self.run_down_until = Some(until);
            }
            (Deed::OperationDone { .. }, _) => {
                self.feeding = None;
                if let Some(work) = &mut self.work {
                    work.re_enter = None;
                    work.entry = None;
                }
                self.chain_gap = Some(self.clock.now().after_ms(CHAIN_GAP_MS));
            }
            (Deed::SetSheetAside | Deed::CloseSheet, _) => {
                self.work = None;
                self.feeding = None;
            }
            (Deed::Call(_) | Deed::AskStillThere | Deed::PositionLost | Deed::StageChanged { .. }, _) => {}
            // a deed that moves never comes without its permit
            (
                Deed::Begin { .. }
                | Deed::ResumeLink
                | Deed::RaiseLink
                | Deed::HomeLink
                | Deed::HandMoveLink
                | Deed::UnlockLink,
                None,
            ) => {}
        }
    }

    /// Where no lift will come the floor decides on more than was told ahead: that has still to be told.
    fn unless_acted(&mut self, source: &Source, enough: Ahead, command: Command) {
        if source.acted < Some(enough) {
            self.try_it(command);
        }
    }

    fn try_it(&mut self, command: Command) {
        self.undone = None;
        self.line.command(command);
    }

    async fn begin(&mut self, operation: u8, permit: Permit) {
        let Some(work) = &self.work else { return };
        let Some(op) = work.operation(operation) else { return };
        let opened = self.opened.remove(&op.program);
        let text = match opened.or_else(|| work.judged.programs.open(&op.program).ok().flatten()) {
            Some(file) => Text::File(file),
            None if work.judged.programs.held(&op.program).is_some() => {
                Text::Held { judged: Arc::clone(&work.judged), program: op.program.clone(), at: 0 }
            }
            None => return tracing::error!("the program {} is not there", op.program),
        };
        let face = work.judged.card.sheet.face_z(work.thickness.unwrap_or(work.judged.card.sheet.thickness));
        let understands = self.premises.profile.keys.understands.clone();
        let mut start = self.bench.start();
        let sender = match work.first_line(operation) {
            0 | 1 => {
                if let Some(at) = self.controller.and_then(|c| c.work) {
                    start.at = at;
                }
                Sender::new(start, understands, face)
            }
            line => Sender::entering(start, understands, face, self.entry(line, face)),
        };
        let before = work.first_line(operation).checked_sub(1).filter(|line| *line > 0);
        self.feeding = Some(Feeding::begin(operation, text, sender, before, self.clock.now()));
        self.chain_gap = None;
        if let Some(touched) = &mut self.zero_touched {
            touched.cut = true;
        }
        self.try_it(Command::Begin(permit));
    }

    /// What follows from a change of stage: lists begin, times turn.
    pub(in crate::app) async fn after(&mut self, before: &Floor) {
        if before.machine.z_zero.is_some() && self.floor.machine.z_zero.is_none() {
            self.pass_over_touch();
        }
        let (was, is) = (before.stage(), self.floor.stage());
        if was != is {
            let now = self.clock.now();
            if let Some(work) = &mut self.work {
                work.held_since = (is == Some(Stage::Held)).then_some(now);
                if is != Some(Stage::Held) {
                    work.prompt = None;
                    work.wanted_tool = None;
                }
            }
            if is == Some(Stage::Held)
                && let Some(f) = &mut self.feeding
            {
                f.watch.turn(Doing::Held, now);
            }
            if is == Some(Stage::Stopped) {
                self.feeding = None;
            }
        }
        let motion = self.floor.machine.motion;
        if motion != Motion::Hand {
            self.run = None;
        }
        self.premises.crew.machine_moves(motion.is_under_way());
        self.keep_list();
        self.keep_vigil();
        self.propose_entry().await;
    }

    /// The speed the operation at hand asks for.
    pub(in crate::app) fn rpm(&self) -> Option<chargehand_types::quantity::Rpm> {
        let work = self.work.as_ref()?;
        let at = self.floor.sheet.as_ref()?.operation;
        let index = work.judged.index_on_card(&work.operation(at)?.name)?;
        work.judged.traits.get(index)?.rpm
    }

    /// The bit wanted now: of the operation, or the one a program asks for in its middle.
    pub(in crate::app) fn wanted_bit(&self) -> Option<(String, Bit)> {
        let work = self.work.as_ref()?;
        let stores = &self.premises.stores;
        if let Some(tool) = work.wanted_tool {
            let found = stores.bits.iter().find(|(_, b)| b.tool == Some(tool));
            return found.map(|(k, b)| (k.clone(), b.clone()));
        }
        let at = self.floor.sheet.as_ref()?.operation;
        work.bit(at, stores).map(|(k, b)| (k.to_owned(), b.clone()))
    }

    /// The link could not do what was wanted of it.
    pub(in crate::app) async fn not_done(&mut self, what: Wanted) {
        let Some(tried) = tried(what) else { return };
        if tried == Tried::Begin {
            self.feeding = None;
        }
        self.happens_by_itself(Happening::NotDone(tried)).await;
    }
}

/// What the floor calls it; a change of feed or rapids is no deed of the floor's.
fn tried(what: Wanted) -> Option<Tried> {
    match what {
        Wanted::Home => Some(Tried::HomeLink),
        Wanted::Unlock => Some(Tried::UnlockLink),
        Wanted::WorkZero => Some(Tried::SetWorkZero),
        Wanted::HandMove | Wanted::Touch => Some(Tried::HandMoveLink),
        Wanted::ZeroHere => Some(Tried::SetZZero),
        Wanted::Stretch => Some(Tried::Begin),
        Wanted::Hold => Some(Tried::Hold),
        Wanted::HoldAtLift => Some(Tried::HoldAtLift),
        Wanted::Resume => Some(Tried::ResumeLink),
        Wanted::Raise => Some(Tried::RaiseLink),
        Wanted::Stop => Some(Tried::StopLink),
        Wanted::Spindle => Some(Tried::Spindle),
        Wanted::Override => None,
    }
}
