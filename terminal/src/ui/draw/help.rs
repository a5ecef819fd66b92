//! What is on the screen it was opened from and what each key does there, and more about the step where the list has
//! more to say.
//!
//! May live here: these words. May not: keys that do not exist; the test of the keys reads this page.

use crate::ui::model::{Model, Screen};
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

type Keys = &'static [(&'static str, &'static str)];

/// The keys that are the same everywhere.
const EVERYWHERE: Keys = &[
    ("space *", "hold now, from everywhere; for trouble there is the red button"),
    ("f", "hold at the next lift out of the wood"),
    ("w", "something is wrong: hold, and call somebody"),
    ("m", "everything that may be done, and why something may not"),
    ("n s d h o", "Now, Sheets, Day, History, Shop"),
    ("? q", "this page; leave, which stops nothing"),
];

/// What a screen shows, and its own keys.
fn about(screen: Screen) -> (&'static str, Keys) {
    match screen {
        Screen::Now | Screen::Help => (
            "Now: what happens, the one step to do, the sheet from above, and how to stop. On the map dotted lines are \
             yet to be cut and solid ones were commanded; numbers are fasteners, + is the bit. The lower edge of the \
             map is the side where you stand.",
            &[
                ("1 2 3 4", "do what stands beside the number (where no value is asked)"),
                ("0-9 .", "the value, where one is asked"),
                ("Enter", "answer the step, or say yes"),
                ("+ -", "cut faster or slower, while it cuts"),
                ("arrows", "hand moves at the touch step (also l r a t; Page Up/Down or u d)"),
            ],
        ),
        Screen::Sheets => (
            "Sheets: what waits, the next one first, how long each takes and when it is due; below it the card of the \
             chosen sheet and what the check found; beside it the sheet from above.",
            &[("Up Down", "choose a sheet"), ("Enter", "take the chosen sheet onto the machine next")],
        ),
        Screen::Day => (
            "Day: when somebody is in, what the machine does and when you are needed, hour by hour; below it the same \
             as a list. A time is a forecast: it moves with the work.",
            &[],
        ),
        Screen::History => (
            "History: sheets with the time each was cut for; the revisions of a card side by side; how much of each \
             bit's life is cut. A bar is longer where there is more of it.",
            &[
                ("1 2 3", "sheets, revisions, bits (also Left and Right)"),
                ("Up Down", "choose a line, or a card"),
                ("Enter", "look again"),
            ],
        ),
        Screen::Shop => (
            "Shop: the machine and whether it answers, who is here, the bits, and what the daemon found when it looked \
             whether everything is in place; what is wrong stands first.",
            &[("Up Down", "what stands above or below"), ("Enter", "look again")],
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
    let (text, keys) = about(model.help_of);
    for (key, does) in keys.iter().chain(EVERYWHERE) {
        page.hanging(&format!("{key:<11}"), does, Meaning::Strong, Meaning::Plain);
    }
    page.gap();
    page.text(text, Meaning::Plain);
    page.scroll(model.past.above, usize::from(area.height));
    page.draw(area, buf, model.settings.colours);
}
