//! The routes for other programs, on a real socket.

use super::desk::{now, served};
use crate::api::{card_page, metrics, openapi};
use serde_json::Value;
use std::collections::BTreeSet;

/// What the sources of the routes say is served.
fn routes() -> BTreeSet<(String, String)> {
    let mut found = BTreeSet::new();
    for text in [include_str!("../routes.rs"), include_str!("../plain.rs")] {
        for row in text.lines().map(str::trim).filter_map(|l| l.strip_prefix(".route(\"")) {
            let (path, rest) = row.split_once('"').unwrap();
            for method in ["get", "post"] {
                if rest.contains(&format!("{method}(")) {
                    found.insert((method.to_owned(), path.to_owned()));
                }
            }
        }
    }
    found
}

#[tokio::test]
async fn the_description_has_every_route_and_no_other() {
    let described: BTreeSet<(String, String)> =
        openapi::described().into_iter().map(|(m, p)| (m.to_owned(), p.to_owned())).collect();
    assert!(described.len() > 30);
    assert_eq!(described, routes());
    let served = served();
    let told = served.client().await.ask("GET /openapi.json", &[], "").await;
    let document = told.json();
    // OpenAPI 3.1.0, 4.8: openapi, info with title and version, paths; every operation has responses
    assert_eq!(document["openapi"], "3.1.0");
    assert!(document["info"]["title"].is_string() && document["info"]["version"].is_string());
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            assert!(operation["responses"]["default"].is_object(), "{method} {path}");
            let named = path.matches('{').count();
            assert_eq!(operation["parameters"].as_array().map_or(0, Vec::len), named, "{method} {path}");
        }
    }
    // each is really there: whatever it answers, it is not that there is no such route or method
    for (method, path) in
        described.iter().filter(|(_, p)| !p.contains("events") && !p.contains("doctor") && p != "/v1/cards")
    {
        let path = path.replace(['{', '}'], "x");
        let told = served.client().await.ask(&format!("{} {path}", method.to_uppercase()), &[], "").await;
        assert!(told.status != 405 && !told.body.contains("There is no route"), "{method} {path}: {told:?}");
    }
}

/// A line of the text format 0.0.4: `name{label="value",…} number`.
fn sample(line: &str) -> (String, f64) {
    let (name, rest) = match line.split_once('{') {
        Some((name, rest)) => {
            let (labels, rest) = rest.split_once("} ").unwrap();
            for label in labels.split(',') {
                let (key, value) = label.split_once('=').unwrap();
                assert!(key.chars().all(|c| c.is_ascii_lowercase() || c == '_'), "{line}");
                assert!(value.len() >= 2 && value.starts_with('"') && value.ends_with('"'), "{line}");
            }
            (name, rest)
        }
        None => line.split_once(' ').unwrap(),
    };
    (name.to_owned(), rest.parse().unwrap_or_else(|_| panic!("{line}")))
}

#[test]
fn metrics_keep_the_text_format() {
    let history = chargehand_types::history::SheetHistory { schema: 1, sheets: vec![] };
    let text = metrics::text(&now(), Some(&history), "0.1\"0");
    assert!(text.ends_with('\n') && text.contains("version=\"0.1\\\"0\""));
    let (mut family, mut kind, mut seen) = (String::new(), String::new(), BTreeSet::new());
    for line in text.lines() {
        if let Some(rest) = line.strip_prefix("# TYPE ") {
            let (name, k) = rest.split_once(' ').unwrap();
            assert_eq!(name, family, "HELP comes before TYPE");
            assert!(["gauge", "counter"].contains(&k), "{line}");
            k.clone_into(&mut kind);
        } else if let Some(rest) = line.strip_prefix("# HELP ") {
            rest.split_once(' ').unwrap().0.clone_into(&mut family);
            assert!(seen.insert(family.clone()), "{family} stands together, once");
        } else {
            let (name, value) = sample(line);
            assert_eq!(name, family, "{line}");
            assert_eq!(kind == "counter", name.ends_with("_total"), "{line}");
            assert!(name.starts_with("chargehand_") && value.is_finite());
        }
    }
    assert!(seen.len() > 10);
}

#[test]
fn text_of_the_shop_cannot_become_markup() {
    let mut now = now();
    now.machine.name = "<script>alert(1)</script>".to_owned();
    now.headline = "a & b \"c\" 'd'".to_owned();
    let page = card_page::page(&now, None, None);
    assert!(!page.contains("<script>alert") && page.contains("&lt;script&gt;alert"));
    assert!(page.contains("a &amp; b &quot;c&quot; &#39;d&#39;"));
    assert!(!page.contains('%'), "times are clock times, never a share");
}

#[tokio::test]
async fn the_page_loads_nothing_from_elsewhere_and_holds_without_a_token() {
    let served = served();
    let page = served.client().await.ask("GET /", &[], "").await;
    assert_eq!((page.status, page.headers["content-type"].as_str()), (200, "text/html; charset=utf-8"));
    assert!(page.headers["content-security-policy"].starts_with("default-src 'none'"));
    assert!(!page.body.contains("://"), "{}", page.body);
    let token = [("chargehand-token", super::desk::TOKEN)];
    let held = served.client().await.ask("POST /hold", &token, "").await;
    assert_eq!((held.status, held.headers["location"].as_str()), (303, "/"));
    // the token makes no difference: a page is never at the machine
    let callers = served.desk.callers.lock().unwrap().clone();
    assert_eq!(callers.iter().map(|c| c.token_ok).collect::<Vec<_>>(), [false]);
    let told = served.client().await.ask("POST /hold", &[("sec-fetch-site", "cross-site")], "").await;
    assert_eq!(told.status, 403);
    assert_eq!(served.desk.callers.lock().unwrap().len(), 1, "another site's page holds nothing");
    let answers: Value = told.json();
    assert_eq!(answers["type"], "/problems/not-permitted");
}
