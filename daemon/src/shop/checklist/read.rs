//! A list's text into [`Checklist`].

use super::raw::{RawAsk, RawList, RawStep};
use super::words::{PLACEHOLDERS, named};
use super::{Asks, Checklist, Expect, Only, Over, Reading, Step, killers};
use crate::shop::check::{Check, Limits};
use crate::shop::fault::Fault;
use crate::shop::text::{Doc, Path};
use chargehand_types::checklist::{ListForm, ListKind};
use chargehand_types::quantity::Seconds;

/// Five to nine items a pause, done in 60 to 90 seconds, is what people keep to (Gawande, The Checklist Manifesto, after
/// D. Boorman); eight is this shop's budget for a first sheet, whose corners are measured one by one.
pub const MOST_FULL: usize = 8;
/// And five for a repeat.
pub const MOST_REPEAT: usize = 5;
/// More than one can see at a glance.
const MOST_OPTIONS: usize = 6;
const NUMBER: Limits = Limits::from(-100_000.0, 100_000.0, "");
const WITHIN: Limits = Limits::from(0.0, 1000.0, "");
/// What a step may take: somebody who is away for longer is not at it any more.
const TAKES: Limits = Limits::from(0.0, 120.0, "min");

/// Reads one list.
///
/// # Errors
/// Every fault of form; without such, texts that cannot be filled in, safety-critical steps taken out, moved or made to
/// ask less, and lists too long to be kept to.
pub fn read(file: &str, text: &str, kind: ListKind) -> Result<Checklist, Vec<Fault>> {
    let doc = Doc::parse(file, text)?;
    let raw: RawList = doc.read()?;
    let mut check = Check::new(&doc);
    let top = Path::top();
    check.words(&top.key("title"), &raw.title);
    let full = form(&mut check, &top.key("full"), raw.full, (kind, ListForm::Full));
    let here = top.key("repeat");
    if kind.is_of_day() && raw.repeat.is_some() {
        check.tell(&here, "a list of the day has no short form".to_owned(), "[[full]] alone");
    }
    if !kind.is_of_day() && raw.repeat.is_none() {
        check.missing(&top, "repeat", "the steps of a repeat, each [[repeat]]");
    }
    let repeat = form(&mut check, &here, raw.repeat.unwrap_or_default(), (kind, ListForm::Repeat));
    check.done(Checklist { title: raw.title, full, repeat })
}

fn form(check: &mut Check<'_, '_>, path: &Path, raw: Vec<RawStep>, (kind, form): (ListKind, ListForm)) -> Vec<Step> {
    let killers = killers::of(kind, form);
    check.once("step", raw.iter().enumerate().map(|(i, s)| (path.at(i).key("id"), s.id.as_str())));
    let mut steps: Vec<Step> = Vec::new();
    for (i, raw) in raw.into_iter().enumerate() {
        steps.push(step(check, &path.at(i), raw));
    }
    for (i, step) in steps.iter_mut().enumerate() {
        if let Some(killer) = killers.iter().find(|k| k.id == step.id) {
            step.killer = true;
            kept(check, &path.at(i), step, killer);
        }
    }
    for killer in killers.iter().filter(|k| steps.iter().all(|s| s.id != k.id)) {
        let found = format!("the step `{}` is missing; it cannot be taken out of this list", killer.id);
        check.tell(path, found, format!("a step with id = \"{}\" and {}", killer.id, killer.must.words()));
    }
    if let Some((at, id)) = killers::out_of_order(killers, &steps) {
        let after = format!("it must come after `{id}`");
        check.tell(&path.at(at).key("id"), after, "the order of the steps that cannot be taken out");
    }
    if let (Some(last), Some(step)) = (killers::last(kind), steps.last())
        && step.id != last
    {
        let found = format!("the list does not end with the step `{last}`");
        check.tell(path, found, format!("`{last}` as the last step"));
    }
    if kind.is_of_day() {
        of_the_day(check, path, &steps);
    }
    length(check, path, &steps, form);
    steps
}

