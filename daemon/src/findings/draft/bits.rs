//! Which of the shop's bits a program cuts with, from its T word and its comments.
//!
//! May live here: matching. May not: reading a comment.

use super::asking::Asking;
use super::diameter::{diameters, kind};
use super::{CannotDraft, Sketch};
use chargehand_types::card::{Bit, Stores};
use chargehand_types::quantity::plain;

/// Diameters within this (mm) are the same.
const SAME_DIAMETER: f64 = 0.03;

/// The bit of an operation, by its key; none when it is asked.
pub(super) fn choose(asking: &mut Asking<'_>, sketch: &Sketch, stores: &Stores) -> Result<Option<String>, CannotDraft> {
    let key = format!("bit.{}", sketch.name);
    let all: Vec<String> = stores.bits.keys().cloned().collect();
    if let Some(said) = asking.word(&key, &all)? {
        return Ok(Some(said));
    }
    changes(asking, sketch, stores);
    let spoken = spoken_of(sketch, stores);
    let name = &sketch.name;
    let called = sketch.plan.tools.first().map(|(_, tool)| *tool);
    let by_number = called.and_then(|t| stores.bits.iter().find(|(_, b)| b.tool == Some(t)));
    match (by_number, spoken.as_slice()) {
        (Some((bit, owned)), []) => {
            if let Some(other) = other_diameter(sketch, owned) {
                let t = called.unwrap_or_default();
                let asks = format!(
                    "Which bit cuts `{name}`? Its program calls T{t}, which is {bit}, but its comments speak of {} mm.",
                    plain(other)
                );
                asking.ask(&key, asks, all, None);
                return Ok(None);
            }
            asking.assume(format!("`{name}` cuts with {bit}: its program calls T{}", called.unwrap_or_default()));
            Ok(Some(bit.clone()))
        }
        (Some((bit, _)), spoken) if spoken.contains(bit) => {
            let t = called.unwrap_or_default();
            asking.assume(format!("`{name}` cuts with {bit}: its program calls T{t}, and its comments agree"));
            Ok(Some(bit.clone()))
        }
        (Some((bit, _)), spoken) => {
            let t = called.unwrap_or_default();
            let asks = format!(
                "Which bit cuts `{name}`? Its program calls T{t}, which is {bit}, but its comments speak of {}.",
                spoken.join(" or ")
            );
            let mut choices = vec![bit.clone()];
            choices.extend(spoken.iter().cloned());
            asking.ask(&key, asks, choices, None);
            Ok(None)
        }
        (None, [bit]) => {
            asking.assume(format!("`{name}` cuts with {bit}: its comments say so"));
            Ok(Some(bit.clone()))
        }
        (None, spoken) => {
            let why = match (called, spoken) {
                (Some(t), []) => format!("No bit of the shop has `tool = {t}`, and no comment names one"),
                (None, []) => "Its program has no T word, and no comment names a bit".to_owned(),
                (_, many) => format!("Its comments fit {}", many.join(" and ")),
            };
            let choices = if spoken.is_empty() { all } else { spoken.to_vec() };
            asking.ask(&key, format!("Which bit cuts `{name}`? {why}."), choices, None);
            Ok(None)
        }
    }
}

/// Says where a program has another bit put in.
fn changes(asking: &mut Asking<'_>, sketch: &Sketch, stores: &Stores) {
    for (line, tool) in sketch.plan.tools.iter().skip(1) {
        let other = stores.bits.iter().find(|(_, b)| b.tool == Some(*tool)).map_or("no bit of the shop", |(k, _)| k);
        asking.assume(format!(
            "`{}` changes its bit in line {line} to T{tool} ({other}); its bit is the first",
            sketch.name
        ));
    }
}

/// A diameter the comments give, where none of them is this bit's.
fn other_diameter(sketch: &Sketch, bit: &Bit) -> Option<f64> {
    let all: Vec<f64> = sketch.plan.remarks.iter().flat_map(|r| diameters(r)).collect();
    let agrees = all.iter().any(|d| (d - bit.diameter.mm()).abs() <= SAME_DIAMETER);
    all.first().copied().filter(|_| !agrees)
}

/// Bits that the comments fit: by title, or else by diameter and kind.
fn spoken_of(sketch: &Sketch, stores: &Stores) -> Vec<String> {
    let remarks = &sketch.plan.remarks;
    let keys = |fits: &dyn Fn(&Bit, &str) -> bool| -> Vec<String> {
        let some = |bit: &Bit| remarks.iter().any(|r| fits(bit, r));
        stores.bits.iter().filter(|(_, bit)| some(bit)).map(|(key, _)| key.clone()).collect()
    };
    let by_title = keys(&|bit, remark| remark.to_lowercase().contains(&bit.title.to_lowercase()));
    if !by_title.is_empty() {
        return by_title;
    }
    keys(&|bit, remark| {
        let fits = diameters(remark).iter().any(|d| (d - bit.diameter.mm()).abs() <= SAME_DIAMETER);
        fits && kind(remark).is_none_or(|k| k == bit.kind)
    })
}
