//! SVG as text: shapes, words and the steps of an axis. Well-formed as XML and as HTML alike.
//!
//! May live here: those. May not: what is drawn.

use std::fmt::Write as _;

/// Text that stands for itself.
#[must_use]
pub fn safe(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;").replace('\'', "&#39;")
}

/// A drawing under way.
pub struct Svg {
    out: String,
}

impl Svg {
    /// An empty one, with what it shows as a sentence for whoever cannot see it.
    #[must_use]
    pub fn new(width: f64, height: f64, shows: &str) -> Self {
        let shows = safe(shows);
        Self {
            out: format!(
                "<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"{shows}\">",
                figure(width),
                figure(height)
            ),
        }
    }

    /// A filled rectangle; `data` are attributes by which a reader finds its figure again.
    pub fn bar(&mut self, [x, y, width, height]: [f64; 4], class: &str, data: &str, title: &str) {
        let _ = write!(
            self.out,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" class=\"{class}\" {data}><title>{}</title></rect>",
            figure(x),
            figure(y),
            figure(width.max(0.0)),
            figure(height.max(0.0)),
            safe(title)
        );
    }

    /// A circle.
    pub fn dot(&mut self, [x, y]: [f64; 2], radius: f64, class: &str, data: &str, title: &str) {
        let _ = write!(
            self.out,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" class=\"{class}\" {data}><title>{}</title></circle>",
            figure(x),
            figure(y),
            figure(radius),
            safe(title)
        );
    }

    /// A run of lines; closed where a shape is filled.
    pub fn run(&mut self, points: impl Iterator<Item = [f64; 2]>, class: &str, style: &str) {
        let mut path = String::new();
        for (nth, [x, y]) in points.enumerate() {
            let _ = write!(path, "{}{} {}", if nth == 0 { "M" } else { "L" }, figure(x), figure(y));
        }
        if !path.is_empty() {
            let _ = write!(self.out, "<path d=\"{path}\" class=\"{class}\" {style}/>");
        }
    }

    /// A shape by its own path.
    pub fn path(&mut self, path: &str, class: &str) {
        let _ = write!(self.out, "<path d=\"{path}\" class=\"{class}\"/>");
    }

    /// A small filled triangle.
    pub fn triangle(&mut self, [x, y]: [f64; 2], size: f64, class: &str, data: &str, title: &str) {
        let _ = write!(
            self.out,
            "<path d=\"M{} {}L{} {}L{} {}Z\" class=\"{class}\" {data}><title>{}</title></path>",
            figure(x),
            figure(y - size),
            figure(x + size),
            figure(y + size * 0.8),
            figure(x - size),
            figure(y + size * 0.8),
            safe(title)
        );
    }

    /// A cross.
    pub fn cross(&mut self, [x, y]: [f64; 2], size: f64, data: &str, title: &str) {
        let (left, right, top, foot) = (figure(x - size), figure(x + size), figure(y - size), figure(y + size));
        let _ = write!(
            self.out,
            "<path d=\"M{left} {top}L{right} {foot}M{left} {foot}L{right} {top}\" class=\"cross\" {data}><title>{}</title></path>",
            safe(title)
        );
    }

    /// Words; `anchor` is start, middle or end.
    pub fn words(&mut self, [x, y]: [f64; 2], anchor: &str, class: &str, text: &str) {
        let _ = write!(
            self.out,
            "<text x=\"{}\" y=\"{}\" text-anchor=\"{anchor}\" class=\"{class}\">{}</text>",
            figure(x),
            figure(y),
            safe(text)
        );
    }

    /// The finished drawing.
    #[must_use]
    pub fn done(mut self) -> String {
        self.out.push_str("</svg>");
        self.out
    }
}

/// A number of a drawing: a hundredth is finer than any eye.
#[must_use]
pub fn figure(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// The step of an axis from 0 to `most` with no more than `lines` lines: 1, 2 or 5 times a power of ten.
#[must_use]
pub fn step(most: f64, lines: u32) -> f64 {
    if !(most.is_finite() && most > 0.0) {
        return 1.0;
    }
    let rough = most / f64::from(lines.max(1));
    let power = 10_f64.powf(rough.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|of| of * power).find(|step| *step >= rough * (1.0 - 1.0e-9)).unwrap_or(power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        for (most, wanted) in [(9.0, 2.0), (10.0, 2.0), (11.0, 5.0), (31.0, 10.0), (0.4, 0.1), (1.0, 0.2)] {
            assert!((step(most, 5) - wanted).abs() < 1.0e-9, "{most}: {}", step(most, 5));
        }
        assert!((step(0.0, 5) - 1.0).abs() < f64::EPSILON && (step(f64::NAN, 5) - 1.0).abs() < f64::EPSILON);
    }

    #[test]
    fn what_people_wrote_stays_text() {
        let mut svg = Svg::new(10.0, 5.0, "a \"b\" & c");
        svg.words([1.0, 2.0], "start", "", "<script>'");
        let text = svg.done();
        assert!(text.contains("&lt;script&gt;&#39;") && text.contains("a &quot;b&quot; &amp; c"), "{text}");
        assert_eq!((figure(1.0), figure(-0.001), figure(f64::NAN)), ("1".into(), "0".into(), "0".into()));
    }
}
