//! What the link says, brought to the floor, the record and the screens.

use super::foreman::{Foreman, Source};
use crate::api::desk::Live;
use crate::floor::{BitAt, Happening};
use crate::ledger::Progress;
use crate::link::wire::{Command, ControllerState, NotDone, Reached, Report, StateWord, TickSource};
use crate::sending::{SentLine, Then};
use chargehand_types::event::{PositionTick, What};
use chargehand_types::now::LinkNow;
use chargehand_types::quantity::Seconds;

/// Real milliseconds between two positions on the event stream.
const POSITION_EVERY_MS: f64 = 250.0;

impl Foreman {
    /// Takes one report.
    pub(in crate::app) async fn heard(&mut self, report: Report) {
        match report {
            Report::WantsLines { bytes } => self.feed(bytes),
            Report::State(state) => self.state(state).await,
            Report::Reached(at) => self.reached(at),
            Report::Touched { machine_z } => self.plate_touched(machine_z).await,
            Report::Said(text) => tracing::info!("the controller says: {text}"),
            Report::Up { note, position_kept, epoch } => {
                self.epoch = epoch;
                self.link = LinkNow::Up;
                self.written(What::LinkUp { note }, Happening::LinkUp { position_kept }).await;
            }
            Report::Down { why, at, epoch } => self.down(why, at, epoch).await,
            Report::Held { at, asked } => {
                self.reached(at);
                let bit = self.bit_at();
                self.happens_by_itself(Happening::HeldConfirmed { asked, bit }).await;
            }
            Report::HoldUnconfirmed => self.happens_by_itself(Happening::HoldUnconfirmed).await,
            Report::HeldAtLift(at) => {
                self.reached(at);
                self.happens_by_itself(Happening::HeldAtLift).await;
            }
            Report::AtPrompt { line, at } => self.at_prompt(*line, at).await,
            Report::Finished(at) => {
                self.reached(at);
                if self.floor.presence == crate::floor::Presence::Nobody {
                    // the next operation begins only where it will end in time
                    self.review_away(self.chain_after()).await;
                }
                self.happens_by_itself(Happening::Finished).await;
            }
            Report::Refused { line, meaning, at, epoch } => {
                self.epoch = epoch;
                self.reached(at);
                self.stop_text = Some(format!("It refused line {line}: {meaning}."));
                self.happens_by_itself(Happening::Refused).await;
            }
            Report::Fault { meaning, position_lost, at, epoch } => {
                self.epoch = epoch;
                self.reached_if(at);
                self.not_touched(&meaning, "Look where plate and clip are, and find home.");
                self.stop_text = Some(format!("It says: {meaning}."));
                self.happens_by_itself(Happening::Fault { position_lost }).await;
            }
            Report::Restarted { at, epoch } => {
                self.epoch = epoch;
                self.reached_if(at);
                self.plate.forget();
                self.happens_by_itself(Happening::Restarted).await;
            }
            Report::Stopped { at, position_kept, epoch } => {
                self.epoch = epoch;
                self.reached_if(at);
                self.plate.forget();
                self.happens_by_itself(Happening::Stopped { position_kept }).await;
            }
            Report::Homed => self.written(What::MachineHomed, Happening::Homed).await,
            Report::HandDone | Report::SettingTaken => self.happens_by_itself(Happening::HandDone).await,
            Report::Raised { at } => {
                self.reached(at);
                self.happens_by_itself(Happening::Raised).await;
            }
            // a stop that was heard since has ended what it is of; something else may be under way by now
            Report::NotDone { of: Some(of), why, .. } if of != self.epoch => {
                tracing::info!("not done, of before a stop: {why}");
            }
            Report::NotDone { what, why, .. } => {
                tracing::warn!("not done: {why}");
                let held = why == NotDone::Held;
                let why = why.to_string();
                self.not_touched(&why, "Look at plate, clip and wire.");
                self.undone = Some(super::wording::undone(&why)).filter(|_| !held);
                self.not_done(what).await;
            }
        }
    }

    async fn written(&mut self, what: What, happening: Happening) {
        if let Err(problem) = self.happen(happening, Source::default(), vec![what]).await {
            tracing::warn!("{problem}");
        }
    }

    async fn down(&mut self, why: String, at: Option<Reached>, epoch: crate::floor::permit::Epoch) {
        self.epoch = epoch;
        self.reached_if(at);
        self.controller = None;
        self.plate.forget();
        let known = matches!(&self.link, LinkNow::Down { why: before } if *before == why);
        self.stop_text = Some(format!("{}.", why.trim_end_matches('.')));
        self.link = LinkNow::Down { why: why.clone() };
        if known {
            self.happens_by_itself(Happening::LinkDown).await;
        } else {
            self.written(What::LinkDown { why }, Happening::LinkDown).await;
        }
    }

    /// The next lines, when the link has room for them.
    fn feed(&mut self, bytes: usize) {
        let Some(feeding) = &mut self.feeding else { return };
        let (lines, finished) = match feeding.next(bytes) {
            Ok(read) => read,
            Err(why) => return self.cannot_read_on(&why),
        };
        if let Some(what) = &feeding.unsendable {
            tracing::error!("{what}");
        }
        if !lines.is_empty() {
            self.line.command(Command::Lines(lines));
        }
        if finished {
            self.line.command(Command::NoMoreLines);
        }
    }

    /// The disk does not give what is to be cut next: it is stopped, as by the person who would have seen it.
    fn cannot_read_on(&mut self, why: &std::io::Error) {
        tracing::error!("the program cannot be read on: {why}");
        self.stop_text = Some(format!("The stored program could not be read on: {why}. See to the disk."));
        self.line.command(Command::Stop);
    }

