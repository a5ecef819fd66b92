//! What each key does. Hold comes first, always: the space bar and `*`, from every screen, dialog and entry.
//!
//! May live here: from a key to a change of the model or an intent. May not: times and answers (`answering`), moves
//! (`hand`), what an action sends (`acting`).

use super::acting::{self, act_of};
use super::answering::{self, TYPED_AHEAD_MS, Takes};
use super::hand::HandKey;
use super::model::{Dialog, Intent, Link, Millis, Model, Screen, Tone};
use crate::trouble::CARDS;
use crate::words::{REASONS, say};
use chargehand_types::act::Act;
use chargehand_types::id::Person;
use chargehand_types::secret::Secret;
use chargehand_types::stage::{Reason, Stage};

/// A held-down hold key is sent again no sooner than this.
const HOLD_AGAIN_MS: Millis = 250;
/// A key that comes again within this is held down: most begin to repeat after a quarter to two thirds of a second.
const REPEAT_MS: Millis = 700;
/// Repeats that may be on their way to the daemon: one that answers slowly is not swamped, and what it is not told ends.
const RUN_AHEAD: usize = 4;
/// The longest text that can be typed.
const TEXT_AT_MOST: usize = 60;
/// Digits of the longest PIN.
const PIN_AT_MOST: usize = 12;
/// How many actions the screen shows.
pub const ACTIONS_SHOWN: usize = 4;

/// A key, as far as it matters here. Large and small letters are equal, but in a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Press {
    /// A character.
    Char(char),
    /// Enter, of either block.
    Enter,
    /// Takes the last character back.
    Back,
    /// Closes a dialog; never needed.
    Escape,
    /// An arrow.
    Left,
    /// An arrow.
    Right,
    /// An arrow.
    Up,
    /// An arrow.
    Down,
    /// A page key.
    PageUp,
    /// A page key.
    PageDown,
    /// The system asks the program to end.
    Leave,
}

/// Takes a key.
pub fn press(model: &mut Model, press: Press, intents: &mut Vec<Intent>) {
    let writing = matches!(model.dialog, Some(Dialog::Name { .. } | Dialog::PartNote { .. } | Dialog::Lot { .. }));
    let press = match press {
        Press::Char(c) if !writing => Press::Char(c.to_lowercase().next().unwrap_or(c)),
        other => other,
    };
    match press {
        Press::Char(' ' | '*') => hold(model, intents),
        Press::Leave => leave(model, intents),
        Press::Char('w') if !writing => trouble(model, intents),
        _ if model.dialog.is_some() => dialog(model, press, intents),
        _ => open(model, press, intents),
    }
}

fn hold(model: &mut Model, intents: &mut Vec<Intent>) {
    let again = model.last_hold.is_some_and(|at| model.clock.saturating_sub(at) < HOLD_AGAIN_MS);
    if again {
        return;
    }
    model.last_hold = Some(model.clock);
    if model.may_move() {
        model.hold_asked = Some(model.hold_asked.unwrap_or(model.clock));
    }
    let words = model.settings.words;
    match &model.link {
        Link::Up => model.say(say!(words, "said.hold-asked"), Tone::Said),
        Link::Opening | Link::Lost { .. } => model.say(say!(words, "said.hold-unheard"), Tone::Refused),
    }
    model.ask(Act::Hold, None, intents);
}

/// Holds, calls, and opens the short cards. While they are open the key does nothing: one call is enough.
fn trouble(model: &mut Model, intents: &mut Vec<Intent>) {
    if matches!(model.dialog, Some(Dialog::Trouble { .. })) {
        return;
    }
    model.dialog = Some(Dialog::Trouble { card: None });
    if model.is_old() {
        model.say(say!(model.settings.words, "said.trouble-unheard"), Tone::Refused);
    } else {
        model.say(say!(model.settings.words, "said.trouble"), Tone::Said);
    }
    model.ask(Act::Trouble, None, intents);
}

fn leave(model: &mut Model, intents: &mut Vec<Intent>) {
    let words = model.settings.words;
    let text = if model.is_old() {
        say!(words, "left.unheard")
    } else if model.may_move() {
        say!(words, "left.moving")
    } else {
        say!(words, "left.still")
    };
    intents.push(Intent::Leave(text));
}

