//! The hours of a shop as config gives them: values only, no reckoning with dates.

use chargehand_types::plan::Minutes;
use chrono::{NaiveDate, NaiveTime, Weekday};
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
    /// Whether unattended cuts are planned while nobody is there but somebody is in earshot: false.
    pub leave_running: bool,
    /// When nothing may cut.
    pub quiet: Vec<Window>,
    /// Days on which it is otherwise.
    pub exceptions: Vec<Exception>,
    /// Calendars that people keep elsewhere.
    pub calendars: Vec<Calendar>,
    /// How long hands need, until history knows better.
    pub hand_times: HandTimes,
}

/// How long hands need. Common practice, no source; a shop sets its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HandTimes {
    /// Getting a sheet onto the machine and held down: 12 minutes.
    pub load: Minutes,
    /// Fitting another bit and touching the zero again: 5 minutes.
    pub bit_change: Minutes,
    /// Taking a sheet off, checking its parts, cleaning: 10 minutes.
    pub take_off: Minutes,
}

impl Default for HandTimes {
    fn default() -> Self {
        Self { load: Minutes(12), bit_change: Minutes(5), take_off: Minutes(10) }
    }
}

/// A day on which it is otherwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exception {
    /// The day.
    pub date: NaiveDate,
    /// For whom; everybody when unsaid.
    pub who: Option<String>,
    /// Their hours that day; none means they are not there.
    pub instead: Option<(NaiveTime, NaiveTime)>,
}

impl Exception {
    /// Does it change what holds for them?
    #[must_use]
    pub fn concerns(&self, who: &str) -> bool {
        self.who.as_deref().is_none_or(|w| w == who)
    }

    /// Nobody is there and nobody hears.
    #[must_use]
    pub const fn closes(&self) -> bool {
        self.who.is_none() && self.instead.is_none()
    }
}

/// A calendar that somebody keeps elsewhere.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Calendar {
    /// A person's name, or a role.
    pub who: String,
    /// The file's path.
    pub file: String,
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
    /// To then; of the next day when it is earlier than `from`.
    pub to: NaiveTime,
}
