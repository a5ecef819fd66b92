//! Listening: what each line of the controller means for what is under way.

use super::conversation::{AfterClear, ClearStep, HOLD_MS, Link, MoveHeld, Owner, Phase, Task, ZeroTo};
use super::figures::Mismatch;
use super::heard::{Heard, Told};
use super::stretch::Pause;
use super::talk;
use super::wire::{ControllerState, NotDone, Output, Report, StateWord, Wanted};
use crate::shop::profile::{Keeps, PositionAfter};
use chargehand_types::act::Axis;
use chargehand_types::quantity::{Point, Tick};

/// Machine milliseconds after the last line and the last answer until an empty buffer says something.
const RESTED_MS: u64 = 500;

impl Link {
    pub(in crate::link) fn heard(&mut self, now: Tick, heard: Heard) {
        if self.asks_by_line() && heard != Heard::Noise {
            self.report_got = now;
        }
        match heard {
            Heard::Acknowledged => self.answered(now, None),
            Heard::Refused(why) => self.answered(now, Some(why)),
            Heard::Fault(meaning, position) => self.fault(meaning, position, now),
            Heard::Report(told) if self.asks_by_line() => self.told_by_line(now, told),
            Heard::Report(told) => self.reported(now, told),
            Heard::Again(number) => self.asked_again(now, number),
            Heard::Greeting => self.greeted(now),
            Heard::Said(text) => self.report(Report::Said(text)),
            Heard::Touched(met) => self.met(met),
            Heard::Busy => self.report_got = now,
            Heard::Aside => {}
            // it may have been a refusal, a fault or a greeting
            Heard::Noise => self.out_of_step(now, "it said something that cannot be read"),
        }
    }

    pub(in crate::link) fn answered(&mut self, now: Tick, refusal: Option<String>) {
        if self.again.is_some() {
            // it belongs to a line that was thrown away
            return;
        }
        let Some(line) = self.flight.pop_front() else {
            if self.stretch.is_some() {
                self.out_of_step(now, "it answers more lines than it was sent");
            }
            return;
        };
        self.unanswered = self.unanswered.saturating_sub(line.bytes);
        self.last_answer = now;
        self.numbering.answered(line.number);
        if line.of.works() {
            self.ready_since_answer = false;
        }
        if !matches!(self.phase, Phase::Up) && self.asks_by_line() {
            self.come_up(StateWord::Unknown);
        }
        let again = line.again;
        match (line.of, refusal) {
            (Owner::Stretch { line, passage }, None) => {
                let planner = usize::from(self.profile.keys.planner_blocks);
                if let Some(s) = self.stretch.as_mut().filter(|_| !again) {
                    s.path.acknowledged(line, passage, planner);
                }
            }
            // it is being told to give up anyway
            (Owner::Stretch { .. } | Owner::Task | Owner::Beside(_), Some(_))
                if matches!(self.task, Some(Task::Clear { .. })) => {}
            (Owner::Stretch { line, .. }, Some(meaning)) => self.line_refused(now, line, meaning),
            (Owner::RunOut, None) => self.run_out = true,
            (Owner::Report, None) if self.told => {}
            // it knows no reports: its answer is all there is
            (Owner::Report, None) if self.state.is_none_or(|s| s.work.is_none()) => self.has_run_out(now),
            (Owner::Report, None) => self.out_of_step(now, "it answers more lines than it was sent"),
            (Owner::Task, None) => self.task_taken = true,
            (Owner::Beside(_), None) | (Owner::Closing, _) | (Owner::RunOut | Owner::Report, Some(_)) => {}
            // what it held was given up before: there is nothing left to go on with
            (Owner::Task, Some(_)) if self.task == Some(Task::Raise) => {
                self.out_of_step(now, "it refused to raise the bit");
            }
            (Owner::Beside(what), Some(why)) => {
                self.task = self.task.filter(|t| *t != Task::Beside(what));
                self.task_lines.retain(|(_, of)| *of != line.of);
                self.report(Report::NotDone { what, of: Some(self.epoch), why: NotDone::Refused(why) });
            }
            // what was taken of it may move
            (Owner::Task, Some(why)) if self.task_taken && !self.profile.keys.at_once.reset.is_empty() => {
                self.out_of_step(now, &why);
            }
            (Owner::Task, Some(why)) => {
                let commands = &self.profile.keys.commands;
                let closing = match self.task {
                    Some(Task::Hand | Task::Run) => talk::closing(&commands.hand_move),
                    Some(Task::Touch) => talk::closing(&commands.touch),
                    _ => None,
                };
                let wanted = self.task.take().and_then(|t| t.wanted(self.setting));
                for (line, of) in &mut self.task_lines {
                    if *of == Owner::Task && closing == Some(line.as_str()) {
                        *of = Owner::Closing;
                    }
                }
                self.task_lines.retain(|(_, of)| *of != Owner::Task);
                self.setting = None;
                self.touching = None;
                self.running = None;
                if let Some(what) = wanted {
                    self.report(Report::NotDone { what, of: Some(self.epoch), why: NotDone::Refused(why) });
                }
            }
        }
    }

