//! Stored pictures: the text of a drawn screen compared with a file, and written anew when `UPDATE` is set.

use crate::outside;
use crate::ui::model::Model;
use crate::ui::{Colours, Input, Settings, Symbols, Units, Zone, draw, samples};
use crate::words;
use chargehand_types::now::Now;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use std::path::Path;

pub fn settings(symbols: Symbols) -> Settings {
    Settings {
        symbols,
        colours: Colours::Named,
        zone: Zone::Universal,
        words: words::english(),
        units: Units::Millimetres,
    }
}

/// A model that has just heard how things stand, two seconds into the life of the screens.
pub fn heard(now: Now, symbols: Symbols) -> Model {
    heard_in(now, symbols, Units::Millimetres)
}

/// The same, in a unit.
pub fn heard_in(now: Now, symbols: Symbols, units: Units) -> Model {
    let mut model = Model::new(Settings { units, ..settings(symbols) });
    let _ = model.take(Input::Linked, 0);
    let picture = now.sheet.as_ref().map(|s| (s.id.clone(), s.card.clone()));
    let _ = model.take(Input::Now(Box::new(Ok(now))), 0);
    if let Some((sheet, card)) = picture {
        let names = vec!["slots".to_owned(), "outlines".to_owned()];
        let _ = model.take(Input::SheetPicture(sheet, card, Box::new(Ok((samples::drawing(), names)))), 0);
    }
    let _ = model.take(Input::Tick, 2_000);
    model
}

pub fn buffer(model: &Model, wide: u16, high: u16) -> Buffer {
    let mut terminal = Terminal::new(TestBackend::new(wide, high)).unwrap();
    terminal.draw(|frame| draw(model, frame.area(), frame.buffer_mut())).unwrap();
    terminal.backend().buffer().clone()
}

pub fn text(buffer: &Buffer) -> String {
    let area = buffer.area;
    (area.top()..area.bottom())
        .map(|y| {
            let row: String = (area.left()..area.right()).map(|x| buffer[(x, y)].symbol().to_owned()).collect();
            row.trim_end().to_owned() + "\n"
        })
        .collect()
}

/// Compares a screen with its stored picture.
pub fn compare(name: &str, model: &Model, wide: u16, high: u16) {
    stored(&format!("{name}-{wide}x{high}"), &text(&buffer(model, wide, high)));
}

/// Compares how a screen looks with its stored picture: a letter a style, each explained at the end.
pub fn compare_looks(name: &str, model: &Model, wide: u16, high: u16) {
    let buffer = buffer(model, wide, high);
    let mut styles: Vec<String> = Vec::new();
    let mut drawn = String::new();
    for y in buffer.area.top()..buffer.area.bottom() {
        let mut row = String::new();
        for x in buffer.area.left()..buffer.area.right() {
            let cell = &buffer[(x, y)];
            let look = format!("{} on {}, {:?}", cell.fg, cell.bg, cell.modifier);
            let at = styles.iter().position(|s| *s == look).unwrap_or_else(|| {
                styles.push(look);
                styles.len() - 1
            });
            row.push(char::from(b"abcdefghijklmnopqrstuvwxyz"[at]));
        }
        // what is plain to the end of the line is left out
        drawn += &(row.trim_end_matches('b').to_owned() + "\n");
    }
    for (i, look) in styles.iter().enumerate() {
        drawn += &format!("{}: {look}\n", char::from(b"abcdefghijklmnopqrstuvwxyz"[i]));
    }
    let kind = if model.settings.colours == Colours::None { "plain" } else { "colours" };
    stored(&format!("looks/{name}-{kind}-{wide}x{high}"), &drawn);
}

fn stored(name: &str, drawn: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("src/ui/snapshots/{name}.txt"));
    if outside::variable("UPDATE").is_some() {
        outside::write_file(&path, drawn.as_bytes()).unwrap();
        return;
    }
    let stored = outside::file(&path).map(|b| String::from_utf8(b).unwrap()).unwrap_or_default();
    assert!(stored == drawn, "{name} is not as stored (UPDATE=1 stores it):\n{drawn}");
}
