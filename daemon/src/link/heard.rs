//! Bytes into lines, and a line into what it says, by the profile's patterns.

use super::wire::{ControllerState, Pins, StateWord};
use crate::shop::profile::{PositionAfter, Profile, State};
use chargehand_types::quantity::{Feed, Length, Point, Rpm};

/// Longest line that is listened to; a longer one is noise.
const LINE_LONGEST: usize = 512;

/// What a line says.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::link) enum Heard {
    /// A line was parsed.
    Acknowledged,
    /// A line was refused, and why.
    Refused(String),
    /// A fault, and whether position survives it.
    Fault(String, PositionAfter),
    /// A report.
    Report(Told),
    /// Where a probing move met something, in machine coordinates; none when it met nothing.
    Touched(Option<Length>),
    /// It asks for a numbered line again; none when the number cannot be read.
    Again(Option<u32>),
    /// It starts anew.
    Greeting,
    /// For people.
    Said(String),
    /// It is alive.
    Busy,
    /// Certainly no answer, and nothing else that is known.
    Aside,
    /// Anything else.
    Noise,
}

/// What a report tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::link) struct Told {
    /// State and places.
    pub state: ControllerState,
    /// The offset of the work frame, once it was told.
    pub offset: Option<Point>,
    /// Bytes free in its receive buffer.
    pub free: Option<usize>,
}

/// Gathers bytes into lines.
#[derive(Debug, Clone, Default)]
pub(in crate::link) struct Ear {
    line: Vec<u8>,
    /// The last line that acknowledged one. Most lines read like it, and need not be held against the patterns.
    acknowledged: Vec<u8>,
    offset: Option<Point>,
    /// It tells them now and then only.
    per_cent: Option<[u16; 2]>,
}

impl Ear {
    /// Forgets half a line and what was told before.
    pub fn clear(&mut self) {
        self.line.clear();
        self.offset = None;
        self.per_cent = None;
    }

    /// The offset of the work frame last told.
    pub const fn offset(&self) -> Option<Point> {
        self.offset
    }

    /// The work frame was set to this.
    pub const fn set_offset(&mut self, offset: Point) {
        self.offset = Some(offset);
    }

    /// Feeds and rapids were set to so much per cent.
    pub const fn set_per_cent(&mut self, per_cent: [u16; 2]) {
        self.per_cent = Some(per_cent);
    }

    /// Takes bytes; gives what whole lines say.
    pub fn take(&mut self, bytes: &[u8], profile: &Profile) -> Vec<Heard> {
        let mut heard = Vec::new();
        for &byte in bytes {
            if byte == b'\n' || byte == b'\r' {
                if self.line == self.acknowledged && !self.line.is_empty() {
                    self.line.clear();
                    heard.push(Heard::Acknowledged);
                } else if !self.line.is_empty() {
                    let text = String::from_utf8_lossy(&self.line).trim().to_owned();
                    if !text.is_empty() {
                        heard.push(self.line(&text, profile));
                        if heard.last() == Some(&Heard::Acknowledged) {
                            self.acknowledged.clone_from(&self.line);
                        }
                    }
                    self.line.clear();
                }
            } else if self.line.len() < LINE_LONGEST {
                self.line.push(byte);
            }
        }
        heard
    }

    fn line(&mut self, text: &str, profile: &Profile) -> Heard {
        let p = &profile.patterns;
        if p.acknowledged.is_match(text) {
            return Heard::Acknowledged;
        }
        if let Some(c) = p.report.captures(text) {
            return Heard::Report(self.report(&c, profile));
        }
        if let Some(c) = p.resend.captures(text) {
            return Heard::Again(c.name("number").and_then(|m| m.as_str().parse().ok()));
        }
        if p.greeting.is_match(text) {
            self.offset = None;
            self.per_cent = None;
            return Heard::Greeting;
        }
        if let Some(c) = p.said.captures(text) {
            return Heard::Said(c.name("text").map_or("", |m| m.as_str()).to_owned());
        }
        if let Some(c) = p.probe.captures(text) {
            let met = c.name("hit").is_some_and(|hit| hit.as_str() == "1");
            let z = c.name("z").and_then(|z| z.as_str().parse::<f64>().ok());
            return Heard::Touched(z.and_then(|z| Length::from_mm(z).ok()).filter(|_| met));
        }
        if p.busy.is_match(text) {
            return Heard::Busy;
        }
        if p.aside.as_ref().is_some_and(|aside| aside.is_match(text)) {
            return Heard::Aside;
        }
        if let Some(c) = p.refused.captures(text) {
            let number = c.name("number").map_or("", |m| m.as_str());
            let meaning = profile.keys.refusals.get(number);
            return Heard::Refused(meaning.cloned().unwrap_or_else(|| format!("its refusal {number}")));
        }
        if let Some(c) = p.fault.captures(text) {
            let number = c.name("number").map_or("", |m| m.as_str());
            return match profile.keys.faults.get(number) {
                Some(f) => Heard::Fault(f.means.clone(), f.position),
                None => Heard::Fault(format!("its fault {number}").trim_end().to_owned(), PositionAfter::Lost),
            };
        }
        Heard::Noise
    }

