//! `chargehand stock`: sheets that are there, panels to buy, rests of sheets that are cut.
//!
//! May live here: sending and showing. May not: counting what was used.

use super::end::End;
use super::line::StockVerb;
use super::page::{cut, fold, json, say, table};
use super::{person, sheet};
use crate::client::Api;
use crate::day::stocked;
use crate::outside;
use chargehand_types::quantity::plain;
use chargehand_types::record::LeftRow;

pub(super) async fn run(api: &Api, verb: StockVerb) -> Result<(), End> {
    match verb {
        StockVerb::Count { name, sheets } => say(&fold("", &api.count_stock(name, sheets).await?.said, 0)),
        StockVerb::Left { json: true } => json(&api.left().await?),
        StockVerb::Left { json: false } => say(&left(&api.left().await?.left)),
        StockVerb::Gone { sheet: id, because } => {
            let id = sheet::named(&id)?;
            person::sign_in(api, because.who).await?;
            say(&fold("", &api.left_gone(&id, because.why).await?.said, 0))
        }
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

fn left(rows: &[LeftRow]) -> String {
    if rows.is_empty() {
        return "No rest of a sheet is there.\n".to_owned();
    }
    let mut out = vec![["sheet", "mm", "thick", "material", "lot", "since"].map(str::to_owned).to_vec()];
    for row in rows {
        let [x, y] = row.left.size.map(|side| plain(side.mm()));
        out.push(vec![
            row.sheet.0.clone(),
            format!("{x} x {y}"),
            plain(row.thickness.mm()),
            cut(&row.material, 20),
            cut(row.lot.as_deref().unwrap_or(""), 12),
            row.closed.map_or_else(String::new, outside::local_minute),
        ]);
    }
    table(&out)
}
