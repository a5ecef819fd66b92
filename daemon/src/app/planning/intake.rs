//! The sheets that are to be cut, read out of the shop's state: what is left of each and how long it takes.

use super::suppose::{NotSupposed, Supposed};
use super::wares;
use crate::calendar::Span;
use crate::dayplan;
use crate::learn::{Cut, Ground, Level, TimeFactor, time_factor};
use crate::ledger::State as Fold;
use crate::ledger::fold::card::BatchState;
use crate::ledger::fold::sheet::SheetState;
use crate::shop::card;
use crate::shop::config::{Config, HandTimes, Panel};
use chargehand_types::card::Stores;
use chargehand_types::history::Learnt;
use chargehand_types::id::{BatchId, BitName, CardName, Revision, SheetId};
use chargehand_types::plan::{Minute, Minutes, SetsRow, StockRow};
use chargehand_types::quantity::Seconds;
use chargehand_types::stage::Stage;
use chrono::{DateTime, Utc};
use std::collections::BTreeMap;

/// What is to be planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Intake {
    /// Sheets that wait or lie on the machine, in the order they were added.
    pub sheets: Vec<Waiting>,
    /// Sheets that cannot be planned, and why.
    pub left_out: Vec<(SheetId, String)>,
    /// The bit last read back.
    pub bit: Option<BitName>,
    /// How far the products are.
    pub sets: Vec<SetsRow>,
    /// Sheets there and to buy.
    pub stock: Vec<StockRow>,
    /// What cuts take is reckoned times this, where history knows.
    pub pace: Option<Learnt>,
    /// How much shorter and longer than reckoned the next cut may well be, as shares, where history knows.
    pub spread: Option<[f64; 2]>,
}

/// A sheet that waits or lies on the machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Waiting {
    /// Its id.
    pub id: SheetId,
    /// Its card.
    pub card: CardName,
    /// It lies on the machine.
    pub on_machine: bool,
    /// When it is due.
    pub due: Option<DateTime<Utc>>,
    /// How much that matters.
    weight: f64,
    /// It is held down already.
    loaded: bool,
    /// What is still to be cut.
    operations: Vec<dayplan::Operation>,
}

impl Waiting {
    /// As the planner takes it.
    pub fn planned(&self, times: HandTimes, span: Span) -> dayplan::Sheet {
        dayplan::Sheet {
            id: self.id.clone(),
            load: if self.loaded { Minutes(0) } else { times.load },
            cleanup: times.take_off,
            due: self.due.map(|d| if d < span.zero { Minute(0) } else { span.minute(d) }),
            weight: self.weight,
            operations: self.operations.clone(),
        }
    }
}

pub(super) fn read(fold: &Fold, stores: &Stores, config: &Config, supposed: &Supposed) -> Result<Intake, NotSupposed> {
    let history = History::of(fold);
    let mut intake = Intake {
        sheets: Vec::new(),
        left_out: Vec::new(),
        bit: fold.fitted().map(|f| f.bit.clone()),
        sets: wares::sets(fold, stores, config),
        stock: wares::stock(fold, stores, config),
        pace: history.pace(),
        spread: history.spread(),
    };
    for sheet in fold.sheets() {
        match sheet.stage {
            Stage::Closed => {}
            Stage::SetAside => {
                intake.left_out.push((sheet.id.clone(), "it is set aside".to_owned()));
            }
            _ => match waiting(fold, stores, &history, sheet) {
                Ok(waiting) => intake.sheets.push(waiting),
                Err(reason) => intake.left_out.push((sheet.id.clone(), reason)),
            },
        }
    }
    for (batch, number) in &supposed.sheets {
        suppose(&mut intake.sheets, fold, batch, *number)?;
    }
    without_wood(&mut intake, fold, stores, config);
    Ok(intake)
}

/// Leaves out the sheets that no stock is there for, the least urgent first. Of a material that nobody has counted there
/// is enough.
fn without_wood(intake: &mut Intake, fold: &Fold, stores: &Stores, config: &Config) {
    let mut cards = wares::Cards::new(fold, stores);
    let mut there: Vec<(&Panel, u32)> = Vec::new();
    for panel in &config.panels {
        there.extend(wares::there(fold, &mut cards, panel).map(|sheets| (panel, sheets)));
    }
    let mut waiting: Vec<(Option<DateTime<Utc>>, usize)> =
        intake.sheets.iter().enumerate().filter(|(_, s)| !s.on_machine).map(|(at, s)| (s.due, at)).collect();
    waiting.sort_by_key(|(due, at)| (due.is_none(), *due, *at));
    let mut lacking = Vec::new();
    for (_, at) in waiting {
        let Some(sheet) = intake.sheets.get(at) else { continue };
        // a sheet that is only supposed is of the card of its batch
        let revision = fold.card(&sheet.card).and_then(|c| c.newest()).map(|r| r.revision.clone());
        let card = revision.as_ref().and_then(|revision| cards.of(&sheet.card, revision));
        let Some(card) = card else { continue };
        let mut own = there.iter_mut().filter(|(panel, _)| wares::is_cut_from(card, panel)).peekable();
        if own.peek().is_none() {
            continue;
        }
        match own.find(|(_, left)| *left > 0) {
            Some((_, left)) => *left -= 1,
            None => lacking.push(at),
        }
    }
    lacking.sort_unstable();
    for at in lacking.into_iter().rev() {
        let sheet = intake.sheets.remove(at);
        intake.left_out.push((sheet.id, "no sheet of its material is left in stock".to_owned()));
    }
}

