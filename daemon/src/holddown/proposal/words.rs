//! Why a place is there, and what stands against a proposal: facts with their sentences.
//!
//! May live here: those. May not: finding them.

use chargehand_types::quantity::plain;
use std::fmt;

/// The sheet's corners, by number: bit 0 is the right side, bit 1 the far side.
pub const CORNERS: [&str; 4] = ["near left corner", "near right corner", "far left corner", "far right corner"];

/// What a place is there for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Why {
    /// Holds a corner region.
    Corner {
        /// Which of [`CORNERS`].
        corner: usize,
    },
    /// The corner region has no room: the nearest along its edges.
    MovedFromCorner {
        /// Which of [`CORNERS`].
        corner: usize,
    },
    /// Holds a piece that would come loose.
    Piece,
    /// Brings a cut within the span.
    Span {
        /// Work mm.
        cut: [f64; 2],
    },
    /// The others do not hold enough.
    Force,
    /// The sheet is bowed.
    Bow,
}

/// What could not be had.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Trouble {
    /// There is no place on the whole sheet.
    NoRoom,
    /// A corner can take none, nor can its edges.
    Corner {
        /// Which of [`CORNERS`].
        corner: usize,
    },
    /// A piece that comes loose can take none.
    Piece {
        /// Work mm.
        at: [f64; 2],
    },
    /// A cut that no place comes near enough to.
    FarCut {
        /// Work mm.
        cut: [f64; 2],
        /// mm.
        span: f64,
    },
    /// All together hold too little.
    Weak {
        /// N.
        holds: f64,
        /// N, safety included.
        needs: f64,
    },
    /// The fastener comes out below the waste board.
    OutBelow {
        /// mm.
        by: f64,
    },
    /// The fastener does not reach the waste board.
    TooShort,
    /// Some of what could not be had could be, were it not for old holes in the waste board.
    OldHoles {
        /// How many lie under the sheet.
        holes: usize,
    },
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let corner = |corner: usize| CORNERS.get(corner).copied().unwrap_or("corner");
        match self {
            Self::Corner { corner: c } => write!(f, "holds the {}", corner(*c)),
            Self::MovedFromCorner { corner: c } => {
                write!(f, "for the {}, which has no room: the nearest safe place along its edges", corner(*c))
            }
            Self::Piece => f.write_str("holds a piece that would come loose"),
            Self::Span { cut: [x, y] } => write!(f, "holds the cut near X {} Y {}", whole(*x), whole(*y)),
            Self::Force => f.write_str("the others alone do not hold enough"),
            Self::Bow => f.write_str("one more, for the sheet is bowed"),
        }
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoRoom => f.write_str(
                "no place on this sheet takes this fastener: take a larger sheet, a smaller fastener or less margin, or hold it by tape or vacuum",
            ),
            Self::Corner { corner } => {
                let name = CORNERS.get(*corner).copied().unwrap_or("corner");
                write!(f, "the {name} has no room, nor have its edges: move the parts in from there, or clamp it by hand")
            }
            Self::Piece { at: [x, y] } => write!(
                f,
                "the piece near X {} Y {} comes loose and has no room for a fastener: leave tabs, or tape it",
                whole(*x),
                whole(*y)
            ),
            Self::FarCut { cut: [x, y], span } => write!(
                f,
                "no safe place lies within {} mm of the cut near X {} Y {}: leave room between the parts there, or add tape",
                plain(*span),
                whole(*x),
                whole(*y)
            ),
            Self::Weak { holds, needs } => write!(
                f,
                "all places together hold {holds:.0} N and {needs:.0} N are needed, safety included: take longer fasteners, or cut shallower passes"
            ),
            Self::OutBelow { by } => {
                write!(f, "the fastener comes out {} mm below the waste board: take a shorter one", plain(*by))
            }
            Self::TooShort => {
                f.write_str("the fastener does not reach into the waste board: take a longer one")
            }
            Self::OldHoles { holes } => write!(
                f,
                "there would be room, were it not for the {holes} old holes in the waste board under this sheet: surface or change the board, and say that it is renewed"
            ),
        }
    }
}

fn whole(value: f64) -> String {
    plain(value.round())
}
