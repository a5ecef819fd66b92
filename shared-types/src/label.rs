//! The short code on a sheet's label: what is written on it by hand, read off it again, and typed.
//!
//! `B12N3-W` is sheet 3 of batch B12. The last character checks the others (ISO 7064 MOD 37,36, a hybrid system for letters
//! and digits: it finds every single wrong character and nearly every pair that was swapped), so that a misread label is
//! refused and never taken for another sheet's. May live here: that code. May not: looking a sheet up.

use crate::id::SheetId;

/// The characters of the system, each at its value.
const CHARACTERS: &[u8; 36] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
/// Stands between batch and number: a letter that is taken for no digit.
const BETWEEN: char = 'N';

/// A label that is none, or was misread.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Misread {
    /// It has not the form of one.
    #[error(
        "`{0}` is no label of a sheet. A label reads like B12N3-W: letter, number, N, number, and one more character."
    )]
    Form(String),
    /// Its last character does not fit the others.
    #[error(
        "`{0}` was misread: its last character does not fit the others. Read the label again, character by character."
    )]
    Check(String),
}

/// The code of a sheet; none for one whose id is not of this shop's form.
#[must_use]
pub fn label(sheet: &SheetId) -> Option<String> {
    let (batch, number) = sheet.0.split_once('-')?;
    let text = format!("{batch}{BETWEEN}{number}");
    parts(&text)?;
    let check = check(&text, CHARACTERS)?;
    Some(format!("{text}-{check}"))
}

/// The sheet of a code as somebody typed it: small letters, spaces and hyphens make no difference.
///
/// # Errors
/// When it has not the form of a label, or was misread.
pub fn read(typed: &str) -> Result<SheetId, Misread> {
    let code: String =
        typed.chars().filter(|c| !c.is_whitespace() && *c != '-').collect::<String>().to_ascii_uppercase();
    let form = || Misread::Form(typed.trim().to_owned());
    let last = code.chars().next_back().ok_or_else(form)?;
    let text = code.strip_suffix(last).ok_or_else(form)?;
    let (batch, number) = parts(text).ok_or_else(form)?;
    if check(text, CHARACTERS) != Some(last) {
        return Err(Misread::Check(typed.trim().to_owned()));
    }
    Ok(SheetId(format!("B{batch}-{number}")))
}

/// Batch and number of a code without its last character.
fn parts(text: &str) -> Option<(&str, &str)> {
    let (batch, number) = text.strip_prefix('B')?.split_once(BETWEEN)?;
    let is_number = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    (is_number(batch) && is_number(number)).then_some((batch, number))
}

/// The check character of a hybrid system of ISO 7064, MOD M+1,M, for M characters; none when the text has others.
fn check(text: &str, characters: &[u8]) -> Option<char> {
    let m = characters.len();
    let mut product = m;
    for byte in text.bytes() {
        let value = characters.iter().position(|c| *c == byte)?;
        let sum = (product + value) % m;
        product = if sum == 0 { m } else { sum } * 2 % (m + 1);
    }
    characters.get((m + 1 - product) % m).map(|c| char::from(*c))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The published example of MOD 37,36: the Global Release Identifier A1-2425G-ABC1234002-M of its standard (IFPI), whose
    /// last character is by ISO 7064 MOD 37,36. And of the same system with ten characters, MOD 11,10: 0794 has 5 (ISO 7064,
    /// from memory). The shop's own codes are by python-stdnum 2.2, `iso7064.mod_37_36`.
    #[test]
    fn published_examples_have_their_character() {
        assert_eq!(check("A12425GABC1234002", CHARACTERS), Some('M'));
        assert_eq!(check("0794", b"0123456789"), Some('5'));
        for (text, last) in [("B1N1", 'I'), ("B12N3", 'W'), ("B1N12", 'W'), ("B999N50", 'S')] {
            assert_eq!(check(text, CHARACTERS), Some(last), "{text}");
        }
    }

    #[test]
    fn a_label_is_read_however_it_is_typed() {
        let sheet = SheetId::from("B12-3");
        assert_eq!(label(&sheet).as_deref(), Some("B12N3-W"));
        for typed in ["B12N3-W", "b12n3w", " B12 N3 W ", "b12-n3-w"] {
            assert_eq!(read(typed), Ok(sheet.clone()), "{typed}");
        }
        assert!(matches!(read("B12N3-V"), Err(Misread::Check(_))));
        for typed in ["", "W", "B12-3", "12N3W", "B1NW", "B1N2", "ä"] {
            assert!(matches!(read(typed), Err(Misread::Form(_) | Misread::Check(_))), "{typed}");
        }
        assert_eq!(label(&SheetId::from("odd")), None);
    }

    /// ISO 7064: these systems find every single substitution.
    #[test]
    fn one_wrong_character_is_always_found() {
        let mut tried = 0;
        for (batch, number) in [(1, 1), (1, 12), (7, 40), (12, 3), (99, 99), (1234, 500)] {
            let sheet = SheetId(format!("B{batch}-{number}"));
            let code = label(&sheet).unwrap().replace('-', "");
            for at in 0..code.len() {
                for to in CHARACTERS {
                    let mut wrong = code.clone().into_bytes();
                    wrong[at] = *to;
                    let wrong = String::from_utf8(wrong).unwrap();
                    assert_eq!(read(&wrong) == Ok(sheet.clone()), wrong == code, "{wrong} for {code}");
                    assert!(wrong == code || read(&wrong).is_err(), "{wrong} for {code}");
                    tried += 1;
                }
            }
        }
        assert!(tried > 1000);
    }
}
