//! The Now screen: what is happening, what to do, how long, when somebody is needed next, and the sheet.
//!
//! May live here: its layout and its sentences about a cut, a hold and a stop. May not: the daemon's headline.

use super::{bit, block, step};
use crate::ui::guide;
use crate::ui::map::{self, Shown};
use crate::ui::model::Model;
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use crate::words::{self, Noun, Words, say};
use chargehand_types::card::BitKind;
use chargehand_types::check::{CutPath, Drawing};
use chargehand_types::checklist::{Ask, ListKind};
use chargehand_types::now::{Motion, Now, OperationNow, SheetNow, StoppedNow};
use chargehand_types::quantity::Seconds;
use chargehand_types::stage::{Stage, StopCause};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Columns the words need beside the picture.
const WORDS_WIDE: u16 = 50;
/// Lines of text are no longer than this, however wide the screen.
const WORDS_AT_MOST: u16 = 100;
/// From this size on the one word that matters is written large.
const LARGE: (u16, u16) = (110, 30);

/// Draws it.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let Some(now) = model.standing() else { return };
    let beside = write(model, now, words_wide(model, area), area, AMPLE);
    let fits = beside.height() <= usize::from(area.height) || shows_places(now);
    let colours = model.settings.colours;
    if let Some(kind) = bit_to_fit(now).filter(|_| fits) {
        let wide = area.width.saturating_sub(bit::WIDE + 2).min(WORDS_AT_MOST);
        room_for(model, now, wide, area, false).draw(Rect { width: wide, ..area }, buf, colours);
        let left = area.x + wide + 2;
        bit::draw(kind, Rect { x: left, width: area.right().saturating_sub(left), ..area }, buf, model.settings);
        return;
    }
    let picture = model.picture.as_ref().filter(|_| fits).map(|(_, d, names)| (d, names));
    let Some((drawing, names)) = picture else {
        return room_for(model, now, area.width.min(WORDS_AT_MOST), area, false).draw(area, buf, colours);
    };
    let wide = words_wide(model, area);
    room_for(model, now, wide, area, true).draw(Rect { width: wide, ..area }, buf, colours);
    let left = area.x + wide + 2;
    let room = Rect { x: left, width: area.right().saturating_sub(left), ..area };
    picture_of(model, now, drawing, names, room, buf);
}

/// The words in the room there is. Where it is too small the mark on the map goes first, then the guide, then empty lines,
/// then what is told twice; what to press stays.
fn room_for(model: &Model, now: &Now, wide: u16, area: Rect, mapped: bool) -> Page {
    let high = usize::from(area.height);
    let mut page = write(model, now, wide, area, Ways { mapped, ..AMPLE });
    let (unguided, dense) = (Ways { guided: false, ..AMPLE }, Ways { guided: false, dense: true, mapped: false });
    for ways in [AMPLE, unguided, dense] {
        if page.height() > high {
            page = write(model, now, wide, area, ways);
            if page.height() > high {
                page.squeeze();
            }
        }
    }
    page.keep_last(high, model.settings.words);
    page
}

/// How much is said.
#[derive(Clone, Copy)]
pub(super) struct Ways {
    /// With the guide of the practice shop.
    guided: bool,
    /// Without what is told twice, or told by help too.
    pub dense: bool,
    /// The sheet from above stands beside the words, so that a place may be told by its mark there.
    pub mapped: bool,
}

/// Everything, in words alone.
const AMPLE: Ways = Ways { guided: true, dense: false, mapped: false };

/// The kind of bit that the step on the screen has fitted or measured.
fn bit_to_fit(now: &Now) -> Option<BitKind> {
    let task = now.task.as_ref().filter(|t| t.list == ListKind::Tooling)?;
    let is_it = matches!(task.step.id.as_str(), "bit" | "bit-diameter");
    now.sheet.as_ref()?.operation.as_ref()?.bit_kind.filter(|_| is_it)
}

fn shows_places(now: &Now) -> bool {
    matches!(now.task.as_ref().map(|t| &t.step.ask), Some(Ask::Place { .. }))
}

/// The words get what the picture leaves, and at least their due.
fn words_wide(model: &Model, area: Rect) -> u16 {
    let Some((_, drawing, _)) = &model.picture else { return area.width.min(WORDS_AT_MOST) };
    let most = area.width.saturating_sub(WORDS_WIDE + 2);
    let (columns, _) = map::cells(drawing, Rect { width: most, ..area });
    area.width.saturating_sub(columns + 2).min(WORDS_AT_MOST)
}

