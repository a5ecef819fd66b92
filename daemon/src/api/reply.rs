//! Answers as HTTP: JSON for what was asked, `application/problem+json` (RFC 9457) for what went wrong.
//!
//! May live here: the form of answers. May not: what is in them.

use axum::body::Body;
use axum::http::{HeaderValue, Response, StatusCode, header};
use axum::response::IntoResponse;
use chargehand_types::problem::{Problem, ProblemKind};
use serde::Serialize;

/// An HTTP answer.
pub(super) type Http = Response<Body>;

/// The answer to a request, whichever way it went.
pub(super) fn answer<T: Serialize>(result: Result<T, Problem>) -> Http {
    match result.and_then(|value| body_of(&value)) {
        Ok(body) => http(StatusCode::OK, "application/json", body),
        Err(problem) => trouble(&problem),
    }
}

/// A problem as an answer.
#[derive(Debug)]
pub(super) struct Trouble(pub Problem);

impl From<Problem> for Trouble {
    fn from(problem: Problem) -> Self {
        Self(problem)
    }
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Http {
        trouble(&self.0)
    }
}

fn trouble(problem: &Problem) -> Http {
    let status = StatusCode::from_u16(problem.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    // A problem is five texts and a number; should it still not serialise, the status alone says enough.
    let body = serde_json::to_vec(problem).unwrap_or_default();
    http(status, "application/problem+json", body)
}

fn body_of<T: Serialize>(value: &T) -> Result<Vec<u8>, Problem> {
    serde_json::to_vec(value)
        .map_err(|e| Problem::new(ProblemKind::OurFault, format!("The answer cannot be written: {e}.")))
}

/// An answer of a given kind.
pub(super) fn http(status: StatusCode, kind: &'static str, body: Vec<u8>) -> Http {
    let mut response = Response::new(Body::from(body));
    *response.status_mut() = status;
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}

/// A problem whose status says more than its kind does.
pub(super) fn with_status(status: StatusCode, kind: ProblemKind, detail: String) -> Problem {
    Problem { status: status.as_u16(), ..Problem::new(kind, detail) }
}
