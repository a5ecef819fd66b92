//! The job card as checked values, and the bits, materials and fasteners it names.
//!
//! The text form and its faults are read in the daemon's `shop` room; here are only values.

use crate::bits::BitFigures;
use crate::id::CardName;
use crate::quantity::{Angle, ChipLoad, Force, Length, Metres, Spot, Stress};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Where the program's Z zero lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ZZero {
    /// The top of the sheet.
    Top,
    /// The waste board's face.
    Bed,
}

/// What a cut is meant to leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Leaves {
    /// Parts fall free.
    Through,
    /// Tabs hold the parts.
    Tabs,
    /// A thin skin holds the parts.
    Skin,
    /// The cut does not go through.
    Pocket,
}

/// One sheet layout.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Card {
    /// Unique in the shop.
    pub name: CardName,
    /// For people.
    pub title: String,
    /// Finished parts a good sheet yields.
    pub parts: u32,
    /// The sheet.
    pub sheet: Sheet,
    /// How it is held down.
    pub holddown: HoldDown,
    /// What is cut, in the order of the file.
    pub operations: Vec<Operation>,
    /// Names for pieces.
    pub named_parts: Vec<NamedPart>,
    /// Joints worth measuring.
    pub fits: Vec<Fit>,
}

/// The sheet of a card.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sheet {
    /// A key of materials.toml.
    pub material: String,
    /// X and Y.
    pub size: [Length; 2],
    /// Nominal.
    pub thickness: Length,
    /// Where Z zero is.
    pub z_zero: ZZero,
    /// The lower left corner in work coordinates.
    pub corner: Spot,
    /// How far a through cut may enter the waste board.
    pub max_bed_bite: Length,
    /// How far the owner lets a run shift Z.
    pub z_shift_max: Length,
    /// Told to the helper.
    pub face: Option<String>,
    /// Told to the helper.
    pub grain: Option<String>,
}

impl Sheet {
    /// Work Z of the sheet's upper face at a thickness.
    #[must_use]
    pub fn face_z(&self, thickness: Length) -> Length {
        match self.z_zero {
            ZZero::Top => Length::ZERO,
            ZZero::Bed => thickness,
        }
    }

    /// Whether a place, in work coordinates, lies on the sheet.
    #[must_use]
    pub fn covers(&self, at: Spot) -> bool {
        let (x, y) = (at.x - self.corner.x, at.y - self.corner.y);
        (Length::ZERO..=self.size[0]).contains(&x) && (Length::ZERO..=self.size[1]).contains(&y)
    }

    /// Work Z of the sheet's underside, which lies on the waste board.
    #[must_use]
    pub fn bottom_z(&self, thickness: Length) -> Length {
        self.face_z(thickness) - thickness
    }
}

/// How a sheet is held down.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HoldDown {
    /// A key of fasteners.toml.
    pub fastener: String,
    /// Places given by the card; empty means they are proposed.
    pub places: Vec<FastenerPlace>,
    /// Air wanted between a bit's edge and a fastener's head.
    pub margin: Length,
}

/// One place of a fastener.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FastenerPlace {
    /// Work coordinates.
    pub at: Spot,
    /// A key of fasteners.toml; the card's own when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
}

/// One program with one bit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Operation {
    /// Unique on the card.
    pub name: String,
    /// Path relative to the card.
    pub program: String,
    /// A key of bits.toml.
    pub bit: String,
    /// Operations that must be finished first.
    pub after: Vec<String>,
    /// What this cut is meant to leave; read from the program when left out.
    pub leaves: Option<Leaves>,
    /// With `leaves = "skin"`.
    pub skin: Option<Length>,
    /// May run with nobody beside the machine, once everything else allows it.
    pub unattended: bool,
}

/// A name for a piece.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NamedPart {
    /// Several pieces may share it.
    pub name: String,
    /// A point inside each piece.
    pub at: Vec<Spot>,
}

/// A joint worth measuring on a first sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// The joint.
    pub name: String,
    /// As drawn.
    pub width: Length,
    /// The part whose thickness goes in.
    pub mate: String,
    /// Least and most.
    pub clearance: [Length; 2],
}

/// The shape of a bit's end and flutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BitKind {
    /// Chips go up.
    UpCut,
    /// Chips go down.
    DownCut,
    /// Up at the tip, down above.
    Compression,
    /// Straight flutes.
    Straight,
    /// A ball end.
    Ball,
    /// A point with an angle.
    V,
}

