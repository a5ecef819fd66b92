//! Numbers of a program as exact decimals, and how they become lengths.
//!
//! May live here: the decimal, its scan (NISTIR 6556 3.3.2.1) and its shortest text. May not: words, expressions.

use super::fault::Rule;
use chargehand_types::quantity::Length;

/// Billionths in one.
pub const BILLION: i64 = 1_000_000_000;
/// The largest number a word may carry, in whole units.
pub const LARGEST: u64 = 9_000_000_000;
/// Decimals kept; what is written beyond them is rounded into the last one.
const DECIMALS: usize = 9;
const POWERS: [u64; DECIMALS + 1] =
    [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000, 1_000_000_000];

/// A number as written, in whole billionths: exact for anything with at most nine decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Decimal(pub i64);

impl Decimal {
    /// From a computed value, rounded to the nearest billionth; none when it is not finite or too large.
    #[must_use]
    pub fn from_f64(value: f64) -> Option<Self> {
        let scaled = value * BILLION as f64;
        if scaled.is_finite() && scaled.abs() <= LARGEST as f64 * BILLION as f64 {
            #[allow(clippy::cast_possible_truncation, reason = "bounded just above")]
            Some(Self(scaled.round() as i64))
        } else {
            None
        }
    }

    /// The nearest binary number.
    #[must_use]
    pub fn to_f64(self) -> f64 {
        self.0 as f64 / BILLION as f64
    }

    /// As a length: millimetres, or inches of 25.4 mm. Rounded half away from zero to the nanometre.
    #[must_use]
    #[inline]
    pub fn length(self, inch: bool) -> Length {
        if inch { Length(divide(i128::from(self.0) * 254, 10_000)) } else { Length(thousandth(self.0)) }
    }

    /// The decimal that [`Self::length`] turns into this very length.
    #[must_use]
    pub fn of_length(length: Length, inch: bool) -> Self {
        if inch { Self(divide(i128::from(length.0) * 10_000, 254)) } else { Self(length.0.saturating_mul(1000)) }
    }

    /// The whole number it is close to (within 0.0001, NISTIR 6556 3.3.2), if it is.
    #[must_use]
    pub fn whole(self) -> Option<i64> {
        let near = divide(i128::from(self.0), BILLION.into());
        ((self.0 - near * BILLION).abs() <= BILLION / 10_000).then_some(near)
    }

    /// Writes it in as few bytes as can be: no sign but minus, no zeros that say nothing.
    pub fn write(self, out: &mut Vec<u8>) {
        if self.0 < 0 {
            out.push(b'-');
        }
        let size = self.0.unsigned_abs();
        let (units, mut rest) = (size / BILLION as u64, size % BILLION as u64);
        if units > 0 || rest == 0 {
            write_digits(units, out);
        }
        if rest > 0 {
            out.push(b'.');
            let mut place = BILLION as u64 / 10;
            while rest > 0 {
                out.push(b'0' + (rest / place) as u8);
                rest %= place;
                place /= 10;
            }
        }
    }
}

impl std::fmt::Display for Decimal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut text = Vec::new();
        self.write(&mut text);
        f.write_str(&String::from_utf8_lossy(&text))
    }
}

fn write_digits(mut value: u64, out: &mut Vec<u8>) {
    let first = out.len();
    loop {
        out.push(b'0' + (value % 10) as u8);
        value /= 10;
        if value == 0 {
            break;
        }
    }
    if let Some(digits) = out.get_mut(first..) {
        digits.reverse();
    }
}

#[inline]
fn thousandth(billionths: i64) -> i64 {
    (billionths + if billionths < 0 { -500 } else { 500 }) / 1000
}

fn divide(value: i128, by: i128) -> i64 {
    let half = if value < 0 { -by / 2 } else { by / 2 };
    #[allow(clippy::cast_possible_truncation, reason = "numbers are at most 9e9 units, lengths saturate below")]
    let quotient = ((value + half) / by).clamp(i64::MIN.into(), i64::MAX.into()) as i64;
    quotient
}

/// Spaces and tabs mean nothing outside comments, even inside a number (NISTIR 6556 3.3).
#[inline]
pub fn is_blank(byte: u8) -> bool {
    byte == b' ' || byte == b'\t'
}

/// Where a scan ended and what it found.
pub type Scanned<T> = Result<(T, usize), (Rule, usize)>;

/// The usual number: a sign or none, digits, perhaps a point and digits, no more than seven characters after the sign.
/// Gives its value and the offset right past it. What follows has still to be looked at: blanks do not end a number.
#[inline]
pub fn scan_usual(line: &[u8], from: usize) -> Option<(Decimal, usize)> {
    let negative = *line.get(from)? == b'-';
    let at = from + usize::from(negative);
    let eight = Eight::load(line, at)?;
    let others = eight.others();
    let first = others.trailing_zeros() as usize / 8;
    if first >= 8 {
        return None;
    }
    let (size, length) = if eight.at(first) == b'.' {
        let end = (others & (others - 1)).trailing_zeros() as usize / 8;
        let decimals = end - first - 1;
        if end >= 8 || end == 1 {
            return None;
        }
        let digits = eight.without(first).first(end - 1);
        (digits * POWERS.get(DECIMALS - decimals)?, end)
    } else if first == 0 {
        return None;
    } else {
        (eight.first(first) * BILLION as u64, first)
    };
    #[allow(clippy::cast_possible_wrap, reason = "at most seven digits")]
    let size = size as i64;
    Some((Decimal(if negative { -size } else { size }), at + length))
}

