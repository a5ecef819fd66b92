//! What must hold for any bytes at all, as functions that panic where it does not: called by the fuzz targets and, on
//! generated programs, by the tests.
//!
//! Uses nothing but the daemon's own library, so that the fuzz targets can take this file as it is.

use chargehand_daemon::program::motion::{Doing, Modal, Move, MoveKind, Start, Step, Turning};
use chargehand_daemon::program::{Reader, steps};
use chargehand_daemon::sending::{SentLine, lines};
use chargehand_daemon::shop::understands::Understands;
use chargehand_types::quantity::{Length, Point, Rpm};

/// Steps looked at of one input: a few bytes can ask for a great many.
const MOST_STEPS: usize = 20_000;
/// Faults that are kept, and the one that says that there were more.
const MOST_FAULTS: usize = 101;
/// What an arc's radius (mm) and sweep (rad) may change by when its radius is written as a centre of nine decimals.
const ROUNDING: f64 = 1.0e-4;

/// The machine before the program: work zero away from the machine's own, the bit above the sheet.
fn start() -> Start {
    Start {
        at: Point::new(Length::ZERO, Length::ZERO, Length::whole_mm(60)),
        work_zero: Point::new(Length::whole_mm(10), Length::whole_mm(10), Length::whole_mm(-60)),
        arc_tolerance: Length(13_000),
    }
}

/// Reading: whole and in pieces give the same steps, faults and facts, and moves join up.
///
/// The first byte is the size of the pieces, the rest is the program.
pub fn reading(data: &[u8]) {
    let Some((size, text)) = data.split_first() else { return };
    let mut whole = steps(text, start());
    let mut pieces = Pieces::new(text, usize::from(*size).max(1));
    let mut at = start().at;
    for _ in 0..MOST_STEPS {
        let (one, other) = (whole.next(), pieces.next());
        assert_eq!(one, other, "whole and in pieces of {size}");
        let Some(step) = one else { break };
        assert!(step.place.line >= 1 && step.place.column >= 1);
        let Doing::Move(made) = step.doing else { continue };
        assert!(made.named != 0 && made.named < 8);
        if whole.faults().is_empty() {
            assert_eq!(made.from, at, "a move begins where the last one ended");
        }
        at = made.to;
    }
    if whole.next().is_none() && pieces.next().is_none() {
        assert_eq!(whole.faults(), pieces.reader.faults());
        assert_eq!(whole.facts(), pieces.reader.facts());
        assert_eq!((whole.modal(), whole.at()), (pieces.reader.modal(), pieces.reader.at()));
    }
    assert!(whole.faults().len() <= MOST_FAULTS);
}

/// A reader fed a few bytes at a time.
struct Pieces<'a> {
    reader: Reader,
    rest: std::slice::Chunks<'a, u8>,
    finished: bool,
}

impl<'a> Pieces<'a> {
    fn new(text: &'a [u8], size: usize) -> Self {
        Self { reader: Reader::new(start()), rest: text.chunks(size), finished: false }
    }

    fn next(&mut self) -> Option<Step> {
        loop {
            if let Some(step) = self.reader.next() {
                return Some(step);
            }
            match self.rest.next() {
                Some(piece) => self.reader.push(piece),
                None if self.finished => return None,
                None => {
                    self.reader.finish();
                    self.finished = true;
                }
            }
        }
    }
}

