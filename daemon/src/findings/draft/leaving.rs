//! What an operation leaves, read from its depths and lifts alone.
//!
//! May live here: through, tabs, skin, pocket. May not: pieces, which need the map of the sheet.

use super::asking::{Asking, wrong};
use super::sheet::Guess;
use super::{CannotDraft, Sketch};
use chargehand_types::card::Leaves;
use chargehand_types::quantity::{Length, plain};

/// A cut that ends this near the underside (mm) goes through.
const THROUGH: f64 = 0.05;
/// A skin left on purpose is no thicker than this (mm): common practice, no source.
const THICKEST_SKIN: f64 = 1.0;

/// What is left, and with a skin its thickness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Left {
    pub(super) leaves: Leaves,
    pub(super) skin: Option<Length>,
}

/// Reads it; none while the thickness is not known.
pub(super) fn read(asking: &mut Asking<'_>, sketch: &Sketch, sheet: &Guess) -> Result<Option<Left>, CannotDraft> {
    let words = ["through", "tabs", "skin", "pocket"].map(str::to_owned);
    let said = asking.word(&format!("leaves.{}", sketch.name), &words)?;
    let skin_key = format!("skin.{}", sketch.name);
    let skin = asking.length(&skin_key)?;
    let seen = seen(asking, sketch, sheet, said.is_none());
    let leaves = match said.as_deref() {
        Some("through") => Leaves::Through,
        Some("tabs") => Leaves::Tabs,
        Some("skin") => Leaves::Skin,
        Some(_) => Leaves::Pocket,
        None if skin.is_some() => Leaves::Skin,
        None => return Ok(seen),
    };
    if leaves != Leaves::Skin {
        return match skin {
            Some(_) => Err(wrong(&skin_key, asking.said(&skin_key).unwrap_or_default(), "only where a skin is left")),
            None => Ok(Some(Left { leaves, skin: None })),
        };
    }
    let skin = skin.or_else(|| seen.and_then(|s| s.skin)).or_else(|| above_bottom(sketch, sheet));
    if skin.is_none() {
        asking.ask(&skin_key, format!("How thick is the skin `{}` leaves, in mm?", sketch.name), Vec::new(), None);
    }
    Ok(skin.map(|s| Left { leaves, skin: Some(s) }))
}

/// What its lowest cut leaves of the thickness.
fn above_bottom(sketch: &Sketch, sheet: &Guess) -> Option<Length> {
    let left = sketch.plan.lowest()? - sheet.bottom()?;
    Length::from_mm((left * 1000.0).round() / 1000.0).ok().filter(|l| *l > Length::ZERO)
}

fn seen(asking: &mut Asking<'_>, sketch: &Sketch, sheet: &Guess, say: bool) -> Option<Left> {
    let (face, bottom, low) = (sheet.face()?, sheet.bottom()?, sketch.plan.lowest()?);
    let name = &sketch.name;
    let tabs: Vec<f64> = sketch.plan.tabs(face).map(super::super::cutplan::Lift::height).collect();
    let (left, sentence) = if low <= bottom + THROUGH {
        match tabs.iter().copied().reduce(f64::min) {
            Some(least) => {
                let many = tabs.len();
                let s = if many == 1 { "lift" } else { "lifts" };
                let told =
                    format!("`{name}` leaves tabs: {many} {s} of {} mm or more in its lowest pass", plain(least));
                (Left { leaves: Leaves::Tabs, skin: None }, told)
            }
            None => {
                let told = format!("`{name}` goes through without a lift: what it cuts round falls free");
                (Left { leaves: Leaves::Through, skin: None }, told)
            }
        }
    } else if low <= bottom + THICKEST_SKIN {
        let skin = above_bottom(sketch, sheet)?;
        let told = format!("`{name}` leaves a skin of {skin}: it stops that far above the underside");
        (Left { leaves: Leaves::Skin, skin: Some(skin) }, told)
    } else {
        let told = format!("`{name}` is a pocket: its lowest cut goes {} mm deep", plain(face - low));
        (Left { leaves: Leaves::Pocket, skin: None }, told)
    };
    if say {
        asking.assume(sentence);
    }
    Some(left)
}