impl BitKind {
    /// Whether it may be driven straight down into material.
    #[must_use]
    pub const fn can_plunge(self) -> bool {
        match self {
            Self::UpCut | Self::DownCut | Self::Ball | Self::V => true,
            Self::Compression | Self::Straight => false,
        }
    }
}

/// A bit of bits.toml.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bit {
    /// For people.
    pub title: String,
    /// Its shape.
    pub kind: BitKind,
    /// At the cutting edge.
    pub diameter: Length,
    /// Number of teeth.
    pub flutes: u32,
    /// How deep it can cut.
    pub cutting_length: Length,
    /// Compression only: the part of the tip that cuts upwards.
    pub upcut_length: Option<Length>,
    /// V only: included angle.
    pub angle: Option<Angle>,
    /// How far its flutes lean from the axis; a usual one is reckoned with where nobody tells.
    pub helix: Option<Angle>,
    /// Way of cut before it is due for a look.
    pub life: Option<Metres>,
    /// In the shop's money.
    pub price: Option<f64>,
    /// The T number the shop's programs call it by.
    pub tool: Option<u32>,
    /// What was measured of the physical one that is used; nothing where nobody did.
    #[serde(default)]
    pub measured: BitFigures,
}

impl Bit {
    /// How wide it cuts: as measured, else as it is sold.
    #[must_use]
    pub fn cuts(&self) -> Length {
        self.measured.diameter.unwrap_or(self.diameter)
    }

    /// How deep it can go: no deeper than it has edges, nor than it stands out of the collet.
    #[must_use]
    pub fn reach(&self) -> Length {
        let edges = self.measured.cutting_length.unwrap_or(self.cutting_length);
        self.measured.stick_out.map_or(edges, |out| edges.min(out))
    }

    /// Compression only: the part of its tip that cuts upwards.
    #[must_use]
    pub fn tip(&self) -> Option<Length> {
        let tip = self.measured.tip.or(self.upcut_length);
        tip.filter(|_| self.kind == BitKind::Compression)
    }
}

/// A material of materials.toml.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Material {
    /// For people.
    pub title: String,
    /// Oven dry.
    pub specific_gravity: f64,
    /// Along the grain; what a tab is held by.
    pub shear_strength: Stress,
    /// Per mm2 of uncut chip section.
    pub cutting_force: Stress,
    /// Bit diameter to least and most per tooth, by rising diameter.
    pub chip_load: Vec<ChipLoadRange>,
}

/// The chip-load range of one bit diameter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ChipLoadRange {
    /// The bit's diameter.
    pub diameter: Length,
    /// Below it the edge rubs.
    pub least: ChipLoad,
    /// Above it the bit bends or breaks.
    pub most: ChipLoad,
}

/// What kind of fastener it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FastenerKind {
    /// Holds by its thread in the waste board.
    Screw,
    /// Stands proud and presses.
    Clamp,
    /// May be cut through.
    Nail,
    /// A wooden pin driven flush.
    Pin,
    /// Double-sided tape.
    Tape,
    /// Presses from the side.
    Wedge,
    /// Holds by air.
    Vacuum,
}

/// A fastener of fasteners.toml.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fastener {
    /// For people.
    pub title: String,
    /// What it is.
    pub kind: FastenerKind,
    /// Shank.
    pub diameter: Option<Length>,
    /// Whole length.
    pub length: Option<Length>,
    /// In the waste board, where given instead of a length.
    pub penetration: Option<Length>,
    /// Across the head.
    pub head_diameter: Option<Length>,
    /// Above the sheet's face once driven.
    pub head_height: Length,
    /// Clamp, wedge: rated.
    pub force: Option<Force>,
    /// Clamp, wedge: X and Y.
    pub footprint: Option<[Length; 2]>,
    /// Tape.
    pub thickness: Option<Length>,
    /// Tape.
    pub strength: Option<Stress>,
    /// Vacuum.
    pub pressure_kpa: Option<f64>,
}

/// What a shop owns, beside its machine.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Stores {
    /// By key.
    pub bits: BTreeMap<String, Bit>,
    /// By key.
    pub materials: BTreeMap<String, Material>,
    /// By key.
    pub fasteners: BTreeMap<String, Fastener>,
}
