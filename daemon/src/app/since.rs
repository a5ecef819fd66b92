//! What is not as it was on the last sheet that was cut, in words, for the short lists of a repeat.
//!
//! May live here: comparing two cards as a person at the machine would. May not: what a change asks for; the lists do.

use crate::ledger::State as Fold;
use crate::shop::card;
use chargehand_types::card::{Card, Stores, ZZero};
use chargehand_types::id::Revision;
use chargehand_types::quantity::plain;
use chargehand_types::stage::Stage;

/// What changed since the last sheet that was closed here; none where none was.
pub fn told(fold: &Fold, stores: &Stores, card: &Card, revision: &Revision) -> Option<String> {
    let closed = fold.sheets().into_iter().filter(|s| s.stage == Stage::Closed && s.begun.is_some());
    let last = closed.max_by_key(|s| s.closed)?;
    let stored = fold.card(&last.card)?.revision(&last.revision)?;
    let before = card::read("card", &stored.text, stores).ok()?;
    let changes = changes(&before, card, last.revision == *revision);
    let id = &last.id;
    Some(if changes.is_empty() {
        format!("Since sheet {id} nothing changed but the sheet itself.")
    } else {
        format!("Changed since sheet {id}: {}.", changes.join("; "))
    })
}

/// What differs, the most dangerous to miss first.
fn changes(before: &Card, now: &Card, same_revision: bool) -> Vec<String> {
    let mut changes = Vec::new();
    if before.sheet.thickness != now.sheet.thickness {
        let mm = |card: &Card| plain(card.sheet.thickness.mm());
        changes.push(format!("the sheet is {} mm thick, not {} mm", mm(now), mm(before)));
    }
    let bits = |card: &Card| -> Vec<String> { card.operations.iter().map(|o| o.bit.clone()).collect() };
    if bits(before) != bits(now) {
        changes.push("other bits, or in another order".to_owned());
    }
    if before.holddown.fastener != now.holddown.fastener {
        changes.push(format!("other fasteners: {}", now.holddown.fastener));
    }
    if before.sheet.z_zero != now.sheet.z_zero {
        changes.push(match now.sheet.z_zero {
            ZZero::Top => "the Z zero is on top of the sheet now".to_owned(),
            ZZero::Bed => "the Z zero is on the waste board now".to_owned(),
        });
    }
    if before.sheet.material != now.sheet.material {
        changes.push(format!("another material: {}", now.sheet.material));
    }
    if before.sheet.face != now.sheet.face || before.sheet.grain != now.sheet.grain {
        changes.push("face or grain lies otherwise".to_owned());
    }
    if before.name != now.name {
        changes.push(format!("another card: {}", now.title));
    } else if !same_revision {
        changes.push("a new revision of the card".to_owned());
    }
    changes
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::quantity::Length;

    fn card() -> Card {
        let shop = crate::shop::shelf::read(&crate::shop::shelf::Folder::with(crate::shop::shelf::Page::new(
            "daemon.toml",
            include_str!("../../../config/demo/daemon.toml"),
        )));
        let stores = shop.map_err(|f| crate::shop::fault::told(&f)).unwrap().stores;
        card::read("card", include_str!("../../../config/demo/plant-stand-sides.card.toml"), &stores).unwrap()
    }

    #[test]
    fn what_can_hurt_is_told_first() {
        let before = card();
        assert_eq!(changes(&before, &before, true), Vec::<String>::new());
        assert_eq!(changes(&before, &before, false), ["a new revision of the card"]);
        let mut now = before.clone();
        now.sheet.thickness = Length::from_mm(15.0).unwrap();
        now.operations[0].bit = "v60".to_owned();
        now.holddown.fastener = "clamp".to_owned();
        now.name = "other".into();
        let told = changes(&before, &now, false);
        assert!(told[0].starts_with("the sheet is 15 mm thick, not "), "{told:?}");
        assert_eq!(told[1..3], ["other bits, or in another order", "other fasteners: clamp"]);
        assert!(told[3].starts_with("another card: "), "{told:?}");
    }
}
