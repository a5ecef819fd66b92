//! The parse of one line into a block (NISTIR 6556 3.3): everything that a line alone can break.
//!
//! May live here: the scan of words, comments, settings, line and program numbers. May not: what the words do.

use super::block::{Block, Broken, Letters};
use super::expression;
use super::fault::{Foreign, LINE_LIMIT, Rule};
use super::number::{Decimal, is_blank, malformed, scan, scan_usual};
use super::parameters::Parameters;

/// Takes a line apart. The block holds what was read even when a rule is broken.
///
/// # Errors
/// The first rule the line breaks by itself.
#[inline]
pub fn parse(line: &[u8], parameters: &Parameters, block: &mut Block) -> Result<(), Broken> {
    block.forget();
    if line.len() > LINE_LIMIT {
        return Err((Rule::LineTooLong, LINE_LIMIT..LINE_LIMIT + 1));
    }
    let mut at = skip_blanks(line, 0);
    if line.get(at) == Some(&b'/') {
        block.deletable = true;
        at = skip_blanks(line, at + 1);
    }
    if matches!(line.get(at), Some(b'N' | b'n')) {
        at = line_number(line, at)?;
    }
    while let Some(&byte) = line.get(at) {
        let letter = byte & 0xDF;
        at = if letter.is_ascii_uppercase() && byte.is_ascii_alphabetic() {
            word(line, at, letter, parameters, block)?
        } else if is_blank(byte) {
            at + 1
        } else {
            other(line, at, byte, parameters, block)?
        };
    }
    Ok(())
}

/// Takes the line at the start of `bytes` apart if it is the usual kind, words with plain numbers, and its end is
/// there; gives its length. Anything else is left to [`parse`], with the line cut out: so nothing is decided here.
#[inline]
pub fn parse_usual(bytes: &[u8], block: &mut Block) -> Option<usize> {
    block.forget();
    let mut at = 0;
    if matches!(bytes.first(), Some(b'N' | b'n')) {
        at = line_number(bytes, at).ok()?;
    }
    loop {
        match class(*bytes.get(at)?) {
            BLANK => at += 1,
            END => return (at <= LINE_LIMIT).then_some(at),
            OTHER => return None,
            letter => {
                let (value, end) = usual_number(bytes, at + 1)?;
                if !block.put_usual(letter, value) {
                    return None;
                }
                block.push(letter, value, at, end);
                at = end;
            }
        }
    }
}

#[inline]
fn usual_number(bytes: &[u8], at: usize) -> Option<(Decimal, usize)> {
    match scan_usual(bytes, at) {
        Some(read) => Some(read),
        None if matches!(bytes.get(at), Some(b'0'..=b'9' | b'.' | b'-' | b'+')) => scan(bytes, at).ok(),
        None => None,
    }
}

/// What a byte is to [`parse_usual`]: a capital letter of a word with a value, or one of these.
const BLANK: u8 = 0;
const END: u8 = 1;
const OTHER: u8 = 2;
const CLASSES: [u8; 256] = classes();

const fn classes() -> [u8; 256] {
    let mut table = [OTHER; 256];
    let letters = b"DFGHIJKLMPQRSTXYZ";
    let mut n = 0;
    while n < letters.len() {
        table[letters[n] as usize] = letters[n];
        table[letters[n].to_ascii_lowercase() as usize] = letters[n];
        n += 1;
    }
    table[b' ' as usize] = BLANK;
    table[b'\t' as usize] = BLANK;
    table[b'\n' as usize] = END;
    table[b'\r' as usize] = END;
    table
}

#[inline]
fn class(byte: u8) -> u8 {
    CLASSES.get(usize::from(byte)).copied().unwrap_or(OTHER)
}

#[inline]
fn skip_blanks(line: &[u8], mut at: usize) -> usize {
    while line.get(at).copied().is_some_and(is_blank) {
        at += 1;
    }
    at
}

fn line_number(line: &[u8], start: usize) -> Result<usize, Broken> {
    let mut at = start + 1;
    let mut digits = 0;
    while let Some(&byte) = line.get(at) {
        if byte.is_ascii_digit() {
            digits += 1;
        } else if !is_blank(byte) {
            break;
        }
        at += 1;
    }
    if !(1..=5).contains(&digits) || matches!(line.get(at), Some(b'.' | b'-' | b'+')) {
        return Err((Rule::LineNumber, start..at.max(start + 1)));
    }
    Ok(at)
}

