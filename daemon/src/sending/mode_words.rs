//! The words that ask for a mode.
//!
//! May live here: from a mode to its word. May not: whether the word is written.

use crate::program::code::G;
use crate::program::motion::{MotionMode, Plane};

/// The word of a plane.
pub const fn plane_word(plane: Plane) -> G {
    match plane {
        Plane::Xy => G::G17,
        Plane::Zx => G::G18,
        Plane::Yz => G::G19,
    }
}

/// The word of a work system, 1 to 9.
pub const fn system_word(system: u8) -> G {
    match system {
        2 => G::G55,
        3 => G::G56,
        4 => G::G57,
        5 => G::G58,
        6 => G::G59,
        7 => G::G59_1,
        8 => G::G59_2,
        9 => G::G59_3,
        _ => G::G54,
    }
}

/// The word of a motion that a line may go on with.
pub const fn motion_word(mode: MotionMode) -> Option<G> {
    Some(match mode {
        MotionMode::G0 => G::G0,
        MotionMode::G1 => G::G1,
        MotionMode::G2 => G::G2,
        MotionMode::G3 => G::G3,
        MotionMode::G38_2 => G::G38_2,
        _ => return cycle_word(mode),
    })
}

/// The word of a cycle.
pub const fn cycle_word(mode: MotionMode) -> Option<G> {
    Some(match mode {
        MotionMode::G81 => G::G81,
        MotionMode::G82 => G::G82,
        MotionMode::G83 => G::G83,
        MotionMode::G84 => G::G84,
        MotionMode::G85 => G::G85,
        MotionMode::G86 => G::G86,
        MotionMode::G89 => G::G89,
        _ => return None,
    })
}
