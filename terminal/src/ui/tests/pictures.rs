//! Each screen as a stored picture, small and large, and what must hold of every one of them.

use super::picture::{buffer, compare, heard, settings, text};
use crate::day::tests::morning;
use crate::trouble::CARDS;
use crate::ui::model::{Intent, Model};
use crate::ui::{Colours, Input, Press, Symbols, Units, samples};
use chargehand_types::event::PositionTick;
use chargehand_types::holddown::{AirAnswer, PlaceMeasured};
use chargehand_types::now::Now;
use chargehand_types::quantity::{Length, Seconds, Spot, Tick};
use ratatui::style::{Color, Modifier};

pub fn every() -> Vec<(&'static str, Now)> {
    vec![
        ("idle", samples::idle()),
        ("lost-position", samples::lost_position()),
        ("cutting", samples::cutting()),
        ("alone", samples::alone()),
        ("held", samples::held()),
        ("stopped", samples::stopped()),
        ("may-go-on", samples::may_go_on()),
        ("ran-out", samples::ran_out()),
        ("value", samples::value()),
        ("warning", samples::warning()),
        ("place", samples::place()),
        ("choose", samples::choose()),
        ("run-down", samples::run_down()),
        ("touch", samples::touch()),
        ("touch-again", samples::touch_again()),
        ("touch-again-beside", samples::touch_again_beside()),
        ("fit-bit", samples::fit_bit()),
        ("hover", samples::hover(false)),
        ("hover-there", samples::hover(true)),
        ("touch-far", samples::touch_far()),
        ("touch-spot", samples::touch_spot()),
        ("lot", samples::lot(Some("P-2611"))),
        ("lot-carried", samples::lot_carried(Some("P-2611"))),
        ("no-lot-carried", samples::lot_carried(None)),
        ("lot-first", samples::lot(None)),
        ("raise", samples::raise(false)),
        ("raise-clear", samples::raise(true)),
        ("parts", samples::parts()),
        ("to-sign", samples::to_sign()),
        ("ready", samples::ready()),
    ]
}

pub fn listed(now: Now) -> Model {
    let mut model = heard(now, Symbols::Braille);
    let _ = model.take(Input::Key(Press::Char('s')), 3_000);
    let lists = (samples::sheets(), samples::cards());
    let _ = model.take(Input::Sheets(Box::new(Ok(lists))), 3_000);
    let picture = (samples::drawing(), Vec::new());
    let _ = model.take(Input::Picture("plant-stand-sides".into(), Box::new(Ok(picture))), 3_000);
    model
}

#[test]
fn now_is_as_stored() {
    for (name, now) in every() {
        let model = heard(now, Symbols::Braille);
        for (wide, high) in [(80, 24), (120, 40), (200, 60)] {
            compare(name, &model, wide, high);
        }
    }
}

/// A place is told by its mark on the map where the map is seen, and in words alone where it is not.
#[test]
fn a_mark_is_told_only_beside_the_map() {
    let mut told = [0, 0];
    for (name, now) in every() {
        for (wide, high) in [(60, 18), (80, 24), (120, 40), (200, 60)] {
            let shown = text(&buffer(&heard(now.clone(), Symbols::Braille), wide, high));
            let marked = shown.split_whitespace().collect::<Vec<_>>().join(" ").contains("on the map");
            let mapped = shown.contains('┌');
            assert!(mapped || !marked, "{name} at {wide}x{high}:\n{shown}");
            told[usize::from(marked)] += usize::from(name == "touch-spot" || name == "may-go-on");
        }
    }
    assert!(told.iter().all(|n| *n > 1), "both ways were seen: {told:?}");
}

#[test]
fn a_place_that_would_be_hit_is_as_stored() {
    let mut model = heard(samples::place(), Symbols::Braille);
    for press in [Press::PageDown, Press::Char('+'), Press::Up, Press::Up] {
        let _ = model.take(Input::Key(press), 3_000);
    }
    let places = model.placing.as_ref().unwrap().places.clone();
    let place = |(number, at): (usize, &Spot)| PlaceMeasured {
        at: *at,
        clearance_mm: Some(if number == 1 { 6.5 } else { 30.0 }),
        on_sheet: true,
        ok: number != 1,
        operation: Some("outlines".into()),
        line: Some(88),
        notes: Vec::new(),
    };
    let measured = places.iter().enumerate().map(place).collect();
    let mm = Length::whole_mm;
    let answer = AirAnswer { schema: 1, margin: mm(4), reach: mm(4), places: measured };
    let _ = model.take(Input::Air(places, Box::new(Ok(answer))), 3_010);
    compare("place-hit", &model, 80, 24);
    compare("place-hit", &model, 200, 60);
    // in word and shape, not only in colour
    assert!(text(&buffer(&model, 80, 24)).contains("WOULD BE HIT"));
    assert!(text(&buffer(&model, 80, 24)).contains("2!"));
}

