//! The conversation itself: who may speak, what is waited for, what every silence means.

use super::figures::Figures;
use super::heard::Ear;
use super::numbered::Numbering;
use super::stretch::{Pause, Stretch};
use super::wire::{ControllerState, Input, NotDone, Output, Reached, Report, StateWord, Wanted};
use crate::floor::permit::Epoch;
use crate::sending::Passage;
use crate::shop::profile::{HoldTakes, Keeps, PositionAfter, Profile};
use chargehand_types::act::Axis;
use chargehand_types::quantity::{Length, Point, Rpm, Tick};
use std::collections::VecDeque;
use std::sync::Arc;

/// Real milliseconds a deadline is never shorter than.
const LEAST_REAL_MS: f64 = 250.0;
/// Machine milliseconds in which a hold is confirmed, beside those until the next report.
pub(in crate::link) const HOLD_MS: u64 = 1000;
/// Machine milliseconds that lines may wait for their answers while the machine stands ready.
const STALL_MS: u64 = 2000;
/// Machine milliseconds between attempts at a lost port.
const REOPEN_MS: u64 = 1000;
/// Machine milliseconds until a hold before a stop counts as failed and the stop is made all the same.
const CLEAR_MS: u64 = 2000;
/// Machine milliseconds homing may take.
const HOMING_MS: u64 = 180_000;
/// Bytes kept ready for writing: whoever brings them may be held up by a slow disk for seconds, and the line shall not run
/// dry. At 115,200 baud they last for more than 5 s.
pub(in crate::link) const READY: usize = 64 * 1024;
/// More are asked for by so many: the fewer are made at once, the less memory is fetched and given back for them.
pub(in crate::link) const PIECE: usize = 4 * 1024;

/// What the link needs beside the profile.
#[derive(Debug, Clone, Copy)]
pub struct Settings {
    /// Machine seconds a real second.
    pub rate: f64,
}

/// One conversation with one controller.
#[derive(Clone)]
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
    pub(in crate::link) task_lines: VecDeque<(String, Owner)>,
    /// A line of it was taken: something may move.
    pub(in crate::link) task_taken: bool,
    pub(in crate::link) state: Option<ControllerState>,
    pub(in crate::link) report_asked: Option<Tick>,
    pub(in crate::link) report_got: Tick,
    /// When a report was asked for and none has come since, however often it was asked for again.
    pub(in crate::link) first_asked: Option<Tick>,
    /// When the last report was asked for that came: it tells how things stood then, or later.
    pub(in crate::link) tells_of: Tick,
    pub(in crate::link) last_answer: Tick,
    pub(in crate::link) ready_since_answer: bool,
    pub(in crate::link) hold_told: bool,
    /// Whether the move under way was to be held.
    pub(in crate::link) move_held: MoveHeld,
    pub(in crate::link) figures: Figures,
    pub(in crate::link) numbering: Numbering,
    /// Lines are to be written again, from this number on, once it has been quiet until then.
    pub(in crate::link) again: Option<(Tick, u32)>,
    /// When a report was last asked for by a line.
    pub(in crate::link) asked_at: Option<Tick>,
    /// The line that waits for all before it was answered, and nothing that works was written since.
    pub(in crate::link) run_out: bool,
    /// The report asked for by a line came; the answer to that line may follow.
    pub(in crate::link) told: bool,
    pub(in crate::link) last_sent: Tick,
    /// What it holds from before the link was lost may be half a line: to be thrown away before anything is sent.
    pub(in crate::link) tainted: bool,
    /// A plate is being touched.
    pub(in crate::link) touching: Option<super::touching::Touching>,
    /// An axis runs for as long as it is asked for.
    pub(in crate::link) running: Option<super::running::Running>,
    /// The spindle is to turn so, or not at all, as soon as nothing else is under way.
    pub(in crate::link) spindle_wanted: Option<Option<Rpm>>,
    /// The work zero that the task under way sets.
    pub(in crate::link) setting: Option<ZeroTo>,
}

