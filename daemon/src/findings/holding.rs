//! Whether the given fasteners are out of the bit's way and hold the sheet.
//!
//! May live here: `fastener-in-path` and `weak-holddown`. May not: distances and forces, which are the hold-down's.

use super::case::{CannotJudge, Case};
use super::cause::{against, bare};
use super::excerpt;
use super::operation::Read;
use crate::holddown::{Board, Hold, Pull, Stand, Struck, held, needed, struck};
use crate::sheetmap::{Job, SheetMap, Stroke};
use chargehand_types::card::FastenerKind;
use chargehand_types::finding::{Code, Finding, Unit};
use chargehand_types::quantity::{Length, plain};

/// What was found about the given places of a card.
#[derive(Debug)]
pub(super) struct Holding<'a> {
    stands: Vec<Stand<'a>>,
    struck: Vec<Struck>,
    margin: f64,
    face: f64,
    /// What they hold together, and what each operation asks for with the safety; none where it is not reckoned.
    forces: Option<(Hold, Vec<Hold>)>,
}

impl<'a> Holding<'a> {
    /// Judges the places of a card whose operations were read in cutting order.
    pub(super) fn new(case: &Case<'a>, job: &Job, reads: &[Read<'_>], map: &SheetMap) -> Result<Self, CannotJudge> {
        let given = &case.card.holddown;
        let mut stands = Vec::with_capacity(given.places.len());
        for place in &given.places {
            stands.push(Stand { at: place.at, fastener: case.fastener(place)? });
        }
        let forces = match board(case)? {
            Some(board) if !stands.is_empty() => {
                let lasting = stands.iter().filter(|stand| lasts(stand, map));
                let each = lasting.map(|stand| held(stand.fastener, case.thickness(), &board));
                let together: Option<Vec<Hold>> = each.collect();
                let together = together.map(|all| all.into_iter().fold(Hold::default(), Hold::and));
                let asked = asked(case, job, reads, Some(map))?;
                together.map(|holds| (holds, asked))
            }
            _ => None,
        };
        Ok(Self {
            struck: struck(job, &stands, given.margin),
            stands,
            margin: given.margin.mm(),
            face: case.face_z().mm(),
            forces,
        })
    }

    /// What was found of one operation, by its number in the order of cutting.
    pub(super) fn findings(&self, number: u16, read: &Read<'_>, out: &mut Vec<Finding>) {
        let name = &read.operation.name;
        out.extend(self.struck.iter().filter(|s| s.operation == number).map(|s| self.in_path(s, name)));
        excerpt::add(read.bytes, out);
        // one finding for the card: at the operation that asks for most
        let Some((holds, needs)) = &self.forces else { return };
        let short = |need: &Hold| {
            let (has, wants) = holds.weaker(*need);
            wants - has
        };
        let worst = needs.iter().enumerate().max_by(|(_, a), (_, b)| short(a).total_cmp(&short(b)));
        if let Some((at, need)) = worst
            && at == usize::from(number)
            && !holds.enough(*need)
        {
            let (has, wants) = holds.weaker(*need);
            let mut found = against(bare(Code::WeakHolddown, name), wants, Unit::N);
            found.measured = Some(has);
            out.push(found);
        }
    }

    fn in_path(&self, struck: &Struck, operation: &str) -> Finding {
        let mut found = against(bare(Code::FastenerInPath, operation), self.margin, Unit::Mm);
        found.line = Some(struck.place.line);
        found.column = Some(struck.place.column);
        found.lines = Some(struck.lines);
        found.count = struck.count;
        found.measured = Some(struck.air);
        if let Some(stand) = self.stands.get(struck.stand) {
            let (x, y) = (stand.at.x.mm(), stand.at.y.mm());
            found.place = Some([x, y, self.face]);
            let number = struck.stand + 1;
            let title = &stand.fastener.title;
            found.facts.fastener = Some(format!("fastener {number} ({title}) at X {} Y {}", plain(x), plain(y)));
        }
        found
    }
}