/// Takes away the last sheets of a batch that wait, or adds some like its last.
fn suppose(sheets: &mut Vec<Waiting>, fold: &Fold, batch: &BatchId, number: i32) -> Result<(), NotSupposed> {
    let of_it = |s: &Waiting| !s.on_machine && fold.sheet(&s.id).is_some_and(|s| s.batch == *batch);
    let last = sheets.iter().rposition(of_it).ok_or_else(|| NotSupposed::NoBatch(batch.clone()))?;
    for new in 1..=number.max(0) {
        let like = sheets[last].clone();
        sheets.push(Waiting { id: SheetId(format!("{batch}+{new}")), ..like });
    }
    for _ in 0..(-number).max(0) {
        let Some(last) = sheets.iter().rposition(of_it) else { break };
        sheets.remove(last);
    }
    Ok(())
}

fn waiting(fold: &Fold, stores: &Stores, history: &History, sheet: &SheetState) -> Result<Waiting, String> {
    let batch = fold.batch(&sheet.batch).ok_or("its batch is not known")?;
    let revision = fold.card(&sheet.card).and_then(|c| c.revision(&sheet.revision)).ok_or("its card is not known")?;
    let card = card::read("card", &revision.text, stores).map_err(|_| "its card can no longer be read")?;
    let cut = !matches!(sheet.stage, Stage::TakingOff | Stage::Checking);
    let done: Vec<&str> = sheet.finished().collect();
    let mut operations: Vec<dayplan::Operation> = Vec::new();
    // the machine follows the card's own order, so each operation waits for the one before
    for number in card::order(&card) {
        let operation = &card.operations[number];
        if !cut || done.contains(&operation.name.as_str()) {
            continue;
        }
        let predicted = batch.predicted.get(number).copied().unwrap_or_default();
        operations.push(dayplan::Operation {
            name: operation.name.clone(),
            minutes: minutes(predicted, history.factor(batch, &operation.name)),
            bit: BitName(operation.bit.clone()),
            after: operations.last().map(|o| o.name.clone()).into_iter().collect(),
            unattended: operation.unattended,
        });
    }
    Ok(Waiting {
        id: sheet.id.clone(),
        card: sheet.card.clone(),
        on_machine: sheet.is_on_machine(),
        due: batch.due,
        weight: batch.weight.clamp(0.0, 1000.0),
        loaded: sheet.is_on_machine() && sheet.stage != Stage::Securing,
        operations,
    })
}

/// Whole minutes, rounded up; never nothing.
fn minutes(predicted: Seconds, ratio: f64) -> Minutes {
    let minutes = (predicted.value() * ratio / 60.0).ceil().clamp(1.0, 10_000.0);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 1 and 10,000")]
    Minutes(minutes as u32)
}

/// What operations really took: of the whole machine, and of single operations by card revision.
struct History {
    machine: TimeFactor,
    own: BTreeMap<(Revision, String), Vec<Cut>>,
}

/// Neither half nor double: a longer plan than that is no plan.
const BELIEVED: [f64; 2] = [0.5, 2.0];

/// A plan that may be off by more than half is none.
const MOST_SPREAD: f64 = 0.5;

impl History {
    fn of(fold: &Fold) -> Self {
        let mut own: BTreeMap<(Revision, String), Vec<Cut>> = BTreeMap::new();
        let mut all = Vec::new();
        for sheet in fold.sheets() {
            for operation in &sheet.operations {
                let Some(real) = operation.real else { continue };
                let cut = Cut { predicted: operation.predicted, real };
                all.push(cut);
                own.entry((sheet.revision.clone(), operation.name.clone())).or_default().push(cut);
            }
        }
        Self { machine: time_factor(&all, Level::USUAL), own }
    }

    /// What a reckoned time is multiplied by: from the operation's own history, else from the machine's.
    fn factor(&self, batch: &BatchState, operation: &str) -> f64 {
        let own = self.own.get(&(batch.revision.clone(), operation.to_owned()));
        let own = own.map(|cuts| time_factor(cuts, Level::USUAL)).filter(|factor| factor.rests.on == Ground::History);
        own.unwrap_or(self.machine).factor.clamp(BELIEVED[0], BELIEVED[1])
    }

    /// How far the next cut may lie from what is reckoned, where history knows.
    fn spread(&self) -> Option<[f64; 2]> {
        let (factor, next) = (self.machine.factor, self.machine.next?);
        (factor > 0.0).then(|| [1.0 - next.low / factor, next.high / factor - 1.0].map(|s| s.clamp(0.0, MOST_SPREAD)))
    }

    /// The machine's own factor, where history knows one.
    fn pace(&self) -> Option<Learnt> {
        let TimeFactor { factor, interval, rests, .. } = self.machine;
        (rests.on == Ground::History).then(|| Learnt {
            value: factor,
            interval: interval.map(|i| [i.low, i.high]),
            rows: u32::try_from(rests.rows).unwrap_or(u32::MAX),
        })
    }
}

#[cfg(test)]
impl Waiting {
    /// A sheet of weight 1 with those operations: name, minutes, bit.
    pub fn of(id: &str, card: &str, due: Option<DateTime<Utc>>, operations: &[(&str, u32, &str)]) -> Self {
        let operations = operations.iter().map(|(name, minutes, bit)| dayplan::Operation {
            name: (*name).to_owned(),
            minutes: Minutes(*minutes),
            bit: BitName::from(*bit),
            after: Vec::new(),
            unattended: true,
        });
        Self {
            id: SheetId::from(id),
            card: CardName::from(card),
            on_machine: false,
            due,
            weight: 1.0,
            loaded: false,
            operations: operations.collect(),
        }
    }
}
