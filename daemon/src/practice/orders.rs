//! From a line's words to what is to be done, in the order of NISTIR 6556 Table 8. All of a line or nothing of it.

use super::arc;
use super::modes::{AXES, Frame, Modes, Motion, Reading, Reads, Turning};
use super::motion::Pace;
use super::path::{Path, put};
use super::speed::Vector;
use super::words::Words;

/// One thing to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) enum Order {
    /// Motion; goes to the planner.
    Go(Path, Pace),
    /// Motion until contact.
    Probe(Path, Pace),
    /// Spindle and coolant change once everything before is done.
    Switch(Switched),
    /// Seconds, once everything before is done.
    Dwell(f64),
    /// M0: once everything before is done, until resumed.
    Pause,
    /// M2, M30.
    End,
}

/// What is switched on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::practice) struct Switched {
    pub turning: Turning,
    /// rpm; 0 while it does not turn.
    pub speed: f64,
    pub mist: bool,
    pub flood: bool,
}

impl Switched {
    pub fn by(modes: &Modes) -> Self {
        let speed = if modes.turning == Turning::Off { 0.0 } else { modes.speed };
        Self { turning: modes.turning, speed, mist: modes.mist, flood: modes.flood }
    }
}

/// The non-modal command of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Once {
    Dwell,
    SetOrigin,
    GoPlace(usize),
    SetPlace(usize),
    Shift,
    NoShift,
}

/// What the G words of a line ask for beside changing modes.
#[derive(Debug, Default)]
struct Asked {
    /// Groups seen, by bit.
    groups: u32,
    once: Option<Once>,
    /// A motion word stands in the line.
    motion: bool,
    machine: bool,
    inverse_changed: bool,
}

/// Reads a line: the state after it and what is to be done.
///
/// # Errors
/// The refusal's number on the wire.
pub(in crate::practice) fn read(mut words: Words, before: &Reading) -> Result<(Reading, Vec<Order>), u16> {
    let mut after = *before;
    let mut orders = Vec::new();
    let mut asked = Asked::default();
    for g in std::mem::take(&mut words.g) {
        g_word(g, &mut after, &mut asked)?;
    }
    feed_speed_tool(&mut words, &mut after, &asked)?;
    let stop = m_words(&mut words, &mut after, &mut asked)?;
    let switched = Switched::by(&after.modes);
    if switched != Switched::by(&before.modes) {
        orders.push(Order::Switch(switched));
    }
    let uses_axes = matches!(asked.once, Some(Once::SetOrigin | Once::GoPlace(_) | Once::Shift));
    if uses_axes && asked.motion && after.modes.motion != Motion::Off {
        return Err(24);
    }
    if let Some(once) = asked.once {
        do_once(once, &mut words, &mut after, &mut orders)?;
    }
    if !uses_axes {
        motion(&mut words, &mut after, &asked, &mut orders)?;
    }
    if words.left_over() {
        return Err(36);
    }
    match stop {
        Some(0) => orders.push(Order::Pause),
        Some(2 | 30) => {
            after.modes.ended();
            after.shift = [0.0; 3];
            orders.push(Order::End);
        }
        _ => {}
    }
    Ok((after, orders))
}

/// Marks a modal group as seen (NISTIR 6556 3.4: no two words of one group).
fn group(asked: &mut Asked, number: u32) -> Result<(), u16> {
    let bit = 1 << number;
    if asked.groups & bit != 0 {
        return Err(21);
    }
    asked.groups |= bit;
    Ok(())
}

