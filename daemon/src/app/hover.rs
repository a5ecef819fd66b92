//! A step that brings the bit over a known place: the way there, one axis a press, and what a look at it comes to.
//!
//! May live here: the way and its words. May not: whether the machine may move; that is `floor`.

use super::acts::{Done, Said};
use super::foreman::{Foreman, Source, refused};
use super::lists::Verdict;
use crate::floor::state::Position;
use crate::floor::{Asked, AtStage, By, Happening, Refusal};
use crate::shop::checklist::{Asks, Facts, Over, Step};
use chargehand_types::act::Axis;
use chargehand_types::card::ZZero;
use chargehand_types::checklist::{Ask, Leg, Step as ShownStep};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, Point, Spot, plain};

/// Below the top of Z travel, for ways sideways over everything that stands on a sheet.
const BELOW_TOP: Length = Length::whole_mm(1);
/// So high above the sheet's face the bit is looked at: low enough to look along it, high enough for what stands on the
/// sheet. Common practice, no source.
const LOOKED_AT: Length = Length::whole_mm(10);
/// Nearer than this is there; no eye and no machine of this kind tells less.
const CLOSE: Length = Length(50_000);

/// The next part of the way from where the bit stands (machine coordinates): up first, sideways along one axis, then along
/// the other, and down where it is known how far. None when it is there.
fn next(here: Point, over: Spot, high: Length, low: Option<Length>) -> Option<Leg> {
    let far = |by: Length| by.abs() > CLOSE;
    let (dx, dy) = (over.x - here.x, over.y - here.y);
    let leg = |axis, by| Some(Leg { axis, by });
    if far(dx) || far(dy) {
        if far(high - here.z) && here.z < high {
            return leg(Axis::Z, high - here.z);
        }
        return if far(dx) { leg(Axis::X, dx) } else { leg(Axis::Y, dy) };
    }
    // whoever went lower by hand to see better stays there
    let low = low.filter(|low| here.z > *low + CLOSE)?;
    leg(Axis::Z, low - here.z)
}

/// A part of a way in words.
fn told(leg: Leg) -> String {
    let less = leg.by < Length::ZERO;
    let way = match (leg.axis, less) {
        (Axis::X, true) => "to the left",
        (Axis::X, false) => "to the right",
        (Axis::Y, true) => "towards you",
        (Axis::Y, false) => "away from you",
        (Axis::Z, true) => "down",
        (Axis::Z, false) => "up",
    };
    let far = (leg.by.abs().mm() * 10.0).round() / 10.0;
    format!("It moves {way}, {} mm.", plain(far))
}

/// Why what lies under the bit is not what a card counts from; `over`: the bit stands over the sheet.
const fn not_the_zero(zero: ZZero, over: bool) -> Option<&'static str> {
    match (zero, over) {
        (ZZero::Top, true) | (ZZero::Bed, false) => None,
        (ZZero::Top, false) => Some(
            "The bit stands beside the sheet, and the card counts from the sheet's face. \
             Bring it over the place that is proposed and touch there.",
        ),
        (ZZero::Bed, true) => Some(
            "The bit stands over the sheet, and the card counts from the waste board. \
             Bring it beside the sheet and touch there.",
        ),
    }
}

impl Foreman {
    /// Where the bit stands, in machine coordinates, where that is known.
    fn stands(&self) -> Option<Point> {
        self.controller.and_then(|c| c.machine).filter(|_| self.floor.machine.position == Position::Known)
    }

    /// A place of the sheet in machine coordinates.
    fn in_machine(&self, at: Spot) -> Spot {
        let zero = self.bench.work_zero;
        Spot { x: zero.x + at.x, y: zero.y + at.y }
    }

    /// The machine Z for ways sideways.
    fn over_all(&self) -> Length {
        self.premises.config.machine.travel.z.most - BELOW_TOP
    }

