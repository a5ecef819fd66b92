//! Checklists: `securing`, `tooling`, `ready`, `taking-off`, `checking`, each with a full and a repeat form.
//!
//! Lists are data and a shop may change them; the steps that keep hands and sheets whole cannot be taken out.

use super::check::Check;
use super::fault::Fault;
use super::text::{Doc, Path};
use chargehand_types::checklist::{Ask, Caution, Choice, ListForm, ListKind, Step};
use chargehand_types::quantity::Spot;
use serde::Deserialize;
use std::collections::BTreeMap;

/// Steps a list may have (norm: five to nine items a pause point; seven is the budget).
pub const STEPS_AT_MOST: usize = 9;

/// A list with both forms.
#[derive(Debug, Clone, PartialEq)]
pub struct Checklist {
    /// Which list.
    pub kind: ListKind,
    /// For people.
    pub title: String,
    /// On a first sheet.
    pub full: Vec<Item>,
    /// On repeats.
    pub repeat: Vec<Item>,
}

impl Checklist {
    /// The steps of a form.
    #[must_use]
    pub fn form(&self, form: ListForm) -> &[Item] {
        match form {
            ListForm::Full => &self.full,
            ListForm::Repeat => &self.repeat,
        }
    }
}

/// One step as the file has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// Its name.
    pub id: String,
    /// The one action; `{…}` is filled in.
    pub text: String,
    /// More, behind `?`.
    pub help: Option<String>,
    /// At this step.
    pub caution: Option<Caution>,
    /// What is asked.
    pub ask: AskKind,
    /// Only under this condition.
    pub only: Option<Only>,
    /// Cannot be taken out or skipped.
    pub killer: bool,
}

/// What a step asks, as the file has it.
#[derive(Debug, Clone, PartialEq)]
pub enum AskKind {
    /// See or do.
    Confirm,
    /// Read back.
    Value {
        /// Of the value.
        unit: String,
        /// Least and most plausible.
        range: [f64; 2],
        /// Where the expected value comes from.
        expect: Option<Expect>,
    },
    /// Choose.
    Choose(Vec<Choice>),
    /// Put fasteners in.
    Place,
    /// Wait for the run-down.
    RunDown,
    /// Touch the Z zero.
    TouchZ,
    /// Grade the parts.
    Parts,
}

/// Where an expected value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Expect {
    /// The sheet's thickness.
    Thickness,
    /// The bit's diameter.
    BitDiameter,
    /// The router's dial.
    Dial,
    /// How many fasteners were put in.
    Fasteners,
}

/// When a step is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Only {
    /// The spindle is switched by hand.
    ManualSpindle,
    /// The spindle is switched by the controller.
    ControlledSpindle,
    /// The bit has to be changed.
    BitChange,
    /// The card says which face or grain.
    FaceOrGrain,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    title: String,
    full: Vec<RawItem>,
    repeat: Vec<RawItem>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawItem {
    id: String,
    text: String,
    help: Option<String>,
    caution: Option<Caution>,
    #[serde(default)]
    ask: RawAsk,
    unit: Option<String>,
    range: Option<[f64; 2]>,
    expect: Option<Expect>,
    #[serde(default)]
    options: Vec<Choice>,
    only: Option<Only>,
}

#[derive(Deserialize, Default, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "kebab-case")]
enum RawAsk {
    #[default]
    Confirm,
    Value,
    Choose,
    Place,
    RunDown,
    TouchZ,
    Parts,
}

/// Steps that cannot be taken out, by list and form, with what they must ask.
const fn required(kind: ListKind, form: ListForm) -> &'static [(&'static str, RawAsk)] {
    match (kind, form) {
        (ListKind::Securing, ListForm::Full) => &[
            ("pushed-to-stop", RawAsk::Confirm),
            ("thickness", RawAsk::Value),
            ("fasteners", RawAsk::Place),
            ("heads-seated", RawAsk::Confirm),
        ],
        (ListKind::Securing, ListForm::Repeat) => {
            &[("pushed-to-stop", RawAsk::Confirm), ("thickness", RawAsk::Value), ("fasteners", RawAsk::Place)]
        }
        (ListKind::Tooling, _) => {
            &[("bit-still", RawAsk::RunDown), ("bit-fitted", RawAsk::Value), ("touch-z", RawAsk::TouchZ)]
        }
        (ListKind::Ready, ListForm::Full) => &[
            ("plate-off", RawAsk::Confirm),
            ("hands-clear", RawAsk::Confirm),
            ("eyes-and-ears", RawAsk::Confirm),
            ("router-on", RawAsk::Confirm),
        ],
        (ListKind::Ready, ListForm::Repeat) => {
            &[("plate-off", RawAsk::Confirm), ("hands-clear", RawAsk::Confirm), ("router-on", RawAsk::Confirm)]
        }
        (ListKind::TakingOff, _) => &[("bit-still", RawAsk::RunDown), ("fasteners-back", RawAsk::Value)],
        (ListKind::Checking, _) => &[("parts", RawAsk::Parts)],
    }
}

/// Reads a list.
///
/// # Errors
/// Every fault, a missing safety-critical step among them.
pub fn checklist(kind: ListKind, file: &str, text: &str) -> Result<Checklist, Vec<Fault>> {
    let doc = Doc::parse(file, text)?;
    let raw: Raw = doc.read()?;
    let mut check = Check::new(&doc);
    check.words(&Path::top().key("title"), &raw.title);
    let full = items(raw.full, required(kind, ListForm::Full), "full", &mut check);
    let repeat = items(raw.repeat, required(kind, ListForm::Repeat), "repeat", &mut check);
    check.done(Checklist { kind, title: raw.title, full, repeat })
}

