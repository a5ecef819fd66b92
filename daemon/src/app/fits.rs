//! Joints measured on a sheet, held against its card: written down with what they say.
//!
//! May live here: who gives the measures and the bits. May not: the reckoning, which is `learn`'s.

use super::desk::FrontDesk;
use crate::api::Answer;
use crate::learn::{Cutter, Measured, judge_fit, told_fit};
use crate::ledger::State as Fold;
use crate::shop::card;
use chargehand_types::SCHEMA;
use chargehand_types::card::{Card, Stores};
use chargehand_types::event::What;
use chargehand_types::history::SheetRecord;
use chargehand_types::id::{BitName, SheetId};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::plain;
use chargehand_types::queue::{Done, MeasureFit};

impl FrontDesk {
    /// Holds a measured joint against the card of its sheet, and writes down what came of it.
    ///
    /// # Errors
    /// When there is no such sheet, joint or bit.
    pub(super) async fn fit_measured(&self, id: SheetId, request: MeasureFit) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let found = self.fold(|f| {
            let sheet = f.sheet(&id)?;
            let text = f.card(&sheet.card)?.revision(&sheet.revision)?.text.clone();
            Some((sheet.record(), text, Rack::of(f, &self.premises.stores)))
        })?;
        let Some((record, text, rack)) = found else {
            return Err(Problem::new(ProblemKind::NotFound, format!("There is no sheet {id}.")));
        };
        let stores = &self.premises.stores;
        let card = card::read("card", &text, stores)
            .map_err(|faults| Problem::new(ProblemKind::Malformed, crate::shop::fault::told(&faults)))?;
        let fit = card.fits.iter().find(|fit| fit.name == request.fit).ok_or_else(|| no_fit(&card, &request.fit))?;
        let named = request.bit.clone().map_or_else(|| only_bit(&record), Ok)?;
        let missing = || Problem::new(ProblemKind::NotFound, format!("The shop has no bit `{named}`."));
        let key = rack.named(&named, &record).ok_or_else(missing)?;
        let measured = Measured { slot: request.slot, mate: request.mate };
        let judged = judge_fit(fit, measured, &key, &rack.all);
        let said = told_fit(fit, &judged);
        let (slot, mate) = (plain(request.slot.mm()), plain(request.mate.mm()));
        let text = format!("{said} Measured: slot {slot}, {} {mate} mm, cut with {}.", fit.mate, key.name);
        let draft = self.draft(&request.command_id, What::SheetNoted { text }).on(id.clone());
        let done = Done { schema: SCHEMA, said, id: Some(id.0), revision: None, findings: Vec::new(), changes: None };
        self.record(draft, request.command_id, done).await
    }
}

/// What there is to cut with: every physical bit in use under its number, and each kind of which none has one.
struct Rack {
    all: Vec<Cutter>,
    /// What sheets may have been cut with beside those: kinds before their bits had numbers, and bits since scrapped.
    once: Vec<Cutter>,
}

impl Rack {
    fn of(fold: &Fold, stores: &Stores) -> Self {
        let (mut all, mut once) = (Vec::new(), Vec::new());
        for (key, bit) in &stores.bits {
            let kind = BitName(key.clone());
            for own in fold.numbered_bits().filter(|own| own.bit == kind) {
                let measured = own.figures.diameter.unwrap_or(bit.diameter);
                let cutter = Cutter { name: own.number.to_string(), nominal: bit.diameter, measured };
                if own.scrapped.is_none() { all.push(cutter) } else { once.push(cutter) }
            }
            let measured = fold.measured_bits().get(&kind).copied().unwrap_or(bit.diameter);
            let cutter = Cutter { name: key.clone(), nominal: bit.diameter, measured };
            if fold.bits_in_use(&kind).next().is_none() { all.push(cutter) } else { once.push(cutter) }
        }
        Self { all, once }
    }

    /// A bit by its number, or by its kind: the physical one of that kind that cut on the sheet.
    fn named(&self, named: &BitName, record: &SheetRecord) -> Option<Cutter> {
        let on_it = record.operations.iter().rev().find(|o| o.bit.as_ref() == Some(named)).and_then(|o| o.number);
        let name = on_it.map_or_else(|| named.0.clone(), |number| number.to_string());
        self.all.iter().chain(&self.once).find(|cutter| cutter.name == name).cloned()
    }
}

fn no_fit(card: &Card, asked: &str) -> Problem {
    let known: Vec<&str> = card.fits.iter().map(|fit| fit.name.as_str()).collect();
    let known = if known.is_empty() { "it has none".to_owned() } else { format!("it has: {}", known.join(", ")) };
    let text = format!("The card {} has no joint `{}`; {known}.", card.name, asked.escape_debug());
    Problem::new(ProblemKind::NotFound, text)
}

/// The bit of a sheet that only one has cut on.
fn only_bit(record: &SheetRecord) -> Answer<BitName> {
    match record.bits.as_slice() {
        [(bit, _)] => Ok(bit.clone()),
        [] => Err(Problem::new(ProblemKind::BadRequest, format!("Nothing was cut on {} yet.", record.sheet))),
        several => {
            let names: Vec<&str> = several.iter().map(|(bit, _)| bit.0.as_str()).collect();
            let text = format!("Which bit cut the slot? {} cut on {}.", names.join(", "), record.sheet);
            Err(Problem::new(ProblemKind::BadRequest, text))
        }
    }
}
