//! The job card of one sheet, to be printed and to go with the sheet: what is cut with what, where the fasteners go, the
//! sheet from above, and its label as a QR code (ISO/IEC 18004).
//!
//! May live here: what stands on it. May not: asking the daemon.

use super::svg::{Svg, figure, safe};
use super::{map, row, section};
use crate::words;
use chargehand_types::check::Drawing;
use chargehand_types::finding::Severity;
use chargehand_types::history::SheetRecord;
use chargehand_types::label::label;
use chargehand_types::quantity::{Spot, plain};
use chargehand_types::queue::CardShown;
use chrono::{DateTime, Utc};
use qrcodegen::{QrCode, QrCodeEcc};
use serde::Deserialize;
use std::fmt::Write as _;

const STYLE: &str = include_str!("style.css");
/// Light modules round the code: the standard asks for four.
const QUIET: i32 = 4;

/// What the card's text says that stands on the page.
#[derive(Debug, Default, Deserialize)]
struct Text {
    #[serde(default)]
    sheet: TextSheet,
    #[serde(default)]
    holddown: TextHold,
    #[serde(default)]
    operation: Vec<TextOperation>,
    #[serde(default)]
    part: Vec<TextPart>,
}

#[derive(Debug, Default, Deserialize)]
struct TextSheet {
    #[serde(default)]
    material: String,
    #[serde(default)]
    size: Vec<f64>,
    #[serde(default)]
    thickness: f64,
    face: Option<String>,
    grain: Option<String>,
}

#[derive(Debug, Default, Deserialize)]
struct TextHold {
    #[serde(default)]
    fastener: String,
}

#[derive(Debug, Deserialize)]
struct TextOperation {
    name: String,
    program: String,
    bit: String,
    #[serde(default)]
    after: Vec<String>,
    #[serde(default)]
    unattended: bool,
}

#[derive(Debug, Deserialize)]
struct TextPart {
    name: String,
    #[serde(default)]
    at: Vec<toml::Value>,
}

/// The page. `made` is when, `clock` writes a moment as the wall clock of the reader shows it.
#[must_use]
pub fn page(
    record: &SheetRecord,
    card: &CardShown,
    drawing: &Drawing,
    made: DateTime<Utc>,
    clock: &dyn Fn(DateTime<Utc>) -> String,
) -> String {
    // a card that is stored was read once: what cannot be read of it here is left out
    let text: Text = toml::from_str(&card.text).unwrap_or_default();
    let mut out = String::with_capacity(64 * 1024);
    let code = label(&record.sheet);
    let title = safe(&format!("{}: {}", record.sheet, card.row.title));
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"/><meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"/><meta name=\"color-scheme\" content=\"light dark\"/><title>{title}</title><style>{STYLE}</style></head><body><main><header class=\"card\"><div><h1>{title}</h1><p class=\"faint\">Batch {}, card {}, revision {} ({}). Printed {}.</p>",
        safe(&record.batch.0),
        safe(&record.card.0),
        card.row.number,
        safe(words::short(&record.revision.0)),
        safe(&clock(made)),
    );
    if let Some(code) = &code {
        let _ = write!(out, "<p class=\"code\" id=\"label\">{}</p>", safe(code));
    }
    out.push_str("</div>");
    if let Some(drawn) = code.as_deref().and_then(qr) {
        out.push_str(&drawn);
    }
    out.push_str("</header>");
    out.push_str("<div class=\"two\">");
    section(&mut out, "", "The sheet", &sheet(record, &text, card));
    section(&mut out, "", "Before it starts", &before(card));
    out.push_str("</div>");
    section(&mut out, "", "What is cut, in this order", &operations(record, card, &text));
    let places = fasteners(record, drawing);
    let marked = map::numbered(drawing, &places);
    section(&mut out, "drawing", "From above", &marked);
    section(&mut out, "", "Fasteners, work coordinates in mm", &listed(&places, &text.holddown.fastener));
    out.push_str("<p class=\"faint\">This card goes with the sheet and starts nothing. The lists at the machine are what counts; the red button stops it.</p></main></body></html>\n");
    out
}

