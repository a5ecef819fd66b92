//! What is sold and what is sawn: products made of parts, and panels that sheets come from.

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
