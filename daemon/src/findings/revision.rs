//! A card's revision: the SHA-256 over what changes the cut or the checks.
//!
//! May live here: what counts, and the exact bytes that are hashed. May not: anything read for its meaning.
//!
//! Titles, notes, the card's name, names of parts, fits and the number of parts do not count: a word mended on a
//! card must not void a signature. Every field is framed by its length, so that no two cards hash alike by chance.

use chargehand_types::card::{Card, Leaves, ZZero};
use chargehand_types::id::Revision;
use chargehand_types::quantity::{Length, Spot};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// What the bytes below are laid out as. A new layout gets a new word here, and every revision a new name.
const LAYOUT: &str = "revision-1";

/// The revision of a card with these programs (bytes by the path the card gives). A program that is not there counts
/// as empty.
#[must_use]
pub fn revision(card: &Card, programs: &BTreeMap<String, Vec<u8>>) -> Revision {
    let mut sum = Sum::default();
    sum.text(LAYOUT);
    sheet(&mut sum, card);
    sum.text(&card.holddown.fastener);
    sum.length(card.holddown.margin);
    sum.count(card.holddown.places.len());
    for place in &card.holddown.places {
        sum.spot(place.at);
        sum.optional(place.with.as_deref());
    }
    sum.count(card.operations.len());
    for operation in &card.operations {
        sum.text(&operation.name);
        sum.text(&operation.bit);
        sum.count(operation.after.len());
        for after in &operation.after {
            sum.text(after);
        }
        sum.optional(operation.leaves.map(leaves));
        sum.optional(operation.skin.map(|s| s.0.to_string()).as_deref());
        sum.text(if operation.unattended { "unattended" } else { "attended" });
        sum.bytes(programs.get(&operation.program).map_or(&[], Vec::as_slice));
    }
    Revision(sum.hex())
}

fn sheet(sum: &mut Sum, card: &Card) {
    let sheet = &card.sheet;
    sum.text(&sheet.material);
    for length in [sheet.size[0], sheet.size[1], sheet.thickness, sheet.max_bed_bite, sheet.z_shift_max] {
        sum.length(length);
    }
    sum.text(match sheet.z_zero {
        ZZero::Top => "top",
        ZZero::Bed => "bed",
    });
    sum.spot(sheet.corner);
}

const fn leaves(leaves: Leaves) -> &'static str {
    match leaves {
        Leaves::Through => "through",
        Leaves::Tabs => "tabs",
        Leaves::Skin => "skin",
        Leaves::Pocket => "pocket",
    }
}

/// A running SHA-256 over framed fields.
#[derive(Default)]
pub(super) struct Sum(Sha256);

impl Sum {
    pub(super) fn bytes(&mut self, bytes: &[u8]) {
        self.count(bytes.len());
        self.0.update(bytes);
    }

    pub(super) fn text(&mut self, text: &str) {
        self.bytes(text.as_bytes());
    }

    fn optional(&mut self, text: Option<&str>) {
        match text {
            None => self.count(0),
            Some(text) => {
                self.count(1);
                self.text(text);
            }
        }
    }

    fn count(&mut self, count: usize) {
        self.0.update((count as u64).to_le_bytes());
    }

    fn length(&mut self, length: Length) {
        self.0.update(length.0.to_le_bytes());
    }

    fn spot(&mut self, spot: Spot) {
        self.length(spot.x);
        self.length(spot.y);
    }

    pub(super) fn hex(self) -> String {
        self.0.finalize().iter().fold(String::with_capacity(64), |mut hex, byte| {
            let _ = write!(hex, "{byte:02x}");
            hex
        })
    }
}
