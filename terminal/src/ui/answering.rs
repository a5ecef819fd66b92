//! Answers to the step on the screen: how soon one may be given, what was typed, what is sent.
//!
//! May live here: the times that keep an answer from being given unread, and from keys to an answer. May not:
//! whether the answer is right; the daemon compares it.

use super::model::{Asked, Dialog, Intent, Millis, Model, Tone};
use super::units::{MM, Units};
use crate::words::{Words, say};
use chargehand_types::act::{Act, Axis};
use chargehand_types::checklist::{Ask, OFF_THE_MARK, SAME_PLACE, StepAnswer, Task};
use chargehand_types::now::OfferedAct;
use chargehand_types::quantity::{Spot, plain};
use chargehand_types::stage::{Grade, Reason};

/// Keys within this after something new is on the screen were typed for what was there before.
pub const TYPED_AHEAD_MS: Millis = 400;
/// Nobody reads a step and does it in less.
pub const READ_FIRST_MS: Millis = 1_500;
/// Enters that follow each other within this come from one key held down.
const KEY_HELD_MS: Millis = 400;
/// The longest value that can be typed.
const ENTRY_AT_MOST: usize = 10;

/// Which keys a step takes for itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Takes {
    /// None but Enter: digits choose among the actions.
    Enter,
    /// Digits are the value.
    Digits,
    /// Hand moves; digits choose among the actions.
    Moves,
    /// A key opens what is typed into; digits choose among the actions.
    Text,
    /// Moving fastener places; digits choose among the actions.
    Places,
}

/// Whether the zero is to be touched once more where it was.
pub fn touches_again(model: &Model) -> bool {
    let task = model.standing().and_then(|now| now.task.as_ref());
    task.is_some_and(|task| matches!(task.step.ask, Ask::TouchAgain { .. }))
}

/// Whether the bit stands beside a place in work coordinates, farther than a touch there is taken; false while it is not
/// known where it stands.
pub fn stands_beside(model: &Model, place: Spot) -> bool {
    let told = model.position.as_ref().and_then(|(tick, _)| tick.at);
    let bit = told.or_else(|| model.standing().and_then(|now| now.machine.at));
    bit.is_some_and(|bit| (bit.x - place.x).mm().hypot((bit.y - place.y).mm()) > SAME_PLACE.mm())
}

/// Which keys the step on the screen takes. Before anybody has signed in a step takes none: digits choose.
#[must_use]
pub fn takes(model: &Model) -> Takes {
    let Some(now) = model.standing() else { return Takes::Enter };
    let Some(task) = now.task.as_ref().filter(|_| may_answer(model)) else { return Takes::Enter };
    match &task.step.ask {
        Ask::Value { .. } | Ask::Choose { .. } => Takes::Digits,
        Ask::Parts { names, graded } if graded.len() < names.len() => Takes::Digits,
        Ask::Parts { .. } | Ask::Confirm | Ask::RunDown { .. } => Takes::Enter,
        Ask::Place { .. } => Takes::Places,
        Ask::Lot { .. } => Takes::Text,
        Ask::TouchZ { .. } | Ask::TouchAgain { .. } | Ask::Hover { .. } | Ask::Raise { .. } => Takes::Moves,
    }
}

/// Whether an answer can be given at all: somebody is signed in here, and the offer is open.
#[must_use]
pub fn may_answer(model: &Model) -> bool {
    model.standing().is_some_and(|now| {
        now.task.is_some() && !now.actions.iter().any(|o| o.act == OfferedAct::SignIn && o.refused.is_none())
    })
}

/// A character for the value; true when it was taken.
pub fn type_in(model: &mut Model, c: char) -> bool {
    let clock = model.clock;
    let fractions = model.settings.units == Units::Inches && asks_length(model);
    let Some(asked) = &mut model.asked else { return false };
    let c = if c == ',' { '.' } else { c };
    // what no value is made of does what it does everywhere, at once
    if !(c.is_ascii_digit() || matches!(c, '.' | '-') || c == '/' && fractions) {
        return false;
    }
    if clock.saturating_sub(asked.shown) < TYPED_AHEAD_MS || asked.sent {
        return true;
    }
    let fits = match c {
        '0'..='9' => true,
        '.' => !asked.entry.contains('.'),
        '-' => asked.entry.is_empty() || fractions && !asked.entry.contains(['-', '/']),
        '/' if fractions => !asked.entry.is_empty() && !asked.entry.contains('/'),
        _ => return false,
    };
    if fits && asked.entry.len() < ENTRY_AT_MOST {
        asked.entry.push(c);
    }
    true
}

