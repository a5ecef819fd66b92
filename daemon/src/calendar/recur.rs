//! Recurrence rules of RFC 5545 (3.3.10) as far as presence needs them: daily and weekly, with INTERVAL, COUNT, UNTIL,
//! BYDAY and WKST.

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveDateTime, Utc, Weekday};

/// How often something comes again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rule {
    weekly: bool,
    interval: u32,
    count: Option<u32>,
    pub until: Option<Until>,
    by_day: Vec<Weekday>,
    week_start: Weekday,
}

/// When a rule ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Until {
    /// With that instant.
    Instant(DateTime<Utc>),
    /// With that time on the wall of the event's zone.
    Wall(NaiveDateTime),
    /// With that day.
    Day(NaiveDate),
}

impl Rule {
    /// Reads the value of an RRULE.
    ///
    /// # Errors
    /// With the part that is malformed, or that is not among those understood here.
    pub fn read(text: &str) -> Result<Self, String> {
        let mut rule =
            Self { weekly: false, interval: 1, count: None, until: None, by_day: Vec::new(), week_start: Weekday::Mon };
        let mut frequency = false;
        for part in text.split(';') {
            let (key, value) = part.split_once('=').unwrap_or((part, ""));
            let bad = || format!("the part `{part}` of a recurrence rule is not understood");
            match key.to_ascii_uppercase().as_str() {
                "FREQ" => {
                    rule.weekly = match value.to_ascii_uppercase().as_str() {
                        "DAILY" => false,
                        "WEEKLY" => true,
                        _ => return Err(format!("{}; only FREQ=DAILY and FREQ=WEEKLY are", bad())),
                    };
                    frequency = true;
                }
                "INTERVAL" => rule.interval = value.parse().ok().filter(|n| *n > 0).ok_or_else(bad)?,
                "COUNT" => rule.count = Some(value.parse().ok().filter(|n| *n > 0).ok_or_else(bad)?),
                "UNTIL" => rule.until = Some(until(value).ok_or_else(bad)?),
                "BYDAY" => {
                    let days: Option<Vec<_>> = value.split(',').map(weekday).collect();
                    rule.by_day = days.ok_or_else(bad)?;
                }
                "WKST" => rule.week_start = weekday(value).ok_or_else(bad)?,
                _ => return Err(bad()),
            }
        }
        if !frequency {
            return Err("a recurrence rule names no frequency".to_owned());
        }
        if rule.count.is_some() && rule.until.is_some() {
            return Err("a recurrence rule has both COUNT and UNTIL".to_owned());
        }
        Ok(rule)
    }

    /// The dates on which it comes, up to and with `last`, COUNT applied; UNTIL is the caller's, who knows the zone.
    pub fn dates(&self, first: NaiveDate, last: NaiveDate) -> Vec<NaiveDate> {
        let mut dates = Vec::new();
        let mut date = first;
        let most = self.count.map_or(usize::MAX, |c| usize::try_from(c).unwrap_or(usize::MAX));
        while date <= last && dates.len() < most {
            if self.comes(first, date) {
                dates.push(date);
            }
            let Some(next) = date.succ_opt() else { break };
            date = next;
        }
        dates
    }

    fn comes(&self, first: NaiveDate, date: NaiveDate) -> bool {
        let every = i64::from(self.interval);
        let listed = self.by_day.contains(&date.weekday());
        if self.weekly {
            let weeks = (self.week_of(date) - self.week_of(first)).num_days() / 7;
            let right_day = if self.by_day.is_empty() { date.weekday() == first.weekday() } else { listed };
            weeks % every == 0 && right_day
        } else {
            (date - first).num_days() % every == 0 && (self.by_day.is_empty() || listed)
        }
    }

    /// The first day of a date's week.
    fn week_of(&self, date: NaiveDate) -> NaiveDate {
        let back = date.weekday().days_since(self.week_start);
        date.checked_sub_days(Days::new(u64::from(back))).unwrap_or(date)
    }
}

fn until(text: &str) -> Option<Until> {
    if let Ok(day) = NaiveDate::parse_from_str(text, "%Y%m%d") {
        return Some(Until::Day(day));
    }
    let (wall, utc) = text.strip_suffix('Z').map_or((text, false), |w| (w, true));
    let wall = NaiveDateTime::parse_from_str(wall, "%Y%m%dT%H%M%S").ok()?;
    Some(if utc { Until::Instant(wall.and_utc()) } else { Until::Wall(wall) })
}

fn weekday(text: &str) -> Option<Weekday> {
    Some(match text.to_ascii_uppercase().as_str() {
        "MO" => Weekday::Mon,
        "TU" => Weekday::Tue,
        "WE" => Weekday::Wed,
        "TH" => Weekday::Thu,
        "FR" => Weekday::Fri,
        "SA" => Weekday::Sat,
        "SU" => Weekday::Sun,
        _ => return None,
    })
}
