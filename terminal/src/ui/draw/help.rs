//! What is on the screen and what each key does, and more about the step where the list has more to say.
//!
//! May live here: these words. May not: keys that do not exist; the test of the keys reads this page.

use crate::ui::model::Model;
use crate::ui::page::Page;
use crate::ui::theme::Meaning;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Every key and what it does.
pub const KEYS: [(&str, &str); 9] = [
    ("space *", "hold now, from everywhere; for trouble there is the red button"),
    ("f", "hold at the next lift out of the wood"),
    ("w", "something is wrong: hold, and call somebody"),
    ("1 2 3 4", "do what stands beside the number (where no value is asked)"),
    ("0-9 .", "the value, where one is asked"),
    ("Enter", "answer the step, or say yes"),
    ("m", "everything that may be done, and why something may not"),
    ("arrows", "hand moves at the touch step (also l r a t; Page Up/Down or u d)"),
    ("n s d ? q", "Now, Sheets, Day, this page; leave, which stops nothing"),
];

/// Draws it.
pub fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let mut page = Page::new(area.width.min(100));
    if let Some(task) = model.standing().and_then(|n| n.task.as_ref()) {
        page.text(&task.step.text, Meaning::Strong);
        if let Some(help) = &task.step.help {
            page.text(help, Meaning::Plain);
        }
    }
    for (key, does) in KEYS {
        page.hanging(&format!("{key:<11}"), does, Meaning::Strong, Meaning::Plain);
    }
    page.gap();
    page.text(
        "On the map dotted lines are yet to be cut and solid ones were commanded; numbers are fasteners, + is the \
         bit. The lower edge of the map is the side where you stand.",
        Meaning::Plain,
    );
    page.keep(usize::from(area.height));
    page.draw(area, buf, model.settings.colours);
}
