//! Where the fasteners of a card go, and how far any place is from the bit: the whole answer about the hold-down.
//!
//! May live here: putting the question to the hold-down and its answer together. May not: distances, forces, the rules of
//! a proposal.

use super::bench::Spindle;
use super::case::{CannotJudge, Case};
use super::fitness::Wear;
use super::holding::{asked, board, lasts};
use super::operation::{Read, read};
use super::reach::Reach;
use super::revision::revision;
use super::trace::Trace;
use crate::holddown::{
    Ask, Board, Dimple, Footing, HOLE, Hold, LoosePiece, Over, Sheetful, Stand, Trouble, draw_sheet, held, hover,
    largest_free, mark, penetration, propose, struck,
};
use crate::sheetmap::{Clearance, Job, Least, SheetMap};
use crate::shop::config::Rectangle;
use chargehand_types::SCHEMA;
use chargehand_types::card::{Card, Fastener, FastenerKind, FastenerPlace, Stores};
use chargehand_types::finding::Code;
use chargehand_types::holddown::{FreeCircle, HoldDownAnswer, HoldDownReport, MarkingPrograms, Paper, PlacePlanned};
use chargehand_types::quantity::{Feed, Force, Length, Point, Rpm, Spot, plain};
use std::collections::BTreeMap;

/// Jobs of more moves are asked through the tree alone: lists for every cell would take longer to make than they save.
const MANY: usize = 50_000;
/// A dimple that a screw's point finds (common practice, no source).
const DIMPLE_DEPTH: Length = Length(1_500_000);
const DIMPLE_FEED: Feed = Feed(300_000_000);
const DIMPLE_SPEED: Rpm = Rpm(16_000_000);
/// Smaller loose pieces (mm2) get no fastener of their own.
const WORTH_HOLDING: f64 = 2500.0;

/// What is asked beside the card.
#[derive(Debug, Clone, Copy, Default)]
pub struct Question<'a> {
    /// A key of the fasteners; the card's own when left out.
    pub fastener: Option<&'a str>,
    /// Places to be measured.
    pub at: &'a [Spot],
    /// The sheet is bowed.
    pub bowed: bool,
    /// The programs that mark the places and hover over them.
    pub programs: bool,
    /// A drawing.
    pub drawing: Option<Paper>,
}

/// Answers where fasteners go; no place is proposed inside a piece that holds by tabs.
///
/// # Errors
/// When the card names something that is not there.
pub fn hold_down(case: &Case<'_>, wanted: &Question<'_>) -> Result<HoldDownAnswer, CannotJudge> {
    let key = wanted.fastener.unwrap_or(&case.card.holddown.fastener);
    let fastener = case.stores.fasteners.get(key).ok_or_else(|| CannotJudge::UnknownFastener(key.to_owned()))?;
    let mut wear = Wear::new(case);
    let mut reads = Vec::new();
    let mut trace = Trace::new(case);
    for operation in case.in_order() {
        reads.push(read(case, operation, &mut wear, &mut trace)?);
    }
    let left_out = left_out(case, &reads);
    let job = trace.job;
    let limits = &case.bench.limits_set;
    let least = Least { depth: limits.ignore_thinner, piece: limits.small_piece };
    let map = SheetMap::of(&job, least, &[], case.pool);
    let ground = Ground::new(case, &job, fastener, &reads, Some(&map))?;
    let clear = ground.clearance(Footing::of(fastener).top());
    let mut answer = ground.blank(wanted, &clear);
    answer.left_out = left_out.iter().map(|(name, why)| format!("{name}: {why}")).collect();
    ground.fill(&clear, Some(&map), wanted.bowed, &mut answer)?;
    if wanted.programs {
        answer.programs = Some(ground.marked(&answer));
    }
    if let Some(paper) = wanted.drawing {
        answer.svg = Some(ground.drawn(Some(&map), paper, &answer));
    }
    Ok(answer)
}

/// One place more beside those given, for a sheet that is bowed: of the places a proposal would use, the one farthest
/// from all given; none where there is no room.
///
/// # Errors
/// When the card names something that is not there.
pub fn one_more(case: &Case<'_>, given: &[Spot]) -> Result<Option<Spot>, CannotJudge> {
    let own = Some(case.card.holddown.fastener.as_str());
    let answer = hold_down(case, &Question { fastener: own, bowed: true, ..Question::default() })?;
    let away =
        |at: &Spot| given.iter().map(|g| (g.x - at.x).mm().hypot((g.y - at.y).mm())).fold(f64::INFINITY, f64::min);
    let farthest = answer.places.iter().map(|place| place.at).max_by(|a, b| away(a).total_cmp(&away(b)));
    let fastener = case.fastener(&FastenerPlace { at: Spot::default(), with: None })?;
    let room = 2.0 * Footing::of(fastener).reach().mm() + case.card.holddown.margin.mm();
    Ok(farthest.filter(|at| away(at) >= room))
}

