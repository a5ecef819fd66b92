//! What is on the screen it was opened from and what each key does there, and more about the step where the list has
//! more to say.
//!
//! May live here: these words. May not: keys that do not exist; the test of the keys reads this page.

use crate::ui::model::{Model, Screen};
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use crate::words::{Words, say};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Keys and what they do.
type Keys = Vec<(String, String)>;

/// The keys that are the same everywhere.
fn everywhere(words: &Words) -> Keys {
    vec![
        (say!(words, "help.key-space"), say!(words, "help.space")),
        ("f".to_owned(), say!(words, "help.f")),
        ("w".to_owned(), say!(words, "help.w")),
        ("m".to_owned(), say!(words, "help.m")),
        ("n s d h o".to_owned(), say!(words, "help.screens")),
        ("? q".to_owned(), say!(words, "help.help")),
    ]
}

/// What a screen shows, and its own keys.
fn about(screen: Screen, words: &Words) -> (String, Keys) {
    let arrows = || say!(words, "help.key-up-down");
    let enter = || say!(words, "help.key-enter");
    match screen {
        Screen::Now | Screen::Help => (
            say!(words, "help.now"),
            vec![
                ("1 2 3 4".to_owned(), say!(words, "help.now-digits")),
                ("0-9 .".to_owned(), say!(words, "help.now-value")),
                (enter(), say!(words, "help.now-enter")),
                ("+ -".to_owned(), say!(words, "help.now-feed")),
                (say!(words, "help.key-arrows"), say!(words, "help.now-arrows")),
            ],
        ),
        Screen::Sheets => (
            say!(words, "help.sheets"),
            vec![(arrows(), say!(words, "help.sheets-arrows")), (enter(), say!(words, "help.sheets-enter"))],
        ),
        Screen::Day => (say!(words, "help.day"), Vec::new()),
        Screen::History => (
            say!(words, "help.history"),
            vec![
                ("1 2 3 4 5".to_owned(), say!(words, "help.history-digits")),
                (arrows(), say!(words, "help.history-arrows")),
                (enter(), say!(words, "help.look-again")),
            ],
        ),
        Screen::Shop => (
            say!(words, "help.shop"),
            vec![(arrows(), say!(words, "help.shop-arrows")), (enter(), say!(words, "help.look-again"))],
        ),
    }
}

/// Draws it.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let mut page = Page::new(area.width.min(100));
    if let Some(task) = model.standing().and_then(|n| n.task.as_ref()).filter(|_| model.help_of == Screen::Now) {
        page.text(&task.step.text, Meaning::Strong);
        if let Some(help) = &task.step.help {
            page.text(help, Meaning::Plain);
        }
    }
    let words = model.settings.words;
    let (text, keys) = about(model.help_of, words);
    for (key, does) in keys.iter().chain(&everywhere(words)) {
        page.hanging(&format!("{key:<11}"), does, Meaning::Strong, Meaning::Plain);
    }
    page.gap();
    page.text(&text, Meaning::Plain);
    page.scroll(model.past.above, usize::from(area.height), words);
    page.draw(area, buf, model.settings.colours);
}
