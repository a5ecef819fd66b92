//! Complete sets and sheets in stock, read out of the shop's state.
//!
//! May live here: counting parts and sheets. May not: the arithmetic of sets and panels.

use crate::dayplan::{self, Parts};
use crate::learn::{Level, scrap_rate, spare_sheets};
use crate::ledger::State as Fold;
use crate::ledger::fold::card::BatchState;
use crate::ledger::fold::sheet::SheetState;
use crate::shop::card;
use crate::shop::config::{Config, Panel, Product};
use chargehand_types::card::{Card, Stores};
use chargehand_types::id::{BatchId, CardName, Revision};
use chargehand_types::plan::{SetsRow, StockRow};
use chargehand_types::queue::SetOrder;
use chargehand_types::stage::{Grade, Stage};
use std::collections::BTreeMap;

/// Spare sheets are planned so that a batch comes out whole this often (common practice, no source).
const SURETY: f64 = 0.9;

/// Cards of the state, each read once.
pub struct Cards<'a> {
    fold: &'a Fold,
    stores: &'a Stores,
    read: BTreeMap<CardName, BTreeMap<Revision, Option<Card>>>,
}

impl<'a> Cards<'a> {
    pub fn new(fold: &'a Fold, stores: &'a Stores) -> Self {
        Self { fold, stores, read: BTreeMap::new() }
    }

    /// A revision of a card; none when it can no longer be read.
    pub fn of(&mut self, name: &CardName, revision: &Revision) -> Option<&Card> {
        // most are asked for again and again, one for each sheet that was ever cut
        if !self.read.get(name).is_some_and(|known| known.contains_key(revision)) {
            let text = self.fold.card(name).and_then(|card| card.revision(revision)).map(|r| &r.text);
            let card = text.and_then(|text| card::read("card", text, self.stores).ok());
            self.read.entry(name.clone()).or_default().insert(revision.clone(), card);
        }
        self.read.get(name)?.get(revision)?.as_ref()
    }
}

/// Named parts that one good sheet of a card yields.
#[must_use]
pub fn yields(card: &Card) -> Parts {
    let mut parts = Parts::new();
    for part in &card.named_parts {
        let each = u32::try_from(part.at.len()).unwrap_or(u32::MAX);
        let known: &mut u32 = parts.entry(part.name.clone()).or_default();
        *known = known.saturating_add(each);
    }
    parts
}

/// The newest revision of every card of the shop: what it yields.
#[must_use]
pub fn all_yields(fold: &Fold, cards: &mut Cards<'_>) -> BTreeMap<CardName, Parts> {
    let newest = fold.cards().filter_map(|c| Some((c.name.clone(), c.newest()?.revision.clone())));
    newest.filter_map(|(name, revision)| Some((name.clone(), yields(cards.of(&name, &revision)?)))).collect()
}

/// A product of the config as the arithmetic takes it.
#[must_use]
pub fn product(of: &Product) -> dayplan::Product {
    dayplan::Product { name: of.name.clone(), parts: of.parts.clone(), finishing_days: of.finishing_days }
}

/// Good parts of some batches, and those that come when every sheet left comes out good.
fn parts(fold: &Fold, cards: &mut Cards<'_>, batches: &[&BatchState]) -> (Parts, Parts) {
    let (mut good, mut coming) = (Parts::new(), Parts::new());
    for batch in batches {
        for sheet in batch.sheets.iter().filter_map(|id| fold.sheet(id)) {
            let graded_good = sheet.parts.iter().filter(|part| part.grade == Grade::Good);
            graded_good.for_each(|part| *good.entry(part.name.clone()).or_default() += 1);
            if is_over(sheet) || (batch.cancelled && !sheet.is_on_machine()) {
                continue;
            }
            let mut left = cards.of(&batch.card, &batch.revision).map(yields).unwrap_or_default();
            for part in &sheet.parts {
                if let Some(left) = left.get_mut(&part.name) {
                    *left = left.saturating_sub(1);
                }
            }
            left.into_iter().for_each(|(part, number)| *coming.entry(part).or_default() += number);
        }
    }
    (good, coming)
}

