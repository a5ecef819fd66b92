//! Numbers of the language: exact decimals, kept as whole billionths of whatever unit they are in.

use chargehand_types::quantity::{Feed, Length};

/// Billionths in one.
pub const ONE: i64 = 1_000_000_000;

/// Digits before the point a number may have: nine keep it far inside the type.
const WHOLE_DIGITS: u32 = 9;

/// An exact decimal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Number(pub i64);

/// How a number is malformed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Malformed {
    /// No digit.
    NoDigit,
    /// Too many digits before the point.
    TooLong,
}

impl Number {
    /// From a computed value.
    #[must_use]
    pub fn from_f64(v: f64) -> Option<Self> {
        let scaled = v * ONE as f64;
        #[allow(clippy::cast_possible_truncation, reason = "checked against the type's range")]
        (scaled.is_finite() && scaled.abs() < 9.0e18).then(|| Self(scaled.round() as i64))
    }

    /// As a floating-point number.
    #[must_use]
    pub fn f64(self) -> f64 {
        self.0 as f64 / ONE as f64
    }

    /// The integer it is close to: within 0.0001 (NISTIR 6556, 3.3.2.1).
    #[must_use]
    pub fn integer(self) -> Option<i64> {
        self.scaled_integer(1)
    }

    /// Ten times it, if close to an integer: G59.1 is 591.
    #[must_use]
    pub fn tenths(self) -> Option<i64> {
        self.scaled_integer(10)
    }

    fn scaled_integer(self, scale: i64) -> Option<i64> {
        let scaled = self.0.checked_mul(scale)?;
        let near = scaled.saturating_add(ONE / 2).div_euclid(ONE);
        (scaled.saturating_sub(near.saturating_mul(ONE)).abs() <= ONE / 10_000 * scale).then_some(near)
    }

    /// As a length: millimetres, or inches of 25.4 mm.
    #[must_use]
    pub fn length(self, inch: bool) -> Length {
        Length(self.nanometres(inch))
    }

    /// As a feed in the unit a minute.
    #[must_use]
    pub fn feed(self, inch: bool) -> Feed {
        Feed(self.nanometres(inch))
    }

    #[allow(clippy::cast_possible_truncation, reason = "ten digits before the point times 25.4e6 fit an i64")]
    fn nanometres(self, inch: bool) -> i64 {
        if inch {
            // 1e-9 in = 0.0254 nm
            let wide = i128::from(self.0) * 254;
            ((wide + 5_000 * wide.signum()) / 10_000) as i64
        } else {
            (self.0 + 500 * self.0.signum()) / 1_000
        }
    }
}

/// Reads a number at the start of `text`, blanks inside skipped (3.3.1: `+0. 12 34` is 0.1234). Gives it with the
/// bytes it took, trailing blanks not counted.
///
/// # Errors
/// When there is no digit or too many.
pub fn read(text: &[u8]) -> Result<(Number, usize), Malformed> {
    let mut at = 0;
    let mut negative = false;
    while let Some(b' ' | b'\t') = text.get(at) {
        at += 1;
    }
    match text.get(at) {
        Some(b'-') => {
            negative = true;
            at += 1;
        }
        Some(b'+') => at += 1,
        _ => {}
    }
    let (mut value, mut whole, mut decimals, mut digits) = (0_i64, 0_u32, 0_u32, 0_u32);
    let mut point = false;
    let mut end = at;
    while let Some(&byte) = text.get(at) {
        match byte {
            b'0'..=b'9' => {
                let digit = i64::from(byte - b'0');
                digits += 1;
                if !point {
                    if value != 0 || digit != 0 {
                        whole += 1;
                    }
                    if whole > WHOLE_DIGITS {
                        return Err(Malformed::TooLong);
                    }
                    value = value * 10 + digit;
                } else if decimals < 9 {
                    decimals += 1;
                    value = value * 10 + digit;
                } else if decimals == 9 {
                    decimals += 1;
                    value += i64::from(digit >= 5);
                }
            }
            b'.' if !point => point = true,
            b' ' | b'\t' => {
                at += 1;
                continue;
            }
            _ => break,
        }
        at += 1;
        end = at;
    }
    if digits == 0 {
        return Err(Malformed::NoDigit);
    }
    let value = value * POWERS[9 - decimals.min(9) as usize];
    Ok((Number(if negative { -value } else { value }), end))
}

const POWERS: [i64; 10] = [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000, 1_000_000_000];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blanks_inside_a_number_mean_nothing() {
        // NISTIR 6556, 3.3.1: "g0x +0. 12 34y 7" is "G0 X0.1234 Y7"
        assert_eq!(read(b" +0. 12 34y 7"), Ok((Number(123_400_000), 10)));
    }

    #[test]
    fn inches_are_exact_to_the_nanometre() {
        assert_eq!(read(b"0.0001").unwrap().0.length(true), Length(2540));
        assert_eq!(read(b"-1.5").unwrap().0.length(true), Length(-38_100_000));
        assert_eq!(read(b"12.345678").unwrap().0.length(false), Length(12_345_678));
    }

    #[test]
    fn a_point_alone_is_no_number() {
        assert_eq!(read(b"."), Err(Malformed::NoDigit));
        assert_eq!(read(b"-"), Err(Malformed::NoDigit));
        assert_eq!(read(b"12345678901"), Err(Malformed::TooLong));
    }

    #[test]
    fn close_to_an_integer_is_one() {
        assert_eq!(Number(1_000_050_000).integer(), Some(1));
        assert_eq!(Number(1_010_000_000).integer(), None);
        assert_eq!(Number(59_100_000_000).tenths(), Some(591));
    }
}
