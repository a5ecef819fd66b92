//! Answers as HTTP: JSON for what was asked, `application/problem+json` (RFC 9457) for what went wrong.
//!
//! May live here: the form of answers. May not: what is in them.

use axum::body::Body;
use axum::http::{HeaderValue, Response, StatusCode, header};
use axum::response::IntoResponse;
use chargehand_types::problem::{Problem, ProblemKind};
use futures_util::stream::{self, StreamExt as _};
use serde::Serialize;
use std::io;
use tokio::sync::mpsc;

/// Bytes of one piece of a long answer.
const PIECE: usize = 64 * 1024;

/// An HTTP answer.
pub(super) type Http = Response<Body>;

/// The answer to a request, whichever way it went.
pub(super) fn answer<T: Serialize>(result: Result<T, Problem>) -> Http {
    match result.and_then(|value| body_of(&value)) {
        Ok(body) => http(StatusCode::OK, "application/json", body),
        Err(problem) => trouble(&problem),
    }
}

/// The answer to a request that may be long: years of history. A thread beside those that answer writes it piece by
/// piece, and its first pieces are on their way while the rest is written. What fits into one piece is an answer like
/// any other. The pieces do not wait for whoever reads them: a slow reader costs what the whole answer costs.
pub(super) async fn in_pieces<T: Serialize + Send + 'static>(result: Result<T, Problem>) -> Http {
    let value = match result {
        Ok(value) => value,
        Err(problem) => return trouble(&problem),
    };
    let (sender, mut pieces) = mpsc::unbounded_channel();
    tokio::task::spawn_blocking(move || {
        let mut paper = Paper { sender, piece: Vec::with_capacity(PIECE) };
        let end = match serde_json::to_writer(&mut paper, &value) {
            Ok(()) => Ok(std::mem::take(&mut paper.piece)),
            Err(e) => Err(io::Error::from(e)),
        };
        // whoever asked may be gone
        let _ = paper.sender.send(end);
    });
    let (first, second) = match pieces.recv().await {
        Some(Ok(first)) => (first, pieces.recv().await),
        Some(Err(e)) => return trouble(&unwritten(&e)),
        None => return trouble(&unwritten(&"its thread ended")),
    };
    let Some(second) = second else { return http(StatusCode::OK, "application/json", first) };
    let rest = stream::unfold(pieces, |mut pieces| async move { Some((pieces.recv().await?, pieces)) });
    let whole = stream::iter([Ok(first), second]).chain(rest);
    headed(StatusCode::OK, "application/json", Body::from_stream(whole))
}

/// What a long answer is written on: full pieces go off.
struct Paper {
    sender: mpsc::UnboundedSender<io::Result<Vec<u8>>>,
    piece: Vec<u8>,
}

impl io::Write for Paper {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.write_all(bytes)?;
        Ok(bytes.len())
    }

    fn write_all(&mut self, bytes: &[u8]) -> io::Result<()> {
        if self.piece.len() + bytes.len() > PIECE {
            let full = std::mem::replace(&mut self.piece, Vec::with_capacity(PIECE));
            self.sender.send(Ok(full)).map_err(|_| io::ErrorKind::BrokenPipe)?;
        }
        self.piece.extend_from_slice(bytes);
        Ok(())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
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
    serde_json::to_vec(value).map_err(|e| unwritten(&e))
}

fn unwritten(why: &dyn std::fmt::Display) -> Problem {
    Problem::new(ProblemKind::OurFault, format!("The answer cannot be written: {why}."))
}

/// An answer of a given kind.
pub(super) fn http(status: StatusCode, kind: &'static str, body: Vec<u8>) -> Http {
    headed(status, kind, Body::from(body))
}

fn headed(status: StatusCode, kind: &'static str, body: Body) -> Http {
    let mut response = Response::new(body);
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

#[cfg(test)]
mod tests {
    use super::*;
    use axum::body::{HttpBody, to_bytes};

    async fn told(answer: Http) -> (Option<u64>, Vec<u8>) {
        let known = answer.body().size_hint().exact();
        (known, to_bytes(answer.into_body(), usize::MAX).await.unwrap().to_vec())
    }

    /// Byte for byte what it is in one piece, from nothing to many pieces, and where a text is longer than a piece.
    #[tokio::test]
    async fn an_answer_in_pieces_is_the_same_answer() {
        let long = "x".repeat(3 * PIECE);
        for rows in [0, 1, 100, 3_000, 30_000] {
            let value: Vec<(u32, f64, String)> =
                (0..rows).map(|n| (n, f64::from(n) / 3.0, format!("row {n} \"quoted\""))).collect();
            let (value, whole) = (value.clone(), serde_json::to_vec(&value).unwrap());
            let (known, body) = told(in_pieces(Ok(value)).await).await;
            assert!(body == whole, "{rows} rows");
            assert_eq!(known.is_some(), whole.len() <= PIECE, "a short answer says how long it is");
        }
        let (_, body) = told(in_pieces(Ok(vec![long.clone(), long.clone()])).await).await;
        assert!(body == serde_json::to_vec(&[&long, &long]).unwrap());
    }

    #[tokio::test]
    async fn a_problem_stays_one() {
        let answer = in_pieces::<u32>(Err(Problem::new(ProblemKind::NotFound, "There is none."))).await;
        assert_eq!(answer.status(), StatusCode::NOT_FOUND);
        let unheard: std::collections::HashMap<Vec<u8>, u8> = [(vec![1], 1)].into();
        let answer = in_pieces(Ok(unheard)).await;
        assert_eq!(answer.status(), StatusCode::INTERNAL_SERVER_ERROR, "JSON has no such keys");
    }

    #[tokio::test]
    async fn a_reader_that_goes_away_ends_the_writing() {
        let answer = in_pieces(Ok(vec![7_u64; 1_000_000])).await;
        assert_eq!(answer.status(), StatusCode::OK);
        drop(answer);
    }
}