fn open(model: &mut Model, press: Press, intents: &mut Vec<Intent>) {
    if model.screen == Screen::Now && on_step(model, press, intents) {
        return;
    }
    let taken = match model.screen {
        Screen::History => model.past.press(press),
        Screen::Shop | Screen::Help => model.past.scroll(press),
        Screen::Now | Screen::Sheets | Screen::Day => false,
    };
    if taken {
        return;
    }
    match press {
        Press::Char('n') => model.screen = Screen::Now,
        Press::Char('s') => show(model, Screen::Sheets, intents),
        Press::Char('d') => show(model, Screen::Day, intents),
        Press::Char('h') => show(model, Screen::History, intents),
        Press::Char('o') => show(model, Screen::Shop, intents),
        Press::Enter if matches!(model.screen, Screen::History | Screen::Shop) => model.look_at_screen(intents),
        Press::Char('?') if model.screen != Screen::Help => {
            model.help_of = model.screen;
            model.past.above = 0;
            model.screen = Screen::Help;
        }
        Press::Char('?') | Press::Enter if model.screen == Screen::Help => model.screen = model.help_of,
        Press::Char('q') => leave(model, intents),
        Press::Char('m') => {
            model.screen = Screen::Now;
            model.dialog = Some(Dialog::Menu);
        }
        Press::Char('f') => {
            model.say(say!(model.settings.words, "said.lift-asked"), Tone::Said);
            model.ask(Act::HoldAtLift, None, intents);
        }
        Press::Char('+') => faster(model, 10, intents),
        Press::Char('-') => faster(model, -10, intents),
        Press::Char(c @ '1'..='9') => number(model, c, ACTIONS_SHOWN, intents),
        Press::Enter if model.screen == Screen::Sheets => take_row(model, intents),
        Press::Up if model.screen == Screen::Sheets => row(model, model.row.saturating_sub(1), intents),
        Press::Down if model.screen == Screen::Sheets => row(model, model.row + 1, intents),
        Press::Char(_)
        | Press::Enter
        | Press::Back
        | Press::Escape
        | Press::Left
        | Press::Right
        | Press::Up
        | Press::Down
        | Press::PageUp
        | Press::PageDown
        | Press::Leave => {}
    }
}

/// Opens a screen and asks for what it shows.
fn show(model: &mut Model, screen: Screen, intents: &mut Vec<Intent>) {
    model.screen = screen;
    model.past.above = 0;
    model.look_at_screen(intents);
}

/// A key for the step on the screen; true when it was taken.
fn on_step(model: &mut Model, press: Press, intents: &mut Vec<Intent>) -> bool {
    match (answering::takes(model), press) {
        (_, Press::Enter) => {
            answering::enter(model, intents);
            true
        }
        (Takes::Digits, Press::Back) => {
            answering::take_back(model);
            true
        }
        (Takes::Digits, Press::Char(c)) => answering::type_in(model, c),
        (Takes::Moves, Press::Char('0')) => {
            answering::off_the_mark(model, intents);
            true
        }
        (Takes::Moves, press) => hand_move(model, press, intents),
        (Takes::Text, Press::Char('l')) => {
            answering::open_lot(model);
            true
        }
        (Takes::Places, press) => move_place(model, press, intents),
        (Takes::Digits | Takes::Enter | Takes::Text, _) => false,
    }
}

fn hand_move(model: &mut Model, press: Press, intents: &mut Vec<Intent>) -> bool {
    let again = answering::touches_again(model);
    match model.hand.press(press) {
        None => false,
        Some(HandKey::Move(Act::Approach)) if again => {
            move_once(model, Act::OverSpot, intents);
            true
        }
        Some(HandKey::Chosen) => true,
        Some(HandKey::Run(act)) => {
            run(model, act, intents);
            true
        }
        Some(HandKey::Move(act)) => {
            move_once(model, act, intents);
            true
        }
    }
}

/// One move at a time: what is pressed meanwhile is not saved up.
fn move_once(model: &mut Model, act: Act, intents: &mut Vec<Intent>) {
    let fresh = model.asked.as_ref().is_none_or(|a| model.clock.saturating_sub(a.shown) < TYPED_AHEAD_MS);
    if !fresh && model.under_way == 0 {
        let seen = model.standing().map(|n| n.version);
        model.ask(act, seen, intents);
    }
}

/// A key held down repeats: from its second coming on it moves, and each one keeps it moving. One press moves nothing.
fn run(model: &mut Model, act: Act, intents: &mut Vec<Intent>) {
    let fresh = model.asked.as_ref().is_none_or(|a| model.clock.saturating_sub(a.shown) < TYPED_AHEAD_MS);
    let before = model.run_key.replace((act.clone(), model.clock));
    let repeats = before.is_some_and(|(last, at)| last == act && model.clock.saturating_sub(at) <= REPEAT_MS);
    if repeats && !fresh && model.under_way < RUN_AHEAD {
        let seen = model.standing().map(|n| n.version);
        model.ask(act, seen, intents);
    }
}

