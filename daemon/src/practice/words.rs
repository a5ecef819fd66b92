//! The practice controller's own word reader: letters and plain numbers, nothing else. It shares no line with the
//! reader of programs, so that neither can hide the other's mistake.

/// G and M words are kept as tenths: 382 is G38.2.
const TENTHS: f64 = 10.0;

/// A line's words.
#[derive(Debug, Clone, Default, PartialEq)]
pub(in crate::practice) struct Words {
    pub g: Vec<u16>,
    pub m: Vec<u16>,
    values: [Option<f64>; 26],
    taken: u32,
}

impl Words {
    /// A value, which counts as used by asking for it.
    pub fn take(&mut self, letter: u8) -> Option<f64> {
        let index = letter.wrapping_sub(b'A');
        self.taken |= 1_u32.checked_shl(u32::from(index)).unwrap_or(0);
        self.values.get(usize::from(index)).copied().flatten()
    }

    pub fn has(&self, letters: &[u8]) -> bool {
        letters.iter().any(|l| self.values.get(usize::from(l.wrapping_sub(b'A'))).copied().flatten().is_some())
    }

    /// Values that nothing asked for.
    pub fn left_over(&self) -> bool {
        let mut bits = self.taken;
        self.values.iter().any(|value| {
            let taken = bits & 1 == 1;
            bits >>= 1;
            value.is_some() && !taken
        })
    }
}

/// Takes comments and spaces out; upper case.
pub(in crate::practice) fn bare(line: &[u8]) -> Vec<u8> {
    let mut inside = false;
    let mut text = Vec::with_capacity(line.len());
    for byte in line {
        match byte {
            b';' if !inside => break,
            b'(' => inside = true,
            b')' => inside = false,
            b' ' | b'\t' | b'/' | b'%' => {}
            _ if inside => {}
            _ => text.push(byte.to_ascii_uppercase()),
        }
    }
    text
}

/// Reads a bare line.
///
/// # Errors
/// The refusal's number on the wire.
pub(in crate::practice) fn read(text: &[u8]) -> Result<Words, u16> {
    let mut words = Words::default();
    let mut rest = text;
    while let Some((letter, after)) = rest.split_first() {
        if !letter.is_ascii_uppercase() {
            return Err(1);
        }
        let digits = after.iter().take_while(|c| c.is_ascii_digit() || matches!(c, b'.' | b'-' | b'+')).count();
        let (number, after) = after.split_at_checked(digits).ok_or(2_u16)?;
        rest = after;
        let value: f64 = std::str::from_utf8(number).ok().and_then(|n| n.parse().ok()).ok_or(2_u16)?;
        match letter {
            b'G' => words.g.push(tenths(value)?),
            b'M' => words.m.push(tenths(value)?),
            b'N' if (0.0..=9_999_999.0).contains(&value) => {}
            b'N' => return Err(27),
            b'F' | b'I' | b'J' | b'K' | b'L' | b'P' | b'R' | b'S' | b'T' | b'X' | b'Y' | b'Z' => {
                let slot = words.values.get_mut(usize::from(letter - b'A')).ok_or(20_u16)?;
                if slot.replace(value).is_some() {
                    return Err(25);
                }
            }
            _ => return Err(20),
        }
    }
    Ok(words)
}

/// A G or M number in tenths. Those between the tenths exist nowhere (close means within 0.0001, NISTIR 6556 3.3.2.1).
fn tenths(value: f64) -> Result<u16, u16> {
    let scaled = (value * TENTHS).round();
    if (scaled / TENTHS - value).abs() > 0.0001 {
        return Err(23);
    }
    if !(0.0..1000.0).contains(&scaled) {
        return Err(20);
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and 1000")]
    Ok(scaled as u16)
}
