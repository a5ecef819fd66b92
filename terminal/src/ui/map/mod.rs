//! The sheet seen from above: its edge, the cuts done and to come, the fasteners by number, the bit now.
//!
//! It is a map, not a ruler, and is never turned: what is left on the screen is left on the machine. May live here:
//! millimetres to cells. May not: what is done; the caller says so.

mod memory;
mod raster;

pub use memory::Memory;

use super::settings::Settings;
use super::theme::{Meaning, style};
use chargehand_types::check::Drawing;
use chargehand_types::quantity::{Point, Spot};
use raster::{Ink, Raster};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// How far a path was commanded, 0 to 1.
pub type Share = f64;

/// What is drawn beside the drawing itself.
pub struct Shown<'a> {
    /// How far each path of the drawing was commanded, in its order; missing ones are yet to come.
    pub done: &'a [Share],
    /// The bit now.
    pub bit: Option<Point>,
    /// Fastener places to show in place of the drawing's own.
    pub places: Option<&'a [Spot]>,
    /// Which of them the bit would hit.
    pub hit: &'a [usize],
    /// Where a stopped operation would be entered again.
    pub enter: Option<Point>,
    /// Where the step on the screen wants the touch plate or the bit, and its letter.
    pub spot: Option<(Spot, &'static str)>,
}

/// The cells a sheet of this shape takes in a room, its edge included: columns and rows.
#[must_use]
pub fn cells(drawing: &Drawing, room: Rect) -> (u16, u16) {
    let (wide, high) = (drawing.size[0].mm(), drawing.size[1].mm());
    if wide <= 0.0 || high <= 0.0 || room.width < 6 || room.height < 5 {
        return (0, 0);
    }
    // a cell is about twice as high as wide
    let scale = (wide / f64::from(room.width - 2)).max(high / (f64::from(room.height - 2) * 2.0));
    let (columns, rows) = ((wide / scale).round().max(1.0), (high / scale / 2.0).round().max(1.0));
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "no larger than the room")]
    let (columns, rows) = (columns as u16, rows as u16);
    (columns + 2, rows + 2)
}

/// Draws the sheet into the top left of an area that has at least [`cells`].
pub fn draw(drawing: &Drawing, shown: &Shown, memory: &Memory, area: Rect, buf: &mut Buffer, settings: Settings) {
    let (columns, rows) = cells(drawing, area);
    if columns < 3 || rows < 3 {
        return;
    }
    let frame = Rect { width: columns, height: rows, ..area };
    edge(frame, buf, settings);
    let inner = Rect { x: frame.x + 1, y: frame.y + 1, width: columns - 2, height: rows - 2 };
    let mut raster = Raster::new(settings.symbols, inner.width, inner.height);
    let place = Placing::new(drawing, &raster);
    memory.ink(drawing, settings.symbols, shown.done, &place, &mut raster);
    ink(&raster, inner, buf, settings);
    fasteners(drawing, shown, &place, inner, buf, settings);
    if let Some((at, letter)) = shown.spot {
        let look = style(Meaning::Needed, settings.colours);
        mark_at(&place, at.x.mm(), at.y.mm(), letter, look, inner, buf, settings);
    }
    if let Some(at) = shown.enter {
        let look = style(Meaning::Needed, settings.colours);
        mark_at(&place, at.x.mm(), at.y.mm(), "x", look, inner, buf, settings);
    }
    if let Some(at) = shown.bit {
        let mark = style(Meaning::Bit, settings.colours);
        mark_at(&place, at.x.mm(), at.y.mm(), "+", mark, inner, buf, settings);
    }
}

fn edge(frame: Rect, buf: &mut Buffer, settings: Settings) {
    use super::settings::Symbols;
    let [tl, tr, bl, br, across, down] = match settings.symbols {
        Symbols::Braille | Symbols::Block => ["┌", "┐", "└", "┘", "─", "│"],
        Symbols::Ascii => ["+", "+", "+", "+", "-", "|"],
    };
    let look = style(Meaning::Plain, settings.colours);
    let (left, right, top, bottom) = (frame.left(), frame.right() - 1, frame.top(), frame.bottom() - 1);
    let mut put = |x: u16, y: u16, s: &str| {
        buf.set_stringn(x, y, s, 1, look);
    };
    for x in left + 1..right {
        put(x, top, across);
        put(x, bottom, across);
    }
    for y in top + 1..bottom {
        put(left, y, down);
        put(right, y, down);
    }
    for (x, y, s) in [(left, top, tl), (right, top, tr), (left, bottom, bl), (right, bottom, br)] {
        put(x, y, s);
    }
}

fn ink(raster: &Raster, inner: Rect, buf: &mut Buffer, settings: Settings) {
    for row in 0..inner.height {
        for column in 0..inner.width {
            if let Some((symbol, ink)) = raster.cell(column, row) {
                let meaning = match ink {
                    Ink::Done => Meaning::CutDone,
                    Ink::ToCome | Ink::Empty => Meaning::CutToCome,
                };
                let mut text = [0; 4];
                let text = symbol.encode_utf8(&mut text);
                buf.set_stringn(inner.x + column, inner.y + row, text, 1, style(meaning, settings.colours));
            }
        }
    }
}

