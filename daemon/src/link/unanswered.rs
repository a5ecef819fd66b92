//! Tests of when lines that nobody answers are called so.

use super::wire::{Command, Input, Output, Report};
use super::{Link, Settings};
use crate::floor::permit::{Class, Epoch, Permit};
use crate::shop::profile::{ACKNOWLEDGED_WINDOW, profile};
use chargehand_types::act::Axis;
use chargehand_types::quantity::{Feed, Length, Tick};
use std::sync::Arc;

const STANDS: &[u8] = b"<Idle|MPos:1.000,2.000,-3.000|WCO:0.000,0.000,0.000>\r\n";

/// A link and what it says, at a controller that answers reports alone.
struct Bench {
    link: Link,
    now: Tick,
    /// A report was asked for and not answered.
    asked: bool,
    heard: Vec<Report>,
}

impl Bench {
    fn new(rate: f64) -> Self {
        let profile = Arc::new(profile("p", ACKNOWLEDGED_WINDOW).unwrap());
        let link = Link::new(profile, Settings { rate });
        let mut bench = Self { link, now: Tick(0), asked: false, heard: Vec::new() };
        bench.take(Input::Opened);
        while !bench.heard.iter().any(|r| matches!(r, Report::Up { .. })) {
            bench.until_ms(bench.now.0 / 1000 + 10, true);
        }
        bench
    }

    fn take(&mut self, input: Input<'_>) {
        self.link.take(self.now, input);
        while let Some(output) = self.link.next_output() {
            match output {
                Output::Send { bytes, urgent: true } => self.asked |= bytes == b"?",
                Output::Report(report) => self.heard.push(report),
                _ => {}
            }
        }
    }

    /// Time passes; what is asked is answered at once, or not.
    fn until_ms(&mut self, ms: u64, answers: bool) {
        while self.now < Tick(ms * 1000) {
            self.now = self.now.after_ms(5);
            self.take(Input::Woke);
            if answers && std::mem::take(&mut self.asked) {
                self.take(Input::Bytes(STANDS));
            }
        }
    }

    fn moves_by_hand(&mut self) {
        let (by, feed) = (Length::whole_mm(1), Feed(600_000_000));
        let permit = Permit::for_tests(Class::Hand, Epoch::default());
        self.take(Input::Command(Command::HandMove { permit, axis: Axis::X, by, feed }));
    }

    fn given_up(&self) -> bool {
        self.heard.iter().any(|r| matches!(r, Report::NotDone { .. } | Report::Fault { .. }))
    }
}

#[test]
fn a_report_asked_for_before_the_lines_could_arrive_says_nothing_of_them() {
    let mut bench = Bench::new(1.0);
    let begun = bench.now.0 / 1000;
    bench.moves_by_hand();
    bench.until_ms(begun + 1400, true);
    assert!(!bench.given_up(), "it is not time yet");
    // this one is long on its way: it tells of a time when there was still time
    bench.until_ms(begun + 2500, false);
    assert!(bench.asked);
    bench.take(Input::Bytes(STANDS));
    bench.asked = false;
    assert!(!bench.given_up(), "{:?}", bench.heard);
    bench.until_ms(begun + 3500, true);
    assert!(bench.given_up(), "{:?}", bench.heard);
}

#[test]
fn practised_on_faster_than_time_it_is_waited_for_as_long() {
    let mut bench = Bench::new(20.0);
    let begun = bench.now.0 / 1000;
    bench.moves_by_hand();
    bench.until_ms(begun + 39_000, true);
    assert!(!bench.given_up(), "{:?}", bench.heard);
    bench.until_ms(begun + 45_000, true);
    assert!(bench.given_up());
}
