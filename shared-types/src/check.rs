//! What a check of a card answers.

use crate::finding::Finding;
use crate::holddown::HoldDownReport;
use crate::id::{CardName, Revision};
use crate::quantity::{Area, Length, Metres, Seconds};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A card and its programs, sent to be judged or added. Paths are resolved by the sender; nothing is read elsewhere.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CardFiles {
    /// What to call the card file in messages.
    pub file: String,
    /// The text of the card.
    pub text: String,
    /// Program text by the path the card gives, as bytes in base 64.
    pub programs: BTreeMap<String, String>,
}

/// `POST /v1/check`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CheckRequest {
    /// What to judge.
    pub files: CardFiles,
    /// The caliper reading; nominal when left out.
    #[serde(default)]
    pub thickness: Option<Length>,
    /// Readings at the corners, at most four, in place of one: the thickest decides what goes through, the thinnest
    /// what reaches the waste board.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub corners: Vec<Length>,
    /// How far work zero is put above where it is touched off; downwards is negative.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub z_shift: Option<Length>,
    /// Way already cut by a bit, by its key.
    #[serde(default)]
    pub bit_used: BTreeMap<String, Metres>,
}

/// What a check answers; also `chargehand check --json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CheckReport {
    /// 1.
    pub schema: u32,
    /// The card.
    pub card: CardName,
    /// Over what changes the cut or the checks.
    pub revision: Revision,
    /// The thickness judged with, in mm.
    pub thickness: Length,
    /// Operations in the order they would be cut.
    pub order: Vec<String>,
    /// Whether the operations may be run back to back. `None` until the sheet map can tell.
    pub straight_through: Option<bool>,
    /// Worst first.
    pub findings: Vec<Finding>,
    /// Concrete numbers for a test cut.
    pub advice: Vec<String>,
    /// One each.
    pub operations: Vec<OperationReport>,
    /// Where fasteners go and what they hold.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub holddown: Option<HoldDownReport>,
    /// How far thickness and bits may be off; only where it was asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub window: Option<WorkingWindow>,
    /// What the sheet falls into, largest first.
    #[serde(default)]
    pub pieces: Vec<PieceReport>,
    /// The sheet in characters, the far edge first: pieces by letter in their order here, `.` cut through, `+` a tab,
    /// `o` a fastener.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub picture: Vec<String>,
    /// Pairs of operations that may not change places, beside what `after` says; asked for with the window.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub precedence: Vec<Precedence>,
}

/// Two operations that may not change places.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Precedence {
    /// This one first.
    pub first: String,
    /// This one later.
    pub then: String,
    /// What would be found the other way round.
    pub otherwise: String,
}

/// How far things may be off before any finding changes; each bound was judged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WorkingWindow {
    /// Of the sheet: least and most.
    pub thickness: [Length; 2],
    /// Of each bit by its key: least and most diameter.
    pub bit: BTreeMap<String, [Length; 2]>,
    /// Of work zero above where it is touched off, as far as the card lets it be shifted; none where it does not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub z_shift: Option<[Length; 2]>,
}

/// A piece that the cuts leave apart from the sheet's rim; tabs count as cut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PieceReport {
    /// As the card names it; none where nobody named it.
    pub name: Option<String>,
    /// At the end.
    pub area_mm2: Area,
    /// Work coordinates.
    pub centroid: [Length; 2],
    /// Where its last connection was cut; none while tabs or a fastener hold it.
    pub loose_at: Option<LineOf>,
    /// What holds it.
    pub tabs: Vec<TabReport>,
}

/// A line of an operation's program.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LineOf {
    /// Whose program.
    pub operation: String,
    /// 1-based.
    pub line: u32,
}

/// One tab.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TabReport {
    /// Bit centre at its middle, work coordinates.
    pub at: [Length; 2],
    /// Along the cut at the underside.
    pub width: Length,
    /// Along the cut at its top.
    pub width_top: Length,
    /// Above the underside.
    pub height: Length,
    /// Upright section along the cut.
    pub section_mm2: Area,
    /// How the bit went over it.
    pub style: TabStyle,
}

/// How a bit goes over a tab.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TabStyle {
    /// Straight up and down.
    Square,
    /// In ramps.
    Ramped,
}

/// What is known of one operation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OperationReport {
    /// Its name.
    pub name: String,
    /// The key of its bit.
    pub bit: String,
    /// Lines of the program.
    pub lines: u32,
    /// Moves in it (G0 to G3 and what cycles unfold to).
    pub moves: u64,
    /// Feed motion below the sheet's face.
    pub cut_m: Metres,
    /// Rapid motion.
    pub rapid_m: Metres,
    /// Motion and dwell.
    pub seconds: Seconds,
    /// What the serial line needs at least.
    pub wire_seconds: Seconds,
    /// All motion, each axis from the move that first names it.
    pub extents: Extents,
    /// Feed motion below the sheet's face.
    pub cut_extents: Extents,
}

/// Least and most on each axis; none where nothing moved.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Extents {
    /// Left and right.
    pub x: Option<[Length; 2]>,
    /// Towards you and away.
    pub y: Option<[Length; 2]>,
    /// Down and up.
    pub z: Option<[Length; 2]>,
}

/// The sheet seen from above, for a screen: outlines of the cuts and the given fasteners.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Drawing {
    /// X and Y.
    pub size: [Length; 2],
    /// The sheet's lower left corner in work coordinates.
    pub corner: crate::quantity::Spot,
    /// What is cut.
    pub paths: Vec<CutPath>,
    /// Where fasteners are given.
    pub fasteners: Vec<DrawnFastener>,
}

/// One run of the bit below the face.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CutPath {
    /// Its operation's place on the card, from 0.
    pub operation: u32,
    /// First and last line of the program.
    pub lines: [u32; 2],
    /// Whether it goes through the sheet.
    pub through: bool,
    /// Work X and Y of the bit's centre, arcs in chords.
    pub points: Vec<[f32; 2]>,
}

/// A fastener in a drawing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DrawnFastener {
    /// Its number on the drawing, from 1.
    pub number: u32,
    /// Work coordinates.
    pub at: crate::quantity::Spot,
    /// Across the head.
    pub head: Length,
    /// What it is, for people.
    pub title: String,
}
