//! The history for the API: its records, their sums, by revision with what was changed in each, and by bit.

use super::desk::FrontDesk;
use super::rests;
use crate::api::desk::{Answer, Caller, Desk, Sums, Unrolled};
use crate::learn;
use crate::ledger::fold::sheet::SheetState;
use crate::shop::card;
use chargehand_types::SCHEMA;
use chargehand_types::bits::NumberedBit;
use chargehand_types::history::{BitHistory, HistoryQuery, RevisionHistory, SheetRecord};
use chargehand_types::id::{CardName, Revision, SheetId};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Metres, Seconds};
use chargehand_types::stage::Grade;
use std::collections::BTreeMap;
use std::iter;
use std::sync::Arc;

/// Records made at a time. While they are made nothing is written down, so they are few; for each handful cards are
/// read anew, so they are not too few.
const AT_A_TIME: usize = 1_000;

impl FrontDesk {
    /// Everything known of the sheets that are asked for.
    ///
    /// # Errors
    /// When the state cannot be read.
    pub(super) fn sheets_so_far(&self, asked: &HistoryQuery) -> Answer<Unrolled> {
        let (ids, older) = self.fold(|f| {
            let (sheets, older) = f.asked_for(asked);
            (sheets.into_iter().map(|s| s.id.clone()).collect::<Vec<SheetId>>(), older)
        })?;
        let (shared, premises) = (Arc::clone(&self.shared), Arc::clone(&self.premises));
        let records = few_at_a_time(ids, move |some| {
            let gone = |_| Problem::new(ProblemKind::OurFault, "the state cannot be read");
            let fold = shared.fold.read().map_err(gone)?;
            let mut records: Vec<SheetRecord> =
                some.iter().filter_map(|id| fold.sheet(id)).map(SheetState::record).collect();
            rests::complete(&fold, &premises, &mut records);
            Ok(records)
        });
        Ok(Unrolled::of(records, older))
    }

    /// Sums over all of them.
    ///
    /// # Errors
    /// When the state cannot be read.
    pub(super) fn sums_so_far(&self) -> Answer<Sums> {
        self.fold(|f| summed(f.begun()))
    }

    /// What came of each revision; of one card with what was changed in it.
    ///
    /// # Errors
    /// When there is no such card.
    pub async fn revisions_so_far(&self, caller: Caller, asked: &HistoryQuery) -> Answer<RevisionHistory> {
        let only = asked.card.as_ref();
        if let Some(name) = only
            && !self.fold(|f| f.card(name).is_some())?
        {
            return Err(Problem::new(ProblemKind::NotFound, format!("There is no card `{name}` in the shop.")));
        }
        let mut rows = self.fold(|f| {
            let sheets = f.history(asked).sheets;
            let number = |name: &CardName, revision: &Revision| {
                let all = &f.card(name)?.revisions;
                all.iter().find(|r| r.revision == *revision).map(|r| r.number)
            };
            learn::revisions(&sheets, number)
        })?;
        if only.is_some() {
            for row in rows.iter_mut().filter(|r| r.number > 1) {
                // a revision that can no longer be read has no changes to show, and its sheets all the same
                let told = self.card_changes(caller.clone(), row.card.clone(), Some(row.number)).await;
                row.changes = told.map(|c| c.changes).unwrap_or_default();
            }
        }
        Ok(RevisionHistory { schema: SCHEMA, revisions: rows })
    }

    /// What came of each bit.
    ///
    /// # Errors
    /// When the state cannot be read.
    pub fn bits_so_far(&self, asked: &HistoryQuery) -> Answer<BitHistory> {
        let (bits, physical) = self.fold(|f| {
            let sheets = f.history(asked).sheets;
            let mut known: BTreeMap<(CardName, Revision), Option<String>> = BTreeMap::new();
            let mut material = |sheet: &SheetRecord| {
                let key = (sheet.card.clone(), sheet.revision.clone());
                let read = || {
                    let text = &f.card(&sheet.card)?.revision(&sheet.revision)?.text;
                    card::read("card", text, &self.premises.stores).ok().map(|c| c.sheet.material)
                };
                known.entry(key).or_insert_with(read).clone()
            };
            let mut bits = learn::bits(&sheets, &mut material);
            bits.retain(|row| asked.bit.as_ref().is_none_or(|bit| row.bit == *bit));
            for row in &mut bits {
                row.cut_ever = f.bits().iter().find(|(b, _)| **b == row.bit).map_or(Metres::ZERO, |(_, way)| *way);
                row.life = self.premises.stores.bits.get(&row.bit.0).and_then(|b| b.life);
            }
            let wanted = |bit: &&NumberedBit| asked.bit.as_ref().is_none_or(|kind| bit.bit == *kind);
            let mut numbered = f.numbered_bits().filter(wanted).peekable();
            if numbered.peek().is_none() {
                return (bits, Vec::new());
            }
            // a life is told whole: where on it a sheet lies is known from all of them alone
            let all = f.history(&HistoryQuery { bit: asked.bit.clone(), ..HistoryQuery::default() }).sheets;
            let life = |bit: &NumberedBit| self.premises.stores.bits.get(&bit.bit.0).and_then(|b| b.life);
            let physical = learn::physical(numbered, &all, life, material);
            (bits, physical)
        })?;
        Ok(BitHistory { schema: SCHEMA, bits, physical })
    }
}

