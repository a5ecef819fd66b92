//! Corrections of a sheet's record: new records that point at the old ones.
//!
//! May live here: which record is meant and how it should read. May not: the fold of it, which is the ledger's.

use super::deeds::outcome;
use super::desk::FrontDesk;
use crate::api::Answer;
use crate::api::desk::Caller;
use crate::ledger::fold::sheet::{PartState, SheetState};
use chargehand_types::SCHEMA;
use chargehand_types::event::{Actor, What};
use chargehand_types::id::{Seq, SheetId};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, plain};
use chargehand_types::queue::Done;
use chargehand_types::record::{CorrectSheet, Fix};
use chargehand_types::stage::{Grade, Stage};

/// Characters of a reason or a note at most.
const TEXT_MOST: usize = 2000;
/// Readings of one sheet at most.
const READINGS_MOST: usize = 16;

/// Records that a correction points at, each with what it should have been, and a sentence.
type Planned = (Vec<(Seq, What)>, String);

fn bad(text: impl Into<String>) -> Problem {
    Problem::new(ProblemKind::BadRequest, text)
}

impl FrontDesk {
    /// Who says so: the holder of a token, or whoever signed in last at the machine.
    ///
    /// # Errors
    /// When nobody is known.
    pub(super) fn sayer(&self, caller: &Caller) -> Answer<Actor> {
        if let Some(guest) = &caller.guest {
            return Ok(Actor { who: guest.name.as_str().into(), role: guest.role });
        }
        let here = self.fold(|f| f.people().last().cloned())?;
        match here.filter(|_| caller.token_ok) {
            Some(person) => Ok(Actor { who: person.who, role: person.role }),
            None => {
                let text =
                    "This is written down under a name, and nobody is signed in at the machine. Say who: --who NAME.";
                Err(Problem::new(ProblemKind::NotPermitted, text))
            }
        }
    }

    /// Writes down how an earlier record of a sheet should read.
    ///
    /// # Errors
    /// When there is no such sheet or record, it says so already, or nobody is known who says so.
    pub(super) async fn corrected(&self, caller: Caller, id: SheetId, request: CorrectSheet) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let by = self.sayer(&caller)?;
        let why = words(&request.why, "Say why the record was wrong: --why \"…\".")?;
        let planned = self.fold(|f| f.sheet(&id).map(|sheet| plan(sheet, &request.fix)))?;
        let missing = || Problem::new(ProblemKind::NotFound, format!("There is no sheet {id}."));
        let (records, said) = planned.ok_or_else(missing)??;
        let mut drafts = Vec::with_capacity(records.len());
        for (seq, what) in records {
            let data = serde_json::to_value(&what).map_err(|e| Problem::new(ProblemKind::OurFault, e.to_string()))?;
            let what = What::RecordCorrected { seq, data, note: why.clone() };
            drafts.push(self.draft(&request.command_id, what).on(id.clone()).by(by.clone()));
        }
        let said = format!("{id}: {said} The first record stays as it was.");
        let done = Done { schema: SCHEMA, said, id: Some(id.0), revision: None, findings: Vec::new(), changes: None };
        self.record_all(drafts, request.command_id, done).await
    }
}

/// A text that says something, and not too much.
pub(super) fn words(text: &str, missing: &str) -> Answer<String> {
    let text = text.trim();
    match text.chars().count() {
        0 => Err(bad(missing)),
        n if n > TEXT_MOST => Err(bad(format!("{n} characters are too many; {TEXT_MOST} are kept."))),
        _ => Ok(text.to_owned()),
    }
}

fn plan(sheet: &SheetState, fix: &Fix) -> Answer<Planned> {
    match fix {
        Fix::Part { index, grade, reason } => {
            let missing = || {
                let told = format!("No part {} of {} was graded.", index.saturating_add(1), sheet.id);
                Problem::new(ProblemKind::NotFound, told)
            };
            let part = sheet.parts.iter().find(|part| part.index == *index).ok_or_else(missing)?;
            // a good part has no reason
            let reason = reason.filter(|_| *grade != Grade::Good);
            if (part.grade, part.reason) == (*grade, reason) {
                return Err(bad(format!("Part {} ({}) is graded so already.", index.saturating_add(1), part.name)));
            }
            Ok(of_part(sheet, &PartState { grade: *grade, reason, ..part.clone() }))
        }
        Fix::Thickness { readings } => {
            let plausible = |read: &Length| *read > Length::ZERO && *read <= Length::whole_mm(200);
            if readings.is_empty() || readings.len() > READINGS_MOST || !readings.iter().all(plausible) {
                return Err(bad(format!("Give one to {READINGS_MOST} readings, each above 0 and at most 200 mm.")));
            }
            let record = sheet.measured_in.ok_or_else(|| {
                Problem::new(ProblemKind::NotFound, format!("No thickness of {} was read.", sheet.id))
            })?;
            if *readings == sheet.thickness {
                return Err(bad("That is what was read already."));
            }
            let told: Vec<String> = readings.iter().map(|read| plain(read.mm())).collect();
            let what = What::SheetMeasured { thickness: readings.clone() };
            Ok((vec![(record, what)], format!("its thickness is {} mm now.", told.join(", "))))
        }
        Fix::Note { number, text } => {
            let text = words(text, "Say how the note should read.")?;
            let at = number.checked_sub(1).and_then(|n| usize::try_from(n).ok());
            let note = at.and_then(|at| sheet.notes.get(at)).ok_or_else(|| {
                let told = format!("There is no note {number} on {}: it has {}.", sheet.id, sheet.notes.len());
                Problem::new(ProblemKind::NotFound, told)
            })?;
            if note.text == text {
                return Err(bad("The note reads so already."));
            }
            Ok((vec![(note.record, What::SheetNoted { text })], format!("note {number} is corrected.")))
        }
    }
}

/// The part's own record, and the sheet's where another grade of it follows.
fn of_part(sheet: &SheetState, part: &PartState) -> Planned {
    let name = part.name.clone();
    let mut said = format!("part {} ({name}) is {} now.", part.index.saturating_add(1), word(part.grade));
    let what =
        What::PartChecked { index: part.index, name, grade: part.grade, reason: part.reason, note: part.note.clone() };
    let mut records = vec![(part.record, what)];
    let grades = sheet.parts.iter().map(|p| if p.index == part.index { part.grade } else { p.grade });
    let (of, grades) = (sheet.parts.len(), grades.collect::<Vec<_>>());
    let count = |wanted: Grade| grades.iter().filter(|grade| **grade == wanted).count();
    let (good, rework) = (count(Grade::Good), count(Grade::Rework));
    let grade = outcome(good, rework, of);
    if let Some(closed) = sheet.closed_in.filter(|_| sheet.stage == Stage::Closed && sheet.grade != Some(grade)) {
        let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        records.push((closed, What::SheetClosed { grade, good: number(good), of: number(of) }));
        said.push_str(&format!(" The sheet as a whole is {}.", word(grade)));
    }
    (records, said)
}

const fn word(grade: Grade) -> &'static str {
    match grade {
        Grade::Good => "good",
        Grade::Rework => "to rework",
        Grade::Scrap => "scrap",
    }
}