fn move_place(model: &mut Model, press: Press, intents: &mut Vec<Intent>) -> bool {
    match model.placing.as_mut().and_then(|placing| placing.press(press)) {
        None => false,
        Some(moved) => {
            if moved {
                model.look_air(intents);
            }
            true
        }
    }
}

/// Feeds a step faster or slower, while it cuts.
fn faster(model: &mut Model, by: i16, intents: &mut Vec<Intent>) {
    let Some(now) = model.standing() else { return };
    let cuts = now.sheet.as_ref().is_some_and(|s| matches!(s.stage, Stage::Cutting | Stage::Held));
    if !cuts || model.screen != Screen::Now {
        return;
    }
    let [feed, _] = model.fed.or(now.machine.per_cent).unwrap_or([100, 100]);
    let wanted = feed.saturating_add_signed(by);
    let seen = now.version;
    model.fed = Some([wanted, 100]);
    model.ask(Act::Override { feed: Some(wanted), rapid: None }, Some(seen), intents);
}

fn number(model: &mut Model, c: char, most: usize, intents: &mut Vec<Intent>) {
    let Some(now) = model.standing() else { return };
    if model.screen != Screen::Now && model.dialog.is_none() {
        return;
    }
    let chosen = c.to_digit(10).and_then(|d| usize::try_from(d).ok()).filter(|n| (1..=most).contains(n));
    let offer = chosen.and_then(|n| acting::listed(now, model.settings.words).get(n - 1).cloned());
    if let Some(offer) = offer {
        acting::choose(model, &offer, intents);
    }
}

fn row(model: &mut Model, to: usize, intents: &mut Vec<Intent>) {
    let rows = model.sheets.as_ref().map_or(0, |s| s.sheets.len());
    model.row = to.min(rows.saturating_sub(1));
    model.look_at_row(intents);
}

/// Enter on a row of Sheets: that sheet is taken next.
fn take_row(model: &mut Model, intents: &mut Vec<Intent>) {
    let Some(sheet) = model.sheets.as_ref().and_then(|s| s.sheets.get(model.row)).map(|r| r.id.clone()) else { return };
    let Some(now) = model.standing() else { return };
    let (seen, taken) = (now.version, now.sheet.as_ref().map(|s| s.id.clone()));
    match taken {
        Some(on) => model.say(say!(model.settings.words, "said.taken", sheet = on), Tone::Refused),
        None => {
            model.screen = Screen::Now;
            model.ask(Act::TakeSheet { sheet: Some(sheet) }, Some(seen), intents);
        }
    }
}

fn dialog(model: &mut Model, press: Press, intents: &mut Vec<Intent>) {
    let Some(dialog) = model.dialog.clone() else { return };
    match dialog {
        Dialog::Confirm { act, seen, opened, .. } => match press {
            Press::Enter => {
                if answering::enter_counts(model, opened, TYPED_AHEAD_MS) {
                    model.dialog = None;
                    if let Some(act) = model.standing().and_then(|now| act_of(act, now)) {
                        model.ask(act, Some(seen), intents);
                    }
                }
            }
            _ => {
                model.dialog = None;
                model.say(say!(model.settings.words, "said.not-done"), Tone::Said);
            }
        },
        Dialog::Menu => {
            model.dialog = None;
            if let Press::Char(c @ '1'..='9') = press {
                model.dialog = Some(Dialog::Menu);
                number(model, c, 9, intents);
                if model.dialog == Some(Dialog::Menu) {
                    model.dialog = None;
                }
            }
        }
        Dialog::Trouble { card } => {
            let chosen = match press {
                Press::Char(c @ '1'..='9') => c.to_digit(10).and_then(|d| usize::try_from(d).ok()).map(|d| d - 1),
                _ => None,
            };
            model.dialog = match (chosen.filter(|at| *at < CARDS.len()), card) {
                (Some(at), None) => Some(Dialog::Trouble { card: Some(at) }),
                // from a card back to the list of cards
                (_, Some(_)) if press != Press::Escape => Some(Dialog::Trouble { card: None }),
                _ => None,
            };
        }
        Dialog::Name { typed } => name(model, typed, press, intents),
        Dialog::Pin { who, typed } => pin(model, who, &typed, press, intents),
        Dialog::Sign { seen, opened } => sign(model, seen, opened, press, intents),
        Dialog::WhyNot { index, grade } => {
            if let Press::Char(c) = press
                && let Some(reason) = reason_of(c)
            {
                match reason {
                    Reason::Other => {
                        model.dialog = Some(Dialog::PartNote { index, grade, typed: String::new() });
                    }
                    known => answering::because(model, index, grade, known, None, intents),
                }
            } else {
                model.dialog = None;
            }
        }
        Dialog::Lot { typed } => match edit(typed, press) {
            Edited::Still(typed) => model.dialog = Some(Dialog::Lot { typed }),
            Edited::Done(text) => answering::name_lot(model, text, intents),
            Edited::Given => model.dialog = None,
        },
        Dialog::PartNote { index, grade, typed } => match edit(typed, press) {
            Edited::Still(typed) => model.dialog = Some(Dialog::PartNote { index, grade, typed }),
            Edited::Done(text) => answering::because(model, index, grade, Reason::Other, Some(text), intents),
            Edited::Given => model.dialog = None,
        },
    }
}

