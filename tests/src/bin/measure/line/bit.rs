//! Where the bit was told to go: as much of the language as a shop's own words at the machine need.

/// The bit, in machine coordinates, mm.
#[derive(Debug, Default)]
pub struct Bit {
    /// Where it is.
    pub at: [f64; 3],
    /// The work zero.
    pub zero: [f64; 3],
    /// Lengths are told from where it is.
    from_here: bool,
}

impl Bit {
    /// A line was told; gives whether it names a place to go to.
    pub fn told(&mut self, line: &str) -> bool {
        let words = words(line);
        let has = |letter: char, number: f64| words.iter().any(|(l, n)| *l == letter && (n - number).abs() < 1.0e-9);
        if has('G', 90.0) {
            self.from_here = false;
        }
        if has('G', 91.0) {
            self.from_here = true;
        }
        let axes: Vec<(usize, f64)> =
            words.iter().filter_map(|(letter, number)| "XYZ".find(*letter).map(|axis| (axis, *number))).collect();
        for (axis, number) in &axes {
            let (Some(at), Some(zero)) = (self.at.get_mut(*axis), self.zero.get_mut(*axis)) else { continue };
            if has('G', 10.0) {
                *zero = if has('L', 20.0) { *at - number } else { *number };
            } else if self.from_here {
                *at += number;
            } else {
                *at = if has('G', 53.0) { *number } else { *zero + number };
            }
        }
        if line.contains('$') {
            self.at = [0.0; 3];
        }
        !axes.is_empty()
    }
}

fn words(line: &str) -> Vec<(char, f64)> {
    let mut words = Vec::new();
    let mut rest = line;
    while let Some(letter) = rest.chars().next() {
        rest = &rest[letter.len_utf8()..];
        let end = rest.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).unwrap_or(rest.len());
        if let Ok(number) = rest[..end].parse() {
            words.push((letter, number));
        }
        rest = &rest[end..];
    }
    words
}
