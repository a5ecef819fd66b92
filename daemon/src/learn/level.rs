//! How often an interval should hold, shares of a whole, and the standard normal's percentage points.
//!
//! May live here: those numbers. May not: intervals.

/// How often an interval should hold: 0.5 to 0.9999.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Level(f64);

/// A share of a whole: 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Share(f64);

/// A number that is no level or share.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{0} is no level (0.5 to 0.9999) or share (0 to 1)")]
pub struct NotALevel(pub f64);

impl Level {
    /// Nineteen times of twenty.
    pub const USUAL: Self = Self(0.95);

    /// A level.
    ///
    /// # Errors
    /// When it is below 0.5, above 0.9999 or no number.
    pub fn new(level: f64) -> Result<Self, NotALevel> {
        if (0.5..=0.9999).contains(&level) { Ok(Self(level)) } else { Err(NotALevel(level)) }
    }

    /// As a number.
    #[must_use]
    pub const fn value(self) -> f64 {
        self.0
    }

    /// How many standard deviations either side of a normal's mean hold this much of it.
    pub(super) fn deviations(self) -> f64 {
        percentage_point(0.5 + self.0 / 2.0)
    }
}

impl Share {
    /// A share.
    ///
    /// # Errors
    /// When it is below 0, above 1 or no number.
    pub fn new(share: f64) -> Result<Self, NotALevel> {
        if (0.0..=1.0).contains(&share) { Ok(Self(share)) } else { Err(NotALevel(share)) }
    }

    /// As a number.
    #[must_use]
    pub const fn value(self) -> f64 {
        self.0
    }

    /// Of a number that rounding may have put just outside.
    pub(super) fn near(share: f64) -> Self {
        Self(if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) })
    }
}

/// Numerator and denominator about the middle, highest power first.
const MIDDLE: [[f64; 8]; 2] = [
    [
        2.509_080_928_730_122_6e3,
        3.343_057_558_358_813e4,
        6.726_577_092_700_87e4,
        4.592_195_393_154_987e4,
        1.373_169_376_550_946e4,
        1.971_590_950_306_551_3e3,
        1.331_416_678_917_843_8e2,
        3.387_132_872_796_366_5,
    ],
    [
        5.226_495_278_852_854e3,
        2.872_908_573_572_194_3e4,
        3.930_789_580_009_271e4,
        2.121_379_430_158_659_7e4,
        5.394_196_021_424_751e3,
        6.871_870_074_920_579e2,
        4.231_333_070_160_091e1,
        1.0,
    ],
];
/// The same in the tails.
const TAIL: [[f64; 8]; 2] = [
    [
        7.745_450_142_783_414e-4,
        2.272_384_498_926_918_4e-2,
        2.417_807_251_774_506e-1,
        1.270_458_252_452_368_4,
        3.647_848_324_763_204_5,
        5.769_497_221_460_691,
        4.630_337_846_156_546,
        1.423_437_110_749_683_5,
    ],
    [
        1.050_750_071_644_416_9e-9,
        5.475_938_084_995_345e-4,
        1.519_866_656_361_645_7e-2,
        1.481_039_764_274_800_8e-1,
        6.897_673_349_851e-1,
        1.676_384_830_183_803_8,
        2.053_191_626_637_759,
        1.0,
    ],
];

/// The value a standard normal stays below with this probability, between about 1e-10 and 1 less that.
///
/// M. J. Wichura, Algorithm AS 241: The Percentage Points of the Normal Distribution, Applied Statistics 37 (1988),
/// 477-484, PPND16; its far tail is not needed here.
fn percentage_point(p: f64) -> f64 {
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * ratio(&MIDDLE, r);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    let r = (-tail.ln()).sqrt() - 1.6;
    ratio(&TAIL, r).copysign(q)
}

fn ratio([above, below]: &[[f64; 8]; 2], r: f64) -> f64 {
    let horner = |terms: &[f64; 8]| terms.iter().fold(0.0, |sum, term| sum * r + term);
    horner(above) / horner(below)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentage_points_are_those_of_the_normal() {
        // scipy 1.17.1, stats.norm.ppf
        for (p, z) in [
            (0.5, 0.0),
            (0.8, 0.841_621_233_572_914_3),
            (0.9, 1.281_551_565_544_600_4),
            (0.95, 1.644_853_626_951_472_2),
            (0.975, 1.959_963_984_540_054),
            (0.99, 2.326_347_874_040_840_8),
            (0.995, 2.575_829_303_548_900_4),
            (0.9995, 3.290_526_731_491_925_5),
            (0.025, -1.959_963_984_540_054_5),
            (1.0e-6, -4.753_424_308_822_899),
        ] {
            assert!((percentage_point(p) - z).abs() < 1.0e-13, "{p}: {}", percentage_point(p));
        }
    }

    #[test]
    fn levels_and_shares_have_their_limits() {
        for bad in [0.0, 0.49, 1.0, f64::NAN, -1.0] {
            assert!(Level::new(bad).is_err(), "{bad}");
        }
        for bad in [-0.01, 1.01, f64::NAN, f64::INFINITY] {
            assert!(Share::new(bad).is_err(), "{bad}");
        }
        assert!(Level::new(0.8).is_ok() && Share::new(0.0).is_ok() && Share::new(1.0).is_ok());
    }
}
