//! The drawings of cards: asked for by every terminal and every look at the page, drawn once for a revision.
//!
//! May live here: which are kept. May not: what is drawn.

use super::behind::behind;
use super::desk::{FrontDesk, gone};
use crate::api::Answer;
use crate::findings::{self, Case};
use chargehand_types::check::Drawing;
use chargehand_types::id::{CardName, Revision, SheetId};
use chargehand_types::problem::{Problem, ProblemKind};
use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Mutex, PoisonError};

/// Drawings kept; each may have some megabytes.
const KEPT: usize = 4;

/// The drawings asked for last. A revision's never changes: its programs, the shop's stores and the machine are its all.
#[derive(Debug, Default)]
pub struct Kept(Mutex<VecDeque<(Revision, Arc<Drawing>)>>);

impl Kept {
    fn get(&self, revision: &Revision) -> Option<Arc<Drawing>> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().find(|(of, _)| of == revision).map(|(_, drawing)| Arc::clone(drawing))
    }

    fn keep(&self, revision: Revision, drawing: Arc<Drawing>) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.iter().any(|(of, _)| *of == revision) {
            return;
        }
        if kept.len() >= KEPT {
            kept.pop_front();
        }
        kept.push_back((revision, drawing));
    }
}

impl FrontDesk {
    /// The drawing of a revision of a card; of its newest when none is named.
    ///
    /// # Errors
    /// When there is no such card, or it no longer fits what the shop owns.
    pub(super) async fn drawn(&self, name: &CardName, number: Option<u32>) -> Answer<Arc<Drawing>> {
        let revision = self.fold(|f| {
            let card = f.card(name)?;
            number.map_or_else(|| card.newest(), |n| card.numbered(n)).map(|r| r.revision.clone())
        })?;
        if let Some(kept) = revision.and_then(|r| self.drawings.get(&r)) {
            return Ok(kept);
        }
        let judged = self.judged(name, number).await?;
        let revision = judged.revision().clone();
        let (premises, bench) = (Arc::clone(&self.premises), self.bench.clone());
        let drawing = behind(move || {
            let (stores, pool, bit_used) = (&premises.stores, premises.crew.now(), &BTreeMap::new());
            let texts = judged.programs.all()?;
            let (card, programs, bench) = (&judged.card, texts.as_ref(), &bench);
            let case = Case { card, programs, stores, bench, thickness: None, bit_used, pool, window: false };
            findings::draw(&case).map_err(|e| Problem::new(ProblemKind::Malformed, e.to_string()))
        });
        let drawing = Arc::new(drawing.await.map_err(|_| gone())??);
        self.drawings.keep(revision, Arc::clone(&drawing));
        Ok(drawing)
    }

    /// The drawing of the card a sheet is cut from.
    ///
    /// # Errors
    /// When there is no such sheet.
    pub(super) async fn sheet_drawn(&self, sheet: &SheetId) -> Answer<Arc<Drawing>> {
        let of = self.fold(|f| {
            let sheet = f.sheet(sheet)?;
            Some((sheet.card.clone(), f.card(&sheet.card)?.revision(&sheet.revision)?.number))
        })?;
        let Some((card, number)) = of else {
            return Err(Problem::new(ProblemKind::NotFound, format!("There is no sheet {sheet}.")));
        };
        self.drawn(&card, Some(number)).await
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::quantity::{Length, Spot};

    fn drawing() -> Arc<Drawing> {
        let corner = Spot { x: Length::ZERO, y: Length::ZERO };
        Arc::new(Drawing { size: [Length::ZERO; 2], corner, paths: Vec::new(), fasteners: Vec::new() })
    }

    #[test]
    fn a_revision_is_drawn_once_and_the_oldest_drawing_goes_first() {
        let kept = Kept::default();
        let revision = |n: usize| Revision(format!("r{n}"));
        let first = drawing();
        kept.keep(revision(0), Arc::clone(&first));
        kept.keep(revision(0), drawing());
        assert!(Arc::ptr_eq(&kept.get(&revision(0)).unwrap(), &first));
        for n in 1..=KEPT {
            kept.keep(revision(n), drawing());
        }
        assert!(kept.get(&revision(0)).is_none());
        assert!((1..=KEPT).all(|n| kept.get(&revision(n)).is_some()));
    }
}
