//! The sheets that are to be cut, read out of the shop's state: what is left of each and how long it takes.

use super::known::{History, Known};
use super::suppose::{NotSupposed, Supposed};
use super::wares;
use crate::calendar::Span;
use crate::dayplan;
use crate::ledger::State as Fold;
use crate::ledger::fold::sheet::SheetState;
use crate::shop::card;
use crate::shop::config::{Config, HandTimes, Panel};
use chargehand_types::card::Stores;
use chargehand_types::id::{BatchId, BitName, CardName, SheetId};
use chargehand_types::plan::{Minute, Minutes, SetsRow, StockRow};
use chargehand_types::quantity::Seconds;
use chargehand_types::stage::Stage;
use chrono::{DateTime, Utc};

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
    /// What history knows of times.
    pub known: Known,
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
        known: history.known(config.hours.hand_times),
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
    let approved = fold.approved(&sheet.card, &sheet.revision).is_some();
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
            // before its first article is approved nothing of a revision is left alone
            unattended: operation.unattended && approved,
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::fault::told;
    use crate::shop::shelf::{self, Folder, Page};
    use chargehand_types::event::{EVENT_VERSION, Event, What};
    use chargehand_types::id::Seq;
    use chargehand_types::quantity::Tick;

    const DAEMON: &str = include_str!("../../../../config/demo/daemon.toml");
    const CARD: &str = include_str!("../../../../config/demo/plant-stand-sides.card.toml");

    fn happened(fold: &mut Fold, what: What) {
        let (seq, at) = (fold.seq().0 + 1, DateTime::from_timestamp(1_772_000_000, 0).unwrap());
        let id = format!("e{seq}");
        let (v, tick) = (EVENT_VERSION, Tick(0));
        fold.apply(&Event {
            v,
            seq: Seq(seq),
            id,
            command_id: None,
            at,
            tick,
            actor: None,
            terminal: None,
            sheet: None,
            what,
        });
    }

    /// Until the owner approved the first article, a person is planned beside every cut of its revision.
    #[test]
    fn nothing_is_left_alone_before_its_first_article_is_approved() {
        let shop = shelf::read(&Folder::with(Page::new("daemon.toml", DAEMON))).map_err(|f| told(&f)).unwrap();
        let mut fold = Fold::default();
        let (name, revision): (CardName, _) = ("plant-stand-sides".into(), chargehand_types::id::Revision::from("r1"));
        let (text, programs) = (CARD.to_owned(), Vec::new());
        happened(&mut fold, What::CardAdded { name: name.clone(), revision: revision.clone(), text, programs });
        let (card, sheets) = (name.clone(), vec![SheetId::from("B1-1")]);
        let (batch, due, predicted, order) = ("B1".into(), None, Vec::new(), None);
        let revision_of_batch = revision.clone();
        happened(
            &mut fold,
            What::BatchAdded { batch, card, revision: revision_of_batch, sheets, due, weight: 1.0, predicted, order },
        );
        let alone = |fold: &Fold| -> Vec<bool> {
            let sheet = fold.sheet(&"B1-1".into()).unwrap();
            let waiting = waiting(fold, &shop.stores, &History::of(fold), sheet).unwrap();
            waiting.operations.iter().map(|o| o.unattended).collect()
        };
        assert_eq!(alone(&fold), [false, false]);
        happened(&mut fold, What::ArticleApproved { card: name, revision });
        assert_eq!(alone(&fold), [true, true]);
    }
}
