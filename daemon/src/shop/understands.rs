//! What a controller takes as it is written. The rest is adapted before sending, or is a finding.

use serde::Deserialize;
use std::collections::BTreeSet;

/// What a controller understands, as its profile says.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Understands {
    /// G words, as written ("38.2").
    pub g: BTreeSet<String>,
    /// M words.
    pub m: BTreeSet<u16>,
    /// G words that may be left out because the controller always works so (path control, say).
    #[serde(default)]
    pub left_out: BTreeSet<String>,
    /// Arcs by radius; else they are written with their centre.
    #[serde(default = "yes")]
    pub radius_arcs: bool,
    /// Longest line in bytes, its end not counted.
    pub line_limit: u16,
    /// Whether blanks, comments, numbers and repeated modal words are written shorter.
    #[serde(default = "yes")]
    pub shorten: bool,
    /// A repeated modal word is dropped only if the one that set it lies more than this many sent bytes back, so
    /// that no line in flight depends on one that may yet be refused.
    pub window: u32,
}

const fn yes() -> bool {
    true
}

impl Understands {
    /// Whether a G word, ten times its number, is taken as written.
    #[must_use]
    pub fn g(&self, tenths: i16) -> bool {
        self.g.contains(&code(tenths))
    }

    /// Whether a G word may be left out.
    #[must_use]
    pub fn may_leave_out(&self, tenths: i16) -> bool {
        self.left_out.contains(&code(tenths))
    }
}

/// A G word's number as it is written.
#[must_use]
pub fn code(tenths: i16) -> String {
    if tenths % 10 == 0 { (tenths / 10).to_string() } else { format!("{}.{}", tenths / 10, tenths % 10) }
}

impl Default for Understands {
    /// The family of the shipped `acknowledged-window` profile.
    fn default() -> Self {
        let g = [
            "0", "1", "2", "3", "4", "10", "17", "18", "19", "20", "21", "28", "30", "38.2", "40", "49", "53", "54",
            "55", "56", "57", "58", "59", "61", "80", "90", "91", "91.1", "92", "92.1", "93", "94",
        ];
        Self {
            g: g.iter().map(|s| (*s).to_owned()).collect(),
            m: [0, 1, 2, 3, 4, 5, 7, 8, 9, 30].into(),
            left_out: ["43", "61.1", "64", "98", "99"].iter().map(|s| (*s).to_owned()).collect(),
            radius_arcs: true,
            line_limit: 80,
            shorten: true,
            window: 127,
        }
    }
}
