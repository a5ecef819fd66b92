//! Answers that are wanted in place of the expected ones, from a TOML or JSON file.
//!
//! ```toml
//! who = "Solveig"
//! [step]
//! thickness-near-left = 17.8      # a value; a string chooses; pairs of numbers are places
//! warm = "cold"
//! [part]
//! 2 = "scrap"                      # by number from 1, or by name
//! side = { grade = "rework", reason = "fuzzy", note = "left edge" }
//! ```
//!
//! May live here: the file's form. May not: which step is asked.

use chargehand_types::checklist::StepAnswer;
use chargehand_types::id::Person;
use chargehand_types::quantity::{Length, Spot};
use chargehand_types::stage::{Grade, Reason};
use serde::Deserialize;
use std::collections::BTreeMap;

/// Who is signed in when nobody is named: the role, which is the usual name in a config for tests.
const OWNER: &str = "owner";

/// Answers in place of the expected ones.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Answers {
    /// Who stands at the machine; the owner, so that findings can be signed.
    #[serde(default = "owner")]
    pub who: Person,
    /// By the step's id. An answer that is not taken is given once; then the expected one is.
    #[serde(default)]
    pub step: BTreeMap<String, Wanted>,
    /// By the part's number from 1, or its name.
    #[serde(default)]
    pub part: BTreeMap<String, Part>,
}

fn owner() -> Person {
    Person(OWNER.to_owned())
}

impl Default for Answers {
    fn default() -> Self {
        Self { who: owner(), step: BTreeMap::new(), part: BTreeMap::new() }
    }
}

/// A wanted answer.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum Wanted {
    /// A value read.
    Value(f64),
    /// An option's key.
    Choice(String),
    /// Places in work coordinates, mm.
    Places(Vec<[f64; 2]>),
}

impl Wanted {
    /// As the API takes it.
    #[must_use]
    pub fn answer(&self) -> StepAnswer {
        match self {
            Self::Value(value) => StepAnswer::Value { value: *value },
            Self::Choice(key) => StepAnswer::Choice { key: key.clone() },
            Self::Places(places) => StepAnswer::Placed {
                places: places
                    .iter()
                    .map(|[x, y]| Spot {
                        x: Length::from_mm(*x).unwrap_or_default(),
                        y: Length::from_mm(*y).unwrap_or_default(),
                    })
                    .collect(),
            },
        }
    }
}

/// How a part came out.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum Part {
    /// The grade alone.
    Grade(Grade),
    /// With a reason.
    Why {
        /// The grade.
        grade: Grade,
        /// Why.
        #[serde(default)]
        reason: Option<Reason>,
        /// In words.
        #[serde(default)]
        note: Option<String>,
    },
}

/// A file of answers that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct WrongAnswers(String);

impl Answers {
    /// From the text of a file; JSON when it begins with a brace, else TOML.
    ///
    /// # Errors
    /// With place and cause when it is neither.
    pub fn read(text: &str) -> Result<Self, WrongAnswers> {
        if text.trim_start().starts_with('{') {
            serde_json::from_str(text).map_err(|e| WrongAnswers(e.to_string()))
        } else {
            toml::from_str(text).map_err(|e| WrongAnswers(e.to_string()))
        }
    }

    /// The grade of a part: by its number, else by its name, else good.
    #[must_use]
    pub fn grade(&self, index: u32, name: &str) -> (Grade, Option<Reason>, Option<String>) {
        let number = (u64::from(index) + 1).to_string();
        match self.part.get(&number).or_else(|| self.part.get(name)) {
            None => (Grade::Good, None, None),
            Some(Part::Grade(Grade::Good)) => (Grade::Good, None, None),
            Some(Part::Grade(grade)) => (*grade, Some(Reason::Other), None),
            Some(Part::Why { grade, reason, note }) => (*grade, *reason, note.clone()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "who = \"Ada\"\n[step]\nt = 17.8\nface = \"up\"\nat = [[1.0, 2.5]]\n\
                        [part]\n2 = \"scrap\"\nside = { grade = \"rework\", reason = \"fuzzy\" }\n";

    #[test]
    fn toml_and_json_say_the_same() {
        let json = r#"{"who":"Ada","step":{"t":17.8,"face":"up","at":[[1.0,2.5]]},
            "part":{"2":"scrap","side":{"grade":"rework","reason":"fuzzy"}}}"#;
        assert_eq!(Answers::read(TEXT).unwrap(), Answers::read(json).unwrap());
        assert_eq!(Answers::read("").unwrap(), Answers::default());
    }

    #[test]
    fn a_number_wins_over_a_name() {
        let answers = Answers::read(TEXT).unwrap();
        assert_eq!(answers.grade(1, "side"), (Grade::Scrap, Some(Reason::Other), None));
        assert_eq!(answers.grade(0, "side"), (Grade::Rework, Some(Reason::Fuzzy), None));
        assert_eq!(answers.grade(0, "shelf"), (Grade::Good, None, None));
    }

    #[test]
    fn places_are_millimetres() {
        let answers = Answers::read(TEXT).unwrap();
        let StepAnswer::Placed { places } = answers.step["at"].answer() else { panic!("no places") };
        assert_eq!(places[0].y.mm(), 2.5);
    }

    #[test]
    fn unknown_words_are_told() {
        let fault = Answers::read("hwo = \"Ada\"").unwrap_err();
        assert!(fault.to_string().contains("hwo"), "{fault}");
    }
}
