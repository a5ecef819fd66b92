//! `chargehand report` and `chargehand sheet print`: a batch or a job card as a page in a file.
//!
//! May live here: asking and writing. May not: what stands on the page.

use super::end::End;
use crate::client::Api;
use crate::{outside, report};
use chargehand_types::id::{BatchId, SheetId};
use std::path::Path;

pub(super) async fn run(api: &Api, batch: String, output: &Path) -> Result<(), End> {
    let told = api.batch_report(&BatchId(batch)).await?;
    written(output, &report::page(&told, outside::utc_now(), &outside::local_minute))
}

/// The job card of a sheet.
pub(super) async fn job_card(api: &Api, id: &SheetId, output: &Path) -> Result<(), End> {
    let record = api.sheet(id).await?;
    let newest = api.card(&record.card, None).await?;
    let own = newest.revisions.iter().rfind(|(_, revision)| *revision == record.revision).map(|(number, _)| *number);
    let card =
        if own.is_some_and(|own| own != newest.row.number) { api.card(&record.card, own).await? } else { newest };
    let drawing = api.sheet_drawing(id).await?;
    written(output, &report::job_card::page(&record, &card, &drawing, outside::utc_now(), &outside::local_minute))
}

fn written(output: &Path, page: &str) -> Result<(), End> {
    let cannot = |e| End::Missing(format!("{}: the page cannot be written: {e}.", output.display()));
    outside::write_file(output, page.as_bytes()).map_err(cannot)?;
    eprintln!("The page is in {}.", output.display());
    Ok(())
}
