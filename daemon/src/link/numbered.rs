//! Numbered lines: number and checksum, lines kept until they cannot be asked for any more, and sending them again.
//!
//! May live here: the numbers. May not: what is sent, and when.

use super::conversation::Owner;
use std::collections::VecDeque;
use std::hash::{Hash, Hasher};

/// Lines kept for being asked for again.
const KEPT: usize = 12;
/// The same line is sent so often at most.
const MOST_TIMES: u32 = 8;

/// A line that was written.
#[derive(Debug, Clone)]
pub(in crate::link) struct Kept {
    pub number: u32,
    /// Its words alone.
    pub text: Vec<u8>,
    pub of: Owner,
    /// It was answered once already.
    pub answered: bool,
}

/// The numbers of a conversation.
#[derive(Debug, Clone)]
pub(in crate::link) struct Numbering {
    next: u32,
    kept: VecDeque<Kept>,
    /// It has taken one of our numbers: from then on it may only ask for lines that were sent.
    agreed: bool,
    asked: Option<(u32, u32)>,
}

/// What a request comes to.
#[derive(Debug, PartialEq, Eq)]
pub(in crate::link) enum Request {
    /// These are written again, from this number on.
    From(u32),
    /// It has taken everything that was written.
    AllTaken,
    /// It counts from this number; what was written goes out under new ones.
    CountsFrom(u32),
    /// It cannot be done.
    Cannot(&'static str),
}

impl Default for Numbering {
    fn default() -> Self {
        Self { next: 1, kept: VecDeque::new(), agreed: false, asked: None }
    }
}

impl Numbering {
    /// Gives a line its number, and its bytes without the line end.
    pub fn write(&mut self, text: &[u8], of: Owner) -> (u32, Vec<u8>) {
        let number = self.next;
        self.next = number.wrapping_add(1);
        while self.kept.len() >= KEPT {
            self.kept.pop_front();
        }
        let bytes = framed(number, text);
        self.kept.push_back(Kept { number, text: text.to_vec(), of, answered: false });
        (number, bytes)
    }

    /// The number of the next line.
    pub const fn next(&self) -> u32 {
        self.next
    }

    /// What decides how it goes on, with numbers counted from the next one.
    pub fn sketch<H: Hasher>(&self, into: &mut H) {
        for kept in &self.kept {
            (self.next.wrapping_sub(kept.number), &kept.text, kept.answered).hash(into);
        }
        (self.agreed, self.asked.map(|(n, times)| (self.next.wrapping_sub(n), times))).hash(into);
    }

    /// A line was answered.
    pub fn answered(&mut self, number: u32) {
        self.agreed = true;
        self.asked = None;
        if let Some(kept) = self.kept.iter_mut().find(|k| k.number == number) {
            kept.answered = true;
        }
    }

    /// What was written shall not be written again, whatever it asks for: it will be counted on from there instead.
    pub fn give_up(&mut self) {
        self.kept.clear();
        self.agreed = false;
        self.asked = None;
    }

    /// It asks for a line again.
    pub fn asked(&mut self, number: u32) -> Request {
        if !self.agreed {
            return Request::CountsFrom(number);
        }
        let times = match self.asked {
            Some((before, times)) if before == number => times + 1,
            _ => 1,
        };
        self.asked = Some((number, times));
        if number == self.next {
            Request::AllTaken
        } else if times > MOST_TIMES {
            Request::Cannot("it asks for the same line again and again")
        } else if self.kept.iter().any(|k| k.number == number) {
            Request::From(number)
        } else {
            Request::Cannot("it asks for a line that was not sent, or long ago")
        }
    }

    /// Everything from a number on.
    pub fn from(&self, number: u32) -> Vec<Kept> {
        self.kept.iter().filter(|k| k.number >= number).cloned().collect()
    }

    /// Counts from here; nothing is kept.
    pub fn count_from(&mut self, number: u32) {
        *self = Self { next: number, ..Self::default() };
    }
}

/// `N<number> <words>*<checksum>`: the checksum is the XOR of every byte before the star, in decimal (common practice
/// in open serial motion protocols; the routine is that of an NMEA 0183 sentence).
pub(in crate::link) fn framed(number: u32, text: &[u8]) -> Vec<u8> {
    let mut bytes = format!("N{number} ").into_bytes();
    bytes.extend_from_slice(text);
    let sum = checksum(&bytes);
    bytes.extend_from_slice(format!("*{sum}").as_bytes());
    bytes
}

fn checksum(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum ^ byte)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_checksum_is_that_of_a_published_example() {
        // NMEA 0183 sums the bytes between $ and *; the published example ends in *4C
        assert_eq!(checksum(b"GPRMC,000004,V,3714.6284,N,12146.9181,W,0.000,0.0,290697,15.4,E"), 0x4C);
        assert_eq!(checksum(b""), 0);
        assert_eq!(framed(1, b"G21"), b"N1 G21*27");
        assert_eq!(framed(42, b"G1 X10.5 Y-3.25 F1800"), b"N42 G1 X10.5 Y-3.25 F1800*93");
        assert_eq!(framed(3, b"M5"), b"N3 M5*37");
    }

    #[test]
    fn lines_are_sent_again_while_they_are_kept() {
        let mut n = Numbering::default();
        for text in [b"A", b"B", b"C"] {
            n.write(text, Owner::Task);
        }
        assert_eq!(n.asked(57), Request::CountsFrom(57), "it has not taken any of ours yet");
        n.answered(1);
        assert_eq!(n.asked(2), Request::From(2));
        assert_eq!(n.from(2).iter().map(|k| k.number).collect::<Vec<_>>(), [2, 3]);
        assert_eq!(n.asked(4), Request::AllTaken);
        assert!(matches!(n.asked(5), Request::Cannot(_)));
        for _ in 0..KEPT {
            n.write(b"D", Owner::Task);
        }
        assert!(matches!(n.asked(2), Request::Cannot(_)), "that is gone");
    }

    #[test]
    fn the_same_line_is_not_sent_for_ever() {
        let mut n = Numbering::default();
        n.write(b"A", Owner::Task);
        n.write(b"B", Owner::Task);
        n.answered(1);
        for _ in 0..MOST_TIMES {
            assert_eq!(n.asked(2), Request::From(2));
        }
        assert!(matches!(n.asked(2), Request::Cannot(_)));
    }
}
