//! The description of the API (OpenAPI 3.1): every route, what it is for, what it answers with. A test holds it against
//! the routes that are served.
//!
//! May live here: the description. May not: routes. Bodies are described by the sentence that names their type in
//! `chargehand-types`; their members are not listed one by one.

use serde_json::{Map, Value, json};

/// What a route answers with.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Gives {
    Json,
    Text(&'static str),
    Back,
}

/// Method, path, what it is for, what it takes (a type of `chargehand-types`), what it gives.
type Row = (&'static str, &'static str, &'static str, Option<&'static str>, Gives);

const ROWS: &[Row] = &[
    ("get", "/v1/now", "How things stand.", None, Gives::Json),
    (
        "post",
        "/v1/acts",
        "One act of a person. Hold, hold at the next lift, stop and trouble need no token.",
        Some("ActRequest"),
        Gives::Json,
    ),
    ("post", "/v1/check", "Judge a card and its programs.", Some("CheckRequest"), Gives::Json),
    ("post", "/v1/drafts", "Draft a card from programs.", Some("DraftRequest"), Gives::Json),
    ("post", "/v1/holddown", "Where a card's fasteners go.", Some("HoldDownRequest"), Gives::Json),
    ("get", "/v1/cards", "The cards of the shop.", None, Gives::Json),
    ("post", "/v1/cards", "Take a card, or a new revision of one, into the shop.", Some("AddCard"), Gives::Json),
    ("get", "/v1/cards/{name}", "One card.", None, Gives::Json),
    ("get", "/v1/cards/{name}/changes", "What a revision changed.", None, Gives::Json),
    ("get", "/v1/cards/{name}/drawing", "The cuts of a card, seen from above.", None, Gives::Json),
    ("get", "/v1/batches", "The batches.", None, Gives::Json),
    ("post", "/v1/batches", "Ask for sheets of a card.", Some("AddBatch"), Gives::Json),
    ("post", "/v1/sets", "Ask for sets of a product.", Some("AddSets"), Gives::Json),
    ("post", "/v1/stock", "Say how many sheets of a kind are there.", Some("CountStock"), Gives::Json),
    ("get", "/v1/batches/{id}", "One batch.", None, Gives::Json),
    ("get", "/v1/batches/{id}/report", "Everything that a page about a batch shows.", None, Gives::Json),
    ("post", "/v1/batches/{id}/cancel", "Give up what a batch has not begun.", Some("CancelBatch"), Gives::Json),
    ("get", "/v1/sheets", "Every sheet, in the order they would be cut.", None, Gives::Json),
    ("get", "/v1/sheets/{id}", "Everything known of one sheet.", None, Gives::Json),
    ("get", "/v1/sheets/{id}/drawing", "The cuts of a sheet, seen from above.", None, Gives::Json),
    ("post", "/v1/sheets/{id}/fits", "Hold a measured joint against the card.", Some("MeasureFit"), Gives::Json),
    ("post", "/v1/sheets/{id}/corrections", "Say how a record should have read.", Some("CorrectSheet"), Gives::Json),
    ("post", "/v1/sheets/{id}/lot", "From which lot a sheet's material is.", Some("NameLot"), Gives::Json),
    ("get", "/v1/stock/left", "Rests of sheets that are there.", None, Gives::Json),
    ("post", "/v1/stock/left/{id}/gone", "A rest is there no more.", Some("LeftGone"), Gives::Json),
    ("get", "/v1/upkeep", "What is to be kept up, and what of it is due.", None, Gives::Json),
    ("post", "/v1/upkeep/{name}/done", "Something of the upkeep was done.", Some("UpkeepDone"), Gives::Json),
    ("post", "/v1/history/brought", "Take in sheets that were cut before.", Some("BringIn"), Gives::Json),
    ("get", "/v1/bits", "Every physical bit by its number.", None, Gives::Json),
    ("post", "/v1/bits", "Give a physical bit its number.", Some("BeginBit"), Gives::Json),
    ("post", "/v1/bits/{number}/measures", "Measures of a physical bit.", Some("MeasureBit"), Gives::Json),
    ("post", "/v1/bits/{number}/scrap", "Take a physical bit out of use.", Some("ScrapBit"), Gives::Json),
    ("post", "/v1/sheets/{id}/air", "Distances from places to the nearest cut.", Some("AirRequest"), Gives::Json),
    ("get", "/v1/history/sheets", "The cut history, one record a sheet.", None, Gives::Json),
    ("get", "/v1/history/revisions", "What came of each revision.", None, Gives::Json),
    ("get", "/v1/history/effort", "What closed sheets took and what a good part cost.", None, Gives::Json),
    ("get", "/v1/history/bits", "How far each bit has cut, and in what.", None, Gives::Json),
    ("get", "/v1/plan", "The plan of the day.", None, Gives::Json),
    ("get", "/v1/doctor", "Is everything in place.", None, Gives::Json),
    (
        "get",
        "/v1/events",
        "The event stream; `Last-Event-ID` takes it up again.",
        None,
        Gives::Text("text/event-stream"),
    ),
    (
        "get",
        "/v1/backup",
        "A backup of the store in use: journal and programs, with checksums. Needs the terminal's token.",
        None,
        Gives::Text("application/octet-stream"),
    ),
    ("get", "/v1/notices", "What could not be told outside the shop.", None, Gives::Json),
    ("post", "/v1/notices/test", "Try every way of telling somebody once.", None, Gives::Json),
    ("get", "/v1/people", "Who works here, who has a PIN, who is locked out.", None, Gives::Json),
    ("post", "/v1/people", "Add somebody, set a PIN, take one away.", Some("ChangePeople"), Gives::Json),
    ("get", "/v1/people/refusals", "What was refused for want of a right.", None, Gives::Json),
    ("get", "/v1/tokens", "The tokens of other machines, but for themselves.", None, Gives::Json),
    ("post", "/v1/tokens", "Make a token; it is shown once.", Some("MakeToken"), Gives::Json),
    ("post", "/v1/tokens/{name}/revoke", "Take a token back.", Some("RevokeToken"), Gives::Json),
    ("get", "/", "The job card, for a browser.", None, Gives::Text("text/html")),
    ("get", "/job-card.css", "The job card's style.", None, Gives::Text("text/css")),
    ("get", "/job-card.js", "The job card's script: it reads the event stream.", None, Gives::Text("text/javascript")),
    ("post", "/hold", "Hold at the next lift out of the wood; somebody is called.", None, Gives::Back),
    ("get", "/metrics", "Metrics in the Prometheus text format.", None, Gives::Text("text/plain")),
    ("get", "/calendar.ics", "When somebody is needed (RFC 5545).", None, Gives::Text("text/calendar")),
    ("get", "/openapi.json", "This description.", None, Gives::Json),
];

