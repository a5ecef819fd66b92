//! The conversation itself: who may speak, what is waited for, what every silence means.

use super::heard::Ear;
use super::stretch::{Pause, Stretch};
use super::wire::{ControllerState, Input, Output, Reached, Report, StateWord};
use crate::floor::permit::Epoch;
use crate::shop::profile::{Flow, PositionAfter, Profile};
use chargehand_types::quantity::{Point, Tick};
use std::collections::VecDeque;
use std::sync::Arc;

/// Real milliseconds a deadline is never shorter than.
const LEAST_REAL_MS: f64 = 250.0;
/// Machine milliseconds without a report until the controller counts as silent.
const SILENCE_MS: u64 = 1500;
/// Machine milliseconds in which a hold is confirmed.
pub(in crate::link) const HOLD_MS: u64 = 1000;
/// Machine milliseconds that lines may wait for their answers while the machine stands ready.
const STALL_MS: u64 = 2000;
/// Machine milliseconds between attempts at a lost port.
const REOPEN_MS: u64 = 1000;
/// Machine milliseconds until a hold before a stop counts as failed and the stop is made all the same.
const CLEAR_MS: u64 = 2000;
/// Machine milliseconds homing may take.
const HOMING_MS: u64 = 180_000;
/// Windows of bytes kept ready.
pub(in crate::link) const WINDOWS_READY: usize = 4;

/// What the link needs beside the profile.
#[derive(Debug, Clone, Copy)]
pub struct Settings {
    /// Machine seconds a real second.
    pub rate: f64,
}

/// One conversation with one controller.
pub struct Link {
    pub(in crate::link) profile: Arc<Profile>,
    pub(in crate::link) rate: f64,
    pub(in crate::link) phase: Phase,
    pub(in crate::link) epoch: Epoch,
    pub(in crate::link) ear: Ear,
    pub(in crate::link) outs: VecDeque<Output>,
    /// Lines written and not answered: their bytes, and what they belong to.
    pub(in crate::link) flight: VecDeque<InFlight>,
    pub(in crate::link) unanswered: usize,
    pub(in crate::link) stretch: Option<Stretch>,
    pub(in crate::link) task: Option<Task>,
    /// Lines of a task not yet written.
    pub(in crate::link) task_lines: VecDeque<String>,
    pub(in crate::link) state: Option<ControllerState>,
    pub(in crate::link) report_asked: Option<Tick>,
    pub(in crate::link) report_got: Tick,
    pub(in crate::link) last_answer: Tick,
    pub(in crate::link) ready_since_answer: bool,
    pub(in crate::link) hold_told: bool,
    /// A resume was sent then; reports of holding may still be on their way.
    pub(in crate::link) leaving_hold: Option<Tick>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::link) enum Phase {
    /// The port is not open.
    Closed { again: Tick },
    /// Open; nothing is believed until a report comes.
    Settling { until: Tick },
    /// It reports.
    Up,
}

#[derive(Debug, Clone)]
pub(in crate::link) struct InFlight {
    pub bytes: usize,
    pub of: Owner,
}

#[derive(Debug, Clone)]
pub(in crate::link) enum Owner {
    Stretch { line: u32, end: Point },
    Task,
}

/// Something short that is under way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::link) enum Task {
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
pub(in crate::link) enum ClearStep {
    WaitHeld,
    WaitBack,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::link) enum AfterClear {
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

    pub(in crate::link) fn ms(&self, machine_ms: u64) -> u64 {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rates are small and positive")]
        let least = (LEAST_REAL_MS * self.rate) as u64;
        machine_ms.max(least)
    }

    pub(in crate::link) fn report(&mut self, report: Report) {
        self.outs.push_back(Output::Report(report));
    }

    pub(in crate::link) fn urgent(&mut self, bytes: &str) {
        if !bytes.is_empty() {
            self.outs.push_back(Output::Send { bytes: latin1(bytes), urgent: true });
        }
    }

    pub(in crate::link) fn window(&self) -> usize {
        match self.profile.keys.flow {
            Flow::Window { window } => usize::from(window),
            Flow::OneAtATime | Flow::Numbered { .. } => 1,
        }
    }

    pub(in crate::link) fn reached(&self) -> Option<Reached> {
        self.stretch.as_ref().map(|s| s.path.reached())
    }

    pub(in crate::link) fn bump(&mut self) {
        self.epoch = self.epoch.next();
    }

    /// Forgets everything that was under way.
    pub(in crate::link) fn drop_work(&mut self) {
        self.stretch = None;
        self.task = None;
        self.task_lines.clear();
        self.flight.clear();
        self.unanswered = 0;
        self.hold_told = false;
        self.outs.push_back(Output::DropUnsent);
    }

    pub(in crate::link) fn opened(&mut self, now: Tick) {
        self.ear.clear();
        self.flight.clear();
        self.unanswered = 0;
        self.state = None;
        self.report_asked = None;
        self.phase = Phase::Settling { until: now.after_ms(self.ms(self.profile.keys.greeting_within_ms)) };
    }

    pub(in crate::link) fn lost(&mut self, now: Tick, why: &str) {
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

    pub(in crate::link) fn deadlines(&mut self, now: Tick) {
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

    pub(in crate::link) fn deadlines_up(&mut self, now: Tick) {
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

    pub(in crate::link) fn fell_silent(&mut self, now: Tick) {
        let at = self.reached();
        self.bump();
        self.drop_work();
        self.state = None;
        self.report_asked = None;
        self.phase = Phase::Settling { until: now.after_ms(self.ms(self.profile.keys.greeting_within_ms)) };
        let why = "the controller fell silent".to_owned();
        self.report(Report::Down { why, at, epoch: self.epoch });
    }
}

/// Profile texts hold single bytes as characters.
fn latin1(text: &str) -> Vec<u8> {
    text.chars().filter_map(|c| u8::try_from(u32::from(c)).ok()).collect()
}
