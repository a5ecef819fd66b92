//! The conversation itself: who may speak, what is waited for, what every silence means.

use super::heard::{Ear, Heard};
use super::stretch::{Pause, Stretch};
use super::talk;
use super::wire::{Command, ControllerState, Input, NotDone, Output, Reached, Report, StateWord};
use crate::floor::permit::{Class, Epoch, Permit};
use crate::sending::Then;
use crate::shop::profile::{Flow, HoldTakes, Keeps, PositionAfter, Profile};
use chargehand_types::quantity::{Point, Tick};
use std::collections::VecDeque;
use std::sync::Arc;

/// Real milliseconds a deadline is never shorter than.
const LEAST_REAL_MS: f64 = 250.0;
/// Machine milliseconds without a report until the controller counts as silent.
const SILENCE_MS: u64 = 1500;
/// Machine milliseconds in which a hold is confirmed.
const HOLD_MS: u64 = 1000;
/// Machine milliseconds that lines may wait for their answers while the machine stands ready.
const STALL_MS: u64 = 2000;
/// Machine milliseconds between attempts at a lost port.
const REOPEN_MS: u64 = 1000;
/// Machine milliseconds until a hold before a stop counts as failed and the stop is made all the same.
const CLEAR_MS: u64 = 2000;
/// Machine milliseconds homing may take.
const HOMING_MS: u64 = 180_000;
/// Windows of bytes kept ready.
const WINDOWS_READY: usize = 4;

/// What the link needs beside the profile.
#[derive(Debug, Clone, Copy)]
pub struct Settings {
    /// Machine seconds a real second.
    pub rate: f64,
}