fn items(raw: Vec<RawItem>, required: &[(&str, RawAsk)], form: &str, check: &mut Check<'_, '_>) -> Vec<Item> {
    let list = Path::top().key(form);
    for (id, ask) in required {
        if !raw.iter().any(|i| i.id == *id && i.ask == *ask) {
            check.tell(
                &list,
                format!("the step `{id}` is missing, or asks something else"),
                "it keeps hands and sheets whole: it cannot be left out or asked another way",
            );
        }
    }
    check.no_more_than(&list, raw.len(), STEPS_AT_MOST);
    let ids: Vec<String> = raw.iter().map(|i| i.id.clone()).collect();
    check.once("step", ids.iter().enumerate().map(|(at, id)| (list.at(at).key("id"), id.as_str())));
    raw.into_iter()
        .enumerate()
        .map(|(at, i)| {
            let killer = required.iter().any(|(id, _)| *id == i.id);
            item(i, killer, &list.at(at), check)
        })
        .collect()
}

fn item(i: RawItem, killer: bool, path: &Path, check: &mut Check<'_, '_>) -> Item {
    check.words(&path.key("text"), &i.text);
    let ask = match i.ask {
        RawAsk::Confirm => AskKind::Confirm,
        RawAsk::Value => match (i.unit, i.range) {
            (Some(unit), Some(range)) => AskKind::Value { unit, range, expect: i.expect },
            _ => {
                check.missing(path, "range", "a value needs its `unit` and its plausible `range`");
                AskKind::Confirm
            }
        },
        RawAsk::Choose => {
            if i.options.len() < 2 {
                check.tell(&path.key("options"), format!("{} option(s)", i.options.len()), "at least two");
            }
            AskKind::Choose(i.options)
        }
        RawAsk::Place => AskKind::Place,
        RawAsk::RunDown => AskKind::RunDown,
        RawAsk::TouchZ => AskKind::TouchZ,
        RawAsk::Parts => AskKind::Parts,
    };
    if killer && i.only.is_some() && !allowed_only(i.only) {
        check.tell(&path.key("only"), "a condition", "none: this step is asked always");
    }
    Item { id: i.id, text: i.text, help: i.help, caution: i.caution, ask, only: i.only, killer }
}

/// A safety-critical step may only depend on how the spindle is switched or on a bit change.
const fn allowed_only(only: Option<Only>) -> bool {
    matches!(only, None | Some(Only::ManualSpindle | Only::BitChange))
}

/// What is filled into a list: texts by name, and expected values.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// `{name}` in a text.
    pub words: BTreeMap<&'static str, String>,
    /// The sheet's thickness in mm.
    pub thickness: Option<f64>,
    /// The bit's diameter in mm.
    pub bit_diameter: Option<f64>,
    /// The dial number.
    pub dial: Option<f64>,
    /// Where fasteners go.
    pub places: Vec<Spot>,
    /// What fastener, for people.
    pub fastener: String,
    /// How many were put in.
    pub fasteners_in: Option<f64>,
    /// Machine seconds of the run-down, in all and left.
    pub run_down: [f64; 2],
    /// Parts of the card.
    pub parts: Vec<String>,
    /// Parts graded.
    pub graded: Vec<u32>,
    /// Which conditions hold.
    pub holds: Vec<Only>,
}

impl Facts {
    /// Whether an item is asked.
    #[must_use]
    pub fn asks(&self, item: &Item) -> bool {
        item.only.is_none_or(|only| self.holds.contains(&only))
    }

    /// An item filled in, as the terminal shows it.
    #[must_use]
    pub fn fill(&self, item: &Item) -> Step {
        Step {
            id: item.id.clone(),
            text: self.words_in(&item.text),
            help: item.help.as_ref().map(|h| self.words_in(h)),
            caution: item.caution.clone(),
            ask: self.ask(&item.ask),
            killer: item.killer,
        }
    }

    fn words_in(&self, text: &str) -> String {
        self.words.iter().fold(text.to_owned(), |t, (name, word)| t.replace(&format!("{{{name}}}"), word))
    }

    fn ask(&self, ask: &AskKind) -> Ask {
        match ask {
            AskKind::Confirm => Ask::Confirm,
            AskKind::Value { unit, range, expect } => {
                let expect = expect.and_then(|e| match e {
                    Expect::Thickness => self.thickness,
                    Expect::BitDiameter => self.bit_diameter,
                    Expect::Dial => self.dial,
                    Expect::Fasteners => self.fasteners_in,
                });
                Ask::Value { unit: unit.clone(), expect, least: range[0], most: range[1] }
            }
            AskKind::Choose(options) => Ask::Choose { options: options.clone() },
            AskKind::Place => Ask::Place { places: self.places.clone(), fastener: self.fastener.clone() },
            AskKind::RunDown => Ask::RunDown { seconds: self.run_down[0], left: self.run_down[1] },
            AskKind::TouchZ => Ask::TouchZ,
            AskKind::Parts => Ask::Parts { names: self.parts.clone(), graded: self.graded.clone() },
        }
    }
}
