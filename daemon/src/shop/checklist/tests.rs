//! What `checklist` takes and what it refuses, with the words of each fault.

use super::*;
use crate::shop::fault::{Fault, told};
use chargehand_types::checklist::{Ask, StepAnswer};
use chargehand_types::quantity::{Length, Rpm, Seconds, Spot};

const SECURING: &str = include_str!("../../../../config/checklists/securing.toml");
const TOOLING: &str = include_str!("../../../../config/checklists/tooling.toml");
const READY: &str = include_str!("../../../../config/checklists/ready.toml");
const TAKING_OFF: &str = include_str!("../../../../config/checklists/taking-off.toml");
const CHECKING: &str = include_str!("../../../../config/checklists/checking.toml");
const OPENING: &str = include_str!("../../../../config/checklists/opening.toml");
const CLOSING: &str = include_str!("../../../../config/checklists/closing.toml");
const HAND_OVER: &str = include_str!("../../../../config/checklists/hand-over.toml");
const AFTER_POWER_CUT: &str = include_str!("../../../../config/checklists/after-power-cut.toml");

const ALL: [(ListKind, &str); 9] = [
    (ListKind::Securing, SECURING),
    (ListKind::Tooling, TOOLING),
    (ListKind::Ready, READY),
    (ListKind::TakingOff, TAKING_OFF),
    (ListKind::Checking, CHECKING),
    (ListKind::Opening, OPENING),
    (ListKind::Closing, CLOSING),
    (ListKind::HandOver, HAND_OVER),
    (ListKind::AfterPowerCut, AFTER_POWER_CUT),
];

fn list(kind: ListKind) -> Checklist {
    let (_, text) = ALL.iter().find(|(k, _)| *k == kind).unwrap();
    read("list.toml", text, kind).map_err(|f| told(&f)).unwrap()
}

fn lists() -> Checklists {
    Checklists::of(ALL.iter().map(|(kind, _)| (*kind, list(*kind)))).unwrap()
}

fn step(kind: ListKind, form: ListForm, id: &str) -> Step {
    list(kind).form(form).iter().find(|s| s.id == id).cloned().unwrap()
}

fn facts() -> Facts {
    Facts {
        bit: Some("6.35 mm compression".to_owned()),
        bit_diameter: Length::from_mm(6.35).ok(),
        thickness: Some(Length::whole_mm(18)),
        dial: Some(2.5),
        rpm: Some(Rpm(16_000_000)),
        fastener: Some("4.0 x 30 screw".to_owned()),
        places: vec![Spot::default(); 6],
        fasteners: Some(6),
        face: Some("good side up".to_owned()),
        button: Some("front left".to_owned()),
        run_down: Seconds::of(12.0),
        ..Facts::default()
    }
}

fn faults(text: &str, kind: ListKind) -> Vec<String> {
    let told = |f: &Fault| format!("{}: {}", f.key, f.found);
    read("list.toml", text, kind).unwrap_err().iter().map(told).collect()
}

#[test]
fn shipped_lists_keep_every_killer() {
    for (kind, _) in ALL {
        for form in [ListForm::Full, ListForm::Repeat] {
            let list = list(kind);
            let kept: Vec<&str> = list.form(form).iter().filter(|s| s.killer).map(|s| s.id.as_str()).collect();
            let wanted: Vec<&str> = killers::of(kind, form).iter().map(|k| k.id).collect();
            assert_eq!(kept, wanted, "{kind:?} {form:?}");
        }
    }
}

/// Takes each safety-critical step out of its form, one at a time.
#[test]
fn no_killer_can_be_taken_out() {
    for (kind, text) in ALL {
        for (form, heading) in [(ListForm::Full, "[[full]]"), (ListForm::Repeat, "[[repeat]]")] {
            for killer in killers::of(kind, form) {
                let renamed = rename(text, heading, killer.id);
                let missing = format!("the step `{}` is missing", killer.id);
                let all = faults(&renamed, kind);
                assert!(all.iter().any(|f| f.contains(&missing)), "{kind:?} {form:?} {}: {all:?}", killer.id);
            }
        }
    }
}

