//! A profile's `understands`, compiled for looking up.
//!
//! May live here: sets of codes. May not: the profile's text, what is done with a code that is not known.

use crate::program::code::{G, M};
use crate::shop::understands::Understands;

/// What the controller knows.
#[derive(Debug)]
pub struct Known {
    g: Vec<u16>,
    m: Vec<u16>,
    left_out: Vec<u16>,
    /// Arcs by radius.
    pub radius_arcs: bool,
    /// Bytes a line may have, its end not counted.
    pub line_limit: usize,
}

impl Known {
    /// From a profile.
    pub fn new(understands: &Understands) -> Self {
        let tenths = |text: &String| {
            let (whole, part) = text.split_once('.').unwrap_or((text, "0"));
            let (whole, part) = (whole.parse::<u16>().ok()?, part.parse::<u16>().ok()?);
            whole.checked_mul(10)?.checked_add(part)
        };
        Self {
            g: understands.g.iter().filter_map(tenths).collect(),
            m: understands.m.iter().copied().collect(),
            left_out: understands.left_out.iter().filter_map(tenths).collect(),
            radius_arcs: understands.radius_arcs,
            line_limit: understands.line_limit.into(),
        }
    }

    /// Whether a G word is taken as it is.
    pub fn g(&self, code: G) -> bool {
        self.g.contains(&code.tenths())
    }

    /// Whether a G word may be left out.
    pub fn may_leave_out(&self, code: G) -> bool {
        self.left_out.contains(&code.tenths())
    }

    /// Whether an M word is taken as it is.
    pub fn m(&self, code: M) -> bool {
        self.m.contains(&(code.tenths() / 10))
    }
}
