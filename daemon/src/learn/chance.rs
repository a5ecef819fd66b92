//! Chance for the tests of this room: the same for the same seed.

/// SplitMix64 (S. Vigna, public domain): enough for a test, and one line long.
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        // mixed once, so that neighbouring seeds do not walk the same way one step apart
        let first = Self(seed ^ 0x5851_f42d_4c95_7f2d).next();
        Self(first)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly between 0 and 1, neither of them.
    pub fn even(&mut self) -> f64 {
        ((self.next() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// Standard normal (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        (-2.0 * self.even().ln()).sqrt() * (std::f64::consts::TAU * self.even()).cos()
    }

    pub fn happens(&mut self, share: f64) -> bool {
        self.even() < share
    }
}