fn g_word(g: u16, after: &mut Reading, asked: &mut Asked) -> Result<(), u16> {
    let modes = &mut after.modes;
    match g {
        0 | 10 | 20 | 30 | 382 | 800 => {
            group(asked, 1)?;
            asked.motion = true;
            modes.motion = match g {
                0 => Motion::Rapid,
                10 => Motion::Feed,
                20 => Motion::Clockwise,
                30 => Motion::CounterClockwise,
                382 => Motion::Probe,
                _ => Motion::Off,
            };
        }
        170 | 180 | 190 => {
            group(asked, 2)?;
            modes.plane = match g {
                170 => [0, 1, 2],
                180 => [2, 0, 1],
                _ => [1, 2, 0],
            };
        }
        900 | 910 => {
            group(asked, 3)?;
            modes.incremental = g == 910;
        }
        911 => group(asked, 4)?,
        930 | 940 => {
            group(asked, 5)?;
            asked.inverse_changed = modes.inverse != (g == 930);
            modes.inverse = g == 930;
        }
        200 | 210 => {
            group(asked, 6)?;
            modes.inch = g == 200;
        }
        400 => group(asked, 7)?,
        490 => group(asked, 8)?,
        540 | 550 | 560 | 570 | 580 | 590 => {
            group(asked, 12)?;
            modes.system = usize::from(g / 10 - 54);
        }
        610 => group(asked, 13)?,
        530 => {
            // it is of group 0, and the only one that goes with a motion
            group(asked, 14)?;
            asked.machine = true;
        }
        40 | 100 | 280 | 281 | 300 | 301 | 920 | 921 => {
            group(asked, 0)?;
            asked.once = Some(match g {
                40 => Once::Dwell,
                100 => Once::SetOrigin,
                280 => Once::GoPlace(0),
                300 => Once::GoPlace(1),
                281 => Once::SetPlace(0),
                301 => Once::SetPlace(1),
                920 => Once::Shift,
                _ => Once::NoShift,
            });
        }
        _ => return Err(20),
    }
    Ok(())
}

fn feed_speed_tool(words: &mut Words, after: &mut Reading, asked: &Asked) -> Result<(), u16> {
    if asked.inverse_changed {
        // a feed counted in one way says nothing in the other
        after.modes.feed = None;
    }
    if !after.modes.inverse
        && let Some(f) = words.take(b'F')
    {
        if f < 0.0 {
            return Err(4);
        }
        after.modes.feed = Some(f * after.modes.unit() / 60.0);
    }
    if let Some(s) = words.take(b'S') {
        if s < 0.0 {
            return Err(4);
        }
        after.modes.speed = s;
    }
    if let Some(t) = words.take(b'T') {
        after.modes.tool = whole(t)?.try_into().ok().filter(|t| *t <= 255).ok_or(38_u16)?;
    }
    Ok(())
}

/// Gives the stopping word, if there is one.
fn m_words(words: &mut Words, after: &mut Reading, asked: &mut Asked) -> Result<Option<u16>, u16> {
    let mut stop = None;
    for m in std::mem::take(&mut words.m) {
        match m {
            0 | 10 | 20 | 300 => {
                group(asked, 20)?;
                stop = Some(m / 10);
            }
            30 | 40 | 50 => {
                group(asked, 21)?;
                after.modes.turning = match m {
                    30 => Turning::Clockwise,
                    40 => Turning::CounterClockwise,
                    _ => Turning::Off,
                };
            }
            70 => after.modes.mist = true,
            80 => after.modes.flood = true,
            90 => {
                after.modes.mist = false;
                after.modes.flood = false;
            }
            _ => return Err(20),
        }
    }
    Ok(stop)
}