/// Eight characters, the first in the lowest byte.
#[derive(Clone, Copy)]
pub(super) struct Eight(u64);

impl Eight {
    #[inline]
    fn load(line: &[u8], at: usize) -> Option<Self> {
        let bytes: &[u8; 8] = line.get(at..)?.first_chunk()?;
        Some(Self(u64::from_le_bytes(*bytes)))
    }

    /// The eight bytes of a word from this one on.
    #[inline(always)]
    pub(super) fn of(word: &[u8; 16], from: usize) -> Option<Self> {
        Some(Self(u64::from_le_bytes(*word.get(from..)?.first_chunk()?)))
    }

    /// The high bit of every byte that is no digit. True up to the first byte that is not ASCII.
    #[inline]
    pub(super) fn others(self) -> u64 {
        // adding 0x76 to a digit's offset leaves the high bit clear; only a byte above ASCII carries into the next
        let off = self.0 ^ 0x3030_3030_3030_3030;
        (off.wrapping_add(0x7676_7676_7676_7676) | off) & 0x8080_8080_8080_8080
    }

    #[inline]
    pub(super) fn at(self, n: usize) -> u8 {
        (self.0 >> (8 * n)) as u8
    }

    /// All but the n-th, which is below the eighth, the ones above it moved down.
    #[inline]
    pub(super) fn without(self, n: usize) -> Self {
        let below = (1 << (8 * n)) - 1;
        Self((self.0 & below) | ((self.0 >> 8) & !below))
    }

    /// The value of the first `length` digits, one to seven.
    #[inline]
    pub(super) fn first(self, length: usize) -> u64 {
        Self((self.0 << 8) << (56 - 8 * length)).value()
    }

    /// All eight as one number, neighbours joined to twos, fours, eight.
    #[inline]
    fn value(self) -> u64 {
        let ones = self.0 & 0x0F0F_0F0F_0F0F_0F0F;
        let twos = (ones.wrapping_mul(10 * 256 + 1) >> 8) & 0x00FF_00FF_00FF_00FF;
        let fours = (twos.wrapping_mul(100 * 65_536 + 1) >> 16) & 0x0000_FFFF_0000_FFFF;
        fours.wrapping_mul(10_000 * 4_294_967_296 + 1) >> 32
    }
}

/// Reads a number that begins at `from` (sign, digits, one point, in any of NISTIR 6556 3.3.2.1's forms).
///
/// # Errors
/// The rule broken and the offset just past what cannot be read.
pub fn scan(line: &[u8], from: usize) -> Scanned<Decimal> {
    let mut at = from;
    let negative = match line.get(at) {
        Some(b'-') => {
            at += 1;
            true
        }
        Some(b'+') => {
            at += 1;
            false
        }
        _ => false,
    };
    let (mut whole, mut part): (u64, u64) = (0, 0);
    let (mut digits, mut decimals) = (0_usize, 0_usize);
    let (mut point, mut end) = (false, at);
    while let Some(&byte) = line.get(at) {
        let digit = byte.wrapping_sub(b'0');
        if digit < 10 {
            if !point {
                whole = whole.wrapping_mul(10).wrapping_add(digit.into());
                digits += 1;
            } else if decimals < DECIMALS {
                part = part * 10 + u64::from(digit);
                decimals += 1;
            } else {
                return long(line, from);
            }
        } else if byte == b'.' && !point {
            point = true;
        } else if is_blank(byte) {
            at += 1;
            continue;
        } else {
            break;
        }
        at += 1;
        end = at;
    }
    if digits + decimals == 0 || matches!(line.get(at), Some(b'.' | b'+' | b'-' | b'e' | b'E')) {
        return Err(malformed(line, from));
    }
    if digits > 9 {
        return long(line, from);
    }
    let scale = POWERS.get(DECIMALS - decimals).copied().unwrap_or(1);
    #[allow(clippy::cast_possible_wrap, reason = "at most nine digits before the point")]
    let size = (whole * BILLION as u64 + part * scale) as i64;
    Ok((Decimal(if negative { -size } else { size }), end))
}

