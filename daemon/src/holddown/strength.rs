//! How much one fastener holds, at the load that breaks it: the Wood Handbook's formulas (FPL-GTR-282, chapter 8).
//!
//! Millimetres and newtons throughout; the inch-pound forms stand in the tests. None of them knows when the fastener itself
//! breaks, and all are for wood that did not split: they are divided by the shop's safety factor before they count.
//!
//! May live here: the formulas. May not: what is enough.

/// Withdrawal of a wood screw from side grain: `108.25 G^2 D L` (eq. 8-10), with the wood's specific gravity, the shank
/// and the thread in the wood.
#[must_use]
pub fn screw_in_wood(gravity: f64, shank: f64, thread: f64) -> f64 {
    108.25 * gravity * gravity * shank * thread.max(0.0)
}

/// Withdrawal of a screw from the face of particleboard, taken for fibreboard too: `41.1 sqrt(D) (L - D/3)^1.25 G^2`
/// (chapter 8; the factor from memory).
#[must_use]
pub fn screw_in_board(gravity: f64, shank: f64, thread: f64) -> f64 {
    41.1 * shank.max(0.0).sqrt() * (thread - shank / 3.0).max(0.0).powf(1.25) * gravity * gravity
}

/// Sideways load of a wood screw near first slip: `K D^2` (eq. 8-13).
#[must_use]
pub fn screw_lateral(group: f64, shank: f64) -> f64 {
    group * shank * shank
}

/// `K` of [`screw_lateral`] for softwoods, which hold no more than hardwoods of their gravity (values from memory). Below
/// the lightest group it falls with the gravity, which no source says.
#[must_use]
pub fn lateral_group(gravity: f64) -> f64 {
    const LIGHT: f64 = 23.17;
    if gravity >= 0.48 {
        36.40
    } else if gravity >= 0.43 {
        29.79
    } else {
        LIGHT * (gravity / 0.29).clamp(0.0, 1.0)
    }
}

/// Withdrawal of a plain nail from side grain: `54.12 G^(5/2) D L` (eq. 8-1; from memory).
#[must_use]
pub fn nail_withdrawal(gravity: f64, shank: f64, depth: f64) -> f64 {
    54.12 * gravity.max(0.0).powf(2.5) * shank * depth.max(0.0)
}

/// Sideways load of a nail: `K D^1.5` with the lightest softwoods' `K` of 50.04 (eq. 8-3; from memory).
#[must_use]
pub fn nail_lateral(shank: f64) -> f64 {
    50.04 * shank.max(0.0).powf(1.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked values are told to five digits.
    fn near(found: f64, known: f64) {
        assert!((found / known - 1.0).abs() < 5.0e-4, "{found} is not {known}");
    }

    const LB: f64 = 4.448_222;
    const INCH: f64 = 25.4;

    #[test]
    fn screws_hold_in_wood_as_the_handbook_says() {
        // p = 108.25 G^2 D L worked by hand
        near(screw_in_wood(0.35, 4.17, 25.0), 1382.4);
        near(screw_in_wood(0.63, 4.17, 25.0), 4479.0);
        near(screw_in_wood(0.48, 4.83, 30.0), 3613.9);
    }

    #[test]
    fn inch_form_is_the_same_load() {
        // p = 15,700 G^2 D L in pounds: 315.41 lb for G 0.35, D 0.164 in, L 1 in; 1261.7 lb for G 0.7
        near(screw_in_wood(0.35, 0.164 * INCH, INCH) / LB, 315.41);
        near(screw_in_wood(0.7, 0.164 * INCH, INCH) / LB, 1261.7);
    }

    #[test]
    fn boards_hold_as_the_handbook_says() {
        near(screw_in_board(0.75, 4.17, 16.0), 1348.5);
        // 2655 sqrt(D) (L - D/3)^1.25 G^2 in pounds
        let pounds = 2655.0 * 0.164_f64.sqrt() * (0.63_f64 - 0.164 / 3.0).powf(1.25) * 0.75 * 0.75;
        near(screw_in_board(0.75, 0.164 * INCH, 0.63 * INCH), pounds * LB);
        assert_eq!(screw_in_board(0.75, 4.0, 1.0), 0.0);
    }

    #[test]
    fn sideways_load_goes_by_the_shank_squared() {
        near(screw_lateral(23.17, 4.17), 402.9);
        near(screw_lateral(44.13, 4.17), 767.37);
        // 3360 D^2 in pounds is the same group
        near(screw_lateral(lateral_group(0.42), 0.164 * INCH), 3360.0 * 0.164 * 0.164 * LB);
        near(lateral_group(0.45), 29.79);
        near(lateral_group(0.72), 36.40);
    }

    #[test]
    fn nails_hold_as_the_inch_form_says() {
        // 7,850 G^(5/2) D L and 1,440 D^(3/2) in pounds (from memory)
        let pounds = 7850.0 * 0.45_f64.powf(2.5) * 0.131 * 1.0;
        near(nail_withdrawal(0.45, 0.131 * INCH, INCH), pounds * LB);
        near(nail_lateral(0.131 * INCH), 1440.0 * 0.131_f64.powf(1.5) * LB);
    }
}
