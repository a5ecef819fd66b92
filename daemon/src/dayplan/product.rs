//! Complete sets: what is sold is made of parts from several cards, and only whole sets count.

use chargehand_types::id::CardName;
use chrono::{DateTime, Days, TimeZone, Utc};
use chrono_tz::Tz;
use std::collections::BTreeMap;

/// Parts by name, and how many.
pub type Parts = BTreeMap<String, u32>;

/// Something made of parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Product {
    /// Its name.
    pub name: String,
    /// Parts of one set.
    pub parts: Parts,
    /// Days between the last cut and the finished set: glue, sanding, oil.
    pub finishing_days: u32,
}

/// How far a product is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sets {
    /// Whole sets there are parts for.
    pub complete: u32,
    /// Sets begun that lack parts: those for which at least one part is left.
    pub begun: u32,
    /// Parts missing to complete those begun.
    pub short: Parts,
}

/// How many whole sets the good parts make, and what the begun ones lack.
#[must_use]
pub fn sets(product: &Product, good: &Parts) -> Sets {
    let have = |part: &str| good.get(part).copied().unwrap_or(0);
    let wanted = || product.parts.iter().filter(|(_, each)| **each > 0);
    let complete = wanted().map(|(part, each)| have(part) / each).min().unwrap_or(0);
    let most = wanted().map(|(part, each)| have(part).div_ceil(*each)).max().unwrap_or(0);
    Sets { complete, begun: most - complete, short: missing(product, most, good) }
}

/// The parts that so many sets lack.
#[must_use]
pub fn missing(product: &Product, sets: u32, good: &Parts) -> Parts {
    let lacks = product.parts.iter().map(|(part, each)| {
        let have = good.get(part).copied().unwrap_or(0);
        (part.clone(), each.saturating_mul(sets).saturating_sub(have))
    });
    lacks.filter(|(_, number)| *number > 0).collect()
}

/// The sheets of each card that yield the missing parts: over and over the card that yields most of what still lacks.
/// What no card yields stays in the second answer.
#[must_use]
pub fn sheets_for(missing: &Parts, cards: &BTreeMap<CardName, Parts>) -> (BTreeMap<CardName, u32>, Parts) {
    let mut lack = missing.clone();
    let mut sheets = BTreeMap::new();
    loop {
        let gain = |yields: &Parts| -> u64 {
            yields.iter().map(|(part, number)| u64::from(*number.min(lack.get(part).unwrap_or(&0)))).sum()
        };
        // of equals the first by name, so that the answer is always the same
        let best = cards.iter().rev().max_by_key(|(_, yields)| gain(yields));
        let Some((card, yields)) = best.filter(|(_, yields)| gain(yields) > 0) else { break };
        // as many at once as are all wanted in full, and at least one
        let full = yields.iter().filter_map(|(part, number)| lack.get(part)?.checked_div(*number));
        let number = full.min().unwrap_or(1).max(1);
        for (part, each) in yields {
            if let Some(left) = lack.get_mut(part) {
                *left = left.saturating_sub(each.saturating_mul(number));
            }
        }
        lack.retain(|_, left| *left > 0);
        let entry: &mut u32 = sheets.entry(card.clone()).or_default();
        *entry = entry.saturating_add(number);
    }
    (sheets, lack)
}

/// When the last sheet must be cut for a set due then: so many days earlier at the same time of day in the zone.
#[must_use]
pub fn cut_by(due: DateTime<Utc>, finishing_days: u32, zone: Tz) -> DateTime<Utc> {
    let wall = due.with_timezone(&zone).naive_local();
    let earlier = wall.checked_sub_days(Days::new(u64::from(finishing_days)));
    // a time the clocks skip is taken as the same number of hours before
    let instant = earlier.and_then(|e| zone.from_local_datetime(&e).earliest());
    instant.map_or_else(|| due - chrono::TimeDelta::days(i64::from(finishing_days)), |i| i.to_utc())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn parts(all: &[(&str, u32)]) -> Parts {
        all.iter().map(|(name, number)| ((*name).to_owned(), *number)).collect()
    }

    fn stand() -> Product {
        Product { name: "plant stand".into(), parts: parts(&[("side", 2), ("shelf", 3)]), finishing_days: 2 }
    }

    #[test]
    fn sets_are_whole_and_say_what_they_lack() {
        let sets = sets(&stand(), &parts(&[("side", 18), ("shelf", 25)]));
        assert_eq!((sets.complete, sets.begun), (8, 1));
        assert_eq!(sets.short, parts(&[("shelf", 2)]));
        let none = super::sets(&stand(), &Parts::new());
        assert_eq!((none.complete, none.begun, none.short), (0, 0, Parts::new()));
    }

    #[test]
    fn a_bad_part_asks_for_that_part() {
        let cards = BTreeMap::from([
            (CardName::from("sides"), parts(&[("side", 4)])),
            (CardName::from("shelves"), parts(&[("shelf", 6)])),
        ]);
        let lack = missing(&stand(), 4, &parts(&[("side", 8), ("shelf", 11)]));
        assert_eq!(lack, parts(&[("shelf", 1)]));
        let (sheets, rest) = sheets_for(&lack, &cards);
        assert_eq!((sheets, rest.len()), (BTreeMap::from([(CardName::from("shelves"), 1)]), 0));
    }

    #[test]
    fn what_no_card_yields_is_told() {
        let (sheets, rest) = sheets_for(&parts(&[("foot", 4)]), &BTreeMap::new());
        assert_eq!((sheets.len(), rest), (0, parts(&[("foot", 4)])));
    }

    #[test]
    fn due_days_count_back_over_the_change_of_clocks() {
        // Oslo's clocks go back on 25 October 2026: noon two days before is 10:00 UTC, not 11:00
        let due = "2026-10-26T11:00:00Z".parse().unwrap();
        assert_eq!(cut_by(due, 2, chrono_tz::Europe::Oslo), "2026-10-24T10:00:00Z".parse::<DateTime<Utc>>().unwrap());
    }

    proptest! {
        #[test]
        fn the_sheets_yield_what_was_missing(
            lack in proptest::collection::btree_map("[a-d]", 1u32..40, 0..4),
            cards in proptest::collection::btree_map("[x-z]", proptest::collection::btree_map("[a-d]", 0u32..6, 0..4), 0..3),
        ) {
            let cards: BTreeMap<CardName, Parts> = cards.into_iter().map(|(n, p)| (CardName(n), p)).collect();
            let (sheets, rest) = sheets_for(&lack, &cards);
            for (part, number) in &lack {
                let made: u32 = sheets.iter().map(|(c, n)| n * cards[c].get(part).unwrap_or(&0)).sum();
                let no_card = cards.values().all(|p| p.get(part).is_none_or(|n| *n == 0));
                prop_assert_eq!(rest.contains_key(part), no_card);
                prop_assert!(no_card || made >= *number);
            }
        }
    }
}
