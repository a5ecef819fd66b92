//! A grid of dots and the symbols that show it, cell by cell.
//!
//! May live here: dots, lines between them, symbols. May not: millimetres, sheets.

use crate::ui::settings::Symbols;

/// What a dot says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ink {
    /// Nothing there.
    Empty,
    /// Yet to come.
    ToCome,
    /// Commanded already.
    Done,
}

/// Dots of one cell across and down.
#[must_use]
pub const fn dots_a_cell(symbols: Symbols) -> (usize, usize) {
    match symbols {
        Symbols::Braille => (2, 4),
        Symbols::Block => (1, 2),
        Symbols::Ascii => (1, 1),
    }
}

/// A grid of dots.
#[derive(Debug)]
pub struct Raster {
    symbols: Symbols,
    wide: usize,
    high: usize,
    dots: Vec<Ink>,
}

impl Raster {
    /// An empty one of so many cells.
    #[must_use]
    pub fn new(symbols: Symbols, cells_wide: u16, cells_high: u16) -> Self {
        let (across, down) = dots_a_cell(symbols);
        let (wide, high) = (usize::from(cells_wide) * across, usize::from(cells_high) * down);
        Self { symbols, wide, high, dots: vec![Ink::Empty; wide * high] }
    }

    /// Dots across and down.
    #[must_use]
    pub const fn size(&self) -> (usize, usize) {
        (self.wide, self.high)
    }

    /// Sets a dot; from the top left. What is done stays done. Outside it nothing happens.
    pub fn dot(&mut self, x: i64, y: i64, ink: Ink) {
        let (Ok(x), Ok(y)) = (usize::try_from(x), usize::try_from(y)) else { return };
        if x < self.wide
            && let Some(dot) = self.dots.get_mut(y * self.wide + x)
        {
            *dot = (*dot).max(ink);
        }
    }

    /// The dots of a line between two, its ends among them.
    pub fn line(&self, from: (f64, f64), to: (f64, f64)) -> impl Iterator<Item = (i64, i64)> + use<> {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let longest = (self.wide + self.high) as f64 * 2.0;
        let steps = dx.abs().max(dy.abs()).ceil().clamp(1.0, longest.max(1.0));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped just above")]
        let count = steps as usize;
        (0..=count).map(move |i| {
            let t = i as f64 / steps;
            #[allow(clippy::cast_possible_truncation, reason = "casts to whole numbers saturate")]
            let dot = ((from.0 + dx * t).round() as i64, (from.1 + dy * t).round() as i64);
            dot
        })
    }

    /// A dot of a cut; what is to come is dotted, so that it differs by shape too.
    pub fn cut(&mut self, (x, y): (i64, i64), ink: Ink) {
        if ink == Ink::Done || x.saturating_add(y).rem_euclid(3) == 0 {
            self.dot(x, y, ink);
        }
    }

    fn at(&self, x: usize, y: usize) -> Ink {
        self.dots.get(y * self.wide + x).copied().unwrap_or(Ink::Empty)
    }

    /// The symbol of a cell, and the strongest ink in it; none where it is empty.
    #[must_use]
    pub fn cell(&self, column: u16, row: u16) -> Option<(char, Ink)> {
        let (across, down) = dots_a_cell(self.symbols);
        let (left, top) = (usize::from(column) * across, usize::from(row) * down);
        let mut strongest = Ink::Empty;
        let mut set = 0u32;
        for y in 0..down {
            for x in 0..across {
                let ink = self.at(left + x, top + y);
                strongest = strongest.max(ink);
                if ink != Ink::Empty {
                    set |= bit(self.symbols, x, y);
                }
            }
        }
        (strongest != Ink::Empty).then(|| (symbol(self.symbols, set, strongest), strongest))
    }
}

/// The bit of a dot in its cell's symbol. Braille: Unicode 15, block U+2800, dots 1-8 in column order.
const fn bit(symbols: Symbols, x: usize, y: usize) -> u32 {
    match symbols {
        Symbols::Braille => match (x, y) {
            (0, 0) => 0x01,
            (0, 1) => 0x02,
            (0, 2) => 0x04,
            (1, 0) => 0x08,
            (1, 1) => 0x10,
            (1, 2) => 0x20,
            (0, _) => 0x40,
            (_, _) => 0x80,
        },
        Symbols::Block => 1 << y,
        Symbols::Ascii => 1,
    }
}

const fn symbol(symbols: Symbols, set: u32, strongest: Ink) -> char {
    match symbols {
        Symbols::Braille => match char::from_u32(0x2800 + set) {
            Some(c) => c,
            None => '?',
        },
        Symbols::Block => match set {
            1 => '▀',
            2 => '▄',
            _ => '█',
        },
        Symbols::Ascii => match strongest {
            Ink::Done => '#',
            Ink::ToCome | Ink::Empty => '.',
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn braille_dots_land_where_unicode_has_them() {
        let mut r = Raster::new(Symbols::Braille, 1, 1);
        r.dot(0, 0, Ink::Done);
        r.dot(1, 3, Ink::Done);
        assert_eq!(r.cell(0, 0), Some(('⢁', Ink::Done)));
    }

    #[test]
    fn a_line_to_come_is_dotted() {
        let mut r = Raster::new(Symbols::Ascii, 9, 2);
        for (row, ink) in [(0.0, Ink::ToCome), (1.0, Ink::Done)] {
            r.line((0.0, row), (8.0, row)).for_each(|dot| r.cut(dot, ink));
        }
        let row = |y| (0..9).map(|x| r.cell(x, y).map_or(' ', |c| c.0)).collect::<String>();
        assert_eq!(row(0), ".  .  .  ");
        assert_eq!(row(1), "#########");
    }

    #[test]
    fn outside_is_nowhere() {
        let mut r = Raster::new(Symbols::Block, 2, 2);
        r.line((-1e9, -1e9), (1e9, 1e9)).for_each(|dot| r.cut(dot, Ink::Done));
        r.line((f64::NAN, 0.0), (1.0, 1.0)).for_each(|dot| r.cut(dot, Ink::ToCome));
        r.dot(99, 0, Ink::Done);
        r.dot(-1, 0, Ink::Done);
        assert_eq!(Raster::new(Symbols::Block, 0, 0).cell(0, 0), None);
    }
}