/// The rare number with many digits, read with care: too large, or more decimals than are kept.
#[cold]
fn long(line: &[u8], from: usize) -> Scanned<Decimal> {
    let (text, end, at) = plain_digits(line, from);
    if text.matches('.').count() > 1 || matches!(line.get(at), Some(b'+' | b'-' | b'e' | b'E')) {
        return Err(malformed(line, from));
    }
    let (before, after) = text.split_once('.').unwrap_or((&text, ""));
    let (negative, before) = (before.starts_with('-'), before.trim_start_matches(['-', '+']));
    let whole = before.trim_start_matches('0');
    let units = if whole.is_empty() { 0 } else { whole.parse::<u64>().unwrap_or(u64::MAX) };
    if units > LARGEST {
        return Err((Rule::NumberTooLarge, end));
    }
    let mut part = 0_u64;
    for n in 0..DECIMALS {
        part = part * 10 + after.as_bytes().get(n).map_or(0, |d| u64::from(d - b'0'));
    }
    if after.as_bytes().get(DECIMALS).is_some_and(|&d| d >= b'5') {
        part += 1;
    }
    #[allow(clippy::cast_possible_wrap, reason = "units are at most 9e9")]
    let size = (units * BILLION as u64 + part) as i64;
    Ok((Decimal(if negative { -size } else { size }), end))
}

/// Sign, digits and points from here on, blanks left out, the offset past them, and past the blanks after them.
fn plain_digits(line: &[u8], from: usize) -> (String, usize, usize) {
    let mut text = String::new();
    let (mut at, mut end) = (from, from);
    while let Some(&byte) = line.get(at) {
        let sign = matches!(byte, b'+' | b'-') && text.is_empty();
        if byte.is_ascii_digit() || byte == b'.' || sign {
            text.push(char::from(byte));
            end = at + 1;
        } else if !is_blank(byte) {
            break;
        }
        at += 1;
    }
    (text, end, at)
}

/// Reads an unsigned or signed number inside an expression, as a binary number.
///
/// # Errors
/// As [`scan`].
pub fn scan_binary(line: &[u8], from: usize) -> Scanned<f64> {
    let (text, _, at) = plain_digits(line, from);
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok((value, at)),
        _ => Err(malformed(line, from)),
    }
}

/// The fault of a number that is none: what stands there, as far as it looks like a number.
#[cold]
pub fn malformed(line: &[u8], from: usize) -> (Rule, usize) {
    let mut at = from;
    while line.get(at).is_some_and(|b| b.is_ascii_digit() || b".+-eE#".contains(b)) {
        at += 1;
    }
    let text = line.get(from..at).unwrap_or_default();
    (Rule::MalformedNumber(String::from_utf8_lossy(text).into()), at.max(from + 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Option<i64> {
        scan(text.as_bytes(), 0).ok().map(|(d, _)| d.0)
    }

    #[test]
    fn numbers_read_exactly() {
        // NISTIR 6556 3.3.2.1: sign, digits, at most one point, blanks anywhere
        assert_eq!(read("+0. 12 34"), Some(123_400_000));
        assert_eq!(read("-.5"), Some(-500_000_000));
        assert_eq!(read("7"), Some(7 * BILLION));
        assert_eq!(read("7."), Some(7 * BILLION));
        assert_eq!(read("0000000000001.5"), Some(1_500_000_000));
        assert_eq!(read("0.0000000015"), Some(2));
        assert_eq!(read("9000000000"), Some(9_000_000_000 * BILLION));
    }

    #[test]
    fn both_ways_of_reading_agree() {
        let texts = [
            "0", "-0", "7", "-7.", ".5", "-.5", "1234567", "12345678", "1.12345", "1.123456", "0.00001", "93.750",
            "-599.850", "1220.125", ".", "", "-", "12", "+1",
        ];
        for text in texts {
            for after in ["Y7         ", "\n          ", "(x         ", "é9999999", ""] {
                let line = format!("{text}{after}");
                if let Some((value, end)) = scan_usual(line.as_bytes(), 0) {
                    assert_eq!(end, text.len(), "{line:?}");
                    assert_eq!(value, scan(line.as_bytes(), 0).unwrap().0, "{line:?}");
                }
            }
        }
        assert_eq!(scan_usual(b"-93.750 Y1.5      ", 0), Some((Decimal(-93_750_000_000), 7)));
    }

    #[test]
    fn malformed_numbers_are_refused() {
        for text in [".", "-", "--1", "1.2.3", "1e3", "1-2", "9000000001", "-#1", "1.12345678901.2"] {
            assert!(read(text).is_none(), "{text}");
        }
    }

    #[test]
    fn lengths_go_there_and_back() {
        for nm in [0, 1, -1, 254, 2540, 12_345_678, -999_999_999_999] {
            for inch in [false, true] {
                assert_eq!(Decimal::of_length(Length(nm), inch).length(inch), Length(nm));
            }
        }
        // 0.0001 inch = 2540 nm exactly
        assert_eq!(Decimal(100_000).length(true), Length(2540));
    }

    #[test]
    fn the_shortest_text_is_written() {
        for (value, text) in [
            (0, "0"),
            (500_000_000, ".5"),
            (-500_000_000, "-.5"),
            (10 * BILLION, "10"),
            (1, ".000000001"),
            (10_050_000_000, "10.05"),
        ] {
            assert_eq!(Decimal(value).to_string(), text);
        }
    }
}
