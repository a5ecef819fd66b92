//! The plan as sentences, folded for a screen of 80 columns.

use super::Wall;
use super::strip::{signs, strips};
use super::wares::{completed, stocked};
use crate::cli::page::fold_at;
use crate::words::{Noun, Words, count, english, say};
use chargehand_types::plan::{
    Change, DayPlan, Help, Measure, Minutes, Missed, Needed, PlannedSheet, Proof, Task, Work,
};
use chrono::{Datelike, NaiveDate, NaiveDateTime};
use std::fmt::Write as _;

/// Narrow enough for a screen of 80 columns with a margin on both sides.
const WIDE: usize = 78;
/// Days whose strip is shown.
const STRIPS: usize = 7;
/// A range of a start narrower than this is told as one time.
const RANGE_LEAST_MIN: i64 = 4;

/// The whole plan.
#[must_use]
pub fn page(plan: &DayPlan, wall: &Wall) -> String {
    let mut out = String::new();
    for supposed in &plan.supposed {
        out.push_str(&fold_at(WIDE, "Supposed: ", supposed, 10));
    }
    if plan.sheets.is_empty() {
        out.push_str("Nothing is planned: no sheet waits that can be cut as the hours are.\n");
    } else {
        for strip in strips(plan, wall, english(), STRIPS) {
            for row in strip.rows {
                out.push_str(&row);
                out.push('\n');
            }
            out.push('\n');
        }
        out.push_str(&signs(english()));
        out.push_str("\n\n");
        out.push_str(&list(plan, wall, english()));
        out.push('\n');
        sheets(&mut out, plan, wall);
        out.push('\n');
        out.push_str(&fold_at(WIDE, "", &summary(plan, wall), 0));
    }
    for missed in &plan.missed {
        out.push_str(&fold_at(WIDE, "", &late(missed, wall, english()), 2));
    }
    for unplanned in &plan.unplanned {
        out.push_str(&fold_at(WIDE, "", &format!("Not planned: {}, as {}.", unplanned.sheet, unplanned.reason), 2));
    }
    for row in &plan.sets {
        out.push_str(&fold_at(WIDE, "Sets: ", &completed(row), 6));
    }
    for row in &plan.stock {
        out.push_str(&fold_at(WIDE, "Stock: ", &stocked(row), 7));
    }
    if !plan.sheets.is_empty() {
        out.push_str(&fold_at(WIDE, "", &reckoned(plan), 2));
    }
    if let Some(changes) = changed(&plan.changes, english()) {
        let when = plan.changed.map_or_else(String::new, |at| format!(" (at {})", time(wall(at))));
        let against = if plan.supposed.is_empty() { "Since the plan before" } else { "Against the plan as it is" };
        out.push_str(&fold_at(WIDE, "", &format!("{against}{when}: {changes}"), 2));
    }
    out
}

/// Changes told one by one; of more only the number.
const CHANGES_TOLD: usize = 6;

/// What is otherwise than before, as a sentence; none when nothing is.
#[must_use]
pub fn changed(changes: &[Change], words: &Words) -> Option<String> {
    let told: Vec<String> = changes.iter().take(CHANGES_TOLD).map(|c| change(c, words)).collect();
    let more = changes.len().saturating_sub(CHANGES_TOLD);
    let more = if more > 0 { format!("; {}", say!(words, "day.more", n = more)) } else { String::new() };
    (!told.is_empty()).then(|| format!("{}{more}.", told.join("; ")))
}

/// What the times of a plan rest on.
fn reckoned(plan: &DayPlan) -> String {
    let cuts = match &plan.pace {
        None => "cuts as their programs say (no history yet)".to_owned(),
        Some(pace) => {
            let percent = ((pace.value - 1.0) * 100.0).round();
            let more = if percent < 0.0 { "less" } else { "more" };
            format!("cuts {} % {more} than their programs say ({})", percent.abs(), count(u64::from(pace.rows), "cut"))
        }
    };
    let hands = plan.hands.iter().map(|hand| {
        let rests =
            if hand.rows == 0 { "the shop's setting".to_owned() } else { format!("measured {} times", hand.rows) };
        format!("{} {} ({rests})", hand.work, hand.minutes)
    });
    let all: Vec<String> = std::iter::once(cuts).chain(hands).collect();
    format!("Reckoned with: {}.", all.join(", "))
}

/// When somebody is needed, day by day, and when nobody is.
#[must_use]
pub fn list(plan: &DayPlan, wall: &Wall, words: &Words) -> String {
    let mut out = String::new();
    let mut days: Vec<NaiveDate> = plan.needed.iter().map(|n| wall(n.from).date()).collect();
    days.dedup();
    for day in days {
        let (weekday, month) = (words.weekday(day), words.month(day));
        let _ = writeln!(out, "{}", say!(words, "day.date", weekday = weekday, day = day.day(), month = month));
        for needed in plan.needed.iter().filter(|n| wall(n.from).date() == day) {
            out.push_str(&need(needed, wall, words));
        }
        let free = plan.free.iter().filter(|s| wall(s.from).date() == day);
        let free: Vec<String> = free.map(|s| format!("{}-{}", time(wall(s.from)), time(wall(s.to)))).collect();
        if !free.is_empty() {
            out.push_str(&fold_at(WIDE, "  ", &say!(words, "day.free", spans = free.join(", ")), 4));
        }
    }
    out
}

