//! A sheet that is not flat gets one fastener more.
//!
//! May live here: where it goes. May not: how places are found.

use super::foreman::Foreman;
use super::lists::Verdict;
use crate::findings::{self, Bench, Case};
use chargehand_types::problem::{Problem, ProblemKind};
use std::collections::BTreeMap;
use std::sync::Arc;

impl Foreman {
    /// Takes the answer to how flat the sheet lies.
    ///
    /// # Errors
    /// When the card no longer fits what the shop owns.
    pub(super) async fn bow(&mut self, bowed: bool) -> Result<Verdict, Problem> {
        let Some(work) = self.work.as_mut() else { return Ok(Verdict::taken()) };
        work.bow = None;
        if !bowed {
            return Ok(Verdict::taken());
        }
        let given = work.judged.judged.report.holddown.as_ref().map(|h| h.places.clone()).unwrap_or_default();
        let (judged, premises, thickness) = (Arc::clone(&work.judged), Arc::clone(&self.premises), work.thickness);
        let old_holes = self.shared.fold.read().map(|f| f.holes(Some(&work.sheet))).unwrap_or_default();
        let bench = Bench { old_holes, ..self.bench.clone() };
        let found = tokio::task::spawn_blocking(move || {
            let (stores, pool, bit_used) = (&premises.stores, premises.pool.as_ref(), &BTreeMap::new());
            let (card, programs, bench) = (&judged.card, &judged.programs, &bench);
            let case = Case { card, programs, stores, bench, thickness, bit_used, pool, window: false };
            findings::one_more(&case, &given)
        });
        let found = match found.await {
            Ok(Ok(found)) => found,
            Ok(Err(e)) => return Err(Problem::new(ProblemKind::Malformed, e.to_string())),
            Err(e) => return Err(Problem::new(ProblemKind::OurFault, e.to_string())),
        };
        let Some(place) = found else {
            return Ok(Verdict::Wrong(
                "There is no room for another fastener on this card. Set this sheet aside and take a flatter one."
                    .to_owned(),
            ));
        };
        if let Some(work) = &mut self.work {
            work.bow = Some(place);
        }
        Ok(Verdict::taken())
    }
}
