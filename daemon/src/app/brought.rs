//! Sheets cut before Chargehand, taken into the history.
//!
//! May live here: which rows are here already, and writing the others down. May not: what a row may say.

use super::desk::FrontDesk;
use crate::api::Answer;
use crate::api::desk::Caller;
use crate::ledger::brought;
use chargehand_types::SCHEMA;
use chargehand_types::brought::{BringIn, BroughtIn};
use chargehand_types::event::What;
use chargehand_types::id::CommandId;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::queue::Done;
use std::collections::BTreeSet;

/// Rows of one request at most; whoever has more asks several times.
const ROWS_MOST: usize = 5_000;
/// Records of one append.
const APPENDED: usize = 500;

impl FrontDesk {
    /// Takes rows in that are not here yet.
    ///
    /// # Errors
    /// When nobody is known who brings them, there are too many, or they cannot be written down.
    pub(super) async fn brought(&self, caller: Caller, request: BringIn) -> Answer<BroughtIn> {
        if request.rows.len() > ROWS_MOST {
            return Err(Problem::new(ProblemKind::BadRequest, format!("At most {ROWS_MOST} rows at a time.")));
        }
        let by = self.sayer(&caller)?;
        let (zone, now) = (self.premises.config.hours.time_zone, self.wall());
        let _numbering = self.numbering.lock().await;
        let mut answer = BroughtIn { schema: SCHEMA, taken: 0, known: 0, refused: Vec::new() };
        let mut whats = Vec::new();
        let mut seen = BTreeSet::new();
        for row in &request.rows {
            let sheet = match brought::judge(row, zone, now) {
                Ok(sheet) => sheet,
                Err(why) => {
                    answer.refused.push((row.number, why));
                    continue;
                }
            };
            let id = brought::id(row);
            if !seen.insert(id.clone()) || self.fold(|f| f.sheet(&id).is_some())? {
                answer.known = answer.known.saturating_add(1);
                continue;
            }
            answer.taken = answer.taken.saturating_add(1);
            whats.push(What::SheetBrought { sheet: id, row: Box::new(sheet) });
        }
        if request.only_look {
            return Ok(answer);
        }
        // the oldest first, as if they had been written down then
        whats.sort_by_key(|what| match what {
            What::SheetBrought { row, .. } => Some(row.closed),
            _ => None,
        });
        for (nth, some) in whats.chunks(APPENDED).enumerate() {
            let command = CommandId(format!("{}-{nth}", request.command_id));
            let drafts = some.iter().map(|what| self.draft(&command, what.clone()).by(by.clone())).collect();
            let said = format!("{} sheets are in the history.", some.len());
            let done = Done { schema: SCHEMA, said, id: None, revision: None, findings: Vec::new(), changes: None };
            self.record_all(drafts, command, done).await?;
        }
        Ok(answer)
    }
}
