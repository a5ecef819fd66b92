//! The charts of a batch: time predicted against real, where the time went and what it was lost to, why parts were not
//! good, bit life.
//!
//! Shape tells what colour tells, and every figure is also written. May live here: those. May not: sums that teach.

use super::svg::{Svg, figure, safe, step};
use crate::words;
use chargehand_types::history::{BitRow, LostTo, SheetRecord};
use chargehand_types::quantity::Seconds;
use chargehand_types::stage::{Reason, Stage};
use std::fmt::Write as _;

/// Width of a chart in its own units; the page scales it.
const WIDE: f64 = 720.0;
/// What is left for the words in front of a chart.
const FRONT: f64 = 156.0;
/// Height of one bar with its gap.
const ROW: f64 = 24.0;
/// Sheets named below a chart at most.
const NAMED: usize = 12;

/// Seconds predicted and seconds taken by the operations of a sheet that were finished.
#[must_use]
pub fn times(sheet: &SheetRecord) -> Option<[f64; 2]> {
    let done = sheet.operations.iter().filter_map(|o| Some([o.predicted.value(), o.real?.value()]));
    let sum = done.fold([0.0, 0.0], |sum, one| [sum[0] + one[0], sum[1] + one[1]]);
    (sum[0] > 0.0).then_some(sum)
}

/// One mark for the time predicted, one for the time it took, a sheet beside the next.
#[must_use]
pub fn predicted_and_real(sheets: &[SheetRecord]) -> String {
    let rows: Vec<(&SheetRecord, [f64; 2])> = sheets.iter().filter_map(|s| Some((s, times(s)?))).collect();
    if rows.is_empty() {
        return "<p>No operation was cut to its end yet.</p>".to_owned();
    }
    let (high, foot, left) = (170.0, 26.0, 56.0);
    let most = rows.iter().flat_map(|(_, t)| t).fold(0.0_f64, |most, t| most.max(*t)) / 60.0;
    let step = step(most, 5);
    let top = (most / step).ceil().max(1.0) * step;
    let y = |seconds: f64| high - seconds / 60.0 / top * (high - 12.0);
    let mut svg = Svg::new(WIDE, high + foot, "Minutes of each sheet, predicted and real");
    let mut line = 0.0;
    while line <= top + step * 0.5 {
        svg.run([[left, y(line * 60.0)], [WIDE, y(line * 60.0)]].into_iter(), "axis", "");
        svg.words([left - 6.0, y(line * 60.0) + 4.0], "end", "faint", &format!("{} min", figure(line)));
        line += step;
    }
    let pitch = (WIDE - left) / rows.len() as f64;
    let radius = (pitch / 3.0).clamp(1.2, 5.0);
    let every = rows.len().div_ceil(NAMED);
    for (nth, (sheet, [predicted, real])) in rows.iter().enumerate() {
        let x = left + pitch * (nth as f64 + 0.5);
        svg.run([[x, y(*predicted)], [x, y(*real)]].into_iter(), "axis", "");
        let told = |what: &str, s: f64| format!("{}: {what} {}", sheet.sheet, words::span(Seconds::of(s)));
        let data = |s: f64| format!("data-sheet=\"{}\" data-seconds=\"{s}\"", safe(&sheet.sheet.0));
        svg.dot([x, y(*predicted)], radius, "ring predicted", &data(*predicted), &told("predicted", *predicted));
        svg.dot([x, y(*real)], radius, "b real", &data(*real), &told("took", *real));
        if nth % every == 0 {
            svg.words([x, high + 16.0], "middle", "faint", &sheet.sheet.0);
        }
    }
    let key = key(&[("ring", "predicted"), ("b", "real")]);
    format!("{}{key}", svg.done())
}