fn is_over(sheet: &SheetState) -> bool {
    sheet.cancelled || matches!(sheet.stage, Stage::Closed | Stage::SetAside)
}

/// How far every product is: one row for each order of sets, and one for batches added without, while some of their
/// sheets are to be cut.
#[must_use]
pub fn sets(fold: &Fold, stores: &Stores, config: &Config) -> Vec<SetsRow> {
    let mut cards = Cards::new(fold, stores);
    let all = all_yields(fold, &mut cards);
    let mut rows = Vec::new();
    for of in &config.products {
        let product = product(of);
        let mut orders: BTreeMap<&BatchId, (&SetOrder, Vec<&BatchState>)> = BTreeMap::new();
        let mut loose: Vec<&BatchState> = Vec::new();
        for batch in fold.batches() {
            match &batch.order {
                Some(order) if order.product == product.name => {
                    orders.entry(&order.first).or_insert_with(|| (order, Vec::new())).1.push(batch);
                }
                Some(_) => {}
                None if is_of(&product, batch, &mut cards) && has_open(fold, batch) => loose.push(batch),
                None => {}
            }
        }
        let mut ordered: Vec<_> = orders.into_values().collect();
        ordered.sort_by_key(|(_, batches)| batches.iter().map(|b| b.number).min());
        for (order, batches) in ordered {
            let row = row(fold, &mut cards, &all, &product, Some(order), &batches);
            if row.complete < row.wanted || batches.iter().any(|batch| has_open(fold, batch)) {
                rows.push(row);
            }
        }
        if !loose.is_empty() {
            rows.push(row(fold, &mut cards, &all, &product, None, &loose));
        }
    }
    rows
}

fn is_of(product: &dayplan::Product, batch: &BatchState, cards: &mut Cards<'_>) -> bool {
    let yields = cards.of(&batch.card, &batch.revision).map(yields).unwrap_or_default();
    yields.keys().any(|part| product.parts.contains_key(part))
}

fn has_open(fold: &Fold, batch: &BatchState) -> bool {
    !batch.cancelled && batch.sheets.iter().filter_map(|id| fold.sheet(id)).any(|sheet| !is_over(sheet))
}

fn row(
    fold: &Fold,
    cards: &mut Cards<'_>,
    all: &BTreeMap<CardName, Parts>,
    product: &dayplan::Product,
    order: Option<&SetOrder>,
    batches: &[&BatchState],
) -> SetsRow {
    let (good, coming) = parts(fold, cards, batches);
    let mut together = good.clone();
    coming.into_iter().for_each(|(part, number)| *together.entry(part).or_default() += number);
    let (now, then) = (dayplan::sets(product, &good), dayplan::sets(product, &together));
    let wanted = order.map_or(then.complete + then.begun, |order| order.sets);
    let (more, nowhere) = dayplan::sheets_for(&dayplan::missing(product, wanted, &together), all);
    SetsRow {
        product: product.name.clone(),
        wanted,
        order: order.map(|order| order.first.clone()),
        complete: now.complete,
        short: dayplan::missing(product, wanted, &good),
        coming: then.complete.min(wanted.max(now.complete)),
        more,
        nowhere,
    }
}

/// What so many more sheets of a card mean for the stock they are sawn from: what is there, what to buy, whether a sheet
/// comes out of a panel at all. Nothing where the shop names no such stock.
#[must_use]
pub fn stock_for(fold: &Fold, stores: &Stores, config: &Config, card: &Card, more: u32) -> Vec<String> {
    let mut cards = Cards::new(fold, stores);
    let of_it = config.panels.iter().filter(|panel| is_cut_from(card, panel));
    of_it
        .map(|panel| {
            let own = stock_row(fold, &mut cards, panel, more);
            let there = own.there.map_or_else(|| "not counted yet".to_owned(), |n| format!("{n} there"));
            let buy = match own.panels {
                0 => "nothing to buy".to_owned(),
                1 => format!("1 panel to buy for {:.2}", own.cost),
                n => format!("{n} panels to buy for {:.2}", own.cost),
            };
            let sawn = dayplan::stock(1, card.sheet.size, 0.0, &sawn(panel));
            let trouble = sawn.err().map_or_else(String::new, |fault| format!(". But {fault}"));
            format!("Of {}: {there}, {} wanted and {} to spare, {buy}{trouble}.", panel.name, own.wanted, own.spare)
        })
        .collect()
}