/// Takes the last character of the value back.
pub fn take_back(model: &mut Model) {
    if let Some(asked) = &mut model.asked {
        asked.entry.pop();
    }
}

/// Whether an Enter now is an answer, or a key held down, typed ahead, or pressed unread.
pub fn enter_counts(model: &mut Model, shown: Millis, least: Millis) -> bool {
    let last = model.last_enter.replace(model.clock);
    let since = model.clock.saturating_sub(shown);
    if last.is_some_and(|l| model.clock.saturating_sub(l) < KEY_HELD_MS) || since < TYPED_AHEAD_MS {
        return false;
    }
    if since < least {
        model.say(say!(model.settings.words, "said.too-quick"), Tone::Refused);
        return false;
    }
    true
}

/// Enter on the step.
pub fn enter(model: &mut Model, intents: &mut Vec<Intent>) {
    if !may_answer(model) {
        return;
    }
    let (Some(now), Some(asked)) = (model.standing(), model.asked.clone()) else { return };
    let (Some(task), seen) = (now.task.clone(), now.version) else { return };
    let typed = matches!(task.step.ask, Ask::Value { .. } | Ask::Choose { .. } | Ask::Parts { .. });
    let least = if typed { TYPED_AHEAD_MS } else { READ_FIRST_MS };
    if !enter_counts(model, asked.shown, least) || asked.sent {
        return;
    }
    match answer(model, &task, &asked) {
        Ok(Some(act)) => {
            if let Some(asked) = &mut model.asked {
                asked.sent = true;
            }
            model.ask(act, Some(seen), intents);
        }
        Ok(None) => {}
        Err(why) => model.say(why, Tone::Refused),
    }
}

/// The act that answers the step with what was typed; none where a dialog asks on.
fn answer(model: &mut Model, task: &Task, asked: &Asked) -> Result<Option<Act>, String> {
    let step = task.step.id.clone();
    let words = model.settings.words;
    let give = |answer| Ok(Some(Act::Answer { step: step.clone(), answer }));
    match &task.step.ask {
        // a bit that stands low is told by the daemon, and written down
        Ask::Confirm | Ask::Raise { .. } | Ask::Lot { .. } => give(StepAnswer::Done),
        Ask::Value { unit, least, most, .. } => {
            // whatever was read is sent: a wrong reading is part of the record too
            if unit == MM && model.settings.units == Units::Inches {
                return give(StepAnswer::Value { value: inches(&asked.entry, [*least, *most], words)? });
            }
            let value: f64 = asked.entry.parse().map_err(|_| say!(words, "said.type-value", unit = unit))?;
            give(StepAnswer::Value { value })
        }
        Ask::Choose { options } => {
            let chosen = number(&asked.entry).and_then(|n| options.get(n - 1));
            let chosen = chosen.ok_or_else(|| say!(words, "said.type-number", most = options.len()))?;
            give(StepAnswer::Choice { key: chosen.key.clone() })
        }
        Ask::Place { places, .. } => {
            let made = model.placing.as_ref().filter(|p| p.is_of(&asked.name)).map(|p| p.places.clone());
            give(StepAnswer::Placed { places: made.unwrap_or_else(|| places.clone()) })
        }
        Ask::RunDown { .. } => match model.run_down_left() {
            Some(left) if left.value() > 0.0 => Err(say!(words, "said.wait-count")),
            Some(_) | None => give(StepAnswer::Still),
        },
        Ask::TouchZ { .. } | Ask::TouchAgain { .. } => {
            Ok(Some(Act::ZeroHere { axis: Axis::Z, above: model.hand.above() }))
        }
        Ask::Hover { there: true, .. } => give(StepAnswer::Done),
        Ask::Hover { .. } => Err(say!(words, "said.not-there")),
        Ask::Parts { names, graded } => match next_part(names, graded) {
            None => give(StepAnswer::Done),
            Some(index) => grade(model, index, &asked.entry),
        },
    }
}

