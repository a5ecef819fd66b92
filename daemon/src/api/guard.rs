//! Who is let in at all: over the network whoever shows a token that counts, and for what it counts; over the socket
//! whose user or group may use it. Before any route is looked at, so that nothing is told of what is there.
//!
//! May live here: the rules of what a token may do, HTTP's words for a refusal. May not: comparing tokens.

use super::ask;
use super::desk::Desk;
use super::door::Peer;
use super::gate::{Guest, Turned};
use super::reply::{Http, Trouble, with_status};
use super::routes::Shared;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::IntoResponse;
use chargehand_types::people::RefusalKind;
use chargehand_types::problem::ProblemKind;
use chargehand_types::stage::Role;
use std::sync::Arc;

/// Characters of a path that a refusal shows.
const PATH_SHOWN: usize = 80;

/// Lets a request on to its route, or not.
pub(super) async fn let_in<D: Desk>(State(shared): State<Arc<Shared<D>>>, mut request: Request, next: Next) -> Http {
    let peer = request.extensions().get::<Peer>().cloned().unwrap_or_default();
    let (method, path) = (request.method().clone(), request.uri().path().to_owned());
    let asked = format!("{method} {}", path.chars().take(PATH_SHOWN).collect::<String>());
    let Some(address) = peer.address else {
        if peer.turned {
            let caller = ask::caller(&peer, None, request.headers(), &shared.token);
            shared.desk.refused(&caller, RefusalKind::Socket, &asked);
            return refuse(StatusCode::FORBIDDEN, "This socket is for the daemon's user and group.");
        }
        return next.run(request).await;
    };
    let guest = match shared.desk.guest(bearer(request.headers()), address, &asked, !is_hold(&path)) {
        Ok(guest) => guest,
        Err(Turned::BadToken) => {
            let text = "Every request over the network shows a token that counts: Authorization: Bearer TOKEN. An owner makes one: chargehand token add.";
            let mut answer = refuse(StatusCode::UNAUTHORIZED, text);
            // RFC 6750, section 3
            answer.headers_mut().insert(header::WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
            return answer;
        }
        Err(Turned::TooMany(seconds)) => {
            let mut answer = refuse(StatusCode::TOO_MANY_REQUESTS, "Too much is asked from there; wait a little.");
            if let Ok(value) = HeaderValue::from_str(&seconds.to_string()) {
                answer.headers_mut().insert(header::RETRY_AFTER, value);
            }
            return answer;
        }
    };
    if let Some((kind, text)) = not_for(&guest, &method, &path) {
        let caller = ask::caller(&peer, Some(guest), request.headers(), &shared.token);
        shared.desk.refused(&caller, kind, &asked);
        return refuse(StatusCode::FORBIDDEN, text);
    }
    request.extensions_mut().insert(guest);
    next.run(request).await
}

fn refuse(status: StatusCode, text: &str) -> Http {
    Trouble(with_status(status, ProblemKind::NotPermitted, text.to_owned())).into_response()
}

/// The token of a request (RFC 6750, section 2.1); the scheme's name in letters of either size.
fn bearer(headers: &HeaderMap) -> Option<&[u8]> {
    let value = headers.get(header::AUTHORIZATION)?.as_bytes();
    let (scheme, token) = value.split_at_checked(7)?;
    scheme.eq_ignore_ascii_case(b"bearer ").then(|| token.trim_ascii())
}

/// Acts are never counted against how much a token may ask: a hold must not wait.
fn is_hold(path: &str) -> bool {
    matches!(path, "/v1/acts" | "/hold")
}

/// Why a token does not reach so far; none where it does. Acts are judged where they are read: over a network only
/// those that hold.
fn not_for(guest: &Guest, method: &Method, path: &str) -> Option<(RefusalKind, &'static str)> {
    let looks = matches!(*method, Method::GET | Method::HEAD);
    let of_people = ["/v1/people", "/v1/tokens"].iter().any(|p| path.starts_with(p));
    if of_people && !looks {
        return Some((RefusalKind::FromAfar, "People and tokens are only changed at the machine's own computer."));
    }
    let judges = matches!(path, "/v1/check" | "/v1/drafts" | "/v1/holddown") || path.ends_with("/air");
    let open = (looks && !of_people) || judges || is_hold(path);
    if open || guest.role == Role::Owner {
        return None;
    }
    Some((RefusalKind::Role, "A helper's token looks and holds; this needs an owner's."))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kind(role: Role, method: Method, path: &str) -> Option<RefusalKind> {
        let guest = Guest { name: "phone".into(), role, address: [192, 0, 2, 7].into() };
        not_for(&guest, &method, path).map(|(kind, _)| kind)
    }

    #[test]
    fn a_token_reaches_as_far_as_its_role() {
        use RefusalKind::{FromAfar, Role as NotRole};
        use Role::{Helper, Owner};
        for (method, path, helper, owner) in [
            (Method::GET, "/v1/now", None, None),
            (Method::GET, "/v1/events", None, None),
            (Method::POST, "/v1/acts", None, None),
            (Method::POST, "/hold", None, None),
            (Method::POST, "/v1/check", None, None),
            (Method::POST, "/v1/cards", Some(NotRole), None),
            (Method::POST, "/v1/batches/B1/cancel", Some(NotRole), None),
            (Method::POST, "/v1/what-comes-later", Some(NotRole), None),
            (Method::GET, "/v1/people/refusals", Some(NotRole), None),
            (Method::POST, "/v1/people", Some(FromAfar), Some(FromAfar)),
            (Method::POST, "/v1/tokens", Some(FromAfar), Some(FromAfar)),
            (Method::DELETE, "/v1/tokens/x", Some(FromAfar), Some(FromAfar)),
        ] {
            assert_eq!(kind(Helper, method.clone(), path), helper, "{method} {path}");
            assert_eq!(kind(Owner, method.clone(), path), owner, "{method} {path}");
        }
    }

    #[test]
    fn the_scheme_is_bearer() {
        let of = |text: &'static str| {
            let mut headers = HeaderMap::new();
            headers.insert(header::AUTHORIZATION, HeaderValue::from_static(text));
            bearer(&headers).map(|t| String::from_utf8_lossy(t).into_owned())
        };
        assert_eq!(of("Bearer abc"), Some("abc".into()));
        assert_eq!(of("bEARER  abc"), Some("abc".into()));
        for other in ["Basic abc", "abc", "Bearer", "Bearerabc"] {
            assert_eq!(of(other), None, "{other}");
        }
        assert_eq!(bearer(&HeaderMap::new()), None);
    }
}
