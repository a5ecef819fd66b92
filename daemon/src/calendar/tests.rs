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

#[test]
fn somebody_is_there_until_their_own_hours_end() {
    use chargehand_types::stage::Role;
    let mut shop = hours("09:00", "12:30");
    shop.presence.push(Presence { who: "Ada".to_owned(), window: daily("12:00", "15:00") });
    let until = |shop: &Hours, who: &str, role, now: &str| there_until(shop, &[], &who.into(), role, utc(now));
    // Oslo is an hour ahead of UTC in winter
    let now = "2026-01-15T10:00:30Z";
    assert_eq!(until(&shop, "Bo", Role::Helper, now), Some(utc("2026-01-15T11:30:00Z")));
    assert_eq!(until(&shop, "Ada", Role::Owner, now), None, "not yet");
    assert_eq!(until(&shop, "Ada", Role::Owner, "2026-01-15T11:15:00Z"), Some(utc("2026-01-15T14:00:00Z")));
    assert_eq!(
        until(&shop, "Ada", Role::Helper, "2026-01-15T11:15:00Z"),
        Some(utc("2026-01-15T14:00:00Z")),
        "both hers"
    );
    assert_eq!(until(&shop, "Bo", Role::Helper, "2026-01-15T12:00:00Z"), None, "over");
    let day = "2026-01-15".parse().unwrap();
    shop.exceptions = vec![Exception { date: day, who: Some("Ada".to_owned()), instead: None }];
    assert_eq!(until(&shop, "Bo", Role::Helper, now), Some(utc("2026-01-15T11:30:00Z")), "somebody else's day off");
    shop.exceptions = vec![Exception { date: day, who: None, instead: None }];
    assert_eq!(until(&shop, "Bo", Role::Helper, now), None, "the shop is closed");
}