/// Places of a vacuum zone are looked at this often, mm.
const ZONE: f64 = 1.0;

/// Whether a fastener still holds at the end of the job: a vacuum zone that is cut into, or that lies under a piece
/// that comes free, holds nothing any more.
pub(super) fn lasts(stand: &Stand<'_>, map: &SheetMap) -> bool {
    if stand.fastener.kind != FastenerKind::Vacuum {
        return true;
    }
    let at = [stand.at.x.mm(), stand.at.y.mm()];
    let piece = map.piece_at(at).and_then(|piece| map.regions().get(piece));
    if piece.is_some_and(|piece| piece.loose.is_some()) {
        return false;
    }
    let half = stand.fastener.footprint.map_or([0.0; 2], |sides| sides.map(|side| side.mm() / 2.0));
    let steps = half.map(|half| (half / ZONE).floor().min(500.0) as i32);
    let along = |axis: usize, step: i32| at[axis] + f64::from(step) * ZONE;
    (-steps[0]..=steps[0]).all(|i| (-steps[1]..=steps[1]).all(|j| !map.is_through([along(0, i), along(1, j)])))
}

/// The waste board as screws know it; none where the shop does not say what it is.
pub(super) fn board(case: &Case<'_>) -> Result<Option<Board>, CannotJudge> {
    let waste = &case.bench.waste_board;
    let Some(key) = &waste.material else { return Ok(None) };
    let unknown = || CannotJudge::UnknownMaterial(key.clone());
    let material = case.stores.materials.get(key).ok_or_else(unknown)?;
    Ok(Some(Board { gravity: material.specific_gravity, thickness: waste.thickness }))
}

/// What each operation asks for at its hardest, safety included: with a map by what each move takes, without by the steps
/// from depth to depth.
pub(super) fn asked(
    case: &Case<'_>,
    job: &Job,
    reads: &[Read<'_>],
    map: Option<&SheetMap>,
) -> Result<Vec<Hold>, CannotJudge> {
    let force = case.material()?.cutting_force;
    let of = |(number, read): (u16, &Read<'_>)| {
        let depth = map.map_or_else(|| deepest_step(job, number), |map| deepest_cut(job, map, number));
        let depth = Length::from_mm(depth).unwrap_or_default();
        let hardest = read.cutting.largest_loads().filter_map(|(key, chip_load)| {
            let bit = case.stores.bits.get(key)?;
            Some(needed(&Pull { bit, chip_load, depth }, force))
        });
        let most = hardest.fold(Hold::default(), |a, b| Hold { lift: a.lift.max(b.lift), side: a.side.max(b.side) });
        most.times(case.bench.fastener_safety)
    };
    Ok((0..).zip(reads).map(of).collect())
}

/// The most that a sideways move of an operation takes at once, mm.
fn deepest_cut(job: &Job, map: &SheetMap, operation: u16) -> f64 {
    let sideways = |s: &&Stroke| s.operation == operation && !s.rapid && s.way.flat_length() > 0.0;
    let numbered = job.strokes.iter().enumerate().filter(|(_, s)| sideways(s));
    numbered.map(|(number, _)| f64::from(map.cut(number).deepest)).fold(0.0, f64::max)
}

/// The largest step from one depth of an operation to the next, from the face down, mm: what a pass takes, where every
/// feature is cut in the same passes.
fn deepest_step(job: &Job, operation: u16) -> f64 {
    let sideways = job.strokes.iter().filter(|s| s.operation == operation && !s.rapid && s.way.flat_length() > 0.0);
    let mut depths: Vec<f64> = sideways.map(|s| job.face - s.way.lowest()).filter(|depth| *depth > 0.0).collect();
    depths.sort_by(f64::total_cmp);
    let mut above = 0.0;
    depths.iter().fold(0.0, |most: f64, depth| most.max(depth - std::mem::replace(&mut above, *depth)))
}
