//! A day as rows of cells, none wider than 80 columns: hours, who is in, what the machine does, when somebody is needed.
//! Shape carries the meaning; there is no colour in it.

use super::Wall;
use crate::words::{Words, say};
use chargehand_types::plan::{DayPlan, Stretch, Work};
use chrono::{Datelike, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Timelike};

/// Cells of a row.
const CELLS: u32 = 67;
/// Columns of a row's name.
const NAME: usize = 11;
/// A strip never shows less than so many hours.
const HOURS_LEAST: u32 = 4;
const DAY_HOURS: u32 = 24;

/// One day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Strip {
    /// The day.
    pub date: NaiveDate,
    /// Its rows: hours, in, machine, needed.
    pub rows: Vec<String>,
}

/// What the signs mean, one line.
#[must_use]
pub fn signs(words: &Words) -> String {
    say!(words, "day.signs")
}

/// The strips of every day on which something is done, at most so many.
#[must_use]
pub fn strips(plan: &DayPlan, wall: &Wall, words: &Words, most: usize) -> Vec<Strip> {
    let mut dates: Vec<NaiveDate> = Vec::new();
    for step in plan.sheets.iter().flat_map(|s| &s.steps) {
        // a cut over midnight belongs to both days
        for date in [wall(step.from).date(), wall(step.to).date()] {
            if !dates.contains(&date) {
                dates.push(date);
            }
        }
    }
    dates.sort_unstable();
    dates.truncate(most);
    dates.into_iter().map(|date| strip(plan, wall, words, date)).collect()
}

/// Hours from and to which a day is shown.
struct Scale {
    date: NaiveDate,
    first: u32,
    hours: u32,
}

impl Scale {
    /// From the first hour in which something is to the last.
    fn of(date: NaiveDate, stretches: &[(NaiveDateTime, NaiveDateTime)]) -> Self {
        let begin = date.and_time(NaiveTime::MIN);
        let minutes = |at: NaiveDateTime| (at - begin).num_minutes().clamp(0, i64::from(DAY_HOURS) * 60);
        let on_it = stretches.iter().map(|s| (minutes(s.0), minutes(s.1))).filter(|(from, to)| from < to);
        let (mut least, mut most) = (i64::from(DAY_HOURS) * 60, 0);
        for (from, to) in on_it {
            least = least.min(from);
            most = most.max(to);
        }
        let first = u32::try_from(least / 60).unwrap_or(0).min(DAY_HOURS - HOURS_LEAST);
        let last = u32::try_from((most + 59) / 60).unwrap_or(DAY_HOURS).max(first + HOURS_LEAST);
        Self { date, first, hours: last - first }
    }

    /// The moments between which a cell lies.
    fn cell(&self, number: u32) -> (NaiveDateTime, NaiveDateTime) {
        let begin = self.date.and_time(NaiveTime::MIN) + TimeDelta::hours(i64::from(self.first));
        let at = |n: u32| begin + TimeDelta::seconds(i64::from(self.hours) * 3600 * i64::from(n) / i64::from(CELLS));
        (at(number), at(number + 1))
    }

    /// A row that shows in each cell the first sign that holds there.
    fn row(&self, name: &str, signs: &[(char, &[(NaiveDateTime, NaiveDateTime)])]) -> String {
        let mut row = format!("{name:<NAME$}");
        for number in 0..CELLS {
            let (from, to) = self.cell(number);
            let holds = |all: &&(char, &[(NaiveDateTime, NaiveDateTime)])| all.1.iter().any(|s| s.0 < to && s.1 > from);
            row.push(signs.iter().find(holds).map_or(' ', |s| s.0));
        }
        row.trim_end().to_owned()
    }

    /// The hours above it, as many as find room.
    fn hours(&self, name: &str) -> String {
        let mut row = format!("{name:<NAME$}");
        for number in 0..CELLS {
            let (from, to) = self.cell(number);
            let begins = to.minute() == 0 && to.second() == 0 && number + 1 == CELLS;
            let hour = if from.minute() == 0 && from.second() == 0 {
                Some(from.hour())
            } else if !begins && from.hour() != to.hour() && (to.minute() > 0 || to.second() > 0) {
                Some(to.hour())
            } else {
                None
            };
            let written = row.chars().count();
            let place = NAME + number as usize;
            if let Some(hour) = hour.filter(|_| written <= place && place + 2 <= NAME + CELLS as usize) {
                row.push_str(&" ".repeat(place - written));
                row.push_str(&hour.to_string());
                row.push(' ');
            }
        }
        row.trim_end().to_owned()
    }
}

/// "Thu 26 Nov": the first three letters of both names.
fn short_date(date: NaiveDate, words: &Words) -> String {
    let short = |name: &str| name.chars().take(3).collect::<String>();
    format!("{} {} {}", short(words.weekday(date)), date.day(), short(words.month(date)))
}

fn strip(plan: &DayPlan, wall: &Wall, words: &Words, date: NaiveDate) -> Strip {
    let local = |s: &Stretch| (wall(s.from), wall(s.to));
    let inside: Vec<_> = plan.presence.iter().map(local).collect();
    let needed: Vec<_> = plan.needed.iter().map(|n| (wall(n.from), wall(n.to))).collect();
    let steps = |wanted: fn(&Work) -> bool| -> Vec<_> {
        let all = plan.sheets.iter().flat_map(|s| &s.steps);
        all.filter(|s| wanted(&s.work)).map(|s| (wall(s.from), wall(s.to))).collect()
    };
    let loads = steps(|w| matches!(w, Work::Load));
    let changes = steps(|w| matches!(w, Work::BitChange { .. }));
    let offs = steps(|w| matches!(w, Work::TakeOff));
    let cuts = steps(|w| matches!(w, Work::Cut { .. }));
    let scale = Scale::of(date, &[inside.clone(), loads.clone(), changes.clone(), offs.clone(), cuts.clone()].concat());
    let rows = vec![
        scale.hours(&short_date(date, words)),
        scale.row(words.text("day.in"), &[('-', &inside)]),
        scale.row(words.text("day.machine"), &[('b', &changes), ('L', &loads), ('T', &offs), ('=', &cuts)]),
        scale.row(words.text("day.needed"), &[('!', &needed)]),
    ];
    Strip { date, rows }
}
