//! Commands on their way to the thread. Hold and stop pass everything, and what they pass does not start afterwards.

use crate::floor::permit::VoidPermit;
use crate::link::wire::{Command, NotDone, Report};
use std::collections::VecDeque;

/// Commands that may wait; a thread that lets more wait is in trouble.
const MOST_WAITING: usize = 1024;

/// What waits.
#[derive(Debug, Default)]
pub(in crate::serial) struct Queue {
    urgent: VecDeque<Command>,
    ordinary: VecDeque<Command>,
    /// What will not be carried out, and why.
    refused: VecDeque<Report>,
}

impl Queue {
    /// Adds one.
    pub fn push(&mut self, command: Command) {
        match command {
            Command::Hold | Command::Stop => {
                self.pass_over(&command);
                self.urgent.push_back(command);
                // a key that is held down repeats; one of each kind says it all
                while self.urgent.len() > MOST_WAITING {
                    self.urgent.pop_front();
                }
            }
            // lines are never left out of a program; no more of them come than were asked for
            Command::Lines(_) | Command::NoMoreLines => self.ordinary.push_back(command),
            _ if self.ordinary.len() >= MOST_WAITING => {
                self.refused.push_back(command.undone(NotDone::Busy("too many commands wait already")));
                self.refused.truncate(MOST_WAITING);
            }
            _ => self.ordinary.push_back(command),
        }
    }

    /// Takes out what must not begin after a hold or stop that came later than it.
    fn pass_over(&mut self, urgent: &Command) {
        let stops = matches!(urgent, Command::Stop);
        for command in std::mem::take(&mut self.ordinary) {
            match command {
                Command::Home(_)
                | Command::Unlock(_)
                | Command::HandMove { .. }
                | Command::Over { .. }
                | Command::Run { .. }
                | Command::Touch { .. }
                | Command::Begin(_)
                | Command::Resume(_)
                | Command::Raise { .. } => {
                    self.refused.push_back(command.undone(VoidPermit::BeforeAStop.into()));
                }
                Command::Lines(_) | Command::NoMoreLines if stops => {}
                Command::SetWorkZero { .. }
                | Command::ZeroHere { .. }
                | Command::Lines(_)
                | Command::NoMoreLines
                | Command::Hold
                | Command::HoldAtLift
                | Command::KeepRunning
                | Command::Stop
                | Command::Override(_)
                | Command::Spindle(_) => self.ordinary.push_back(command),
            }
        }
    }

    /// The next to be carried out.
    pub fn pop(&mut self) -> Option<Command> {
        self.urgent.pop_front().or_else(|| self.ordinary.pop_front())
    }

    /// The report of the next that will not be.
    pub fn pop_refused(&mut self) -> Option<Report> {
        self.refused.pop_front()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::permit::{Class, Epoch, Permit};
    use crate::link::wire::Wanted;

    fn permit() -> Permit {
        Permit::for_tests(Class::Cut, Epoch::default())
    }

    fn names(queue: &mut Queue) -> Vec<String> {
        std::iter::from_fn(|| queue.pop())
            .map(|c| format!("{c:?}").split(['(', ' ']).next().unwrap().to_owned())
            .collect()
    }

    #[test]
    fn a_hold_passes_what_waits() {
        let mut queue = Queue::default();
        queue.push(Command::Lines(Vec::new()));
        queue.push(Command::HoldAtLift);
        queue.push(Command::Hold);
        assert_eq!(names(&mut queue), ["Hold", "Lines", "HoldAtLift"]);
        assert!(queue.pop_refused().is_none());
    }

    #[test]
    fn nothing_starts_after_a_later_hold() {
        let mut queue = Queue::default();
        queue.push(Command::Begin(permit()));
        queue.push(Command::Lines(Vec::new()));
        queue.push(Command::Hold);
        queue.push(Command::Resume(permit()));
        assert_eq!(names(&mut queue), ["Hold", "Lines", "Resume"]);
        let why = NotDone::Permit(VoidPermit::BeforeAStop);
        let told = Report::NotDone { what: Wanted::Stretch, of: Some(Epoch::default()), why };
        assert_eq!(queue.pop_refused(), Some(told));
    }

    #[test]
    fn a_stop_drops_the_lines_as_well() {
        let mut queue = Queue::default();
        queue.push(Command::Lines(Vec::new()));
        queue.push(Command::NoMoreLines);
        queue.push(Command::Spindle(None));
        queue.push(Command::Stop);
        assert_eq!(names(&mut queue), ["Stop", "Spindle"]);
    }

    #[test]
    fn the_queue_has_an_end() {
        let mut queue = Queue::default();
        for _ in 0..=MOST_WAITING {
            queue.push(Command::HoldAtLift);
        }
        queue.push(Command::Stop);
        assert!(matches!(queue.pop(), Some(Command::Stop)));
        assert_eq!(names(&mut queue).len(), MOST_WAITING);
        assert!(matches!(
            queue.pop_refused(),
            Some(Report::NotDone { what: Wanted::HoldAtLift, of: None, why: NotDone::Busy(_) })
        ));
    }
}
