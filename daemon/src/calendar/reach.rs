//! The shop's hours, laid over real days.

use super::windows::Windows;
use crate::shop::config::{Exception, Hours, Window};
use chargehand_types::id::Person;
use chargehand_types::plan::{Minute, Minutes};
use chargehand_types::stage::Role;
use chrono::{DateTime, Days, DurationRound, LocalResult, NaiveDate, NaiveTime, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;

/// No gap of any zone's clock is longer than a day (the longest ones skip a date line's day).
const LONGEST_GAP_MIN: i64 = 24 * 60;

/// Which days are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// Minute 0.
    pub zero: DateTime<Utc>,
    /// So many days from it.
    pub days: u32,
}

impl Span {
    /// The minute in which an instant lies; the last minute there is for one after all, minute 0 for one before.
    #[must_use]
    pub fn minute(self, at: DateTime<Utc>) -> Minute {
        let minutes = at.signed_duration_since(self.zero).num_minutes();
        Minute(u32::try_from(minutes.max(0)).unwrap_or(u32::MAX))
    }

    /// The first minute not before an instant.
    #[must_use]
    pub fn minute_up(self, at: DateTime<Utc>) -> Minute {
        self.minute(at + TimeDelta::seconds(59))
    }

    /// When a minute begins.
    #[must_use]
    pub fn instant(self, minute: Minute) -> DateTime<Utc> {
        self.zero + TimeDelta::minutes(i64::from(minute.0))
    }

    /// The last minute looked at.
    #[must_use]
    pub const fn end(self) -> Minute {
        Minute(self.days.saturating_mul(24 * 60))
    }

    /// Stretches of instants as minutes of this span: begun minutes at the start do not count.
    #[must_use]
    pub fn windows(self, stretches: impl IntoIterator<Item = (DateTime<Utc>, DateTime<Utc>)>) -> Windows {
        let minutes = stretches.into_iter().map(|(from, to)| (self.minute_up(from), self.minute(to)));
        Windows::of(minutes).within(Minute(0), self.end())
    }
}

/// Somebody's own calendar, as stretches of presence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Booked {
    /// A person's name, or a role.
    pub who: String,
    /// When they are there.
    pub stretches: Vec<(DateTime<Utc>, DateTime<Utc>)>,
}

/// When what may be done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reach {
    /// Somebody is there.
    pub presence: Windows,
    /// Somebody is near enough to hear, each stretch ending early enough to watch the extractor after the last cut.
    pub earshot: Windows,
    /// Nothing may cut.
    pub quiet: Windows,
}

impl Reach {
    /// Cutting with somebody there.
    #[must_use]
    pub fn attended(&self) -> Windows {
        self.presence.without(&self.quiet)
    }

    /// Cutting that needs nobody beside the machine: while somebody is there or in earshot.
    #[must_use]
    pub fn alone(&self) -> Windows {
        self.presence.and(&self.earshot).without(&self.quiet)
    }
}

/// Lays the hours over the days of a span.
#[must_use]
pub fn reach(hours: &Hours, booked: &[Booked], smoulder: Minutes, span: Span) -> Reach {
    let dates = dates(hours.time_zone, span);
    let presence = dates.iter().flat_map(|date| presence_on(hours, *date)).chain(booked_on(hours, booked));
    let plain = |windows: &[Window], date: NaiveDate| -> Vec<_> {
        windows.iter().filter_map(|w| stretch(hours.time_zone, date, w)).collect()
    };
    let closed = |date: &&NaiveDate| !hours.exceptions.iter().any(|e| e.date == **date && e.closes());
    let earshot = dates.iter().filter(closed).flat_map(|date| plain(&hours.earshot, *date));
    let quiet = dates.iter().flat_map(|date| plain(&hours.quiet, *date));
    Reach {
        presence: span.windows(presence),
        earshot: span.windows(earshot).ending_earlier(smoulder),
        quiet: span.windows(quiet),
    }
}

