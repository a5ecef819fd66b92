//! Judgements that are known already: a check is a function of what it is given, and the same is asked at every corner of
//! a sheet, and of every sheet of a batch whose bits have worn no farther.
//!
//! May live here: what a judgement was given, and keeping it. May not: the check.

use super::work::JudgedCard;
use crate::findings::Bench;
use chargehand_types::card::{Card, Stores};
use chargehand_types::id::Revision;
use chargehand_types::quantity::{Length, Metres};
use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Mutex, PoisonError};

/// Judgements kept: of the last sheets of the cards that are cut lately.
const KEPT: usize = 16;

/// What a card is judged with, beside its programs.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedWith {
    /// Machine, shop and board.
    pub bench: Bench,
    /// The sheet's thickness, where it is not the card's own.
    pub thickness: Option<Length>,
    /// Way that bits have cut, by their key.
    pub used: BTreeMap<String, Metres>,
    /// Bits, as they are measured now, materials and fasteners.
    pub stores: Stores,
}

impl JudgedWith {
    /// For a card on a sheet of a thickness that was measured, or not.
    #[must_use]
    pub fn to(
        card: &Card,
        bench: Bench,
        measured: Option<Length>,
        used: BTreeMap<String, Metres>,
        stores: Stores,
    ) -> Self {
        let thickness = measured.filter(|t| *t != card.sheet.thickness);
        Self { bench, thickness, used, stores }
    }
}

/// The last judgements, the newest last.
#[derive(Debug, Default)]
pub struct Known(Mutex<VecDeque<Arc<JudgedCard>>>);

impl Known {
    /// What a revision of a card is judged with this, where that is known.
    #[must_use]
    pub fn find(&self, card: &Card, revision: &Revision, with: &JudgedWith) -> Option<Arc<JudgedCard>> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let same = |k: &&Arc<JudgedCard>| k.revision() == revision && k.with == *with && k.card == *card;
        kept.iter().rev().find(same).cloned()
    }

    /// Keeps a judgement; one whose programs are too long to be held is not.
    pub fn keep(&self, judged: &Arc<JudgedCard>) {
        if !judged.programs.are_short() {
            return;
        }
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.len() >= KEPT {
            kept.pop_front();
        }
        kept.push_back(Arc::clone(judged));
    }
}

#[cfg(test)]
mod tests {
    use super::super::premises::{Options, Premises, read};
    use super::super::programs::Texts;
    use super::*;
    use std::path::Path;

    #[allow(clippy::disallowed_methods, reason = "the demo's card, as a shop would have it")]
    fn demo() -> (Premises, Card, Texts) {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../config/demo");
        let premises =
            read(&Options { config: folder.join("daemon.toml"), store: None, socket: None, port: None }).unwrap();
        let text = std::fs::read_to_string(folder.join("seed-trays.card.toml")).unwrap();
        let card = crate::shop::card::read("seed-trays.card.toml", &text, &premises.stores).unwrap();
        let program = |o: &chargehand_types::card::Operation| {
            (o.program.clone(), std::fs::read(folder.join(&o.program)).unwrap())
        };
        let programs = card.operations.iter().map(program).collect();
        (premises, card, programs)
    }

    fn with(premises: &Premises, card: &Card, measured: Option<Length>) -> JudgedWith {
        let bench = Bench::of(&premises.config.machine, &premises.config.limits, &premises.profile.keys);
        let used = BTreeMap::from([(card.operations[0].bit.clone(), Metres::of(120.0))]);
        JudgedWith::to(card, bench, measured, used, premises.stores.clone())
    }

    #[test]
    fn what_was_judged_with_the_same_is_not_judged_again() {
        let (premises, card, programs) = demo();
        let judge = |card: &Card, programs: &Texts, with| {
            JudgedCard::of(card.clone(), programs.clone(), with, &premises).unwrap()
        };
        let first = judge(&card, &programs, with(&premises, &card, None));
        let thickness = card.sheet.thickness;
        let same = judge(&card, &programs, with(&premises, &card, Some(thickness)));
        assert!(Arc::ptr_eq(&first, &same), "measured as the card has it");
        let as_new = Known::default();
        assert!(as_new.find(&card, first.revision(), &first.with).is_none());
        // everything that it is judged with, and the card's own words, which make no other revision
        let mut others = vec![judge(&card, &programs, with(&premises, &card, Some(thickness + Length(100_000))))];
        let mut worn = with(&premises, &card, None);
        worn.used.clear();
        others.push(judge(&card, &programs, worn));
        let mut moved = with(&premises, &card, None);
        moved.bench.work_zero.x += Length(1);
        others.push(judge(&card, &programs, moved));
        let mut measured = with(&premises, &card, None);
        measured.stores.bits.pop_last();
        others.push(judge(&card, &programs, measured));
        let named = Card { title: "Another title".to_owned(), ..card.clone() };
        others.push(judge(&named, &programs, with(&premises, &named, None)));
        let mut longer = programs.clone();
        longer.values_mut().for_each(|text| text.extend_from_slice(b"(looked at)\n"));
        others.push(judge(&card, &longer, with(&premises, &card, None)));
        for (number, other) in others.iter().enumerate() {
            assert!(!Arc::ptr_eq(&first, other), "{number}");
        }
        assert_eq!(others[4].card.title, "Another title");
    }

    #[test]
    fn no_more_are_kept_than_the_last_and_none_that_is_long() {
        let (premises, card, programs) = demo();
        let judge = |programs: &Texts, n: i64| {
            let with = with(&premises, &card, Some(card.sheet.thickness + Length(n)));
            JudgedCard::of(card.clone(), programs.clone(), with, &premises).unwrap()
        };
        let first = judge(&programs, 1);
        for n in 2..=KEPT as i64 {
            judge(&programs, n);
        }
        assert!(Arc::ptr_eq(&first, &judge(&programs, 1)), "{KEPT} are kept");
        judge(&programs, 0);
        assert!(!Arc::ptr_eq(&first, &judge(&programs, 1)), "the oldest is let go of");
        let mut long = programs;
        long.values_mut().for_each(|text| text.resize(300_000, b'\n'));
        assert!(!Arc::ptr_eq(&judge(&long, 1), &judge(&long, 1)));
    }
}
