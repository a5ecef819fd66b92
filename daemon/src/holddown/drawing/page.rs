//! SVG on one page measured in millimetres.
//!
//! May live here: strokes, shapes and text as SVG. May not: what they stand for.

use std::fmt::Write as _;

/// How strongly text is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    Plain,
    Bold,
}

/// The page so far. Y grows downwards, as on paper.
pub(super) struct Page {
    out: String,
}

/// From one slanting line to the next along an edge, mm.
const HATCH: f64 = 1.6;
/// Width of a letter over its height, on average (measured on common sans-serif faces).
const LETTER: f64 = 0.56;

impl Page {
    pub(super) fn new([wide, high]: [f64; 2]) -> Self {
        let mut out = String::new();
        // writing to a String cannot fail
        let _ = write!(
            out,
            r#"<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" viewBox="0 0 {wide} {high}" font-family="Liberation Sans, Arial, Helvetica, sans-serif">
<rect width="{wide}" height="{high}" fill="white"/>
"#
        );
        Self { out }
    }

    pub(super) fn text(&mut self, [x, y]: [f64; 2], size: f64, weight: Weight, text: &str) {
        let bold = if weight == Weight::Bold { r#" font-weight="bold""# } else { "" };
        let _ = writeln!(self.out, r#"<text x="{x:.2}" y="{y:.2}" font-size="{size}"{bold}>{}</text>"#, escaped(text));
    }

    /// In the middle of a place, on a white ground.
    pub(super) fn label(&mut self, [x, y]: [f64; 2], size: f64, text: &str) {
        let text = escaped(text);
        let _ = writeln!(
            self.out,
            r#"<text x="{x:.2}" y="{y:.2}" font-size="{size}" text-anchor="middle" font-weight="bold" stroke="white" stroke-width="0.9" stroke-linejoin="round">{text}</text><text x="{x:.2}" y="{y:.2}" font-size="{size}" text-anchor="middle" font-weight="bold">{text}</text>"#
        );
    }

    /// Smaller where it would be wider than the room.
    pub(super) fn fitted(&mut self, at: [f64; 2], size: f64, weight: Weight, room: f64, text: &str) {
        let wide = text.chars().count() as f64 * size * LETTER;
        let size = if wide > room { size * room / wide } else { size };
        self.text(at, (size * 100.0).round() / 100.0, weight, text);
    }

    pub(super) fn line(&mut self, [x1, y1]: [f64; 2], [x2, y2]: [f64; 2], wide: f64) {
        let _ = writeln!(
            self.out,
            r#"<line x1="{x1:.2}" y1="{y1:.2}" x2="{x2:.2}" y2="{y2:.2}" stroke="black" stroke-width="{wide}"/>"#
        );
    }

    /// A run of straights with round ends.
    pub(super) fn run(&mut self, points: &[[f64; 2]], wide: f64, colour: &str) {
        let Some([x, y]) = points.first() else { return };
        let _ = write!(self.out, r#"<path d="M{x:.2} {y:.2}"#);
        // a single place is a dot
        let rest = if points.len() > 1 { points.get(1..).unwrap_or_default() } else { points };
        for [x, y] in rest {
            let _ = write!(self.out, "L{x:.2} {y:.2}");
        }
        let _ = writeln!(
            self.out,
            r#"" fill="none" stroke="{colour}" stroke-width="{wide:.2}" stroke-linecap="round" stroke-linejoin="round"/>"#
        );
    }

    pub(super) fn rectangle(&mut self, [x, y]: [f64; 2], [wide, high]: [f64; 2], fill: &str, stroke: f64) {
        let _ = writeln!(
            self.out,
            r#"<rect x="{x:.2}" y="{y:.2}" width="{wide:.2}" height="{high:.2}" fill="{fill}" stroke="black" stroke-width="{stroke}"/>"#
        );
    }

    pub(super) fn circle(&mut self, [x, y]: [f64; 2], radius: f64, fill: &str, stroke: f64) {
        let _ = writeln!(
            self.out,
            r#"<circle cx="{x:.2}" cy="{y:.2}" r="{radius:.2}" fill="{fill}" stroke="black" stroke-width="{stroke}"/>"#
        );
    }

    /// A rectangle with slanting lines over all of it.
    pub(super) fn hatched(&mut self, [x, y]: [f64; 2], [wide, high]: [f64; 2]) {
        self.rectangle([x, y], [wide, high], "none", 0.3);
        let mut along = HATCH;
        while along < wide + high {
            // a slanting line enters at the left or the bottom and leaves at the top or the right
            let from = if along <= high { [x, y + along] } else { [x + along - high, y + high] };
            let to = if along <= wide { [x + along, y] } else { [x + wide, y + along - wide] };
            self.line(from, to, 0.25);
            along += HATCH;
        }
    }

    /// What follows is cut off at a rectangle until [`Page::unclipped`].
    pub(super) fn clipped(&mut self, [x, y]: [f64; 2], [wide, high]: [f64; 2]) {
        let _ = writeln!(
            self.out,
            r#"<clipPath id="sheet"><rect x="{x:.2}" y="{y:.2}" width="{wide:.2}" height="{high:.2}"/></clipPath><g clip-path="url(#sheet)">"#
        );
    }

    pub(super) fn unclipped(&mut self) {
        self.out.push_str("</g>\n");
    }

    pub(super) fn done(mut self) -> String {
        self.out.push_str("</svg>\n");
        self.out
    }
}

/// Text that cannot be taken for markup; control characters become spaces.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_no_markup() {
        let mut page = Page::new([210.0, 297.0]);
        page.text([1.0, 2.0], 3.0, Weight::Bold, "a<b & \"c\"\n");
        let svg = page.done();
        assert!(svg.contains("font-weight=\"bold\">a&lt;b &amp; &quot;c&quot; </text>"), "{svg}");
    }

    #[test]
    fn long_lines_are_set_smaller() {
        let mut page = Page::new([210.0, 297.0]);
        page.fitted([0.0, 0.0], 4.0, Weight::Plain, 112.0, &"m".repeat(100));
        assert!(page.done().contains("font-size=\"2\""));
    }
}
