//! From which lot a sheet is, asked where it is laid: of the first sheet of a batch. The others of the batch count as of
//! the lot that was said last, until somebody says otherwise.
//!
//! May live here: that step, and which lot a sheet is taken to be of. May not: a lot that is named by command (`rests`).

use super::corrections::words;
use super::foreman::{Foreman, Source};
use super::lists::Verdict;
use super::planning::wares::Cards;
use crate::ledger::State as Fold;
use crate::ledger::fold::sheet::SheetState;
use crate::shop::checklist::{Asks, Step};
use chargehand_types::card::Stores;
use chargehand_types::checklist::{ListKind, StepAnswer};
use chargehand_types::event::What;
use chargehand_types::id::SheetId;
use chargehand_types::problem::Problem;
use chargehand_types::quantity::Seconds;

/// The step's text, and more of it.
const TEXT: &str = "Look for the lot: on the sheet's edge, its sticker, or the stack it came from.";
const HELP: &str =
    "When a lot turns out bad, its sheets are found by this. The other sheets of the batch count as of the same lot.";
/// Typed where no lot is marked.
const UNMARKED: char = '-';
/// What looking for it takes. Common practice, no source.
const TAKES_S: f64 = 60.0;

fn step(before: Option<String>) -> Step {
    Step {
        id: "lot".to_owned(),
        text: TEXT.to_owned(),
        help: Some(HELP.to_owned()),
        caution: None,
        asks: Asks::Lot { before, carried: false },
        only: None,
        killer: false,
        takes: Seconds::of(TAKES_S),
    }
}

/// The other sheets of a sheet's batch that were taken onto the machine.
fn beside<'f>(fold: &'f Fold, sheet: &'f SheetState) -> impl Iterator<Item = &'f SheetState> {
    let of = fold.batch(&sheet.batch).into_iter().flat_map(|batch| &batch.sheets);
    of.filter(|id| **id != sheet.id).filter_map(|id| fold.sheet(id)).filter(|other| other.begun.is_some())
}

/// The lot of the sheet of its batch that was taken last.
fn of_batch(fold: &Fold, sheet: &SheetState) -> Option<String> {
    let last = beside(fold, sheet).max_by_key(|other| (other.begun, other.place))?;
    last.lot.clone()
}

/// The lot that was named last for this material.
fn of_material(fold: &Fold, stores: &Stores, sheet: &SheetState) -> Option<String> {
    let mut cards = Cards::new(fold, stores);
    let mut material = |of: &SheetState| Some(cards.of(&of.card, &of.revision)?.sheet.material.clone());
    let wanted = material(sheet)?;
    let mut named: Vec<&SheetState> = fold.sheets().into_iter().filter(|of| of.lot.is_some()).collect();
    named.sort_by_key(|of| (of.begun, of.place));
    let last = named.into_iter().rev().find(|of| material(of).as_ref() == Some(&wanted))?;
    last.lot.clone()
}

impl Foreman {
    /// Puts the step behind the one that lays the sheet, on the first sheet of a batch. On the others the one that lays
    /// the sheet takes the name of another lot with its answer.
    pub(super) fn ask_lot(&self, kind: ListKind, steps: &mut Vec<Step>) {
        let Some(work) = self.work.as_ref().filter(|_| kind == ListKind::Securing) else { return };
        let Ok(fold) = self.shared.fold.read() else { return };
        let Some(sheet) = fold.sheet(&work.sheet) else { return };
        let lays = steps.iter().position(|s| s.id == "at-stop");
        if sheet.lot.is_some() || beside(&fold, sheet).next().is_some() {
            if let Some(laid) = lays.and_then(|at| steps.get_mut(at)).filter(|step| step.asks == Asks::Confirm) {
                laid.asks = Asks::Lot { before: sheet.lot.clone(), carried: true };
            }
            return;
        }
        let before = of_material(&fold, &self.premises.stores, sheet);
        // the sheet lies there once that is answered
        steps.insert(lays.map_or(0, |at| at + 1), step(before));
    }

    /// A sheet that was just taken is of the lot of the one before it in its batch: nobody said so, and it is written down
    /// as nobody's word.
    pub(super) async fn carry_lot(&mut self, id: &SheetId) -> Result<(), Problem> {
        let lot = self.shared.fold.read().ok().and_then(|fold| {
            let sheet = fold.sheet(id).filter(|sheet| sheet.lot.is_none())?;
            of_batch(&fold, sheet)
        });
        match lot {
            Some(lot) => self.tell_of(id, vec![What::SheetLot { lot }], &Source::default()).await,
            None => Ok(()),
        }
    }

    /// What an answer to the step comes to. None typed, it is as before, which is written down already where the lot was
    /// carried; a dash says that none is marked.
    pub(super) fn lot_answered(before: Option<&String>, carried: bool, answer: &StepAnswer) -> Verdict {
        let lot = match answer {
            StepAnswer::Named { text } if text.trim().chars().eq([UNMARKED]) => carried.then(String::new),
            StepAnswer::Named { text } => match words(text, "Type the lot as it is marked, or press Enter alone.") {
                Ok(lot) => Some(lot),
                Err(problem) => return Verdict::Wrong(problem.detail),
            },
            _ => before.filter(|_| !carried).cloned(),
        };
        Verdict::Taken { also: lot.map(|lot| What::SheetLot { lot }).into_iter().collect() }
    }
}
