//! The routes for other programs, on a real socket.

use super::desk::{now, served};
use crate::api::{card_page, metrics, openapi};
use serde_json::Value;
use std::collections::BTreeSet;

/// What the sources of the routes say is served.
fn routes() -> BTreeSet<(String, String)> {
    let mut found = BTreeSet::new();
    for text in [
        include_str!("../routes.rs"),
        include_str!("../plain.rs"),
        include_str!("../rights.rs"),
        include_str!("../books.rs"),
    ] {
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

/// A general-purpose reader of OpenAPI 3.1 (the crate `oas3`) understands the description as we mean it, in every operation.
#[test]
fn a_reader_of_openapi_understands_the_description() {
    let spec = oas3::from_json(openapi::text()).expect("the description is OpenAPI");
    spec.validate_version().unwrap();
    let mut ids = BTreeSet::new();
    let mut read = BTreeSet::new();
    for (path, method, operation) in spec.operations() {
        read.insert((method.as_str().to_lowercase(), path.clone()));
        // OpenAPI 3.1.0, 4.8.10.1: an operation's id is unique among all
        assert!(ids.insert(operation.operation_id.clone().unwrap()), "{path}");
        assert!(operation.summary.as_deref().is_some_and(|s| s.ends_with('.')), "{path}");
        let parameters: BTreeSet<String> = operation.parameters(&spec).unwrap().into_iter().map(|p| p.name).collect();
        let named: BTreeSet<String> =
            path.split('/').filter_map(|p| p.strip_prefix('{')?.strip_suffix('}')).map(str::to_owned).collect();
        assert_eq!(parameters, named, "{path}");
        // every reference leads somewhere
        for (status, answer) in operation.responses(&spec) {
            for kind in answer.content.values() {
                assert!(kind.schema(&spec).unwrap().is_some(), "{path} {status}");
            }
        }
        if let Some(body) = operation.request_body(&spec).unwrap() {
            assert!(body.content.contains_key("application/json"), "{path}");
        }
    }
    let described: BTreeSet<(String, String)> =
        openapi::described().into_iter().map(|(m, p)| (m.to_owned(), p.to_owned())).collect();
    assert_eq!(read, described);
}

/// A general-purpose reader of the Prometheus text format (the crate `prometheus-parse`) finds every sample and its kind.
#[test]
fn a_reader_of_metrics_finds_every_sample() {
    let sums = metrics::Sums { parts: [3, 1, 0], ..metrics::Sums::default() };
    let text = metrics::text(&now(), Some(&sums), "0.1\"0");
    let read = prometheus_parse::Scrape::parse(text.lines().map(|l| Ok(l.to_owned()))).unwrap();
    let samples = text.lines().filter(|l| !l.starts_with('#')).count();
    assert_eq!((read.samples.len(), read.samples.len() > 15), (samples, true));
    for sample in &read.samples {
        assert!(read.docs.contains_key(&sample.metric), "{sample:?}");
        match sample.value {
            prometheus_parse::Value::Counter(value) => assert!(sample.metric.ends_with("_total") && value >= 0.0),
            prometheus_parse::Value::Gauge(_) => assert!(!sample.metric.ends_with("_total"), "{sample:?}"),
            ref other => panic!("{}: {other:?}", sample.metric),
        }
    }
    let version = read.samples.iter().find(|s| s.metric == "chargehand_build_info").unwrap();
    assert!(version.labels.get("version").is_some(), "{version:?}");
}

/// The project's own checker of metrics, where it is installed.
#[test]
fn the_checker_of_metrics_has_nothing_to_say() {
    use std::io::Write;
    use std::process::{Command, Stdio};
    let mut checker = Command::new("promtool");
    checker.args(["check", "metrics"]).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let Ok(mut child) = checker.spawn() else {
        eprintln!("skipped: promtool is not installed (Debian: prometheus)");
        return;
    };
    let sums = metrics::Sums { parts: [3, 1, 0], ..metrics::Sums::default() };
    child.stdin.take().unwrap().write_all(metrics::text(&now(), Some(&sums), "0.1.0").as_bytes()).unwrap();
    let said = child.wait_with_output().unwrap();
    let text = String::from_utf8_lossy(&said.stdout).into_owned() + &String::from_utf8_lossy(&said.stderr);
    assert!(said.status.success() && text.trim().is_empty(), "{text}");
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
    let sums = metrics::Sums { parts: [3, 1, 0], ..metrics::Sums::default() };
    let text = metrics::text(&now(), Some(&sums), "0.1\"0");
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

/// Where the style does not come through, the drawing is still lines: an SVG's shapes are filled black unless told otherwise
/// (SVG 2, 13.3).
#[test]
fn the_drawing_needs_no_style() {
    let mm = |value| chargehand_types::quantity::Length::from_mm(value).unwrap();
    let drawing = chargehand_types::check::Drawing {
        size: [mm(600.0), mm(1200.0)],
        corner: chargehand_types::quantity::Spot { x: mm(0.0), y: mm(0.0) },
        paths: Vec::new(),
        fasteners: Vec::new(),
    };
    let page = card_page::page(&now(), None, Some(&drawing));
    assert!(page.contains("fill=\"none\" stroke=\"currentColor\""), "{page}");
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
