//! Writing: lines within the window, and the question for a report.

use super::conversation::{InFlight, Link, Owner, PIECE, Phase, READY, Task};
use super::numbered::framed;
use super::stretch::{Pause, Stretch};
use super::wire::{Output, Report};
use crate::sending::Then;
use crate::shop::profile::Flow;
use chargehand_types::quantity::Tick;

impl Link {
    pub(in crate::link) fn write(&mut self, now: Tick) {
        if self.phase != Phase::Up {
            return;
        }
        self.write_again(now);
        // each waits for the answer to the one before: after one that was refused nothing of it may follow
        if self.task_lines.front().is_some_and(|(line, _)| self.fits(line.len()))
            && !self.flight.iter().any(|f| f.of.is_short())
            && let Some((line, of)) = self.task_lines.pop_front()
        {
            self.send_line(now, line.as_bytes(), of);
        }
        self.write_stretch(now);
    }

    pub(in crate::link) fn fits(&self, bytes: usize) -> bool {
        let whole = bytes + self.profile.keys.line_end.len();
        match self.profile.keys.flow {
            Flow::Window { window } => self.flight.is_empty() || self.unanswered + whole <= usize::from(window),
            Flow::OneAtATime => self.flight.is_empty(),
            Flow::Numbered { lines } => self.again.is_none() && self.flight.len() < usize::from(lines),
        }
    }

    pub(in crate::link) fn write_stretch(&mut self, now: Tick) {
        if self.task.is_some_and(|t| !matches!(t, Task::Beside(_))) {
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
            self.send_line(now, &line.bytes, Owner::Stretch { line: line.source_line, passage: line.passage });
        }
        self.want_lines();
    }

    pub(in crate::link) fn want_lines(&mut self) {
        let Some(s) = &mut self.stretch else { return };
        let bytes = READY.saturating_sub(s.queued_bytes());
        if s.more && !s.wanted && bytes >= PIECE {
            s.wanted = true;
            self.report(Report::WantsLines { bytes });
        }
    }

    pub(in crate::link) fn send_line(&mut self, now: Tick, text: &[u8], of: Owner) {
        let numbered = matches!(self.profile.keys.flow, Flow::Numbered { .. });
        let (number, mut bytes) = if numbered { self.numbering.write(text, of) } else { (0, text.to_vec()) };
        bytes.extend_from_slice(self.profile.keys.line_end.as_bytes());
        if self.flight.is_empty() {
            // the stall rule counts from the first line that waits
            self.last_answer = now;
        }
        self.last_sent = now;
        self.unanswered += bytes.len();
        self.figures.unanswered(self.unanswered);
        if of.works() {
            self.ready_since_answer = false;
            self.works_again();
        }
        self.flight.push_back(InFlight { bytes: bytes.len(), of, number, again: false });
        self.outs.push_back(Output::Send { bytes, urgent: false });
    }

    /// Lines that were asked for again go out under their old numbers.
    fn write_again(&mut self, now: Tick) {
        let Some((_, number)) = self.again.take_if(|(due, _)| now >= *due) else { return };
        for kept in self.numbering.from(number) {
            let mut bytes = framed(kept.number, &kept.text);
            bytes.extend_from_slice(self.profile.keys.line_end.as_bytes());
            self.unanswered += bytes.len();
            self.last_answer = now;
            let line = InFlight { bytes: bytes.len(), of: kept.of, number: kept.number, again: kept.answered };
            self.flight.push_back(line);
            self.outs.push_back(Output::Send { bytes, urgent: false });
        }
    }

    pub(in crate::link) fn ask_report(&mut self, now: Tick) {
        if matches!(self.phase, Phase::Closed { .. }) {
            return;
        }
        if self.asks_by_line() {
            return self.ask_by_line(now);
        }
        let due = self.report_asked.is_none_or(|asked| now >= asked.after_us(self.report_every_us() * 4));
        let rested = now >= self.report_got.after_us(self.report_every_us());
        if due && (rested || self.report_asked.is_some()) {
            self.urgent(&self.profile.keys.at_once.report.clone());
            self.report_asked = Some(now);
            self.first_asked.get_or_insert(now);
            self.figures.asked(self.unanswered);
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
            Phase::Up => {
                let every = self.report_every_us();
                let half = now.after_us(every / 2);
                // with none asked for, nothing is due before the next is; a silence is looked at no less often
                let at_rest = self.report_asked.is_none() && !self.asks_by_line();
                let next = if at_rest { self.report_got.after_us(every).max(now.after_us(every / 8)) } else { half };
                let next = self.run_wake(now).map_or(next, |due| due.min(next));
                self.again.map_or(next, |(due, _)| due.min(next))
            }
        }
    }
}