/// How far the hold of a move has come that is no program's.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(in crate::link) enum MoveHeld {
    /// Nobody held it.
    No,
    /// It is told again for as long as it moves: its lines may not have been read when it was told first.
    Told,
    /// It was seen to stand. Let go by its own button it runs out, and nothing follows it.
    Stands,
}

/// A work zero that is being set.
#[derive(Debug, Clone, Copy)]
pub(in crate::link) enum ZeroTo {
    /// At this place of the machine.
    Place(Point),
    /// The axis shall read this where the bit stands.
    Here(Axis, Length),
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
    /// Its number, where lines are numbered.
    pub number: u32,
    /// It was answered before, and asked for again all the same.
    pub again: bool,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::link) enum Owner {
    Stretch {
        line: u32,
        passage: Passage,
    },
    Task,
    /// What goes on beside the task or the program.
    Beside(Wanted),
    /// Takes back what the first lines of a task set that was refused.
    Closing,
    /// Asks for a report.
    Report,
    /// Is answered once everything has run out; whether nothing was written after it.
    RunOut,
}

impl Owner {
    /// Whether the line may move or switch something.
    pub const fn works(self) -> bool {
        matches!(self, Self::Stretch { .. } | Self::Task | Self::Beside(_) | Self::Closing)
    }

    /// Whether it is a line of something short.
    pub const fn is_short(self) -> bool {
        matches!(self, Self::Task | Self::Beside(_) | Self::Closing)
    }
}

/// Something short that is under way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::link) enum Task {
    Home {
        since: Tick,
    },
    Hand,
    /// Up, then sideways to a place.
    Over,
    /// One leg of touching a plate.
    Touch,
    /// One axis, for as long as it is asked for.
    Run,
    Setting,
    Unlock,
    /// Goes on beside a program: the spindle, a change of feed.
    Beside(Wanted),
    /// After a stop or a refusal: hold, then reset, then it is clear.
    Clear {
        since: Tick,
        step: ClearStep,
        then: AfterClear,
        moving_blind: bool,
    },
    Raise,
}

impl Task {
    /// The command it carries out; none after a stop or a refusal.
    pub(in crate::link) fn wanted(self, setting: Option<ZeroTo>) -> Option<Wanted> {
        match self {
            Self::Home { .. } => Some(Wanted::Home),
            Self::Hand | Self::Over | Self::Run => Some(Wanted::HandMove),
            Self::Touch => Some(Wanted::Touch),
            Self::Setting if matches!(setting, Some(ZeroTo::Place(_))) => Some(Wanted::WorkZero),
            Self::Setting => Some(Wanted::ZeroHere),
            Self::Unlock => Some(Wanted::Unlock),
            Self::Beside(wanted) => Some(wanted),
            Self::Clear { .. } => None,
            Self::Raise => Some(Wanted::Raise),
        }
    }
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
    /// It was told already; that the position is lost, where the giving up costs it, is not.
    Silent,
    /// All was told, with where it stands.
    Told,
    /// The same, and home was asked for meanwhile.
    Home,
    /// The same, and to take motion again was.
    Unlock,
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
            task_taken: false,
            state: None,
            report_asked: None,
            report_got: Tick(0),
            first_asked: None,
            tells_of: Tick(0),
            last_answer: Tick(0),
            ready_since_answer: false,
            hold_told: false,
            move_held: MoveHeld::No,
            figures: Figures::default(),
            numbering: Numbering::default(),
            again: None,
            asked_at: None,
            run_out: false,
            told: false,
            last_sent: Tick(0),
            tainted: false,
            setting: None,
            spindle_wanted: None,
            touching: None,
            running: None,
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
        self.run_on(now);
        self.turn_spindle();
        if self.asks_by_line() {
            // there are few places in flight, and the program would take them all
            self.ask_report(now);
        }
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

    /// Machine milliseconds after which it has fallen silent.
    fn silent_ms(&self) -> u64 {
        self.patient_ms(self.profile.keys.silent_after_ms)
    }

