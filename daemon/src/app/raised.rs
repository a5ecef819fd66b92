//! The bit raised clear of the wood before it is taken out: after a closing touch with paper it stands at the face.
//!
//! May live here: when that is asked, and how high is high enough. May not: whether the machine may move; that is `floor`.

use super::foreman::Foreman;
use super::lists::Verdict;
use crate::floor::state::Position;
use crate::shop::checklist::{Asks, Facts, Only, Step};
use chargehand_types::act::Axis;
use chargehand_types::checklist::{Ask, Leg, ListKind, Step as ShownStep};
use chargehand_types::quantity::{Length, Seconds, plain};

/// Below the top of Z travel, where the end switch is.
const BELOW_TOP: Length = Length::whole_mm(1);
/// So high above the face a bit can be drawn down out of its collet. Common practice, no source; a touch plate of usual
/// thickness leaves the bit as high.
const ROOM: Length = Length::whole_mm(20);
/// Nearer than this is there; no eye and no machine of this kind tells less.
const CLOSE: Length = Length(50_000);
/// The step's text, and more of it.
const TEXT: &str = "Raise the bit clear of the wood, before you take it out.";
const HELP: &str = "A bit is drawn down out of its collet: it needs room below it. On the wood it chips.";
/// Where it is not known how high it stands.
const UNKNOWN: &str = "Where the bit stands is not known. Find home, then raise it.";
/// What raising it takes, by small steps. Common practice, no source.
const TAKES_S: f64 = 60.0;

/// How a bit stands over the wood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Height {
    /// Above the face.
    above: Length,
    /// Above the face from where on there is room.
    room: Length,
    /// What is left up to the top.
    left: Length,
}

impl Height {
    /// From where the bit, the face and the top of travel are, in machine coordinates. Where the travel is short, its top
    /// has to do.
    fn of(here: Length, face: Length, top: Length) -> Self {
        let high = top - BELOW_TOP;
        Self { above: here - face, room: ROOM.min(high - face), left: high - here }
    }

    fn is_clear(self) -> bool {
        self.above >= self.room - CLOSE
    }

    fn leg(self) -> Option<Leg> {
        (!self.is_clear() && self.left > CLOSE).then_some(Leg { axis: Axis::Z, by: self.left })
    }

    /// What is wrong with it as it is.
    fn too_low(self) -> String {
        let tenths = |length: Length| plain((length.mm() * 10.0).round() / 10.0);
        let room = tenths(self.room);
        if self.above <= CLOSE {
            format!("The bit stands on the wood or in it. Raise it to {room} mm above it or more, then look.")
        } else {
            let above = tenths(self.above);
            format!("The bit stands {above} mm above the wood. Raise it to {room} mm or more, then look.")
        }
    }
}

/// The step. No shop's list has it: it is asked whenever a bit that is to be taken out stands low.
fn step() -> Step {
    Step {
        id: "raised".to_owned(),
        text: TEXT.to_owned(),
        help: Some(HELP.to_owned()),
        caution: None,
        asks: Asks::Raise,
        only: None,
        killer: true,
        takes: Seconds::of(TAKES_S),
    }
}

impl Foreman {
    /// How the bit stands over the sheet's face, by the work zero that was touched last; none where that is not known.
    fn height(&self) -> Option<Height> {
        let here =
            self.controller.and_then(|c| c.machine).filter(|_| self.floor.machine.position == Position::Known)?;
        let work = self.work.as_ref()?;
        let sheet = &work.judged.card.sheet;
        let face = self.bench.work_zero.z + sheet.face_z(work.thickness.unwrap_or(sheet.thickness));
        Some(Height::of(here.z, face, self.premises.config.machine.travel.z.most))
    }

    fn stands_low(&self) -> bool {
        self.height().is_some_and(|height| !height.is_clear())
    }

    /// Puts the step in front of the one that takes the bit out, where the bit stands low or will.
    pub(super) fn raise_first(&self, kind: ListKind, facts: &Facts, steps: &mut Vec<Step>) {
        let touches = steps.iter().position(|s| s.asks == Asks::TouchAgain);
        let comes_out = kind == ListKind::Tooling && facts.hold(Only::BitChange);
        if comes_out && (touches.is_some() || self.stands_low()) {
            let before = touches.or_else(|| steps.iter().position(|s| s.asks == Asks::RunDown));
            let at = before.map_or(0, |at| at + 1);
            steps.insert(at, step());
        }
    }

    /// Leaves the step out that would be asked next where the bit stands high already: a touch plate has raised it.
    pub(super) fn pass_raised(&mut self) {
        let low = self.stands_low();
        if let Some(list) = self.work.as_mut().and_then(|w| w.list.as_mut())
            && list.items.get(list.at).is_some_and(|s| s.asks == Asks::Raise)
            && !low
        {
            list.items.remove(list.at);
        }
    }

    /// The step with the way that is left.
    pub(super) fn on_the_way_up(&self, mut step: ShownStep) -> ShownStep {
        if let Ask::Raise { leg, clear } = &mut step.ask
            && let Some(height) = self.height()
        {
            (*leg, *clear) = (height.leg(), height.is_clear());
        }
        step
    }

    /// What an answer to it comes to: what was said is held against where the bit stands.
    pub(super) fn raised(&self) -> Verdict {
        match self.height() {
            Some(height) if height.is_clear() => Verdict::taken(),
            Some(height) => Verdict::Wrong(height.too_low()),
            None => Verdict::Wrong(UNKNOWN.to_owned()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_mm(value).unwrap()
    }

    #[test]
    fn on_the_paper_is_low_and_where_a_plate_leaves_it_is_high() {
        let at = |above: f64| Height::of(mm(-60.0 + above), mm(-60.0), mm(0.0));
        let up = |by: f64| Some(Leg { axis: Axis::Z, by: mm(by) });
        assert_eq!([at(0.1).leg(), at(19.9).leg()], [up(58.9), up(39.1)]);
        for high in [20.0, 35.0, 59.0, 60.0] {
            assert_eq!((at(high).is_clear(), at(high).leg()), (true, None), "{high}");
        }
    }

    #[test]
    fn where_travel_is_short_its_top_has_to_do() {
        let at = |above: f64| Height::of(mm(-12.0 + above), mm(-12.0), mm(0.0));
        assert!(!at(10.0).is_clear() && at(11.0).is_clear());
        assert!(at(0.0).too_low().contains("to 11 mm"), "{}", at(0.0).too_low());
    }

    #[test]
    fn too_low_says_how_low_and_how_high() {
        let told = |above: f64| Height::of(mm(-60.0 + above), mm(-60.0), mm(0.0)).too_low();
        assert_eq!(told(0.1), "The bit stands 0.1 mm above the wood. Raise it to 20 mm or more, then look.");
        assert!(told(-3.0).starts_with("The bit stands on the wood or in it. Raise it to 20 mm above it"));
    }
}
