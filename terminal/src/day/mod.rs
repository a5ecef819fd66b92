//! The plan of the day as people read it: a time strip, a list of when somebody is needed, a calendar file.
//!
//! May live here: text made of a plan. May not: asking for it, the clock; the wall time of a moment comes in as a
//! function.

mod strip;
mod told;
mod wares;

pub use chargehand_types::calendar::calendar;
pub use strip::{Strip, signs, strips};
pub use told::{changed, late, list, page};
pub use wares::stocked;

use chrono::{DateTime, NaiveDateTime, Utc};

/// The wall time of a moment, in the zone people read it in.
pub type Wall = dyn Fn(DateTime<Utc>) -> NaiveDateTime;

#[cfg(test)]
pub(crate) mod tests;
