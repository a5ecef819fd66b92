//! The working window of the sheet on the machine, searched beside the work and shown once it is known.
//!
//! May live here: keeping it. May not: the search.

use super::behind::behind;
use super::foreman::Foreman;
use super::work::JudgedCard;
use crate::findings::{self, Bench, Case};
use chargehand_types::check::WorkingWindow;
use chargehand_types::id::Revision;
use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Windows kept: of the cards cut lately.
const KEPT: usize = 8;

/// Windows by revision, the newest last; empty while one is being searched.
#[derive(Debug, Default)]
pub struct Allowances(Mutex<VecDeque<(Revision, Arc<OnceLock<WorkingWindow>>)>>);

impl Allowances {
    /// Of a revision, where it is known.
    pub fn of(&self, revision: &Revision) -> Option<WorkingWindow> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().find(|(known, _)| known == revision).and_then(|(_, window)| window.get().cloned())
    }

    /// A place for the window of a revision that is not known and is not being searched.
    fn place(&self, revision: &Revision) -> Option<Arc<OnceLock<WorkingWindow>>> {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.iter().any(|(known, _)| known == revision) {
            return None;
        }
        if kept.len() >= KEPT {
            kept.pop_front();
        }
        let place = Arc::new(OnceLock::new());
        kept.push_back((revision.clone(), Arc::clone(&place)));
        Some(place)
    }
}

impl Foreman {
    /// Begins to search the window of a card that is taken onto the machine.
    pub(super) fn search_window(&self, judged: &Arc<JudgedCard>) {
        // a card that is too long to be searched is not read again for nothing
        if !findings::is_searched(&judged.judged.report) {
            return;
        }
        let Some(found) = self.premises.allowances.place(judged.revision()) else { return };
        let (judged, premises, bench) = (Arc::clone(judged), Arc::clone(&self.premises), self.bench.clone());
        // nobody waits for it: it is asked for where it is there
        drop(behind(move || {
            if let Some(window) = window(&judged, &premises, &bench) {
                // there is one search for each, so nobody was quicker
                let _ = found.set(window);
            }
        }));
    }
}

/// At the card's own thickness, whatever was measured since.
fn window(judged: &JudgedCard, premises: &super::premises::Premises, bench: &Bench) -> Option<WorkingWindow> {
    let (stores, pool, bit_used) = (&premises.stores, premises.crew.now(), &BTreeMap::new());
    let (card, texts) = (&judged.card, judged.programs.all().ok()?);
    let case = Case { card, programs: &texts, stores, bench, thickness: None, bit_used, pool, window: true };
    findings::check(&case).ok()?.report.window
}