fn rename(text: &str, heading: &str, id: &str) -> String {
    let old = format!("{heading}\nid = \"{id}\"");
    assert!(text.contains(&old), "{old}");
    text.replacen(&old, &format!("{heading}\nid = \"other\""), 1)
}

#[test]
fn killers_cannot_ask_less() {
    let text = TOOLING.replacen("ask = \"run-down\"", "ask = \"confirm\"", 1);
    assert_eq!(faults(&text, ListKind::Tooling), ["full 2.ask: the step `still` must not ask for less"]);
    let text = SECURING.replacen("within = 1.0", "", 1);
    assert_eq!(faults(&text, ListKind::Securing), ["full 2.ask: the step `thickness-near-left` must not ask for less"]);
    let text = READY.replacen("text = \"Goggles", "only = \"bit-change\"\ntext = \"Goggles", 1);
    assert_eq!(faults(&text, ListKind::Ready), ["full 4.only: the step `eyes-ears` must not depend on this"]);
}

#[test]
fn killers_keep_their_order() {
    let text = TOOLING
        .replacen("id = \"off\"", "id = \"x\"", 1)
        .replacen("id = \"still\"", "id = \"off\"", 1)
        .replacen("id = \"x\"", "id = \"still\"", 1)
        .replacen("ask = \"confirm\"", "ask = \"x\"", 1)
        .replacen("ask = \"run-down\"", "ask = \"confirm\"", 1)
        .replacen("ask = \"x\"", "ask = \"run-down\"", 1);
    assert_eq!(faults(&text, ListKind::Tooling), ["full 1.id: it must come after `off`"]);
}

#[test]
fn long_lists_are_refused() {
    let more = "\n[[repeat]]\nid = \"broom\"\ntext = \"Sweep.\"\nask = \"confirm\"\n";
    let text = TAKING_OFF.to_owned() + more;
    assert_eq!(faults(&text, ListKind::TakingOff), ["repeat: 6 steps are more than people keep to"]);
}

#[test]
fn placeholders_must_be_known() {
    let text = READY.replacen("{button}", "{buton}", 1);
    let all = read("list.toml", &text, ListKind::Ready).unwrap_err();
    assert_eq!(all[0].nearest.as_deref(), Some("button"));
}

#[test]
fn keys_go_with_what_is_asked() {
    let text = CHECKING.replacen("ask = \"choose\"", "ask = \"confirm\"\nunit = \"mm\"", 1);
    assert_eq!(
        faults(&text, ListKind::Checking),
        ["full 1.unit: `unit` means nothing here", "full 1.options: `options` means nothing here"]
    );
    let text = CHECKING.replacen("key = \"off\"", "key = \"as-drawn\"", 1);
    assert_eq!(faults(&text, ListKind::Checking), ["full 1.options 2.key: the option `as-drawn` is there twice"]);
}

#[test]
fn manual_spindles_are_switched_by_hand() {
    let shown = |spindle| {
        let facts = Facts { spindle, ..facts() };
        fill(&step(ListKind::Tooling, ListForm::Full, "off"), &facts).text
    };
    assert_eq!(shown(HandOn::Manual), "Switch the router off at its own switch and pull its plug.");
    assert_eq!(shown(HandOn::Controlled), "Switch the spindle's own supply off.");
}

#[test]
fn conditions_choose_the_steps() {
    let ids = |facts: &Facts| {
        let lists = lists();
        let steps = lists.steps(ListKind::Tooling, ListForm::Repeat, facts);
        steps.iter().map(|s| s.id.clone()).collect::<Vec<_>>()
    };
    assert_eq!(ids(&facts()), ["off", "still", "dial", "touch-z"]);
    let mut changed = Facts { spindle: HandOn::Controlled, ..facts() };
    changed.holds.insert(Only::BitChange);
    assert_eq!(ids(&changed), ["off", "still", "bit-diameter", "touch-z"]);
}

