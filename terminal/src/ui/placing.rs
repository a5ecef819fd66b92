//! Fastener places as they are made: which one is chosen, where it was moved to, how much air it has there.
//!
//! May live here: moving places, and what is known of them. May not: whether a place may be used; the daemon says so.

use super::keys::Press;
use super::model::StepName;
use super::units::Units;
use crate::words::{Words, say};
use chargehand_types::holddown::{AirAnswer, PlaceMeasured};
use chargehand_types::quantity::{Length, Spot, plain};

/// The places of the step on the screen.
#[derive(Debug, Clone, PartialEq)]
pub struct Placing {
    /// The step they belong to.
    pub of: StepName,
    /// As planned.
    planned: Vec<Spot>,
    /// As they are made.
    pub places: Vec<Spot>,
    /// Which one the arrows move, from 0.
    pub chosen: usize,
    step: usize,
    units: Units,
    /// What the daemon said, and of which places.
    pub measured: Option<(Vec<Spot>, AirAnswer)>,
}

/// What is known of one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Known<'a> {
    /// Air beside the fastener, mm; none where nothing is cut at all.
    pub air: Option<f64>,
    /// Air wanted, mm.
    pub wanted: f64,
    /// What the daemon measured.
    pub place: &'a PlaceMeasured,
}

impl Placing {
    /// Begins with the places of the plan.
    #[must_use]
    pub fn new(of: StepName, planned: &[Spot], units: Units) -> Self {
        Self { of, planned: planned.to_vec(), places: planned.to_vec(), chosen: 0, step: 0, units, measured: None }
    }

    /// Whether they belong to a step: another note under the same step changes nothing.
    #[must_use]
    pub fn is_of(&self, name: &StepName) -> bool {
        self.of.sheet == name.sheet && self.of.id == name.id && self.of.list == name.list
    }

    /// How far one press moves.
    #[must_use]
    pub fn pace(&self) -> Length {
        self.units.paces().get(self.step).copied().unwrap_or_default()
    }

    /// Takes a key; none when it means nothing here, true when a place was moved.
    pub fn press(&mut self, press: Press) -> Option<bool> {
        let by = self.pace();
        match press {
            Press::Left => self.shift(-by, Length::ZERO),
            Press::Right => self.shift(by, Length::ZERO),
            Press::Down => self.shift(Length::ZERO, -by),
            Press::Up => self.shift(Length::ZERO, by),
            Press::PageDown => self.choose(1),
            Press::PageUp => self.choose(self.places.len().saturating_sub(1)),
            Press::Char('+') => self.take_pace((self.step + 1).min(self.units.paces().len() - 1)),
            Press::Char('-') => self.take_pace(self.step.saturating_sub(1)),
            Press::Back => self.put_back(),
            Press::Char(_) | Press::Enter | Press::Escape | Press::Leave => None,
        }
    }

    fn shift(&mut self, x: Length, y: Length) -> Option<bool> {
        let place = self.places.get_mut(self.chosen)?;
        *place = Spot { x: place.x + x, y: place.y + y };
        Some(true)
    }

    fn choose(&mut self, on: usize) -> Option<bool> {
        self.chosen = (self.chosen + on).checked_rem(self.places.len())?;
        Some(false)
    }

    fn take_pace(&mut self, step: usize) -> Option<bool> {
        self.step = step;
        Some(false)
    }

    /// The chosen place goes back to where it was planned.
    fn put_back(&mut self) -> Option<bool> {
        let planned = *self.planned.get(self.chosen)?;
        *self.places.get_mut(self.chosen)? = planned;
        Some(true)
    }

    /// Whether a place was moved.
    #[must_use]
    pub fn is_moved(&self, number: usize) -> bool {
        self.places.get(number) != self.planned.get(number)
    }

