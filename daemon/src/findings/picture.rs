//! The sheet in characters: what a report on paper or a plain screen can show of the map.
//!
//! May live here: the small picture of a check. May not: the drawing of the screens and the page for the machine.

use super::material::Ground;

/// Characters across and down at most; a character is about twice as high as it is wide.
const ACROSS: usize = 60;
const DOWN: usize = 28;
/// Samples across a character each way.
const SAMPLES: usize = 5;

/// Rows from the far edge to the near one: pieces by letter, largest first; `.` cut through, `+` a tab, `o` a fastener.
pub(super) fn picture(ground: &Ground<'_>) -> Vec<String> {
    let [width, depth] = ground.job.size;
    if width <= 0.0 || depth <= 0.0 {
        return Vec::new();
    }
    let tall = (depth / DOWN as f64).max(2.0 * width / ACROSS as f64);
    let wide = tall / 2.0;
    let count = |length: f64, step: f64, most: usize| ((length / step).round().max(1.0) as usize).min(most);
    let (columns, rows) = (count(width, wide, ACROSS), count(depth, tall, DOWN));
    let (wide, tall) = (width / columns as f64, depth / rows as f64);
    let corner = |column: usize, row: usize| {
        [ground.job.corner[0] + column as f64 * wide, ground.job.corner[1] + row as f64 * tall]
    };
    let line = |row| (0..columns).map(|column| letter(ground, corner(column, row), [wide, tall])).collect::<String>();
    (0..rows).rev().map(line).map(|l| l.trim_end().to_owned()).collect()
}

fn letter(ground: &Ground<'_>, [x, y]: [f64; 2], [wide, tall]: [f64; 2]) -> char {
    let inside = |at: [f64; 2]| at[0] >= x && at[0] < x + wide && at[1] >= y && at[1] < y + tall;
    let fasteners = &ground.case.card.holddown.places;
    if fasteners.iter().any(|place| inside([place.at.x.mm(), place.at.y.mm()])) {
        return 'o';
    }
    let tabs = ground.map.regions().iter().flat_map(|region| &region.tabs);
    if tabs.filter_map(|tab| ground.map.tabs().get(*tab)).any(|tab| inside(tab.at)) {
        return '+';
    }
    if let Some(piece) = ground.map.piece_at([x + wide / 2.0, y + tall / 2.0]) {
        return name(piece);
    }
    let step = |k: usize, size: f64| (k as f64 + 0.5) / SAMPLES as f64 * size;
    let mut samples = (0..SAMPLES).flat_map(|i| (0..SAMPLES).map(move |k| (i, k)));
    let through = samples.any(|(i, k)| ground.map.is_through([x + step(i, wide), y + step(k, tall)]));
    if through { '.' } else { ' ' }
}

/// A piece by its number: A to Z, then a to z, then `#`.
pub(super) fn name(piece: usize) -> char {
    let letters = ('A'..='Z').chain('a'..='z');
    letters.into_iter().nth(piece).unwrap_or('#')
}