    async fn state(&mut self, state: ControllerState) {
        let before = self.controller.map(|c| c.word);
        self.plate.wire(state.pins.probe, state.word, self.clock.now());
        self.controller = Some(state);
        if state.word == StateWord::Ready && before != Some(StateWord::Ready) {
            self.happens_by_itself(Happening::StandsStill).await;
        }
        // a controller that wakes up locked has had its fault before anybody listened
        if state.word == StateWord::Faulted
            && before != Some(StateWord::Faulted)
            && self.floor.machine.motion == crate::floor::state::Motion::Unknown
        {
            self.happens_by_itself(Happening::Fault { position_lost: true }).await;
        }
        // one that was let go and is held still, by an open door, has to be told of again
        let heard = before == Some(StateWord::Holding) && !self.thinks_it_goes();
        if state.word == StateWord::Holding && !heard && self.feeding.is_none() {
            let bit = self.bit_at();
            self.happens_by_itself(Happening::HeldConfirmed { asked: false, bit }).await;
        }
        self.position();
    }

    /// Whether the machine is taken to stand ready, or to do something short, or to be about to be held in it.
    const fn thinks_it_goes(&self) -> bool {
        use crate::floor::state::Motion;
        matches!(self.floor.machine.motion, Motion::Still | Motion::Hand | Motion::Homing | Motion::HoldAsked(_))
    }

    fn reached_if(&mut self, at: Option<Reached>) {
        if let Some(at) = at {
            self.reached(at);
        }
    }

    fn reached(&mut self, at: Reached) {
        let Some(feeding) = &mut self.feeding else { return };
        let at = feeding.came(at);
        if let Some(work) = &self.work {
            self.ledger.progress(Progress {
                sheet: work.sheet.clone(),
                operation: u32::from(feeding.operation),
                sent: at.sent,
                acknowledged: at.acknowledged,
                done: at.done,
                at: self.controller.and_then(|c| c.work),
                tick: self.clock.now(),
            });
        }
        self.position();
    }

    /// Tells the screens where the machine is, a few times a second.
    fn position(&mut self) {
        let now = self.clock.now();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small and positive")]
        let every = (POSITION_EVERY_MS * 1000.0 * self.clock.rate()) as u64;
        if now.us_since(self.last_position) < every {
            return;
        }
        self.last_position = now;
        let (done, left) = self.progress();
        let tick = PositionTick {
            tick: now,
            at: self.controller.and_then(|c| c.work),
            line: self.feeding.as_ref().and_then(|f| f.reached.cutting),
            done,
            left,
        };
        // nobody listening is fine
        let _ = self.shared.live.send(Live::Position(tick));
    }

    /// Motion done of the operation by time, 0 to 1, and machine seconds left.
    pub(in crate::app) fn progress(&self) -> (f64, Seconds) {
        let Some((feeding, times)) = self.feeding.as_ref().zip(self.times()) else {
            let at = self.floor.sheet.as_ref().map_or(0, |s| s.operation);
            return (0.0, self.predicted(at));
        };
        let total = times.total().value();
        let line = feeding.reached.cutting.or(feeding.reached.done).unwrap_or(1);
        let passed = times.until(line.saturating_sub(1)).value();
        let done = if total > 0.0 { (passed / total).clamp(0.0, 1.0) } else { 0.0 };
        (done, Seconds::of((total - passed).max(0.0)))
    }

    /// The times of the operation being cut.
    pub(in crate::app) fn times(&self) -> Option<&crate::timing::LineTimes> {
        let work = self.work.as_ref()?;
        let operation = work.operation(self.feeding.as_ref()?.operation)?;
        let index = work.judged.index_on_card(&operation.name)?;
        work.judged.judged.operations.get(index).map(|o| &o.times)
    }

    /// Where the bit stands against the sheet's face.
    fn bit_at(&self) -> BitAt {
        let z = self.controller.and_then(|c| c.work).map(|p| p.z);
        let face = self.work.as_ref().map(|w| {
            let sheet = &w.judged.card.sheet;
            sheet.face_z(w.thickness.unwrap_or(sheet.thickness))
        });
        match (z, face) {
            (Some(z), Some(face)) if z > face => BitAt::Clear,
            _ => BitAt::MaybeInCut,
        }
    }

    async fn at_prompt(&mut self, line: SentLine, at: Reached) {
        self.reached(at);
        let bit = self.bit_at();
        match line.then {
            Then::ChangesBit { tool } => {
                let slot = tool.and_then(|t| {
                    let key = self.premises.stores.bits.iter().find(|(_, b)| b.tool == Some(t)).map(|(k, _)| k)?;
                    let at = self.work.as_ref()?.judged.slots().iter().position(|s| s == key)?;
                    u8::try_from(at).ok().map(crate::floor::state::Slot)
                });
                // the bit that is in already is no change
                if slot.is_some() && slot == self.floor.machine.bit {
                    self.happens_by_itself(Happening::AtBitChange { wants: slot, bit }).await;
                    return;
                }
                self.happens_by_itself(Happening::AtBitChange { wants: slot, bit }).await;
                if let Some(work) = &mut self.work {
                    work.wanted_tool = tool;
                    work.list = None;
                }
                self.keep_list();
            }
            Then::Asks { text } => {
                self.happens_by_itself(Happening::AtPrompt { bit }).await;
                if let Some(work) = &mut self.work {
                    work.prompt = text.map(Into::into);
                }
            }
            Then::Goes | Then::Lifted => {}
        }
    }
}
