//! Obeying: commands with their permits, and the clearing that follows a stop.

use super::conversation::{AfterClear, ClearStep, Link, MoveHeld, Owner, Phase, Task, ZeroTo};
use super::stretch::{Pause, Resumed, Stretch};
use super::talk;
use super::wire::{Command, ControllerState, NotDone, Output, Override, Report, StateWord, Wanted};
use crate::floor::permit::{Class, Epoch, Permit, VoidPermit};
use crate::shop::profile::{HoldTakes, Keeps};
use chargehand_types::quantity::{Length, Tick};
use std::sync::Arc;

/// Said of a change of speed that the profile has no words for.
const NO_SUCH_SPEED: &str = "change its speed so while it cuts";

impl Link {
    pub(in crate::link) fn begin_clear(&mut self, now: Tick, then: AfterClear) {
        let blind = matches!(self.task, Some(Task::Home { .. }));
        self.task_lines.clear();
        self.touching = None;
        self.running = None;
        // one that was to start does not start after a stop
        self.spindle_wanted = self.spindle_wanted.filter(Option::is_none);
        self.urgent(&self.profile.keys.at_once.hold.clone());
        self.task = Some(Task::Clear { since: now, step: ClearStep::WaitHeld, then, moving_blind: blind });
        self.report_asked = None;
    }

    pub(in crate::link) fn follow_clear(
        &mut self,
        now: Tick,
        word: StateWord,
        since: Tick,
        step: ClearStep,
        then: AfterClear,
        moving_blind: bool,
    ) {
        let by_line = self.profile.keys.at_once.reset.is_empty();
        match step {
            // there is no way to give anything up: it runs out
            ClearStep::WaitHeld if by_line => {
                if self.drained(word) {
                    self.cleared(now, then, moving_blind);
                }
            }
            ClearStep::WaitHeld if matches!(word, StateWord::Holding | StateWord::Ready | StateWord::Faulted) => {
                self.reset(now, then, moving_blind);
            }
            ClearStep::WaitHeld => {}
            ClearStep::WaitBack if now > since.after_ms(self.profile.keys.settle_after_reset_ms) => {
                self.cleared(now, then, moving_blind || word == StateWord::Faulted);
            }
            ClearStep::WaitBack => {}
        }
    }

    pub(in crate::link) fn reset(&mut self, now: Tick, then: AfterClear, moving_blind: bool) {
        self.flight.clear();
        self.unanswered = 0;
        self.outs.push_back(Output::DropUnsent);
        self.urgent(&self.profile.keys.at_once.reset.clone());
        self.task = Some(Task::Clear { since: now, step: ClearStep::WaitBack, then, moving_blind });
        self.report_asked = None;
    }

    pub(in crate::link) fn cleared(&mut self, now: Tick, then: AfterClear, blind: bool) {
        self.task = None;
        let keys = &self.profile.keys;
        let keeps = keys.at_once.reset.is_empty() || keys.reset_when_held == Keeps::KeepsPosition;
        let kept = keeps && !blind;
        match then {
            AfterClear::TellStopped => {
                let at = self.reached();
                self.stretch = None;
                self.report(Report::Stopped { at, position_kept: kept, epoch: self.epoch });
            }
            AfterClear::Told => {}
            AfterClear::Home => self.start_task(Task::Home { since: now }, talk::home(&Arc::clone(&self.profile))),
            AfterClear::Unlock => self.start_task(Task::Unlock, talk::unlock(&Arc::clone(&self.profile))),
            AfterClear::Silent if kept => {}
            AfterClear::Silent => {
                let meaning = "it had to be told to give up while it moved".to_owned();
                self.report(Report::Fault { meaning, position_lost: true, at: None, epoch: self.epoch });
            }
            AfterClear::Raise(z) => {
                self.start_task(Task::Raise, talk::raise(&Arc::clone(&self.profile), z));
            }
        }
    }

