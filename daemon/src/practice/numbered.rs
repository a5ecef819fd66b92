//! Numbered lines as they arrive: the words between number and star, when both number and checksum are right.

/// The words of a line that carries this number and a right checksum.
pub(in crate::practice) fn words(line: &[u8], wanted: u32) -> Option<&[u8]> {
    let star = line.iter().rposition(|b| *b == b'*')?;
    let (before, sum) = line.split_at_checked(star)?;
    let told: u8 = std::str::from_utf8(sum.get(1..)?).ok()?.trim().parse().ok()?;
    let mut reckoned = 0;
    for byte in before {
        reckoned ^= byte;
    }
    let rest = before.strip_prefix(b"N")?;
    let digits = rest.iter().take_while(|b| b.is_ascii_digit()).count();
    let (number, words) = rest.split_at_checked(digits)?;
    let number: u32 = std::str::from_utf8(number).ok()?.parse().ok()?;
    (told == reckoned && number == wanted).then_some(words)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn number_and_checksum_must_be_right() {
        // worked by hand: the XOR of the bytes of "N42 G1 X10.5 Y-3.25 F1800" is 93
        assert_eq!(words(b"N42 G1 X10.5 Y-3.25 F1800*93", 42), Some(b" G1 X10.5 Y-3.25 F1800".as_slice()));
        assert_eq!(words(b"N42 G1 X10.5 Y-3.25 F1800*93", 41), None);
        assert_eq!(words(b"N42 G1 X10.5 Y-3.26 F1800*93", 42), None);
        assert_eq!(words(b"G1 X10.5", 1), None);
        assert_eq!(words(b"", 1), None);
    }
}
