//! The hours of a shop as config gives them: values only, no reckoning with dates.

use chrono::{NaiveTime, Weekday};
use chrono_tz::Tz;

/// When somebody is there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hours {
    /// The zone all times of day are in: UTC when unsaid.
    pub time_zone: Tz,
    /// When someone is there to load, change bits and clean up.
    pub presence: Vec<Presence>,
    /// When somebody is near enough to hear. None given: no unattended cutting.
    pub earshot: Vec<Window>,
}

/// When someone is there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Presence {
    /// A person's name, or a role.
    pub who: String,
    /// When.
    pub window: Window,
}

/// The same time of day on some days of the week.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Window {
    /// Which days.
    pub days: Vec<Weekday>,
    /// From then.
    pub from: NaiveTime,
    /// To then, later on the same day.
    pub to: NaiveTime,
}
