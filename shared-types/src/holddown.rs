//! Where the fasteners of a card go: what is asked and answered.

use crate::check::CardFiles;
use crate::id::{CardName, Revision};
use crate::quantity::{Force, Length, Spot};
use serde::{Deserialize, Serialize};

/// `POST /v1/holddown`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HoldDownRequest {
    /// The card and its programs.
    pub files: CardFiles,
    /// The caliper reading; nominal when left out.
    #[serde(default)]
    pub thickness: Option<Length>,
    /// A key of fasteners.toml; the card's own when left out.
    #[serde(default)]
    pub fastener: Option<String>,
    /// Places to be measured, work coordinates.
    #[serde(default)]
    pub at: Vec<Spot>,
    /// The sheet is bowed: one place more.
    #[serde(default)]
    pub bowed: bool,
    /// The programs that mark the places and hover over them.
    #[serde(default)]
    pub programs: bool,
    /// A drawing to hang at the machine; none when left out.
    #[serde(default)]
    pub drawing: Option<Paper>,
}

/// What the drawing is printed on, and how its distances are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Paper {
    /// A4 or Letter.
    #[serde(default)]
    pub size: PaperSize,
    /// Millimetres, or inches and sixteenths.
    #[serde(default)]
    pub tape: Tape,
}

/// A size of paper, upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PaperSize {
    /// 210 x 297 mm.
    #[default]
    A4,
    /// 8.5 x 11 in.
    Letter,
}

/// What is on the shop's tape measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tape {
    /// Millimetres.
    #[default]
    Mm,
    /// Inches and sixteenths.
    Inch,
}

/// What is answered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HoldDownAnswer {
    /// 1.
    pub schema: u32,
    /// The card.
    pub card: CardName,
    /// Over what changes the cut or the checks.
    pub revision: Revision,
    /// The thickness reckoned with.
    pub thickness: Length,
    /// The fastener, for people.
    pub fastener: String,
    /// One for each place asked for, in that order.
    pub asked: Vec<PlaceMeasured>,
    /// The card gives the places; else they are proposed.
    pub given: bool,
    /// Where fasteners go.
    pub places: Vec<PlacePlanned>,
    /// What stands against it, each with what to change.
    pub troubles: Vec<String>,
    /// The largest circle on the sheet that the bit keeps out of.
    pub largest_free: Option<FreeCircle>,
    /// What they hold together in the weaker direction; none where forces are not reckoned.
    pub holds_n: Option<Force>,
    /// What is needed in that direction, safety included.
    pub needs_n: Option<Force>,
    /// Programs that are not in this picture, with the reason.
    pub left_out: Vec<String>,
    /// The programs, where they were asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub programs: Option<MarkingPrograms>,
    /// The drawing as SVG, where one was asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub svg: Option<String>,
}

/// RS-274 programs that show the places on the sheet itself; each is an operation of a card like any other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MarkingPrograms {
    /// A dimple at each place.
    pub mark: String,
    /// Router off, over each place and two points of the edge, waiting for a person at each.
    pub hover: String,
}

/// A place measured. Also what `chargehand holddown --json --at X,Y` prints, as a list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlaceMeasured {
    /// Work coordinates.
    pub at: Spot,
    /// To the nearest swept edge below the fastener's top, mm; 0 inside; none where nothing is swept.
    pub clearance_mm: Option<f64>,
    /// Its middle lies on the sheet.
    pub on_sheet: bool,
    /// On the sheet, and the clearance is at least half the head plus the margin.
    pub ok: bool,
    /// The operation that comes nearest.
    pub operation: Option<String>,
    /// Its line.
    pub line: Option<u32>,
    /// More to know of this place, one sentence each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<String>,
}

/// `POST /v1/sheets/{id}/air`: how much air fasteners at these places of a sheet would have.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AirRequest {
    /// Work coordinates, at most 500.
    pub at: Vec<Spot>,
}

/// What it answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AirAnswer {
    /// 1.
    pub schema: u32,
    /// Air wanted beside a fastener.
    pub margin: Length,
    /// From a fastener's middle to its farthest edge.
    pub reach: Length,
    /// One for each, in order.
    pub places: Vec<PlaceMeasured>,
}

/// A place where a fastener goes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlacePlanned {
    /// On the drawing, from 1.
    pub number: u32,
    /// Work coordinates.
    pub at: Spot,
    /// With a tape measure from the sheet's left edge and from its front edge.
    pub tape: [Length; 2],
    /// To the nearest swept edge below the fastener's top, mm; none where nothing is swept.
    pub clearance_mm: Option<f64>,
    /// The bit would hit it, or come closer than the margin.
    pub hit: bool,
    /// Why it is there.
    pub why: String,
}

/// A free circle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FreeCircle {
    /// Work coordinates.
    pub at: Spot,
    /// Its radius.
    pub radius: Length,
}

/// The same in a check's report, in brief.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HoldDownReport {
    /// Where fasteners go, as given or as proposed.
    pub places: Vec<Spot>,
    /// The largest circle on the sheet that the bit keeps out of.
    pub largest_free: Option<FreeCircle>,
    /// What they hold together in the weaker direction; none where forces are not reckoned.
    pub holds_n: Option<Force>,
    /// What is needed in that direction, safety included.
    pub needs_n: Option<Force>,
}
