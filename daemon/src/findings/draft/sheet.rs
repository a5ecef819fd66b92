//! The sheet a card is for, from how deep and how far its programs cut.
//!
//! May live here: where Z zero lies, thickness, size, corner, how far cuts go into the waste board. May not: single
//! operations.

use super::asking::Asking;
use super::{CannotDraft, Sketch, Wanted};
use crate::findings::bench::Bench;
use crate::findings::reach::Reach;
use chargehand_types::card::ZZero;
use chargehand_types::quantity::{Length, plain};

/// Thicknesses sheet goods are sold in, mm: common practice, no source (metric ones; a mill's own may differ).
const METRIC: [f64; 20] =
    [3.0, 4.0, 5.0, 6.0, 6.5, 8.0, 9.0, 10.0, 12.0, 15.0, 16.0, 18.0, 19.0, 20.0, 21.0, 22.0, 24.0, 25.0, 27.0, 30.0];
/// The same where inches are used: 1/8, 3/16, 1/4, 3/8, 1/2, 5/8, 3/4, 1 in; common practice, no source.
const IN_INCHES: [f64; 8] = [3.175, 4.7625, 6.35, 9.525, 12.7, 15.875, 19.05, 25.4];
/// Sizes of sheets and of their usual cuts, X and Y in mm, the smallest first: common practice, no source. The first is
/// the quarter sheet.
const SIZES: [[f64; 2]; 8] = [
    [610.0, 1220.0],
    [1220.0, 610.0],
    [1220.0, 1220.0],
    [1250.0, 1250.0],
    [1220.0, 2440.0],
    [2440.0, 1220.0],
    [1250.0, 2500.0],
    [2500.0, 1250.0],
];
/// A cut meant to go through goes this far (mm) into the waste board at most: common practice, no source.
const USUAL_BITE: f64 = 0.6;
/// With Z zero on the waste board no cut goes lower than this (mm).
const BED_BITE: f64 = 1.0;
/// `max_bed_bite` of a card that does not say another.
const CARD_BITE: f64 = 0.5;
/// `max_bed_bite` is not drafted beyond this (mm): deeper is a mistake until a person says otherwise.
const MOST_BITE: f64 = 1.0;
/// A bit's edge may lie this far (mm) outside the corner before the corner is in doubt.
const OVER_EDGE: f64 = 0.5;
/// Heights within this (mm) are the same.
const SAME: f64 = 0.05;
/// A sheet may be larger than the travel by this (mm) at each side.
const BESIDE_TRAVEL: f64 = 20.0;
/// A lift between places is at least this high (mm) above the face: common practice, no source.
const LEAST_LIFT: f64 = 1.0;

/// The sheet as far as it is known.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Guess {
    pub(super) z_zero: Option<ZZero>,
    pub(super) thickness: Option<Length>,
    pub(super) size: Option<[Length; 2]>,
    pub(super) corner: Option<[Length; 2]>,
    pub(super) bed_bite: f64,
}

impl Guess {
    /// Work Z of the sheet's face, where it is known.
    pub(super) fn face(&self) -> Option<f64> {
        match self.z_zero? {
            ZZero::Top => Some(0.0),
            ZZero::Bed => self.thickness.map(Length::mm),
        }
    }

    /// Work Z of its underside.
    pub(super) fn bottom(&self) -> Option<f64> {
        Some(self.face()? - self.thickness?.mm())
    }
}

/// What the programs and the person tell of the sheet.
pub(super) fn guess(asking: &mut Asking<'_>, sketches: &[Sketch], wanted: &Wanted<'_>) -> Result<Guess, CannotDraft> {
    let lowest = sketches.iter().filter_map(|s| s.plan.lowest()).fold(f64::INFINITY, f64::min);
    let z_zero = z_zero(asking, sketches, lowest)?;
    let thickness = thickness(asking, sketches, lowest, z_zero)?;
    let bed_bite = bed_bite(asking, lowest, z_zero, thickness);
    let edge = edges(sketches, wanted);
    let corner = corner(asking, edge)?;
    let size = size(asking, edge, corner, wanted.bench)?;
    Ok(Guess { z_zero, thickness, size, corner, bed_bite })
}