    /// The way to a place: its next part, and whether the bit is there. Neither where it is not known where it stands.
    fn way_over(&self, at: Spot) -> (Option<Leg>, bool) {
        let Some(here) = self.stands() else { return (None, false) };
        let (zero, high) = (self.bench.work_zero, self.over_all());
        let face = self.work.as_ref().map(|work| {
            let sheet = &work.judged.card.sheet;
            sheet.face_z(work.thickness.unwrap_or(sheet.thickness))
        });
        // how far down is known only once the Z zero was touched
        let touched = self.floor.machine.z_zero.is_some();
        let low = face.filter(|_| touched).map(|face| (zero.z + face + LOOKED_AT).min(high));
        let leg = next(here, self.in_machine(at), high, low);
        (leg, leg.is_none())
    }

    /// The way to the place where the zero is to be touched. It ends high above it: how far down it is is not known yet.
    fn way_to_touch(&self, at: Spot) -> Option<Leg> {
        next(self.stands()?, self.in_machine(at), self.over_all(), None)
    }

    /// Refuses a Z zero where what it would be touched on is not what the card counts from.
    ///
    /// # Errors
    /// When the bit stands beside a sheet whose face is the zero, or over one that lies on it.
    pub(super) fn over_what_is_zero(&self) -> Result<(), Problem> {
        let Some((here, work)) = self.stands().zip(self.work.as_ref()) else { return Ok(()) };
        let (sheet, zero) = (&work.judged.card.sheet, self.bench.work_zero);
        let over = sheet.covers(Spot { x: here.x - zero.x, y: here.y - zero.y });
        not_the_zero(sheet.z_zero, over).map_or(Ok(()), |text| Err(Problem::new(ProblemKind::StartCondition, text)))
    }

    /// A step that brings the bit over a place, with the way that is left.
    pub(super) fn on_the_way(&self, mut step: ShownStep) -> ShownStep {
        if let Ask::Hover { at, leg, there } = &mut step.ask {
            (*leg, *there) = self.way_over(*at);
        }
        if let (Ask::TouchZ { leg }, Some(at)) = (&mut step.ask, step.spot) {
            *leg = self.way_to_touch(at);
        }
        self.on_the_way_up(step)
    }

    /// Whether the step asked now has its bit over the place.
    pub(super) fn hovers(&self) -> bool {
        self.task().is_some_and(|task| matches!(task.step.ask, Ask::Hover { there: true, .. }))
    }

    /// Whether a step can be asked: one that brings the bit somewhere only where it is known where, the machine reaches it,
    /// and no program waits for the bit to be where it left it. The corner is for shops without a mark.
    pub(super) fn may_hover(&self, step: &Step, facts: &Facts) -> bool {
        let Asks::Hover(over) = step.asks else { return true };
        if over == Over::Corner && facts.mark.is_some() {
            return false;
        }
        let Some(at) = facts.over(over) else { return false };
        let (zero, travel) = (self.bench.work_zero, self.premises.config.machine.travel);
        let reached = travel.x.holds(zero.x + at.x) && travel.y.holds(zero.y + at.y);
        reached && !matches!(self.floor.at(), Some(AtStage::Held(_)))
    }

    /// Moves the next part of the way.
    ///
    /// # Errors
    /// When no step asks for it, the bit is there, or the floor refuses.
    pub(super) async fn approach(&mut self, by: By, source: &Source) -> Done {
        let leg = match self.task().map(|task| task.step.ask) {
            Some(
                Ask::Hover { leg: Some(leg), .. } | Ask::Raise { leg: Some(leg), .. } | Ask::TouchZ { leg: Some(leg) },
            ) => leg,
            Some(Ask::Raise { clear: true, .. }) => {
                let text = "The bit stands high enough. Look at it, then answer.";
                return Err(Problem::new(ProblemKind::NotNow, text));
            }
            Some(Ask::Hover { there: true, .. }) => {
                let text = "The bit is there. Look straight down along it, then answer.";
                return Err(Problem::new(ProblemKind::NotNow, text));
            }
            Some(Ask::Hover { .. } | Ask::Raise { .. }) => return Err(refused(Refusal::PositionUnknown)),
            Some(Ask::TouchZ { leg: None }) if self.stands().is_some() => {
                let text = "There is no way left to go: bring the bit down by hand until it touches.";
                return Err(Problem::new(ProblemKind::NotNow, text));
            }
            Some(Ask::TouchZ { leg: None }) => return Err(refused(Refusal::PositionUnknown)),
            _ => return Err(refused(Refusal::OtherStage)),
        };
        self.within_travel(leg.axis, leg.by)?;
        self.hand = Some((leg.axis, leg.by));
        self.happen(Happening::Act { by, what: Asked::HandMove }, source.clone(), Vec::new()).await?;
        Ok(Said::of(told(leg)))
    }

