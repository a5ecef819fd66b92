//! A card drafted from its programs: what they show is read, what is usual is assumed and said, and only what nobody
//! can know from them is asked.
//!
//! May live here: the order in which a card is worked out. May not: single readings, the check of what comes out.

mod asking;
mod bits;
mod diameter;
mod leaving;
mod pieces;
mod sequence;
mod sheet;
mod written;

use super::bench::Bench;
use super::cutplan::CutPlan;
use crate::shop::nearest::nearest;
use crate::shop::{form_of_a_name, is_name};
use asking::Asking;
use chargehand_types::card::Stores;
use chargehand_types::draft::Question;
use std::collections::BTreeMap;

/// What a card is to be drafted from.
#[derive(Debug, Clone, Copy)]
pub struct Wanted<'a> {
    /// What the card is to be called.
    pub name: &'a str,
    /// Path on the card and bytes of each program, in the order they were given.
    pub programs: &'a [(String, Vec<u8>)],
    /// What a person said, by the key of a question.
    pub answers: &'a BTreeMap<String, String>,
    /// Bits, materials, fasteners.
    pub stores: &'a Stores,
    /// The machine.
    pub bench: &'a Bench,
    /// Who shares the work of the sheet map.
    pub pool: &'a rayon::ThreadPool,
}

/// A drafted card.
#[derive(Debug, Clone, PartialEq)]
pub struct Drafted {
    /// Its text; where something is missing, a line that begins with `# ??`.
    pub text: String,
    /// What was assumed, one sentence each.
    pub assumed: Vec<String>,
    /// What only a person can know.
    pub missing: Vec<Question>,
}

/// Why no card can be drafted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CannotDraft {
    /// A name no card can have.
    #[error("`{}` is no name of a card: {}", .0.escape_debug(), form_of_a_name())]
    NoName(String),
    /// Nothing to draft from.
    #[error("a card needs at least one program")]
    NoProgram,
    /// The same path twice.
    #[error("the program {0} is given twice; each operation has a program of its own")]
    Twice(String),
    /// A program breaks the language.
    #[error("{program} cannot be read: {}", faults.join("; "))]
    Unreadable {
        /// Its path.
        program: String,
        /// The first faults, each with its line.
        faults: Vec<String>,
    },
    /// A program without a single feed move.
    #[error("{0} cuts nothing: it has no feed motion")]
    CutsNothing(String),
    /// An answer that answers nothing.
    #[error("no question has the key `{key}`{}; keys are: {}", near.as_ref().map_or_else(String::new, |n| format!(" (nearest: `{n}`)")), keys.join(", "))]
    UnknownKey {
        /// As given.
        key: String,
        /// What was most likely meant.
        near: Option<String>,
        /// All there are.
        keys: Vec<String>,
    },
    /// An answer that makes no sense.
    #[error("{key} = `{answer}`: {why}")]
    WrongAnswer {
        /// Of which question.
        key: String,
        /// As given.
        answer: String,
        /// What would do.
        why: String,
    },
}

/// Letters of an operation's drafted name.
const LONGEST_NAME: usize = 40;
/// Faults told of one program.
const FAULTS_TOLD: usize = 5;

/// One operation as far as it is known.
#[derive(Debug, Clone, PartialEq)]
struct Sketch {
    /// On the card.
    name: String,
    /// Path on the card.
    program: String,
    plan: CutPlan,
    /// A key of the shop's bits; none when it must be asked.
    bit: Option<String>,
    leaves: Option<leaving::Left>,
    /// Names of operations that come before.
    after: Vec<String>,
}

/// Drafts a card.
///
/// # Errors
/// When there is nothing to draft from, a program cannot be read, or an answer makes no sense.
pub fn draft(wanted: &Wanted<'_>) -> Result<Drafted, CannotDraft> {
    let mut sketches = read(wanted)?;
    let mut asking = Asking::new(wanted.answers);
    known_keys(wanted, &sketches)?;
    for sketch in &mut sketches {
        sketch.bit = bits::choose(&mut asking, sketch, wanted.stores)?;
    }
    let sheet = sheet::guess(&mut asking, &sketches, wanted)?;
    for sketch in &mut sketches {
        sketch.leaves = leaving::read(&mut asking, sketch, &sheet)?;
    }
    let sketches = sequence::sort(&mut asking, sketches)?;
    let text = written::card(&mut asking, wanted, &sheet, &sketches)?;
    let (assumed, missing) = asking.done();
    Ok(Drafted { text, assumed, missing })
}