/// Every method and path described.
#[cfg(test)]
pub(super) fn described() -> Vec<(&'static str, &'static str)> {
    ROWS.iter().map(|(method, path, ..)| (*method, *path)).collect()
}

/// The document.
pub(super) fn text() -> String {
    let mut paths: Map<String, Value> = Map::new();
    for (method, path, summary, takes, gives) in ROWS {
        let operation = operation(method, path, summary, *takes, *gives);
        let item = paths.entry((*path).to_owned()).or_insert_with(|| json!({}));
        if let Some(item) = item.as_object_mut() {
            item.insert((*method).to_owned(), operation);
        }
    }
    let document = json!({
        "openapi": "3.1.0",
        "info": {
            "title": "Chargehand",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "The daemon of a small CNC-router workshop. It is no emergency stop and no safety device. Nothing here starts motion but acts at the machine, by a person signed in there.",
            "license": {"name": "MIT OR Apache-2.0", "identifier": "MIT OR Apache-2.0"}
        },
        "servers": [{"url": "/"}],
        "paths": paths,
        "components": {
            "schemas": {"Problem": problem()},
            "securitySchemes": {"terminal": {"type": "apiKey", "in": "header", "name": super::token::HEADER,
                "description": "The terminal's token, from the file beside the socket."},
                "bearer": {"type": "http", "scheme": "bearer",
                "description": "Over TCP, on every route: a token that an owner made. It moves nothing."}}
        }
    });
    document.to_string()
}

fn operation(method: &str, path: &str, summary: &str, takes: Option<&str>, gives: Gives) -> Value {
    let id: String = path.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '_' }).collect();
    let parameters: Vec<Value> = path
        .split('/')
        .filter_map(|part| part.strip_prefix('{')?.strip_suffix('}'))
        .map(|name| json!({"name": name, "in": "path", "required": true, "schema": {"type": "string"}}))
        .collect();
    let (status, well) = match gives {
        Gives::Json => {
            ("200", json!({"description": "Done.", "content": {"application/json": {"schema": {"type": "object"}}}}))
        }
        Gives::Text(kind) => {
            ("200", json!({"description": "Done.", "content": {kind: {"schema": {"type": "string"}}}}))
        }
        Gives::Back => ("303", json!({"description": "Taken; the job card follows."})),
    };
    let ill = json!({"description": "Not done, and why (RFC 9457).",
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}});
    let mut operation = json!({
        "operationId": format!("{method}{id}"),
        "summary": summary,
        "responses": {status: well, "default": ill}
    });
    if let Some(object) = operation.as_object_mut() {
        if !parameters.is_empty() {
            object.insert("parameters".to_owned(), Value::from(parameters));
        }
        if let Some(takes) = takes {
            let body = json!({"required": true, "description": format!("`{takes}` of chargehand-types."),
                "content": {"application/json": {"schema": {"type": "object", "title": takes}}}});
            object.insert("requestBody".to_owned(), body);
        }
        if path == "/v1/acts" {
            object.insert("security".to_owned(), json!([{"terminal": []}, {}]));
        }
    }
    operation
}

fn problem() -> Value {
    json!({
        "type": "object",
        "required": ["type", "title", "status", "detail"],
        "properties": {
            "type": {"type": "string"}, "title": {"type": "string"}, "status": {"type": "integer"},
            "detail": {"type": "string"}, "faults": {"type": "array", "items": {"type": "string"}}
        }
    })
}