/// A list of the day has no sheet, no bit and no cut to ask about.
fn of_the_day(check: &mut Check<'_, '_>, path: &Path, steps: &[Step]) {
    for (i, step) in steps.iter().enumerate() {
        let of_sheet = match &step.asks {
            Asks::Place
            | Asks::TouchZ
            | Asks::TouchAgain
            | Asks::Hover(_)
            | Asks::Raise
            | Asks::Lot { .. }
            | Asks::Parts => true,
            Asks::Value(reading) => matches!(
                reading.expect,
                Some(Expect::Thickness | Expect::BitDiameter | Expect::BitNumber | Expect::Dial | Expect::Fasteners)
            ),
            Asks::Confirm | Asks::Choose { .. } | Asks::RunDown => false,
        };
        if of_sheet {
            let found = format!("the step `{}` asks about a sheet", step.id);
            check.tell(&path.at(i).key("ask"), found, "what can be answered with no sheet on the machine");
        }
    }
}

/// A safety-critical step asks what it must, and whenever it must.
fn kept(check: &mut Check<'_, '_>, path: &Path, step: &Step, killer: &killers::Killer) {
    if !killer.must.is_asked(&step.asks) {
        let found = format!("the step `{}` must not ask for less", killer.id);
        check.tell(&path.key("ask"), found, format!("{}, and `within`, where a value is read", killer.must.words()));
    }
    if step.only.is_some() && step.only != killer.may_only {
        let found = format!("the step `{}` must not depend on this", killer.id);
        check.tell(&path.key("only"), found, "no condition, or the one of the list that ships");
    }
}

/// At most so many steps are asked one after the other, whichever spindle the machine has. A cut that goes on in its middle
/// is no repeat of anything: its one step more is not counted. Neither is the corner, which is looked at where there is no mark.
fn length(check: &mut Check<'_, '_>, path: &Path, steps: &[Step], form: ListForm) {
    let marked = steps.iter().any(|s| s.asks == Asks::Hover(Over::Mark));
    let counts = |s: &&Step| s.only != Some(Only::GoingOn) && !(marked && s.asks == Asks::Hover(Over::Corner));
    let without = |other: Only| steps.iter().filter(counts).filter(|s| s.only != Some(other)).count();
    let longest = without(Only::ManualSpindle).max(without(Only::ControlledSpindle));
    let most = match form {
        ListForm::Full => MOST_FULL,
        ListForm::Repeat => MOST_REPEAT,
    };
    if longest > most {
        check.tell(path, format!("{longest} steps are more than people keep to"), format!("at most {most}"));
    }
}

fn step(check: &mut Check<'_, '_>, path: &Path, raw: RawStep) -> Step {
    check.name(&path.key("id"), &raw.id);
    words(check, &path.key("text"), &raw.text);
    if let Some(help) = &raw.help {
        words(check, &path.key("help"), help);
    }
    if let Some(caution) = &raw.caution {
        let here = path.key("caution");
        words(check, &here.key("hazard"), &caution.hazard);
        words(check, &here.key("consequence"), &caution.consequence);
        words(check, &here.key("avoid"), &caution.avoid);
    }
    let asks = asks(check, path, &raw);
    let takes = raw.takes_min.unwrap_or_default();
    check.number(&path.key("takes_min"), takes, TAKES);
    let takes = Seconds::of(takes * 60.0);
    let RawStep { id, text, help, caution, only, .. } = raw;
    Step { id, text, help, caution, asks, only, killer: false, takes }
}

/// Words for people, whose braces name what can be filled in.
fn words(check: &mut Check<'_, '_>, path: &Path, text: &str) {
    check.words(path, text);
    let names = PLACEHOLDERS.map(str::to_owned);
    for name in named(text) {
        check.one_of(path, "thing to fill in", name, &names);
    }
}