fn write(model: &Model, now: &Now, wide: u16, area: Rect, ways: Ways) -> Page {
    let words = model.settings.words;
    let mut page = Page::new(wide);
    if area.width + 2 >= LARGE.0 && area.height >= LARGE.1 {
        large(model, now, &mut page);
    }
    if model.is_old() {
        let old = model.age() / 1000;
        page.text(&say!(words, "now.old", seconds = old), Meaning::Abnormal);
    }
    page.text(&now.headline, if model.is_old() { Meaning::Faint } else { Meaning::Strong });
    if let Some(sheet) = &now.sheet {
        // the places and their air need the room more than which sheet it is
        if !shows_places(now) || area.height >= LARGE.1 {
            page.text(&sheet_line(sheet, words), Meaning::Faint);
        }
        stage(model, now, sheet, ways.mapped, &mut page);
    } else {
        waiting(now, words, &mut page);
    }
    match &now.task {
        Some(task) => {
            page.gap();
            step::write(model, task, ways, &mut page);
        }
        None => {
            lists_due(now, &mut page);
            to_approve(model, now, &mut page);
        }
    }
    if let Some(hint) = guide::hint(model).filter(|_| ways.guided) {
        page.gap();
        page.hanging(&say!(words, "guide.head"), &hint, Meaning::Notice, Meaning::Plain);
    }
    page
}

/// A first article that waits for the owner.
fn to_approve(model: &Model, now: &Now, page: &mut Page) {
    if let Some(first) = &now.to_approve {
        let words = model.settings.words;
        page.gap();
        let text = say!(words, "now.to-approve", sheet = first.sheet, card = first.card, revision = first.revision);
        page.text(&text, Meaning::Needed);
    }
}

/// Lists of the day that are due, and who may begin without them.
fn lists_due(now: &Now, page: &mut Page) {
    for list in &now.lists {
        if let Some(due) = &list.due {
            page.gap();
            page.hanging(&format!("{}: ", list.title), due, Meaning::Needed, Meaning::Plain);
        }
    }
}

/// The one word that matters, and how long.
fn large(model: &Model, now: &Now, page: &mut Page) {
    let stage = now.sheet.as_ref().map(|s| s.stage);
    let words = model.settings.words;
    let word = match (model.is_old(), stage, now.machine.motion) {
        (true, _, _) => say!(words, "large.unheard"),
        (false, Some(Stage::Stopped), _) => say!(words, "large.stopped"),
        (false, Some(Stage::Held), _) => say!(words, "large.held"),
        (false, Some(Stage::Cutting), _) => match left(model, now) {
            Some(left) => say!(words, "large.cutting-min", minutes = (left.value() / 60.0).ceil()),
            None => say!(words, "large.cutting"),
        },
        (false, _, Motion::Moving | Motion::Homing | Motion::HoldAsked) => say!(words, "large.moving"),
        (false, Some(_), _) => say!(words, "large.yours"),
        (false, None, _) if now.waiting > 0 => say!(words, "large.yours"),
        (false, None, _) => say!(words, "large.nothing"),
    };
    for row in block::rows(&word, model.settings.symbols) {
        page.row(vec![(row, Meaning::Strong)]);
    }
    page.gap();
}

fn sheet_line(sheet: &SheetNow, words: &Words) -> String {
    let SheetNow { id, title, number, of, batch, .. } = sheet;
    if sheet.first {
        say!(words, "now.first-sheet", sheet = id, title = title, number = number, of = of, batch = batch)
    } else {
        say!(words, "now.sheet", sheet = id, title = title, number = number, of = of, batch = batch)
    }
}

fn stage(model: &Model, now: &Now, sheet: &SheetNow, mapped: bool, page: &mut Page) {
    match sheet.stage {
        Stage::Cutting => cutting(model, now, sheet, page),
        Stage::Held => held(model, now, sheet, page),
        Stage::Stopped => stopped(model, sheet, mapped, page),
        Stage::Queued
        | Stage::Securing
        | Stage::Tooling
        | Stage::Ready
        | Stage::SetAside
        | Stage::TakingOff
        | Stage::Checking
        | Stage::Closed => {
            if !sheet.to_sign.is_empty() {
                let words = model.settings.words;
                let count = words.count(sheet.to_sign.len() as u64, Noun::Finding);
                page.text(&say!(words, "now.to-sign", findings = count), Meaning::Abnormal);
            }
        }
    }
}

/// Machine seconds left in the operation; none while nothing is heard.
fn left(model: &Model, now: &Now) -> Option<Seconds> {
    if model.is_old() {
        return None;
    }
    if let Some((tick, _)) = &model.position {
        return Some(tick.left);
    }
    let operation = now.sheet.as_ref()?.operation.as_ref()?;
    Some(Seconds::of((operation.left.value() - model.since_heard().value()).max(0.0)))
}

