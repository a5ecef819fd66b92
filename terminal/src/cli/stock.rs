//! `chargehand stock`: sheets that are there, and panels to buy.
//!
//! May live here: sending and showing. May not: counting what was used.

use super::end::End;
use super::line::StockVerb;
use super::page::{fold, json, say};
use crate::client::Api;
use crate::day::stocked;

pub(super) async fn run(api: &Api, verb: StockVerb) -> Result<(), End> {
    match verb {
        StockVerb::Count { name, sheets } => say(&fold("", &api.count_stock(name, sheets).await?.said, 0)),
        StockVerb::List { json: as_json } => {
            let plan = api.plan(None, None).await?;
            if as_json {
                return json(&serde_json::json!({ "schema": chargehand_types::SCHEMA, "stock": plan.stock }));
            }
            if plan.stock.is_empty() {
                return say("No stock yet. Say what sheets are sawn from in daemon.toml: [[stock]].\n");
            }
            let rows: String = plan.stock.iter().map(|row| fold("", &stocked(row), 2)).collect();
            say(&rows)
        }
    }
}
