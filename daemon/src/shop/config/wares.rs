//! What is sold, what is sawn and what is kept up: products made of parts, panels that sheets come from, upkeep.

use chargehand_types::quantity::Length;
use std::collections::BTreeMap;

/// Something sold as a whole.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Product {
    /// Its name.
    pub name: String,
    /// Named parts of one set, and how many of each.
    pub parts: BTreeMap<String, u32>,
    /// Days between the last cut and the finished set: glue, sanding, oil.
    pub finishing_days: u32,
}

/// Full panels of a material, and how they are sawn into sheets.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// Its name.
    pub name: String,
    /// A key of the materials.
    pub material: String,
    /// As it is sold.
    pub thickness: Length,
    /// Its two sides.
    pub size: [Length; 2],
    /// What a saw cut takes away.
    pub kerf: Length,
    /// Sheets along each side.
    pub pieces: [u32; 2],
    /// Of one, in the shop's money.
    pub price: f64,
}

/// Something of the machine that is to be kept up.
#[derive(Debug, Clone, PartialEq)]
pub struct Upkeep {
    /// Its name.
    pub name: String,
    /// What is to be done.
    pub what: String,
    /// After so many hours in motion.
    pub every_hours: Option<f64>,
    /// After so many metres of cut.
    pub every_metres: Option<f64>,
    /// After so many days.
    pub every_days: Option<f64>,
    /// It is done too whenever the waste board is surfaced or changed.
    pub with_board: bool,
}