    /// What is known of a place where it is now; none until the daemon has said it.
    #[must_use]
    pub fn known(&self, number: usize) -> Option<Known<'_>> {
        let (asked, answer) = self.measured.as_ref()?;
        let at = self.places.get(number)?;
        let place = answer.places.get(number).filter(|_| asked.get(number) == Some(at))?;
        let air = place.clearance_mm.map(|clearance| (clearance - answer.reach.mm()).max(0.0));
        Some(Known { air, wanted: answer.margin.mm(), place })
    }

    /// Whether the daemon said that a place cannot be used.
    #[must_use]
    pub fn is_bad(&self, number: usize) -> bool {
        self.known(number).is_some_and(|known| !known.place.ok)
    }

    /// What is known of a place, as a sentence.
    #[must_use]
    pub fn told(&self, number: usize, words: &Words) -> String {
        let n = number + 1;
        let Some(Known { air, wanted, place }) = self.known(number) else {
            return say!(words, "place.measuring", n = n);
        };
        if !place.on_sheet {
            return say!(words, "place.off-sheet", n = n);
        }
        let nearest = match (&place.operation, place.line) {
            (Some(operation), Some(line)) if air.is_some() => {
                say!(words, "place.nearest", operation = operation, line = line)
            }
            _ => String::new(),
        };
        let notes: String =
            std::iter::once(nearest).chain(place.notes.iter().map(|n| say!(words, "place.and", note = n))).collect();
        let units = self.units;
        let wanted = units.gauged(Length::from_mm(wanted).unwrap_or_default());
        match air.map(|air| (format!("{} {}", never_more(air, units), units.sign(words)), place.ok)) {
            None => say!(words, "place.free", n = n, notes = notes),
            Some((air, true)) => say!(words, "place.air", n = n, air = air, wanted = wanted, notes = notes),
            Some((air, false)) => say!(words, "place.hit", n = n, air = air, wanted = wanted, notes = notes),
        }
    }
}

/// To a tenth of a millimetre, or in inches to less, never told better than it is.
fn never_more(mm: f64, units: Units) -> String {
    match units {
        Units::Millimetres => plain((mm * 10.0).floor() / 10.0),
        Units::Inches => units.gauged(Length::from_mm((mm - 0.0127).max(0.0)).unwrap_or_default()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::checklist::{ListForm, ListKind};

    fn spot(x: i64, y: i64) -> Spot {
        Spot { x: Length::whole_mm(x), y: Length::whole_mm(y) }
    }

    fn name(note: Option<&str>) -> StepName {
        StepName {
            sheet: None,
            list: ListKind::Securing,
            form: ListForm::Full,
            id: "places".into(),
            number: 6,
            graded: 0,
            note: note.map(str::to_owned),
        }
    }

    fn placing() -> Placing {
        Placing::new(name(None), &[spot(20, 20), spot(500, 20)], Units::Millimetres)
    }

    fn answer(of: &Placing, clearance: f64, ok: bool) -> AirAnswer {
        let place = |at: &Spot| PlaceMeasured {
            at: *at,
            clearance_mm: Some(clearance),
            on_sheet: true,
            ok,
            operation: Some("outlines".into()),
            line: Some(88),
            notes: Vec::new(),
        };
        let places = of.places.iter().map(place).collect();
        AirAnswer { schema: 1, margin: Length::whole_mm(4), reach: Length::whole_mm(4), places }
    }

    #[test]
    fn arrows_move_the_chosen_place() {
        let mut p = placing();
        assert_eq!(p.press(Press::Up), Some(true));
        assert_eq!(p.press(Press::Char('+')), Some(false));
        assert_eq!(p.press(Press::Right), Some(true));
        assert_eq!(p.places[0], spot(25, 21));
        assert_eq!(p.press(Press::PageDown), Some(false));
        assert_eq!(p.press(Press::Left), Some(true));
        assert_eq!((p.places[1], p.is_moved(1)), (spot(495, 20), true));
        assert_eq!(p.press(Press::Back), Some(true));
        assert_eq!((p.places[1], p.is_moved(1)), (spot(500, 20), false));
        // one more is the first again
        p.press(Press::PageDown);
        assert_eq!(p.chosen, 0);
        assert_eq!(p.press(Press::Enter), None);
        assert!(p.is_of(&name(Some("place 1 would be hit"))), "a note keeps what was moved");
    }

    #[test]
    fn an_answer_counts_for_the_place_it_was_asked_of() {
        let mut p = placing();
        assert!(p.told(0, crate::words::english()).contains("being measured"));
        p.measured = Some((p.places.clone(), answer(&p, 16.44, true)));
        assert_eq!(p.told(0, crate::words::english()), "Place 1: 12.4 mm of air, 4 wanted. Nearest: outlines line 88.");
        p.measured = Some((p.places.clone(), answer(&p, 6.0, false)));
        assert_eq!(
            p.told(0, crate::words::english()),
            "Place 1 WOULD BE HIT: 2 mm of air, 4 wanted. Nearest: outlines line 88."
        );
        assert!(p.is_bad(0));
        p.press(Press::Up);
        assert!(p.told(0, crate::words::english()).contains("being measured") && !p.is_bad(0), "moved since");
        assert!(p.is_bad(1), "the other one was not");
    }

    #[test]
    fn nothing_to_place_is_no_trouble() {
        let mut p = Placing::new(name(None), &[], Units::Millimetres);
        for press in [Press::Up, Press::PageDown, Press::Back] {
            assert_eq!(p.press(press), None);
        }
    }
}