    fn report(&mut self, c: &regex_lite::Captures<'_>, profile: &Profile) -> Told {
        let state = c.name("state").map_or("", |m| m.as_str());
        let fields = c.name("fields").map_or("", |m| m.as_str());
        let mut free = None;
        let names = &profile.keys.fields;
        let mut told = ControllerState {
            word: word(state, profile),
            machine: None,
            work: None,
            feed: None,
            speed: None,
            pins: Pins::default(),
            per_cent: None,
        };
        if let (Some(x), Some(y), Some(z)) = (c.name("x"), c.name("y"), c.name("z")) {
            told.work = point(&format!("{},{},{}", x.as_str(), y.as_str(), z.as_str()));
        }
        for field in fields.split('|') {
            let Some((name, value)) = field.split_once(':') else {
                continue;
            };
            if name == names.machine {
                told.machine = point(value);
            } else if name == names.work {
                told.work = point(value);
            } else if name == names.offset {
                self.offset = point(value).or(self.offset);
            } else if name == names.feed_and_speed || name == names.feed {
                let mut parts = value.split(',').map(|v| v.parse::<f64>().ok());
                told.feed = parts.next().flatten().and_then(|v| Feed::from_unit(v).ok());
                told.speed = parts.next().flatten().and_then(|v| Rpm::from_unit(v).ok());
            } else if name == names.buffer {
                free = value.split(',').nth(1).and_then(|v| v.parse().ok());
            } else if name == names.overrides {
                let mut parts = value.split(',').map(|v| v.parse::<u16>().ok());
                if let (Some(Some(feed)), Some(Some(rapid))) = (parts.next(), parts.next()) {
                    self.per_cent = Some([feed, rapid]);
                }
            } else if name == names.pins {
                told.pins = pins(value, profile);
            }
        }
        told.per_cent = self.per_cent;
        match (told.machine, told.work, self.offset) {
            (Some(m), None, Some(o)) => told.work = Some(m - o),
            (None, Some(w), Some(o)) => told.machine = Some(w + o),
            _ => {}
        }
        Told { state: told, offset: self.offset, free }
    }
}

/// Its word in ours: with the part behind the colon first, then without.
fn word(state: &str, profile: &Profile) -> StateWord {
    let states = &profile.keys.states;
    let bare = state.split(':').next().unwrap_or_default();
    match states.get(state).or_else(|| states.get(bare)) {
        Some(State::Ready) => StateWord::Ready,
        Some(State::Cutting) => StateWord::Cutting,
        Some(State::Holding) => StateWord::Holding,
        Some(State::Faulted) => StateWord::Faulted,
        Some(State::Homing) => StateWord::Homing,
        Some(State::Checking) => StateWord::Checking,
        Some(State::Asleep) => StateWord::Asleep,
        Some(State::Unknown) | None => StateWord::Unknown,
    }
}

fn point(value: &str) -> Option<Point> {
    let mut axes = value.split(',').map(|v| v.parse::<f64>().ok().and_then(|v| Length::from_mm(v).ok()));
    Some(Point::new(axes.next()??, axes.next()??, axes.next()??))
}

fn pins(value: &str, profile: &Profile) -> Pins {
    let letters = &profile.keys.pins;
    let any = |of: &str| value.chars().any(|c| of.contains(c));
    Pins { limit: any(&letters.limit), probe: any(&letters.probe), door: any(&letters.door) }
}
