//! Presence from a calendar that somebody keeps elsewhere: iCalendar (RFC 5545), events only.
//!
//! Understood: VEVENT with DTSTART, DTEND or DURATION, in UTC, with a TZID of the zone database, floating (taken in the
//! shop's zone) or as whole days; RRULE as in `recur`; EXDATE; STATUS:CANCELLED. What would change when
//! something happens and is not understood is refused, never passed over.

use super::reach::{Edge, instant};
use super::recur::{Rule, Until};
use chrono::{DateTime, Days, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;

/// From an instant to a later one.
pub type Stretch = (DateTime<Utc>, DateTime<Utc>);

/// Lines a calendar may have.
const LINES_AT_MOST: usize = 200_000;
/// A rule's days are looked at no further back than its start, and no longer than so many.
const DAYS_AT_MOST: i64 = 20 * 366;

/// Why a calendar cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {what}")]
pub struct BadCalendar {
    /// Of the file, from 1.
    pub line: usize,
    /// What is wrong, and what would be understood.
    pub what: String,
}

/// The stretches of every event that ends after `from` and begins before `to`.
///
/// # Errors
/// With the first line that is malformed or says something not understood here.
pub fn read(text: &str, shop: Tz, from: DateTime<Utc>, to: DateTime<Utc>) -> Result<Vec<Stretch>, BadCalendar> {
    let mut inside: Vec<String> = Vec::new();
    let mut event: Option<Draft> = None;
    let mut found = Vec::new();
    let mut calendars = 0;
    let lines = unfold(text)?;
    let last_line = lines.last().map_or(1, |l| l.0);
    for (number, line) in lines {
        let bad = |what: String| BadCalendar { line: number, what };
        let line = Line::read(&line).map_err(bad)?;
        match line.name.as_str() {
            "BEGIN" => {
                let component = line.value.to_ascii_uppercase();
                if component == "VCALENDAR" {
                    calendars += 1;
                } else if inside.is_empty() {
                    return Err(bad(format!("`{component}` stands outside a calendar")));
                }
                if component == "VEVENT" {
                    event = Some(Draft::new(number));
                }
                inside.push(component);
            }
            "END" => {
                let component = line.value.to_ascii_uppercase();
                if inside.pop().as_ref() != Some(&component) {
                    return Err(bad(format!("`{component}` ends here, but it did not begin last")));
                }
                if component == "VEVENT"
                    && let Some(draft) = event.take()
                {
                    let begun = draft.line;
                    let stretches = draft.stretches(shop, from, to);
                    found.extend(stretches.map_err(|what| BadCalendar { line: begun, what })?);
                }
            }
            _ if inside.last().is_some_and(|c| c == "VEVENT") => {
                if let Some(draft) = &mut event {
                    draft.take(&line, shop).map_err(bad)?;
                }
            }
            _ if inside.is_empty() => {
                return Err(bad("this is no iCalendar file: it must begin with BEGIN:VCALENDAR".into()));
            }
            _ => {}
        }
    }
    if let Some(open) = inside.last() {
        return Err(BadCalendar { line: last_line, what: format!("`{open}` begins but does not end") });
    }
    if calendars == 0 {
        return Err(BadCalendar { line: 1, what: "there is no calendar in it".to_owned() });
    }
    found.sort_unstable();
    Ok(found)
}

/// Content lines with the number of their first line: a line that begins with a blank goes on from the one before
/// (RFC 5545, 3.1).
fn unfold(text: &str) -> Result<Vec<(usize, String)>, BadCalendar> {
    let mut lines: Vec<(usize, String)> = Vec::new();
    for (number, line) in text.split('\n').enumerate() {
        if number >= LINES_AT_MOST {
            let what = format!("more than {LINES_AT_MOST} lines");
            return Err(BadCalendar { line: number, what });
        }
        let line = line.strip_suffix('\r').unwrap_or(line);
        match (line.strip_prefix([' ', '\t']), lines.last_mut()) {
            (Some(more), Some(last)) => last.1.push_str(more),
            _ if line.is_empty() => {}
            _ => lines.push((number + 1, line.to_owned())),
        }
    }
    Ok(lines)
}

/// A content line: a name, parameters, a value.
struct Line {
    name: String,
    parameters: Vec<(String, String)>,
    value: String,
}

impl Line {
    fn read(text: &str) -> Result<Self, String> {
        let mut quoted = false;
        let ends = |c: char| {
            quoted ^= c == '"';
            c == ':' && !quoted
        };
        let at = text.find(ends).ok_or_else(|| "this line has no `:`".to_owned())?;
        let (head, value) = text.split_at(at);
        let mut parts = head.split(';');
        let name = parts.next().unwrap_or_default().to_ascii_uppercase();
        let parameters = parts.map(|p| {
            let (key, value) = p.split_once('=').unwrap_or((p, ""));
            (key.to_ascii_uppercase(), value.trim_matches('"').to_owned())
        });
        Ok(Self { name, parameters: parameters.collect(), value: value[1..].to_owned() })
    }

    fn parameter(&self, key: &str) -> Option<&str> {
        self.parameters.iter().find(|(k, _)| k == key).map(|(_, v)| v.as_str())
    }

    /// The zone the line's times are in.
    fn zone(&self, shop: Tz) -> Result<Tz, String> {
        match self.parameter("TZID") {
            Some(name) => name.parse().map_err(|_| format!("the time zone `{name}` is not in the zone database")),
            None => Ok(shop),
        }
    }
}

/// A time as an event gives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum When {
    Day(NaiveDate),
    Wall(NaiveDateTime, Tz),
}

