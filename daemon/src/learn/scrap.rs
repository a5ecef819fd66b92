//! How many come out bad, how sure that is, and how many sheets to plan for it.
//!
//! May live here: rates of yes and no. May not: reasons.

use super::binomial::exactly;
use super::level::{Level, Share};
use super::{Ground, Rests};

/// What a new shop should reckon with, bad ones and of how many: common practice, no source. It weighs as much as so
/// many sheets of its own and fades behind them.
const USUAL: (f64, f64) = (1.0, 20.0);
/// More spare sheets than this nobody plans.
const MOST_SPARE: u64 = 1_000;

/// A rate of bad ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScrapRate {
    /// What to reckon with: the shop's own, drawn towards the usual one as long as it is young.
    pub expected: Share,
    /// As counted; none without history.
    pub counted: Option<Share>,
    /// Where the true one lies (Wilson's score interval); 0 to 1 without history.
    pub interval: [Share; 2],
    /// How much history it rests on.
    pub rests: Rests,
}

/// The rate of bad ones among all; what is counted as bad beyond all counts as all.
///
/// Interval: E. B. Wilson, Probable inference, the law of succession, and statistical inference, J. Am. Stat. Assoc.
/// 22 (1927), 209-212; without continuity correction.
#[must_use]
pub fn scrap_rate(bad: u32, all: u32, level: Level) -> ScrapRate {
    let bad = bad.min(all);
    let (x, n) = (f64::from(bad), f64::from(all));
    let expected = Share::near((x + USUAL.0) / (n + USUAL.1));
    if all == 0 {
        let interval = [Share::near(0.0), Share::near(1.0)];
        return ScrapRate { expected, counted: None, interval, rests: Rests { on: Ground::Usual, rows: 0 } };
    }
    let rests = Rests { on: Ground::History, rows: usize::try_from(all).unwrap_or(usize::MAX) };
    ScrapRate { expected, counted: Some(Share::near(x / n)), interval: wilson(x, n, level.deviations()), rests }
}

fn wilson(x: f64, n: f64, z: f64) -> [Share; 2] {
    let (p, z2) = (x / n, z * z);
    let centre = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = z / (1.0 + z2 / n) * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    // at the ends the interval ends with them, whatever rounding says
    let low = if x <= 0.0 { 0.0 } else { centre - half };
    let high = if x >= n { 1.0 } else { centre + half };
    [Share::near(low), Share::near(high)]
}

/// The least number of spare sheets with which `wanted` good ones come out of the batch with this surety, each being
/// bad with the given probability. None when no number of spares does.
#[must_use]
pub fn spare_sheets(wanted: u32, bad: Share, surety: Level) -> Option<u32> {
    let good = 1.0 - bad.value();
    if wanted == 0 {
        return Some(0);
    }
    if good <= 0.0 {
        return None;
    }
    // bad ones met before the last good one: the negative binomial distribution
    let n = u64::from(wanted);
    let mut sum = 0.0;
    for spare in 0..=MOST_SPARE {
        sum += good * exactly(n - 1, n - 1 + spare, good);
        if sum >= surety.value() - 1.0e-12 {
            return u32::try_from(spare).ok();
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn level(value: f64) -> Level {
        Level::new(value).unwrap()
    }

    #[test]
    fn intervals_are_wilsons() {
        // scipy 1.17.1, stats.binomtest(k, n).proportion_ci(level, method="wilson")
        for (bad, all, at, low, high) in [
            (0, 10, 0.95, 0.0, 0.277_532_799_862_889_26),
            (1, 10, 0.95, 0.017_876_213_095_072_896, 0.404_150_026_795_238_5),
            (5, 10, 0.95, 0.236_593_090_512_564, 0.763_406_909_487_436_1),
            (10, 10, 0.95, 0.722_467_200_137_110_9, 1.0),
            (3, 47, 0.95, 0.021_945_385_205_433_265, 0.171_626_141_831_244_36),
            (12, 400, 0.95, 0.017_243_020_965_143_05, 0.051_698_535_709_095_675),
            (0, 1, 0.95, 0.0, 0.793_450_685_622_762_6),
            (7, 50, 0.8, 0.088_519_359_725_668_53, 0.214_378_688_481_831_5),
            (7, 50, 0.99, 0.056_143_718_606_337_49, 0.308_205_787_430_354_7),
            (250, 20_000, 0.95, 0.011_051_148_997_985_273, 0.014_136_086_156_716_738),
        ] {
            let [found_low, found_high] = scrap_rate(bad, all, level(at)).interval.map(Share::value);
            assert!((found_low - low).abs() < 1.0e-13, "{bad} of {all}: {found_low}");
            assert!((found_high - high).abs() < 1.0e-13, "{bad} of {all}: {found_high}");
        }
    }

    #[test]
    fn a_young_shop_reckons_with_the_usual() {
        let none = scrap_rate(0, 0, Level::USUAL);
        assert_eq!((none.counted, none.expected.value(), none.rests.on), (None, 0.05, Ground::Usual));
        assert_eq!(none.interval.map(Share::value), [0.0, 1.0]);
        let one_bad = scrap_rate(1, 1, Level::USUAL);
        assert!(one_bad.expected.value() < 0.1, "one bad sheet is not every sheet");
        let many = scrap_rate(300, 1000, Level::USUAL);
        assert!((many.expected.value() - 0.3).abs() < 0.006);
        assert_eq!(scrap_rate(9, 3, Level::USUAL).counted.map(Share::value), Some(1.0));
    }

    #[test]
    fn spares_are_those_of_the_negative_binomial() {
        // scipy 1.17.1, stats.nbinom.ppf(surety, wanted, 1 - bad)
        for (wanted, bad, surety, spares) in [
            (10, 0.05, 0.9, 2),
            (10, 0.05, 0.95, 2),
            (1, 0.05, 0.9, 0),
            (20, 0.1, 0.95, 5),
            (40, 0.02, 0.9, 2),
            (4, 0.25, 0.99, 5),
            (100, 0.03, 0.95, 6),
            (6, 0.0, 0.95, 0),
            (12, 0.5, 0.9, 19),
        ] {
            let found = spare_sheets(wanted, Share::new(bad).unwrap(), level(surety));
            assert_eq!(found, Some(spares), "{wanted} at {bad}, {surety}");
        }
        assert_eq!(spare_sheets(0, Share::new(0.5).unwrap(), Level::USUAL), Some(0));
        assert_eq!(spare_sheets(5, Share::new(1.0).unwrap(), Level::USUAL), None);
    }
}
