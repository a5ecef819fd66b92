//! What a person has said, what was assumed, and what is still to be asked.
//!
//! May live here: answers as values, sentences, questions. May not: what is asked when.

use super::CannotDraft;
use chargehand_types::draft::Question;
use chargehand_types::quantity::Length;
use std::collections::BTreeMap;

/// Keys of a card as a whole; `bit.NAME`, `leaves.NAME` and `skin.NAME` come with each operation.
pub(super) const KEYS: [&str; 9] =
    ["title", "parts", "material", "thickness", "z_zero", "size", "corner", "fastener", "order"];

/// Answers, assumptions and open questions of one draft.
#[derive(Debug)]
pub(super) struct Asking<'a> {
    answers: &'a BTreeMap<String, String>,
    assumed: Vec<String>,
    missing: Vec<Question>,
}

impl<'a> Asking<'a> {
    pub(super) fn new(answers: &'a BTreeMap<String, String>) -> Self {
        Self { answers, assumed: Vec::new(), missing: Vec::new() }
    }

    pub(super) fn done(self) -> (Vec<String>, Vec<Question>) {
        (self.assumed, self.missing)
    }

    /// What was said, as it was said.
    pub(super) fn said(&self, key: &str) -> Option<&'a str> {
        self.answers.get(key).map(|s| s.trim())
    }

    /// One of the words there are.
    pub(super) fn word(&self, key: &str, words: &[String]) -> Result<Option<String>, CannotDraft> {
        let Some(said) = self.said(key) else { return Ok(None) };
        if words.iter().any(|w| w == said) {
            return Ok(Some(said.to_owned()));
        }
        Err(wrong(key, said, &format!("one of: {}", words.join(", "))))
    }

    /// A length of more than nothing.
    pub(super) fn length(&self, key: &str) -> Result<Option<Length>, CannotDraft> {
        let Some(said) = self.said(key) else { return Ok(None) };
        millimetres(said)
            .filter(|l| *l > Length::ZERO)
            .map(Some)
            .ok_or_else(|| wrong(key, said, "millimetres, more than 0"))
    }

    /// Two lengths, as `610x1220` or `610,1220`.
    pub(super) fn two(&self, key: &str) -> Result<Option<[Length; 2]>, CannotDraft> {
        let Some(said) = self.said(key) else { return Ok(None) };
        let parts = said.split_once(['x', 'X', ',']);
        parts
            .and_then(|(a, b)| Some([millimetres(a)?, millimetres(b)?]))
            .map(Some)
            .ok_or_else(|| wrong(key, said, "two lengths in millimetres, like 610x1220"))
    }

    /// A whole number of at least one.
    pub(super) fn count(&self, key: &str, most: u32) -> Result<Option<u32>, CannotDraft> {
        let Some(said) = self.said(key) else { return Ok(None) };
        let number = said.parse().ok().filter(|n| (1..=most).contains(n));
        number.map(Some).ok_or_else(|| wrong(key, said, &format!("a whole number, 1 to {most}")))
    }

    pub(super) fn assume(&mut self, sentence: impl Into<String>) {
        self.assumed.push(sentence.into());
    }

    pub(super) fn ask(&mut self, key: &str, asks: impl Into<String>, choices: Vec<String>, suggested: Option<String>) {
        self.missing.push(Question { key: key.to_owned(), asks: asks.into(), choices, suggested });
    }

    /// The question with this key, if it is open.
    pub(super) fn open(&self, key: &str) -> Option<&Question> {
        self.missing.iter().find(|q| q.key == key)
    }
}

/// An answer that makes no sense.
pub(super) fn wrong(key: &str, answer: &str, why: &str) -> CannotDraft {
    CannotDraft::WrongAnswer { key: key.to_owned(), answer: answer.to_owned(), why: why.to_owned() }
}

/// A length in millimetres, with or without its unit.
fn millimetres(text: &str) -> Option<Length> {
    let number = text.trim().trim_end_matches("mm").trim().parse::<f64>().ok()?;
    Length::from_mm(number).ok()
}
