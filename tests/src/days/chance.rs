//! Chance from one seed: SplitMix64 (Steele, Lea, Flood: "Fast splittable pseudorandom number generators", 2014; the
//! constants from memory).

/// Numbers of a seed.
#[derive(Debug, Clone)]
pub struct Chance(u64);

impl Chance {
    /// From a seed.
    #[must_use]
    pub const fn of(seed: u64) -> Self {
        Self(seed)
    }

    /// The next number.
    pub const fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 to below a bound.
    pub const fn below(&mut self, bound: u64) -> u64 {
        self.next() % if bound == 0 { 1 } else { bound }
    }

    /// From a least to a most.
    pub const fn between(&mut self, least: u64, most: u64) -> u64 {
        least + self.below(most.saturating_sub(least) + 1)
    }
}