#[inline]
fn word(line: &[u8], start: usize, letter: u8, parameters: &Parameters, block: &mut Block) -> Result<usize, Broken> {
    let at = skip_blanks(line, start + 1);
    let (value, end) = match line.get(at) {
        Some(b'0'..=b'9' | b'.' | b'-' | b'+') => match scan(line, at) {
            Ok(read) => read,
            Err((rule, end)) => return Err((rule, start..end)),
        },
        _ => computed(line, start, at, letter, parameters)?,
    };
    let put = match letter {
        b'G' => block.put_g(value),
        b'M' => block.put_m(value),
        _ if Letters::of(b"DFHIJKLPQRSTXYZ").any(Letters(1 << (letter - b'A'))) => block.put(letter, value),
        _ => return uncommon(line, start, letter, end, block),
    };
    if let Err(rule) = put {
        return Err((rule, start..end));
    }
    block.push(letter, value, start, end);
    Ok(end)
}

/// A value that is no plain number.
#[cold]
fn computed(
    line: &[u8],
    start: usize,
    at: usize,
    letter: u8,
    parameters: &Parameters,
) -> Result<(Decimal, usize), Broken> {
    match line.get(at) {
        Some(b'[' | b'#') => {}
        Some(b'<') if letter == b'O' => {
            return Err((Rule::Foreign(Foreign::Flow), start..line.len()));
        }
        // a function's name and not the next word: "XSIN[30]", "X SIN [30]"
        Some(byte) if byte.is_ascii_alphabetic() && is_function(line, at) => {}
        Some(_) | None if "BCDEFHIJKLOPQRSTUVWXYZAGM".contains(char::from(letter)) => {
            return Err((Rule::NoNumber(letter.into()), start..start + 1));
        }
        _ => return Err((Rule::LineNumber, start..start + 1)),
    }
    let (value, mut end) = expression::value(line, at, parameters).map_err(|(rule, end)| (rule, at..end))?;
    while end > at && line.get(end - 1).copied().is_some_and(is_blank) {
        end -= 1;
    }
    let decimal = Decimal::from_f64(value).ok_or((Rule::NumberTooLarge, start..end))?;
    Ok((decimal, end))
}

/// Two letters in a row are a function's name.
fn is_function(line: &[u8], at: usize) -> bool {
    let next = skip_blanks(line, at + 1);
    line.get(next).is_some_and(u8::is_ascii_alphabetic)
}

/// Letters that are no words here: rotary axes, program numbers, and what no word begins with.
#[cold]
fn uncommon(line: &[u8], start: usize, letter: u8, end: usize, block: &mut Block) -> Result<usize, Broken> {
    let rule = match letter {
        b'A' | b'B' | b'C' => Rule::Foreign(Foreign::Rotary(letter.into())),
        b'N' => Rule::LineNumber,
        b'O' => {
            let alone = block.words().is_empty() && !block.numbered;
            let rest = skip_blanks(line, end);
            if alone && matches!(line.get(rest), None | Some(b'(' | b';')) {
                block.numbered = true;
                return Ok(end);
            }
            Rule::Foreign(Foreign::Flow)
        }
        _ => Rule::UnknownLetter(letter.into()),
    };
    Err((rule, start..end))
}

/// Comments, settings, and what means nothing.
#[cold]
fn other(line: &[u8], start: usize, byte: u8, parameters: &Parameters, block: &mut Block) -> Result<usize, Broken> {
    match byte {
        b'(' => comment(line, start, block),
        b';' => {
            block.comment = Some(start + 1..line.len());
            block.semicolon = true;
            Ok(line.len())
        }
        b'#' => setting(line, start, parameters, block),
        0 | 0x1A if line.iter().skip(start).all(|b| matches!(b, 0 | 0x1A | b' ')) => {
            block.zeros = true;
            Ok(line.len())
        }
        0 => Err((Rule::ZeroBytes, start..start + 1)),
        b'0'..=b'9' | b'.' | b'+' | b'-' => Err((Rule::NoLetter, start..malformed(line, start).1)),
        b'%' => Err((Rule::Percent, start..start + 1)),
        _ => Err((stray(line, start), start..start + 1)),
    }
}

