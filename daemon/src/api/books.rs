//! The books of the shop beside the cut: corrections, lots, rests, physical bits, upkeep; what the API asks of whoever keeps them,
//! and its routes.
//!
//! May live here: the trait and the handlers. May not: any answer.

use super::ask::{self, BODY_MOST, CARD_BODY_MOST};
use super::desk::{Answer, Caller, Desk};
use super::routes::{Asked, Named, Shared, Told};
use axum::Router;
use axum::body::Body;
use axum::routing::{get, post};
use chargehand_types::bits::{BeginBit, BitList, MeasureBit, ScrapBit};
use chargehand_types::brought::{BringIn, BroughtIn};
use chargehand_types::id::{BitNumber, SheetId};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::queue::Done;
use chargehand_types::record::{CorrectSheet, LeftGone, LeftList, NameLot};
use chargehand_types::upkeep::{UpkeepDone, UpkeepList};
use std::future::Future;
use std::sync::Arc;

/// What the API asks about the books.
pub trait Books: Send + Sync + 'static {
    /// `POST /v1/sheets/{id}/corrections`
    fn correct_sheet(
        &self,
        caller: Caller,
        sheet: SheetId,
        request: CorrectSheet,
    ) -> impl Future<Output = Answer<Done>> + Send;

    /// `POST /v1/sheets/{id}/lot`
    fn name_lot(&self, caller: Caller, sheet: SheetId, request: NameLot) -> impl Future<Output = Answer<Done>> + Send;

    /// `GET /v1/stock/left`
    fn left(&self, caller: Caller) -> impl Future<Output = Answer<LeftList>> + Send;

    /// `POST /v1/stock/left/{id}/gone`
    fn left_gone(&self, caller: Caller, sheet: SheetId, request: LeftGone)
    -> impl Future<Output = Answer<Done>> + Send;

    /// `GET /v1/upkeep`
    fn upkeep(&self, caller: Caller) -> impl Future<Output = Answer<UpkeepList>> + Send;

    /// `POST /v1/upkeep/{name}/done`
    fn upkeep_done(
        &self,
        caller: Caller,
        name: String,
        request: UpkeepDone,
    ) -> impl Future<Output = Answer<Done>> + Send;

    /// `POST /v1/history/brought`
    fn bring_in(&self, caller: Caller, request: BringIn) -> impl Future<Output = Answer<BroughtIn>> + Send;

    /// `GET /v1/bits`
    fn numbered_bits(&self, caller: Caller) -> impl Future<Output = Answer<BitList>> + Send;

    /// `POST /v1/bits`
    fn begin_bit(&self, caller: Caller, request: BeginBit) -> impl Future<Output = Answer<Done>> + Send;

    /// `POST /v1/bits/{number}/measures`
    fn measure_bit(
        &self,
        caller: Caller,
        number: BitNumber,
        request: MeasureBit,
    ) -> impl Future<Output = Answer<Done>> + Send;

    /// `POST /v1/bits/{number}/scrap`
    fn scrap_bit(
        &self,
        caller: Caller,
        number: BitNumber,
        request: ScrapBit,
    ) -> impl Future<Output = Answer<Done>> + Send;
}

/// The table.
pub(super) fn table<D: Desk>() -> Router<Arc<Shared<D>>> {
    Router::new()
        .route("/v1/sheets/{id}/corrections", post(correct_sheet::<D>))
        .route("/v1/sheets/{id}/lot", post(name_lot::<D>))
        .route("/v1/stock/left", get(left::<D>))
        .route("/v1/stock/left/{id}/gone", post(left_gone::<D>))
        .route("/v1/upkeep", get(upkeep::<D>))
        .route("/v1/upkeep/{name}/done", post(upkeep_done::<D>))
        .route("/v1/history/brought", post(bring_in::<D>))
        .route("/v1/bits", get(numbered_bits::<D>).post(begin_bit::<D>))
        .route("/v1/bits/{number}/measures", post(measure_bit::<D>))
        .route("/v1/bits/{number}/scrap", post(scrap_bit::<D>))
}

async fn correct_sheet<D: Desk>(asked: Asked<D>, id: Named, body: Body) -> Told {
    let id = ask::name(id)?;
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.correct_sheet(caller, id, request).await }).await
}

async fn name_lot<D: Desk>(asked: Asked<D>, id: Named, body: Body) -> Told {
    let id = ask::name(id)?;
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.name_lot(caller, id, request).await }).await
}

async fn left<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.left(caller).await }).await
}

async fn left_gone<D: Desk>(asked: Asked<D>, id: Named, body: Body) -> Told {
    let id = ask::name(id)?;
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.left_gone(caller, id, request).await }).await
}

async fn upkeep<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.upkeep(caller).await }).await
}

async fn upkeep_done<D: Desk>(asked: Asked<D>, name: Named, body: Body) -> Told {
    let name: String = ask::name(name)?;
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.upkeep_done(caller, name, request).await }).await
}

async fn bring_in<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = asked.long(body, CARD_BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.bring_in(caller, request).await }).await
}

async fn numbered_bits<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.numbered_bits(caller).await }).await
}

async fn begin_bit<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.begin_bit(caller, request).await }).await
}

async fn measure_bit<D: Desk>(asked: Asked<D>, named: Named, body: Body) -> Told {
    let number = number(named)?;
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(move |desk, caller| async move { desk.measure_bit(caller, number, request).await }).await
}

async fn scrap_bit<D: Desk>(asked: Asked<D>, named: Named, body: Body) -> Told {
    let number = number(named)?;
    let request = ask::json(body, BODY_MOST).await?;
    asked.of(move |desk, caller| async move { desk.scrap_bit(caller, number, request).await }).await
}

/// A bit's number out of a path.
fn number(named: Named) -> Result<BitNumber, Problem> {
    let text: String = ask::name(named)?;
    let number = text.parse().map(BitNumber);
    number.map_err(|_| Problem::new(ProblemKind::NotFound, format!("`{}` is no bit's number.", text.escape_debug())))
}
