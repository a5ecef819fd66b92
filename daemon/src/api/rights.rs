//! The routes of people, tokens and refusals.
//!
//! May live here: the handlers. May not: who may; the gate says so.

use super::ask::{self, BODY_MOST};
use super::desk::Desk;
use super::routes::{Asked, Named, Shared, Told};
use axum::Router;
use axum::body::Body;
use axum::routing::{get, post};
use std::sync::Arc;

/// The table.
pub(super) fn table<D: Desk>() -> Router<Arc<Shared<D>>> {
    Router::new()
        .route("/v1/people", get(people::<D>).post(change_people::<D>))
        .route("/v1/people/refusals", get(refusals::<D>))
        .route("/v1/tokens", get(tokens::<D>).post(make_token::<D>))
        .route("/v1/tokens/{name}/revoke", post(revoke_token::<D>))
}

async fn people<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.people(caller).await }).await
}

async fn change_people<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = ask::json_unseen(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.change_people(caller, request).await }).await
}

async fn refusals<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.refusals(caller).await }).await
}

async fn tokens<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.tokens(caller).await }).await
}

async fn make_token<D: Desk>(asked: Asked<D>, body: Body) -> Told {
    let request = ask::json_unseen(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.make_token(caller, request).await }).await
}

async fn revoke_token<D: Desk>(asked: Asked<D>, name: Named, body: Body) -> Told {
    let name = ask::name(name)?;
    let request = ask::json_unseen(body, BODY_MOST).await?;
    asked.of(|desk, caller| async move { desk.revoke_token(caller, name, request).await }).await
}