/// One conversation with one controller.
pub struct Link {
    profile: Arc<Profile>,
    rate: f64,
    phase: Phase,
    epoch: Epoch,
    ear: Ear,
    outs: VecDeque<Output>,
    /// Lines written and not answered: their bytes, and what they belong to.
    flight: VecDeque<InFlight>,
    unanswered: usize,
    stretch: Option<Stretch>,
    task: Option<Task>,
    /// Lines of a task not yet written.
    task_lines: VecDeque<String>,
    state: Option<ControllerState>,
    report_asked: Option<Tick>,
    report_got: Tick,
    last_answer: Tick,
    ready_since_answer: bool,
    hold_told: bool,
    /// A resume was sent then; reports of holding may still be on their way.
    leaving_hold: Option<Tick>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Phase {
    /// The port is not open.
    Closed { again: Tick },
    /// Open; nothing is believed until a report comes.
    Settling { until: Tick },
    /// It reports.
    Up,
}

#[derive(Debug, Clone)]
struct InFlight {
    bytes: usize,
    of: Owner,
}

#[derive(Debug, Clone)]
enum Owner {
    Stretch { line: u32, end: Point },
    Task,
}

/// Something short that is under way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Task {
    Home {
        since: Tick,
    },
    Hand,
    Setting,
    Unlock,
    Spindle,
    /// After a stop or a refusal: hold, then reset, then it is clear.
    Clear {
        since: Tick,
        step: ClearStep,
        then: AfterClear,
        moving_blind: bool,
    },
    Raise,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum ClearStep {
    WaitHeld,
    WaitBack,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum AfterClear {
    /// Tell that it stopped.
    TellStopped,
    /// It was told already.
    Silent,
    /// Raise the bit to this machine height.
    Raise(chargehand_types::quantity::Length),
}

impl Link {
    /// A conversation that has not begun.
    #[must_use]
    pub fn new(profile: Arc<Profile>, settings: Settings) -> Self {
        Self {
            profile,
            rate: if settings.rate > 0.0 { settings.rate } else { 1.0 },
            phase: Phase::Closed { again: Tick(u64::MAX) },
            epoch: Epoch::default(),
            ear: Ear::default(),
            outs: VecDeque::new(),
            flight: VecDeque::new(),
            unanswered: 0,
            stretch: None,
            task: None,
            task_lines: VecDeque::new(),
            state: None,
            report_asked: None,
            report_got: Tick(0),
            last_answer: Tick(0),
            ready_since_answer: false,
            hold_told: false,
            leaving_hold: None,
        }
    }

    /// The epoch now: permits of an earlier one are void.
    #[must_use]
    pub const fn epoch(&self) -> Epoch {
        self.epoch
    }

    /// Bytes written and not answered.
    #[must_use]
    pub const fn unanswered_bytes(&self) -> usize {
        self.unanswered
    }

    /// Takes one input. Drain [`Link::next_output`] before the next one.
    pub fn take(&mut self, now: Tick, input: Input<'_>) {
        match input {
            Input::Opened => self.opened(now),
            Input::Lost(why) => self.lost(now, why),
            Input::Bytes(bytes) => {
                for heard in self.ear.take(bytes, &Arc::clone(&self.profile)) {
                    self.heard(now, heard);
                }
            }
            Input::Woke => {}
            Input::Command(command) => self.command(now, command),
        }
        self.deadlines(now);
        self.write(now);
        self.ask_report(now);
        let wake = self.wake(now);
        self.outs.push_back(Output::WakeAt(wake));
    }

    /// The next output; none once drained.
    pub fn next_output(&mut self) -> Option<Output> {
        self.outs.pop_front()
    }

    // ---- helpers ----

    fn ms(&self, machine_ms: u64) -> u64 {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rates are small and positive")]
        let least = (LEAST_REAL_MS * self.rate) as u64;
        machine_ms.max(least)
    }

    fn report(&mut self, report: Report) {
        self.outs.push_back(Output::Report(report));
    }

    fn urgent(&mut self, bytes: &str) {
        if !bytes.is_empty() {
            self.outs.push_back(Output::Send { bytes: latin1(bytes), urgent: true });
        }
    }

    fn window(&self) -> usize {
        match self.profile.keys.flow {
            Flow::Window { window } => usize::from(window),
            Flow::OneAtATime | Flow::Numbered { .. } => 1,
        }
    }

    fn reached(&self) -> Option<Reached> {
        self.stretch.as_ref().map(|s| s.path.reached())
    }

    fn bump(&mut self) {
        self.epoch = self.epoch.next();
    }

    /// Forgets everything that was under way.
    fn drop_work(&mut self) {
        self.stretch = None;
        self.task = None;
        self.task_lines.clear();
        self.flight.clear();
        self.unanswered = 0;
        self.hold_told = false;
        self.outs.push_back(Output::DropUnsent);
    }

    // ---- the port ----

    fn opened(&mut self, now: Tick) {
        self.ear.clear();
        self.flight.clear();
        self.unanswered = 0;
        self.state = None;
        self.report_asked = None;
        self.phase = Phase::Settling { until: now.after_ms(self.ms(self.profile.keys.greeting_within_ms)) };
    }

    fn lost(&mut self, now: Tick, why: &str) {
        let at = self.reached();
        let was_open = !matches!(self.phase, Phase::Closed { .. });
        self.bump();
        self.drop_work();
        self.state = None;
        self.phase = Phase::Closed { again: now.after_ms(self.ms(REOPEN_MS)) };
        if was_open || at.is_some() {
            self.report(Report::Down { why: why.to_owned(), at, epoch: self.epoch });
        } else {
            self.report(Report::Down { why: why.to_owned(), at: None, epoch: self.epoch });
        }
    }

    // ---- what is heard ----

    fn heard(&mut self, now: Tick, heard: Heard) {
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

    fn answered(&mut self, now: Tick, refusal: Option<String>) {
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

    fn line_refused(&mut self, now: Tick, line: u32, meaning: String) {
        let Some(at) = self.reached() else { return };
        self.bump();
        self.stretch = None;
        self.outs.push_back(Output::DropUnsent);
        self.begin_clear(now, AfterClear::Silent);
        self.report(Report::Refused { line, meaning, at, epoch: self.epoch });
    }

    fn fault(&mut self, now: Tick, meaning: String, position: PositionAfter) {
        let at = self.reached();
        let clearing = matches!(self.task, Some(Task::Clear { .. }));
        self.bump();
        self.drop_work();
        self.report_got = now;
        // a reset made while something still moved is what a stop may come to; the stop tells it
        let position_lost = position == PositionAfter::Lost || clearing;
        self.report(Report::Fault { meaning, position_lost, at, epoch: self.epoch });
    }

    fn greeted(&mut self, now: Tick) {
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

    fn reported(&mut self, now: Tick, state: ControllerState, offset: Option<Point>) {
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

    fn follow_path(&mut self, state: ControllerState, offset: Option<Point>) {
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

    fn follow_state(&mut self, now: Tick, word: StateWord) {
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
    fn drained(&self, word: StateWord) -> bool {
        word == StateWord::Ready && self.ready_since_answer && self.flight.is_empty() && self.task_lines.is_empty()
    }

    fn task_done(&mut self, task: Task) {
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

    fn follow_stretch(&mut self, now: Tick, word: StateWord) {
        if word != StateWord::Holding {
            self.leaving_hold = None;
        } else if self.leaving_hold.is_some_and(|since| now <= since.after_ms(self.ms(HOLD_MS))) {
            return;
        }
        let drained = self.drained(word);
        let Some(s) = &mut self.stretch else { return };
        let asked = matches!(s.pause, Pause::HoldAsked(_));
        match word {
            StateWord::Holding if s.pause != Pause::Held => {
                s.pause = Pause::Held;
                let at = s.path.reached();
                self.report(Report::Held { at, asked });
            }
            // let go by its own button, though nobody at the terminal resumed: nothing goes on uninvited
            StateWord::Cutting if s.pause == Pause::Held => {
                self.urgent(&self.profile.keys.at_once.hold.clone());
            }
            StateWord::Ready if drained => self.ran_out(),
            _ => {}
        }
    }

    /// All that was written has run out.
    fn ran_out(&mut self) {
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

    // ---- stopping ----

    fn begin_clear(&mut self, now: Tick, then: AfterClear) {
        let blind = matches!(self.task, Some(Task::Home { .. }));
        self.task_lines.clear();
        self.urgent(&self.profile.keys.at_once.hold.clone());
        self.task = Some(Task::Clear { since: now, step: ClearStep::WaitHeld, then, moving_blind: blind });
        self.report_asked = None;
    }

    fn follow_clear(
        &mut self,
        now: Tick,
        word: StateWord,
        since: Tick,
        step: ClearStep,
        then: AfterClear,
        moving_blind: bool,
    ) {
        match step {
            ClearStep::WaitHeld if matches!(word, StateWord::Holding | StateWord::Ready | StateWord::Faulted) => {
                self.reset(now, then, moving_blind);
            }
            ClearStep::WaitHeld => {}
            ClearStep::WaitBack if now > since.after_ms(self.profile.keys.settle_after_reset_ms) => {
                self.cleared(then, moving_blind || word == StateWord::Faulted);
            }
            ClearStep::WaitBack => {}
        }
    }

    fn reset(&mut self, now: Tick, then: AfterClear, moving_blind: bool) {
        self.flight.clear();
        self.unanswered = 0;
        self.outs.push_back(Output::DropUnsent);
        self.urgent(&self.profile.keys.at_once.reset.clone());
        self.task = Some(Task::Clear { since: now, step: ClearStep::WaitBack, then, moving_blind });
        self.report_asked = None;
    }

    fn cleared(&mut self, then: AfterClear, blind: bool) {
        self.task = None;
        let kept = self.profile.keys.reset_when_held == Keeps::KeepsPosition && !blind;
        match then {
            AfterClear::TellStopped => {
                let at = self.reached();
                self.stretch = None;
                self.report(Report::Stopped { at, position_kept: kept, epoch: self.epoch });
            }
            AfterClear::Silent => {}
            AfterClear::Raise(z) => {
                self.start_task(Task::Raise, talk::raise(&Arc::clone(&self.profile), z));
            }
        }
    }

    // ---- commands ----

    fn command(&mut self, now: Tick, command: Command) {
        match command {
            Command::Hold => self.hold(now),
            Command::Stop => self.stop(now),
            Command::HoldAtLift => self.hold_at_lift(),
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
                if let Err(why) = self.asked(now, other) {
                    self.report(Report::NotDone { why });
                }
            }
        }
    }

    fn asked(&mut self, now: Tick, command: Command) -> Result<(), NotDone> {
        if self.phase != Phase::Up {
            return Err(NotDone::NoLink);
        }
        let p = Arc::clone(&self.profile);
        match command {
            Command::Begin(permit) => self.begin(permit),
            Command::Resume(permit) => self.resume(now, permit),
            Command::Raise { permit, machine_z } => self.raise(now, permit, machine_z),
            Command::Home(permit) => {
                self.free()?;
                permit.used(Class::Home, self.epoch)?;
                self.start_task(Task::Home { since: now }, talk::home(&p));
                Ok(())
            }
            Command::Unlock(permit) => {
                self.free()?;
                permit.used(Class::Unlock, self.epoch)?;
                self.start_task(Task::Unlock, talk::unlock(&p));
                Ok(())
            }
            Command::HandMove { permit, axis, by, feed } => {
                self.free()?;
                permit.used(Class::Hand, self.epoch)?;
                self.start_task(Task::Hand, talk::hand_move(&p, axis, by, feed));
                Ok(())
            }
            Command::SetWorkZero(at) => {
                self.free()?;
                self.start_task(Task::Setting, talk::set_work_zero(&p, at));
                Ok(())
            }
            Command::ZeroHere { axis, value } => {
                self.free()?;
                self.start_task(Task::Setting, talk::zero_here(&p, axis, value));
                Ok(())
            }
            Command::Spindle(speed) => {
                if self.task.is_none() {
                    self.start_task(Task::Spindle, talk::spindle(&p, speed));
                }
                Ok(())
            }
            Command::Hold | Command::Stop | Command::HoldAtLift | Command::Lines(_) | Command::NoMoreLines => Ok(()),
        }
    }

    /// Nothing else is under way.
    fn free(&self) -> Result<(), NotDone> {
        // at a bit change in the middle of a program hands are at the bit: it may be moved and touched
        if self.stretch.as_ref().is_some_and(|s| s.pause != Pause::Asking) {
            Err(NotDone::Busy("a program is under way"))
        } else if self.task.is_some_and(|t| t != Task::Spindle) {
            Err(NotDone::Busy("something else is under way"))
        } else {
            Ok(())
        }
    }

    fn start_task(&mut self, task: Task, lines: Vec<String>) {
        self.ready_since_answer = false;
        self.task = Some(task);
        self.task_lines.extend(lines);
    }

    fn begin(&mut self, permit: Permit) -> Result<(), NotDone> {
        if self.stretch.is_some() {
            return Err(NotDone::Busy("a program is under way"));
        }
        self.free()?;
        permit.used(Class::Cut, self.epoch)?;
        self.ready_since_answer = false;
        self.hold_told = false;
        let base = self.ear.offset();
        let at = self.state.and_then(|s| s.machine).zip(base).map(|(m, b)| m - b);
        self.stretch = Some(Stretch::begin(base, at));
        Ok(())
    }

    fn resume(&mut self, now: Tick, permit: Permit) -> Result<(), NotDone> {
        let Some(s) = &mut self.stretch else {
            return Err(NotDone::Busy("nothing is held"));
        };
        permit.used(Class::Resume, self.epoch)?;
        let held = self.state.is_some_and(|s| s.word == StateWord::Holding);
        s.pause = Pause::None;
        self.ready_since_answer = false;
        self.hold_told = false;
        if held {
            self.urgent(&self.profile.keys.at_once.resume.clone());
            // what was reported before the resume says nothing any more
            self.report_asked = None;
            self.leaving_hold = Some(now);
            self.state = self.state.map(|s| ControllerState { word: StateWord::Unknown, ..s });
        }
        Ok(())
    }

    fn raise(&mut self, now: Tick, permit: Permit, z: chargehand_types::quantity::Length) -> Result<(), NotDone> {
        let held =
            self.stretch.as_ref().is_some_and(|s| matches!(s.pause, Pause::Held | Pause::AtLift | Pause::Asking));
        if !held {
            return Err(NotDone::Busy("nothing is held"));
        }
        if self.profile.keys.reset_when_held == Keeps::LosesPosition {
            return Err(NotDone::Cannot("give up what it holds without losing its position"));
        }
        permit.used(Class::Raise, self.epoch)?;
        self.reset(now, AfterClear::Raise(z), false);
        Ok(())
    }

    fn hold(&mut self, now: Tick) {
        if self.phase != Phase::Up {
            return;
        }
        self.urgent(&self.profile.keys.at_once.hold.clone());
        self.hold_told = false;
        if let Some(s) = &mut self.stretch
            && !matches!(s.pause, Pause::Held | Pause::AtLift | Pause::Asking | Pause::HoldAsked(_))
        {
            s.pause = Pause::HoldAsked(now);
        }
        if self.profile.keys.hold == HoldTakes::AtOnce {
            self.report_asked = None;
        }
    }

    fn hold_at_lift(&mut self) {
        if let Some(s) = &mut self.stretch
            && s.pause == Pause::None
        {
            s.pause = Pause::LiftWanted;
        }
    }

    fn stop(&mut self, now: Tick) {
        if self.phase != Phase::Up {
            return;
        }
        let at_work = self.stretch.is_some() || self.task.is_some_and(|t| t != Task::Spindle);
        self.bump();
        if !at_work {
            return self.report(Report::Stopped { at: None, position_kept: true, epoch: self.epoch });
        }
        if let Some(s) = &mut self.stretch {
            s.pause = Pause::Held;
            s.more = false;
        }
        self.outs.push_back(Output::DropUnsent);
        self.begin_clear(now, AfterClear::TellStopped);
    }

    // ---- time ----

    fn deadlines(&mut self, now: Tick) {
        match self.phase {
            Phase::Closed { again } => {
                if now >= again {
                    self.phase = Phase::Closed { again: now.after_ms(self.ms(REOPEN_MS)) };
                    self.outs.push_back(Output::Reopen);
                }
            }
            Phase::Settling { until } => {
                if now >= until {
                    self.phase = Phase::Settling { until: now.after_ms(self.ms(self.profile.keys.greeting_within_ms)) };
                    self.report_asked = None;
                    let why = "the controller does not answer. Is it switched on, and is the baud rate right?";
                    self.report(Report::Down { why: why.to_owned(), at: None, epoch: self.epoch });
                }
            }
            Phase::Up => self.deadlines_up(now),
        }
    }

    fn deadlines_up(&mut self, now: Tick) {
        let silence = match self.task {
            Some(Task::Home { .. }) => HOMING_MS,
            _ => SILENCE_MS,
        };
        if now > self.report_got.after_ms(self.ms(silence)) {
            return self.fell_silent(now);
        }
        if let Some(Task::Clear { since, step: ClearStep::WaitHeld, then, .. }) = self.task
            && now > since.after_ms(self.ms(CLEAR_MS))
        {
            self.reset(now, then, true);
        }
        let hold_late = matches!(&self.stretch, Some(Stretch { pause: Pause::HoldAsked(since), .. })
            if now > since.after_ms(self.ms(HOLD_MS)));
        if hold_late && !self.hold_told {
            self.hold_told = true;
            self.report(Report::HoldUnconfirmed);
        }
        let ready = self.state.is_some_and(|s| s.word == StateWord::Ready);
        if ready
            && !self.flight.is_empty()
            && now > self.last_answer.after_ms(self.ms(STALL_MS))
            && self.stretch.is_some()
        {
            let what = "it left lines unanswered and stands still".to_owned();
            self.fault(now, what, PositionAfter::Kept);
        }
    }

    fn fell_silent(&mut self, now: Tick) {
        let at = self.reached();
        self.bump();
        self.drop_work();
        self.state = None;
        self.report_asked = None;
        self.phase = Phase::Settling { until: now.after_ms(self.ms(self.profile.keys.greeting_within_ms)) };
        let why = "the controller fell silent".to_owned();
        self.report(Report::Down { why, at, epoch: self.epoch });
    }

    // ---- writing ----

    fn write(&mut self, now: Tick) {
        if self.phase != Phase::Up {
            return;
        }
        while let Some(line) = self.task_lines.front() {
            if !self.fits(line.len()) {
                break;
            }
            let Some(line) = self.task_lines.pop_front() else {
                break;
            };
            self.send_line(now, line.as_bytes(), Owner::Task);
        }
        self.write_stretch(now);
    }

    fn fits(&self, bytes: usize) -> bool {
        let whole = bytes + self.profile.keys.line_end.len();
        self.flight.is_empty() || self.unanswered + whole <= self.window()
    }

    fn write_stretch(&mut self, now: Tick) {
        if self.task.is_some_and(|t| t != Task::Spindle) {
            return;
        }
        loop {
            let Some(s) = &self.stretch else { return };
            if !s.flows() {
                return;
            }
            let Some(line) = s.front() else { break };
            if line.bytes.is_empty() && matches!(line.then, Then::Asks { .. } | Then::ChangesBit { .. }) {
                if let Some(s) = &mut self.stretch {
                    s.pause = Pause::AskSent;
                }
                self.ready_since_answer = false;
                return;
            }
            let len = line.bytes.len();
            if !self.fits(len) {
                break;
            }
            let Some(line) = self.stretch.as_mut().and_then(Stretch::pop) else {
                return;
            };
            self.send_line(now, &line.bytes, Owner::Stretch { line: line.source_line, end: line.end });
        }
        self.want_lines();
    }

    fn want_lines(&mut self) {
        let room = WINDOWS_READY * self.window().max(64);
        let Some(s) = &mut self.stretch else { return };
        if s.more && !s.wanted && s.queued_bytes() < room / 2 {
            s.wanted = true;
            let bytes = room - s.queued_bytes();
            self.report(Report::WantsLines { bytes });
        }
    }

    fn send_line(&mut self, now: Tick, text: &[u8], of: Owner) {
        let mut bytes = Vec::with_capacity(text.len() + 2);
        bytes.extend_from_slice(text);
        bytes.extend_from_slice(self.profile.keys.line_end.as_bytes());
        if self.flight.is_empty() {
            // the stall rule counts from the first line that waits
            self.last_answer = now;
        }
        self.unanswered += bytes.len();
        self.ready_since_answer = false;
        self.flight.push_back(InFlight { bytes: bytes.len(), of });
        self.outs.push_back(Output::Send { bytes, urgent: false });
    }

    fn ask_report(&mut self, now: Tick) {
        if matches!(self.phase, Phase::Closed { .. }) {
            return;
        }
        let due = self.report_asked.is_none_or(|asked| now >= asked.after_us(self.report_every_us() * 4));
        let rested = now >= self.report_got.after_us(self.report_every_us());
        if due && (rested || self.report_asked.is_some()) {
            self.urgent(&self.profile.keys.at_once.report.clone());
            self.report_asked = Some(now);
        }
    }

    fn report_every_us(&self) -> u64 {
        let busy = self.stretch.is_some() || self.task.is_some();
        let hz = self.profile.keys.reports_hz;
        // in practice time runs fast; the real line is asked no more often than a real one would be at 20 Hz
        let hz = if busy { hz.moving } else { hz.still };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "positive and small")]
        let us = (1.0e6 / hz.clamp(0.2, 50.0)).max(1.0e6 / 50.0 * self.rate) as u64;
        us
    }

    fn wake(&self, now: Tick) -> Tick {
        match self.phase {
            Phase::Closed { again } => again,
            Phase::Settling { until } => until.min(now.after_us(self.report_every_us())),
            Phase::Up => now.after_us(self.report_every_us() / 2),
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

/// Profile texts hold single bytes as characters.
fn latin1(text: &str) -> Vec<u8> {
    text.chars().filter_map(|c| u8::try_from(u32::from(c)).ok()).collect()
}