impl When {
    fn read(text: &str, zone: Tz) -> Result<Self, String> {
        if let Ok(day) = NaiveDate::parse_from_str(text, "%Y%m%d") {
            return Ok(Self::Day(day));
        }
        let (wall, zone) = text.strip_suffix('Z').map_or((text, zone), |w| (w, Tz::UTC));
        match NaiveDateTime::parse_from_str(wall, "%Y%m%dT%H%M%S") {
            Ok(wall) => Ok(Self::Wall(wall, zone)),
            Err(_) => Err(format!("`{text}` is no date and no date with time")),
        }
    }

    const fn date(self) -> NaiveDate {
        match self {
            Self::Day(day) => day,
            Self::Wall(wall, _) => wall.date(),
        }
    }

    /// The same time of day on another date.
    const fn on(self, date: NaiveDate) -> Self {
        match self {
            Self::Day(_) => Self::Day(date),
            Self::Wall(wall, zone) => Self::Wall(date.and_time(wall.time()), zone),
        }
    }

    fn instant(self, shop: Tz, edge: Edge) -> Option<DateTime<Utc>> {
        match self {
            Self::Day(day) => instant(shop, day, NaiveTime::MIN, edge),
            Self::Wall(wall, zone) => instant(zone, wall.date(), wall.time(), edge),
        }
    }
}

/// How long an event is.
enum Length {
    Until(When),
    Lasting(TimeDelta),
}

/// An event being read.
struct Draft {
    line: usize,
    start: Option<When>,
    length: Option<Length>,
    rule: Option<Rule>,
    but: Vec<When>,
    cancelled: bool,
}

impl Draft {
    const fn new(line: usize) -> Self {
        Self { line, start: None, length: None, rule: None, but: Vec::new(), cancelled: false }
    }

    fn take(&mut self, line: &Line, shop: Tz) -> Result<(), String> {
        match line.name.as_str() {
            "DTSTART" => self.start = Some(When::read(&line.value, line.zone(shop)?)?),
            "DTEND" => self.length = Some(Length::Until(When::read(&line.value, line.zone(shop)?)?)),
            "DURATION" => self.length = Some(Length::Lasting(duration(&line.value)?)),
            "RRULE" if self.rule.is_some() => return Err("an event with two recurrence rules".to_owned()),
            "RRULE" => self.rule = Some(Rule::read(&line.value)?),
            "EXDATE" => {
                let zone = line.zone(shop)?;
                for one in line.value.split(',') {
                    self.but.push(When::read(one, zone)?);
                }
            }
            "STATUS" => self.cancelled = line.value.eq_ignore_ascii_case("CANCELLED"),
            "RDATE" | "RECURRENCE-ID" | "EXRULE" => {
                return Err(format!("{} is not understood; give such days as events of their own", line.name));
            }
            _ => {}
        }
        Ok(())
    }