    /// Practised on faster than time, it is waited for as long as a real one: what shares its processor makes it late.
    pub(in crate::link) fn patient_ms(&self, ms: u64) -> u64 {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rates are small and positive")]
        let ms = (ms as f64 * self.rate.max(1.0)) as u64;
        ms
    }

    pub(in crate::link) fn report(&mut self, report: Report) {
        self.outs.push_back(Output::Report(report));
    }

    pub(in crate::link) fn urgent(&mut self, bytes: &str) {
        if !bytes.is_empty() {
            self.outs.push_back(Output::Send { bytes: latin1(bytes), urgent: true });
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
        self.again = None;
        self.numbering.give_up();
        self.setting = None;
        self.spindle_wanted = None;
        self.touching = None;
        self.running = None;
        self.outs.push_back(Output::DropUnsent);
    }

    /// Nothing is known of it any more, but by asking.
    fn begin_settling(&mut self, now: Tick) {
        self.flight.clear();
        self.unanswered = 0;
        self.state = None;
        self.report_asked = None;
        self.asked_at = None;
        self.run_out = false;
        self.numbering = Numbering::default();
        self.phase = Phase::Settling { until: now.after_ms(self.ms(self.profile.keys.greeting_within_ms)) };
    }

    pub(in crate::link) fn opened(&mut self, now: Tick) {
        self.ear.clear();
        self.figures = Figures::default();
        self.begin_settling(now);
    }

    /// It starts anew, in the middle of work.
    pub(in crate::link) fn restarted(&mut self, now: Tick) {
        let at = self.reached();
        self.bump();
        // what was written since its start, before its greeting was heard, it may have received: it would do that uninvited;
        // and what a reset on its way has already counted as given up it may have answered before
        let gives_up = matches!(self.task, Some(Task::Clear { .. }));
        self.tainted = gives_up || self.flight.iter().any(|f| f.of.works());
        self.drop_work();
        self.begin_settling(now);
        self.report(Report::Restarted { at, epoch: self.epoch });
    }

    pub(in crate::link) fn lost(&mut self, now: Tick, why: &str) {
        let at = self.reached();
        self.tainted |= matches!(self.phase, Phase::Up);
        self.bump();
        self.drop_work();
        self.state = None;
        self.phase = Phase::Closed { again: now.after_ms(self.ms(REOPEN_MS)) };
        self.report(Report::Down { why: why.to_owned(), at, epoch: self.epoch });
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
                    self.asked_at = None;
                    let why = "the controller does not answer. Is it switched on, and is the baud rate right?";
                    self.report(Report::Down { why: why.to_owned(), at: None, epoch: self.epoch });
                }
            }
            Phase::Up => self.deadlines_up(now),
        }
    }

    pub(in crate::link) fn deadlines_up(&mut self, now: Tick) {
        let silence = match self.task {
            Some(Task::Home { .. }) => self.ms(HOMING_MS),
            _ => self.silent_ms(),
        };
        if now > self.report_got.after_ms(silence) {
            return self.fell_silent(now);
        }
        if let Some(Task::Clear { since, step: ClearStep::WaitHeld, then, .. }) = self.task
            && now > since.after_ms(self.ms(CLEAR_MS))
            && !self.profile.keys.at_once.reset.is_empty()
        {
            self.reset(now, then, true);
        }
        if let Some(Task::Home { since }) = self.task
            && now > since.after_ms(self.ms(HOMING_MS))
        {
            return self.home_not_found(now);
        }
        let hold_late = matches!(&self.stretch, Some(Stretch { pause: Pause::HoldAsked(since), .. })
            if now > since.after_ms(self.ms(HOLD_MS)).after_us(self.report_every_us()));
        if hold_late && !self.hold_told && self.profile.keys.hold == HoldTakes::AtOnce {
            self.hold_told = true;
            self.report(Report::HoldUnconfirmed);
        }
        self.stall(now);
    }

    /// It is told to give up where it can be; where it stands afterwards nobody knows.
    fn home_not_found(&mut self, now: Tick) {
        if self.profile.keys.at_once.reset.is_empty() {
            return self.fault("it has not found its home".to_owned(), PositionAfter::Lost, now);
        }
        self.bump();
        self.flight.clear();
        self.unanswered = 0;
        self.begin_clear(now, AfterClear::Silent);
    }

    /// Lines wait for their answers, and the machine stands: one of the two is wrong. (Home is looked for out of a fault,
    /// and some say so all the while.)
    fn stall(&mut self, now: Tick) {
        let homing = matches!(self.task, Some(Task::Home { .. }));
        let ready = self.state.is_some_and(|s| {
            s.word == StateWord::Ready || (!homing && matches!(s.word, StateWord::Faulted | StateWord::Asleep))
        });
        let waits = self.flight.iter().any(|f| f.of.works());
        // what it reported before says nothing of now: while it looks for home some say nothing at all
        let since = self.last_answer.after_us(self.dwells_us());
        // a report that is on its way for long tells of a time when the lines may not have been there yet
        let seen = if self.asks_by_line() { self.report_got } else { self.tells_of };
        if ready && waits && seen > since.after_ms(self.patient_ms(STALL_MS)) {
            self.out_of_step(now, "it left lines unanswered and stands still");
        }
    }

    /// Microseconds of dwells among the lines in flight.
    fn dwells_us(&self) -> u64 {
        let seconds: f64 = self
            .flight
            .iter()
            .map(|f| match f.of {
                Owner::Stretch { passage: Passage::Dwells(seconds), .. } => seconds,
                _ => 0.0,
            })
            .sum();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a cast from f64 saturates")]
        let us = (seconds.min(1.0e6) * 1.0e6) as u64;
        us
    }

    /// Answers no longer belong to lines, or cannot be read: nothing more is sent, and what it holds is given up.
    pub(in crate::link) fn out_of_step(&mut self, now: Tick, what: &str) {
        if matches!(self.task, Some(Task::Clear { .. })) {
            return;
        }
        if self.stretch.is_none() {
            if let Some(wanted) = self.task.and_then(|t| t.wanted(self.setting)) {
                self.give_up_task(now);
                self.report(Report::NotDone {
                    what: wanted,
                    of: Some(self.epoch),
                    why: NotDone::Refused(what.to_owned()),
                });
            }
            return;
        }
        let at = self.reached();
        self.bump();
        self.stretch = None;
        self.again = None;
        self.numbering.give_up();
        self.outs.push_back(Output::DropUnsent);
        self.begin_clear(now, AfterClear::Silent);
        self.report(Report::Fault { meaning: what.to_owned(), position_lost: false, at, epoch: self.epoch });
    }

    /// It may move still, and hold what it has not read: it is told to give both up, where that can be told.
    fn give_up_task(&mut self, now: Tick) {
        let keys = &self.profile.keys;
        let stands = self.state.is_some_and(|s| s.word == StateWord::Ready);
        let costs_nothing = keys.reset_when_held == Keeps::KeepsPosition;
        let told = !keys.at_once.reset.is_empty() && (costs_nothing || !stands);
        self.touching = None;
        self.running = None;
        self.task_lines.clear();
        self.flight.clear();
        self.unanswered = 0;
        self.again = None;
        if told {
            self.begin_clear(now, AfterClear::Silent);
        } else {
            self.task = None;
            self.tainted = true;
        }
    }

    pub(in crate::link) fn fell_silent(&mut self, now: Tick) {
        let at = self.reached();
        self.bump();
        self.drop_work();
        self.begin_settling(now);
        self.tainted = true;
        let why = "the controller fell silent".to_owned();
        self.report(Report::Down { why, at, epoch: self.epoch });
    }
}

/// Profile texts hold single bytes as characters.
pub(in crate::link) fn latin1(text: &str) -> Vec<u8> {
    text.chars().filter_map(|c| u8::try_from(u32::from(c)).ok()).collect()
}