#[test]
fn texts_are_filled_in() {
    let shown = fill(&step(ListKind::Securing, ListForm::Full, "at-stop"), &facts());
    assert!(shown.text.starts_with("Lay the sheet with good side up, the grain either way."), "{}", shown.text);
    let shown = fill(&step(ListKind::Securing, ListForm::Full, "thickness-near-left"), &facts());
    assert!(shown.text.contains("the card says 18 mm"), "{}", shown.text);
    let wanted = Ask::Value { unit: "mm".to_owned(), expect: Some(18.0), least: 17.0, most: 19.0 };
    assert_eq!(shown.ask, wanted);
    let window = Some([Length::from_mm(17.8).unwrap(), Length::from_mm(18.35).unwrap()]);
    let known = Facts { thickness_window: window, ..facts() };
    let shown = fill(&step(ListKind::Securing, ListForm::Full, "thickness-near-left"), &known);
    assert!(shown.text.contains("the card says 18 mm; from 17.8 to 18.35 mm will do"), "{}", shown.text);
    let shown = fill(&step(ListKind::Tooling, ListForm::Full, "dial"), &facts());
    assert!(shown.text.contains("2.5, for 16000 rpm"), "{}", shown.text);
}

#[test]
fn nothing_known_still_reads() {
    for (kind, _) in ALL {
        for step in list(kind).full.iter().chain(&list(kind).repeat) {
            let shown = fill(step, &Facts::default());
            assert!(!shown.text.contains(['{', '}']), "{}", shown.text);
            assert!(shown.text.starts_with(char::is_uppercase), "{}", shown.text);
        }
    }
}

#[test]
fn wrong_readings_are_refused() {
    let step = step(ListKind::Securing, ListForm::Repeat, "thickness");
    let judge = |value| step.judge(&StepAnswer::Value { value }, &facts());
    assert_eq!(judge(18.3), Ok(()));
    assert_eq!(judge(19.0), Ok(()));
    let said = judge(15.1).unwrap_err();
    assert!(said.starts_with("15.1 mm is not what is wanted here (17 to 19 mm)."), "{said}");
    assert!(judge(f64::NAN).is_err());
    assert!(step.judge(&StepAnswer::Done, &facts()).is_err());
}

#[test]
fn fasteners_are_counted_exactly() {
    let step = step(ListKind::TakingOff, ListForm::Full, "fasteners");
    assert_eq!(step.judge(&StepAnswer::Value { value: 6.0 }, &facts()), Ok(()));
    let said = step.judge(&StepAnswer::Value { value: 5.0 }, &facts()).unwrap_err();
    assert!(said.contains("(6 pieces)"), "{said}");
}

#[test]
fn run_down_is_waited_for() {
    let step = step(ListKind::Tooling, ListForm::Repeat, "still");
    let turning = Facts { run_down_left: Seconds::of(3.2), ..facts() };
    assert!(step.judge(&StepAnswer::Still, &turning).unwrap_err().contains("wait 4 s more"));
    assert_eq!(step.judge(&StepAnswer::Still, &facts()), Ok(()));
    assert!(step.judge(&StepAnswer::Done, &facts()).is_err());
}

#[test]
fn every_part_is_graded() {
    let step = step(ListKind::Checking, ListForm::Repeat, "parts");
    let mut facts = Facts { parts: vec!["side".to_owned(); 3], graded: vec![0, 2], ..facts() };
    assert_eq!(step.judge(&StepAnswer::Done, &facts).unwrap_err(), "One part is not graded yet.");
    facts.graded.push(1);
    assert_eq!(step.judge(&StepAnswer::Done, &facts), Ok(()));
}

