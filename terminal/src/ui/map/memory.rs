//! The dots of a drawing's cuts, reckoned once for a size of the map and kept: a long program has more legs than can be
//! walked for every frame, and fewer dots.
//!
//! May live here: legs to dots, and when they are reckoned anew. May not: symbols, what is done.

use super::raster::{Ink, Raster};
use super::{Placing, Share};
use crate::ui::settings::Symbols;
use chargehand_types::check::{CutPath, Drawing};
use std::cell::RefCell;
use std::hash::{DefaultHasher, Hash, Hasher};

/// What was reckoned last; empty at first. It changes how long drawing takes, and never what is drawn.
#[derive(Debug, Default)]
pub struct Memory(RefCell<Option<Traced>>);

/// The dots of a drawing on a raster of one size.
#[derive(Debug)]
struct Traced {
    of: u64,
    symbols: Symbols,
    size: (usize, usize),
    paths: Vec<Vec<Dot>>,
}

/// A dot, and the leg of its path that sets it first.
#[derive(Debug, Clone, Copy)]
struct Dot {
    leg: u32,
    x: i32,
    y: i32,
}

impl Memory {
    /// Forgets: another drawing comes.
    pub fn forget(&self) {
        self.0.replace(None);
    }

    /// Inks every path of a drawing, as far as it is done.
    pub(super) fn ink(
        &self,
        drawing: &Drawing,
        symbols: Symbols,
        done: &[Share],
        place: &Placing,
        raster: &mut Raster,
    ) {
        let (of, size) = (mark(drawing), raster.size());
        let mut kept = self.0.borrow_mut();
        if !kept.as_ref().is_some_and(|t| t.of == of && t.symbols == symbols && t.size == size) {
            let paths = drawing.paths.iter().map(|path| trace(path, place, raster)).collect();
            *kept = Some(Traced { of, symbols, size, paths });
        }
        let Some(traced) = kept.as_ref() else { return };
        for (i, (dots, path)) in traced.paths.iter().zip(&drawing.paths).enumerate() {
            let share = done.get(i).copied().unwrap_or(0.0).clamp(0.0, 1.0);
            let legs = path.points.len().saturating_sub(1);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of a count of points")]
            let done = (legs as f64 * share).floor() as u32;
            for dot in dots {
                let ink = if dot.leg < done { Ink::Done } else { Ink::ToCome };
                raster.cut((dot.x.into(), dot.y.into()), ink);
            }
        }
    }
}

/// What tells a drawing from another: its size, its paths, their lines and ends.
fn mark(drawing: &Drawing) -> u64 {
    let mut hasher = DefaultHasher::new();
    (drawing.size[0], drawing.size[1], drawing.corner.x, drawing.corner.y).hash(&mut hasher);
    for path in &drawing.paths {
        (path.operation, path.lines, path.points.len()).hash(&mut hasher);
        for end in [path.points.first(), path.points.last()].into_iter().flatten() {
            end.map(f32::to_bits).hash(&mut hasher);
        }
    }
    hasher.finish()
}

/// The dots of a path in order; one that follows itself is kept once.
fn trace(path: &CutPath, place: &Placing, raster: &Raster) -> Vec<Dot> {
    let mut dots: Vec<Dot> = Vec::new();
    let ends: Vec<(f64, f64)> = path.points.iter().map(|p| place.dot(f64::from(p[0]), f64::from(p[1]))).collect();
    for (leg, pair) in ends.windows(2).enumerate() {
        let [from, to] = pair else { continue };
        let leg = u32::try_from(leg).unwrap_or(u32::MAX);
        for (x, y) in raster.line(*from, *to) {
            // far outside is outside, wherever it is
            let [x, y] = [x, y].map(|v| i32::try_from(v.clamp(-1_000_000, 1_000_000)).unwrap_or(-1));
            if !dots.last().is_some_and(|d| d.x == x && d.y == y) {
                dots.push(Dot { leg, x, y });
            }
        }
    }
    dots
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ui::map::{Shown, draw};
    use crate::ui::samples;
    use crate::ui::tests::settings;
    use ratatui::buffer::Buffer;
    use ratatui::layout::Rect;

    fn drawn(drawing: &Drawing, done: &[Share], memory: &Memory, wide: u16) -> Buffer {
        let area = Rect::new(0, 0, wide, 30);
        let mut buf = Buffer::empty(area);
        let shown = Shown { done, bit: None, places: None, hit: &[], enter: None, spot: None };
        draw(drawing, &shown, memory, area, &mut buf, settings(Symbols::Braille));
        buf
    }

    /// Whatever was drawn before: another share done, another size, another drawing.
    #[test]
    fn what_is_remembered_changes_no_picture() {
        let memory = Memory::default();
        let mut moved = samples::drawing();
        moved.paths[0].points[0] = [200.0, 250.0];
        for drawing in [samples::drawing(), moved] {
            for wide in [40, 24, 40] {
                for done in [[0.0, 0.0], [1.0, 0.3], [0.5, 1.0]] {
                    let fresh = drawn(&drawing, &done, &Memory::default(), wide);
                    assert_eq!(drawn(&drawing, &done, &memory, wide), fresh, "{wide} {done:?}");
                }
            }
        }
    }

    /// 200,000 legs of a tenth of a millimetre, to and fro over a pocket: far fewer dots than legs.
    #[test]
    fn many_legs_are_few_dots() {
        let mut drawing = samples::drawing();
        drawing.paths[1].points = (0..=200_000u32)
            .map(|i| {
                let along = (i % 8_000).abs_diff(4_000) as f32;
                [60.0 + along * 0.1, 100.0 + i as f32 * 0.005]
            })
            .collect();
        let memory = Memory::default();
        drawn(&drawing, &[], &memory, 40);
        let kept = memory.0.borrow();
        let dots: usize = kept.as_ref().unwrap().paths.iter().map(Vec::len).sum();
        assert!(dots < 20_000, "{dots} dots of 200,000 legs");
    }
}