#[test]
fn sheets_are_as_stored() {
    let model = listed(samples::cutting());
    compare("sheets", &model, 80, 24);
    compare("sheets", &model, 200, 60);
}

/// The Day screen with a plan of one morning.
pub fn planned() -> Model {
    let mut model = heard(samples::cutting(), Symbols::Braille);
    let intents = model.take(Input::Key(Press::Char('d')), 3_000);
    assert!(intents.contains(&Intent::LookPlan));
    let _ = model.take(Input::Plan(Box::new(Ok(morning()))), 3_000);
    model
}

#[test]
fn the_day_is_as_stored() {
    let model = planned();
    compare("day", &model, 80, 24);
    compare("day", &model, 200, 60);
    let shown = text(&buffer(&model, 80, 24));
    assert!(shown.contains("10:12  you are needed for 5 min"), "{shown}");
}

/// The five pages of History and the Shop.
pub fn looked_back() -> Vec<(&'static str, Model)> {
    let open = |keys: &str| {
        let mut model = heard(samples::cutting(), Symbols::Braille);
        for (i, c) in keys.chars().enumerate() {
            let intents = model.take(Input::Key(Press::Char(c)), 3_000);
            assert_eq!(i == 0, intents.iter().any(|i| matches!(i, Intent::LookRecords(Some(_)))));
        }
        let _ = model.take(Input::Records(Box::new(Ok(samples::records()))), 3_000);
        let _ = model.take(Input::Looks(Box::new(Ok(samples::looks()))), 3_000);
        model
    };
    vec![
        ("history-sheets", open("h")),
        ("history-revisions", open("h2")),
        ("history-bits", open("h3")),
        ("history-time", open("h4")),
        ("history-reasons", open("h5")),
        ("shop", open("o")),
    ]
}

#[test]
fn history_and_shop_are_as_stored() {
    for (name, model) in looked_back() {
        for (wide, high) in [(80, 24), (120, 40), (200, 60)] {
            compare(name, &model, wide, high);
        }
    }
    let shown: Vec<String> = looked_back().iter().map(|(_, m)| text(&buffer(m, 80, 24))).collect();
    assert!(shown[0].contains("noted: the left edge is a little fuzzy"), "{}", shown[0]);
    assert!(shown[1].contains("19 to 81 %") && shown[1].contains("2 to 40 %"), "{}", shown[1]);
    assert!(shown[2].contains("2 of 11"), "{}", shown[2]);
    for told in ["3 h 36 min, 45 %", "> 2026-02-25", "taking off and checking 28 min", "OEE -"] {
        assert!(shown[3].contains(told), "{told}: {}", shown[3]);
    }
    for told in ["torn face", "2 to rework, 1 scrap", "no reason given", "plant-stand-sides 2, seed-tray 1"] {
        assert!(shown[4].contains(told), "{told}: {}", shown[4]);
    }
    assert!(shown[5].find("WRONG").unwrap() < shown[3].find("a word").unwrap_or(usize::MAX), "{}", shown[5]);
}

#[test]
fn the_shop_marks_a_lost_daemon() {
    let (_, mut model) = looked_back().pop().unwrap();
    let _ = model.take(Input::LinkLost, 3_100);
    let shown = text(&buffer(&model, 80, 24));
    assert!(shown.contains("what stands here is old"), "{shown}");
    assert!(!shown.contains("X 300"), "an old position is not shown: {shown}");
}