    fn stretches(self, shop: Tz, from: DateTime<Utc>, to: DateTime<Utc>) -> Result<Vec<Stretch>, String> {
        if self.cancelled {
            return Ok(Vec::new());
        }
        let start = self.start.ok_or_else(|| "an event without DTSTART".to_owned())?;
        let last = to.date_naive().checked_add_days(Days::new(1)).unwrap_or(NaiveDate::MAX);
        let dates = match &self.rule {
            None => vec![start.date()],
            Some(_) if (last - start.date()).num_days() > DAYS_AT_MOST => {
                return Err(format!("a repeated event that began on {} is too old to follow", start.date()));
            }
            Some(rule) => rule.dates(start.date(), last),
        };
        let mut found = Vec::new();
        for date in dates {
            let here = start.on(date);
            let Some(begins) = here.instant(shop, Edge::Start) else { continue };
            if self.rule.as_ref().is_some_and(|r| is_past(r, here, begins)) {
                break;
            }
            let ends = self.end(shop, start, date, begins).ok_or_else(|| "an event that never ends".to_owned())?;
            if ends <= begins {
                return Err("an event that ends before it begins".to_owned());
            }
            let left_out =
                self.but.iter().any(|b| b.instant(shop, Edge::Start) == Some(begins) || *b == When::Day(date));
            if !left_out && ends > from && begins < to {
                found.push((begins, ends));
            }
        }
        Ok(found)
    }

    /// When the event of a date ends: as long after its start on the wall as the first one.
    fn end(&self, shop: Tz, start: When, date: NaiveDate, begins: DateTime<Utc>) -> Option<DateTime<Utc>> {
        match self.length {
            Some(Length::Until(end)) => {
                let days = (end.date() - start.date()).num_days();
                let last = date.checked_add_signed(TimeDelta::try_days(days)?)?;
                end.on(last).instant(shop, Edge::End)
            }
            Some(Length::Lasting(length)) => begins.checked_add_signed(length),
            // RFC 5545, 3.6.1: without an end a day is a day
            None if matches!(start, When::Day(_)) => When::Day(date.succ_opt()?).instant(shop, Edge::End),
            None => None,
        }
    }
}

fn is_past(rule: &Rule, here: When, begins: DateTime<Utc>) -> bool {
    match (rule.until, here) {
        (None, _) => false,
        (Some(Until::Instant(last)), _) => begins > last,
        (Some(Until::Wall(last)), When::Wall(wall, _)) => wall > last,
        (Some(Until::Wall(last)), When::Day(day)) => day > last.date(),
        (Some(Until::Day(last)), here) => here.date() > last,
    }
}

/// A duration of RFC 5545, 3.3.6: `P1W`, `P1DT2H30M`.
fn duration(text: &str) -> Result<TimeDelta, String> {
    let bad = || format!("`{text}` is no duration that is understood");
    let body = text.strip_prefix('+').unwrap_or(text).strip_prefix('P').ok_or_else(bad)?;
    let mut seconds: i64 = 0;
    let mut number = String::new();
    for c in body.chars() {
        let unit = match c {
            '0'..='9' if number.len() < 6 => {
                number.push(c);
                continue;
            }
            'T' if number.is_empty() => continue,
            'W' => 604_800,
            'D' => 86_400,
            'H' => 3600,
            'M' => 60,
            'S' => 1,
            _ => return Err(bad()),
        };
        seconds += unit * number.parse::<i64>().map_err(|_| bad())?;
        number.clear();
    }
    if number.is_empty() && seconds > 0 { Ok(TimeDelta::seconds(seconds)) } else { Err(bad()) }
}
