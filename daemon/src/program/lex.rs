//! One line of text into the words of a block (NISTIR 6556, 3.3). Nothing is allocated for a plain line.

use super::expression::{Cursor, value};
use super::fault::Rule;
use super::number::{self, Malformed, Number};
use super::parameters::{Parameters, index};

/// Longest line (3.3: 256 characters).
pub const LINE_LONGEST: usize = 256;
/// G words kept of one line; there are fewer modal groups.
const G_MOST: usize = 16;
/// M words allowed on one line (3.3.5).
const M_MOST: usize = 4;

/// The words of one line.
#[derive(Debug, Clone)]
pub struct Words {
    values: [Number; 26],
    columns: [u16; 26],
    mask: u32,
    /// G words, ten times their number, with their columns.
    pub g: List<G_MOST>,
    /// M words with their columns.
    pub m: List<M_MOST>,
    /// Parameters set by this line, to take effect after it is read.
    pub settings: Vec<(u16, f64)>,
    /// Where the last comment's text stands in the line.
    pub comment: Option<(u16, u16)>,
    /// The line began with `/`.
    pub deletable: bool,
    /// A bare program number (`O100`) stood alone on the line.
    pub program_number: bool,
}

/// A short list of codes.
#[derive(Debug, Clone, Copy)]
pub struct List<const N: usize> {
    items: [(i16, u16); N],
    len: u8,
}

impl<const N: usize> Default for List<N> {
    fn default() -> Self {
        Self { items: [(0, 0); N], len: 0 }
    }
}

impl<const N: usize> List<N> {
    fn push(&mut self, item: (i16, u16)) -> bool {
        match self.items.get_mut(usize::from(self.len)) {
            Some(slot) => {
                *slot = item;
                self.len += 1;
                true
            }
            None => false,
        }
    }

    /// The codes with their columns.
    pub fn iter(&self) -> impl Iterator<Item = (i16, u16)> + '_ {
        self.items.iter().take(usize::from(self.len)).copied()
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.len == 0
    }
}

impl Default for Words {
    fn default() -> Self {
        Self {
            values: [Number(0); 26],
            columns: [0; 26],
            mask: 0,
            g: List::default(),
            m: List::default(),
            settings: Vec::new(),
            comment: None,
            deletable: false,
            program_number: false,
        }
    }
}

const fn slot(letter: u8) -> usize {
    (letter - b'A') as usize
}

impl Words {
    /// Makes it empty for the next line.
    pub fn clear(&mut self) {
        self.mask = 0;
        self.g.len = 0;
        self.m.len = 0;
        self.settings.clear();
        self.comment = None;
        self.deletable = false;
        self.program_number = false;
    }

    /// The value of a letter other than G, M, N. The letter is upper case.
    #[must_use]
    pub fn get(&self, letter: u8) -> Option<Number> {
        if self.mask & (1 << slot(letter)) == 0 { None } else { self.values.get(slot(letter)).copied() }
    }

    /// Where the letter stands, 1-based.
    #[must_use]
    pub fn column(&self, letter: u8) -> u32 {
        u32::from(self.columns.get(slot(letter)).copied().unwrap_or(0)) + 1
    }

    /// The letters there, as bits from A.
    #[must_use]
    pub const fn mask(&self) -> u32 {
        self.mask
    }

    /// Whether the line holds nothing to be carried out.
    #[must_use]
    pub fn is_blank(&self) -> bool {
        self.mask == 0 && self.g.is_empty() && self.m.is_empty() && self.settings.is_empty()
    }

    fn put(&mut self, letter: u8, column: usize, v: Number) -> Result<(), Rule> {
        let bit = 1 << slot(letter);
        if self.mask & bit != 0 {
            return Err(Rule::LetterTwice(char::from(letter)));
        }
        self.mask |= bit;
        if let Some(value) = self.values.get_mut(slot(letter)) {
            *value = v;
        }
        if let Some(c) = self.columns.get_mut(slot(letter)) {
            *c = u16::try_from(column).unwrap_or(u16::MAX);
        }
        Ok(())
    }
}

/// A broken rule with its 0-based column.
pub type At = (usize, Rule);

/// Reads one line, without its line end, into `words`.
///
/// # Errors
/// The first broken rule with its 0-based column.
pub fn line(text: &[u8], parameters: &Parameters, words: &mut Words) -> Result<(), At> {
    words.clear();
    if text.len() > LINE_LONGEST {
        return Err((LINE_LONGEST, Rule::LineTooLong));
    }
    let mut at = 0;
    let mut first = true;
    while let Some(&byte) = text.get(at) {
        match byte {
            b' ' | b'\t' | b'\r' | 0 => at += 1,
            b'(' => at = comment(text, at, words)?,
            b';' => {
                note_comment(words, at + 1, text.len());
                break;
            }
            b'/' if first => {
                words.deletable = true;
                at += 1;
            }
            b'#' => {
                at = setting(text, at, parameters, words)?;
                first = false;
            }
            b'A'..=b'Z' | b'a'..=b'z' => {
                at = word(text, at, first, parameters, words)?;
                first = false;
            }
            _ => return Err((at, Rule::UnknownLetter(char::from(byte)))),
        }
    }
    Ok(())
}

fn note_comment(words: &mut Words, from: usize, to: usize) {
    words.comment = u16::try_from(from).ok().zip(u16::try_from(to).ok());
}

