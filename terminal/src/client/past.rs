//! The history of sheets: the one answer that is long, read while it comes in.
//!
//! May live here: asking for it. May not: what is shown of it.

use super::arriving::Arriving;
use super::{Api, ClientFault, PATIENCE, bytes, each_part, queried, refusal};
use chargehand_types::history::{HistoryQuery, SheetHistory, SheetRecord};
use reqwest::Method;

impl Api {
    /// The cut history.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn history(&self, asked: &HistoryQuery) -> Result<SheetHistory, ClientFault> {
        let mut sheets = Vec::new();
        let mut history = self.history_each(asked, |sheet| sheets.push(sheet)).await?;
        history.sheets = sheets;
        Ok(history)
    }

    /// The same with each sheet handed on as it comes in, while the daemon still writes the rest; what is answered in the
    /// end has none.
    ///
    /// # Errors
    /// See [`ClientFault`]; what was handed on before is a part of nothing then.
    pub async fn history_each(
        &self,
        asked: &HistoryQuery,
        mut each: impl FnMut(SheetRecord),
    ) -> Result<SheetHistory, ClientFault> {
        let builder = self.with_token(self.request(Method::GET, &format!("/v1/history/sheets{}", queried(asked))));
        let sent = builder.timeout(PATIENCE).send().await;
        let response = sent.map_err(|e| ClientFault::unreachable(&self.place, &e))?;
        if !response.status().is_success() {
            let status = response.status().as_u16();
            return Err(refusal(status, &bytes(&self.place, response).await?));
        }
        let mut arriving = Arriving::default();
        let taken = each_part(&self.place, response, |part| {
            arriving.take(part)?;
            arriving.read().for_each(&mut each);
            Ok(())
        });
        taken.await?;
        let mut rest = arriving.whole()?;
        rest.sheets.drain(..).for_each(each);
        Ok(rest)
    }
}