#[test]
fn a_plain_terminal_gets_ascii_on_every_screen() {
    for (_, mut model) in looked_back() {
        model.settings.symbols = Symbols::Ascii;
        if let Some(now) = &mut model.now {
            now.0.machine.name = "Fräse Nº 1".into();
        }
        for (wide, high) in [(59, 17), (60, 18), (200, 60)] {
            let shown = text(&buffer(&model, wide, high));
            assert!(shown.is_ascii(), "{shown}");
        }
    }
}

#[test]
fn help_tells_about_the_screen_it_was_opened_from() {
    for (key, words) in [('s', "Sheets: what waits"), ('d', "Day: when"), ('h', "History: sheets"), ('o', "Shop: the")]
    {
        let mut model = heard(samples::cutting(), Symbols::Braille);
        for press in [Press::Char(key), Press::Char('?')] {
            let _ = model.take(Input::Key(press), 3_000);
        }
        for (wide, high) in [(80, 24), (200, 60)] {
            let shown = text(&buffer(&model, wide, high));
            assert!(shown.contains(words), "{key}: {shown}");
        }
        let from = model.help_of;
        let _ = model.take(Input::Key(Press::Enter), 3_000);
        assert_eq!(model.screen, from);
    }
}

/// The help of every screen, and of a step.
pub fn helps() -> Vec<(String, Model)> {
    let of = |now: Now, keys: &str| {
        let mut model = heard(now, Symbols::Braille);
        for key in keys.chars() {
            let _ = model.take(Input::Key(Press::Char(key)), 3_000);
        }
        model
    };
    let mut helps = vec![("help".to_owned(), of(samples::warning(), "?"))];
    for (key, name) in [('s', "sheets"), ('d', "day"), ('h', "history"), ('o', "shop")] {
        helps.push((format!("help-{name}"), of(samples::cutting(), &format!("{key}?"))));
    }
    helps
}

#[test]
fn help_is_as_stored() {
    for (name, model) in helps() {
        compare(&name, &model, 80, 24);
    }
}

/// Every dialog.
pub fn dialogs() -> Vec<(&'static str, Model)> {
    let open = |now: Now, presses: &[Press]| {
        let mut model = heard(now, Symbols::Braille);
        for press in presses {
            let _ = model.take(Input::Key(*press), 3_000);
        }
        model
    };
    let mut naming = open(samples::lost_position(), &[Press::Char('1')]);
    let _ = naming.take(Input::Known(vec!["Ada".into(), "Bo".into()]), 3_000);
    vec![
        ("confirm", open(samples::ready(), &[Press::Char('1')])),
        ("sign", open(samples::to_sign(), &[Press::Char('1')])),
        ("menu", open(samples::lost_position(), &[Press::Char('m')])),
        ("menu-full", open(samples::switched_on(), &[Press::Char('m')])),
        ("name", naming),
        ("why-not", open(samples::parts(), &[Press::Char('2'), Press::Enter])),
        ("lot-carried-typed", open(samples::lot_carried(Some("P-2611")), &[Press::Char('l'), Press::Char('Q')])),
        ("lot-typed", open(samples::lot(None), &[Press::Char('l'), Press::Char('P'), Press::Char('w')])),
        ("part-note", open(samples::parts(), &[Press::Char('2'), Press::Enter, Press::Char('0'), Press::Char('k')])),
    ]
}

#[test]
fn dialogs_are_as_stored() {
    for (name, model) in dialogs() {
        for (wide, high) in [(80, 24), (120, 40), (200, 60)] {
            compare(name, &model, wide, high);
        }
    }
}

/// Nine things to do, two of them not now: each is there by its number on the smallest usual screen, and how to go back.
#[test]
fn everything_that_may_be_done_is_listed_on_a_small_screen() {
    let (_, model) = dialogs().into_iter().find(|(name, _)| *name == "menu-full").unwrap();
    let shown = text(&buffer(&model, 80, 24));
    for part in ["1  Open the shop", "3  Find home. Not now", "9  After a power cut", "any other key goes back"] {
        assert!(shown.contains(part), "{part:?} is not on:\n{shown}");
    }
}

/// A list that is due is told with who may begin without it; under way it has its step and can be put down.
#[test]
fn lists_of_the_day_are_on_the_now_screen() {
    let shown = text(&buffer(&heard(samples::morning(), Symbols::Braille), 80, 24));
    for part in ["1  Open the shop by its list", "The shop is not opened yet today", "the owner may"] {
        assert!(shown.contains(part), "{part}\n{shown}");
    }
    let shown = text(&buffer(&heard(samples::opening(), Symbols::Braille), 80, 24));
    for part in ["Open the shop, step 3 of 7", "2  A fastener is in it", "Put this list down"] {
        assert!(shown.contains(part), "{part}\n{shown}");
    }
}

