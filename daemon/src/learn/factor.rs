//! How much longer a machine takes than was reckoned: the factor its next estimate is multiplied by.
//!
//! May live here: that factor. May not: reckoning a time.

use super::level::Level;
use super::median::{Interval, median, next_one};
use super::{Ground, Rests};
use chargehand_types::quantity::Seconds;

/// Rows before a factor is believed: common practice, no source; one or two may be the very sheets something happened
/// on.
const LEAST_ROWS: usize = 3;
/// A row that took so many times longer, or shorter, is no measurement of the machine.
const MOST_APART: f64 = 10.0;

/// One operation that was cut to its end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cut {
    /// Motion and dwell as reckoned.
    pub predicted: Seconds,
    /// Motion and dwell as they were, without holds.
    pub real: Seconds,
}

/// What a reckoned time is multiplied by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeFactor {
    /// 1 when there is no history to speak of.
    pub factor: f64,
    /// Where the true one lies; none while there are too few rows for it.
    pub interval: Option<Interval>,
    /// Where the next operation's own will lie; none while there are too few rows for it.
    pub next: Option<Interval>,
    /// How much history it rests on.
    pub rests: Rests,
}

impl TimeFactor {
    /// A reckoned time, corrected.
    #[must_use]
    pub fn correct(&self, predicted: Seconds) -> Seconds {
        Seconds::of(predicted.value() * self.factor)
    }
}

/// The factor of one machine from its history: the median of real over predicted, so that a few bad days do not
/// move it.
#[must_use]
pub fn time_factor(history: &[Cut], level: Level) -> TimeFactor {
    let ratios: Vec<f64> = history
        .iter()
        .filter(|cut| cut.predicted.value() > 0.0 && cut.real.value() > 0.0)
        .map(|cut| cut.real.value() / cut.predicted.value())
        .filter(|ratio| (1.0 / MOST_APART..=MOST_APART).contains(ratio))
        .collect();
    match median(&ratios, level) {
        Some(m) if ratios.len() >= LEAST_ROWS => TimeFactor {
            factor: m.value,
            interval: m.interval,
            next: next_one(&ratios, level),
            rests: Rests { on: Ground::History, rows: ratios.len() },
        },
        _ => TimeFactor { factor: 1.0, interval: None, next: None, rests: Rests { on: Ground::Usual, rows: 0 } },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(ratios: &[f64]) -> Vec<Cut> {
        ratios.iter().map(|r| Cut { predicted: Seconds::of(600.0), real: Seconds::of(600.0 * r) }).collect()
    }

    #[test]
    fn without_history_the_reckoning_stands() {
        for few in [&[][..], &[1.4], &[1.4, 1.5]] {
            let f = time_factor(&rows(few), Level::USUAL);
            assert_eq!((f.factor, f.interval, f.rests.on, f.rests.rows), (1.0, None, Ground::Usual, 0));
        }
    }

    #[test]
    fn some_history_gives_a_factor_and_more_an_interval() {
        let three = time_factor(&rows(&[1.08, 1.1, 1.13]), Level::USUAL);
        assert!((three.factor - 1.1).abs() < 1.0e-12 && three.interval.is_none());
        assert_eq!((three.rests.on, three.rests.rows), (Ground::History, 3));
        let six = time_factor(&rows(&[1.08, 1.1, 1.13, 1.09, 1.11, 1.12]), Level::USUAL);
        let interval = six.interval.unwrap();
        assert!((interval.low - 1.08).abs() < 1.0e-12 && (interval.high - 1.13).abs() < 1.0e-12);
        assert!((three.correct(Seconds::of(100.0)).value() - 110.0).abs() < 1.0e-9);
    }

    #[test]
    fn a_forgotten_clock_is_no_measurement() {
        let mut ratios = vec![1.1; 7];
        ratios.extend([0.0, 0.001, 400.0, f64::NAN]);
        let f = time_factor(&rows(&ratios), Level::USUAL);
        assert!((f.factor - 1.1).abs() < 1.0e-12);
        assert_eq!(f.rests.rows, 7);
        let odd = [Cut { predicted: Seconds::ZERO, real: Seconds::of(9.0) }; 9];
        assert_eq!(time_factor(&odd, Level::USUAL).rests.on, Ground::Usual);
    }
}