fn z_zero(asking: &mut Asking<'_>, sketches: &[Sketch], lowest: f64) -> Result<Option<ZZero>, CannotDraft> {
    let words = ["top", "bed"].map(str::to_owned);
    if let Some(said) = asking.word("z_zero", &words)? {
        return Ok(Some(if said == "top" { ZZero::Top } else { ZZero::Bed }));
    }
    if lowest < -BED_BITE {
        asking.assume(format!("Z zero is on the top of the sheet: the cuts go down to Z {}", plain(lowest)));
        return Ok(Some(ZZero::Top));
    }
    let above = |s: &Sketch| s.plan.levels.keys().any(|z| z.mm() > SAME);
    if sketches.iter().any(above) {
        asking
            .assume(format!("Z zero is on the waste board: level cuts lie above Z 0, none below Z {}", plain(lowest)));
        return Ok(Some(ZZero::Bed));
    }
    let asks = format!("Where is Z zero? The cuts go no lower than Z {}, which fits both.", plain(lowest));
    asking.ask("z_zero", asks, words.to_vec(), None);
    Ok(None)
}

fn thickness(
    asking: &mut Asking<'_>,
    sketches: &[Sketch],
    lowest: f64,
    z_zero: Option<ZZero>,
) -> Result<Option<Length>, CannotDraft> {
    if let Some(said) = asking.length("thickness")? {
        return Ok(Some(said));
    }
    let inch = sketches.iter().any(|s| s.plan.inch);
    let asks = "How thick is the sheet, in mm?";
    if z_zero != Some(ZZero::Top) {
        let under = sketches.iter().filter_map(|s| s.plan.lowest_travel).fold(f64::INFINITY, f64::min);
        let likely = usual(inch).filter(|t| *t <= under - LEAST_LIFT).fold(0.0, f64::max);
        let why = format!(
            "{asks} With Z zero on the waste board no cut tells it; the bit travels at Z {} and above.",
            plain(under)
        );
        asking.ask("thickness", why, Vec::new(), (likely > 0.0 && under.is_finite()).then(|| plain(likely)));
        return Ok(None);
    }
    let deep = -lowest;
    let fits = usual(inch).filter(|t| (deep - t) >= -1.0e-6 && deep - t <= USUAL_BITE).fold(0.0, f64::max);
    let has_tabs = sketches.iter().any(|s| s.plan.tabs(0.0).next().is_some());
    let goes_through = deep - fits > SAME || has_tabs;
    if fits > 0.0 && goes_through {
        let bite = plain(deep - fits);
        asking.assume(format!(
            "the sheet is {} mm thick, the usual thickness the deepest cut ({} mm) goes through by {bite} mm",
            plain(fits),
            plain(deep)
        ));
        return Ok(Length::from_mm(fits).ok());
    }
    let likely = usual(inch).filter(|t| *t >= deep - 1.0e-6).fold(f64::INFINITY, f64::min);
    let why = format!("{asks} The deepest cut goes {} mm deep, which goes through no usual thickness.", plain(deep));
    asking.ask("thickness", why, Vec::new(), likely.is_finite().then(|| plain(likely)));
    Ok(None)
}

/// Usual thicknesses in the unit the programs are written in.
fn usual(inch: bool) -> impl Iterator<Item = f64> {
    let list: &[f64] = if inch { &IN_INCHES } else { &METRIC };
    list.iter().copied()
}

fn bed_bite(asking: &mut Asking<'_>, lowest: f64, z_zero: Option<ZZero>, thickness: Option<Length>) -> f64 {
    let bottom = match (z_zero, thickness) {
        (Some(ZZero::Top), Some(t)) => -t.mm(),
        (Some(ZZero::Bed), _) => 0.0,
        _ => return CARD_BITE,
    };
    let bite = bottom - lowest;
    if bite <= CARD_BITE + 1.0e-6 || bite > MOST_BITE {
        return CARD_BITE;
    }
    let bite = (bite * 10.0 - 1.0e-6).ceil() / 10.0;
    asking.assume(format!("cuts may go {} mm into the waste board, since they do", plain(bite)));
    bite
}

