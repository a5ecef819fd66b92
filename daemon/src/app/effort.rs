//! What was spent and what came of it, by batch and by day: cost, and the figures of time use.
//!
//! May live here: history rows and the shop's prices into sums. May not: formulas.

use super::desk::FrontDesk;
use super::planning::wares::{Cards, is_cut_from};
use crate::api::Answer;
use crate::calendar::{self, Span};
use crate::learn::{Elements, Figures, Rates, Taken, cost, figures};
use crate::shop::config::Config;
use chargehand_types::SCHEMA;
use chargehand_types::card::Stores;
use chargehand_types::history::{
    BatchSum, Cost, DaySum, EffortHistory, Figures as Told, HistoryQuery, LostTo, SheetRecord,
};
use chargehand_types::plan::{Minute, Minutes};
use chargehand_types::stage::{Grade, Stage};
use chrono::{NaiveDate, NaiveTime, TimeDelta};
use std::collections::BTreeMap;

impl FrontDesk {
    /// Closed sheets summed up by batch, and by the day they were closed on in the shop's zone.
    ///
    /// # Errors
    /// When the state cannot be read.
    pub(super) fn effort(&self, asked: &HistoryQuery) -> Answer<EffortHistory> {
        let (config, stores) = (&self.premises.config, &self.premises.stores);
        self.fold(|f| {
            let closed: Vec<SheetRecord> =
                f.history(asked).sheets.into_iter().filter(|s| s.stage == Stage::Closed && s.begun.is_some()).collect();
            let mut cards = Cards::new(f, stores);
            let mut batches: BTreeMap<_, Vec<&SheetRecord>> = BTreeMap::new();
            let mut days: BTreeMap<NaiveDate, Vec<&SheetRecord>> = BTreeMap::new();
            let zone = config.hours.time_zone;
            for sheet in &closed {
                let number = f.batch(&sheet.batch).map_or(0, |b| b.number);
                batches.entry((number, &sheet.batch)).or_default().push(sheet);
                if let Some(at) = sheet.closed {
                    days.entry(at.with_timezone(&zone).date_naive()).or_default().push(sheet);
                }
            }
            let batches = batches.into_iter().map(|((_, batch), sheets)| BatchSum {
                batch: batch.clone(),
                card: sheets.first().map_or_else(|| "".into(), |s| s.card.clone()),
                sheets: graded(&sheets),
                parts: parts(&sheets),
                cost: spent(stores, config, &mut cards, &sheets),
                figures: told(&figures(&elements(&sheets, None))),
                lost: lost(&sheets, None),
            });
            let batches = batches.collect();
            let days = days.into_iter().map(|(date, sheets)| {
                let busy = planned_busy(config, date);
                DaySum {
                    date,
                    sheets: graded(&sheets),
                    parts: parts(&sheets),
                    planned_busy_min: busy,
                    production_min: minutes(sheets.iter().flat_map(|s| &s.operations).filter_map(|o| o.real)),
                    held_min: minutes(sheets.iter().flat_map(|s| &s.operations).map(|o| o.held)),
                    stops: u32::try_from(sheets.iter().map(|s| s.stops.len()).sum::<usize>()).unwrap_or(u32::MAX),
                    figures: told(&figures(&elements(&sheets, Some(busy)))),
                    lost: lost(&sheets, Some(busy)),
                }
            });
            EffortHistory { schema: SCHEMA, batches, days: days.collect(), hands_are: HANDS.to_owned() }
        })
    }
}

/// What the hand time of a cost is.
const HANDS: &str = "load, take off and bit changes at the minutes of daemon.toml";

fn minutes(seconds: impl Iterator<Item = chargehand_types::quantity::Seconds>) -> f64 {
    seconds.map(|s| s.value()).sum::<f64>() / 60.0
}

fn graded(sheets: &[&SheetRecord]) -> [u32; 3] {
    let count = |grade| u32::try_from(sheets.iter().filter(|s| s.grade == Some(grade)).count()).unwrap_or(u32::MAX);
    [count(Grade::Good), count(Grade::Rework), count(Grade::Scrap)]
}

fn parts(sheets: &[&SheetRecord]) -> [u32; 3] {
    let count = |grade| {
        let of_it = sheets.iter().flat_map(|s| &s.parts).filter(|p| p.grade == grade).count();
        u32::try_from(of_it).unwrap_or(u32::MAX)
    };
    [count(Grade::Good), count(Grade::Rework), count(Grade::Scrap)]
}

/// An item is a sheet; produced is every sheet that was cut to its end.
fn elements(sheets: &[&SheetRecord], planned_busy: Option<f64>) -> Elements {
    let whole = |s: &&&SheetRecord| s.operations.iter().all(|o| o.real.is_some()) && !s.operations.is_empty();
    let produced: Vec<&&SheetRecord> = sheets.iter().filter(whole).collect();
    let good = produced.iter().filter(|s| s.grade == Some(Grade::Good)).count();
    Elements {
        planned_busy,
        production: minutes(sheets.iter().flat_map(|s| &s.operations).filter_map(|o| o.real)),
        planned_run: minutes(produced.iter().flat_map(|s| &s.operations).map(|o| o.predicted)),
        produced: u32::try_from(produced.len()).unwrap_or(u32::MAX),
        good: u32::try_from(good).unwrap_or(u32::MAX),
    }
}