    pub(in crate::link) fn command(&mut self, now: Tick, command: Command) {
        match command {
            Command::Hold => self.hold(now),
            Command::Stop => self.stop(now),
            Command::HoldAtLift => self.hold_at_lift(),
            Command::KeepRunning => self.keep_running(now),
            Command::Lines(lines) => {
                if let Some(s) = &mut self.stretch {
                    s.add(lines);
                }
            }
            Command::NoMoreLines => {
                if let Some(s) = &mut self.stretch {
                    s.more = false;
                }
            }
            other => {
                let (what, of) = (other.wanted(), other.epoch());
                if let Err(why) = self.asked(now, other) {
                    self.report(Report::NotDone { what, of, why });
                }
            }
        }
    }

    pub(in crate::link) fn asked(&mut self, now: Tick, command: Command) -> Result<(), NotDone> {
        if self.phase != Phase::Up {
            return Err(NotDone::NoLink);
        }
        let p = Arc::clone(&self.profile);
        match command {
            Command::Begin(permit) => self.begin(permit),
            Command::Resume(permit) => self.resume(now, permit),
            Command::Raise { permit, machine_z } => self.raise(now, permit, machine_z),
            Command::Home(permit) => {
                self.free_after_a_fault()?;
                permit.used(Class::Home, self.epoch)?;
                if self.goes_on_with(AfterClear::Home) {
                    return Ok(());
                }
                self.start_task(Task::Home { since: now }, talk::home(&p));
                Ok(())
            }
            Command::Unlock(permit) => {
                self.free_after_a_fault()?;
                permit.used(Class::Unlock, self.epoch)?;
                if self.goes_on_with(AfterClear::Unlock) {
                    return Ok(());
                }
                self.start_task(Task::Unlock, talk::unlock(&p));
                Ok(())
            }
            Command::HandMove { permit, axis, by, feed } => {
                self.free()?;
                permit.used(Class::Hand, self.epoch)?;
                self.start_task(Task::Hand, talk::hand_move(&p, axis, by, feed));
                Ok(())
            }
            Command::Run { permit, how } => self.begin_run(now, permit, how),
            Command::Over { permit, at } => {
                self.free()?;
                if p.keys.commands.over.is_empty() {
                    return Err(NotDone::Cannot("go to a place by itself"));
                }
                permit.used(Class::Hand, self.epoch)?;
                self.start_task(Task::Over, talk::over(&p, at));
                Ok(())
            }
            Command::Touch { permit, how } => self.touch(permit, how),
            Command::SetWorkZero { at, epoch } => {
                self.free()?;
                self.still_of(epoch)?;
                self.setting = Some(ZeroTo::Place(at));
                self.start_task(Task::Setting, talk::set_work_zero(&p, at));
                Ok(())
            }
            Command::ZeroHere { epoch, axis, value } => {
                self.free()?;
                self.still_of(epoch)?;
                self.setting = Some(ZeroTo::Here(axis, value));
                self.start_task(Task::Setting, talk::zero_here(&p, axis, value));
                Ok(())
            }
            Command::Spindle(speed) => {
                self.spindle_wanted = Some(speed);
                Ok(())
            }
            Command::Override(per_cent) if self.asks_by_line() => self.override_by_line(per_cent),
            Command::Override(per_cent) => {
                self.urgent(&talk::per_cent(&p, per_cent).ok_or(NotDone::Cannot(NO_SUCH_SPEED))?);
                Ok(())
            }
            Command::Hold
            | Command::Stop
            | Command::HoldAtLift
            | Command::KeepRunning
            | Command::Lines(_)
            | Command::NoMoreLines => Ok(()),
        }
    }

    /// What was wanted of the spindle while something else was under way is not forgotten.
    pub(in crate::link) fn turn_spindle(&mut self) {
        if self.task.is_none()
            && self.phase == Phase::Up
            && let Some(speed) = self.spindle_wanted.take()
        {
            self.start_task(Task::Beside(Wanted::Spindle), talk::spindle(&Arc::clone(&self.profile), speed));
        }
    }

