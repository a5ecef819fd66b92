//! The controller's own count of its receive buffer against ours: more in it than we know of means that an answer came
//! twice; nothing in it while several lines wait for theirs means that an answer was lost.

/// What the figures say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::link) enum Mismatch {
    /// It holds more than was sent and not answered.
    AnsweredTwice,
    /// It holds nothing, and lines wait for their answers.
    AnswerLost,
}

/// Bytes that its count may be off: some count an empty place of their ring.
const SLACK: usize = 2;

/// Both counts.
#[derive(Debug, Clone, Default)]
pub(in crate::link) struct Figures {
    /// Most bytes that it ever said to have free.
    room: usize,
    /// Most bytes unanswered since the last report was asked for.
    most_unanswered: usize,
    /// And between the one before and that: a hold asks anew while an answer may be on its way.
    most_before: usize,
}

impl Figures {
    /// A report is asked for now.
    pub const fn asked(&mut self, unanswered: usize) {
        self.most_before = self.most_unanswered;
        self.most_unanswered = unanswered;
    }

    /// So many are unanswered now.
    pub const fn unanswered(&mut self, bytes: usize) {
        if bytes > self.most_unanswered {
            self.most_unanswered = bytes;
        }
    }

    /// Whether it ever said how much is free.
    pub const fn told_once(&self) -> bool {
        self.room > 0
    }

    /// A report says that so many bytes are free; `rested` if it was asked for long after the last line and answer.
    pub fn told(&mut self, free: usize, lines: usize, rested: bool) -> Option<Mismatch> {
        self.room = self.room.max(free);
        let held = self.room - free;
        if held > self.most_unanswered.max(self.most_before) + SLACK {
            return Some(Mismatch::AnsweredTwice);
        }
        // one line may be in its hands: read, and not yet answered
        (held == 0 && lines > 1 && rested).then_some(Mismatch::AnswerLost)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_than_was_sent_is_an_answer_too_many() {
        let mut f = Figures::default();
        f.asked(0);
        assert_eq!(f.told(128, 0, false), None);
        f.asked(90);
        f.unanswered(100);
        f.unanswered(80);
        assert_eq!(f.told(28, 5, false), None);
        assert_eq!(f.told(26, 5, false), None);
        assert_eq!(f.told(25, 5, false), Some(Mismatch::AnsweredTwice));
        // an answer to the question before is still on its way
        f.asked(10);
        assert_eq!(f.told(30, 5, false), None);
    }

    #[test]
    fn an_empty_buffer_and_lines_that_wait_are_an_answer_too_few() {
        let mut f = Figures::default();
        f.asked(60);
        assert_eq!(f.told(128, 1, true), None, "one may be in its hands");
        assert_eq!(f.told(128, 3, false), None, "they may be on the way");
        assert_eq!(f.told(128, 3, true), Some(Mismatch::AnswerLost));
    }
}
