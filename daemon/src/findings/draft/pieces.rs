//! What the programs of a draft let the sheet fall into: how many parts that may be, and a name for each.
//!
//! May live here: asking the sheet map for a draft. May not: the map.

use super::sheet::Guess;
use super::{Sketch, Wanted};
use crate::findings::sweep::write_down;
use crate::sheetmap::{Job, Least, SheetMap};
use chargehand_types::card::Sheet;
use chargehand_types::quantity::{Area, Length, Spot, plain};
use std::fmt::Write as _;

/// A smaller piece is most likely cut out of a part, not a part (mm2; common practice, no source).
const LEAST_PART: f64 = 2500.0;
/// A skin thinner than this (mm) holds nothing.
const NOTHING: Length = Length(100_000);
/// Sizes no farther apart (mm) are one.
const SAME: f64 = 0.5;
/// Points on a line of the card.
const POINTS: usize = 4;

/// One piece as a draft sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seen {
    /// Along X and Y, mm.
    size: [f64; 2],
    /// mm2.
    area: f64,
    /// A place well inside, mm.
    inside: [f64; 2],
}

/// The pieces large enough to be parts; none while a bit or the sheet is not known.
pub(super) fn seen(wanted: &Wanted<'_>, sketches: &[Sketch], guess: &Guess) -> Option<Vec<Seen>> {
    let [x, y] = guess.corner?;
    let sheet = Sheet {
        material: String::new(),
        size: guess.size?,
        thickness: guess.thickness?,
        z_zero: guess.z_zero?,
        corner: Spot { x, y },
        max_bed_bite: Length::from_mm(guess.bed_bite).ok()?,
        z_shift_max: Length::ZERO,
        face: None,
        grain: None,
    };
    let mut job = Job::new(&sheet, sheet.thickness);
    for (number, sketch) in (0_u16..).zip(sketches) {
        let bit = wanted.stores.bits.get(sketch.bit.as_ref()?)?;
        let (_, bytes) = wanted.programs.iter().find(|(path, _)| *path == sketch.program)?;
        let called = |tool| wanted.stores.bits.values().find(|bit| bit.tool == Some(tool));
        write_down(&mut job, number, bit, bytes, wanted.bench, called);
    }
    let map = SheetMap::of(&job, Least { depth: NOTHING, piece: Area::of(LEAST_PART) }, &[], wanted.pool);
    let of = |region: &crate::sheetmap::Region| {
        let [left, low, right, high] = region.bounds;
        Seen { size: [right - left, high - low], area: region.area, inside: region.inside }
    };
    Some(map.regions().iter().map(of).collect())
}

/// `[[part]]` tables for as many pieces as there are parts, equal ones under one name. A person calls them what they
/// are.
pub(super) fn named(seen: &[Seen]) -> String {
    let mut kinds: Vec<(Seen, Vec<[f64; 2]>)> = Vec::new();
    for piece in seen {
        match kinds.iter_mut().find(|(like, _)| like.is_like(piece)) {
            Some((_, places)) => places.push(piece.inside),
            None => kinds.push((*piece, vec![piece.inside])),
        }
    }
    let mut out = String::new();
    for (number, (kind, places)) in kinds.iter().enumerate() {
        let [wide, deep] = kind.size.map(f64::round);
        let own = format!("piece {} x {} mm", plain(wide), plain(deep));
        let twice = kinds.iter().take(number).filter(|(other, _)| other.size.map(f64::round) == [wide, deep]).count();
        let name = if twice == 0 { own } else { format!("{own}, kind {}", twice + 1) };
        let _ = write!(out, "\n[[part]] # call it what it is\nname = \"{name}\"\nat = [");
        for (n, [x, y]) in places.iter().enumerate() {
            let gap = match n {
                0 => "",
                n if n % POINTS == 0 => ",\n    ",
                _ => ", ",
            };
            let _ = write!(out, "{gap}[{x:.1}, {y:.1}]");
        }
        out.push_str("]\n");
    }
    out
}

impl Seen {
    fn is_like(&self, other: &Self) -> bool {
        let same = self.size.iter().zip(other.size).all(|(a, b)| (a - b).abs() <= SAME);
        same && (self.area - other.area).abs() <= SAME * (self.size[0] + self.size[1])
    }
}
