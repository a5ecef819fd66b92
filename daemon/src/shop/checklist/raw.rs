//! The form of a list's file.

use super::{Expect, Only, Over};
use chargehand_types::checklist::{Caution, Choice};
use serde::de::{Error, Visitor};
use serde::{Deserialize, Deserializer};
use std::fmt;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawList {
    pub title: String,
    pub full: Vec<RawStep>,
    pub repeat: Option<Vec<RawStep>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawStep {
    pub id: String,
    pub text: String,
    pub help: Option<String>,
    pub caution: Option<Caution>,
    pub ask: RawAsk,
    pub only: Option<Only>,
    pub unit: Option<String>,
    pub least: Option<f64>,
    pub most: Option<f64>,
    pub expect: Option<RawExpect>,
    pub within: Option<f64>,
    pub options: Option<Vec<Choice>>,
    pub right: Option<Vec<String>>,
    pub over: Option<Over>,
    pub takes_min: Option<f64>,
}

#[derive(Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "kebab-case")]
pub(super) enum RawAsk {
    Confirm,
    Value,
    Choose,
    Place,
    RunDown,
    TouchZ,
    TouchAgain,
    Hover,
    Parts,
}

/// A word, or a number.
#[derive(Clone, Copy)]
pub(super) struct RawExpect(pub Expect);

const EXPECT_WORDS: [&str; 7] =
    ["thickness", "bit-diameter", "bit-number", "dial", "fasteners", "sheet-number", "calls"];

impl<'de> Deserialize<'de> for RawExpect {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct Either;
        impl Visitor<'_> for Either {
            type Value = RawExpect;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "one of {}, or a number", EXPECT_WORDS.map(|w| format!("\"{w}\"")).join(", "))
            }

            fn visit_str<E: Error>(self, word: &str) -> Result<RawExpect, E> {
                match word {
                    "thickness" => Ok(RawExpect(Expect::Thickness)),
                    "bit-diameter" => Ok(RawExpect(Expect::BitDiameter)),
                    "bit-number" => Ok(RawExpect(Expect::BitNumber)),
                    "dial" => Ok(RawExpect(Expect::Dial)),
                    "fasteners" => Ok(RawExpect(Expect::Fasteners)),
                    "sheet-number" => Ok(RawExpect(Expect::SheetNumber)),
                    "calls" => Ok(RawExpect(Expect::Calls)),
                    other => Err(E::unknown_variant(other, &EXPECT_WORDS)),
                }
            }

            fn visit_f64<E: Error>(self, number: f64) -> Result<RawExpect, E> {
                Ok(RawExpect(Expect::Number(number)))
            }

            fn visit_i64<E: Error>(self, number: i64) -> Result<RawExpect, E> {
                Ok(RawExpect(Expect::Number(number as f64)))
            }
        }
        d.deserialize_any(Either)
    }
}
