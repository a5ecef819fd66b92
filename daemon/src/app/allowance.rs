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
use std::sync::{Arc, OnceLock};

/// Windows kept: of the cards cut lately.
const KEPT: usize = 8;

/// Windows by revision, the newest last; empty while one is being searched.
#[derive(Debug, Default)]
pub struct Allowances(VecDeque<(Revision, Arc<OnceLock<WorkingWindow>>)>);

impl Allowances {
    /// Of a revision, where it is known.
    pub fn of(&self, revision: &Revision) -> Option<&WorkingWindow> {
        self.0.iter().find(|(known, _)| known == revision).and_then(|(_, window)| window.get())
    }
}

impl Foreman {
    /// Begins to search the window of a card that is taken onto the machine.
    pub(super) fn search_window(&mut self, judged: &Arc<JudgedCard>) {
        // a card that is too long to be searched is not read again for nothing
        if !findings::is_searched(&judged.judged.report) {
            return;
        }
        let revision = judged.revision();
        if self.allowances.0.iter().any(|(known, _)| known == revision) {
            return;
        }
        if self.allowances.0.len() >= KEPT {
            self.allowances.0.pop_front();
        }
        let found = Arc::new(OnceLock::new());
        self.allowances.0.push_back((revision.clone(), Arc::clone(&found)));
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
