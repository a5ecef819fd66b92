//! Re-entry: at which line a stopped operation goes on, and the way back to it.

use super::foreman::Foreman;
use crate::sending::{Entry, enter};
use crate::shop::config::Spindle;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, Seconds};

/// Below the top of Z travel, for sideways travel over everything that stands on a sheet.
const BELOW_TOP: Length = Length(1_000_000);
/// Above the sheet's face, where the plunge feed begins.
const ABOVE_FACE: Length = Length(2_000_000);

impl Foreman {
    /// The operation and line at which a stopped sheet goes on. Proposed is the line after the last one certainly
    /// finished: the bit stood at its end, so the way straight down to it was cut. No later line can be asked for.
    pub(in crate::app) fn re_entry(&self, wanted: Option<u32>) -> Result<(u8, u32), Problem> {
        let nothing = || Problem::new(ProblemKind::NotNow, "Nothing of this sheet was stopped in the middle of a cut.");
        let work = self.work.as_ref().ok_or_else(nothing)?;
        let operation = self.floor.sheet.as_ref().ok_or_else(nothing)?.operation;
        let record = work.stop.as_ref().ok_or_else(nothing)?;
        let proposed = record.last_line_done.map_or(1, |done| done.saturating_add(1));
        let line = wanted.unwrap_or(proposed);
        if line == 0 || line > proposed {
            let text = format!(
                "The last line that was certainly cut is {}, so it can go on at line {proposed} or before, not at {line}.",
                record.last_line_done.map_or_else(|| "none".to_owned(), |done| done.to_string())
            );
            return Err(Problem::new(ProblemKind::StartCondition, text));
        }
        let op = work.operation(operation).ok_or_else(nothing)?;
        let bytes = work.judged.programs.get(&op.program).ok_or_else(nothing)?;
        let understands = self.premises.profile.keys.understands.clone();
        let face = work.judged.card.sheet.face_z(work.thickness.unwrap_or(work.judged.card.sheet.thickness));
        enter(bytes, self.bench.start(), understands, face, self.entry(line, face)).map_err(|why| {
            let text = format!("It cannot go on there: {why}. Choose another line, or restart the operation.");
            Problem::new(ProblemKind::StartCondition, text)
        })?;
        Ok((operation, line))
    }

    /// The way back to a line from where the bit stands.
    pub(in crate::app) fn entry(&self, line: u32, face: Length) -> Entry {
        let start = self.bench.start();
        let machine = &self.premises.config.machine;
        let spin_up = match &machine.spindle {
            // a person switches it on, and is asked
            Spindle::Manual { .. } => Seconds::default(),
            Spindle::Controlled { run_down, .. } => *run_down,
        };
        Entry {
            line,
            from: self.controller.and_then(|c| c.work).unwrap_or(start.at),
            travel_z: start.at.z - BELOW_TOP,
            near_z: face + ABOVE_FACE,
            spin_up,
        }
    }
}
