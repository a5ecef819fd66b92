//! `materials.toml`: what the shop cuts.

use super::MOST_ENTRIES;
use crate::shop::check::{Check, Limits};
use crate::shop::fault::Fault;
use crate::shop::text::{Doc, Path, Row};
use chargehand_types::card::{ChipLoadRange, Material};
use chargehand_types::quantity::{ChipLoad, Length, Stress};
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    #[serde(default)]
    material: BTreeMap<String, RawMaterial>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawMaterial {
    title: String,
    specific_gravity: f64,
    shear_strength: Stress,
    cutting_force: Stress,
    chip_load: BTreeMap<String, Row<ChipLoad, 2>>,
}

const GRAVITY: Limits = Limits::from(0.05, 3.0, "");
const STRENGTH: Limits = Limits::above(0.0, 1000.0, "N/mm2");
const CHIP_LOAD: Limits = Limits::above(0.0, 5.0, "mm/tooth");

/// Reads `materials.toml`.
///
/// # Errors
/// Every fault of form; without such, every value that no sheet good can have.
pub fn read(file: &str, text: &str) -> Result<BTreeMap<String, Material>, Vec<Fault>> {
    let doc = Doc::parse(file, text)?;
    let raw: RawFile = doc.read()?;
    let mut check = Check::new(&doc);
    let top = Path::top().key("material");
    check.no_more_than(&top, raw.material.len(), MOST_ENTRIES);
    let materials = raw.material.into_iter().map(|(name, material)| {
        let checked = judge(&mut check, &top.key(&name), &name, material);
        (name, checked)
    });
    let materials = materials.collect();
    check.done(materials)
}

fn judge(check: &mut Check<'_, '_>, path: &Path, name: &str, raw: RawMaterial) -> Material {
    check.name(path, name);
    check.words(&path.key("title"), &raw.title);
    check.number(&path.key("specific_gravity"), raw.specific_gravity, GRAVITY);
    check.number(&path.key("shear_strength"), raw.shear_strength.value(), STRENGTH);
    check.number(&path.key("cutting_force"), raw.cutting_force.value(), STRENGTH);
    let chip_load = chip_load(check, &path.key("chip_load"), &raw.chip_load);
    Material {
        title: raw.title,
        specific_gravity: raw.specific_gravity,
        shear_strength: raw.shear_strength,
        cutting_force: raw.cutting_force,
        chip_load,
    }
}

/// The ranges by rising diameter.
fn chip_load(check: &mut Check<'_, '_>, path: &Path, raw: &BTreeMap<String, Row<ChipLoad, 2>>) -> Vec<ChipLoadRange> {
    if raw.is_empty() {
        check.tell(path, "no bit diameter is listed", "at least one, like \"6.35\" = [0.13, 0.28]");
    }
    let mut ranges: Vec<ChipLoadRange> = Vec::new();
    for (key, Row([least, most])) in raw {
        let here = path.key(key);
        for (i, load) in [least, most].into_iter().enumerate() {
            check.number(&here.at(i), load.value(), CHIP_LOAD);
        }
        if least > most {
            check.tell(&here, format!("the least, {least}, is more than the most"), "[least, most]");
        }
        let parsed = key.trim().parse::<f64>().ok().and_then(|mm| Length::from_mm(mm).ok());
        match parsed.filter(|d| *d > Length::ZERO) {
            Some(diameter) if ranges.iter().any(|r| r.diameter == diameter) => {
                check.tell(&here, format!("the diameter {diameter} is there twice"), "each diameter once");
            }
            Some(diameter) => ranges.push(ChipLoadRange { diameter, least: *least, most: *most }),
            None => check.tell(&here, format!("`{key}` is no bit diameter"), "a diameter in mm, in quotes"),
        }
    }
    ranges.sort_by_key(|r| r.diameter);
    ranges
}