    /// No byte acts at once: the change is a line among the program's, and takes effect behind those in flight.
    fn override_by_line(&mut self, per_cent: Override) -> Result<(), NotDone> {
        let lines = talk::override_lines(&self.profile, per_cent).ok_or(NotDone::Cannot(NO_SUCH_SPEED))?;
        self.nothing_beside()?;
        self.start_task(Task::Beside(Wanted::Override), lines);
        // its reports do not tell: it is known by having set it
        let [feed, rapid] = self.state.and_then(|s| s.per_cent).unwrap_or([100, 100]);
        self.ear.set_per_cent([per_cent.feed.unwrap_or(feed), per_cent.rapid.unwrap_or(rapid)]);
        Ok(())
    }

    /// Nothing stopped since.
    fn still_of(&self, epoch: Epoch) -> Result<(), VoidPermit> {
        if epoch == self.epoch { Ok(()) } else { Err(VoidPermit::BeforeAStop) }
    }

    /// Nothing else is under way.
    pub(in crate::link) fn free(&self) -> Result<(), NotDone> {
        // at a bit change in the middle of a program hands are at the bit: it may be moved and touched
        if self.stretch.as_ref().is_some_and(|s| s.pause != Pause::Asking) {
            return Err(NotDone::Busy("a program is under way"));
        }
        self.nothing_beside()
    }

    /// Nothing short is under way, but what goes on beside everything else. A move that is being given up is held: told to go
    /// on it would run out, and what is raised too early loses its position.
    fn nothing_beside(&self) -> Result<(), NotDone> {
        let busy = self.task.is_some_and(|t| !matches!(t, Task::Beside(_)));
        if busy { Err(NotDone::Busy("something else is under way")) } else { Ok(()) }
    }

    /// The same, or it only gives up what it held when it fell into a fault: what leads out of one waits for that.
    fn free_after_a_fault(&self) -> Result<(), NotDone> {
        match self.task {
            Some(Task::Clear { then: AfterClear::Told, .. }) => Ok(()),
            _ => self.free(),
        }
    }

    /// Whether this waits until what it held is given up.
    const fn goes_on_with(&mut self, what: AfterClear) -> bool {
        match &mut self.task {
            Some(Task::Clear { then: then @ AfterClear::Told, .. }) => {
                *then = what;
                true
            }
            _ => false,
        }
    }

    pub(in crate::link) fn start_task(&mut self, task: Task, lines: Vec<String>) {
        self.ready_since_answer = false;
        if !matches!(task, Task::Beside(_)) {
            self.let_go_of_nothing();
            self.move_held = MoveHeld::No;
        }
        self.task = Some(task);
        let of = match task {
            Task::Beside(what) => Owner::Beside(what),
            _ => Owner::Task,
        };
        self.task_taken &= of != Owner::Task;
        self.task_lines.extend(lines.into_iter().map(|line| (line, of)));
    }

    pub(in crate::link) fn begin(&mut self, permit: Permit) -> Result<(), NotDone> {
        if self.stretch.is_some() {
            return Err(NotDone::Busy("a program is under way"));
        }
        self.free()?;
        permit.used(Class::Cut, self.epoch)?;
        self.ready_since_answer = false;
        self.hold_told = false;
        let base = self.ear.offset();
        self.stretch = Some(Stretch::begin(base));
        Ok(())
    }

    pub(in crate::link) fn resume(&mut self, now: Tick, permit: Permit) -> Result<(), NotDone> {
        self.nothing_beside()?;
        let Some(s) = &mut self.stretch else {
            return Err(NotDone::Busy("nothing is held"));
        };
        permit.used(Class::Resume, self.epoch)?;
        let held = self.state.is_some_and(|s| s.word == StateWord::Holding);
        s.pause = Pause::None;
        self.ready_since_answer = false;
        self.hold_told = false;
        if held || !self.profile.keys.at_once.report.is_empty() {
            // what was reported before says nothing any more
            s.resumed = Some(Resumed { at: now, stale: self.report_asked.take().is_some() });
        }
        if held {
            self.let_go();
        }
        Ok(())
    }

    /// It goes on with what it holds.
    fn let_go(&mut self) {
        self.urgent(&self.profile.keys.at_once.resume.clone());
        self.state = self.state.map(|s| ControllerState { word: StateWord::Unknown, ..s });
    }

