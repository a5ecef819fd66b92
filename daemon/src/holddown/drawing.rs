//! The drawing to hang at the machine: one page, to scale, readable in black and white, as SVG.
//!
//! May live here: the page and what is on it. May not: any figure that is not in the answer or the map.

mod page;
mod sheet;
#[cfg(test)]
mod tests;

use super::footing::Footing;
use crate::sheetmap::{Job, SheetMap};
use chargehand_types::card::Card;
use chargehand_types::holddown::{HoldDownAnswer, Paper, PaperSize, PlacePlanned, Tape};
use chargehand_types::quantity::{Length, plain};
use page::{Page, Weight};

/// What is drawn.
#[derive(Clone, Copy)]
pub struct Sheetful<'a> {
    /// The card.
    pub card: &'a Card,
    /// The material, for people.
    pub material: &'a str,
    /// Operations with their bits, for people.
    pub bits: &'a [String],
    /// What is swept.
    pub job: &'a Job,
    /// Pieces and tabs, where they are known.
    pub map: Option<&'a SheetMap>,
    /// Names of the operations, in the order of cutting.
    pub names: &'a [String],
    /// The fastener's room.
    pub footing: Footing,
    /// Rectangles of the waste board that nothing may go into, work mm.
    pub keep_out: &'a [[[f64; 2]; 2]],
    /// The places.
    pub answer: &'a HoldDownAnswer,
    /// The page.
    pub paper: Paper,
}

/// White around the page, mm.
const WHITE: f64 = 12.0;
/// Wide of the list of places, mm.
const LIST: f64 = 74.0;
/// Above the sheet: the heading. Below it: ruler and cautions, mm.
const HEAD: f64 = 36.0;
const FOOT: f64 = 50.0;
/// A line of the list, mm.
const ROW: f64 = 4.4;

/// Draws the page.
#[must_use]
pub fn draw_sheet(full: &Sheetful<'_>) -> String {
    let size = match full.paper.size {
        PaperSize::A4 => [210.0, 297.0],
        PaperSize::Letter => [215.9, 279.4],
    };
    let room = [size[0] - 2.0 * WHITE - LIST, size[1] - 2.0 * WHITE - HEAD - FOOT];
    let scale = scale(full.job.size, room);
    let mut page = Page::new(size);
    heading(&mut page, full, scale, size);
    sheet::draw(&mut page, full, scale, [WHITE + 6.0, size[1] - WHITE - FOOT]);
    list(&mut page, full, [size[0] - WHITE - LIST + 4.0, WHITE + HEAD], size[1] - WHITE - FOOT);
    foot(&mut page, scale, [WHITE, size[1] - WHITE - FOOT + 13.0]);
    page.done()
}

/// One to how much: the least whole number that fits.
fn scale(sheet: [f64; 2], room: [f64; 2]) -> f64 {
    ((sheet[0] / (room[0] - 8.0)).max(sheet[1] / room[1])).ceil().max(1.0)
}

fn heading(page: &mut Page, full: &Sheetful<'_>, scale: f64, size: [f64; 2]) {
    let card = full.card;
    let title = format!("Hold-down: {}", card.title);
    page.fitted([WHITE, WHITE + 5.0], 5.5, Weight::Bold, size[0] - 2.0 * WHITE, &title);
    let wide = |axis: usize| tape(card.sheet.size.get(axis).copied().unwrap_or_default(), full.paper.tape);
    let short: String = full.answer.revision.0.chars().take(10).collect();
    let lines = [
        format!("card {}, revision {short}", card.name),
        format!(
            "sheet {} x {}, {}, {} thick",
            wide(0),
            wide(1),
            full.material,
            tape(full.answer.thickness, full.paper.tape)
        ),
        format!("fastener: {}; air wanted {}", full.answer.fastener, tape(card.holddown.margin, full.paper.tape)),
        full.bits.join(";  "),
    ];
    for (n, line) in (0_u8..).zip(&lines) {
        page.fitted([WHITE, WHITE + 11.0 + 4.6 * f64::from(n)], 3.4, Weight::Plain, size[0] - 2.0 * WHITE, line);
    }
    page.text([WHITE, WHITE + HEAD - 4.0], 3.0, Weight::Plain, &format!("scale 1 : {}", plain(scale)));
}

/// The places with their distances, then what stands against them, then the pieces that come loose.
fn list(page: &mut Page, full: &Sheetful<'_>, at: [f64; 2], bottom: f64) {
    let mut pen = Pen { page, x: at[0], y: at[1], bottom, left: 0 };
    pen.row([("No.", Weight::Bold), ("from the left", Weight::Bold), ("from the front", Weight::Bold)]);
    for place in &full.answer.places {
        pen.place(place, full.paper.tape);
    }
    if full.answer.places.is_empty() {
        pen.line(Weight::Bold, "no place can be given");
    }
    pen.y += 1.5;
    for trouble in full.answer.troubles.iter().chain(&full.answer.left_out) {
        pen.folded("! ", trouble);
    }
    if let (Some(holds), Some(needs)) = (full.answer.holds_n, full.answer.needs_n) {
        pen.folded(
            "",
            &format!("They hold {:.0} N; {:.0} N are needed, safety included.", holds.value(), needs.value()),
        );
    }
    for said in sheet::loose(full) {
        pen.folded("* ", &said);
    }
    if pen.left > 0 {
        let left = pen.left;
        pen.y = bottom;
        pen.page.text([pen.x, pen.y], 3.2, Weight::Bold, &format!("and {left} lines more: ask for the list as text"));
    }
}

