//! A sheet that is not flat gets one fastener more; a sheet that is cut leaves a rest.
//!
//! May live here: asking for both. May not: how places and rests are found.

use super::behind::behind;
use super::foreman::{Foreman, Source};
use super::lists::Verdict;
use super::work::JudgedCard;
use crate::findings::{self, Bench, Case};
use chargehand_types::event::What;
use chargehand_types::id::Revision;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, Spot};
use chargehand_types::record::Left;
use std::collections::BTreeMap;
use std::sync::{Arc, PoisonError};

/// A rest with what it follows from, so that the sheets of a batch are searched once.
pub type KnownRest = ((Revision, Option<Length>, Vec<Spot>), Option<Left>);

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
        let found = behind(move || {
            let (stores, pool, bit_used) = (&premises.stores, premises.crew.now(), &BTreeMap::new());
            let texts = judged.programs.all()?;
            let (card, programs, bench) = (&judged.card, texts.as_ref(), &bench);
            let case = Case { card, programs, stores, bench, thickness, bit_used, pool, window: false };
            findings::one_more(&case, &given).map_err(|e| Problem::new(ProblemKind::Malformed, e.to_string()))
        });
        let found = match found.await {
            Ok(Ok(found)) => found,
            Ok(Err(problem)) => return Err(problem),
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

    /// Writes down what stands of a sheet whose parts are graded: its tabs, and the largest rest. A rest that cannot be
    /// found is no reason to keep a sheet open.
    ///
    /// # Errors
    /// When it cannot be written down.
    pub(super) async fn note_remains(&mut self, source: &Source) -> Result<(), Problem> {
        let Some(work) = self.work.as_ref() else { return Ok(()) };
        let tabs = work.judged.judged.report.pieces.iter().map(|piece| piece.tabs.len()).sum::<usize>();
        let fasteners = self.shared.fold.read().ok().and_then(|f| f.sheet(&work.sheet).map(|s| s.fasteners.clone()));
        let key = (work.judged.revision().clone(), work.thickness, fasteners.unwrap_or_default());
        let known = self.premises.rest.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let left = match known.filter(|(known, _)| *known == key) {
            Some((_, left)) => left,
            None => self.rest_of(Arc::clone(&work.judged), work.thickness, key.2.clone()).await,
        };
        *self.premises.rest.lock().unwrap_or_else(PoisonError::into_inner) = Some((key, left));
        let tabs = u32::try_from(tabs).unwrap_or(u32::MAX);
        self.tell(vec![What::SheetRemains { tabs, left }], source).await
    }

    /// The largest rest of a sheet, searched off the foreman's own thread.
    async fn rest_of(&self, judged: Arc<JudgedCard>, thickness: Option<Length>, fasteners: Vec<Spot>) -> Option<Left> {
        let (premises, bench) = (Arc::clone(&self.premises), self.bench.clone());
        let found = behind(move || {
            let (stores, pool, bit_used) = (&premises.stores, premises.crew.now(), &BTreeMap::new());
            let texts = judged.programs.all().map_err(|e| e.to_string())?;
            let (card, programs, bench) = (&judged.card, texts.as_ref(), &bench);
            let case = Case { card, programs, stores, bench, thickness, bit_used, pool, window: false };
            findings::left(&case, &fasteners).map_err(|e| e.to_string())
        });
        let found = found.await.unwrap_or_else(|e| Err(e.to_string()));
        found.inspect_err(|e| tracing::warn!("what is left of the sheet is not known: {e}")).ok().flatten()
    }
}