    /// At a prompt its own button or its door may hold it, with nothing left to go on with: it would take no move by hand,
    /// and the program, whose turn it is not, is the only thing that lets it go otherwise.
    fn let_go_of_nothing(&mut self) {
        let waits = self.stretch.as_ref().is_some_and(|s| s.pause == Pause::Asking);
        if waits && self.state.is_some_and(|s| s.word == StateWord::Holding) {
            self.let_go();
        }
    }

    pub(in crate::link) fn raise(&mut self, now: Tick, permit: Permit, z: Length) -> Result<(), NotDone> {
        let held =
            self.stretch.as_ref().is_some_and(|s| matches!(s.pause, Pause::Held | Pause::AtLift | Pause::Asking));
        if !held {
            return Err(NotDone::Busy("nothing is held"));
        }
        self.nothing_beside()?;
        if self.profile.keys.at_once.reset.is_empty() {
            // all that it held has run out
            permit.used(Class::Raise, self.epoch)?;
            self.start_task(Task::Raise, talk::raise(&Arc::clone(&self.profile), z));
            return Ok(());
        }
        if self.profile.keys.reset_when_held == Keeps::LosesPosition {
            return Err(NotDone::Cannot("give up what it holds without losing its position"));
        }
        permit.used(Class::Raise, self.epoch)?;
        self.reset(now, AfterClear::Raise(z), false);
        Ok(())
    }

    pub(in crate::link) fn hold(&mut self, now: Tick) {
        if self.phase != Phase::Up {
            return;
        }
        self.end_run();
        if self.task.is_some_and(|t| matches!(t, Task::Hand | Task::Over | Task::Touch | Task::Run)) {
            self.move_held = MoveHeld::Told;
        }
        if self.task == Some(Task::Over) {
            // what is not written of it would move once the first part is broken off
            self.task_lines.clear();
        }
        self.hold_bytes();
        // asked again after it went unconfirmed, it has its time again; only pressed twice, it has not
        let again = std::mem::take(&mut self.hold_told);
        if let Some(s) = &mut self.stretch {
            let stands = matches!(s.pause, Pause::Held | Pause::AtLift | Pause::Asking);
            let asked = matches!(s.pause, Pause::HoldAsked(_));
            if !stands && (!asked || again) {
                s.pause = Pause::HoldAsked(now);
            }
        }
        if self.profile.keys.hold == HoldTakes::AtOnce {
            self.report_asked = None;
        }
    }

    /// A move by hand is broken off with it, where its words can be: then nothing is left to go on, though it is let go.
    pub(in crate::link) fn hold_bytes(&mut self) {
        if self.move_held != MoveHeld::No {
            self.urgent(&self.profile.keys.at_once.end_run.clone());
        }
        self.urgent(&self.profile.keys.at_once.hold.clone());
    }

    pub(in crate::link) fn hold_at_lift(&mut self) {
        if let Some(s) = &mut self.stretch
            && s.pause == Pause::None
        {
            s.pause = Pause::LiftWanted;
        }
    }

    pub(in crate::link) fn stop(&mut self, now: Tick) {
        if self.phase != Phase::Up {
            return;
        }
        // one that is held with nothing under way, by its own button or door, is let go by giving up what is held; and one
        // that moves, whatever for, is held
        let moves = |word| matches!(word, StateWord::Holding | StateWord::Cutting | StateWord::Homing);
        let moves = self.state.is_some_and(|s| moves(s.word)) || self.flight.iter().any(|f| f.of.works());
        let at_work = moves || self.stretch.is_some() || self.task.is_some_and(|t| !matches!(t, Task::Beside(_)));
        self.bump();
        if !at_work {
            return self.report(Report::Stopped { at: None, position_kept: true, epoch: self.epoch });
        }
        if let Some(s) = &mut self.stretch {
            s.pause = Pause::Held;
            s.more = false;
        }
        self.again = None;
        self.numbering.give_up();
        self.outs.push_back(Output::DropUnsent);
        self.begin_clear(now, AfterClear::TellStopped);
    }
}
