//! The middle of what was measured, with intervals that hold whatever the shape of the distribution.
//!
//! May live here: order statistics. May not: what the numbers are.

use super::binomial::exactly;
use super::level::{Level, Share};

/// Least and most, with how often such an interval holds at least.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Least.
    pub low: f64,
    /// Most.
    pub high: f64,
    /// How often, at least: never less than was asked for.
    pub holds: Share,
}

/// The middle of a list.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Median {
    /// Half lie below, half above.
    pub value: f64,
    /// Where the true middle lies; none while there are too few rows for one.
    pub interval: Option<Interval>,
}

/// The median with its interval from the sign test: between the k-th lowest and the k-th highest, where k is the
/// largest that still holds often enough (W. J. Conover, Practical Nonparametric Statistics, chapter 3: the
/// quantile test; for 0.95 it takes six rows). Numbers that are not finite are left out; none left, no median.
#[must_use]
pub fn median(values: &[f64], level: Level) -> Option<Median> {
    let sorted = sorted(values);
    let n = sorted.len();
    let value = middle(&sorted)?;
    let count = u64::try_from(n).ok()?;
    let mut below = 0.0;
    let holds = (1..=count / 2).map(|k| {
        below += exactly(k - 1, count, 0.5);
        (k, 1.0 - 2.0 * below)
    });
    let widest = holds.take_while(|(_, holds)| *holds >= level.value()).last();
    let interval = widest.and_then(|(k, holds)| between(&sorted, k, holds));
    Some(Median { value, interval })
}

/// Where the next one will lie: of n measured in no order, the next is as likely to fall into each of the n + 1 gaps.
#[must_use]
pub fn next_one(values: &[f64], level: Level) -> Option<Interval> {
    let sorted = sorted(values);
    let count = u64::try_from(sorted.len()).ok()?;
    let holds = |k: u64| 1.0 - 2.0 * k as f64 / (count + 1) as f64;
    let k = (1..=count / 2).take_while(|k| holds(*k) >= level.value() - 1.0e-12).last()?;
    between(&sorted, k, holds(k))
}

/// From the k-th lowest to the k-th highest.
fn between(sorted: &[f64], k: u64, holds: f64) -> Option<Interval> {
    let k = usize::try_from(k).ok()?;
    let low = sorted.get(k.checked_sub(1)?).copied()?;
    let high = sorted.get(sorted.len().checked_sub(k)?).copied()?;
    Some(Interval { low, high, holds: Share::near(holds) })
}

fn sorted(values: &[f64]) -> Vec<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    sorted
}

fn middle(sorted: &[f64]) -> Option<f64> {
    let half = sorted.len() / 2;
    let upper = sorted.get(half).copied()?;
    if sorted.len() % 2 == 1 {
        return Some(upper);
    }
    let lower = sorted.get(half.checked_sub(1)?).copied()?;
    Some(f64::midpoint(lower, upper))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counted(n: u32) -> Vec<f64> {
        (1..=n).rev().map(f64::from).collect()
    }

    #[test]
    fn intervals_are_those_of_the_quantile_test() {
        // scipy 1.17.1, stats.quantile_test(1..n, q = n/2, p = 0.5).confidence_interval(level)
        for (n, level, wanted) in [
            (5, 0.8, Some((1.0, 5.0))),
            (5, 0.95, None),
            (6, 0.8, Some((1.0, 6.0))),
            (6, 0.95, Some((1.0, 6.0))),
            (7, 0.8, Some((2.0, 6.0))),
            (8, 0.95, Some((1.0, 8.0))),
            (9, 0.8, Some((3.0, 7.0))),
            (9, 0.95, Some((2.0, 8.0))),
            (10, 0.8, Some((3.0, 8.0))),
            (12, 0.95, Some((3.0, 10.0))),
            (15, 0.8, Some((5.0, 11.0))),
            (20, 0.95, Some((6.0, 15.0))),
            (25, 0.95, Some((8.0, 18.0))),
            (40, 0.8, Some((16.0, 25.0))),
            (50, 0.95, Some((18.0, 33.0))),
            (100, 0.95, Some((40.0, 61.0))),
            (101, 0.8, Some((44.0, 58.0))),
            (1000, 0.95, Some((469.0, 532.0))),
        ] {
            let found = median(&counted(n), Level::new(level).unwrap()).unwrap();
            assert_eq!(found.interval.map(|i| (i.low, i.high)), wanted, "{n} at {level}");
            assert!(found.interval.is_none_or(|i| i.holds.value() >= level));
        }
    }

    #[test]
    fn with_ten_years_of_rows_it_is_the_large_sample_interval() {
        // Conover, chapter 3, for many rows: n/2 less and more than 1.96 times the root of n/4
        let found = median(&counted(40_000), Level::USUAL).unwrap().interval.unwrap();
        assert!((found.low - (20_000.0 - 1.959_964 * 100.0)).abs() < 1.5, "{found:?}");
        assert!((found.high - (20_001.0 + 1.959_964 * 100.0)).abs() < 1.5, "{found:?}");
    }

    #[test]
    fn the_middle_is_in_the_middle() {
        let of = |values: &[f64]| median(values, Level::USUAL).map(|m| m.value);
        assert_eq!(of(&[3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(of(&[4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(of(&[1.0, f64::NAN, f64::INFINITY]), Some(1.0));
        assert_eq!(of(&[]), None);
    }

    #[test]
    fn one_wild_row_moves_nothing() {
        let mut rows = vec![10.0; 20];
        rows.push(1.0e9);
        let m = median(&rows, Level::USUAL).unwrap();
        assert_eq!((m.value, m.interval.unwrap().high), (10.0, 10.0));
    }

    #[test]
    fn the_next_one_needs_enough_before_it() {
        // of 39 the outermost two gaps of 40 are left out: 38/40 = 0.95
        let found = next_one(&counted(39), Level::USUAL).unwrap();
        assert_eq!((found.low, found.high), (1.0, 39.0));
        assert!((found.holds.value() - 0.95).abs() < 1.0e-12);
        assert_eq!(next_one(&counted(38), Level::USUAL), None);
        assert!(next_one(&[], Level::USUAL).is_none());
    }
}
