//! `chargehand history sheets`: what was cut, when, by whom, and how it came out.
//!
//! May live here: asking and showing. May not: sums that teach; those are the daemon's.

use super::end::End;
use super::line::{HistoryLine, HistoryOf};
use super::page::{json, say};
use super::sheet;
use crate::client::Api;
use chargehand_types::history::SheetRecord;

pub(super) async fn run(api: &Api, line: HistoryLine) -> Result<(), End> {
    match line.of {
        HistoryOf::Sheets => {
            let history = api.history(line.since.map(|w| w.0)).await?;
            if line.json { json(&history) } else { say(&told(&history.sheets)) }
        }
    }
}

fn told(sheets: &[SheetRecord]) -> String {
    if sheets.is_empty() {
        return "No sheet was taken onto the machine in that time.\n".to_owned();
    }
    sheets.iter().map(sheet::show).collect::<Vec<_>>().join("\n")
}
