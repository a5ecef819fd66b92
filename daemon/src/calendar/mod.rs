//! Room `calendar`: who is there when, when somebody hears the machine, when it must be quiet.
//!
//! May live here: rules of days and hours, the shop's time zone, exceptions, calendars that others keep. May not: what
//! is done in those hours.

mod windows;

pub use windows::{Window, Windows};
