//! The cable between the real link and the practice machine, in time that is set: bytes there and back, pulled and
//! put in again. It looks at every line that is written, and counts what moves without having been allowed.

use chargehand_daemon::link::wire::{Command, Input, Output, Report};
use chargehand_daemon::link::{Link, Settings};
use chargehand_daemon::practice::Controller;
use chargehand_daemon::shop::profile::Profile;
use chargehand_types::quantity::Tick;
use std::collections::VecDeque;
use std::sync::Arc;

/// Link, cable, machine.
pub struct Cable {
    link: Link,
    /// The machine.
    pub machine: Controller,
    wake: Tick,
    in_until: Option<Tick>,
    is_in: bool,
    /// Motions that the link was given a permit for and that are not known to be over.
    allowed: bool,
    reports: VecDeque<Report>,
    /// Lines that would move something, written while no permit was in force.
    pub uninvited: Vec<String>,
    /// Bytes written.
    pub written: u64,
}

impl Cable {
    /// Opens the line to a machine.
    #[must_use]
    pub fn open(profile: Arc<Profile>, machine: Controller, now: Tick) -> Self {
        let link = Link::new(profile, Settings { rate: 1.0 });
        let mut cable = Self {
            link,
            machine,
            wake: now,
            in_until: None,
            is_in: true,
            allowed: false,
            reports: VecDeque::new(),
            uninvited: Vec::new(),
            written: 0,
        };
        cable.opened(now);
        cable
    }

    /// The daemon went and a new one opens the line: only the machine is the same.
    #[must_use]
    pub fn opened_anew(mut self, profile: Arc<Profile>, now: Tick) -> Self {
        self.machine.advance(now);
        self.machine.unplugged();
        let mut anew = Self::open(profile, self.machine, now);
        anew.uninvited = self.uninvited;
        anew.written = self.written;
        anew
    }

    fn opened(&mut self, now: Tick) {
        self.machine.opened(now);
        self.give(now, Input::Opened);
    }

    /// Pulls it, to be put in again then.
    pub fn pull(&mut self, now: Tick, back: Option<Tick>) {
        self.is_in = false;
        self.in_until = back;
        self.machine.unplugged();
        self.give(now, Input::Lost("the cable is out"));
    }

    /// Gives the link a command of the foreman.
    pub fn command(&mut self, now: Tick, command: Result<Command, Report>) {
        match command {
            Ok(command) => {
                let moves = matches!(
                    command,
                    Command::Home(_)
                        | Command::Unlock(_)
                        | Command::HandMove { .. }
                        | Command::Over { .. }
                        | Command::Run { .. }
                        | Command::Begin(_)
                        | Command::Resume(_)
                        | Command::Raise { .. }
                );
                self.allowed |= moves;
                self.give(now, Input::Command(command));
            }
            Err(report) => self.reports.push_back(report),
        }
    }

    /// Time has passed: bytes go to and fro.
    pub fn pass(&mut self, now: Tick) {
        self.machine.advance(now);
        if let Some(back_ms) = self.machine.take_unplug() {
            self.pull(now, back_ms.map(|ms| now.after_ms(u64::from(ms))));
        }
        if !self.is_in && self.in_until.is_some_and(|t| t <= now) {
            self.is_in = true;
            self.in_until = None;
        }
        let said = self.machine.output(now);
        if self.is_in && !said.is_empty() {
            self.give(now, Input::Bytes(&said));
        }
        if self.wake <= now {
            self.give(now, Input::Woke);
        }
    }

    /// What the link told since.
    pub fn told(&mut self) -> Option<Report> {
        self.reports.pop_front()
    }

    /// When something happens next.
    #[must_use]
    pub fn next(&self) -> Tick {
        let machine = self.machine.next_wake().unwrap_or(Tick(u64::MAX));
        let back = self.in_until.unwrap_or(Tick(u64::MAX));
        self.wake.min(machine).min(back)
    }

    fn give(&mut self, now: Tick, input: Input<'_>) {
        self.link.take(now, input);
        let mut reopen = false;
        while let Some(output) = self.link.next_output() {
            match output {
                Output::Send { bytes, .. } => self.send(now, &bytes),
                // what was written is on its way already
                Output::DropUnsent => {}
                Output::Reopen => reopen = true,
                Output::Report(report) => {
                    self.allowed &= !ends(&report);
                    self.reports.push_back(report);
                }
                Output::WakeAt(at) => self.wake = at,
            }
        }
        if reopen && self.is_in {
            self.opened(now);
        } else if reopen {
            self.give(now, Input::Lost("the cable is out"));
        }
    }

    fn send(&mut self, now: Tick, bytes: &[u8]) {
        if !self.allowed && moves(bytes) {
            self.uninvited.push(String::from_utf8_lossy(bytes).into_owned());
        }
        self.written += bytes.len() as u64;
        if self.is_in {
            self.machine.take(now, bytes);
        }
    }
}

/// Whether what was allowed is over with this.
const fn ends(report: &Report) -> bool {
    matches!(
        report,
        Report::Down { .. }
            | Report::Finished(_)
            | Report::Refused { .. }
            | Report::Fault { .. }
            | Report::Restarted { .. }
            | Report::Stopped { .. }
            | Report::Homed
            | Report::HandDone
            | Report::Raised { .. }
    )
}

/// Whether a line of RS-274 moves an axis (NISTIR 6556, table 5: G0 to G3 and axis words), or is one of the machine's own
/// words for hand moves and home. Lines that only set offsets (G10, G92) move nothing.
fn moves(bytes: &[u8]) -> bool {
    let text = String::from_utf8_lossy(bytes).to_ascii_uppercase();
    text.lines().any(|line| {
        let axis = line.contains(['X', 'Y', 'Z']) && line.chars().any(|c| c.is_ascii_digit());
        let sets = line.contains("G10") || line.contains("G92");
        line.starts_with("$H") || line.starts_with("$J") || line.contains("G28") || (axis && !sets)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_moves_is_known() {
        assert!(moves(b"G1X10F300\n") && moves(b"$H\n") && moves(b"G0Z3\n"));
        assert!(!moves(b"G10L2P1X0Y0Z0\n") && !moves(b"?") && !moves(b"M5\n"));
    }
}