fn do_once(once: Once, words: &mut Words, after: &mut Reading, orders: &mut Vec<Order>) -> Result<(), u16> {
    match once {
        Once::Dwell => {
            let seconds = words.take(b'P').ok_or(28_u16)?;
            if seconds < 0.0 {
                return Err(4);
            }
            // it stands between spindle and motion in Table 8
            orders.push(Order::Dwell(seconds));
        }
        Once::SetOrigin => set_origin(words, after)?,
        Once::Shift => {
            if !words.has(&AXES) {
                return Err(26);
            }
            for (axis, letter) in AXES.into_iter().enumerate() {
                if let Some(value) = words.take(letter) {
                    after.set_shift(axis, value);
                }
            }
        }
        Once::NoShift => after.shift = [0.0; 3],
        Once::SetPlace(n) => {
            let end = after.end;
            if let Some(place) = after.places.get_mut(n) {
                *place = end;
            }
        }
        Once::GoPlace(n) => {
            let home = after.places.get(n).copied().unwrap_or(after.end);
            if words.has(&AXES) {
                let by = target(words, after, Frame::Work);
                orders.push(Order::Go(Path::straight(after.end, by), Pace::Rapid));
                after.end = by;
            }
            orders.push(Order::Go(Path::straight(after.end, home), Pace::Rapid));
            after.end = home;
        }
    }
    Ok(())
}

fn set_origin(words: &mut Words, after: &mut Reading) -> Result<(), u16> {
    let reads = match whole(words.take(b'L').ok_or(28_u16)?)? {
        2 => Reads::Origin,
        20 => Reads::Here,
        _ => return Err(20),
    };
    let system = match whole(words.take(b'P').ok_or(28_u16)?)? {
        0 => after.modes.system,
        p => usize::try_from(p - 1).map_err(|_| 29_u16)?,
    };
    if !words.has(&AXES) {
        return Err(26);
    }
    for (axis, letter) in AXES.into_iter().enumerate() {
        if let Some(value) = words.take(letter) {
            after.set_origin(system, axis, value, reads)?;
        }
    }
    Ok(())
}

/// Where the axis words of a line lead, machine coordinates.
fn target(words: &mut Words, at: &Reading, frame: Frame) -> Vector {
    let mut to = at.end;
    for (axis, letter) in AXES.into_iter().enumerate() {
        if let Some(value) = words.take(letter) {
            put(&mut to, axis, at.machine(axis, value, at.end, frame));
        }
    }
    to
}

fn motion(words: &mut Words, after: &mut Reading, asked: &Asked, orders: &mut Vec<Order>) -> Result<(), u16> {
    let kind = after.modes.motion;
    let moves = words.has(&AXES);
    let frame = if asked.machine { Frame::Machine } else { Frame::Work };
    if asked.machine && !matches!(kind, Motion::Rapid | Motion::Feed) {
        return Err(30);
    }
    let arc = matches!(kind, Motion::Clockwise | Motion::CounterClockwise);
    if !moves {
        return match kind {
            Motion::Probe if asked.motion => Err(26),
            Motion::Clockwise | Motion::CounterClockwise if words.has(b"IJKR") => Err(32),
            _ => Ok(()),
        };
    }
    if kind == Motion::Off {
        return Err(31);
    }
    let to = target(words, after, frame);
    let path = if arc { arc::read(words, &after.modes, after.end, to)? } else { Path::straight(after.end, to) };
    let pace = match kind {
        Motion::Rapid => Pace::Rapid,
        _ => Pace::Feed(feed(words, after, &path)?),
    };
    orders.push(if kind == Motion::Probe { Order::Probe(path, pace) } else { Order::Go(path, pace) });
    after.end = to;
    Ok(())
}

/// mm/s along the path. Under G93 the whole of it takes `1/F` minutes.
fn feed(words: &mut Words, after: &Reading, path: &Path) -> Result<f64, u16> {
    let feed = if after.modes.inverse { words.take(b'F').map(|f| path.length() * f / 60.0) } else { after.modes.feed };
    // a path of no length has no feed under G93, and needs none
    feed.filter(|f| *f > 0.0 || path.length() == 0.0).ok_or(22)
}

/// A number that must be whole.
fn whole(value: f64) -> Result<i32, u16> {
    let rounded = value.round();
    if (rounded - value).abs() > 0.0001 {
        return Err(23);
    }
    if !(0.0..1.0e6).contains(&rounded) {
        return Err(4);
    }
    #[allow(clippy::cast_possible_truncation, reason = "between 0 and a million")]
    Ok(rounded as i32)
}
