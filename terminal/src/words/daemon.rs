//! What the daemon says, in the language of the screens: its English sentence is the key to the same one in another
//! language, and what is not in the file is said in English.
//!
//! The daemon knows no language of the person in front of a screen: two may look at once, and a phone at a third. May live
//! here: recognising a sentence and its holes. May not: the sentences, which are in the message file.

use super::table::hole;
use std::collections::BTreeMap;

/// A hole's value may hold a sentence with holes itself; no deeper.
const DEPTH: u32 = 3;
/// With fewer letters around its holes a sentence would be recognised in another.
pub(super) const LETTERS_AT_LEAST: usize = 5;

/// The sentences of the daemon in one language.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sentences {
    exact: BTreeMap<String, String>,
    holed: Vec<Holed>,
}

/// A sentence with holes: what stands between them, their names, and the sentence in the other language.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Holed {
    between: Vec<String>,
    names: Vec<String>,
    there: String,
}

impl Holed {
    fn of(english: &str, there: &str) -> Self {
        let (mut between, mut names, mut rest) = (Vec::new(), Vec::new(), english);
        while let Some((before, name, after)) = hole(rest) {
            between.push(before.to_owned());
            names.push(name.to_owned());
            rest = after;
        }
        between.push(rest.to_owned());
        Self { between, names, there: there.to_owned() }
    }

    fn letters(&self) -> usize {
        self.between.iter().flat_map(|part| part.chars()).filter(|c| c.is_alphabetic()).count()
    }

    /// What stands in its holes, where a text is this sentence. A value goes over the end of a sentence only in the last
    /// hole: what is told there may be long.
    fn values<'t>(&self, text: &'t str) -> Option<Vec<&'t str>> {
        let (first, last) = (self.between.first()?, self.between.last()?);
        let mut rest = text.strip_prefix(first.as_str())?;
        let mut values = Vec::new();
        for part in self.between.get(1..self.between.len() - 1)? {
            let (value, after) = rest.split_once(part.as_str())?;
            values.push(value);
            rest = after;
        }
        let value = rest.strip_suffix(last.as_str())?;
        let fits = values.iter().all(|v| !v.contains(". ")) && (last.is_empty() || !value.contains(". "));
        values.push(value);
        (fits && values.iter().all(|v| !v.is_empty())).then_some(values)
    }
}

impl Sentences {
    /// From pairs of an English sentence and the same in the language.
    #[must_use]
    pub fn of(pairs: impl IntoIterator<Item = (String, String)>) -> Self {
        let mut sentences = Self::default();
        for (english, there) in pairs {
            if hole(&english).is_some() {
                sentences.holed.push(Holed::of(&english, &there));
            } else {
                sentences.exact.insert(english, there);
            }
        }
        sentences.holed.retain(|h| h.letters() >= LETTERS_AT_LEAST);
        // the one that says most of the text itself is it
        sentences.holed.sort_by_key(|h| std::cmp::Reverse(h.letters()));
        sentences
    }

    /// A text of the daemon in this language, as far as it is known.
    #[must_use]
    pub fn told(&self, text: &str) -> String {
        self.at(text, DEPTH)
    }

    /// Whether every sentence of a text is known.
    #[must_use]
    pub fn knows(&self, text: &str) -> bool {
        self.whole(text, DEPTH).is_some() || sentences(text).iter().all(|s| self.whole(s, DEPTH).is_some())
    }

    fn at(&self, text: &str, depth: u32) -> String {
        if depth == 0 || self.exact.is_empty() && self.holed.is_empty() {
            return text.to_owned();
        }
        self.whole(text, depth).unwrap_or_else(|| {
            let told = |s: &&str| self.whole(s, depth).unwrap_or_else(|| (*s).to_owned());
            sentences(text).iter().map(told).collect::<Vec<_>>().join(" ")
        })
    }

    fn whole(&self, text: &str, depth: u32) -> Option<String> {
        if let Some(there) = self.exact(text) {
            return Some(there);
        }
        if let Some(there) = text.strip_suffix('.').and_then(|short| self.exact(short)) {
            return Some(format!("{there}."));
        }
        self.holed.iter().find_map(|holed| {
            let values = holed.values(text)?;
            let mut there = holed.there.clone();
            for (name, value) in holed.names.iter().zip(values) {
                there = there.replace(&format!("{{{name}}}"), &self.at(value, depth - 1));
            }
            // in the middle of a sentence it stays small
            let begins = text.chars().next().is_some_and(char::is_uppercase);
            Some(if begins { capital(&there) } else { there })
        })
    }

    /// As it is written, or in the middle of a sentence.
    fn exact(&self, text: &str) -> Option<String> {
        if let Some(there) = self.exact.get(text) {
            return Some(there.clone());
        }
        let first = text.chars().next().filter(|c| c.is_uppercase())?;
        let inside = format!("{}{}", first.to_lowercase(), text.get(first.len_utf8()..)?);
        self.exact.get(&inside).map(|there| capital(there))
    }
}

/// The sentences of a text, each with its end.
fn sentences(text: &str) -> Vec<&str> {
    let (mut found, mut from) = (Vec::new(), 0);
    for (at, _) in text.match_indices(' ') {
        let sentence = text.get(from..at).unwrap_or_default();
        if sentence.ends_with(['.', '?', '!']) {
            found.push(sentence);
            from = at + 1;
        }
    }
    found.extend(text.get(from..).filter(|rest| !rest.is_empty()));
    found
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn few() -> Sentences {
        let pairs = [
            ("The machine is free.", "Libre."),
            ("{number} sheets are waiting.", "Esperan {number}."),
            ("{off}. Leave the extraction on.", "{off}. Siga aspirando."),
            ("switch the router off", "apague la fresadora"),
            ("Cutting the {operation}.", "Cortando {operation}."),
            ("the mark at X {x}", "la marca en X {x}"),
            ("Bring the bit over {mark}.", "Lleve la fresa sobre {mark}."),
            ("{machine} does not answer: {why}", "{machine} calla: {why}"),
            ("{a} to {b}", "de {a} a {b}"),
        ];
        Sentences::of(pairs.map(|(english, there)| (english.to_owned(), there.to_owned())))
    }

    #[test]
    fn sentences_and_what_fills_them_are_recognised() {
        let few = few();
        for (english, there) in [
            ("The machine is free.", "Libre."),
            ("The machine is free. 3 sheets are waiting.", "Libre. Esperan 3."),
            ("Switch the router off. Leave the extraction on.", "Apague la fresadora. Siga aspirando."),
            ("Switch the router off.", "Apague la fresadora."),
            ("Cutting the slots. Nobody knows this.", "Cortando slots. Nobody knows this."),
            ("North does not answer: it is off. The machine is free.", "North calla: it is off. Libre."),
            ("Bring the bit over the mark at X 5.", "Lleve la fresa sobre la marca en X 5."),
            ("What is in no file.", "What is in no file."),
            ("Go to the owner", "Go to the owner"),
            ("", ""),
        ] {
            assert_eq!(few.told(english), there);
        }
        assert!(few.knows("The machine is free. 3 sheets are waiting.") && !few.knows("What is in no file."));
    }
}
