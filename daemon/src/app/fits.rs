//! Joints measured on a sheet, held against its card: written down with what they say.
//!
//! May live here: who gives the measures and the bits. May not: the reckoning, which is `learn`'s.

use super::desk::FrontDesk;
use crate::api::Answer;
use crate::learn::{Cutter, Measured, judge_fit, told_fit};
use crate::shop::card;
use chargehand_types::SCHEMA;
use chargehand_types::card::{Bit, Card};
use chargehand_types::event::What;
use chargehand_types::history::SheetRecord;
use chargehand_types::id::{BitName, SheetId};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::plain;
use chargehand_types::queue::{Done, MeasureFit};
use std::collections::BTreeMap;

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
            Some((sheet.record(), text, f.measured_bits().clone()))
        })?;
        let Some((record, text, read_back)) = found else {
            return Err(Problem::new(ProblemKind::NotFound, format!("There is no sheet {id}.")));
        };
        let stores = &self.premises.stores;
        let card = card::read("card", &text, stores)
            .map_err(|faults| Problem::new(ProblemKind::Malformed, crate::shop::fault::told(&faults)))?;
        let fit = card.fits.iter().find(|fit| fit.name == request.fit).ok_or_else(|| no_fit(&card, &request.fit))?;
        let key = request.bit.clone().map_or_else(|| only_bit(&record), Ok)?;
        let bit = stores.bits.get(&key.0);
        let bit = bit.ok_or_else(|| Problem::new(ProblemKind::NotFound, format!("The shop has no bit `{key}`.")))?;
        let others: Vec<Cutter> = stores.bits.iter().map(|(key, bit)| cutter(key, bit, &read_back)).collect();
        let measured = Measured { slot: request.slot, mate: request.mate };
        let judged = judge_fit(fit, measured, &cutter(&key.0, bit, &read_back), &others);
        let said = told_fit(fit, &judged);
        let (slot, mate) = (plain(request.slot.mm()), plain(request.mate.mm()));
        let text = format!("{said} Measured: slot {slot}, {} {mate} mm, cut with {key}.", fit.mate);
        let draft = self.draft(&request.command_id, What::SheetNoted { text }).on(id.clone());
        let done = Done { schema: SCHEMA, said, id: Some(id.0), revision: None, findings: Vec::new(), changes: None };
        self.record(draft, request.command_id, done).await
    }
}

fn cutter(key: &str, bit: &Bit, read_back: &BTreeMap<BitName, chargehand_types::quantity::Length>) -> Cutter {
    let measured = read_back.get(&BitName(key.to_owned())).copied().unwrap_or(bit.diameter);
    Cutter { name: key.to_owned(), nominal: bit.diameter, measured }
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
