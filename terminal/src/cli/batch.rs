//! `chargehand batch`: sheets put into the queue, and given up.
//!
//! May live here: sending and showing. May not: the queue's order.

use super::end::End;
use super::line::BatchVerb;
use super::page::{cut, fold, json, say, table};
use crate::client::Api;
use crate::{outside, words};
use chargehand_types::id::{BatchId, CardName};
use chargehand_types::quantity::plain;
use chargehand_types::queue::BatchRow;

pub(super) async fn run(api: &Api, verb: BatchVerb) -> Result<(), End> {
    match verb {
        BatchVerb::Add { name, sheets, product, sets, due, weight } => {
            let due = due.map(|w| w.0);
            let done = match (name, product) {
                (Some(name), _) => api.add_batch(CardName(name), sheets.unwrap_or(1), due, weight).await?,
                (None, product) => api.add_sets(product.unwrap_or_default(), sets.unwrap_or(1), due, weight).await?,
            };
            say(&fold("", &done.said, 0))
        }
        BatchVerb::List { json: true } => json(&api.batches().await?),
        BatchVerb::List { json: false } => say(&list(&api.batches().await?.batches)),
        BatchVerb::Show { id, json: as_json } => {
            let row = api.batch(&BatchId(id)).await?;
            if as_json { json(&Shown { schema: chargehand_types::SCHEMA, row: &row }) } else { say(&show(&row)) }
        }
        BatchVerb::Cancel { id } => say(&fold("", &api.cancel_batch(&BatchId(id)).await?.said, 0)),
    }
}

/// A batch as a document of its own.
#[derive(serde::Serialize)]
struct Shown<'a> {
    schema: u32,
    #[serde(flatten)]
    row: &'a BatchRow,
}

fn state(row: &BatchRow) -> String {
    if row.cancelled { "given up".to_owned() } else { format!("{} of {} closed", row.closed, row.sheets) }
}

fn list(batches: &[BatchRow]) -> String {
    if batches.is_empty() {
        return "No batch yet. Add one with: chargehand batch add NAME --sheets N\n".to_owned();
    }
    let mut rows = vec![["batch", "card", "sheets", "due"].map(str::to_owned).to_vec()];
    for b in batches {
        let due = b.due.map_or_else(|| "no day".to_owned(), outside::local_minute);
        rows.push(vec![b.id.0.clone(), cut(&b.card.0, 30), state(b), due]);
    }
    table(&rows)
}

fn show(row: &BatchRow) -> String {
    let due = row.due.map_or_else(|| "no due day".to_owned(), |d| format!("due {}", outside::local_minute(d)));
    format!(
        "{}   {}, revision {}\n  {}, {due}, weight {}\n",
        row.id,
        row.card,
        words::short(&row.revision.0),
        state(row),
        plain(row.weight)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_batch_says_how_far_it_is() {
        let mut row = BatchRow {
            id: "B3".into(),
            card: "tray".into(),
            revision: "abc".into(),
            sheets: 4,
            closed: 1,
            due: None,
            weight: 1.0,
            cancelled: false,
        };
        assert!(list(std::slice::from_ref(&row)).contains("B3     tray  1 of 4 closed  no day"));
        row.cancelled = true;
        assert!(show(&row).contains("given up"));
        let json = serde_json::to_value(Shown { schema: 1, row: &row }).unwrap();
        assert_eq!((json["schema"].as_u64(), json["id"].as_str()), (Some(1), Some("B3")));
    }
}