fn asks(check: &mut Check<'_, '_>, path: &Path, raw: &RawStep) -> Asks {
    let valued = raw.ask == RawAsk::Value;
    let chosen = raw.ask == RawAsk::Choose;
    let keys = [
        ("unit", raw.unit.is_some(), valued, "ask = \"value\""),
        ("least", raw.least.is_some(), valued, "ask = \"value\""),
        ("most", raw.most.is_some(), valued, "ask = \"value\""),
        ("expect", raw.expect.is_some(), valued, "ask = \"value\""),
        ("within", raw.within.is_some(), valued && raw.expect.is_some(), "ask = \"value\" and `expect`"),
        ("options", raw.options.is_some(), chosen, "ask = \"choose\""),
        ("right", raw.right.is_some(), chosen, "ask = \"choose\""),
        ("over", raw.over.is_some(), raw.ask == RawAsk::Hover, "ask = \"hover\""),
    ];
    for (key, _, _, with) in keys.iter().filter(|(_, there, wanted, _)| *there && !wanted) {
        check.idle(path, key, &format!("only with {with}"));
    }
    match raw.ask {
        RawAsk::Confirm => Asks::Confirm,
        RawAsk::Value => Asks::Value(reading(check, path, raw)),
        RawAsk::Choose => choose(check, path, raw),
        RawAsk::Place => Asks::Place,
        RawAsk::RunDown => Asks::RunDown,
        RawAsk::TouchZ => Asks::TouchZ,
        RawAsk::TouchAgain => Asks::TouchAgain,
        RawAsk::Hover => Asks::Hover(raw.over.unwrap_or_else(|| {
            check.missing(path, "over", "\"mark\", \"corner\" or \"entry\"");
            Over::Mark
        })),
        RawAsk::Parts => Asks::Parts,
    }
}

fn reading(check: &mut Check<'_, '_>, path: &Path, raw: &RawStep) -> Reading {
    let mut number = |key: &str, value: Option<f64>| {
        match value {
            Some(value) => check.number(&path.key(key), value, NUMBER),
            None => check.missing(path, key, "a number: what no reading can be beyond"),
        }
        value.unwrap_or_default()
    };
    let (least, most) = (number("least", raw.least), number("most", raw.most));
    if raw.least.is_some() && raw.most.is_some() && least > most {
        check.tell(&path.key("least"), format!("{least} is more than the most"), format!("up to {most}"));
    }
    match &raw.unit {
        Some(unit) => check.words(&path.key("unit"), unit),
        None => check.missing(path, "unit", "what the value is read in, like \"mm\""),
    }
    check.number_if(&path.key("within"), raw.within, WITHIN);
    let unit = raw.unit.clone().unwrap_or_default();
    Reading { unit, least, most, expect: raw.expect.map(|e| e.0), within: raw.within }
}

fn choose(check: &mut Check<'_, '_>, path: &Path, raw: &RawStep) -> Asks {
    let options = raw.options.clone().unwrap_or_default();
    let list = path.key("options");
    if options.len() < 2 {
        check.missing(path, "options", "at least two, each { key = \"…\", text = \"…\" }");
    }
    check.no_more_than(&list, options.len(), MOST_OPTIONS);
    for (i, option) in options.iter().enumerate() {
        check.name(&list.at(i).key("key"), &option.key);
        check.words(&list.at(i).key("text"), &option.text);
        if let Some(then) = &option.then {
            check.words(&list.at(i).key("then"), then);
        }
    }
    check.once("option", options.iter().enumerate().map(|(i, o)| (list.at(i).key("key"), o.key.as_str())));
    let right = raw.right.clone().unwrap_or_default();
    let keys: Vec<String> = options.iter().map(|o| o.key.clone()).collect();
    for (i, key) in right.iter().enumerate() {
        check.one_of(&path.key("right").at(i), "option", key, &keys);
    }
    Asks::Choose { options, right }
}
