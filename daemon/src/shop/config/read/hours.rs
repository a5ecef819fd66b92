//! `[shop]`: zone, presence, earshot, quiet hours, exceptions, calendars, hand times.

use super::{MOST_ENTRIES, path as file_path};
use crate::shop::check::{self, Check};
use crate::shop::config::Worker;
use crate::shop::config::hours::{Calendar, Exception, HandTimes, Hours, Presence, Window};
use crate::shop::config::raw::{RawCalendar, RawDay, RawException, RawShop, RawWindow};
use crate::shop::text::Path;
use chargehand_types::plan::Minutes;
use chrono::{NaiveDate, NaiveTime, Weekday};
use chrono_tz::{TZ_VARIANTS, Tz};

/// Hands need something, and no shop takes half a day over it.
const HAND_TIME: check::Limits = check::Limits::from(1.0, 720.0, "minutes");

pub(super) fn judge(check: &mut Check<'_, '_>, path: &Path, raw: RawShop, people: &[Worker]) -> Hours {
    let presences = path.key("presence");
    check.no_more_than(&presences, raw.presence.len(), MOST_ENTRIES);
    let presence = raw.presence.into_iter().enumerate().map(|(i, p)| {
        let here = presences.at(i);
        who(check, &here.key("who"), &p.who, people);
        Presence { window: window(check, &here, &p.days, &p.from, &p.to), who: p.who }
    });
    let presence = presence.collect();
    let mut windows = |key: &str, raw: &[RawWindow]| -> Vec<Window> {
        let all = path.key(key);
        check.no_more_than(&all, raw.len(), MOST_ENTRIES);
        raw.iter().enumerate().map(|(i, w)| window(check, &all.at(i), &w.days, &w.from, &w.to)).collect()
    };
    let (earshot, quiet) = (windows("earshot", &raw.earshot), windows("quiet", &raw.quiet));
    if raw.leave_running && earshot.is_empty() {
        let needs = "[[shop.earshot]] with it: unattended cuts are planned only while somebody hears the machine";
        check.tell(&path.key("leave_running"), "nobody is ever in earshot", needs);
    }
    let minutes = |check: &mut Check<'_, '_>, key: &str, minutes: Option<u32>, default: Minutes| {
        check.number_if(&path.key(key), minutes.map(f64::from), HAND_TIME);
        minutes.map_or(default, Minutes)
    };
    let defaults = HandTimes::default();
    let hand_times = HandTimes {
        load: minutes(check, "load_min", raw.load_min, defaults.load),
        bit_change: minutes(check, "bit_change_min", raw.bit_change_min, defaults.bit_change),
        take_off: minutes(check, "take_off_min", raw.take_off_min, defaults.take_off),
    };
    Hours {
        time_zone: zone(check, &path.key("time_zone"), raw.time_zone.as_deref()),
        presence,
        earshot,
        leave_running: raw.leave_running,
        quiet,
        exceptions: exceptions(check, &path.key("exception"), raw.exception, people),
        calendars: calendars(check, &path.key("calendar"), raw.calendar, people),
        hand_times,
    }
}

fn exceptions(check: &mut Check<'_, '_>, all: &Path, raw: Vec<RawException>, people: &[Worker]) -> Vec<Exception> {
    check.no_more_than(all, raw.len(), MOST_ENTRIES);
    let read = raw.into_iter().enumerate().map(|(i, e)| {
        let here = all.at(i);
        let date = NaiveDate::parse_from_str(&e.date, "%Y-%m-%d");
        if date.is_err() {
            let found = format!("`{}` is no date", e.date.escape_debug());
            check.tell(&here.key("date"), found, "a date like \"2026-12-24\"");
        }
        if let Some(name) = &e.who {
            who(check, &here.key("who"), name, people);
        }
        let instead = match (e.from, e.to) {
            (Some(from), Some(to)) => Some(times(check, &here, &from, &to)),
            (None, None) => None,
            (Some(_), None) => {
                check.missing(&here, "to", "`from` needs it");
                None
            }
            (None, Some(_)) => {
                check.missing(&here, "from", "`to` needs it");
                None
            }
        };
        Exception { date: date.unwrap_or_default(), who: e.who, instead }
    });
    read.collect()
}

fn calendars(check: &mut Check<'_, '_>, all: &Path, raw: Vec<RawCalendar>, people: &[Worker]) -> Vec<Calendar> {
    check.no_more_than(all, raw.len(), MOST_ENTRIES);
    let read = raw.into_iter().enumerate().map(|(i, c)| {
        let here = all.at(i);
        who(check, &here.key("who"), &c.who, people);
        Calendar { who: c.who, file: file_path(check, &here.key("file"), c.file) }
    });
    read.collect()
}

fn zone(check: &mut Check<'_, '_>, path: &Path, name: Option<&str>) -> Tz {
    let Some(name) = name else { return Tz::UTC };
    let Ok(zone) = name.parse() else {
        let names = TZ_VARIANTS.map(|z| z.name().to_owned());
        check.zone(path, name, &names);
        return Tz::UTC;
    };
    zone
}

fn who(check: &mut Check<'_, '_>, path: &Path, who: &str, people: &[Worker]) {
    let roles = ["owner", "helper"].map(str::to_owned);
    let names: Vec<String> = people.iter().map(|w| w.name.0.clone()).chain(roles).collect();
    check.one_of(path, "person or role", who, &names);
}

fn window(check: &mut Check<'_, '_>, path: &Path, days: &[RawDay], from: &str, to: &str) -> Window {
    if days.is_empty() {
        check.tell(&path.key("days"), "no day is named", "some of mon, tue, wed, thu, fri, sat, sun");
    }
    let (from, to) = times(check, path, from, to);
    let mut list: Vec<Weekday> = Vec::new();
    for day in days.iter().map(|d| weekday(*d)) {
        if !list.contains(&day) {
            list.push(day);
        }
    }
    Window { days: list, from, to }
}

/// Two times of day; the second is of the next day when it is the earlier one.
fn times(check: &mut Check<'_, '_>, path: &Path, from: &str, to: &str) -> (NaiveTime, NaiveTime) {
    let mut time = |key: &str, text: &str| {
        let read = NaiveTime::parse_from_str(text, "%H:%M");
        if read.is_err() {
            let found = format!("`{}` is no time of day", text.escape_debug());
            check.tell(&path.key(key), found, "\"00:00\" to \"23:59\"");
        }
        read.ok()
    };
    let (from, to) = (time("from", from), time("to", to));
    if let (Some(from), Some(to)) = (from, to)
        && from == to
    {
        let found = format!("{} is when it begins", to.format("%H:%M"));
        check.tell(&path.key("to"), found, "another time; an earlier one means the next day");
    }
    (from.unwrap_or_default(), to.unwrap_or_default())
}

const fn weekday(day: RawDay) -> Weekday {
    match day {
        RawDay::Mon => Weekday::Mon,
        RawDay::Tue => Weekday::Tue,
        RawDay::Wed => Weekday::Wed,
        RawDay::Thu => Weekday::Thu,
        RawDay::Fri => Weekday::Fri,
        RawDay::Sat => Weekday::Sat,
        RawDay::Sun => Weekday::Sun,
    }
}