fn cutting(model: &Model, now: &Now, sheet: &SheetNow, page: &mut Page) {
    still_there(model, now, page);
    let Some(operation) = &sheet.operation else { return };
    let words = model.settings.words;
    page.gap();
    match left(model, now) {
        Some(left) => {
            // both rounded alike: what is left is never told as more than the whole
            let (rest, whole) = (words::rounded(left), words::rounded(operation.predicted));
            page.text(&say!(words, "now.left", left = rest, whole = whole), Meaning::Plain);
            bar(operation, left, page);
            if let Some(told) = per_cent(now, words) {
                page.text(&told, Meaning::Abnormal);
            }
            page.text(&next_needed(operation, left, words), Meaning::Plain);
        }
        None => page.text(&say!(words, "now.left-unknown"), Meaning::Abnormal),
    }
}

/// The question whether somebody is still there, while nobody is signed in.
fn still_there(model: &Model, now: &Now, page: &mut Page) {
    let Some(asked) = now.away.as_ref().and_then(|a| a.asked) else { return };
    let words = model.settings.words;
    let left = Seconds::of((asked.left.value() - model.since_heard().value()).max(0.0));
    let left = words::span(left);
    let text = if asked.called {
        say!(words, "now.still-there-called", left = left)
    } else {
        say!(words, "now.still-there", left = left)
    };
    page.gap();
    page.text(&text, Meaning::Needed);
}

fn bar(operation: &OperationNow, left: Seconds, page: &mut Page) {
    let whole = operation.predicted.value();
    let share = if whole > 0.0 { (1.0 - left.value() / whole).clamp(0.0, 1.0) } else { 0.0 };
    let wide = page.width().saturating_sub(2).min(60);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of a small width")]
    let full = (share * wide as f64).round() as usize;
    page.row(vec![
        (format!("[{}", "=".repeat(full)), Meaning::Plain),
        (format!("{}]", " ".repeat(wide - full)), Meaning::Plain),
    ]);
}

/// Told where the machine goes at another speed than is written.
fn per_cent(now: &Now, words: &Words) -> Option<String> {
    let [feed, rapid] = now.machine.per_cent.filter(|per_cent| *per_cent != [100, 100])?;
    Some(if rapid == 100 {
        say!(words, "now.feeds", feed = feed)
    } else {
        say!(words, "now.feeds-rapids", feed = feed, rapid = rapid)
    })
}

/// When somebody is needed again: at the end of the chain, which is at the earliest the end of this operation.
fn next_needed(operation: &OperationNow, left: Seconds, words: &Words) -> String {
    let rest: Vec<&str> = match operation.chain.iter().position(|n| *n == operation.name) {
        Some(at) => operation.chain.iter().skip(at + 1).map(String::as_str).collect(),
        None => Vec::new(),
    };
    let when = words::rounded(left);
    if rest.is_empty() {
        say!(words, "now.needed", left = when, operation = operation.name)
    } else {
        say!(words, "now.needed-after", left = when, rest = rest.join(words.text("now.then")))
    }
}

fn held(model: &Model, now: &Now, sheet: &SheetNow, page: &mut Page) {
    let Some(held) = &sheet.held else { return };
    let seconds = held.seconds.value() + model.since_heard().value();
    let words = model.settings.words;
    page.text(&words.held_by(held.by, &words::span(Seconds::of(seconds))), Meaning::Abnormal);
    if let Some(prompt) = sheet.operation.as_ref().and_then(|o| o.prompt.as_ref()) {
        page.hanging(&say!(words, "now.program-says"), prompt, Meaning::Plain, Meaning::Strong);
    }
    if held.raised {
        page.text(&say!(words, "now.bit-up"), Meaning::Plain);
    } else if held.bit_in_cut {
        page.text(&say!(words, "now.bit-burns"), Meaning::Abnormal);
    }
    if now.machine.manual_spindle {
        page.text(&say!(words, "now.switched-by-hand"), Meaning::Plain);
    }
}

