//! The sheet on the machine: its card, its programs, what was judged of it, and the list under way.

use super::interrupted::Attention;
use super::judging::JudgedWith;
use super::premises::Premises;
use super::programs::{Programs, Texts};
use crate::findings::{self, Bench, CannotJudge, Case, Enterable, Judged};
use crate::ledger::Ledger;
use crate::program::motion::{Doing, MoveKind};
use crate::program::steps;
use crate::shop::checklist::Step;
use chargehand_types::card::{Bit, Card, Operation, Stores};
use chargehand_types::checklist::{ListForm, ListKind};
use chargehand_types::event::{StopRecord, StoredProgram};
use chargehand_types::finding::{Finding, Severity};
use chargehand_types::id::{BitNumber, Revision, SheetId};
use chargehand_types::quantity::{Length, Rpm, Spot, Tick};
use std::sync::Arc;
use std::time::Instant;

/// A card with its programs, judged.
#[derive(Debug, Clone)]
pub struct JudgedCard {
    /// The card.
    pub card: Card,
    /// Its programs.
    pub programs: Programs,
    /// What it was judged with.
    pub with: JudgedWith,
    /// What was found and timed.
    pub judged: Judged,
    /// One an operation.
    pub traits: Vec<Traits>,
}

/// What a program shows that the screens need.
#[derive(Debug, Clone, Default)]
pub struct Traits {
    /// Lines after which the bit is out of the wood; of very many, evenly left out ones are not here.
    pub lifts: Vec<u32>,
    /// The first spindle speed.
    pub rpm: Option<Rpm>,
}

impl JudgedCard {
    /// Judges a card, where that is not known yet.
    ///
    /// # Errors
    /// When it names something that is not there.
    pub fn of(card: Card, programs: Texts, with: JudgedWith, premises: &Premises) -> Result<Arc<Self>, CannotJudge> {
        if let Some(known) = premises.known.find(&card, &findings::revision(&card, &programs), &with) {
            return Ok(known);
        }
        let JudgedWith { bench, thickness, used: bit_used, stores } = &with;
        let (pool, thickness) = (premises.crew.now(), *thickness);
        let case = Case { card: &card, programs: &programs, stores, bench, thickness, bit_used, pool, window: false };
        let judged = findings::check(&case)?;
        let traits = card.operations.iter().map(|o| traits(&card, o, &programs, bench)).collect();
        let judged = Arc::new(Self { card, programs: Programs::Held(programs), with, judged, traits });
        premises.known.keep(&judged);
        Ok(judged)
    }

    /// The same with its long programs let go of, where they are stored.
    #[must_use]
    pub fn shelved(judged: Arc<Self>, ledger: &Ledger, stored: &[StoredProgram]) -> Arc<Self> {
        if judged.programs.are_short() {
            return judged;
        }
        let judged = Arc::unwrap_or_clone(judged);
        Arc::new(Self { programs: judged.programs.shelved(ledger, stored), ..judged })
    }

    /// The same with its programs where those of an earlier judgement are.
    #[must_use]
    pub fn beside(judged: Arc<Self>, old: &Self) -> Arc<Self> {
        match &old.programs {
            Programs::Held(_) => judged,
            Programs::Shelved(_) => Arc::new(Self { programs: old.programs.clone(), ..Arc::unwrap_or_clone(judged) }),
        }
    }

    /// The card's revision.
    #[must_use]
    pub const fn revision(&self) -> &Revision {
        &self.judged.report.revision
    }

    /// Findings of a severity.
    pub fn findings(&self, severity: Severity) -> impl Iterator<Item = &Finding> {
        self.judged.report.findings.iter().filter(move |f| f.severity == severity)
    }

    /// The keys of its bits, each once, in the order of the card: a bit's slot is its place here.
    #[must_use]
    pub fn slots(&self) -> Vec<String> {
        let mut slots: Vec<String> = Vec::new();
        for o in &self.card.operations {
            if !slots.contains(&o.bit) {
                slots.push(o.bit.clone());
            }
        }
        slots
    }

    /// Operations in the order they are cut.
    #[must_use]
    pub fn in_order(&self) -> Vec<&Operation> {
        let order = &self.judged.report.order;
        order.iter().filter_map(|n| self.card.operations.iter().find(|o| o.name == *n)).collect()
    }

    /// The place of an operation in the card's order of judged facts.
    #[must_use]
    pub fn index_on_card(&self, name: &str) -> Option<usize> {
        self.card.operations.iter().position(|o| o.name == name)
    }

