//! `bits.toml`, `materials.toml`, `fasteners.toml`.

use super::fault::Fault;
use super::text::{Faults, Text};
use chargehand_types::card::{Bit, BitKind, ChipLoadRange, Fastener, FastenerKind, Material};
use chargehand_types::quantity::{Angle, ChipLoad, Force, Length, Metres, Stress};
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawBits {
    #[serde(default)]
    bit: BTreeMap<String, RawBit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawBit {
    title: String,
    kind: Spanned<BitKind>,
    diameter: Spanned<Length>,
    flutes: Spanned<u32>,
    cutting_length: Spanned<Length>,
    upcut_length: Option<Length>,
    angle_deg: Option<Angle>,
    life_m: Option<Metres>,
    price: Option<f64>,
    tool: Option<u32>,
}

/// Reads `bits.toml`.
///
/// # Errors
/// Every fault.
pub fn bits(text: Text<'_>) -> Result<BTreeMap<String, Bit>, Vec<Fault>> {
    let raw: RawBits = text.read()?;
    let mut faults = Faults::of(text);
    let mut bits = BTreeMap::new();
    for (key, b) in raw.bit {
        positive(&mut faults, &b.diameter, "diameter");
        positive(&mut faults, &b.cutting_length, "cutting_length");
        if *b.flutes.as_ref() == 0 {
            faults.add(b.flutes.span(), "flutes", "a bit has at least one flute");
        }
        if *b.kind.as_ref() == BitKind::V && b.angle_deg.is_none() {
            faults.add(b.kind.span(), "kind", "a v bit needs its `angle_deg`");
        }
        let bit = Bit {
            title: b.title,
            kind: b.kind.into_inner(),
            diameter: b.diameter.into_inner(),
            flutes: b.flutes.into_inner(),
            cutting_length: b.cutting_length.into_inner(),
            upcut_length: b.upcut_length,
            angle: b.angle_deg,
            life: b.life_m,
            price: b.price,
            tool: b.tool,
        };
        bits.insert(key, bit);
    }
    faults.or(bits)
}

fn positive(faults: &mut Faults<'_>, value: &Spanned<Length>, key: &str) {
    if *value.as_ref() <= Length::ZERO {
        faults.add(value.span(), key, format!("{} is not more than 0", value.as_ref()));
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawMaterials {
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
    #[serde(default)]
    chip_load: BTreeMap<Spanned<String>, [f64; 2]>,
}

/// Reads `materials.toml`.
///
/// # Errors
/// Every fault.
pub fn materials(text: Text<'_>) -> Result<BTreeMap<String, Material>, Vec<Fault>> {
    let raw: RawMaterials = text.read()?;
    let mut faults = Faults::of(text);
    let mut materials = BTreeMap::new();
    for (key, m) in raw.material {
        let mut chip_load = Vec::new();
        for (diameter, [least, most]) in m.chip_load {
            let parsed = diameter.as_ref().parse::<f64>().ok().and_then(|d| Length::from_mm(d).ok());
            match parsed.filter(|d| *d > Length::ZERO) {
                Some(d) if least > 0.0 && least < most => {
                    chip_load.push(ChipLoadRange { diameter: d, least: ChipLoad::of(least), most: ChipLoad::of(most) });
                }
                Some(_) => {
                    faults.add(
                        diameter.span(),
                        diameter.as_ref(),
                        "the least must be more than 0 and less than the most",
                    );
                }
                None => {
                    faults.add(diameter.span(), diameter.as_ref(), "this is no bit diameter in millimetres");
                }
            }
        }
        chip_load.sort_by_key(|r| r.diameter);
        materials.insert(
            key,
            Material {
                title: m.title,
                specific_gravity: m.specific_gravity,
                shear_strength: m.shear_strength,
                cutting_force: m.cutting_force,
                chip_load,
            },
        );
    }
    faults.or(materials)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFasteners {
    #[serde(default)]
    fastener: BTreeMap<String, RawFastener>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFastener {
    title: String,
    kind: FastenerKind,
    diameter: Option<Length>,
    length: Option<Length>,
    penetration: Option<Length>,
    head_diameter: Option<Length>,
    #[serde(default)]
    head_height: Length,
    force: Option<Force>,
    footprint: Option<[Length; 2]>,
    thickness: Option<Length>,
    strength: Option<Stress>,
    pressure_kpa: Option<f64>,
}

/// Reads `fasteners.toml`.
///
/// # Errors
/// Every fault.
pub fn fasteners(text: Text<'_>) -> Result<BTreeMap<String, Fastener>, Vec<Fault>> {
    let raw: RawFasteners = text.read()?;
    let fasteners = raw.fastener.into_iter().map(|(key, f)| {
        let fastener = Fastener {
            title: f.title,
            kind: f.kind,
            diameter: f.diameter,
            length: f.length,
            penetration: f.penetration,
            head_diameter: f.head_diameter,
            head_height: f.head_height,
            force: f.force,
            footprint: f.footprint,
            thickness: f.thickness,
            strength: f.strength,
            pressure_kpa: f.pressure_kpa,
        };
        (key, fastener)
    });
    Ok(fasteners.collect())
}