fn sheet(record: &SheetRecord, text: &Text, card: &CardShown) -> String {
    let mut out = "<table><tbody>".to_owned();
    let of = &text.sheet;
    let size: Vec<String> = of.size.iter().map(|side| plain(*side)).collect();
    row(&mut out, "material", "material", &of.material);
    row(&mut out, "size, mm", "size", &size.join(" x "));
    row(&mut out, "thickness, mm", "thickness", &plain(of.thickness));
    row(&mut out, "face", "face", of.face.as_deref().unwrap_or("either face up"));
    row(&mut out, "grain", "grain", of.grain.as_deref().unwrap_or("either way"));
    row(&mut out, "lot", "lot", record.lot.as_deref().unwrap_or(""));
    let parts: Vec<String> = text.part.iter().map(|part| format!("{} {}", part.at.len(), part.name)).collect();
    let parts = if parts.is_empty() { card.row.parts.to_string() } else { parts.join(", ") };
    row(&mut out, "parts", "parts", &parts);
    row(&mut out, "in motion, about", "time", &words::span(card.row.seconds));
    out.push_str("</tbody></table>");
    out
}

/// What somebody signs, or has to know, before it starts.
fn before(card: &CardShown) -> String {
    let grave = card.findings.iter().filter(|finding| finding.severity != Severity::Tells);
    let told: Vec<String> = grave
        .map(|finding| {
            let place = match (&finding.operation, finding.line) {
                (Some(operation), Some(line)) => format!(" ({operation}, line {line})"),
                (Some(operation), None) => format!(" ({operation})"),
                (None, _) => String::new(),
            };
            format!("<li>{}{}: {}</li>", safe(&finding.code.to_string()), safe(&place), safe(&finding.means))
        })
        .collect();
    if told.is_empty() {
        return "<p>The check found nothing that has to be signed.</p>".to_owned();
    }
    format!("<p>The owner signs these at the machine:</p><ul>{}</ul>", told.concat())
}

fn operations(record: &SheetRecord, card: &CardShown, text: &Text) -> String {
    let mut out = "<table><thead><tr><th scope=\"col\"></th><th scope=\"col\">operation</th><th scope=\"col\">bit</th><th scope=\"col\">program</th><th scope=\"col\">after</th><th scope=\"col\">somebody beside it</th><th scope=\"col\">done</th></tr></thead><tbody>".to_owned();
    for (nth, operation) in (1..).zip(&text.operation) {
        let done = record.operations.iter().any(|o| o.name == operation.name && o.real.is_some());
        let _ = write!(
            out,
            "<tr data-operation=\"{}\"><td>{nth}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
            safe(&operation.name),
            safe(&operation.name),
            safe(&operation.bit),
            safe(&operation.program),
            safe(&operation.after.join(", ")),
            if operation.unattended { "may be within earshot" } else { "always" },
            if done { "yes" } else { "" },
        );
    }
    if text.operation.is_empty() {
        let _ = write!(out, "<tr><td colspan=\"7\">{} cannot be read any more.</td></tr>", safe(&card.row.name.0));
    }
    out.push_str("</tbody></table>");
    out
}

/// Where fasteners are, or else are to be.
fn fasteners(record: &SheetRecord, drawing: &Drawing) -> Vec<Spot> {
    if record.fasteners.is_empty() {
        drawing.fasteners.iter().map(|fastener| fastener.at).collect()
    } else {
        record.fasteners.clone()
    }
}

fn listed(places: &[Spot], fastener: &str) -> String {
    if places.is_empty() {
        return format!(
            "<p>The card gives no places for {}; the machine's terminal shows where they go.</p>",
            safe(fastener)
        );
    }
    let each = (1..).zip(places).map(|(nth, at): (u32, _)| {
        format!("<li data-place=\"{nth}\"><b>{nth}</b> X {} Y {}</li>", plain(at.x.mm()), plain(at.y.mm()))
    });
    format!("<p>{}</p><ul class=\"key\">{}</ul>", safe(fastener), each.collect::<String>())
}

/// A text as a QR code, dark on light whatever the page's own colours are; none where it is too long for one.
fn qr(text: &str) -> Option<String> {
    let code = QrCode::encode_text(text, QrCodeEcc::Quartile).ok()?;
    let side = f64::from(code.size() + 2 * QUIET);
    let mut svg = Svg::new(side, side, &format!("QR code: {text}"));
    svg.bar([0.0, 0.0, side, side], "light", "", text);
    let mut path = String::new();
    for y in 0..code.size() {
        for x in (0..code.size()).filter(|x| code.get_module(*x, y)) {
            let _ = write!(path, "M{} {}h1v1h-1z", figure(f64::from(x + QUIET)), figure(f64::from(y + QUIET)));
        }
    }
    svg.path(&path, "dark");
    Some(format!("<div class=\"qr\">{}</div>", svg.done()))
}