fn read(wanted: &Wanted<'_>) -> Result<Vec<Sketch>, CannotDraft> {
    if !is_name(wanted.name) {
        return Err(CannotDraft::NoName(wanted.name.to_owned()));
    }
    if wanted.programs.is_empty() {
        return Err(CannotDraft::NoProgram);
    }
    let mut sketches: Vec<Sketch> = Vec::new();
    for (path, bytes) in wanted.programs {
        if sketches.iter().any(|s| s.program == *path) {
            return Err(CannotDraft::Twice(path.clone()));
        }
        let plan = CutPlan::read(bytes, wanted.bench.start(), None).map_err(|faults| CannotDraft::Unreadable {
            program: path.clone(),
            faults: faults.iter().take(FAULTS_TOLD).map(ToString::to_string).collect(),
        })?;
        if plan.lowest().is_none() {
            return Err(CannotDraft::CutsNothing(path.clone()));
        }
        let name = operation_name(wanted, path, &sketches);
        sketches.push(Sketch { name, program: path.clone(), plan, bit: None, leaves: None, after: Vec::new() });
    }
    Ok(sketches)
}

/// The program's file name without its ending, and without what all of them (or the card and it) begin with, in small
/// letters; with a number where another operation has it already.
fn operation_name(wanted: &Wanted<'_>, path: &str, others: &[Sketch]) -> String {
    let own = stem(path);
    let of_card = own.strip_prefix(&wanted.name.to_lowercase());
    let short = of_card.unwrap_or_else(|| own.get(shared_beginning(wanted.programs)..).unwrap_or_default());
    let sound = |c: char| if c.is_ascii_lowercase() || c.is_ascii_digit() { c } else { '-' };
    let name: String = short.chars().map(sound).take(LONGEST_NAME).collect();
    let name = name.trim_matches('-');
    let name = if name.is_empty() { "cut" } else { name };
    let is_new = |n: &str| others.iter().all(|o| o.name != n);
    if is_new(name) {
        return name.to_owned();
    }
    (2..).map(|n: u32| format!("{name}-{n}")).find(|n| is_new(n)).unwrap_or_default()
}

fn stem(path: &str) -> String {
    let file = path.rsplit('/').next().unwrap_or(path);
    file.rsplit_once('.').map_or(file, |(stem, _)| stem).to_lowercase()
}

/// Bytes that the names of all programs begin with, up to their last dash or underline; none of a single program.
fn shared_beginning(programs: &[(String, Vec<u8>)]) -> usize {
    let mut stems = programs.iter().map(|(path, _)| stem(path));
    let Some(first) = stems.next().filter(|_| programs.len() > 1) else { return 0 };
    let shared = stems.fold(first.len(), |shared, next| {
        first.bytes().zip(next.bytes()).take(shared).take_while(|(a, b)| a == b).count()
    });
    let begin = first.get(..shared).unwrap_or_default();
    begin.rfind(['-', '_', ' ']).map_or(0, |at| at + 1)
}

fn known_keys(wanted: &Wanted<'_>, sketches: &[Sketch]) -> Result<(), CannotDraft> {
    let mut keys: Vec<String> = asking::KEYS.iter().map(|k| (*k).to_owned()).collect();
    for sketch in sketches {
        keys.extend(["bit", "leaves", "skin"].map(|k| format!("{k}.{}", sketch.name)));
    }
    match wanted.answers.keys().find(|k| !keys.contains(k)) {
        None => Ok(()),
        Some(key) => {
            let near = nearest(key, keys.iter().map(String::as_str)).map(str::to_owned);
            Err(CannotDraft::UnknownKey { key: key.clone(), near, keys })
        }
    }
}

#[cfg(test)]
mod tests;