/// Signs and what they stand for.
fn key(of: &[(&str, &str)]) -> String {
    let mut out = "<ul class=\"key\">".to_owned();
    for (class, text) in of {
        let _ = write!(
            out,
            "<li><svg viewBox=\"0 0 12 12\" aria-hidden=\"true\"><circle cx=\"6\" cy=\"6\" r=\"5\" class=\"{class}\"/></svg> {}</li>",
            safe(text)
        );
    }
    out.push_str("</ul>");
    out
}

/// The colour of a stage; a sheet that is set aside does not hold the machine up.
const fn colour(stage: Stage) -> Option<&'static str> {
    match stage {
        Stage::Cutting => Some("a"),
        Stage::Held => Some("b"),
        Stage::Securing => Some("c"),
        Stage::Tooling => Some("d"),
        Stage::Checking => Some("e"),
        Stage::Stopped => Some("f"),
        Stage::Ready => Some("g"),
        Stage::TakingOff => Some("h"),
        Stage::Queued | Stage::SetAside | Stage::Closed => None,
    }
}

/// One bar of all the time the sheets were on the machine.
#[must_use]
pub fn where_time_went(spent: &[(Stage, Seconds)]) -> String {
    let shown: Vec<(&str, &str, f64)> = spent
        .iter()
        .filter_map(|(stage, time)| Some((colour(*stage)?, words::stage(*stage), time.value())))
        .filter(|(.., time)| *time > 0.0)
        .collect();
    let all: f64 = shown.iter().map(|(.., time)| time).sum();
    if all <= 0.0 {
        return "<p>Nothing was done on the machine yet.</p>".to_owned();
    }
    let mut svg = Svg::new(WIDE, 30.0, "Where the time on the machine went");
    let mut x = 0.0;
    let mut list = "<ul class=\"key\">".to_owned();
    for (class, name, time) in shown {
        let wide = time / all * WIDE;
        let told = format!("{name}: {}, {:.0} %", words::span(Seconds::of(time)), time / all * 100.0);
        svg.bar([x, 2.0, wide, 26.0], class, &format!("data-stage=\"{name}\" data-seconds=\"{time}\""), &told);
        x += wide;
        let _ = write!(
            list,
            "<li><svg viewBox=\"0 0 12 12\" aria-hidden=\"true\"><rect width=\"12\" height=\"12\" class=\"{class}\"/></svg> {}</li>",
            safe(&told)
        );
    }
    format!("{}{list}</ul>", svg.done())
}

/// One bar a reason: the minutes in which nothing moved.
#[must_use]
pub fn lost(rows: &[(LostTo, f64)]) -> String {
    let most = rows.iter().map(|(_, minutes)| *minutes).fold(0.0, f64::max);
    if most <= 0.0 {
        return "<p>No sheet of it is closed yet.</p>".to_owned();
    }
    let all: f64 = rows.iter().map(|(_, minutes)| minutes).sum();
    let mut svg = Svg::new(WIDE, ROW * rows.len() as f64 + 4.0, "Time in which nothing moved, by reason");
    let room = WIDE - FRONT - 150.0;
    for (nth, (to, minutes)) in rows.iter().enumerate() {
        let (y, name) = (ROW * nth as f64 + 3.0, words::lost_to(*to));
        let wide = minutes / most * room;
        let told = format!("{}, {:.0} %", words::span(Seconds::of(minutes * 60.0)), minutes / all * 100.0);
        svg.words([FRONT - 8.0, y + 13.0], "end", "", name);
        svg.bar([FRONT, y, wide, 17.0], "g", &format!("data-lost=\"{name}\" data-minutes=\"{minutes}\""), &told);
        svg.words([FRONT + wide + 6.0, y + 13.0], "start", "faint", &told);
    }
    svg.done()
}

