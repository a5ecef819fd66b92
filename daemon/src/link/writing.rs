//! Writing: lines within the window, and the question for a report.

use super::conversation::{InFlight, Link, Owner, Phase, Task, WINDOWS_READY};
use super::stretch::{Pause, Stretch};
use super::wire::{Output, Report};
use crate::sending::Then;
use chargehand_types::quantity::Tick;

impl Link {
    pub(in crate::link) fn write(&mut self, now: Tick) {
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

    pub(in crate::link) fn fits(&self, bytes: usize) -> bool {
        let whole = bytes + self.profile.keys.line_end.len();
        self.flight.is_empty() || self.unanswered + whole <= self.window()
    }

    pub(in crate::link) fn write_stretch(&mut self, now: Tick) {
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

    pub(in crate::link) fn want_lines(&mut self) {
        let room = WINDOWS_READY * self.window().max(64);
        let Some(s) = &mut self.stretch else { return };
        if s.more && !s.wanted && s.queued_bytes() < room / 2 {
            s.wanted = true;
            let bytes = room - s.queued_bytes();
            self.report(Report::WantsLines { bytes });
        }
    }

    pub(in crate::link) fn send_line(&mut self, now: Tick, text: &[u8], of: Owner) {
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

    pub(in crate::link) fn ask_report(&mut self, now: Tick) {
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

    pub(in crate::link) fn report_every_us(&self) -> u64 {
        let busy = self.stretch.is_some() || self.task.is_some();
        let hz = self.profile.keys.reports_hz;
        // in practice time runs fast; the real line is asked no more often than a real one would be at 20 Hz
        let hz = if busy { hz.moving } else { hz.still };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "positive and small")]
        let us = (1.0e6 / hz.clamp(0.2, 50.0)).max(1.0e6 / 50.0 * self.rate) as u64;
        us
    }

    pub(in crate::link) fn wake(&self, now: Tick) -> Tick {
        match self.phase {
            Phase::Closed { again } => again,
            Phase::Settling { until } => until.min(now.after_us(self.report_every_us())),
            Phase::Up => now.after_us(self.report_every_us() / 2),
        }
    }
}