/// Least and most the bit's edge reaches along X and Y.
fn edges(sketches: &[Sketch], wanted: &Wanted<'_>) -> [[f64; 2]; 2] {
    let mut all = Reach::default();
    for sketch in sketches {
        let bit = sketch.bit.as_ref().and_then(|key| wanted.stores.bits.get(key));
        let radius = bit.map_or(0.0, |b| b.diameter.mm() / 2.0);
        for axis in [0, 1] {
            if let Some([low, high]) = sketch.plan.feed.along(axis) {
                all.take(axis, [low - radius, high + radius]);
            }
        }
    }
    [0, 1].map(|axis| all.along(axis).unwrap_or([0.0; 2]))
}

fn corner(asking: &mut Asking<'_>, edge: [[f64; 2]; 2]) -> Result<Option<[Length; 2]>, CannotDraft> {
    if let Some(said) = asking.two("corner")? {
        return Ok(Some(said));
    }
    let [[left, right], [low, high]] = edge;
    if left >= -OVER_EDGE && low >= -OVER_EDGE {
        asking.assume("the sheet's lower left corner is at X 0, Y 0 of the programs");
        return Ok(Some([Length::ZERO; 2]));
    }
    let is_centred = (left + right).abs() <= 0.1 * (right - left) && (low + high).abs() <= 0.1 * (high - low);
    let likely = SIZES.iter().find(|[x, y]| is_centred && *x >= right - left && *y >= high - low);
    let suggested = likely.map(|[x, y]| format!("{},{}", plain(-x / 2.0), plain(-y / 2.0)));
    let asks = format!(
        "Where is the sheet's lower left corner, as X,Y of the programs? The cuts begin at X {}, Y {}.",
        plain(left),
        plain(low)
    );
    asking.ask("corner", asks, Vec::new(), suggested);
    Ok(None)
}

fn size(
    asking: &mut Asking<'_>,
    edge: [[f64; 2]; 2],
    corner: Option<[Length; 2]>,
    bench: &Bench,
) -> Result<Option<[Length; 2]>, CannotDraft> {
    if let Some(said) = asking.two("size")? {
        if said.iter().all(|side| *side > Length::ZERO) {
            return Ok(Some(said));
        }
        let answer = asking.said("size").unwrap_or_default();
        return Err(super::asking::wrong("size", answer, "two lengths of more than 0"));
    }
    let [[left, right], [low, high]] = edge;
    let [x0, y0] = corner.map_or([left, low], |c| c.map(Length::mm));
    let needs = [right - x0, high - y0];
    let travel = |axis: usize| bench.travel.get(axis).map_or(f64::INFINITY, |[a, b]| (*b - *a).mm() + BESIDE_TRAVEL);
    let holds = |s: &&[f64; 2]| s.iter().zip(needs).all(|(side, need)| *side >= need - OVER_EDGE);
    let on_machine = |s: &&[f64; 2]| s.iter().enumerate().all(|(axis, side)| *side <= travel(axis));
    let found = SIZES.iter().filter(holds).find(on_machine).or_else(|| SIZES.iter().find(holds));
    let reach = format!("{} x {} mm", plain(needs[0].max(0.0)), plain(needs[1].max(0.0)));
    let Some([x, y]) = found else {
        let asks =
            format!("How large is the sheet, as X x Y in mm? The cuts reach {reach}, farther than any usual size.");
        asking.ask("size", asks, Vec::new(), None);
        return Ok(None);
    };
    asking.assume(format!(
        "the sheet is {} x {} mm, the smallest usual size that holds the cuts, which reach {reach}",
        plain(*x),
        plain(*y)
    ));
    Ok(Length::from_mm(*x).ok().zip(Length::from_mm(*y).ok()).map(|(x, y)| [x, y]))
}
