//! The codes of one block, sorted into modal groups (NISTIR 6556, Table 4), with their conflicts.

use super::fault::Rule;
use super::lex::{At, Words};
use super::motion::{MotionMode, Plane};

/// What a G word of group 0 asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NonModal {
    /// G4.
    Dwell,
    /// G10.
    SetData,
    /// G28, from which home.
    Home(u8),
    /// G92.
    Shift,
    /// G92.1, G92.2, G92.3.
    ShiftOff(u8),
}

/// A block, one optional member a modal group.
#[derive(Debug, Clone, Copy, Default)]
#[allow(missing_docs, reason = "each is the modal group of its name")]
pub struct Block {
    pub motion: Option<(MotionMode, u16)>,
    pub plane: Option<Plane>,
    pub incremental: Option<bool>,
    pub absolute_centres: Option<bool>,
    pub inverse_time: Option<bool>,
    pub inch: Option<(bool, u16)>,
    pub tool_length: Option<bool>,
    pub return_to_r: Option<bool>,
    pub system: Option<u8>,
    pub exact: Option<bool>,
    pub non_modal: Option<(NonModal, u16)>,
    pub machine_coordinates: bool,
    pub stopping: Option<(i16, u16)>,
    pub tool_change: Option<u16>,
    pub turning: Option<(i16, u16)>,
    pub mist: bool,
    pub flood: bool,
    pub coolant_off: bool,
    pub overrides_off: Option<bool>,
}

/// Groups by number, with the name people know them by; M groups from 100.
const fn group_name(group: u8) -> &'static str {
    match group {
        0 => "non-modal",
        1 => "motion",
        2 => "plane",
        3 => "distance",
        4 => "arc distance",
        5 => "feed mode",
        6 => "units",
        7 => "cutter radius",
        8 => "tool length",
        10 => "cycle return",
        12 => "work system",
        13 => "path control",
        104 => "stopping",
        106 => "tool change",
        107 => "spindle",
        108 => "coolant",
        _ => "override",
    }
}

fn motion_of(code: i16) -> Option<MotionMode> {
    Some(match code {
        0 => MotionMode::G0,
        10 => MotionMode::G1,
        20 => MotionMode::G2,
        30 => MotionMode::G3,
        382 => MotionMode::G38_2,
        800 => MotionMode::G80,
        810 => MotionMode::G81,
        820 => MotionMode::G82,
        830 => MotionMode::G83,
        840 => MotionMode::G84,
        850 => MotionMode::G85,
        860 => MotionMode::G86,
        870 => MotionMode::G87,
        880 => MotionMode::G88,
        890 => MotionMode::G89,
        _ => return None,
    })
}

/// Sorts the words of a line.
///
/// # Errors
/// The first conflict or unknown code, with its 0-based column.
pub fn sort(words: &Words) -> Result<Block, At> {
    let mut block = Block::default();
    let mut seen = [None::<i16>; 16];
    for (code, column) in words.g.iter() {
        let group = g_word(&mut block, code, column)?;
        conflict(&mut seen, group, code, column, 'G')?;
    }
    let mut seen = [None::<i16>; 16];
    for (code, column) in words.m.iter() {
        let group = m_word(&mut block, code, column)?;
        // mist and flood may both be on (3.4)
        if !(group == 108 && matches!(code, 7 | 8)) {
            conflict(&mut seen, group - 100, code * 10, column, 'M')?;
        }
    }
    if let (Some((kind, column)), Some(_)) = (block.non_modal, block.motion)
        && !matches!(kind, NonModal::Dwell | NonModal::ShiftOff(_))
        && block.motion.is_some_and(|(m, _)| m != MotionMode::G80)
    {
        return Err((usize::from(column), Rule::TwoAxisUsers));
    }
    Ok(block)
}