/// Each card whole on the smallest screen, the red button above all else and the ways to stop still in sight.
#[test]
fn short_cards_are_whole_on_every_size() {
    for number in 0..=CARDS.len() {
        let mut model = heard(samples::cutting(), Symbols::Braille);
        let _ = model.take(Input::Key(Press::Char('w')), 3_000);
        if let Some(c) = char::from_digit(u32::try_from(number).unwrap(), 10).filter(|_| number > 0) {
            let _ = model.take(Input::Key(Press::Char(c)), 3_500);
        }
        for (wide, high) in [(60, 18), (80, 24), (200, 60)] {
            let shown = text(&buffer(&model, wide, high));
            let end = if number == 0 { "Any other key" } else { "Any key" };
            for part in ["RED BUTTON", end, "To stop:"] {
                assert!(shown.contains(part), "{part} of card {number} at {wide}x{high}\n{shown}");
            }
            assert!(number == 0 || shown.contains("Here: "), "card {number} at {wide}x{high}\n{shown}");
        }
    }
}

#[test]
fn a_lost_daemon_is_as_stored() {
    let mut model = heard(samples::cutting(), Symbols::Braille);
    let _ = model.take(Input::LinkLost, 3_000);
    let _ = model.take(Input::Tick, 10_000);
    compare("not-heard", &model, 80, 24);
    let shown = text(&buffer(&model, 80, 24));
    assert!(shown.contains("Nothing is held by this screen"), "{shown}");
    assert!(shown.contains("Time left: ?"), "{shown}");
}

#[test]
fn other_symbols_are_as_stored() {
    for (name, symbols) in [("cutting-ascii", Symbols::Ascii), ("cutting-block", Symbols::Block)] {
        let model = heard(samples::cutting(), symbols);
        compare(name, &model, 80, 24);
    }
    let shown = text(&buffer(&heard(samples::cutting(), Symbols::Ascii), 80, 24));
    assert!(shown.is_ascii(), "{shown}");
}

#[test]
fn every_screen_names_the_three_ways_to_stop() {
    let mut models: Vec<Model> = every().into_iter().map(|(_, now)| heard(now, Symbols::Braille)).collect();
    models.push(listed(samples::cutting()));
    models.extend(looked_back().into_iter().map(|(_, model)| model));
    for model in &models {
        for (wide, high) in [(60, 18), (80, 24), (200, 60)] {
            let shown = text(&buffer(model, wide, high));
            let at = |what: &str| shown.find(what).unwrap_or_else(|| panic!("{what} in\n{shown}"));
            assert!(at("RED BUTTON") < at("hold now"));
            if let Some(lift) = shown.find("hold at the next lift") {
                assert!(at("hold now") < lift);
            }
        }
    }
}

#[test]
fn a_hold_that_waits_behind_the_buffer_says_how_long() {
    let mut now = samples::cutting();
    let said = |now: &Now| text(&buffer(&heard(now.clone(), Symbols::Braille), 80, 24));
    assert!(said(&now).contains("(at once; the bit keeps turning)"));
    now.machine.stops_after = Some(Seconds::of(12.0));
    assert!(said(&now).contains("(stops after about 12 s; bit turns)"), "{}", said(&now));
    let mut model = heard(now, Symbols::Braille);
    let _ = model.take(Input::Key(Press::Char(' ')), 3_000);
    let shown = text(&buffer(&model, 80, 24));
    assert!(shown.contains("Hold is asked for. It stops after about 12 s."), "{shown}");
    // it is late only after that
    let _ = model.take(Input::Tick, 10_000);
    assert!(!text(&buffer(&model, 80, 24)).contains("NOT CONFIRMED"));
    let _ = model.take(Input::Tick, 20_000);
    assert!(text(&buffer(&model, 80, 24)).contains("NOT CONFIRMED"));
}

#[test]
fn every_screen_says_what_the_daemon_wants_said() {
    for (name, now) in every() {
        let shown = text(&buffer(&heard(now, Symbols::Braille), 80, 24));
        assert!(shown.contains("Practice machine"), "{name}:\n{shown}");
    }
}