/// The bit does not stand over the place that it was brought over.
pub fn off_the_mark(model: &mut Model, intents: &mut Vec<Intent>) {
    let Some(now) = model.standing() else { return };
    let (seen, step) = (now.version, now.task.as_ref().map(|t| (t.step.id.clone(), t.step.ask.clone())));
    let Some((step, Ask::Hover { there, .. })) = step else { return };
    let shown = model.asked.as_ref().map_or(model.clock, |asked| asked.shown);
    if model.clock.saturating_sub(shown) < TYPED_AHEAD_MS || model.under_way > 0 {
        return;
    }
    if there {
        let answer = StepAnswer::Choice { key: OFF_THE_MARK.to_owned() };
        model.ask(Act::Answer { step, answer }, Some(seen), intents);
    } else {
        model.say(say!(model.settings.words, "said.not-there"), Tone::Refused);
    }
}

fn asks_length(model: &Model) -> bool {
    let ask = model.standing().and_then(|n| n.task.as_ref()).map(|t| &t.step.ask);
    matches!(ask, Some(Ask::Value { unit, .. }) if unit == MM)
}

/// A reading in inches as the millimetres that are sent. Millimetres typed as inches are found out: they are possible as
/// what they are not.
fn inches(entry: &str, [least, most]: [f64; 2], words: &Words) -> Result<f64, String> {
    let length = Units::Inches.read(entry).map_err(|_| say!(words, "unit.type-inches"))?;
    let possible = |mm: f64| (least..=most).contains(&mm);
    let as_millimetres = Units::Millimetres.read(entry).is_ok_and(|l| possible(l.mm()));
    if as_millimetres && !possible(length.mm()) {
        return Err(say!(words, "unit.mixed-up", typed = entry, mm = plain(length.mm())));
    }
    Ok(length.mm())
}

fn number(entry: &str) -> Option<usize> {
    entry.parse().ok().filter(|n| *n > 0)
}

/// The first part that has no grade yet.
#[must_use]
pub fn next_part(names: &[String], graded: &[u32]) -> Option<u32> {
    (0..u32::try_from(names.len()).unwrap_or(u32::MAX)).find(|i| !graded.contains(i))
}

fn grade(model: &mut Model, index: u32, entry: &str) -> Result<Option<Act>, String> {
    let grade = match number(entry) {
        Some(1) => return Ok(Some(Act::GradePart { index, grade: Grade::Good, reason: None, note: None })),
        Some(2) => Grade::Rework,
        Some(3) => Grade::Scrap,
        Some(_) | None => return Err(say!(model.settings.words, "said.type-grade")),
    };
    model.dialog = Some(Dialog::WhyNot { index, grade });
    if let Some(asked) = &mut model.asked {
        asked.entry.clear();
    }
    Ok(None)
}

/// Opens what the lot is typed into.
pub fn open_lot(model: &mut Model) {
    let fresh = model.asked.as_ref().is_none_or(|a| model.clock.saturating_sub(a.shown) < TYPED_AHEAD_MS || a.sent);
    if !fresh {
        model.dialog = Some(Dialog::Lot { typed: String::new() });
    }
}

/// The lot was typed.
pub fn name_lot(model: &mut Model, text: String, intents: &mut Vec<Intent>) {
    model.dialog = None;
    let Some((task, seen)) = model.standing().and_then(|now| Some((now.task.as_ref()?, now.version))) else { return };
    let step = task.step.id.clone();
    if let Some(asked) = &mut model.asked {
        asked.sent = true;
    }
    model.ask(Act::Answer { step, answer: StepAnswer::Named { text } }, Some(seen), intents);
}

/// Why a part is not good was chosen.
pub fn because(
    model: &mut Model,
    index: u32,
    grade: Grade,
    reason: Reason,
    note: Option<String>,
    intents: &mut Vec<Intent>,
) {
    model.dialog = None;
    let Some(seen) = model.standing().map(|n| n.version) else { return };
    model.ask(Act::GradePart { index, grade, reason: Some(reason), note }, Some(seen), intents);
}
