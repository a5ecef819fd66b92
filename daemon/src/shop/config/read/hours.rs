//! `[shop]`: zone, presence, earshot.

use super::MOST_ENTRIES;
use crate::shop::check::Check;
use crate::shop::config::Worker;
use crate::shop::config::hours::{Hours, Presence, Window};
use crate::shop::config::raw::{RawDay, RawShop};
use crate::shop::text::Path;
use chrono::{NaiveTime, Weekday};
use chrono_tz::{TZ_VARIANTS, Tz};

pub(super) fn judge(check: &mut Check<'_, '_>, path: &Path, raw: RawShop, people: &[Worker]) -> Hours {
    let (presences, earshots) = (path.key("presence"), path.key("earshot"));
    check.no_more_than(&presences, raw.presence.len(), MOST_ENTRIES);
    check.no_more_than(&earshots, raw.earshot.len(), MOST_ENTRIES);
    let presence = raw.presence.into_iter().enumerate().map(|(i, p)| {
        let here = presences.at(i);
        who(check, &here.key("who"), &p.who, people);
        Presence { window: window(check, &here, &p.days, &p.from, &p.to), who: p.who }
    });
    let presence = presence.collect();
    let earshot = raw.earshot.iter().enumerate();
    let earshot = earshot.map(|(i, w)| window(check, &earshots.at(i), &w.days, &w.from, &w.to)).collect();
    Hours { time_zone: zone(check, &path.key("time_zone"), raw.time_zone.as_deref()), presence, earshot }
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
        && from >= to
    {
        let found = format!("{} is not after {}", to.format("%H:%M"), from.format("%H:%M"));
        check.tell(&path.key("to"), found, "a later time of the same day");
    }
    let mut list: Vec<Weekday> = Vec::new();
    for day in days.iter().map(|d| weekday(*d)) {
        if !list.contains(&day) {
            list.push(day);
        }
    }
    Window { days: list, from: from.unwrap_or_default(), to: to.unwrap_or_default() }
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