    pub(in crate::link) fn line_refused(&mut self, now: Tick, line: u32, meaning: String) {
        let Some(at) = self.reached() else { return };
        self.bump();
        self.stretch = None;
        self.numbering.give_up();
        self.outs.push_back(Output::DropUnsent);
        self.begin_clear(now, AfterClear::Silent);
        self.report(Report::Refused { line, meaning, at, epoch: self.epoch });
    }

    pub(in crate::link) fn fault(&mut self, meaning: String, position: PositionAfter, now: Tick) {
        if self.phase != Phase::Up {
            // nothing is believed yet; what it says of itself is passed on
            self.tainted = true;
            return self.report(Report::Said(meaning));
        }
        let at = self.reached();
        let clearing = self.task.filter(|t| matches!(t, Task::Clear { .. }));
        self.bump();
        self.drop_work();
        self.report_got = now;
        // a reset made while something still moved is what a stop may come to; the stop tells it
        let position_lost = position == PositionAfter::Lost || clearing.is_some();
        self.report(Report::Fault { meaning, position_lost, at, epoch: self.epoch });
        let keys = &self.profile.keys;
        let costs_nothing = position_lost || keys.reset_when_held == Keeps::KeepsPosition;
        if matches!(clearing, Some(Task::Clear { step: ClearStep::WaitBack, .. })) {
            // the reset was made, and its greeting is still to come
            let step = ClearStep::WaitBack;
            self.task = Some(Task::Clear { since: now, step, then: AfterClear::Told, moving_blind: false });
        } else if costs_nothing && !keys.at_once.reset.is_empty() {
            // lines that it has not read lie in it still, and its answers to them would be taken for those to others
            self.reset(now, AfterClear::Told, false);
        }
    }

    pub(in crate::link) fn greeted(&mut self, now: Tick) {
        self.report_got = now;
        self.report_asked = None;
        self.asked_at = None;
        if let Some(Task::Clear { step: ClearStep::WaitBack, .. }) = self.task {
            self.flight.clear();
            self.unanswered = 0;
            return;
        }
        if matches!(self.phase, Phase::Settling { .. }) {
            self.tainted = false;
            return;
        }
        self.restarted(now);
    }

    /// It answers.
    fn come_up(&mut self, word: StateWord) {
        self.phase = Phase::Up;
        self.report(Report::Up { note: word.to_string(), position_kept: false, epoch: self.epoch });
    }

    pub(in crate::link) fn reported(&mut self, now: Tick, told: Told) {
        let Told { state, offset, free } = told;
        let asked = self.report_asked.take();
        self.report_got = now;
        self.tells_of = self.first_asked.take().or(asked).unwrap_or(now);
        self.state = Some(state);
        if !matches!(self.phase, Phase::Up) {
            self.come_up(state.word);
        }
        let fresh = asked.is_some_and(|at| at >= self.last_answer);
        if state.word == StateWord::Ready && fresh && self.flight.is_empty() {
            self.ready_since_answer = true;
        }
        self.report(Report::State(state));
        self.follow_path(state, offset);
        let rested = self.last_sent.max(self.last_answer).after_ms(self.patient_ms(RESTED_MS));
        let rested = asked.is_some_and(|at| at > rested);
        match free.and_then(|free| self.figures.told(free, self.flight.len(), rested)) {
            Some(Mismatch::AnsweredTwice) => self.out_of_step(now, "it answers more lines than it was sent"),
            Some(Mismatch::AnswerLost) => self.out_of_step(now, "the answer to a line was lost"),
            None => {}
        }
        self.follow_state(now, state.word);
    }