/// Work coordinates to dots from the top left.
struct Placing {
    corner: (f64, f64),
    scale: (f64, f64),
    size: (f64, f64),
}

impl Placing {
    fn new(drawing: &Drawing, raster: &Raster) -> Self {
        let (wide, high) = raster.size();
        let size = ((wide.max(1) - 1) as f64, (high.max(1) - 1) as f64);
        let millimetres = (drawing.size[0].mm().max(1e-3), drawing.size[1].mm().max(1e-3));
        Self {
            corner: (drawing.corner.x.mm(), drawing.corner.y.mm()),
            scale: (size.0 / millimetres.0, size.1 / millimetres.1),
            size,
        }
    }

    fn dot(&self, x: f64, y: f64) -> (f64, f64) {
        ((x - self.corner.0) * self.scale.0, self.size.1 - (y - self.corner.1) * self.scale.1)
    }
}

fn fasteners(drawing: &Drawing, shown: &Shown, place: &Placing, inner: Rect, buf: &mut Buffer, settings: Settings) {
    let look = style(Meaning::Fastener, settings.colours);
    match shown.places {
        Some(places) => {
            for (i, at) in places.iter().enumerate() {
                let hit = shown.hit.contains(&i);
                let (mark, look) = if hit {
                    (format!("{}!", i + 1), style(Meaning::Abnormal, settings.colours))
                } else {
                    ((i + 1).to_string(), look)
                };
                mark_at(place, at.x.mm(), at.y.mm(), &mark, look, inner, buf, settings);
            }
        }
        None => {
            for f in &drawing.fasteners {
                mark_at(place, f.at.x.mm(), f.at.y.mm(), &f.number.to_string(), look, inner, buf, settings);
            }
        }
    }
}

/// Puts a short text over the cell of a place, moved in from the edge where it would not fit.
#[allow(clippy::too_many_arguments, reason = "a place, a mark and the canvas; a type for them would be used once")]
fn mark_at(
    place: &Placing,
    x: f64,
    y: f64,
    text: &str,
    look: ratatui::style::Style,
    inner: Rect,
    buf: &mut Buffer,
    settings: Settings,
) {
    let (across, down) = raster::dots_a_cell(settings.symbols);
    let (dx, dy) = place.dot(x, y);
    let long = u16::try_from(text.len()).unwrap_or(u16::MAX).min(inner.width);
    let cell = |dot: f64, dots: usize, most: u16| {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the area")]
        let cell = (dot.round() / dots as f64).floor().clamp(0.0, f64::from(most)) as u16;
        cell
    };
    let column = cell(dx, across, inner.width.saturating_sub(long));
    let row = cell(dy, down, inner.height.saturating_sub(1));
    buf.set_stringn(inner.x + column, inner.y + row, text, usize::from(long), look);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ui::samples;
    use crate::ui::settings::{Colours, Symbols, Zone};

    fn picture(symbols: Symbols, done: &[Share]) -> String {
        let area = Rect::new(0, 0, 24, 14);
        let mut buf = Buffer::empty(area);
        let settings = Settings {
            symbols,
            colours: Colours::None,
            zone: Zone::Universal,
            words: crate::words::english(),
            units: crate::ui::Units::Millimetres,
        };
        let bit = Some(samples::point(300, 600, 5));
        draw(
            &samples::drawing(),
            &Shown { done, bit, places: None, hit: &[], enter: None, spot: None },
            &Memory::default(),
            area,
            &mut buf,
            settings,
        );
        (0..area.height)
            .map(|y| {
                let row: String = (0..area.width).map(|x| buf[(x, y)].symbol().to_owned()).collect();
                row.trim_end().to_owned() + "\n"
            })
            .collect()
    }

    #[test]
    fn the_origin_is_at_the_lower_left() {
        let text = picture(Symbols::Ascii, &[1.0, 0.0]);
        let rows: Vec<&str> = text.lines().collect();
        // fastener 1 stands near the origin, 4 at the far right
        assert!(rows[rows.len() - 3..].iter().any(|r| r.starts_with("|1")), "{text}");
        assert!(rows[1].ends_with("4|") || rows[1].contains('4'), "{text}");
        assert!(text.contains('#') && text.contains('.') && text.contains('+'), "{text}");
    }

    #[test]
    fn the_sheet_keeps_its_shape() {
        let (columns, rows) = cells(&samples::drawing(), Rect::new(0, 0, 60, 22));
        // 610 by 1220 mm: as wide as high in cells, since a cell is twice as high as wide
        assert_eq!((columns - 2, rows - 2), (20, 20));
        assert_eq!(cells(&samples::drawing(), Rect::new(0, 0, 4, 2)), (0, 0));
    }

    #[test]
    fn done_differs_by_shape() {
        for symbols in [Symbols::Braille, Symbols::Block, Symbols::Ascii] {
            assert_ne!(picture(symbols, &[0.0, 0.0]), picture(symbols, &[1.0, 1.0]), "{symbols:?}");
        }
    }
}