/// Sending: where a program can be sent, what is sent makes the machine do what the program says, and nothing else;
/// every line is within the limit and comes from a line of the program, in order.
///
/// The first byte says what the controller is like, the rest is the program.
pub fn sending(data: &[u8]) {
    let Some((kind, text)) = data.split_first() else { return };
    let understands = controller(*kind);
    let exact = understands.radius_arcs;
    let limit = usize::from(understands.line_limit);
    let mut made = lines(text, start(), understands, Length::ZERO);
    let mut sent: Vec<SentLine> = made.by_ref().take(MOST_STEPS).collect();
    let sender = made.sender();
    if sent.len() >= MOST_STEPS || !sender.faults().is_empty() || !sender.reading_faults().is_empty() {
        return;
    }
    assert!(sent.windows(2).all(|w| (w[0].source_line, w[0].part) < (w[1].source_line, w[1].part)));
    assert!(sent.iter().all(|line| line.bytes.len() <= limit && line.source_line <= sender.lines_read()));
    let written: Vec<u8> = sent.drain(..).flat_map(|line| [&line.bytes, b"\n".as_slice()].concat()).collect();
    let (mut meant, mut told) = (Events::new(text), Events::new(&written));
    loop {
        let (one, other) = (meant.next(), told.next());
        let same = match (&one, &other) {
            (Some(one), Some(other)) => one.agrees(other, exact),
            (one, other) => one.is_none() && other.is_none(),
        };
        assert!(same, "{one:?} was written, {other:?} is sent as\n{}", String::from_utf8_lossy(&written));
        if one.is_none() {
            break;
        }
    }
    assert_eq!(told.reading.faults(), [], "{}", String::from_utf8_lossy(&written));
}

/// A controller by chance: shortening or not, radius arcs or not, the whole language or next to nothing, any window.
fn controller(kind: u8) -> Understands {
    let mut understands = Understands {
        shorten: kind & 1 == 0,
        window: u32::from(kind >> 3) * 8,
        line_limit: 250,
        ..Understands::default()
    };
    if kind & 2 != 0 {
        let few =
            ["0", "1", "2", "3", "4", "17", "18", "19", "20", "21", "53", "54", "90", "91", "92", "92.1", "93", "94"];
        understands.g = few.iter().map(|g| (*g).to_owned()).collect();
    }
    understands.radius_arcs = kind & 4 == 0;
    understands
}

/// One motion or dwell, and the machine around it.
#[derive(Debug)]
struct Event {
    doing: Doing,
    turning: Turning,
    speed: Option<Rpm>,
    coolant: (bool, bool),
}

impl Event {
    fn agrees(&self, other: &Self, exact: bool) -> bool {
        let around = self.turning == other.turning && self.speed == other.speed && self.coolant == other.coolant;
        let doing = match (&self.doing, &other.doing) {
            (Doing::Move(one), Doing::Move(other)) if !exact => same_but_for_rounding(one, other),
            (one, other) => one == other,
        };
        around && doing
    }
}

fn same_but_for_rounding(one: &Move, other: &Move) -> bool {
    let circle = match (one.kind, other.kind) {
        (MoveKind::Arc(a), MoveKind::Arc(b)) => {
            let wider = a.radius.max(1.0);
            a.plane == b.plane
                && (a.radius - b.radius).abs() < ROUNDING * wider
                && (a.sweep - b.sweep).abs() < ROUNDING * wider
        }
        (a, b) => a == b,
    };
    (one.from, one.to, one.pace) == (other.from, other.to, other.pace) && circle
}

/// What a program makes a machine do, as far as it can be seen.
struct Events<'a> {
    reading: chargehand_daemon::program::Steps<'a>,
}

impl<'a> Events<'a> {
    fn new(text: &'a [u8]) -> Self {
        Self { reading: steps(text, start()) }
    }

    fn next(&mut self) -> Option<Event> {
        let event = |doing, modal: Modal| Event {
            doing,
            turning: modal.turning,
            speed: modal.speed.filter(|_| modal.turning != Turning::Off),
            coolant: (modal.mist, modal.flood),
        };
        self.reading.by_ref().find_map(|step| match step.doing {
            Doing::Move(made) => Some(event(Doing::Move(Move { named: 0, of_cycle: false, ..made }), step.modal)),
            Doing::Dwell { .. } => Some(event(step.doing, step.modal)),
            _ => None,
        })
    }
}
