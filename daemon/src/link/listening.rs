//! Listening: what each line of the controller means for what is under way.

use super::conversation::{AfterClear, ClearStep, HOLD_MS, Link, Owner, Phase, Task};
use super::heard::Heard;
use super::stretch::Pause;
use super::wire::{ControllerState, NotDone, Output, Report, StateWord};
use crate::shop::profile::PositionAfter;
use chargehand_types::quantity::{Point, Tick};

impl Link {
    pub(in crate::link) fn heard(&mut self, now: Tick, heard: Heard) {
        match heard {
            Heard::Acknowledged => self.answered(now, None),
            Heard::Refused(why) => self.answered(now, Some(why)),
            Heard::Fault(meaning, position) => self.fault(now, meaning, position),
            Heard::Report(state, offset) => self.reported(now, state, offset),
            Heard::Greeting => self.greeted(now),
            Heard::Said(text) => self.report(Report::Said(text)),
            Heard::Busy => self.report_got = now,
            Heard::Noise => {}
        }
    }

    pub(in crate::link) fn answered(&mut self, now: Tick, refusal: Option<String>) {
        let Some(line) = self.flight.pop_front() else {
            return;
        };
        self.unanswered = self.unanswered.saturating_sub(line.bytes);
        self.last_answer = now;
        self.ready_since_answer = false;
        match (line.of, refusal) {
            (Owner::Stretch { line, end }, None) => {
                let planner = usize::from(self.profile.keys.planner_blocks);
                if let Some(s) = &mut self.stretch {
                    s.path.acknowledged(line, end, planner);
                }
            }
            (Owner::Stretch { line, .. }, Some(meaning)) => self.line_refused(now, line, meaning),
            (Owner::Task, None) => {}
            (Owner::Task, Some(why)) => {
                self.task = None;
                self.task_lines.clear();
                self.report(Report::NotDone { why: NotDone::Refused(why) });
            }
        }
    }

    pub(in crate::link) fn line_refused(&mut self, now: Tick, line: u32, meaning: String) {
        let Some(at) = self.reached() else { return };
        self.bump();
        self.stretch = None;
        self.outs.push_back(Output::DropUnsent);
        self.begin_clear(now, AfterClear::Silent);
        self.report(Report::Refused { line, meaning, at, epoch: self.epoch });
    }

    pub(in crate::link) fn fault(&mut self, now: Tick, meaning: String, position: PositionAfter) {
        let at = self.reached();
        let clearing = matches!(self.task, Some(Task::Clear { .. }));
        self.bump();
        self.drop_work();
        self.report_got = now;
        // a reset made while something still moved is what a stop may come to; the stop tells it
        let position_lost = position == PositionAfter::Lost || clearing;
        self.report(Report::Fault { meaning, position_lost, at, epoch: self.epoch });
    }

    pub(in crate::link) fn greeted(&mut self, now: Tick) {
        self.report_got = now;
        self.report_asked = None;
        if let Some(Task::Clear { step: ClearStep::WaitBack, .. }) = self.task {
            self.flight.clear();
            self.unanswered = 0;
            return;
        }
        if matches!(self.phase, Phase::Settling { .. }) {
            return;
        }
        let at = self.reached();
        self.bump();
        self.drop_work();
        self.state = None;
        self.phase = Phase::Settling { until: now.after_ms(self.ms(self.profile.keys.greeting_within_ms)) };
        self.report(Report::Restarted { at, epoch: self.epoch });
    }

    pub(in crate::link) fn reported(&mut self, now: Tick, state: ControllerState, offset: Option<Point>) {
        let asked = self.report_asked.take();
        self.report_got = now;
        let settled = !matches!(self.phase, Phase::Up);
        self.state = Some(state);
        if settled {
            self.phase = Phase::Up;
            let kept = false;
            let note = note(state.word);
            self.report(Report::Up { note, position_kept: kept, epoch: self.epoch });
        }
        let fresh = asked.is_some_and(|at| at >= self.last_answer);
        if state.word == StateWord::Ready && fresh && self.flight.is_empty() {
            self.ready_since_answer = true;
        }
        self.report(Report::State(state));
        self.follow_path(state, offset);
        self.follow_state(now, state.word);
    }

    pub(in crate::link) fn follow_path(&mut self, state: ControllerState, offset: Option<Point>) {
        let Some(s) = &mut self.stretch else { return };
        let before = s.path.reached();
        if let Some(machine) = state.machine
            && let Some(base) = s.base.or(offset)
        {
            s.path.seen_at(machine - base);
        }
        let after = s.path.reached();
        if before != after {
            self.report(Report::Reached(after));
        }
    }

    pub(in crate::link) fn follow_state(&mut self, now: Tick, word: StateWord) {
        match self.task {
            Some(Task::Clear { since, step, then, moving_blind }) => {
                self.follow_clear(now, word, since, step, then, moving_blind);
            }
            Some(task) if self.drained(word) => self.task_done(task),
            _ => {}
        }
        if self.stretch.is_some() {
            self.follow_stretch(now, word);
        }
    }

    /// Everything written was answered, and a report asked for after that says that it stands still.
    pub(in crate::link) fn drained(&self, word: StateWord) -> bool {
        word == StateWord::Ready && self.ready_since_answer && self.flight.is_empty() && self.task_lines.is_empty()
    }

    pub(in crate::link) fn task_done(&mut self, task: Task) {
        self.task = None;
        match task {
            Task::Home { .. } => self.report(Report::Homed),
            Task::Hand => self.report(Report::HandDone),
            Task::Setting => self.report(Report::SettingTaken),
            Task::Unlock | Task::Spindle => {}
            Task::Raise => self.report(Report::Raised { at: self.reached().unwrap_or_default() }),
            Task::Clear { .. } => {}
        }
        if task == Task::Raise {
            self.stretch = None;
        }
    }

    pub(in crate::link) fn follow_stretch(&mut self, now: Tick, word: StateWord) {
        if word != StateWord::Holding {
            self.leaving_hold = None;
        } else if self.leaving_hold.is_some_and(|since| now <= since.after_ms(self.ms(HOLD_MS))) {
            return;
        }
        let drained = self.drained(word);
        let raising = self.task.is_some();
        let Some(s) = &mut self.stretch else { return };
        let asked = matches!(s.pause, Pause::HoldAsked(_));
        match word {
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
                s.path.ran_out();
                s.pause = Pause::AtLift;
                let at = s.path.reached();
                self.report(Report::HeldAtLift(at));
            }
            Pause::AskSent => {
                s.path.ran_out();
                s.pause = Pause::Asking;
                let at = s.path.reached();
                if let Some(line) = s.pop() {
                    self.report(Report::AtPrompt { line, at });
                }
            }
            // a hold that found nothing left to hold
            Pause::HoldAsked(_) => {
                s.path.ran_out();
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
                s.path.ran_out();
                let at = s.path.reached();
                self.stretch = None;
                self.report(Report::Finished(at));
            }
            Pause::None | Pause::LiftWanted | Pause::Held | Pause::AtLift | Pause::Asking => {}
        }
    }
}

/// What it said of itself, in our words.
fn note(word: StateWord) -> String {
    match word {
        StateWord::Ready => "it stands still and takes lines",
        StateWord::Cutting => "it moves",
        StateWord::Holding => "it is held",
        StateWord::Faulted => "it refuses motion until home is found",
        StateWord::Homing => "it is finding home",
        StateWord::Checking => "it reads lines without moving",
        StateWord::Asleep => "it sleeps",
        StateWord::Unknown => "its state is not known",
    }
    .to_owned()
}
