//! Whole sets wanted, and sheets counted: what is written down for them.
//!
//! May live here: an order of sets into batches of cards, a count into a record. May not: the arithmetic of sets.

use super::desk::{FrontDesk, SHEETS_AT_MOST, gone};
use super::foreman::Errand;
use super::planning::wares::{Cards, all_yields, product};
use super::wording;
use crate::api::Answer;
use crate::dayplan;
use crate::ledger::{Draft, State as Fold};
use chargehand_types::SCHEMA;
use chargehand_types::event::What;
use chargehand_types::finding::Severity;
use chargehand_types::id::{BatchId, CardName, CommandId, SheetId};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::Seconds;
use chargehand_types::queue::{AddSets, CountStock, Done, SetOrder};
use std::collections::BTreeMap;
use tokio::sync::oneshot;

/// Sets of one order at most.
const SETS_AT_MOST: u32 = 10_000;

fn bad(text: String) -> Problem {
    Problem::new(ProblemKind::BadRequest, text)
}

impl FrontDesk {
    /// Puts the sheets of every card that a product needs into the queue, one batch a card, all at once.
    ///
    /// # Errors
    /// When there is no such product, no card yields one of its parts, or a card cannot run.
    pub(super) async fn order_sets(&self, request: AddSets) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        if !(1..=SETS_AT_MOST).contains(&request.sets) {
            return Err(bad(format!("An order is of 1 to {SETS_AT_MOST} sets.")));
        }
        let config = &self.premises.config;
        let Some(wanted) = config.products.iter().find(|p| p.name == request.product) else {
            let known: Vec<&str> = config.products.iter().map(|p| p.name.as_str()).collect();
            let known = if known.is_empty() { "daemon.toml has no [[product]]".to_owned() } else { known.join(", ") };
            return Err(Problem::new(
                ProblemKind::NotFound,
                format!("There is no product `{}`; there are: {known}.", request.product.escape_debug()),
            ));
        };
        let product = product(wanted);
        let stores = &self.premises.stores;
        let yields = self.fold(|f| all_yields(f, &mut Cards::new(f, stores)))?;
        let parts = dayplan::missing(&product, request.sets, &BTreeMap::new());
        let (sheets, nowhere) = dayplan::sheets_for(&parts, &yields);
        if let Some(part) = nowhere.keys().next() {
            return Err(Problem::new(
                ProblemKind::NotFound,
                format!("No card of the shop yields the part `{part}`: add a card with a [[part]] of that name."),
            ));
        }
        let zone = config.hours.time_zone;
        let due = request.due.map(|due| dayplan::cut_by(due, product.finishing_days, zone));
        let _numbering = self.numbering.lock().await;
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let first = self.fold(Fold::next_batch)?;
        let batches = self.batches_for(&request, &first, &sheets, due).await?;
        let told: Vec<String> = batches.iter().map(|batch| batch.told.clone()).collect();
        let cut_by = due.filter(|_| product.finishing_days > 0).map_or_else(String::new, |due| {
            format!(
                " To be cut by {}, for {} days of finishing.",
                due.with_timezone(&zone).format("%a %-d %b %H:%M"),
                product.finishing_days
            )
        });
        let done = Done {
            schema: SCHEMA,
            said: format!("{} sets of {}: {}.{cut_by}", request.sets, product.name, told.join("; ")),
            id: Some(first.0),
            revision: None,
            findings: Vec::new(),
            changes: None,
        };
        let drafts = batches.into_iter().map(|batch| self.draft(&request.command_id, batch.what)).collect();
        self.record_all(drafts, request.command_id, done).await
    }

    /// One batch a card.
    async fn batches_for(
        &self,
        request: &AddSets,
        first: &BatchId,
        sheets: &BTreeMap<CardName, u32>,
        due: Option<chrono::DateTime<chrono::Utc>>,
    ) -> Answer<Vec<NewBatch>> {
        let order = SetOrder { first: first.clone(), product: request.product.clone(), sets: request.sets };
        let mut batches = Vec::new();
        for (number, (card, count)) in (0_u32..).zip(sheets) {
            if *count > SHEETS_AT_MOST {
                return Err(bad(format!("{count} sheets of `{card}` are more than a batch has; order fewer sets.")));
            }
            let judged = self.judged(card, None).await?;
            if let Some(finding) = judged.findings(Severity::Stops).next() {
                let text = format!("`{card}` cannot run: {}. {}", finding.means, finding.remedy);
                return Err(Problem::new(ProblemKind::CannotRun, text));
            }
            let batch = later(first, number);
            let each: Vec<Seconds> = judged.judged.operations.iter().map(|o| o.seconds).collect();
            let together = each.iter().fold(Seconds::ZERO, |sum, o| sum + *o);
            batches.push(NewBatch {
                told: format!("batch {batch}, {count} of `{card}`, about {} each", wording::span(together)),
                what: What::BatchAdded {
                    sheets: (1..=*count).map(|n| SheetId(format!("{batch}-{n}"))).collect(),
                    batch,
                    card: card.clone(),
                    revision: judged.revision().clone(),
                    due,
                    weight: request.weight.unwrap_or(1.0),
                    predicted: each,
                    order: Some(order.clone()),
                },
            });
        }
        Ok(batches)
    }

    /// Writes down how many sheets of a kind were counted.
    ///
    /// # Errors
    /// When the shop has no such stock.
    pub(super) async fn stock_counted(&self, request: CountStock) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let panels = &self.premises.config.panels;
        if !panels.iter().any(|panel| panel.name == request.stock) {
            let known: Vec<&str> = panels.iter().map(|panel| panel.name.as_str()).collect();
            let known = if known.is_empty() { "daemon.toml has no [[stock]]".to_owned() } else { known.join(", ") };
            return Err(Problem::new(
                ProblemKind::NotFound,
                format!("There is no stock `{}`; there are: {known}.", request.stock.escape_debug()),
            ));
        }
        let done = Done {
            schema: SCHEMA,
            said: format!("{} sheets of {} are there.", request.sheets, request.stock),
            id: Some(request.stock.clone()),
            revision: None,
            findings: Vec::new(),
            changes: None,
        };
        let what = What::StockCounted { stock: request.stock, sheets: request.sheets };
        let draft = self.draft(&request.command_id, what);
        self.record(draft, request.command_id, done).await
    }

    /// Several records of one command, all or none.
    pub(super) async fn record_all(&self, drafts: Vec<Draft>, command: CommandId, done: Done) -> Answer<Done> {
        let (reply, answer) = oneshot::channel();
        self.send(Errand::Record(drafts, command.clone(), done, reply))?;
        let done = answer.await.map_err(|_| gone())??;
        self.keep_first(command, &done);
        Ok(done)
    }
}

struct NewBatch {
    told: String,
    what: What,
}

/// The id of a batch so many after another.
fn later(first: &BatchId, number: u32) -> BatchId {
    let counted = first.0.strip_prefix('B').and_then(|n| n.parse::<u32>().ok());
    counted.map_or_else(|| first.clone(), |n| BatchId(format!("B{}", n.saturating_add(number))))
}