/// The end of the hours in which somebody is there now; none while they are not, by the hours.
#[must_use]
pub fn there_until(
    hours: &Hours,
    booked: &[Booked],
    who: &Person,
    role: Role,
    now: DateTime<Utc>,
) -> Option<DateTime<Utc>> {
    let word = match role {
        Role::Helper => "helper",
        Role::Owner => "owner",
    };
    let theirs = |name: &str| name == who.0 || name == word;
    let mut own = hours.clone();
    own.presence.retain(|p| theirs(&p.who));
    own.exceptions.retain(|e| e.who.as_deref().is_none_or(theirs));
    let booked: Vec<Booked> = booked.iter().filter(|b| theirs(&b.who)).cloned().collect();
    // a window that began in the middle of a minute counts from the next one on: look from a whole minute
    let span = Span { zero: now.duration_trunc(TimeDelta::minutes(1)).ok()?, days: 2 };
    let there = reach(&own, &booked, Minutes(0), span).presence;
    there.all().first().filter(|w| w.from == Minute(0)).map(|w| span.instant(w.to))
}

/// Every date of a span in the zone, and the one before: its windows may reach over midnight.
fn dates(zone: Tz, span: Span) -> Vec<NaiveDate> {
    let local = |at: DateTime<Utc>| at.with_timezone(&zone).date_naive();
    let last = local(span.instant(span.end()));
    let mut dates = Vec::new();
    let mut date = local(span.zero).checked_sub_days(Days::new(1));
    while let Some(day) = date.filter(|d| *d <= last) {
        dates.push(day);
        date = day.succ_opt();
    }
    dates
}

type Instants = (DateTime<Utc>, DateTime<Utc>);

/// The presence of one day: the weekly rules but for people with an exception, and what the exceptions say instead.
fn presence_on(hours: &Hours, date: NaiveDate) -> Vec<Instants> {
    let today: Vec<&Exception> = hours.exceptions.iter().filter(|e| e.date == date).collect();
    let weekly = hours.presence.iter().filter(|p| !today.iter().any(|e| e.concerns(&p.who)));
    let instead = today.iter().filter_map(|e| {
        let (from, to) = e.instead?;
        between(hours.time_zone, date, from, to)
    });
    weekly.filter_map(|p| stretch(hours.time_zone, date, &p.window)).chain(instead).collect()
}

/// What people's own calendars say, but for dates with an exception for them.
fn booked_on<'a>(hours: &'a Hours, booked: &'a [Booked]) -> impl Iterator<Item = Instants> + 'a {
    booked.iter().flat_map(move |b| {
        let theirs = move |s: &&Instants| {
            let date = s.0.with_timezone(&hours.time_zone).date_naive();
            !hours.exceptions.iter().any(|e| e.date == date && e.concerns(&b.who))
        };
        b.stretches.iter().filter(theirs).copied()
    })
}

/// A window on a day, if it is one of its days.
fn stretch(zone: Tz, date: NaiveDate, window: &Window) -> Option<Instants> {
    use chrono::Datelike;
    if window.days.contains(&date.weekday()) { between(zone, date, window.from, window.to) } else { None }
}

/// From a time of a day to a later one, of the next day when it is not later.
fn between(zone: Tz, date: NaiveDate, from: NaiveTime, to: NaiveTime) -> Option<Instants> {
    let last = if to > from { date } else { date.succ_opt()? };
    Some((instant(zone, date, from, Edge::Start)?, instant(zone, last, to, Edge::End)?))
}

/// Which end of a window an instant is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edge {
    Start,
    End,
}

/// The instant of a time on the wall. A time that the clocks skip means the first instant after the gap; of one that
/// comes twice a window's start takes the earlier and its end the later.
pub(super) fn instant(zone: Tz, date: NaiveDate, time: NaiveTime, edge: Edge) -> Option<DateTime<Utc>> {
    let wall = date.and_time(time);
    match zone.from_local_datetime(&wall) {
        LocalResult::Single(at) => Some(at.to_utc()),
        LocalResult::Ambiguous(first, second) => Some(if edge == Edge::Start { first } else { second }.to_utc()),
        LocalResult::None => {
            let later = (1..=LONGEST_GAP_MIN).filter_map(|m| wall.checked_add_signed(TimeDelta::minutes(m)));
            let mut found = later.filter_map(|w| zone.from_local_datetime(&w).earliest());
            found.next().map(|at| at.to_utc())
        }
    }
}
