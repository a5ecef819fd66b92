//! Every step of the shipped lists on the smallest usual screen: what to press stands on it, whatever else there is room for.

use super::picture::{buffer, heard, text};
use crate::ui::{Symbols, samples};
use crate::words::{SHIPPED, Words};
use chargehand_types::checklist::{Ask, Caution, Choice, Leg, Step};
use chargehand_types::now::Now;
use chargehand_types::quantity::{Length, Point, Spot};
use std::path::Path;

fn word(table: &toml::Table, key: &str) -> Option<String> {
    table.get(key).and_then(toml::Value::as_str).map(str::to_owned)
}

fn ask(table: &toml::Table) -> Ask {
    let mm = |v| Length::from_mm(v).unwrap();
    let at = |x, y| Spot { x: mm(x), y: mm(y) };
    match word(table, "ask").unwrap().as_str() {
        "confirm" => Ask::Confirm,
        "value" => Ask::Value { unit: word(table, "unit").unwrap(), expect: Some(18.0), least: 17.0, most: 19.0 },
        "choose" => {
            let options = table["options"].as_array().unwrap().iter().map(|o| o.as_table().unwrap());
            let option = |o: &toml::Table| Choice { key: "a".into(), text: word(o, "text").unwrap(), then: None };
            Ask::Choose { options: options.map(option).collect() }
        }
        "place" => Ask::Place {
            places: (0..8).map(|n| at(20.0 + 570.0 * f64::from(n % 2), 20.0 + 150.0 * f64::from(n))).collect(),
            fastener: "4.0 x 25 countersunk wood screw".into(),
        },
        "run-down" => Ask::RunDown { seconds: 12.0, left: 0.0 },
        "touch-z" => Ask::TouchZ { leg: None },
        "touch-again" => Ask::TouchAgain { at: at(120.0, 200.0) },
        "hover" => {
            let leg = Leg { axis: chargehand_types::act::Axis::X, by: mm(120.0) };
            Ask::Hover { at: at(5.0, 5.0), leg: Some(leg), there: false }
        }
        "parts" => Ask::Parts { names: vec!["side".into()], graded: Vec::new() },
        other => panic!("{other}"),
    }
}

/// Every step of every list, on a sheet that is being prepared.
fn every_step() -> Vec<Now> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../config/checklists");
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let file = String::from_utf8(crate::outside::file(&entry.unwrap().path()).unwrap()).unwrap();
        let list: toml::Table = file.parse().unwrap();
        let steps = ["full", "repeat"].into_iter().filter_map(|form| list.get(form)?.as_array());
        for step in steps.flatten().map(|s| s.as_table().unwrap()) {
            let mut now = samples::place();
            let task = now.task.as_mut().unwrap();
            task.title = word(&list, "title").unwrap();
            task.step = Step {
                id: word(step, "id").unwrap(),
                text: word(step, "text").unwrap().replace(
                    "{spot}",
                    "at 110 and 200 mm from left and front, where 22 mm round stays uncut (fastener 2 is 50 mm off)",
                ),
                help: word(step, "help"),
                caution: step.get("caution").map(|c| c.clone().try_into::<Caution>().unwrap()),
                ask: ask(step),
                killer: false,
                spot: None,
            };
            if let (Ask::TouchAgain { at }, Some(bit)) = (ask(step), now.machine.at) {
                // where the cut ended, and over the place
                let mut over = now.clone();
                over.machine.at = Some(Point { x: at.x, y: at.y, ..bit });
                found.push(over);
            }
            found.push(now);
        }
    }
    assert!(found.len() > 60, "the lists were read");
    // no list's file has it
    found.extend([samples::raise(false), samples::raise(true), samples::lot(None), samples::lot(Some("P-2611"))]);
    found
}

/// The last line of each kind of step.
fn to_press(now: &Now, words: &Words) -> Vec<String> {
    let line = |key: &'static str| vec![words.text(key).split('{').next().unwrap_or_default().trim().to_owned()];
    match &now.task.as_ref().unwrap().step.ask {
        Ask::Confirm => line("step.confirm"),
        Ask::Value { .. } => [line("step.you-read"), line("step.possible")].concat(),
        Ask::Choose { .. } => line("step.type-number"),
        Ask::Place { .. } => line("step.seated"),
        Ask::RunDown { .. } => line("step.still"),
        Ask::TouchZ { .. } => line("step.touches"),
        Ask::TouchAgain { at } if now.machine.at.is_some_and(|bit| bit.x != at.x) => line("step.go"),
        Ask::TouchAgain { .. } => line("step.touches-again"),
        Ask::Hover { .. } | Ask::Raise { clear: false, .. } => line("step.go"),
        Ask::Lot { carried: true, .. } => line("step.confirm"),
        Ask::Lot { before: None, .. } => line("step.no-lot"),
        Ask::Lot { .. } => line("step.same-lot"),
        Ask::Raise { clear: true, .. } => line("step.clear"),
        Ask::Parts { .. } => line("step.type-it"),
    }
}

#[test]
fn what_to_press_stands_on_the_smallest_usual_screen() {
    for (language, file) in SHIPPED {
        let words: &'static Words = Box::leak(Box::new(Words::read(file).unwrap()));
        for now in every_step() {
            let task = now.task.clone().unwrap();
            let mut model = heard(now.clone(), Symbols::Braille);
            model.settings.words = words;
            if let Some((now, _)) = &mut model.now {
                crate::ui::language::in_language(now, words);
            }
            let shown = text(&buffer(&model, 80, 24));
            let flat: String = shown.split_whitespace().collect::<Vec<_>>().join(" ");
            for part in to_press(&now, words) {
                // long lines are folded, and the picture stands beside them
                let found = part.split_whitespace().all(|w| flat.contains(w));
                assert!(found, "{language}: {} {}: {part}\n{shown}", task.title, task.step.id);
            }
        }
    }
}

/// On a screen that is too low for all of a step its last line stays.
#[test]
fn what_to_press_is_the_last_to_go() {
    for now in every_step() {
        let task = now.task.clone().unwrap();
        if matches!(task.step.ask, Ask::Value { .. } | Ask::Hover { .. } | Ask::Choose { .. }) {
            continue;
        }
        let shown = text(&buffer(&heard(now.clone(), Symbols::Braille), 60, 18));
        let flat: String = shown.split_whitespace().collect::<Vec<_>>().join(" ");
        for part in to_press(&now, crate::words::english()) {
            let last = part.split_whitespace().last().unwrap().to_owned();
            assert!(flat.contains(&last), "{} {}: {part}\n{shown}", task.title, task.step.id);
        }
    }
}

#[test]
fn only_a_wrong_answer_is_told_as_not_yet() {
    let drawn = |to_know: bool| {
        let mut now = samples::value();
        now.task.as_mut().unwrap().to_know = to_know;
        text(&buffer(&heard(now, Symbols::Braille), 80, 24))
    };
    assert!(drawn(false).contains("Not yet: 16.9 mm"), "{}", drawn(false));
    assert!(drawn(true).contains(" 16.9 mm") && !drawn(true).contains("Not yet"), "{}", drawn(true));
}