/// The records of sheets, in their order, made some at a time as they are asked for.
fn few_at_a_time<T: Send + 'static>(
    ids: Vec<SheetId>,
    mut make: impl FnMut(&[SheetId]) -> Answer<Vec<T>>,
) -> impl Iterator<Item = Answer<T>> {
    let mut ids = ids.into_iter();
    let handfuls = iter::from_fn(move || {
        let some: Vec<SheetId> = ids.by_ref().take(AT_A_TIME).collect();
        (!some.is_empty()).then(|| -> Box<dyn Iterator<Item = Answer<T>> + Send> {
            match make(&some) {
                Ok(records) => Box::new(records.into_iter().map(Ok)),
                Err(problem) => Box::new(iter::once(Err(problem))),
            }
        })
    });
    handfuls.flatten()
}

/// Millionths add up to the same in every order: a counter that is a little less than it was would count as begun anew.
#[allow(clippy::cast_possible_truncation, reason = "saturating, and seconds of centuries fit")]
fn millionths(value: f64) -> i64 {
    (value * 1.0e6).round() as i64
}

/// Sums over sheets.
fn summed<'f>(sheets: impl Iterator<Item = &'f SheetState>) -> Sums {
    let (mut cut, mut held, mut way) = (0_i64, 0_i64, 0_i64);
    let mut sums = Sums::default();
    for sheet in sheets {
        for operation in &sheet.operations {
            cut = cut.saturating_add(millionths(operation.real.unwrap_or_default().value()));
            held = held.saturating_add(millionths(operation.held.value()));
            way = way.saturating_add(millionths(operation.cut.value()));
        }
        sums.stops += sheet.stops.len() as u64;
        for part in &sheet.parts {
            let [good, rework, scrap] = &mut sums.parts;
            *match part.grade {
                Grade::Good => good,
                Grade::Rework => rework,
                Grade::Scrap => scrap,
            } += 1;
        }
    }
    let whole = |millionths: i64| millionths as f64 / 1.0e6;
    Sums { cut: Seconds::of(whole(cut)), held: Seconds::of(whole(held)), way: Metres::of(whole(way)), ..sums }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn however_many_there_are_each_is_made_once_and_in_order() {
        for number in [0, 1, AT_A_TIME, AT_A_TIME + 1, 3 * AT_A_TIME - 1] {
            let ids: Vec<SheetId> = (0..number).map(|n| SheetId(format!("B1-{n}"))).collect();
            let made = few_at_a_time(ids.clone(), |some| {
                assert!((1..=AT_A_TIME).contains(&some.len()));
                Ok(some.to_vec())
            });
            assert_eq!(made.collect::<Answer<Vec<_>>>().unwrap(), ids);
        }
    }

    #[test]
    fn nothing_is_made_before_it_is_asked_for() {
        let ids: Vec<SheetId> = (0..3 * AT_A_TIME).map(|n| SheetId(format!("B1-{n}"))).collect();
        let mut handfuls = 0;
        let first = few_at_a_time(ids, |some| {
            handfuls += 1;
            Ok(some.to_vec())
        })
        .next();
        assert!(first.unwrap().is_ok());
        assert_eq!(handfuls, 1);
    }

    #[test]
    fn counters_are_the_same_in_every_order() {
        let whole: Vec<f64> = vec![0.1, 0.2, 0.3, 1.0e5, 0.123_456];
        let sum = |values: &mut dyn Iterator<Item = &f64>| -> i64 { values.map(|v| millionths(*v)).sum() };
        assert_eq!(sum(&mut whole.iter()), sum(&mut whole.iter().rev()));
        assert_eq!(sum(&mut whole.iter()), 100_000_723_456);
    }
}
