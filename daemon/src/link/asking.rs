//! Controllers without bytes that act at once: a report is asked for by a line, and that everything has run out is
//! known by the answer to a line that waits for it. And numbered lines that are asked for again.

use super::conversation::{Link, Owner, Phase};
use super::heard::Told;
use super::numbered::{Numbering, Request};
use super::stretch::Pause;
use super::wire::{ControllerState, Output, Report, StateWord};
use crate::shop::profile::Flow;
use chargehand_types::quantity::Tick;

/// Machine milliseconds of quiet before lines are written again: what it still says meanwhile belongs to lines that it
/// threw away.
const QUIET_MS: u64 = 100;

impl Link {
    pub(in crate::link) fn asks_by_line(&self) -> bool {
        self.profile.keys.at_once.report.is_empty()
    }

    /// A line was written that may move it.
    pub(in crate::link) fn works_again(&mut self) {
        self.run_out = false;
        if self.asks_by_line()
            && let Some(state) = &mut self.state
        {
            state.word = StateWord::Cutting;
        }
    }

    pub(in crate::link) fn ask_by_line(&mut self, now: Tick) {
        let due = self.asked_at.is_none_or(|at| now >= at.after_us(self.report_every_us()));
        let report = self.profile.keys.commands.report.clone();
        match self.phase {
            Phase::Closed { .. } => {}
            Phase::Settling { .. } if due => {
                self.flight.clear();
                self.unanswered = 0;
                self.asked_at = Some(now);
                self.told = false;
                self.send_line(now, report.as_bytes(), Owner::Report);
            }
            Phase::Settling { .. } => {}
            Phase::Up => {
                if self.wants_to_know() && self.fits(0) {
                    let run_out = self.profile.keys.commands.run_out.clone();
                    self.send_line(now, run_out.as_bytes(), Owner::RunOut);
                }
                let asked = self.flight.iter().any(|f| matches!(f.of, Owner::Report));
                if (due || self.run_out) && !asked && self.fits(0) {
                    self.asked_at = Some(now);
                    self.told = false;
                    self.send_line(now, report.as_bytes(), Owner::Report);
                }
            }
        }
    }

    /// Nothing more is to be written, and whether it all has run out is not known.
    fn wants_to_know(&self) -> bool {
        let asked = self.flight.iter().any(|f| matches!(f.of, Owner::RunOut));
        let ready = self.state.is_some_and(|s| s.word == StateWord::Ready);
        if asked || ready || self.run_out || !self.task_lines.is_empty() {
            return false;
        }
        self.task.is_some()
            || self.stretch.as_ref().is_none_or(|s| {
                matches!(s.pause, Pause::HoldAsked(_) | Pause::LiftSent | Pause::AskSent) || s.is_written()
            })
    }

    /// The line that waits for all before it was answered, and the report asked for after it came: only that tells
    /// whose answer it was.
    pub(in crate::link) fn has_run_out(&mut self, now: Tick) {
        if !std::mem::take(&mut self.run_out) || self.flight.iter().any(|f| f.of.works()) || !self.task_lines.is_empty()
        {
            return;
        }
        let blank = ControllerState {
            per_cent: None,
            word: StateWord::Ready,
            machine: None,
            work: None,
            feed: None,
            speed: None,
            pins: super::wire::Pins::default(),
        };
        let state = ControllerState { word: StateWord::Ready, ..self.state.unwrap_or(blank) };
        self.state = Some(state);
        self.ready_since_answer = true;
        self.report(Report::State(state));
        self.follow_state(now, StateWord::Ready);
    }

    /// A report in answer to a line: every line before it has been taken, answered or not.
    pub(in crate::link) fn told_by_line(&mut self, now: Tick, told: Told) {
        if !self.flight.iter().any(|f| matches!(f.of, Owner::Report)) {
            return self.out_of_step(now, "it answers more than it was asked");
        }
        self.told = true;
        while self.flight.front().is_some_and(|f| !matches!(f.of, Owner::Report)) {
            self.answered(now, None);
        }
        let word = match self.state {
            Some(state) if state.word == StateWord::Ready => StateWord::Ready,
            _ => StateWord::Cutting,
        };
        self.reported(now, Told { state: ControllerState { word, ..told.state }, ..told });
        self.has_run_out(now);
    }

    pub(in crate::link) fn asked_again(&mut self, now: Tick, number: Option<u32>) {
        let numbered = matches!(self.profile.keys.flow, Flow::Numbered { .. });
        let Some(number) = number.filter(|_| numbered) else {
            return self.out_of_step(now, "it asks for a line by a number that cannot be read");
        };
        let due = now.after_ms(QUIET_MS);
        if let Some((until, from)) = &mut self.again
            && *from == number
        {
            *until = due;
            return;
        }
        match self.numbering.asked(number) {
            Request::From(number) => {
                while self.flight.front().is_some_and(|f| f.number < number) {
                    self.answered(now, None);
                }
                self.flight.clear();
                self.unanswered = 0;
                self.outs.push_back(Output::DropUnsent);
                self.again = Some((due, number));
            }
            Request::AllTaken => {
                while !self.flight.is_empty() {
                    self.answered(now, None);
                }
            }
            Request::CountsFrom(number) => self.count_from(number),
            Request::Cannot(why) => self.out_of_step(now, why),
        }
    }

    /// It has taken none of our numbers yet: it counts from elsewhere, as after a link that was lost.
    fn count_from(&mut self, number: u32) {
        let lines = self.numbering.from(0);
        for kept in lines.into_iter().rev().filter(|k| k.of.is_short()) {
            self.task_lines.push_front((String::from_utf8_lossy(&kept.text).into_owned(), kept.of));
        }
        self.flight.clear();
        self.unanswered = 0;
        self.outs.push_back(Output::DropUnsent);
        self.numbering = Numbering::default();
        self.numbering.count_from(number);
        self.asked_at = None;
    }
}
