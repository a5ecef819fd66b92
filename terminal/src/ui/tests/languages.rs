//! The screens in every language: longer words find room where the English ones do.

use super::picture::{buffer, compare, compare_looks, text};
use super::pictures::{dialogs, every, helps, listed, looked_back, planned};
use crate::ui::language::in_language;
use crate::ui::model::Model;
use crate::ui::{Colours, Press, Symbols, Units, samples};
use crate::words::{SHIPPED, Words, english};

/// Every screen, dialog and page of help in a language, with the sizes it is drawn at.
pub fn all(words: &'static Words) -> Vec<(String, Model)> {
    let mut models: Vec<(String, Model)> = Vec::new();
    models
        .extend(every().into_iter().map(|(name, now)| (name.to_owned(), super::picture::heard(now, Symbols::Braille))));
    for (name, now) in [("value-inch", samples::value()), ("place-inch", samples::place())] {
        models.push((name.to_owned(), super::picture::heard_in(now, Symbols::Braille, Units::Inches)));
    }
    models.push(("sheets".to_owned(), listed(samples::cutting())));
    models.push(("day".to_owned(), planned()));
    models.extend(looked_back().into_iter().map(|(name, model)| (name.to_owned(), model)));
    models.extend(dialogs().into_iter().map(|(name, model)| (name.to_owned(), model)));
    models.extend(helps());
    for (_, model) in &mut models {
        model.settings.words = words;
        if let Some((now, _)) = &mut model.now {
            in_language(now, words);
        }
    }
    models
}

/// What is seen to be cut on a screen: an ellipsis that follows a letter, or a page that has no room.
fn cut(shown: &str, words: &Words) -> usize {
    let more = words.text("screen.more-room").trim_end_matches(['.', ')']).to_owned();
    let ellipses = shown.lines().filter(|l| {
        let chars: Vec<char> = l.chars().collect();
        chars.windows(2).any(|w| w[1] == '…' && !w[0].is_whitespace())
    });
    ellipses.count() + usize::from(shown.contains(more.get(..20).unwrap_or(&more)))
}

#[test]
fn longer_words_find_room_where_the_english_ones_do() {
    for (language, file) in SHIPPED {
        let words: &'static Words = Box::leak(Box::new(Words::read(file).unwrap()));
        for ((name, there), (_, here)) in all(words).iter().zip(all(english())) {
            for (wide, high) in [(80, 24), (120, 40), (200, 60)] {
                let (there, here) = (text(&buffer(there, wide, high)), text(&buffer(&here, wide, high)));
                let (cut_there, cut_here) = (cut(&there, words), cut(&here, english()));
                assert!(cut_there <= cut_here, "{language}: {name} at {wide}x{high}:\n{there}\n{here}");
            }
        }
    }
}

#[test]
fn a_cut_would_be_seen() {
    assert_eq!(cut("a line that is cu…\n", english()), 1);
    assert_eq!(cut("Looking what waits …\n", english()), 0);
    assert_eq!(cut(english().text("screen.more-room"), english()), 1);
}

/// Each screen, dialog and page of help, small, middling and large.
#[test]
fn every_screen_is_as_stored_at_three_sizes() {
    for (name, model) in all(english()) {
        for (wide, high) in [(80, 24), (120, 40), (200, 60)] {
            compare(&name, &model, wide, high);
        }
    }
}

/// How the screens look: the style of every cell, with colours and without.
#[test]
fn every_screen_looks_as_stored() {
    for (name, mut model) in all(english()) {
        for colours in [Colours::Named, Colours::None] {
            model.settings.colours = colours;
            compare_looks(&name, &model, 80, 24);
        }
    }
}

#[test]
fn spanish_screens_are_as_stored() {
    let spanish = crate::words::shipped("es").unwrap();
    for (name, model) in all(spanish) {
        compare(&format!("es-{name}"), &model, 80, 24);
    }
}

#[test]
fn a_plain_terminal_keeps_the_letters_of_spanish() {
    for (name, mut model) in all(crate::words::shipped("es").unwrap()) {
        model.settings.symbols = Symbols::Ascii;
        let shown = text(&buffer(&model, 80, 24));
        assert!(shown.is_ascii() && !shown.contains("??"), "{name}:\n{shown}");
    }
}

#[test]
fn what_a_key_says_is_in_the_language_too() {
    let mut model = super::picture::heard(samples::cutting(), Symbols::Braille);
    model.settings.words = crate::words::shipped("es").unwrap();
    let _ = model.take(crate::ui::Input::Key(Press::Char('f')), 3_000);
    assert!(model.said.unwrap().0.contains("pausa al salir de la madera"));
}