/// The same in brief, of a card whose programs were read and swept.
pub(super) fn brief(
    case: &Case<'_>,
    job: &Job,
    reads: &[Read<'_>],
    map: &SheetMap,
) -> Result<HoldDownReport, CannotJudge> {
    let key = &case.card.holddown.fastener;
    let fastener = case.stores.fasteners.get(key).ok_or_else(|| CannotJudge::UnknownFastener(key.clone()))?;
    let ground = Ground::new(case, job, fastener, reads, Some(map))?;
    let clear = ground.clearance(Footing::of(fastener).top());
    let mut answer = ground.blank(&Question::default(), &clear);
    ground.fill(&clear, Some(map), false, &mut answer)?;
    Ok(HoldDownReport {
        places: answer.places.iter().map(|place| place.at).collect(),
        largest_free: answer.largest_free,
        holds_n: answer.holds_n,
        needs_n: answer.needs_n,
    })
}

/// Programs whose moves nobody can know: they cannot be read, or their numbers are in the wrong unit.
fn left_out(case: &Case<'_>, reads: &[Read<'_>]) -> Vec<(String, &'static str)> {
    let mut left_out = Vec::new();
    for read in reads {
        let mut found = Vec::new();
        read.findings(case, &Reach::default(), &mut found);
        let why = if found.iter().any(|f| f.code == Code::Unreadable) {
            "it cannot be read"
        } else if found.iter().any(|f| f.code == Code::SuspectUnits) {
            "its numbers are in the wrong unit"
        } else {
            continue;
        };
        left_out.push((read.operation.name.clone(), why));
    }
    left_out
}

fn names(reads: &[Read<'_>]) -> Vec<String> {
    reads.iter().map(|read| read.operation.name.clone()).collect()
}

/// What every part of the answer rests on.
pub(super) struct Ground<'a> {
    pub(super) case: &'a Case<'a>,
    pub(super) job: &'a Job,
    pub(super) fastener: &'a Fastener,
    board: Option<Board>,
    need: Hold,
    pub(super) names: Vec<String>,
}

impl<'a> Ground<'a> {
    /// Of a job that was swept, for single places.
    pub(super) fn of_places(case: &'a Case<'a>, job: &'a Job, fastener: &'a Fastener, names: Vec<String>) -> Self {
        Self { case, job, fastener, board: None, need: Hold::default(), names }
    }