fn conflict(seen: &mut [Option<i16>; 16], group: u8, code: i16, column: u16, letter: char) -> Result<(), At> {
    let Some(slot) = seen.get_mut(usize::from(group)) else {
        return Ok(());
    };
    if let Some(first) = *slot {
        let name = group_name(if letter == 'M' { group + 100 } else { group });
        return Err((
            usize::from(column),
            Rule::TwoOfGroup { first: written(letter, first), second: written(letter, code), group: name },
        ));
    }
    *slot = Some(code);
    Ok(())
}

fn written(letter: char, tenths: i16) -> String {
    if tenths % 10 == 0 {
        format!("{letter}{}", tenths / 10)
    } else {
        format!("{letter}{}.{}", tenths / 10, tenths % 10)
    }
}

fn g_word(b: &mut Block, code: i16, column: u16) -> Result<u8, At> {
    if let Some(mode) = motion_of(code) {
        b.motion = Some((mode, column));
        return Ok(1);
    }
    let mut other = |what| {
        b.non_modal = Some((what, column));
        0
    };
    Ok(match code {
        40 => other(NonModal::Dwell),
        100 => other(NonModal::SetData),
        280 => other(NonModal::Home(0)),
        300 => other(NonModal::Home(1)),
        920 => other(NonModal::Shift),
        921 => other(NonModal::ShiftOff(1)),
        922 => other(NonModal::ShiftOff(2)),
        923 => other(NonModal::ShiftOff(3)),
        530 => {
            b.machine_coordinates = true;
            0
        }
        170 => set(&mut b.plane, Plane::Xy, 2),
        180 => set(&mut b.plane, Plane::Zx, 2),
        190 => set(&mut b.plane, Plane::Yz, 2),
        900 => set(&mut b.incremental, false, 3),
        910 => set(&mut b.incremental, true, 3),
        901 => set(&mut b.absolute_centres, true, 4),
        911 => set(&mut b.absolute_centres, false, 4),
        930 => set(&mut b.inverse_time, true, 5),
        940 => set(&mut b.inverse_time, false, 5),
        200 => set(&mut b.inch, (true, column), 6),
        210 => set(&mut b.inch, (false, column), 6),
        400 => 7,
        410 | 420 => {
            return Err((
                usize::from(column),
                Rule::NotForController(format!("cutter radius compensation (G{}) is not sent on", code / 10)),
            ));
        }
        430 => set(&mut b.tool_length, true, 8),
        490 => set(&mut b.tool_length, false, 8),
        980 => set(&mut b.return_to_r, false, 10),
        990 => set(&mut b.return_to_r, true, 10),
        540..=590 if code % 10 == 0 => set(&mut b.system, system(code), 12),
        591..=593 => set(&mut b.system, system(code), 12),
        610 | 611 => set(&mut b.exact, true, 13),
        640 => set(&mut b.exact, false, 13),
        _ => return Err((usize::from(column), Rule::UnknownG(f64::from(code) / 10.0))),
    })
}

fn set<T>(member: &mut Option<T>, to: T, group: u8) -> u8 {
    *member = Some(to);
    group
}

/// G54 is 1, G59.3 is 9.
fn system(code: i16) -> u8 {
    let number = if code > 590 { 6 + (code - 590) } else { code / 10 - 53 };
    u8::try_from(number).unwrap_or(1)
}

fn m_word(b: &mut Block, code: i16, column: u16) -> Result<u8, At> {
    Ok(match code {
        0 | 1 | 2 | 30 | 60 => set(&mut b.stopping, (code, column), 104),
        6 => set(&mut b.tool_change, column, 106),
        3..=5 => set(&mut b.turning, (code, column), 107),
        7 => {
            b.mist = true;
            108
        }
        8 => {
            b.flood = true;
            108
        }
        9 => {
            b.coolant_off = true;
            108
        }
        48 => set(&mut b.overrides_off, false, 109),
        49 => set(&mut b.overrides_off, true, 109),
        98 | 99 => {
            return Err((
                usize::from(column),
                Rule::NotForController("calls of other programs (M98, M99) are not sent on".to_owned()),
            ));
        }
        _ => return Err((usize::from(column), Rule::UnknownM(f64::from(code)))),
    })
}