fn stopped(model: &Model, sheet: &SheetNow, mapped: bool, page: &mut Page) {
    let words = model.settings.words;
    let Some(StoppedNow { record, red_button, .. }) = &sheet.stopped else { return };
    if !record.text.is_empty() {
        page.text(&record.text, Meaning::Abnormal);
    }
    match record.cause {
        StopCause::LinkLost | StopCause::DaemonRestarted => page.text(&say!(words, "now.runs-out"), Meaning::Abnormal),
        StopCause::RefusedLine
        | StopCause::Fault
        | StopCause::ControllerRestarted
        | StopCause::Person
        | StopCause::StoreFailed => {}
    }
    if let Some(line) = record.last_line_done {
        page.text(&say!(words, "now.finished-line", line = line), Meaning::Plain);
    }
    if let Some(line) = sheet.stopped.as_ref().and_then(|s| s.enter_line) {
        let at = sheet.stopped.as_ref().and_then(|s| s.enter_at).filter(|_| !mapped);
        let text = match (at, &model.picture) {
            (Some(at), Some((_, drawing, _))) => {
                let units = model.settings.units;
                let (x, y) = (units.taped(at.x - drawing.corner.x), units.taped(at.y - drawing.corner.y));
                say!(words, "now.enter-line-at", line = line, x = x, y = y, unit = units.sign(words))
            }
            _ => say!(words, "now.enter-line", line = line),
        };
        page.text(&text, Meaning::Plain);
    }
    let mut position =
        if record.position_known { say!(words, "now.position-known") } else { say!(words, "now.position-lost") };
    if record.bit_in_cut {
        position.push(' ');
        position.push_str(&say!(words, "now.bit-in-cut"));
    }
    page.text(&position, Meaning::Plain);
    if red_button.is_none() {
        page.text(&say!(words, "now.red-button"), Meaning::Needed);
    }
}

fn waiting(now: &Now, words: &Words, page: &mut Page) {
    let text = match (&now.next_sheet, now.waiting) {
        (Some(next), _) => say!(words, "now.next", sheet = next),
        (None, _) => say!(words, "now.empty"),
    };
    page.text(&text, Meaning::Plain);
}

fn picture_of(model: &Model, now: &Now, drawing: &Drawing, names: &[String], room: Rect, buf: &mut Buffer) {
    let Some(sheet) = &now.sheet else { return };
    let done: Vec<f64> = drawing.paths.iter().map(|p| done(model, sheet, names, p)).collect();
    let places = match now.task.as_ref().map(|t| &t.step.ask) {
        Some(Ask::Place { places, .. }) => {
            Some(model.placing.as_ref().map_or(places.as_slice(), |placing| placing.places.as_slice()))
        }
        Some(
            Ask::Confirm
            | Ask::Value { .. }
            | Ask::Choose { .. }
            | Ask::RunDown { .. }
            | Ask::TouchZ { .. }
            | Ask::TouchAgain { .. }
            | Ask::Hover { .. }
            | Ask::Raise { .. }
            | Ask::Lot { .. }
            | Ask::Parts { .. },
        )
        | None => None,
    };
    let hit: Vec<usize> = model.placing.iter().flat_map(|p| (0..p.places.len()).filter(|n| p.is_bad(*n))).collect();
    let enter = sheet.stopped.as_ref().and_then(|s| s.enter_at);
    let spot = now.task.as_ref().and_then(|t| match t.step.ask {
        Ask::TouchZ { .. } => t.step.spot.map(|at| (at, "Z")),
        Ask::TouchAgain { at } => Some((at, "Z")),
        _ => t.step.spot.map(|at| (at, "O")),
    });
    let bit =
        if model.is_old() { None } else { model.position.as_ref().and_then(|(tick, _)| tick.at).or(now.machine.at) };
    let shown = Shown { done: &done, bit, places, hit: &hit, enter, spot };
    map::draw(drawing, &shown, &model.traced, room, buf, model.settings);
}

/// How far a path was commanded: whole with its operation, else by the line that is being cut.
fn done(model: &Model, sheet: &SheetNow, names: &[String], path: &CutPath) -> f64 {
    let name = usize::try_from(path.operation).ok().and_then(|i| names.get(i));
    if name.is_some_and(|n| sheet.done.contains(n)) {
        return 1.0;
    }
    let Some(operation) = sheet.operation.as_ref().filter(|o| name == Some(&o.name)) else { return 0.0 };
    let running = match sheet.stage {
        Stage::Cutting | Stage::Held | Stage::Stopped => true,
        Stage::Queued | Stage::Securing | Stage::Tooling | Stage::Ready => false,
        Stage::SetAside | Stage::TakingOff | Stage::Checking | Stage::Closed => false,
    };
    let line = match &sheet.stopped {
        Some(stopped) => stopped.record.last_line_done,
        None => model.position.as_ref().and_then(|(tick, _)| tick.line).or(operation.line),
    };
    match line.filter(|_| running) {
        Some(line) => share(path.lines, line),
        None => 0.0,
    }
}

fn share([first, last]: [u32; 2], line: u32) -> f64 {
    if line >= last {
        1.0
    } else if line < first {
        0.0
    } else {
        f64::from(line - first) / f64::from((last - first).max(1))
    }
}