    fn new(
        case: &'a Case<'a>,
        job: &'a Job,
        fastener: &'a Fastener,
        reads: &[Read<'_>],
        map: Option<&SheetMap>,
    ) -> Result<Self, CannotJudge> {
        let needs = asked(case, job, reads, map)?;
        let need =
            needs.iter().fold(Hold::default(), |a, b| Hold { lift: a.lift.max(b.lift), side: a.side.max(b.side) });
        Ok(Self { case, job, fastener, board: board(case)?, need, names: names(reads) })
    }

    /// An answer without places.
    fn blank(&self, wanted: &Question<'_>, clear: &Clearance) -> HoldDownAnswer {
        let case = self.case;
        HoldDownAnswer {
            schema: SCHEMA,
            card: case.card.name.clone(),
            revision: revision(case.card, case.programs),
            thickness: case.thickness(),
            fastener: self.fastener.title.clone(),
            asked: self.asked(wanted.at, clear),
            given: !case.card.holddown.places.is_empty() && wanted.fastener.is_none(),
            places: Vec::new(),
            troubles: self.goes_through(),
            largest_free: self.free(clear),
            holds_n: None,
            needs_n: None,
            left_out: Vec::new(),
            programs: None,
            svg: None,
        }
    }

    /// The card's places, or a proposal.
    fn fill(
        &self,
        clear: &Clearance,
        map: Option<&SheetMap>,
        bowed: bool,
        answer: &mut HoldDownAnswer,
    ) -> Result<(), CannotJudge> {
        if answer.given {
            return self.given(map, answer);
        }
        self.proposed(clear, map, bowed, answer);
        Ok(())
    }

    fn clearance(&self, above: f64) -> Clearance {
        if self.job.strokes.len() > MANY {
            Clearance::for_few(self.job, above)
        } else {
            Clearance::new(self.job, above)
        }
    }

    pub(super) fn margin(&self) -> Length {
        self.case.card.holddown.margin
    }

    /// What a screw of this length does in this board.
    fn goes_through(&self) -> Vec<String> {
        if !goes_in(self.fastener) {
            return Vec::new();
        }
        let board = &self.case.bench.waste_board;
        let (thread, out) = penetration(self.fastener, self.case.thickness(), board.thickness);
        let mut troubles = Vec::new();
        if out > Length::ZERO {
            troubles.push(Trouble::OutBelow { by: out.mm() }.to_string());
        }
        if thread <= Length::ZERO {
            troubles.push(Trouble::TooShort.to_string());
        }
        troubles
    }

    fn free(&self, clear: &Clearance) -> Option<FreeCircle> {
        let found = largest_free(self.job.corner, self.job.size, clear)?;
        Some(FreeCircle { at: spot(found.at), radius: Length::from_mm(found.radius).unwrap_or_default() })
    }

    /// The card's own places.
    fn given(&self, map: Option<&SheetMap>, answer: &mut HoldDownAnswer) -> Result<(), CannotJudge> {
        let mut stands = Vec::new();
        for place in &self.case.card.holddown.places {
            stands.push(Stand { at: place.at, fastener: self.case.fastener(place)? });
        }
        let struck = struck(self.job, &stands, self.margin());
        let mut holds = Some(Hold::default());
        let mut levels: BTreeMap<u64, Clearance> = BTreeMap::new();
        for (at, stand) in stands.iter().enumerate() {
            let top = Footing::of(stand.fastener).top();
            let clear = levels.entry(top.to_bits()).or_insert_with(|| Clearance::for_few(self.job, top));
            let place = [stand.at.x.mm(), stand.at.y.mm()];
            let worst = struck.iter().filter(|s| s.stand == at).min_by(|a, b| a.air.total_cmp(&b.air));
            if let Some(s) = worst {
                let operation = self.names.get(usize::from(s.operation)).map_or("", String::as_str);
                answer.troubles.push(format!(
                    "place {} would be hit or nearly so: {} mm of air at {operation} line {} (wanted {} mm)",
                    at + 1,
                    plain(s.air),
                    s.place.line,
                    plain(self.margin().mm())
                ));
            }
            let n = number(at);
            answer
                .troubles
                .extend(self.notes(stand.at, stand.fastener).iter().map(|note| format!("place {n}: {note}")));
            let more = self.board.as_ref().and_then(|board| held(stand.fastener, self.case.thickness(), board));
            if map.is_none_or(|map| lasts(stand, map)) {
                holds = holds.zip(more).map(|(holds, more)| holds.and(more));
            } else {
                answer.troubles.push(format!(
                    "place {n}: its vacuum is lost, for it is cut into or lies under a piece that comes free; it is not counted"
                ));
            }
            answer.places.push(PlacePlanned {
                number: number(at),
                at: stand.at,
                tape: self.tape(stand.at),
                clearance_mm: clear.nearest(place).map(|n| n.air.max(0.0)),
                hit: worst.is_some(),
                why: "given by the card".to_owned(),
            });
        }
        let worn = stands.iter().filter(|stand| self.old_hole(stand.at, stand.fastener).is_some()).count();
        if worn > 0 {
            answer.troubles.push(format!(
                "{worn} of the {} places lie less than {} mm from old holes in the waste board and hold less there: move them, or surface or change the board",
                stands.len(),
                plain(HOLE)
            ));
        }
        if let Some(holds) = holds {
            self.forces(holds, answer);
        }
        Ok(())
    }

    fn proposed(&self, clear: &Clearance, map: Option<&SheetMap>, bowed: bool, answer: &mut HoldDownAnswer) {
        let footing = Footing::of(self.fastener);
        let cuts = (footing.top() > 0.0).then(|| self.clearance(0.0));
        let keep_out: Vec<[[f64; 2]; 2]> = self.case.bench.waste_board.keep_out.iter().map(corners).collect();
        let used = self.old_holes();
        let loose: Vec<LoosePiece> = map.map(|map| self.loose(map)).unwrap_or_default();
        let each = self.board.as_ref().and_then(|board| held(self.fastener, self.case.thickness(), board));
        let piece_at = map.map(|map| move |at| map.piece_at(at));
        let found = propose(&Ask {
            corner: self.job.corner,
            size: self.job.size,
            clear,
            cuts: cuts.as_ref().unwrap_or(clear),
            footing,
            margin: self.margin().mm(),
            goes_in: goes_in(self.fastener),
            keep_out: &keep_out,
            used: &used,
            piece_at: piece_at.as_ref().map(|f| f as &dyn Fn([f64; 2]) -> Option<usize>),
            loose: if goes_in(self.fastener) { &loose } else { &[] },
            each,
            need: self.need,
            span: self.case.bench.fastener_span.mm(),
            bowed,
        });
        answer.troubles.extend(found.troubles.iter().map(ToString::to_string));
        for (at, place) in found.places.iter().enumerate() {
            answer.places.push(PlacePlanned {
                number: number(at),
                at: spot(place.at),
                tape: self.tape(spot(place.at)),
                clearance_mm: place.air.is_finite().then_some(place.air),
                hit: false,
                why: place.why.to_string(),
            });
        }
        if let Some(each) = each {
            self.forces(each.times(found.places.len() as f64), answer);
        }
    }

    fn loose(&self, map: &SheetMap) -> Vec<LoosePiece> {
        let worth = |r: &&crate::sheetmap::Region| r.loose.is_some() && r.area >= WORTH_HOLDING;
        map.regions().iter().filter(worth).map(|r| LoosePiece { inside: r.inside }).collect()
    }

    fn forces(&self, holds: Hold, answer: &mut HoldDownAnswer) {
        if self.board.is_some() {
            let (holds, needs) = holds.weaker(self.need);
            (answer.holds_n, answer.needs_n) = (Some(Force::of(holds)), Some(Force::of(needs)));
        }
    }

    fn tape(&self, at: Spot) -> [Length; 2] {
        let corner = self.case.card.sheet.corner;
        [at.x - corner.x, at.y - corner.y]
    }

    /// The programs, clear of the highest fastener by the height that the machine travels at.
    fn marked(&self, answer: &HoldDownAnswer) -> MarkingPrograms {
        let sheet = &self.case.card.sheet;
        let places: Vec<Spot> = answer.places.iter().filter(|place| !place.hit).map(|place| place.at).collect();
        let given = &self.case.card.holddown.places;
        let highest = given.iter().filter_map(|place| self.case.fastener(place).ok()).map(|f| f.head_height).max();
        let over = Over {
            face: sheet.face_z(self.case.thickness()),
            safe: self.case.bench.safe_z + highest.unwrap_or_default().max(self.fastener.head_height),
        };
        let [x, y] = self.job.corner;
        let [wide, deep] = self.job.size;
        let edges = [spot([x, y + deep / 2.0]), spot([x + wide / 2.0, y])];
        let speed = match self.case.bench.spindle {
            Spindle::Manual => DIMPLE_SPEED,
            Spindle::Controlled { least, most } => DIMPLE_SPEED.min(most).max(least),
        };
        let dimple = Dimple { depth: DIMPLE_DEPTH, feed: DIMPLE_FEED, speed };
        MarkingPrograms { mark: mark(&places, over, dimple), hover: hover(&places, edges, over) }
    }

    fn drawn(&self, map: Option<&SheetMap>, paper: Paper, answer: &HoldDownAnswer) -> String {
        let bits = self.case.in_order();
        let mut of_bits: Vec<String> = bits
            .iter()
            .map(|o| {
                let title = self.case.stores.bits.get(&o.bit).map_or(o.bit.as_str(), |b| b.title.as_str());
                format!("{}: {title}", o.name)
            })
            .collect();
        of_bits.dedup();
        draw_sheet(&Sheetful {
            card: self.case.card,
            material: self.case.material().map_or("", |m| m.title.as_str()),
            bits: &of_bits,
            job: self.job,
            map,
            names: &self.names,
            footing: Footing::of(self.fastener),
            keep_out: &self.case.bench.waste_board.keep_out.iter().map(corners).collect::<Vec<_>>(),
            answer,
            paper,
        })
    }
}

/// Holes that fasteners at these places make in the waste board, in machine coordinates by where the work zero is. Each
/// is the card's own for its place, or else the card's usual one.
///
/// # Errors
/// When the card names a fastener that is not there.
pub fn holes(card: &Card, stores: &Stores, zero: Point, places: &[Spot]) -> Result<Vec<Spot>, CannotJudge> {
    let mut holes = Vec::new();
    for at in places {
        let own = card.holddown.places.iter().find(|p| p.at == *at).and_then(|p| p.with.as_ref());
        let key = own.unwrap_or(&card.holddown.fastener);
        let fastener = stores.fasteners.get(key).ok_or_else(|| CannotJudge::UnknownFastener(key.clone()))?;
        if goes_in(fastener) {
            holes.push(Spot { x: at.x + zero.x, y: at.y + zero.y });
        }
    }
    Ok(holes)
}

/// Whether it goes into the waste board.
pub(super) fn goes_in(fastener: &Fastener) -> bool {
    matches!(fastener.kind, FastenerKind::Screw | FastenerKind::Nail | FastenerKind::Pin)
}

fn corners(r: &Rectangle) -> [[f64; 2]; 2] {
    [[r.from.x.mm(), r.from.y.mm()], [r.to.x.mm(), r.to.y.mm()]]
}

fn number(at: usize) -> u32 {
    u32::try_from(at + 1).unwrap_or(u32::MAX)
}

fn spot([x, y]: [f64; 2]) -> Spot {
    let mm = |v| Length::from_mm(v).unwrap_or_default();
    Spot { x: mm(x), y: mm(y) }
}