#[test]
fn no_screen_calls_a_key_an_emergency_stop() {
    for (name, now) in every() {
        let shown = text(&buffer(&heard(now, Symbols::Braille), 200, 60)).to_lowercase();
        for word in ["e-stop", "estop", "emergency stop"] {
            assert!(!shown.contains(word), "{name} says {word}");
        }
    }
}

#[test]
fn any_size_can_be_drawn() {
    let model = heard(samples::place(), Symbols::Braille);
    for (wide, high) in [(1, 1), (5, 2), (20, 3), (59, 18), (60, 17), (61, 19), (300, 10), (30, 100)] {
        let shown = text(&buffer(&model, wide, high));
        if wide < 60 || high < 18 {
            assert!(wide < 20 || shown.contains("Hold: space bar"), "{wide}x{high}\n{shown}");
        }
    }
}

#[test]
fn without_colours_nothing_is_lost() {
    let coloured = heard(samples::warning(), Symbols::Braille);
    let mut plain = heard(samples::warning(), Symbols::Braille);
    plain.settings.colours = Colours::None;
    let (a, b) = (buffer(&coloured, 80, 24), buffer(&plain, 80, 24));
    assert_eq!(text(&a), text(&b));
    assert!(b.content.iter().all(|c| c.fg == Color::Reset && c.bg == Color::Reset));
    let reversed = |c: &&ratatui::buffer::Cell| c.modifier.contains(Modifier::REVERSED);
    assert!(b.content.iter().filter(reversed).count() > 80, "the bar and the signal word stand out");
}

#[test]
fn only_named_colours_are_used() {
    for (name, now) in every() {
        for cell in buffer(&heard(now, Symbols::Braille), 200, 60).content {
            for colour in [cell.fg, cell.bg] {
                assert!(!matches!(colour, Color::Rgb(..) | Color::Indexed(_)), "{name}");
            }
        }
    }
}

#[test]
fn the_bit_and_the_time_follow_the_positions() {
    let mut model = heard(samples::cutting(), Symbols::Ascii);
    let tick = PositionTick {
        tick: Tick(0),
        at: Some(samples::point(100, 1000, -6)),
        line: Some(199),
        done: 0.9,
        left: Seconds::of(64.0),
    };
    let before = text(&buffer(&model, 80, 24));
    let _ = model.take(Input::Position(tick), 2_500);
    let after = text(&buffer(&model, 80, 24));
    assert!(after.contains("About 1 min left"), "{after}");
    assert_ne!(before, after);
}

#[test]
fn an_unconfirmed_hold_is_said() {
    let mut model = heard(samples::cutting(), Symbols::Braille);
    let _ = model.take(Input::Key(Press::Char(' ')), 2_000);
    let _ = model.take(Input::Tick, 4_100);
    let shown = text(&buffer(&model, 80, 24));
    assert!(shown.contains("NOT CONFIRMED"), "{shown}");
    let _ = model.take(Input::Now(Box::new(Ok(samples::held()))), 4_200);
    assert!(!text(&buffer(&model, 80, 24)).contains("NOT CONFIRMED"));
}

#[test]
fn the_first_screen_needs_no_daemon() {
    let model = Model::new(settings(Symbols::Braille));
    assert!(text(&buffer(&model, 80, 24)).contains("Looking for the daemon"));
}

/// A fraction as it is typed; 18 mm is 0.709 in.
#[test]
fn inches_are_as_stored() {
    let mut model = super::picture::heard_in(samples::value(), Symbols::Braille, Units::Inches);
    for c in "23/32".chars() {
        let _ = model.take(Input::Key(Press::Char(c)), 3_000);
    }
    for (wide, high) in [(80, 24), (120, 40), (200, 60)] {
        compare("typed-inch", &model, wide, high);
    }
    let mut model = super::picture::heard_in(samples::cutting(), Symbols::Braille, Units::Inches);
    let _ = model.take(Input::Key(Press::Char('h')), 3_000);
    let _ = model.take(Input::Records(Box::new(Ok(samples::records()))), 3_000);
    let shown = text(&buffer(&model, 80, 24));
    assert!(shown.contains("thickness 0.709 in"), "{shown}");
}
