//! Physical bits, as the events tell them: each by its own number, from its first use to scrap.
//!
//! May live here: plain facts. May not: when one is due; that is `findings`.

use super::State;
use chargehand_types::bits::{NumberedBit, Scrapped};
use chargehand_types::event::{Event, What};
use chargehand_types::id::{BitName, BitNumber};
use chargehand_types::quantity::{Length, Metres};

impl State {
    /// Folds in what concerns a physical bit. False when the event names one that was never told of.
    pub(super) fn fold_bit(&mut self, event: &Event) -> bool {
        match &event.what {
            What::BitBegan { number, bit, figures, used } => {
                let began = NumberedBit {
                    number: *number,
                    bit: bit.clone(),
                    began: event.at,
                    by: event.actor.clone(),
                    figures: *figures,
                    diameters: figures.diameter.map(|read| (event.at, read)).into_iter().collect(),
                    regrinds: 0,
                    cut: *used,
                    since_grind: *used,
                    last: None,
                    scrapped: None,
                };
                self.numbered.insert(*number, began);
                true
            }
            What::BitMeasured { number, figures, reground } => self.change(*number, |bit| {
                bit.figures = bit.figures.with(*figures);
                bit.diameters.extend(figures.diameter.map(|read| (event.at, read)));
                if *reground {
                    bit.regrinds = bit.regrinds.saturating_add(1);
                    bit.since_grind = Metres::ZERO;
                }
            }),
            What::BitScrapped { number, why } => self.change(*number, |bit| {
                bit.scrapped = Some(Scrapped { at: event.at, by: event.actor.clone(), why: why.clone() });
            }),
            What::BitFitted { number: Some(number), diameter, .. } => self.change(*number, |bit| {
                bit.last = Some(event.at);
                read(bit, event, *diameter);
            }),
            What::OperationFinished { number: Some(number), cut, .. } => self.change(*number, |bit| {
                bit.last = Some(event.at);
                bit.cut += *cut;
                bit.since_grind += *cut;
            }),
            _ => true,
        }
    }

    fn change(&mut self, number: BitNumber, change: impl FnOnce(&mut NumberedBit)) -> bool {
        self.numbered.get_mut(&number).map(change).is_some()
    }

    /// Every physical bit, by number.
    pub fn numbered_bits(&self) -> impl Iterator<Item = &NumberedBit> {
        self.numbered.values()
    }

    /// One physical bit.
    #[must_use]
    pub fn numbered_bit(&self, number: BitNumber) -> Option<&NumberedBit> {
        self.numbered.get(&number)
    }

    /// Physical bits of a kind that are in use.
    pub fn bits_in_use<'a>(&'a self, kind: &'a BitName) -> impl Iterator<Item = &'a NumberedBit> {
        self.numbered.values().filter(move |bit| bit.bit == *kind && bit.scrapped.is_none())
    }

    /// The physical bit of a kind that is in the collet, or else the one that was there last; none where none of the
    /// kind is numbered.
    #[must_use]
    pub fn bit_at_hand(&self, kind: &BitName) -> Option<&NumberedBit> {
        let fitted = self.rest.fitted.as_ref().filter(|fitted| fitted.bit == *kind).and_then(|fitted| fitted.number);
        let in_collet = fitted.and_then(|number| self.numbered.get(&number)).filter(|bit| bit.scrapped.is_none());
        let in_use = self.numbered.values().filter(|bit| bit.bit == *kind && bit.scrapped.is_none());
        in_collet.or_else(|| in_use.max_by_key(|bit| (bit.last, bit.number)))
    }

    /// The number of the next physical bit.
    #[must_use]
    pub fn next_bit(&self) -> BitNumber {
        BitNumber(self.numbered.keys().next_back().map_or(1, |last| last.0.saturating_add(1)))
    }
}

/// A diameter that was read back; the same as before is no new reading.
fn read(bit: &mut NumberedBit, event: &Event, diameter: Option<Length>) {
    if let Some(diameter) = diameter
        && bit.figures.diameter != Some(diameter)
    {
        bit.figures.diameter = Some(diameter);
        bit.diameters.push((event.at, diameter));
    }
}