/// Minutes in which nothing moved, by reason, the most first; with the minutes that were planned, what is left of them is
/// lost to a machine with nothing on it.
fn lost(sheets: &[&SheetRecord], planned: Option<f64>) -> Vec<(LostTo, f64)> {
    let mut sums: BTreeMap<LostTo, f64> = BTreeMap::new();
    let mut there = 0.0;
    for (stage, time) in sheets.iter().flat_map(|s| &s.spent) {
        let minutes = time.value() / 60.0;
        there += minutes;
        let to = match stage {
            Stage::Securing => LostTo::Securing,
            Stage::Tooling => LostTo::Tooling,
            Stage::Ready => LostTo::Starting,
            Stage::Held => LostTo::Held,
            Stage::Stopped => LostTo::Stopped,
            Stage::TakingOff | Stage::Checking => LostTo::TakingOff,
            Stage::Queued | Stage::Cutting | Stage::SetAside | Stage::Closed => continue,
        };
        *sums.entry(to).or_default() += minutes;
    }
    if let Some(left) = planned.map(|planned| planned - there).filter(|left| *left > 0.0) {
        sums.insert(LostTo::NothingOn, left);
    }
    let mut rows: Vec<_> = sums.into_iter().filter(|(_, minutes)| *minutes > 0.0).collect();
    rows.sort_by(|(_, a), (_, b)| b.total_cmp(a));
    rows
}

fn told(of: &Figures) -> Told {
    Told { availability: of.availability, effectiveness: of.effectiveness, quality: of.quality, oee: of.oee }
}

/// Minutes of a day in which somebody is there and cutting is allowed.
fn planned_busy(config: &Config, date: NaiveDate) -> f64 {
    let midnight = date.and_time(NaiveTime::MIN).and_local_timezone(config.hours.time_zone).earliest();
    let Some(zero) = midnight.map(|m| m.to_utc()) else { return 0.0 };
    let span = Span { zero, days: 2 };
    let reach = calendar::reach(&config.hours, &[], Minutes(config.limits.smoulder_min), span);
    let next = (date + TimeDelta::days(1)).and_time(NaiveTime::MIN).and_local_timezone(config.hours.time_zone);
    let end = next.earliest().map_or(Minute(24 * 60), |end| span.minute(end.to_utc()));
    let there = reach.attended().within(Minute(0), end);
    there.all().iter().map(|w| f64::from(w.to.since(w.from).0)).sum()
}

/// None where the shop gives no rates: a cost of nothing would be believed.
pub(super) fn spent(stores: &Stores, config: &Config, cards: &mut Cards<'_>, sheets: &[&SheetRecord]) -> Option<Cost> {
    let rates = config.rates?;
    let mut bit = None;
    let times = config.hours.hand_times;
    let mut taken = Vec::with_capacity(sheets.len());
    for sheet in sheets {
        let mut changes = 0_u32;
        for operation in &sheet.operations {
            changes += u32::from(operation.bit.is_some() && operation.bit.as_ref() != bit);
            bit = operation.bit.as_ref().or(bit);
        }
        let card = cards.of(&sheet.card, &sheet.revision);
        let panel = card.and_then(|card| config.panels.iter().find(|panel| is_cut_from(card, panel)));
        let each = panel.map(|panel| panel.price / f64::from(panel.pieces.iter().product::<u32>().max(1)));
        let wear = |(name, cut): &(chargehand_types::id::BitName, chargehand_types::quantity::Metres)| {
            let bit = stores.bits.get(&name.0)?;
            Some(bit.price? * cut.value() / bit.life?.value())
        };
        let hand = times.load.0 + times.take_off.0 + changes * times.bit_change.0;
        taken.push(Taken {
            machine_s: sheet.operations.iter().map(|o| o.real.unwrap_or_default().value() + o.held.value()).sum(),
            hand_s: f64::from(hand) * 60.0,
            material: each,
            bits: sheet.bits.iter().filter_map(wear).sum(),
            parts: u32::try_from(sheet.parts.len()).unwrap_or(u32::MAX),
            good: u32::try_from(sheet.parts.iter().filter(|p| p.grade == Grade::Good).count()).unwrap_or(u32::MAX),
        });
    }
    let sum = cost(&taken, Rates { machine_hour: rates[0], hand_hour: rates[1] });
    Some(Cost {
        machine: sum.machine,
        hands: sum.hands,
        material: sum.material,
        bits: sum.bits,
        total: sum.total,
        scrap: sum.scrap,
        each: sum.each,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_planned_minute_is_lost_without_a_reason() {
        let record: SheetRecord = serde_json::from_value(serde_json::json!({
            "sheet": "B1-1", "batch": "B1", "card": "tray", "revision": "r", "stage": "closed", "begun": null,
            "closed": null, "operators": [], "thickness": [], "fasteners": [], "operations": [], "bits": [],
            "stops": [], "parts": [], "grade": "good", "notes": [],
            "spent": [["securing", 600.0], ["tooling", 300.0], ["cutting", 1800.0], ["held", 60.0], ["checking", 240.0]]
        }))
        .unwrap();
        // 480 planned, 50 on the machine, of them 30 cutting: 430 with nothing on it, 10, 5, 4 and 1 besides
        let rows = lost(&[&record], Some(480.0));
        assert_eq!(
            rows,
            [
                (LostTo::NothingOn, 430.0),
                (LostTo::Securing, 10.0),
                (LostTo::Tooling, 5.0),
                (LostTo::TakingOff, 4.0),
                (LostTo::Held, 1.0)
            ]
        );
        let sum: f64 = rows.iter().map(|(_, minutes)| minutes).sum();
        assert!((sum + 30.0 - 480.0).abs() < 1.0e-9);
        assert_eq!(lost(&[&record], None).len(), 4, "of a batch nothing was planned");
    }
}