struct Pen<'p> {
    page: &'p mut Page,
    x: f64,
    y: f64,
    bottom: f64,
    /// Lines that found no room.
    left: u32,
}

impl Pen<'_> {
    fn line(&mut self, weight: Weight, text: &str) {
        if self.y + ROW > self.bottom - ROW {
            self.left += 1;
            return;
        }
        self.y += ROW;
        self.page.text([self.x, self.y], 3.2, weight, text);
    }

    fn place(&mut self, place: &PlacePlanned, unit: Tape) {
        let [left, front] = place.tape.map(|d| tape(d, unit));
        let weight = if place.hit { Weight::Bold } else { Weight::Plain };
        self.row([(&place.number.to_string(), Weight::Bold), (&left, weight), (&front, weight)]);
        if place.hit {
            self.row([("", weight), ("WOULD BE HIT", weight), ("", weight)]);
        }
    }

    /// One of three columns.
    fn row(&mut self, columns: [(&str, Weight); 3]) {
        if self.y + ROW > self.bottom - ROW {
            self.left += 1;
            return;
        }
        self.y += ROW;
        for (x, (text, weight)) in [0.0, 9.0, 37.0].into_iter().zip(columns) {
            self.page.text([self.x + x, self.y], 3.4, weight, text);
        }
    }

    /// At about 44 letters a line.
    fn folded(&mut self, mark: &str, text: &str) {
        let mut line = mark.to_owned();
        for word in text.split_whitespace() {
            if line.chars().count() + word.chars().count() > 43 {
                self.line(Weight::Plain, &line);
                line = "  ".to_owned();
            }
            line.push_str(word);
            line.push(' ');
        }
        self.line(Weight::Plain, line.trim_end());
    }
}

/// A ruler to check the print by, the signs, and the cautions.
fn foot(page: &mut Page, scale: f64, at: [f64; 2]) {
    let [x, y] = at;
    page.line([x, y], [x + 100.0, y], 0.3);
    for mm in 0..=10 {
        let tick = if mm % 5 == 0 { 3.0 } else { 1.8 };
        let at = x + 10.0 * f64::from(mm);
        page.line([at, y], [at, y - tick], 0.3);
    }
    page.text([x + 102.0, y], 3.2, Weight::Plain, "100 mm: measure it on the print");
    let stands_for = plain(scale * 100.0);
    let told =
        format!("If it is not 100 mm long, go by the figures alone. On the sheet it stands for {stands_for} mm.");
    page.text([x, y + 4.6], 3.0, Weight::Plain, &told);
    let signs = "Grey: no fastener's middle may stand here. Dark: cut. Hatched: the waste board takes none. Small boxes: tabs. *: comes loose.";
    page.fitted([x, y + 9.0], 3.0, Weight::Plain, 186.0, signs);
    let cautions = [
        "WARNING  A bit that strikes a screw or a clamp breaks, and the pieces can blind or injure. Put fasteners only where this",
        "page says, measure each one, count them back, and wear eye protection. A sheet that is not held can be thrown.",
        "CAUTION  The forces are reckoned from averages of sound wood; knots, worn holes and damp hold less. If a sheet moves, stop.",
        "The machine's manual, local rules and trained people come first. This page is no safety device.",
    ];
    for (n, line) in (0_u8..).zip(cautions) {
        page.fitted([x, y + 16.0 + 4.6 * f64::from(n)], 3.1, Weight::Plain, 186.0, line);
    }
}

/// A distance as a tape measure shows it: whole millimetres, or inches and sixteenths.
fn tape(length: Length, unit: Tape) -> String {
    match unit {
        Tape::Mm => format!("{} mm", plain((length.mm() * 10.0).round() / 10.0)),
        Tape::Inch => inches(length.mm() / 25.4),
    }
}

/// To the nearest sixteenth, in lowest terms.
fn inches(value: f64) -> String {
    let sign = if value < 0.0 { "-" } else { "" };
    let sixteenths = (value.abs() * 16.0).round();
    let (whole, mut over) = ((sixteenths / 16.0).floor(), (sixteenths % 16.0) as u32);
    let mut under = 16_u32;
    while over > 0 && over.is_multiple_of(2) {
        over /= 2;
        under /= 2;
    }
    match (whole > 0.0, over) {
        (_, 0) => format!("{sign}{whole:.0} in"),
        (true, _) => format!("{sign}{whole:.0} {over}/{under} in"),
        (false, _) => format!("{sign}{over}/{under} in"),
    }
}
