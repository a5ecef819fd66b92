//! Tests of the calendar: edge days of real zones, and the examples of RFC 5545.

mod days;
mod imported;

use super::*;
use crate::shop::config::{Exception, Hours, Presence, Window as DayWindow};
use chargehand_types::plan::Minutes;
use chrono::{DateTime, NaiveDate, NaiveTime, Utc, Weekday};

fn utc(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn time(text: &str) -> NaiveTime {
    text.parse().unwrap()
}

fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

const EVERY_DAY: [Weekday; 7] =
    [Weekday::Mon, Weekday::Tue, Weekday::Wed, Weekday::Thu, Weekday::Fri, Weekday::Sat, Weekday::Sun];

fn daily(from: &str, to: &str) -> DayWindow {
    DayWindow { days: EVERY_DAY.to_vec(), from: time(from), to: time(to) }
}

/// A shop in Oslo where the helper is there each day between those times.
fn hours(from: &str, to: &str) -> Hours {
    Hours {
        time_zone: chrono_tz::Europe::Oslo,
        presence: vec![Presence { who: "helper".to_owned(), window: daily(from, to) }],
        earshot: Vec::new(),
        leave_running: false,
        quiet: Vec::new(),
        exceptions: Vec::new(),
        calendars: Vec::new(),
        hand_times: crate::shop::config::HandTimes::default(),
    }
}

fn pairs(windows: &Windows) -> Vec<(u32, u32)> {
    windows.all().iter().map(|w| (w.from.0, w.to.0)).collect()
}

/// Presence in minutes from that instant on.
fn present(hours: &Hours, zero: &str, days: u32) -> Vec<(u32, u32)> {
    pairs(&reach(hours, &[], Minutes(0), Span { zero: utc(zero), days }).presence)
}
