//! `chargehand report`: a batch as a page in a file.
//!
//! May live here: asking and writing. May not: what stands on the page.

use super::end::End;
use crate::client::Api;
use crate::{outside, report};
use chargehand_types::id::BatchId;
use std::path::Path;

pub(super) async fn run(api: &Api, batch: String, output: &Path) -> Result<(), End> {
    let told = api.batch_report(&BatchId(batch)).await?;
    let page = report::page(&told, outside::utc_now(), &outside::local_minute);
    let cannot = |e| End::Missing(format!("{}: the page cannot be written: {e}.", output.display()));
    outside::write_file(output, page.as_bytes()).map_err(cannot)?;
    eprintln!("The page is in {}.", output.display());
    Ok(())
}