    pub(in crate::link) fn follow_path(&mut self, state: ControllerState, offset: Option<Point>) {
        let Some(s) = &mut self.stretch else { return };
        if let Some(machine) = state.machine
            && let Some(base) = s.base.or(offset)
        {
            s.path.seen_at(machine - base);
        }
        let reached = s.path.reached();
        if s.told != reached {
            s.told = reached;
            self.report(Report::Reached(reached));
        }
    }

    pub(in crate::link) fn follow_state(&mut self, now: Tick, word: StateWord) {
        match self.task {
            Some(Task::Clear { since, step, then, moving_blind }) => {
                self.follow_clear(now, word, since, step, then, moving_blind);
            }
            Some(Task::Run) if !self.run_is_over() => {}
            Some(task) if self.drained(word) => self.task_done(task),
            // its lines may not have been read yet when it was told to hold
            Some(Task::Hand | Task::Over | Task::Touch | Task::Run) => match (self.move_held, word) {
                (MoveHeld::Told, StateWord::Cutting) => self.hold_bytes(),
                (MoveHeld::Told, StateWord::Holding) => self.move_held = MoveHeld::Stands,
                _ => {}
            },
            Some(_) => {}
            None => self.throw_away(now, word),
        }
        match word {
            StateWord::Faulted if self.should_be_ready() => {
                self.fault("it stands in a fault".to_owned(), PositionAfter::Lost, now);
            }
            StateWord::Homing | StateWord::Checking | StateWord::Asleep if self.should_be_ready() => {
                self.out_of_step(now, "it does something that was not asked for");
            }
            _ if self.stretch.is_some() => self.follow_stretch(now, word),
            _ => {}
        }
    }

    /// Something is under way that only a controller does that stands in no fault, finds no home and tries nothing out.
    fn should_be_ready(&self) -> bool {
        match self.task {
            Some(Task::Home { .. } | Task::Unlock | Task::Clear { .. }) => false,
            Some(Task::Hand | Task::Over | Task::Touch | Task::Run | Task::Setting | Task::Raise) => true,
            Some(Task::Beside(_)) | None => self.stretch.is_some(),
        }
    }

    /// Half a line may be left in it from before the link was lost, and motions with it. It is held and they are thrown
    /// away, where that does not cost its position.
    fn throw_away(&mut self, now: Tick, word: StateWord) {
        if !self.tainted || self.stretch.is_some() {
            return;
        }
        let stands = matches!(word, StateWord::Ready | StateWord::Holding | StateWord::Faulted);
        let keys = &self.profile.keys;
        let can_be = !keys.at_once.reset.is_empty() && keys.reset_when_held == Keeps::KeepsPosition;
        self.tainted = !stands && !can_be;
        match (can_be, stands) {
            (true, true) => self.reset(now, AfterClear::Silent, false),
            // nobody is there who could stop what it still does
            (true, false) => self.begin_clear(now, AfterClear::Silent),
            (false, _) => {}
        }
    }

    /// Everything written was answered, and a report asked for after that says that it stands still.
    pub(in crate::link) fn drained(&self, word: StateWord) -> bool {
        word == StateWord::Ready
            && self.ready_since_answer
            && self.again.is_none()
            && !self.flight.iter().any(|f| f.of.works())
            && self.task_lines.is_empty()
    }

