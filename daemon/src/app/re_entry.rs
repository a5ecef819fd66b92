//! Re-entry: at which line a stopped operation goes on, and the way back to it.

use super::behind::behind;
use super::foreman::Foreman;
use crate::findings::{self, Case, WayBack};
use crate::floor::AtStage;
use crate::sending::{Entry, enter};
use crate::shop::config::Spindle;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, Seconds, Spot};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Below the top of Z travel, for sideways travel over everything that stands on a sheet.
const BELOW_TOP: Length = Length(1_000_000);
/// Above the sheet's face, where the plunge feed begins.
const ABOVE_FACE: Length = Length(2_000_000);

impl Foreman {
    /// The operation and line at which a stopped sheet goes on. Proposed is the line after the last one certainly
    /// finished: the bit stood at its end, so the way straight down to it was cut. No later line can be asked for.
    pub(in crate::app) async fn re_entry(&self, wanted: Option<u32>) -> Result<(u8, u32), Problem> {
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
        let line = self.clear_line(&op.name, line, wanted.is_some()).await?;
        let texts = work.judged.programs.all()?;
        let bytes = texts.get(&op.program).ok_or_else(nothing)?;
        let understands = self.premises.profile.keys.understands.clone();
        let face = work.judged.card.sheet.face_z(work.thickness.unwrap_or(work.judged.card.sheet.thickness));
        enter(bytes, self.bench.start(), understands, face, self.entry(line, face)).map_err(|why| {
            let text = format!("It cannot go on there: {why}. Choose another line, or restart the operation.");
            Problem::new(ProblemKind::StartCondition, text)
        })?;
        Ok((operation, line))
    }

    /// The line itself, where the bit comes down to it through air and what was cut alone; where none was wanted, else
    /// the nearest one before it.
    async fn clear_line(&self, operation: &str, line: u32, wanted: bool) -> Result<u32, Problem> {
        let Some(way) = self.way_back(operation, line).await? else { return Ok(line) };
        match way.clear {
            Some(clear) if clear.line == line || !wanted => Ok(clear.line),
            other => {
                let instead = match other {
                    Some(clear) => format!("Line {} can be entered: go on there", clear.line),
                    None => "No line near it can be entered: restart the operation".to_owned(),
                };
                let text = format!(
                    "At line {line} the bit would come down into {:.1} mm of wood that is not cut yet. {instead}.",
                    way.bite
                );
                Err(Problem::new(ProblemKind::StartCondition, text))
            }
        }
    }

    /// What the way back to a line meets, worked out off this thread.
    async fn way_back(&self, operation: &str, line: u32) -> Result<Option<WayBack>, Problem> {
        let Some(work) = &self.work else { return Ok(None) };
        let (judged, premises, thickness) = (Arc::clone(&work.judged), Arc::clone(&self.premises), work.thickness);
        let (bench, operation) = (self.bench.clone(), operation.to_owned());
        let found = behind(move || {
            let (stores, pool, bit_used) = (&premises.stores, premises.crew.now(), &BTreeMap::new());
            let texts = judged.programs.all()?;
            let (card, programs, bench) = (&judged.card, texts.as_ref(), &bench);
            let case = Case { card, programs, stores, bench, thickness, bit_used, pool, window: false };
            findings::way_back(&case, &operation, line).map_err(|e| Problem::new(ProblemKind::Malformed, e.to_string()))
        });
        found.await.unwrap_or_else(|e| Err(Problem::new(ProblemKind::OurFault, e.to_string())))
    }

    /// Where the bit comes down for an operation that goes on at a line, in work coordinates; none where that is not known.
    pub(in crate::app) async fn entry_place(&self, at: Option<(u8, u32)>) -> Option<Spot> {
        let (operation, line) = at?;
        let name = self.work.as_ref()?.operation(operation)?.name.clone();
        let clear = self.way_back(&name, line).await.ok().flatten()?.clear?;
        Some(Spot { x: clear.at.x, y: clear.at.y })
    }

    /// Works out where a stopped operation would go on, once for each stop, so that the screen can show it.
    pub(in crate::app) async fn propose_entry(&mut self) {
        let stopped = matches!(self.floor.at(), Some(AtStage::Stopped(_)));
        let Some(work) = &mut self.work else { return };
        if !stopped {
            work.proposed = None;
            return;
        }
        let Some(record) = work.stop.clone().filter(|_| work.proposed.is_none()) else { return };
        work.proposed = Some(None);
        let operation = self.floor.sheet.as_ref().map(|s| s.operation);
        let name = operation.and_then(|at| Some(self.work.as_ref()?.operation(at)?.name.clone()));
        let line = record.last_line_done.map_or(1, |done| done.saturating_add(1));
        let Some(name) = name else { return };
        if let (Ok(Some(WayBack { clear: Some(clear), .. })), Some(work)) =
            (self.way_back(&name, line).await, &mut self.work)
        {
            work.proposed = Some(Some(clear));
        }
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