    /// Names of the parts, one a piece.
    #[must_use]
    pub fn part_names(&self) -> Vec<String> {
        let named: Vec<String> =
            self.card.named_parts.iter().flat_map(|p| p.at.iter().map(|_| p.name.clone())).collect();
        let wanted = self.card.parts as usize;
        let rest = wanted.saturating_sub(named.len());
        let first = named.len() + 1;
        named.into_iter().chain((first..first + rest).map(|n| format!("part {n}"))).collect()
    }
}

/// Lifts known of a program: where they lie closer, a hold waits seconds for the one after.
const LIFTS_MOST: usize = 32_768;

fn traits(card: &Card, operation: &Operation, programs: &Texts, bench: &Bench) -> Traits {
    let Some(bytes) = programs.get(&operation.program) else { return Traits::default() };
    let face = card.sheet.face_z(card.sheet.thickness);
    let mut found = Traits::default();
    for step in steps(bytes, bench.start()) {
        if found.rpm.is_none() {
            found.rpm = step.modal.speed.filter(|s| s.0 > 0);
        }
        if let Doing::Move(m) = &step.doing
            && m.kind == MoveKind::Rapid
            && m.from.z <= face
            && m.to.z > face
        {
            found.lifts.push(step.place.line);
            if found.lifts.len() > LIFTS_MOST {
                let mut odd = true;
                found.lifts.retain(|_| {
                    odd = !odd;
                    odd
                });
            }
        }
    }
    found
}

/// The sheet on the machine.
pub struct Work {
    /// Which.
    pub sheet: SheetId,
    /// Its card, judged with the thickness read.
    pub judged: Arc<JudgedCard>,
    /// The caliper reading.
    pub thickness: Option<Length>,
    /// First of its kind.
    pub form: ListForm,
    /// The list under way.
    pub list: Option<ListRun>,
    /// What is known of the stop it stands in.
    pub stop: Option<StopRecord>,
    /// The program's words at a prompt.
    pub prompt: Option<String>,
    /// The T number a program asks for in its middle.
    pub wanted_tool: Option<u32>,
    /// How many fasteners were put in.
    pub fasteners_in: Option<u32>,
    /// Where they were put in this securing: asked once more, they are where they are.
    pub made: Option<Vec<Spot>>,
    /// Where a bowed sheet gets a fastener more.
    pub bow: Option<Spot>,
    /// Caliper readings of this securing.
    pub readings: Vec<Length>,
    /// The number that was read off the bit to be fitted.
    pub bit_number: Option<BitNumber>,
    /// When it was held.
    pub held_since: Option<Tick>,
    /// Where an operation goes on that was stopped: its place in the order of cutting, and the line.
    pub re_enter: Option<(u8, u32)>,
    /// Where the bit comes down for it, in work coordinates.
    pub entry: Option<Spot>,
    /// Where a stopped operation would go on; none until that was worked out.
    pub proposed: Option<Option<Enterable>>,
}

impl Work {
    /// The line at which an operation begins.
    #[must_use]
    pub fn first_line(&self, operation: u8) -> u32 {
        self.re_enter.filter(|(of, _)| *of == operation).map_or(1, |(_, line)| line)
    }
}

/// A list under way.
pub struct ListRun {
    /// Which.
    pub kind: ListKind,
    /// In which form.
    pub form: ListForm,
    /// For people.
    pub title: String,
    /// The steps asked.
    pub items: Vec<Step>,
    /// The one asked now.
    pub at: usize,
    /// What was wrong with the last answer.
    pub note: Option<String>,
    /// The note tells why the list stands here again, and of no answer.
    pub back: bool,
    /// What the last answer came to, where it came to more than being taken.
    pub word: Option<String>,
    /// What is not as it was on the last sheet.
    pub changed: Option<String>,
    /// Real time at which the step was put.
    pub put: Instant,
    /// Who was at it when, and on what it rested then.
    pub attention: Attention,
}

impl Work {
    /// The operation at a place in the order of cutting.
    #[must_use]
    pub fn operation(&self, at: u8) -> Option<&Operation> {
        self.judged.in_order().get(usize::from(at)).copied()
    }

    /// The bit an operation needs, with its key.
    #[must_use]
    pub fn bit<'s>(&self, at: u8, stores: &'s Stores) -> Option<(&'s str, &'s Bit)> {
        let key = &self.operation(at)?.bit;
        stores.bits.get_key_value(key).map(|(k, b)| (k.as_str(), b))
    }
}
