//! Everything that a page about one batch shows, gathered from the state.
//!
//! May live here: asking for each of it. May not: formulas, what the page looks like.

use super::desk::FrontDesk;
use crate::api::Answer;
use crate::api::desk::{Caller, Desk};
use crate::learn::{self, Cut, Ground, Level};
use chargehand_types::SCHEMA;
use chargehand_types::bits::PhysicalRow;
use chargehand_types::history::{HistoryQuery, Learnt, SheetRecord};
use chargehand_types::id::BatchId;
use chargehand_types::quantity::{Seconds, Spot};
use chargehand_types::report::BatchReport;
use chargehand_types::stage::Stage;
use std::cmp::Ordering;

impl FrontDesk {
    /// What a page about a batch shows.
    ///
    /// # Errors
    /// When there is no such batch.
    pub(super) async fn reported(&self, caller: Caller, id: BatchId) -> Answer<BatchReport> {
        let batch = self.batch(caller, id.clone()).await?;
        let asked = HistoryQuery { batch: Some(id), ..HistoryQuery::default() };
        let mut sheets = self.fold(|f| f.history(&asked))?.sheets;
        self.complete(&mut sheets)?;
        let number = self.fold(|f| Some(f.card(&batch.card)?.revision(&batch.revision)?.number))?;
        // a card that no longer fits what the shop owns has no drawing, and its sheets all the same
        let judged = self.judged(&batch.card, number).await.ok();
        let drawing = self.drawn(&batch.card, number).await.ok().map(std::sync::Arc::unwrap_or_clone);
        let marks = judged.as_ref().zip(drawing.as_ref()).map(|(judged, drawing)| {
            let parts: Vec<Spot> = judged.card.named_parts.iter().flat_map(|p| p.at.iter().copied()).collect();
            let order: Vec<usize> = judged.in_order().iter().filter_map(|o| judged.index_on_card(&o.name)).collect();
            learn::marks(&sheets, drawing, &parts, &order)
        });
        let bits = self.bits_so_far(&asked)?;
        let mut physical = bits.physical;
        let used = |row: &PhysicalRow| {
            sheets.iter().flat_map(|s| &s.operations).any(|operation| operation.number == Some(row.bit.number))
        };
        physical.retain(used);
        Ok(BatchReport {
            schema: SCHEMA,
            title: judged.as_ref().map_or_else(|| batch.card.0.clone(), |judged| judged.card.title.clone()),
            sum: self.effort(&asked)?.batches.into_iter().next(),
            reasons: learn::bad_parts(&sheets),
            spent: spent(&sheets),
            time_factor: factor(&sheets),
            bits: bits.bits,
            physical,
            batch,
            sheets,
            drawing,
            marks: marks.unwrap_or_default(),
        })
    }
}

/// Machine time in each stage, the longest first.
fn spent(sheets: &[SheetRecord]) -> Vec<(Stage, Seconds)> {
    let mut sums: Vec<(Stage, Seconds)> = Vec::new();
    for (stage, time) in sheets.iter().flat_map(|s| &s.spent) {
        match sums.iter_mut().find(|(known, _)| known == stage) {
            Some((_, sum)) => *sum += *time,
            None => sums.push((*stage, *time)),
        }
    }
    sums.sort_by(|(_, a), (_, b)| b.partial_cmp(a).unwrap_or(Ordering::Equal));
    sums
}

fn factor(sheets: &[SheetRecord]) -> Option<Learnt> {
    let finished = sheets.iter().flat_map(|s| &s.operations);
    let cuts: Vec<Cut> = finished.filter_map(|o| Some(Cut { predicted: o.predicted, real: o.real? })).collect();
    let factor = learn::time_factor(&cuts, Level::USUAL);
    (factor.rests.on == Ground::History).then(|| Learnt {
        value: factor.factor,
        interval: factor.interval.map(|i| [i.low, i.high]),
        rows: u32::try_from(factor.rests.rows).unwrap_or(u32::MAX),
    })
}
