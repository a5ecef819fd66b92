//! Room `learn`: rows of history in; durations, factors, rates out, each with an interval and with how much history it
//! rests on.
//!
//! May live here: statistics and what to fall back on while there is little history. May not: where the rows come
//! from, what is planned with the figures.
//!
//! Nothing here assumes the shape of a distribution where it can be helped: times at a machine have long tails, and a
//! fault now and then is no measurement of the rest.

mod binomial;
mod cost;
mod duration;
mod factor;
mod fisher;
mod fit;
mod kpi;
mod level;
mod median;
mod physical;
mod places;
mod scrap;
mod tally;

pub use cost::{Rates, Sum, Taken, cost};
pub use duration::{Durations, Estimate, StepTime};
pub use factor::{Cut, TimeFactor, time_factor};
pub use fisher::{Outcomes, Surety, fisher, in_words, surety};
pub use fit::{Cutter, Judged as JudgedFit, Measured, judge_fit, told_fit};
pub use kpi::{Elements, Figures, figures};
pub use level::{Level, NotALevel, Share};
pub use median::{Interval, Median, median, next_one};
pub use physical::physical;
pub use places::marks;
pub use scrap::{ScrapRate, scrap_rate, spare_sheets};
pub use tally::{bad_parts, bits, reasons, revisions};

/// What a figure rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ground {
    /// History of the very thing.
    History,
    /// History of something wider: other people at the same step.
    Wider,
    /// No history to speak of: what is usual.
    Usual,
}

/// How much history a figure rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Rests {
    /// On what.
    pub on: Ground,
    /// Rows of it; 0 for what is usual.
    pub rows: usize,
}

#[cfg(test)]
mod chance;
#[cfg(test)]
mod coverage;
