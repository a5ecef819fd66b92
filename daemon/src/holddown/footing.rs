//! The room a fastener takes on a sheet, and how high it stands.
//!
//! May live here: its outline and top. May not: what it holds.

use chargehand_types::card::{Fastener, FastenerKind};
use chargehand_types::quantity::Length;

/// What the bit must keep off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Footing {
    outline: Outline,
    /// Above the sheet's face, mm.
    top: f64,
    struck: bool,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Outline {
    /// Half across.
    Round(f64),
    /// Half of X and of Y.
    Upright([f64; 2]),
}

impl Footing {
    /// Of a fastener: its footprint where it has one and stands proud, else its head.
    #[must_use]
    pub fn of(fastener: &Fastener) -> Self {
        let proud = matches!(fastener.kind, FastenerKind::Clamp | FastenerKind::Wedge);
        let round = fastener.head_diameter.or(fastener.diameter).unwrap_or_default().mm() / 2.0;
        let outline = match fastener.footprint.filter(|_| proud) {
            Some(sides) => Outline::Upright(sides.map(|side| side.mm() / 2.0)),
            None => Outline::Round(round),
        };
        // a nail may be cut through; tape and vacuum lie below the sheet
        let struck = !matches!(fastener.kind, FastenerKind::Nail | FastenerKind::Tape | FastenerKind::Vacuum);
        Self { outline, top: fastener.head_height.mm().max(0.0), struck }
    }

    /// Whether the bit must keep off it at all.
    #[must_use]
    pub fn matters(&self) -> bool {
        self.struck
    }

    /// Above the sheet's face, mm.
    #[must_use]
    pub fn top(&self) -> f64 {
        self.top
    }

    /// Half of it along X and Y, mm.
    #[must_use]
    pub fn half(&self) -> [f64; 2] {
        match self.outline {
            Outline::Round(half) => [half; 2],
            Outline::Upright(half) => half,
        }
    }

    /// Its lower left and upper right corner around a place; none of a round one.
    #[must_use]
    pub fn rectangle(&self, at: [f64; 2]) -> Option<[[f64; 2]; 2]> {
        match self.outline {
            Outline::Round(_) => None,
            Outline::Upright([x, y]) => Some([[at[0] - x, at[1] - y], [at[0] + x, at[1] + y]]),
        }
    }

    /// From its middle to its farthest point, mm: air of this much plus the margin at its middle is always enough.
    #[must_use]
    pub fn reach(&self) -> Length {
        let mm = match self.outline {
            Outline::Round(half) => half,
            Outline::Upright([x, y]) => x.hypot(y),
        };
        Length::from_mm(mm).unwrap_or_default()
    }
}