fn time(at: NaiveDateTime) -> String {
    at.format("%H:%M").to_string()
}

fn need(needed: &Needed, wall: &Wall, words: &Words) -> String {
    let tasks: Vec<String> = needed.tasks.iter().map(|t| task(t, words)).collect();
    let tasks = tasks.join(words.text("day.then"));
    let wide = (needed.between.to - needed.between.from).num_minutes() >= RANGE_LEAST_MIN;
    let text = if wide {
        let (from, to) = (time(wall(needed.between.from)), time(wall(needed.between.to)));
        say!(words, "day.need-between", minutes = needed.minutes, from = from, to = to, tasks = tasks)
    } else {
        say!(words, "day.need", minutes = needed.minutes, tasks = tasks)
    };
    fold_at(WIDE, &format!("  {}  ", time(wall(needed.from))), &text, 9)
}

fn task(task: &Task, words: &Words) -> String {
    let sheet = &task.sheet;
    match &task.work {
        Work::Load => say!(words, "day.load", sheet = sheet),
        Work::BitChange { bit } => say!(words, "day.bit-change", bit = bit, sheet = sheet),
        Work::Cut { operation } => say!(words, "day.stay", operation = operation, sheet = sheet),
        Work::TakeOff => say!(words, "day.take-off", sheet = sheet),
    }
}

fn change(change: &Change, words: &Words) -> String {
    match change {
        Change::New { sheet } => say!(words, "day.new", sheet = sheet),
        Change::Gone { sheet } => say!(words, "day.gone", sheet = sheet),
        Change::Later { sheet, minutes } => say!(words, "day.later", sheet = sheet, minutes = minutes),
        Change::Sooner { sheet, minutes } => say!(words, "day.sooner", sheet = sheet, minutes = minutes),
    }
}

fn sheets(out: &mut String, plan: &DayPlan, wall: &Wall) {
    for (number, sheet) in plan.sheets.iter().enumerate() {
        let text = format!("{} ({}), {}; {}", sheet.sheet, sheet.card, when(sheet, wall), sheet.why);
        out.push_str(&fold_at(WIDE, &format!("{:>3}. ", number + 1), &text, 5));
    }
}

fn when(sheet: &PlannedSheet, wall: &Wall) -> String {
    let (from, to) = (wall(sheet.start), wall(sheet.finish));
    let to_text = if from.date() == to.date() { time(to) } else { to.format("%a %H:%M").to_string() };
    let span = format!("{}-{to_text}", from.format("%a %H:%M"));
    match (sheet.due, sheet.late) {
        (None, _) => span,
        (Some(due), Minutes(0)) => format!("{span}, due {}", wall(due).format("%a %-d %b %H:%M")),
        (Some(due), late) => {
            format!("{span}, {} LATE, due {}", long(late, english()), wall(due).format("%a %-d %b %H:%M"))
        }
    }
}

/// Minutes as people say them.
fn long(minutes: Minutes, words: &Words) -> String {
    match minutes.0 {
        m @ 0..120 => format!("{m} min"),
        m @ 120..2880 => format!("{} h {} min", m / 60, m % 60),
        m => say!(words, "day.days", n = m / 1440),
    }
}

fn summary(plan: &DayPlan, wall: &Wall) -> String {
    let proof = match plan.proof {
        Proof::Best => "No order is better",
        Proof::Searched => "The best order found",
        Proof::CutShort => "The best order found until it was cut short",
    };
    format!("{proof}: {}. By due date alone: {}.", measure(&plan.measure, wall), measure(&plan.by_due_date, wall))
}

fn measure(measure: &Measure, wall: &Wall) -> String {
    let finish =
        measure.finish.map_or_else(String::new, |f| format!("finished {}, ", wall(f).format("%a %-d %b %H:%M")));
    let late = measure.weighted_tardiness_min;
    let late = if late > 0.0 { format!("{late:.0} min late (times weight), ") } else { "nothing late, ".to_owned() };
    format!("{late}{finish}{} calls, {} bit changes", measure.calls, measure.bit_changes)
}

/// A missed due time and what would make it, as a sentence.
#[must_use]
pub fn late(missed: &Missed, wall: &Wall, words: &Words) -> String {
    let helps: Vec<String> = missed.would_help.iter().map(|h| help(h, wall, words)).collect();
    let help = if helps.is_empty() { say!(words, "day.no-help") } else { helps.join(words.text("day.or")) };
    say!(words, "day.late", sheet = missed.sheet, late = long(missed.late, words), help = help)
}

fn help(help: &Help, wall: &Wall, words: &Words) -> String {
    match help {
        Help::Longer { after, minutes } => {
            let after = wall(*after);
            say!(words, "day.longer", minutes = minutes, weekday = words.weekday(after.date()), time = time(after))
        }
        Help::Without { sheets } => {
            let names: Vec<&str> = sheets.iter().map(|s| s.0.as_str()).collect();
            let count = words.count(names.len() as u64, Noun::Sheet);
            say!(words, "day.fewer", sheets = count, names = names.join(", "))
        }
    }
}
