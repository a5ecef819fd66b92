//! Feeds that sheets came out good with, for the advice of a check.
//!
//! May live here: finding them in the history. May not: what is advised.

use super::premises::Premises;
use crate::findings::{Bench, fastest_feeds};
use crate::ledger::{Ledger, State as Fold};
use crate::shop::card;
use chargehand_types::card::Card;
use chargehand_types::event::StoredProgram;
use chargehand_types::id::Revision;
use chargehand_types::quantity::Feed;
use chargehand_types::stage::Grade;
use std::collections::BTreeMap;

/// Revisions looked at, the newest sheets first: older ones were cut by bits long gone.
const LOOKED_AT: usize = 12;

/// A revision that a good sheet was cut by.
struct Good {
    card: Card,
    programs: Vec<StoredProgram>,
}

/// Revisions of good sheets of this material, each once.
fn good(fold: &Fold, premises: &Premises, material: &str) -> Vec<Good> {
    let mut sheets: Vec<_> = fold.sheets().into_iter().filter(|s| s.grade == Some(Grade::Good)).collect();
    sheets.sort_by_key(|s| std::cmp::Reverse(s.closed));
    let mut known: Vec<&Revision> = Vec::new();
    let mut found = Vec::new();
    for sheet in sheets {
        if known.len() >= LOOKED_AT {
            break;
        }
        if known.contains(&&sheet.revision) {
            continue;
        }
        known.push(&sheet.revision);
        let Some(revision) = fold.card(&sheet.card).and_then(|c| c.revision(&sheet.revision)) else { continue };
        let Ok(card) = card::read("card", &revision.text, &premises.stores) else { continue };
        if card.sheet.material == material {
            found.push(Good { card, programs: revision.programs.clone() });
        }
    }
    found
}

/// By bit the fastest feed that a good sheet of this material was cut with; what the store does not give is left out.
pub(super) async fn good_feeds(
    fold: &std::sync::RwLock<Fold>,
    ledger: &Ledger,
    premises: &Premises,
    bench: &Bench,
    material: &str,
) -> BTreeMap<String, Feed> {
    let revisions = fold.read().map(|fold| good(&fold, premises, material)).unwrap_or_default();
    let mut fastest: BTreeMap<String, Feed> = BTreeMap::new();
    for Good { card, programs } in revisions {
        let mut bytes = BTreeMap::new();
        for program in programs {
            if let Ok(found) = ledger.program(&program.sha256).await {
                bytes.insert(program.path, found);
            }
        }
        for (bit, feed) in fastest_feeds(&card, &bytes, bench) {
            let known = fastest.entry(bit).or_insert(feed);
            *known = feed.max(*known);
        }
    }
    fastest
}