/// One bar a reason: parts to rework, then scrap. Of more reasons than there are rows for, the last row is all the rest.
#[must_use]
pub fn reasons(counted: &[(Option<Reason>, [u32; 2])], rows: usize) -> String {
    let named = |(reason, counts): &(Option<Reason>, [u32; 2])| {
        (reason.map_or("no reason given", words::reason).to_owned(), *counts)
    };
    let whole = if counted.len() > rows { rows.saturating_sub(1) } else { counted.len() };
    let (first, rest) = counted.split_at(whole.min(counted.len()));
    let mut counted: Vec<(String, [u32; 2])> = first.iter().map(named).collect();
    if !rest.is_empty() {
        let sum = rest.iter().fold([0_u32; 2], |[a, b], (_, [rework, scrap])| [a + rework, b + scrap]);
        counted.push((words::count(rest.len() as u64, "other reason"), sum));
    }
    let most = counted.iter().map(|(_, [rework, scrap])| rework + scrap).max().unwrap_or(0);
    if most == 0 {
        return "<p>No part was graded as not good.</p>".to_owned();
    }
    let mut svg = Svg::new(WIDE, ROW * counted.len() as f64 + 4.0, "Parts that are not good, by reason");
    let room = WIDE - FRONT - 150.0;
    for (nth, (name, [rework, scrap])) in counted.iter().enumerate() {
        let y = ROW * nth as f64 + 3.0;
        svg.words([FRONT - 8.0, y + 13.0], "end", "", name);
        let wide = |n: u32| f64::from(n) / f64::from(most) * room;
        let data = |grade: &str, n: u32| format!("data-reason=\"{name}\" data-grade=\"{grade}\" data-count=\"{n}\"");
        let at = FRONT + wide(*rework);
        svg.bar([FRONT, y, wide(*rework), 17.0], "b", &data("rework", *rework), "to rework");
        svg.bar([at, y, wide(*scrap), 17.0], "f", &data("scrap", *scrap), "scrap");
        svg.words([at + wide(*scrap) + 6.0, y + 13.0], "start", "faint", &format!("{rework} to rework, {scrap} scrap"));
    }
    svg.done()
}

/// One bar a bit: what it had cut before, what it cut here, and how far it should go.
#[must_use]
pub fn bit_life(bits: &[BitRow]) -> String {
    if bits.is_empty() {
        return "<p>No bit has cut yet.</p>".to_owned();
    }
    let metres = |row: &BitRow| row.life.map_or(0.0, |life| life.value()).max(row.cut_ever.value());
    let most = bits.iter().map(metres).fold(1.0e-9, f64::max);
    let mut svg = Svg::new(WIDE, ROW * bits.len() as f64 + 4.0, "How far each bit has cut of what it should last");
    let room = WIDE - FRONT - 220.0;
    for (nth, row) in bits.iter().enumerate() {
        let y = ROW * nth as f64 + 3.0;
        let wide = |m: f64| m / most * room;
        let (here, ever) = (row.cut.value().min(row.cut_ever.value()), row.cut_ever.value());
        svg.words([FRONT - 8.0, y + 13.0], "end", "", &row.bit.0);
        let data = |m: f64| format!("data-bit=\"{}\" data-metres=\"{m}\"", safe(&row.bit.0));
        svg.bar([FRONT, y, wide(ever - here), 17.0], "e", &data(ever - here), "before this batch");
        svg.bar([FRONT + wide(ever - here), y, wide(here), 17.0], "a", &data(here), "in this batch");
        let life = row.life.map_or_else(
            || "life not told".to_owned(),
            |life| {
                let x = FRONT + wide(life.value());
                svg.run([[x, y - 2.0], [x, y + 19.0]].into_iter(), "cross", "");
                format!("of {}", words::way(life))
            },
        );
        let told = format!("{} {life}, {} here", words::way(row.cut_ever), words::way(row.cut));
        svg.words([FRONT + wide(metres(row)) + 6.0, y + 13.0], "start", "faint", &told);
    }
    format!(
        "{}{}",
        svg.done(),
        key(&[("e", "before this batch"), ("a", "in this batch"), ("f", "line: how far it should go")])
    )
}