    /// The bit does not stand over a place that it should stand over: what was taken for known is not.
    pub(super) async fn off_the_mark(&mut self, by: By, source: &Source) -> Result<Verdict, Problem> {
        self.happen(Happening::Act { by, what: Asked::OffTheMark }, source.clone(), Vec::new()).await?;
        let text = "Then position is not what it was taken for. Look at the stops, find home and set the work zero anew; \
                    if it is off again, call the owner.";
        Ok(Verdict::Wrong(text.to_owned()))
    }

    /// The Z zero was touched in this list and does not count any more: the list begins anew.
    pub(super) fn touched_in_vain(&self) -> bool {
        let list = self.work.as_ref().and_then(|w| w.list.as_ref());
        let touched = list.is_some_and(|l| l.items.iter().take(l.at).any(|s| s.asks == Asks::TouchZ));
        touched && self.floor.machine.z_zero.is_none()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_mm(value).unwrap()
    }

    fn point(x: f64, y: f64, z: f64) -> Point {
        Point { x: mm(x), y: mm(y), z: mm(z) }
    }

    /// Every way ends over the place, moves sideways only at the top, and never along two axes at once.
    #[test]
    fn the_way_goes_up_sideways_and_down() {
        let (high, low, over) = (mm(-1.0), mm(-60.0), Spot { x: mm(100.0), y: mm(40.0) });
        let walk = |from: Point, low: Option<Length>| {
            let (mut here, mut legs) = (from, Vec::new());
            while let Some(leg) = next(here, over, high, low) {
                match leg.axis {
                    Axis::X => here.x += leg.by,
                    Axis::Y => here.y += leg.by,
                    Axis::Z => here.z += leg.by,
                }
                assert!(leg.axis == Axis::Z || here.z == high, "sideways at {}", here.z);
                legs.push((leg.axis, leg.by.mm()));
                assert!(legs.len() <= 4, "{legs:?}");
            }
            (legs, here)
        };
        let (legs, here) = walk(point(0.0, 90.0, -80.0), Some(low));
        assert_eq!(legs, [(Axis::Z, 79.0), (Axis::X, 100.0), (Axis::Y, -50.0), (Axis::Z, -59.0)]);
        assert_eq!(here, point(100.0, 40.0, -60.0));
        let (legs, _) = walk(point(100.0, 40.02, -70.0), Some(low));
        assert_eq!(legs, [], "lower by hand is there too");
        let (legs, here) = walk(point(100.0, 0.0, -1.0), None);
        assert_eq!((legs, here.z), (vec![(Axis::Y, 40.0)], high), "without a Z zero it stays up");
    }

    #[test]
    fn the_zero_is_touched_on_what_the_card_counts_from() {
        assert_eq!([not_the_zero(ZZero::Top, true), not_the_zero(ZZero::Bed, false)], [None, None]);
        assert!(not_the_zero(ZZero::Top, false).unwrap().starts_with("The bit stands beside the sheet"));
        assert!(not_the_zero(ZZero::Bed, true).unwrap().starts_with("The bit stands over the sheet"));
    }

    #[test]
    fn ways_are_told_as_a_person_sees_them() {
        assert_eq!(told(Leg { axis: Axis::X, by: mm(-120.04) }), "It moves to the left, 120 mm.");
        assert_eq!(told(Leg { axis: Axis::Y, by: mm(5.0) }), "It moves away from you, 5 mm.");
    }
}
