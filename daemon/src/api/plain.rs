//! Routes for other programs than ours: the job card for a phone's browser, metrics, the calendar of when somebody is
//! needed, and the description of the API. All of them only read, but for the hold at the next lift.
//!
//! May live here: the handlers. May not: what a page, a metric or the description says.

use super::card_page;
use super::desk::Desk;
use super::metrics;
use super::openapi;
use super::reply::{Http, http, with_status};
use super::routes::{Asked, Shared, Told};
use axum::Router;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::routing::{get, post};
use chargehand_types::act::{Act, ActRequest};
use chargehand_types::calendar::calendar;
use chargehand_types::id::{CommandId, TerminalId};
use chargehand_types::problem::{Problem, ProblemKind};
use std::sync::Arc;
use std::time::Duration;
use tokio::time::timeout;

/// A page does without the plan when that takes longer.
const PLAN_WITHIN: Duration = Duration::from_secs(2);
/// Only our own script, our own style and our own address; nobody may frame the page.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The table.
pub(super) fn table<D: Desk>() -> Router<Arc<Shared<D>>> {
    Router::new()
        .route("/", get(page::<D>))
        .route("/job-card.css", get(style))
        .route("/job-card.js", get(script))
        .route("/hold", post(hold::<D>))
        .route("/metrics", get(metrics::<D>))
        .route("/calendar.ics", get(needed::<D>))
        .route("/openapi.json", get(description))
        .route("/v1/notices", get(notices::<D>))
        .route("/v1/notices/test", post(try_notices::<D>))
}

async fn page<D: Desk>(asked: Asked<D>) -> Told {
    let text = asked.done(|desk, caller| async move {
        let sheet = desk.now(caller.clone()).await?.sheet.map(|s| s.id);
        let plan = timeout(PLAN_WITHIN, desk.plan(caller.clone(), None, None)).await.ok().and_then(Result::ok);
        let drawing = match &sheet {
            Some(sheet) => desk.sheet_drawing(caller.clone(), sheet.clone()).await.ok(),
            None => None,
        };
        // plan and drawing may have taken seconds: the page tells how things stand as it leaves
        let now = desk.now(caller).await?;
        let drawing = drawing.filter(|_| now.sheet.as_ref().map(|s| &s.id) == sheet.as_ref());
        Ok(card_page::page(&now, plan.as_ref(), drawing.as_ref()))
    });
    let text = text.await?;
    let mut answer = http(StatusCode::OK, "text/html; charset=utf-8", text.into_bytes());
    let headers = answer.headers_mut();
    headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY));
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("same-origin"));
    Ok(answer)
}

async fn style() -> Http {
    http(StatusCode::OK, "text/css; charset=utf-8", card_page::STYLE.into())
}

async fn script() -> Http {
    http(StatusCode::OK, "text/javascript; charset=utf-8", card_page::SCRIPT.into())
}

/// Holds at the next lift, and shows the page again. Another site's page may not press the button.
async fn hold<D: Desk>(mut asked: Asked<D>, headers: HeaderMap) -> Told {
    let from = headers.get("sec-fetch-site").and_then(|v| v.to_str().ok());
    if from.is_some_and(|site| site != "same-origin" && site != "none") {
        let told = "A hold is only taken from this daemon's own page.";
        return Err(with_status(StatusCode::FORBIDDEN, ProblemKind::NotPermitted, told.to_owned()).into());
    }
    let mut bytes = [0_u8; 12];
    #[allow(clippy::disallowed_methods, reason = "a command's id")]
    getrandom::fill(&mut bytes)
        .map_err(|e| Problem::new(ProblemKind::OurFault, format!("The system gives no chance: {e}.")))?;
    let id: String = bytes.iter().map(|b| format!("{b:02x}")).collect();
    let request = ActRequest {
        command_id: CommandId(format!("page-{id}")),
        terminal: TerminalId("page".to_owned()),
        seen: None,
        act: Act::HoldAtLift,
    };
    // whoever reads a page is never at the machine, whatever else the request carried
    asked.caller.token_ok = false;
    asked.acted(request).await?;
    let mut answer = http(StatusCode::SEE_OTHER, "text/plain; charset=utf-8", b"Holding at the next lift.\n".to_vec());
    answer.headers_mut().insert(header::LOCATION, HeaderValue::from_static("/"));
    Ok(answer)
}

async fn metrics<D: Desk>(asked: Asked<D>) -> Told {
    let text = asked.done(|desk, caller| async move {
        let now = desk.now(caller.clone()).await?;
        let sums = desk.sums(caller).await.ok();
        Ok(metrics::text(&now, sums.as_ref(), env!("CARGO_PKG_VERSION")))
    });
    let text = text.await?;
    Ok(http(StatusCode::OK, "text/plain; version=0.0.4; charset=utf-8", text.into_bytes()))
}

async fn needed<D: Desk>(asked: Asked<D>) -> Told {
    let text = asked.done(|desk, caller| async move { Ok(calendar(&desk.plan(caller, None, None).await?)) }).await?;
    Ok(http(StatusCode::OK, "text/calendar; charset=utf-8", text.into_bytes()))
}

async fn notices<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.notices(caller).await }).await
}

async fn try_notices<D: Desk>(asked: Asked<D>) -> Told {
    asked.of(|desk, caller| async move { desk.try_notices(caller).await }).await
}

async fn description() -> Http {
    http(StatusCode::OK, "application/json", openapi::text().into_bytes())
}