fn comment(text: &[u8], at: usize, words: &mut Words) -> Result<usize, At> {
    let inside = text.get(at + 1..).unwrap_or_default();
    let Some(end) = inside.iter().position(|b| matches!(b, b')' | b'(')) else {
        return Err((at, Rule::CommentNotClosed));
    };
    if inside.get(end) == Some(&b'(') {
        return Err((at + 1 + end, Rule::CommentNested));
    }
    note_comment(words, at + 1, at + 1 + end);
    Ok(at + end + 2)
}

fn setting(text: &[u8], at: usize, parameters: &Parameters, words: &mut Words) -> Result<usize, At> {
    let mut c = Cursor { text, at: at + 1 };
    let target = value(&mut c, parameters, 0).map_err(|r| (at, r))?;
    let target = index(target).ok_or((at, Rule::ParameterIndex))?;
    if c.peek() != Some(b'=') {
        return Err((c.at, Rule::Expression("a parameter on its own needs = and a value")));
    }
    c.at += 1;
    let v = real(&mut c, parameters).map_err(|r| (c.at, r))?;
    words.settings.push((target, v.f64()));
    Ok(c.at)
}

/// A value: the fast way for a plain number, the long way for everything else.
fn real(c: &mut Cursor<'_>, parameters: &Parameters) -> Result<Number, Rule> {
    match c.peek() {
        Some(b'#' | b'[' | b'A'..=b'Z') => {
            let v = value(c, parameters, 0)?;
            Number::from_f64(v).ok_or(Rule::Expression("the value has no end"))
        }
        _ => match number::read(c.text.get(c.at..).unwrap_or_default()) {
            Ok((n, took)) => {
                c.at += took;
                Ok(n)
            }
            Err(Malformed::NoDigit) => Err(Rule::NoNumber(' ')),
            Err(Malformed::TooLong) => Err(Rule::NumberTooLong(' ')),
        },
    }
}

fn word(text: &[u8], at: usize, first: bool, parameters: &Parameters, words: &mut Words) -> Result<usize, At> {
    let letter = text.get(at).map_or(b'?', u8::to_ascii_uppercase);
    let name = char::from(letter);
    match letter {
        b'N' if first => return line_number(text, at),
        b'O' => return program_number(text, at, words),
        b'E' | b'U' | b'V' | b'W' | b'N' => return Err((at, Rule::UnknownLetter(name))),
        b'A' | b'B' | b'C' => {
            return Err((at, Rule::NotForController(format!("the rotary axis {name} is not there on this machine"))));
        }
        _ => {}
    }
    let mut c = Cursor { text, at: at + 1 };
    let n = real(&mut c, parameters).map_err(|rule| {
        let rule = match rule {
            Rule::NoNumber(_) => Rule::NoNumber(name),
            Rule::NumberTooLong(_) => Rule::NumberTooLong(name),
            other => other,
        };
        (at, rule)
    })?;
    // what may follow a number is a letter, a comment, a parameter or the end
    if let Some(next) = c.peek()
        && !matches!(next, b'A'..=b'Z' | b'(' | b';' | b'#' | b'\r' | 0 | b'/')
    {
        return Err((at, Rule::NoNumber(name)));
    }
    let column = u16::try_from(at).unwrap_or(u16::MAX);
    match letter {
        b'G' => {
            let code = n.tenths().and_then(|v| i16::try_from(v).ok()).ok_or((at, Rule::UnknownG(n.f64())))?;
            if !words.g.push((code, column)) {
                return Err((at, Rule::UnknownG(n.f64())));
            }
        }
        b'M' => {
            let code = n.integer().and_then(|v| i16::try_from(v).ok()).ok_or((at, Rule::UnknownM(n.f64())))?;
            if !words.m.push((code, column)) {
                return Err((at, Rule::TooManyM));
            }
        }
        _ => words.put(letter, at, n).map_err(|r| (at, r))?,
    }
    Ok(c.at)
}

/// N and one to five digits (3.3.1.1).
fn line_number(text: &[u8], at: usize) -> Result<usize, At> {
    let mut end = at + 1;
    let mut digits = 0;
    while let Some(&byte) = text.get(end) {
        match byte {
            b'0'..=b'9' => digits += 1,
            b' ' | b'\t' => {}
            _ => break,
        }
        end += 1;
    }
    if (1..=5).contains(&digits) && !matches!(text.get(end), Some(b'.' | b'-' | b'+')) {
        Ok(end)
    } else {
        Err((at, Rule::LineNumber))
    }
}

/// A bare program number is read and ignored; control flow by O words is not for any controller here.
fn program_number(text: &[u8], at: usize, words: &mut Words) -> Result<usize, At> {
    let rest = text.get(at + 1..).unwrap_or_default();
    let digits = rest.iter().take_while(|b| b.is_ascii_digit()).count();
    let after = rest.get(digits..).unwrap_or_default();
    let mut end = after.iter().take_while(|b| matches!(b, b' ' | b'\t' | b'\r')).count();
    if after.get(end) == Some(&b'(') || after.get(end) == Some(&b';') {
        end = 0;
    } else if after.len() > end {
        return Err((at, Rule::NotForController("control flow by O words is not sent on".to_owned())));
    }
    if digits == 0 || words.mask != 0 {
        return Err((at, Rule::UnknownLetter('O')));
    }
    words.program_number = true;
    Ok(at + 1 + digits + end)
}