/// 1 to 9 and 0 choose among the ten reasons.
fn reason_of(c: char) -> Option<Reason> {
    let digit = usize::try_from(c.to_digit(10)?).ok()?;
    REASONS.get(if digit == 0 { 9 } else { digit - 1 }).copied()
}

fn name(model: &mut Model, typed: String, press: Press, intents: &mut Vec<Intent>) {
    let known = match press {
        Press::Char(c) if typed.is_empty() => c.to_digit(10).and_then(|d| usize::try_from(d).ok()),
        _ => None,
    };
    let known = known.and_then(|d| model.names.get(d.checked_sub(1)?).cloned());
    let edited = known.map_or_else(|| edit(typed, press), Edited::Done);
    match edited {
        Edited::Still(typed) => model.dialog = Some(Dialog::Name { typed }),
        Edited::Done(who) => {
            let who = Person(who);
            if model.standing().is_some_and(|n| n.pins) {
                model.dialog = Some(Dialog::Pin { who, typed: Secret::default() });
            } else {
                model.dialog = None;
                let seen = model.standing().map(|n| n.version);
                model.ask(Act::SignIn { who, pin: None }, seen, intents);
            }
        }
        Edited::Given => model.dialog = None,
    }
}

/// Digits only, and they are never shown.
fn pin(model: &mut Model, who: Person, typed: &Secret, press: Press, intents: &mut Vec<Intent>) {
    let mut digits = typed.shown().to_owned();
    match press {
        Press::Char(c) if c.is_ascii_digit() && digits.len() < PIN_AT_MOST => digits.push(c),
        Press::Back if !digits.is_empty() => digits.truncate(digits.len() - 1),
        Press::Enter if !digits.is_empty() => {
            model.dialog = None;
            let seen = model.standing().map(|n| n.version);
            model.ask(Act::SignIn { who, pin: Some(Secret::new(digits)) }, seen, intents);
            return;
        }
        Press::Escape | Press::Enter | Press::Back => {
            model.dialog = None;
            model.say(say!(model.settings.words, "said.not-signed-in"), Tone::Said);
            return;
        }
        _ => {}
    }
    model.dialog = Some(Dialog::Pin { who, typed: Secret::new(digits) });
}

/// What became of a text.
enum Edited {
    Still(String),
    Done(String),
    Given,
}

/// The space bar holds even here, so `_` stands for a space.
fn edit(mut typed: String, press: Press) -> Edited {
    match press {
        Press::Char(c) if c.is_control() => Edited::Still(typed),
        Press::Char(c) => {
            if typed.chars().count() < TEXT_AT_MOST {
                typed.push(if c == '_' { ' ' } else { c });
            }
            Edited::Still(typed)
        }
        Press::Back if typed.is_empty() => Edited::Given,
        Press::Back => {
            typed.pop();
            Edited::Still(typed)
        }
        Press::Enter if typed.trim().is_empty() => Edited::Given,
        Press::Enter => Edited::Done(typed.trim().to_owned()),
        Press::Escape => Edited::Given,
        Press::Left | Press::Right | Press::Up | Press::Down | Press::PageUp | Press::PageDown | Press::Leave => {
            Edited::Still(typed)
        }
    }
}

fn sign(
    model: &mut Model,
    seen: chargehand_types::id::StageVersion,
    opened: Millis,
    press: Press,
    intents: &mut Vec<Intent>,
) {
    if press != Press::Enter {
        model.dialog = None;
        model.say(say!(model.settings.words, "said.not-signed"), Tone::Said);
        return;
    }
    if !answering::enter_counts(model, opened, answering::READ_FIRST_MS) {
        return;
    }
    let finding = model.standing().and_then(|n| n.sheet.as_ref()).and_then(|s| s.to_sign.first()).cloned();
    model.dialog = None;
    if let Some(finding) = finding {
        model.ask(Act::SignFinding { fingerprint: finding.fingerprint }, Some(seen), intents);
    }
}