fn stray(line: &[u8], at: usize) -> Rule {
    let rest = String::from_utf8_lossy(line.get(at..).unwrap_or_default());
    Rule::Stray(rest.chars().next().unwrap_or('\u{FFFD}'))
}

fn comment(line: &[u8], start: usize, block: &mut Block) -> Result<usize, Broken> {
    let inside = line.get(start + 1..).unwrap_or_default();
    let Some(length) = memchr::memchr(b')', inside) else {
        return Err((Rule::CommentOpen, start..line.len()));
    };
    if let Some(nested) = memchr::memchr(b'(', inside.get(..length).unwrap_or_default()) {
        return Err((Rule::CommentNested, start + 1 + nested..start + 2 + nested));
    }
    block.comment = Some(start + 1..start + 1 + length);
    block.semicolon = false;
    Ok(start + length + 2)
}

fn setting(line: &[u8], start: usize, parameters: &Parameters, block: &mut Block) -> Result<usize, Broken> {
    let placed = |(rule, end): (Rule, usize)| (rule, start..end);
    let (number, at) = expression::value(line, start + 1, parameters).map_err(placed)?;
    let index = Parameters::index(number).and_then(Parameters::settable).map_err(|rule| (rule, start..at))?;
    if line.get(at) != Some(&b'=') {
        return Err((Rule::Expected('='), at..at + 1));
    }
    let (value, end) = expression::value(line, at + 1, parameters).map_err(placed)?;
    block.settings.push((index, value));
    Ok(end)
}

#[cfg(test)]
mod tests {
    use super::super::code::{G, Group};
    use super::*;

    fn read(text: &str) -> Result<Block, Rule> {
        let mut block = Block::default();
        parse(text.as_bytes(), &Parameters::default(), &mut block).map_err(|(rule, _)| rule)?;
        Ok(block)
    }

    #[test]
    fn blanks_mean_nothing() {
        // NISTIR 6556 3.3.1
        let block = read("g0x +0. 12 34y 7").unwrap();
        assert_eq!(block.g(Group::Motion), Some(G::G0));
        assert_eq!(block.get(b'X'), Some(Decimal(123_400_000)));
        assert_eq!(block.get(b'Y'), Some(Decimal(7_000_000_000)));
    }

    #[test]
    fn the_usual_line_is_no_other() {
        for line in [
            "N10 G1 X10.5 Y-5",
            "g0x+0. 12 34y 7",
            "",
            "  ",
            "M3 S18000",
            "X1 2",
            "X[1+2]",
            "X1 X2",
            "G1 X-#1",
            "N1.5 X1",
            "O12",
            "X1(a)",
        ] {
            let (mut usual, mut careful) = (Block::default(), Block::default());
            let text = format!("{line}\nG0 X9 Y9 Z9\n");
            if let Some(length) = parse_usual(text.as_bytes(), &mut usual) {
                assert_eq!(length, line.len());
                parse(line.as_bytes(), &Parameters::default(), &mut careful).unwrap();
                assert_eq!(usual.words(), careful.words(), "{line}");
                assert_eq!(usual.g(Group::Motion), careful.g(Group::Motion), "{line}");
            }
        }
    }

    #[test]
    fn columns_are_the_words_own() {
        let block = read("N10 G1 X10 (now) Y-5").unwrap();
        assert_eq!(block.motion_column(), 5);
        assert_eq!(block.columns(b'Y'), 17..20);
        assert_eq!(block.comment, Some(12..15));
    }

    #[test]
    fn program_numbers_stand_alone() {
        assert!(read("O1001 (plant stand)").unwrap().numbered);
        for text in ["O100 sub", "O<name> call", "O100 if [1]", "O1 G1 X1"] {
            assert_eq!(read(text).unwrap_err(), Rule::Foreign(Foreign::Flow), "{text}");
        }
    }

    #[test]
    fn settings_wait_for_the_line() {
        // NISTIR 6556 3.3.3: the last of two settings wins, both after every value is read
        let block = read("#1=50 #2=[#1/4] X#1").unwrap();
        assert_eq!(block.settings, [(1, 50.0), (2, 0.0)]);
        assert_eq!(block.get(b'X'), Some(Decimal(0)));
    }
}