    pub(in crate::link) fn task_done(&mut self, task: Task) {
        self.task = None;
        match task {
            Task::Home { .. } => self.report(Report::Homed),
            Task::Hand | Task::Over => self.report(Report::HandDone),
            Task::Run => {
                self.running = None;
                self.report(Report::HandDone);
            }
            Task::Touch if self.move_held != MoveHeld::No => {
                self.touching = None;
                self.report(Report::NotDone { what: Wanted::Touch, of: Some(self.epoch), why: NotDone::Held });
            }
            Task::Touch => self.leg_done(),
            Task::Setting => {
                self.note_zero();
                self.report(Report::SettingTaken);
            }
            Task::Unlock | Task::Beside(_) => {}
            Task::Raise => self.report(Report::Raised { at: self.reached().unwrap_or_default() }),
            Task::Clear { .. } => {}
        }
        if task == Task::Raise {
            self.stretch = None;
        }
    }

    /// Where reports do not tell the work zero, it is known by having set it.
    fn note_zero(&mut self) {
        let Some(zero) = self.setting.take().filter(|_| self.asks_by_line()) else { return };
        match zero {
            ZeroTo::Place(at) => self.ear.set_offset(at),
            ZeroTo::Here(axis, value) => {
                let Some((mut offset, at)) = self.ear.offset().zip(self.state.and_then(|s| s.machine)) else { return };
                match axis {
                    Axis::X => offset.x = at.x - value,
                    Axis::Y => offset.y = at.y - value,
                    Axis::Z => offset.z = at.z - value,
                }
                self.ear.set_offset(offset);
            }
        }
    }

    pub(in crate::link) fn follow_stretch(&mut self, now: Tick, word: StateWord) {
        let until = self.ms(HOLD_MS);
        let holding = word == StateWord::Holding;
        if self.stretch.as_mut().is_some_and(|s| !s.speaks_of_now(now, holding, until)) {
            return;
        }
        // somebody holds it while it raises the bit: the program is over, and what is left of the raise is not gone on with
        if holding && self.task == Some(Task::Raise) {
            return self.out_of_step(now, "it was held while it raised the bit");
        }
        let drained = self.drained(word);
        let raising = self.task.is_some();
        let Some(s) = &mut self.stretch else { return };
        let asked = matches!(s.pause, Pause::HoldAsked(_));
        match word {
            // nothing of it is left to be held: it waits for what it waited for, and hands may be at the bit
            StateWord::Holding if matches!(s.pause, Pause::AtLift | Pause::Asking) => {}
            StateWord::Holding if s.pause != Pause::Held => {
                s.pause = Pause::Held;
                let at = s.path.reached();
                self.report(Report::Held { at, asked });
            }
            // let go by its own button, though nobody at the terminal resumed: nothing goes on uninvited
            StateWord::Cutting if s.pause == Pause::Held && !raising => {
                self.urgent(&self.profile.keys.at_once.hold.clone());
            }
            StateWord::Ready if drained => self.ran_out(),
            _ => {}
        }
    }

    /// All that was written has run out.
    pub(in crate::link) fn ran_out(&mut self) {
        let Some(s) = &mut self.stretch else { return };
        match s.pause {
            Pause::LiftSent => {
                s.ran_out();
                s.pause = Pause::AtLift;
                let at = s.path.reached();
                self.report(Report::HeldAtLift(at));
            }
            Pause::AskSent => {
                s.ran_out();
                s.pause = Pause::Asking;
                let at = s.path.reached();
                if let Some(line) = s.pop() {
                    self.report(Report::AtPrompt { line: Box::new(line), at });
                }
            }
            // a hold that found nothing left to hold
            Pause::HoldAsked(_) => {
                s.ran_out();
                if s.is_written() {
                    let at = s.path.reached();
                    self.stretch = None;
                    self.report(Report::Finished(at));
                } else {
                    s.pause = Pause::Held;
                    let at = s.path.reached();
                    self.report(Report::Held { at, asked: true });
                }
            }
            Pause::None | Pause::LiftWanted if s.is_written() => {
                s.ran_out();
                let at = s.path.reached();
                self.stretch = None;
                self.report(Report::Finished(at));
            }
            Pause::None | Pause::LiftWanted | Pause::Held | Pause::AtLift | Pause::Asking => {}
        }
    }
}
