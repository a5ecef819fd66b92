//! A moment as it is typed: a day, a day and a time, or RFC 3339.
//!
//! May live here: reading it. May not: what it is for.

use chrono::{DateTime, Local, NaiveDate, NaiveDateTime, NaiveTime, TimeZone, Utc};
use std::str::FromStr;

/// A moment. A day alone means its start; without a zone it is this place's time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct When(pub DateTime<Utc>);

/// What is no moment.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoMoment {
    /// Not a form that is read.
    #[error("write it as 2026-03-14, \"2026-03-14 12:00\", or 2026-03-14T12:00:00+01:00")]
    Form,
    /// The clocks were put forward over it.
    #[error("there is no such time on that day here: the clocks are put forward over it")]
    Skipped,
}

impl FromStr for When {
    type Err = NoMoment;

    fn from_str(text: &str) -> Result<Self, NoMoment> {
        let text = text.trim();
        if let Ok(moment) = DateTime::parse_from_rfc3339(text) {
            return Ok(Self(moment.with_timezone(&Utc)));
        }
        let spaced = text.replace('T', " ");
        let naive = ["%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M"]
            .iter()
            .find_map(|form| NaiveDateTime::parse_from_str(&spaced, form).ok())
            .or_else(|| Some(NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()?.and_time(NaiveTime::MIN)))
            .ok_or(NoMoment::Form)?;
        Local
            .from_local_datetime(&naive)
            .earliest()
            .map(|moment| Self(moment.with_timezone(&Utc)))
            .ok_or(NoMoment::Skipped)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_zone_is_kept() {
        let When(moment) = "2026-03-14T12:00:00+01:00".parse().unwrap();
        assert_eq!(moment, Utc.with_ymd_and_hms(2026, 3, 14, 11, 0, 0).unwrap());
    }

    #[test]
    fn a_day_is_its_start_here() {
        let When(day) = "2026-03-14".parse().unwrap();
        let When(minute) = "2026-03-14 00:00".parse().unwrap();
        assert_eq!(day, minute);
    }

    #[test]
    fn nonsense_is_refused() {
        for text in ["", "tomorrow", "2026-13-01", "14.3.2026"] {
            assert_eq!(text.parse::<When>(), Err(NoMoment::Form), "{text}");
        }
    }
}
