//! The unit in which people read wood: millimetres, or inches with the fractions that tapes and calipers have.
//!
//! The machine stays millimetre: what is typed in inches becomes a length at once. May live here: reading and writing
//! lengths. May not: whether a length is right.

use crate::words::{Words, say};
use chargehand_types::quantity::{Length, plain};

/// One inch in millimetres, exact by definition since 1959 (NIST SP 811, appendix B.8).
const INCH_MM: f64 = 25.4;
/// The unit of a step whose value is a length.
pub const MM: &str = "mm";
/// Tapes are read to a sixteenth.
const SIXTEENTHS: u64 = 16;
/// The fractions that tapes, rules and calipers have.
const PARTS: [u64; 6] = [2, 4, 8, 16, 32, 64];

/// The unit in which people read wood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Units {
    /// Millimetres.
    Millimetres,
    /// Inches: sixteenths off a tape, thousandths off a caliper.
    Inches,
}

/// A typed text that is no length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotRead {
    /// It is no number.
    Number,
    /// Its fraction is none that a tape has.
    Fraction,
}

impl Units {
    /// By its name on the command line or in the environment.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        match name {
            "mm" => Some(Self::Millimetres),
            "inch" => Some(Self::Inches),
            _ => None,
        }
    }

    /// Its sign behind a value.
    #[must_use]
    pub fn sign(self, words: &Words) -> String {
        match self {
            Self::Millimetres => say!(words, "unit.mm"),
            Self::Inches => say!(words, "unit.inch"),
        }
    }

    /// A length as it is read off a tape, without its sign: "25-3/16".
    #[must_use]
    pub fn taped(self, length: Length) -> String {
        match self {
            Self::Millimetres => plain(length.mm()),
            Self::Inches => sixteenths(length),
        }
    }

    /// A length as it is read off a caliper, without its sign: "0.709".
    #[must_use]
    pub fn gauged(self, length: Length) -> String {
        match self {
            Self::Millimetres => plain(length.mm()),
            Self::Inches => format!("{:.3}", length.mm() / INCH_MM),
        }
    }

    /// How far the arrows move a place, from the shortest.
    #[must_use]
    pub fn paces(self) -> [Length; 3] {
        match self {
            Self::Millimetres => [1, 5, 20].map(Length::whole_mm),
            Self::Inches => [1.0 / 16.0, 0.25, 1.0].map(inches),
        }
    }

    /// What was typed, as a length: a number, or in inches also a fraction, "23/32" or "1-1/2" (the space bar holds).
    ///
    /// # Errors
    /// When it is no number, or its fraction is none that a tape has.
    pub fn read(self, typed: &str) -> Result<Length, NotRead> {
        let mm = match self {
            Self::Millimetres => number(typed)?,
            Self::Inches => in_inches(typed)? * INCH_MM,
        };
        Length::from_mm(mm).map_err(|_| NotRead::Number)
    }
}

fn inches(value: f64) -> Length {
    Length::from_mm(value * INCH_MM).unwrap_or_default()
}

fn number(typed: &str) -> Result<f64, NotRead> {
    typed.parse::<f64>().ok().filter(|v| v.is_finite()).ok_or(NotRead::Number)
}

fn in_inches(typed: &str) -> Result<f64, NotRead> {
    let Some((front, parts)) = typed.split_once('/') else { return number(typed) };
    let whole = |text: &str| text.parse::<u32>().map_err(|_| NotRead::Number);
    let parts = whole(parts)?;
    if !PARTS.contains(&u64::from(parts)) {
        return Err(NotRead::Fraction);
    }
    let (full, count) = match front.split_once('-') {
        None => (0, whole(front)?),
        Some((full, count)) => (whole(full)?, whole(count)?),
    };
    if full > 0 && count >= parts {
        return Err(NotRead::Fraction);
    }
    Ok(f64::from(full) + f64::from(count) / f64::from(parts))
}

/// To the nearest sixteenth, with the smallest numbers: "3/4", "25-3/16", "2".
fn sixteenths(length: Length) -> String {
    let sign = if length.mm() < 0.0 { "-" } else { "" };
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "not negative, and casts saturate")]
    let count = (length.mm().abs() / INCH_MM * SIXTEENTHS as f64).round() as u64;
    let (full, mut rest, mut parts) = (count / SIXTEENTHS, count % SIXTEENTHS, SIXTEENTHS);
    while rest > 0 && rest % 2 == 0 {
        rest /= 2;
        parts /= 2;
    }
    match (full, rest) {
        (0, 0) => "0".to_owned(),
        (full, 0) => format!("{sign}{full}"),
        (0, rest) => format!("{sign}{rest}/{parts}"),
        (full, rest) => format!("{sign}{full}-{rest}/{parts}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_mm(value).unwrap()
    }

    /// 1 in = 25.4 mm exactly (NIST SP 811, appendix B.8); the products are exact decimals.
    #[test]
    fn inches_become_exact_millimetres() {
        for (typed, wanted) in [
            ("1", 25.4),
            ("0.001", 0.0254),
            ("1/16", 1.5875),
            ("23/32", 18.256_25),
            ("45/64", 17.859_375),
            ("3/4", 19.05),
            ("1/4", 6.35),
            ("1-1/2", 38.1),
            ("48", 1219.2),
            ("0.709", 18.0086),
            (".5", 12.7),
            ("7/4", 44.45),
        ] {
            assert_eq!(Units::Inches.read(typed), Ok(mm(wanted)), "{typed}");
        }
        assert_eq!(Units::Millimetres.read("17.8"), Ok(mm(17.8)));
    }

    #[test]
    fn what_no_tape_has_is_not_read() {
        for typed in ["23/33", "1/0", "1/3", "1-5/4", "1/128"] {
            assert_eq!(Units::Inches.read(typed), Err(NotRead::Fraction), "{typed}");
        }
        for typed in ["", "/", "1/", "/2", "-1/2", "1--1/2", "1/2/4", "1.5/2", "x", "99999999999/2"] {
            assert_eq!(Units::Inches.read(typed), Err(NotRead::Number), "{typed}");
        }
        assert_eq!(Units::Millimetres.read("3/4"), Err(NotRead::Number));
    }

    #[test]
    fn tapes_are_read_to_the_nearest_sixteenth() {
        for (length, wanted) in [
            (0.0, "0"),
            (0.7, "0"),
            (0.8, "1/16"),
            (18.0, "11/16"),
            (19.05, "3/4"),
            (20.0, "13/16"),
            (25.4, "1"),
            (38.1, "1-1/2"),
            (590.0, "23-1/4"),
            (610.0, "24"),
            (1220.0, "48-1/16"),
            (-38.1, "-1-1/2"),
        ] {
            assert_eq!(Units::Inches.taped(mm(length)), wanted, "{length} mm");
        }
    }

    /// Whatever is shown can be typed, and is the same to half of its last digit.
    #[test]
    fn what_is_shown_can_be_typed() {
        for tenths in 0..12_200 {
            let length = mm(f64::from(tenths) / 10.0);
            let (taped, gauged) = (Units::Inches.taped(length), Units::Inches.gauged(length));
            let off = |typed: &str| (Units::Inches.read(typed).unwrap().mm() - length.mm()).abs();
            assert!(off(&taped) <= INCH_MM / 32.0 + 1e-9, "{taped}");
            assert!(off(&gauged) <= INCH_MM / 2000.0 + 1e-9, "{gauged}");
        }
    }
}
