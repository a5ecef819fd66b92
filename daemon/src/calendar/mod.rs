//! Room `calendar`: who is there when, when somebody hears the machine, when it must be quiet.
//!
//! Minutes are counted from a zero instant and are real ones: the day on which clocks go forward has 1380 of them, the
//! one on which they go back 1500.
//!
//! May live here: rules of days and hours, the shop's time zone, exceptions, calendars that others keep. May not: what
//! is done in those hours.

mod ics;
mod reach;
mod recur;
mod windows;

pub use ics::{BadCalendar, Stretch, read as read_ics};
pub use reach::{Booked, Reach, Span, reach, there_until};
pub use windows::{Window, Windows};

#[cfg(test)]
mod tests;
