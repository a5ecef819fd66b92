//! x
use super::end::End;
use super::line::SymbolsWanted;
pub(super) async fn run(_hands_free: bool, _wanted: Option<SymbolsWanted>) -> Result<(), End> { Ok(()) }
