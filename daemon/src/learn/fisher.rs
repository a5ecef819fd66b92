//! Whether two revisions came out differently, or whether that may well be chance: a fair test for small numbers.
//!
//! May live here: the test and plain words for it. May not: what differs between the two.

use super::binomial::ln_choose;
use super::level::Share;

/// Two tables as likely as each other but for rounding.
const AS_LIKELY: f64 = 1.0 + 1.0e-7;
/// Below this few would call it chance: common practice, no source (a twentieth).
const UNLIKELY: f64 = 0.05;
/// Below this hardly anybody would: common practice, no source (a hundredth).
const VERY_UNLIKELY: f64 = 0.01;
/// With fewer of each nothing is said: the test could hardly come out otherwise.
const LEAST_EACH: u32 = 3;

/// How many came out well and how many did not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outcomes {
    /// Well.
    pub good: u32,
    /// Not well.
    pub bad: u32,
}

/// How sure one can be that two differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Surety {
    /// Too few to say anything.
    TooFew,
    /// May well be chance.
    Chance,
    /// Hardly chance.
    Likely,
    /// As good as certain.
    Certain,
}

/// The probability of a table at least as uneven, were the two alike (Fisher's exact test, two-sided: every table with
/// the same sums that is no more likely than this one; R. A. Fisher, Statistical Methods for Research Workers, 21.02).
#[must_use]
pub fn fisher(a: Outcomes, b: Outcomes) -> Share {
    let [a_good, a_bad, b_good, b_bad] = [a.good, a.bad, b.good, b.bad].map(u64::from);
    let (of_a, of_b, good) = (a_good + a_bad, b_good + b_bad, a_good + b_good);
    let whole = ln_choose(of_a + of_b, good);
    let likely = |k: u64| (ln_choose(of_a, k) + ln_choose(of_b, good - k) - whole).exp();
    let limit = likely(a_good) * AS_LIKELY;
    let (least, most) = (good.saturating_sub(of_b), good.min(of_a));
    Share::near((least..=most).map(likely).filter(|p| *p <= limit).sum())
}

/// How sure one can be that the two differ.
#[must_use]
pub fn surety(a: Outcomes, b: Outcomes) -> Surety {
    if a.good.saturating_add(a.bad).min(b.good.saturating_add(b.bad)) < LEAST_EACH {
        return Surety::TooFew;
    }
    match fisher(a, b).value() {
        p if p < VERY_UNLIKELY => Surety::Certain,
        p if p < UNLIKELY => Surety::Likely,
        _ => Surety::Chance,
    }
}

/// One sentence on two revisions, as one would say it in the shop.
#[must_use]
pub fn in_words(before: Outcomes, after: Outcomes) -> String {
    let rate = |o: Outcomes| f64::from(o.bad) / f64::from(o.good.saturating_add(o.bad).max(1));
    let told = |o: Outcomes| format!("{} of {} bad", o.bad, o.good.saturating_add(o.bad));
    let both = format!("{}, before {}", told(after), told(before));
    let p = fisher(before, after).value();
    let by_chance = format!("were the two alike, so uneven a result would come about {}", odds(p));
    let better = if rate(after) < rate(before) { "better" } else { "worse" };
    match surety(before, after) {
        Surety::TooFew => format!("{both}: too few to say anything"),
        Surety::Chance => format!("{both}: that may well be chance; {by_chance}"),
        Surety::Likely => format!("{both}: probably {better}; {by_chance}"),
        Surety::Certain => format!("{both}: {better}, as good as certainly; {by_chance}"),
    }
}

fn odds(p: f64) -> String {
    match p {
        p if p > 0.5 => "more often than not".to_owned(),
        p if p >= 0.01 => format!("1 time in {:.0}", 1.0 / p),
        _ => "less than 1 time in 100".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outcomes(good: u32, bad: u32) -> Outcomes {
        Outcomes { good, bad }
    }

    #[test]
    fn tables_agree() {
        // scipy 1.17.1, stats.fisher_exact([[a, b], [c, d]]); the second is Fisher's own tea-tasting lady
        for ([a, b, c, d], p) in [
            ([8, 2, 1, 5], 0.034_965_034_965_034_975),
            ([3, 1, 1, 3], 0.485_714_285_714_285_65),
            ([0, 10, 5, 5], 0.032_507_739_938_080_496),
            ([12, 3, 7, 9], 0.065_892_860_021_602_1),
            ([1, 99, 6, 94], 0.118_405_381_063_851_07),
            ([10, 0, 0, 10], 1.082_508_822_446_903e-5),
            ([40, 2, 35, 8], 0.088_739_533_598_642_42),
            ([0, 0, 5, 7], 1.0),
            ([5, 5, 5, 5], 1.0),
            ([200, 31, 180, 55], 0.005_996_247_509_592_98),
        ] {
            let found = fisher(outcomes(a, b), outcomes(c, d)).value();
            assert!((found - p).abs() < 1.0e-11, "{a} {b} {c} {d}: {found}");
            let turned = fisher(outcomes(c, d), outcomes(a, b)).value();
            assert!((found - turned).abs() < 1.0e-12, "which comes first does not matter");
        }
    }

    #[test]
    fn words_say_how_sure_one_can_be() {
        let words = |a, b| in_words(a, b);
        assert!(words(outcomes(0, 2), outcomes(9, 0)).contains("too few"));
        assert!(words(outcomes(6, 2), outcomes(7, 1)).contains("may well be chance"));
        assert!(
            words(outcomes(5, 5), outcomes(10, 0)).contains("probably better"),
            "{}",
            words(outcomes(5, 5), outcomes(10, 0))
        );
        assert!(words(outcomes(10, 0), outcomes(5, 5)).contains("probably worse"));
        assert!(words(outcomes(0, 10), outcomes(10, 0)).contains("better, as good as certainly"));
        assert_eq!(surety(outcomes(0, 0), outcomes(0, 0)), Surety::TooFew);
        assert_eq!(fisher(outcomes(u32::MAX, 0), outcomes(0, 0)).value(), 1.0);
    }
}