#[test]
fn wrong_choices_hold_the_list() {
    let text = CHECKING.replacen("ask = \"choose\"", "ask = \"choose\"\nright = [\"as-drawn\"]", 1);
    let list = read("l", &text, ListKind::Checking).unwrap();
    let judge = |key: &str| list.full[0].judge(&StepAnswer::Choice { key: key.to_owned() }, &facts());
    assert_eq!(judge("as-drawn"), Ok(()));
    assert!(judge("off").is_err());
    assert!(judge("maybe").is_err());
}

/// What is warm at closing time stays the business of whoever found it: the list does not go on, and says what to do.
#[test]
fn a_wrong_choice_says_what_to_do() {
    let step = step(ListKind::Closing, ListForm::Full, "slots");
    let said = step.judge(&StepAnswer::Choice { key: "warm".to_owned() }, &facts()).unwrap_err();
    assert!(said.starts_with("Stay with it."), "{said}");
    assert_eq!(step.judge(&StepAnswer::Choice { key: "cold".to_owned() }, &facts()), Ok(()));
    for kind in ListKind::OF_DAY {
        for step in &list(kind).full {
            let Asks::Choose { options, right } = &step.asks else { continue };
            let wrong = options.iter().filter(|o| !right.is_empty() && !right.contains(&o.key));
            assert!(wrong.into_iter().all(|o| o.then.is_some()), "{kind:?} {}", step.id);
        }
    }
}

#[test]
fn the_wall_switch_comes_last() {
    let more = "\n[[full]]\nid = \"door\"\ntext = \"Lock the door.\"\nask = \"confirm\"\n";
    let all = faults(&(CLOSING.replacen("id = \"swept\"", "id = \"bin\"", 1) + more), ListKind::Closing);
    assert!(all.iter().any(|f| f == "full: the list does not end with the step `wall-switch`"), "{all:?}");
}

#[test]
fn a_list_of_the_day_asks_nothing_of_a_sheet() {
    let all = faults(&OPENING.replacen("ask = \"confirm\"", "ask = \"touch-z\"", 2), ListKind::Opening);
    assert!(all.iter().any(|f| f == "full 5.ask: the step `fire` asks about a sheet"), "{all:?}");
    let short = "\n[[repeat]]\nid = \"a\"\ntext = \"Look.\"\nask = \"confirm\"\n";
    assert_eq!(
        faults(&(OPENING.to_owned() + short), ListKind::Opening),
        ["repeat: a list of the day has no short form"]
    );
    let all = faults(READY.split("[[repeat]]").next().unwrap(), ListKind::Ready);
    assert!(all.iter().any(|f| f.contains("repeat")), "{all:?}");
}

/// A value that proves that somebody looked is not shown before it is read.
#[test]
fn a_value_kept_back_is_not_shown() {
    let step = step(ListKind::HandOver, ListForm::Full, "calls");
    let known = Facts { calls: Some(3), ..facts() };
    let shown = fill(&step, &known);
    assert_eq!(shown.ask, Ask::Value { unit: "calls".to_owned(), expect: None, least: 0.0, most: 1000.0 });
    assert_eq!(step.judge(&StepAnswer::Value { value: 3.0 }, &known), Ok(()));
    let said = step.judge(&StepAnswer::Value { value: 2.0 }, &known).unwrap_err();
    assert!(!said.contains('3'), "{said}");
}

/// ANSI Z535.6: signal word, hazard, consequence, avoidance; NOTICE is for damage only. Over-warning blunts: a repeat
/// bears no caution that its first sheet did not.
#[test]
fn cautions_are_rare_and_whole() {
    for (kind, _) in ALL {
        let list = list(kind);
        assert!(list.full.iter().filter(|s| s.caution.is_some()).count() <= 2, "{kind:?}");
        assert!(list.repeat.iter().all(|s| s.caution.is_none()), "{kind:?}");
    }
}
