//! Cuts meant to go through, at the thickness read.
//!
//! May live here: `not-through`. May not: what comes loose.

use super::cause::{against, bare};
use super::material::Ground;
use crate::sheetmap::Stroke;
use chargehand_types::card::{Leaves, Operation};
use chargehand_types::finding::{Code, Finding, Unit};

/// A cut that ends this near the nominal underside (mm) is meant for it where the card says that cuts go through.
const NEARLY: f64 = 1.0;
/// Rounding of an end, mm.
const ROUNDING: f64 = 2.0e-4;

/// One cut from the bit's coming down to its going up.
#[derive(Debug, Clone, Copy)]
struct Profile {
    lines: [u32; 2],
    column: u32,
    lowest: f64,
    at: [f64; 3],
}

/// One finding for each cut that should have reached deeper.
pub(super) fn findings(ground: &Ground<'_>, number: u16, operation: &Operation, out: &mut Vec<Finding>) {
    let sheet = &ground.case.card.sheet;
    let nominal = sheet.bottom_z(sheet.thickness).mm();
    let (bottom, face) = (ground.job.bottom(), ground.job.face);
    let ignore = ground.case.bench.ignore_thinner.mm();
    let skin = operation.skin.map_or(0.0, |skin| skin.mm());
    let (meant, wanted) = match operation.leaves {
        Some(Leaves::Pocket) => return,
        Some(Leaves::Skin) => (nominal + skin + NEARLY, bottom + skin),
        Some(Leaves::Through | Leaves::Tabs) => (nominal + NEARLY, bottom),
        None => (nominal, bottom),
    };
    for profile in profiles(ground, number) {
        if profile.lowest > meant + ROUNDING || profile.lowest <= wanted + ignore + ROUNDING {
            continue;
        }
        let mut found = against(bare(Code::NotThrough, &operation.name), face - wanted, Unit::Mm);
        found.line = Some(profile.lines[0]);
        found.column = Some(profile.column);
        found.lines = Some(profile.lines);
        found.measured = Some(face - profile.lowest);
        found.place = Some(profile.at);
        out.push(found);
    }
}

/// Told where a skin meant to hold the parts is half eaten, or more, by a sheet thinner than its label.
pub(super) fn eaten(ground: &Ground<'_>, number: u16, operation: &Operation) -> Option<String> {
    let skin = operation.skin.filter(|_| operation.leaves == Some(Leaves::Skin))?.mm();
    let bottom = ground.job.bottom();
    let lowest = profiles(ground, number).iter().map(|profile| profile.lowest).reduce(f64::min)?;
    let left = lowest - bottom;
    (left < skin / 2.0 - ROUNDING).then(|| {
        format!(
            "{}: of the skin of {skin} mm only {:.2} mm are left at this thickness: the parts may come loose in the cut; set the sheet aside, or raise the last pass",
            operation.name,
            left.max(0.0)
        )
    })
}

/// The cuts of an operation, each with its lowest place.
fn profiles(ground: &Ground<'_>, number: u16) -> Vec<Profile> {
    let mut all: Vec<Profile> = Vec::new();
    let mut down = false;
    for (_, stroke) in ground.strokes().filter(|(_, s)| s.operation == number) {
        let cuts = !stroke.rapid && stroke.way.lowest() < ground.job.face;
        match all.last_mut().filter(|_| down && cuts) {
            Some(last) => last.take(stroke),
            None if cuts => all.push(Profile::of(stroke)),
            None => {}
        }
        down = cuts || (down && !stroke.rapid);
    }
    all
}

impl Profile {
    fn of(stroke: &Stroke) -> Self {
        let line = stroke.place.line;
        let (lowest, at) = (stroke.way.lowest(), stroke.way.end());
        Self { lines: [line; 2], column: stroke.place.column, lowest, at }
    }

    fn take(&mut self, stroke: &Stroke) {
        self.lines[1] = stroke.place.line;
        let lowest = stroke.way.lowest();
        if lowest < self.lowest {
            (self.lowest, self.at) = (lowest, stroke.way.end());
        }
    }
}