/// Sheets of every kind of stock: there, wanted, to buy.
#[must_use]
pub fn stock(fold: &Fold, stores: &Stores, config: &Config) -> Vec<StockRow> {
    let mut cards = Cards::new(fold, stores);
    config.panels.iter().map(|panel| stock_row(fold, &mut cards, panel, 0)).collect()
}

/// Sheets there: as counted, without those begun since. None before the first count.
#[must_use]
pub fn there(fold: &Fold, cards: &mut Cards<'_>, panel: &Panel) -> Option<u32> {
    let (counted, at) = fold.stock_counted(&panel.name)?;
    let begun = fold.sheets().into_iter().filter(|sheet| sheet.begun.is_some_and(|begun| begun > at));
    let of_it = begun.filter(|s| cards.of(&s.card, &s.revision).is_some_and(|card| is_cut_from(card, panel)));
    Some(counted.saturating_sub(u32::try_from(of_it.count()).unwrap_or(u32::MAX)))
}

/// A sheet's nominal thickness may differ from its label by this much, mm: 3/4 in is sold as 18, 19 and 19.05 (common
/// practice, no source).
const ONE_THICKNESS: f64 = 1.1;

/// Whether a card's sheets are sawn from these panels.
#[must_use]
pub fn is_cut_from(card: &Card, panel: &Panel) -> bool {
    card.sheet.material == panel.material && (card.sheet.thickness - panel.thickness).mm().abs() <= ONE_THICKNESS
}

/// A panel of the config as the arithmetic takes it.
const fn sawn(panel: &Panel) -> dayplan::Panel {
    dayplan::Panel { size: panel.size, kerf: panel.kerf, pieces: panel.pieces, price: panel.price }
}

/// One kind of stock; `more` sheets are wanted beside those that wait.
fn stock_row(fold: &Fold, cards: &mut Cards<'_>, panel: &Panel, more: u32) -> StockRow {
    let own = sawn(panel);
    let (mut wanted, mut bad, mut all, mut troubles) = (more, 0_u32, 0_u32, Vec::new());
    for sheet in fold.sheets() {
        let Some(card) = cards.of(&sheet.card, &sheet.revision).filter(|card| is_cut_from(card, panel)) else {
            continue;
        };
        match (sheet.stage, sheet.grade) {
            (Stage::Queued, _) if !sheet.cancelled => {
                wanted = wanted.saturating_add(1);
                if let Err(fault) = dayplan::stock(1, card.sheet.size, 0.0, &own) {
                    let told = format!("{}: {fault}", sheet.card);
                    if !troubles.contains(&told) {
                        troubles.push(told);
                    }
                }
            }
            (Stage::Closed, Some(grade)) => {
                all = all.saturating_add(1);
                bad = bad.saturating_add(u32::from(grade == Grade::Scrap));
            }
            _ => {}
        }
    }
    let rate = scrap_rate(bad, all, Level::USUAL);
    let surety = Level::new(SURETY).unwrap_or(Level::USUAL);
    let spare = spare_sheets(wanted, rate.expected, surety).unwrap_or(0);
    let there = there(fold, cards, panel);
    let lacking = wanted.saturating_add(spare).saturating_sub(there.unwrap_or(0));
    let each = panel.pieces.iter().product::<u32>().max(1);
    let panels = lacking.div_ceil(each);
    StockRow {
        stock: panel.name.clone(),
        there,
        wanted,
        spare,
        scrap: (rate.expected.value(), all),
        panels,
        cost: f64::from(panels) * panel.price,
        left: panels.saturating_mul(each) - lacking,
        troubles,
    }
}
