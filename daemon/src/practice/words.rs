//! The practice controller's own word reader: letters and plain numbers, nothing else.

/// A line's words.
#[derive(Debug, Clone, Default, PartialEq)]
pub(in crate::practice) struct Words {
    pub g: Vec<f64>,
    pub m: Vec<f64>,
    values: [Option<f64>; 26],
}

impl Words {
    pub fn get(&self, letter: u8) -> Option<f64> {
        self.values.get(usize::from(letter.wrapping_sub(b'A'))).copied().flatten()
    }

    pub fn any(&self, letters: &[u8]) -> bool {
        letters.iter().any(|l| self.get(*l).is_some())
    }
}

/// Reads a line.
///
/// # Errors
/// The refusal's number on the wire.
pub(in crate::practice) fn read(line: &str) -> Result<Words, u16> {
    let mut words = Words::default();
    let text: Vec<char> = line.chars().filter(|c| !c.is_whitespace()).collect();
    let mut at = 0;
    while let Some(letter) = text.get(at) {
        let letter = letter.to_ascii_uppercase();
        if !letter.is_ascii_uppercase() {
            return Err(1);
        }
        let number: String =
            text.iter().skip(at + 1).take_while(|c| c.is_ascii_digit() || matches!(c, '.' | '-' | '+')).collect();
        at += 1 + number.chars().count();
        let value: f64 = number.parse().map_err(|_| 2_u16)?;
        match letter {
            'G' => words.g.push(value),
            'M' => words.m.push(value),
            'N' => {}
            _ => {
                let index = letter as usize - 'A' as usize;
                let slot = words.values.get_mut(index).ok_or(1_u16)?;
                if slot.is_some() {
                    return Err(25);
                }
                *slot = Some(value);
            }
        }
    }
    Ok(words)
}
