//! Metrics in the Prometheus text format, version 0.0.4 (its documentation: "Exposition formats"; names by its page
//! "Metric and label naming": one prefix, base units, `_total` on counters).
//!
//! May live here: names and the text. May not: asking anybody. No label has a value that a shop can add to without end:
//! no sheet, card, person or file is one.

use chargehand_types::now::{LinkNow, Now};
use chargehand_types::quantity::{Metres, Seconds};
use chargehand_types::stage::Stage;
use std::fmt::Write as _;

/// Sums over every sheet that was ever begun.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sums {
    /// Motion of finished operations.
    pub cut: Seconds,
    /// Time held within them.
    pub held: Seconds,
    /// Way cut below the face.
    pub way: Metres,
    /// Times a sheet was stopped.
    pub stops: u64,
    /// Parts that are good, to rework, scrap.
    pub parts: [u64; 3],
}

/// The text. Without sums they are left out, so that a counter never goes back to 0.
pub(super) fn text(now: &Now, sums: Option<&Sums>, version: &str) -> String {
    let mut out = String::new();
    family(&mut out, "chargehand_build_info", "gauge", "The program's version.");
    put(&mut out, "chargehand_build_info", &[("version", version)], 1.0);
    family(&mut out, "chargehand_link_up", "gauge", "Whether the controller answers.");
    put(&mut out, "chargehand_link_up", &[], flag(now.machine.link == LinkNow::Up));
    family(&mut out, "chargehand_position_known", "gauge", "Whether the machine's position is known.");
    put(&mut out, "chargehand_position_known", &[], flag(now.machine.position_known));
    family(
        &mut out,
        "chargehand_sheet_stage",
        "gauge",
        "The stage of the sheet on the machine: 1 for the one it is in.",
    );
    for stage in Stage::ALL {
        let here = now.sheet.as_ref().is_some_and(|s| s.stage == stage);
        put(&mut out, "chargehand_sheet_stage", &[("stage", stage.word())], flag(here));
    }
    family(&mut out, "chargehand_sheets_waiting", "gauge", "Sheets that wait for their turn.");
    put(&mut out, "chargehand_sheets_waiting", &[], f64::from(now.waiting));
    family(&mut out, "chargehand_calls_open", "gauge", "Calls that nobody has answered.");
    put(&mut out, "chargehand_calls_open", &[], now.calls.len() as f64);
    family(&mut out, "chargehand_people_at_machine", "gauge", "People signed in at the machine.");
    put(&mut out, "chargehand_people_at_machine", &[], now.people.len() as f64);
    let left = now.sheet.as_ref().and_then(|s| s.operation.as_ref()).map_or(0.0, |o| o.left.value());
    family(&mut out, "chargehand_operation_left_seconds", "gauge", "Machine time left in the operation at hand.");
    put(&mut out, "chargehand_operation_left_seconds", &[], left);
    family(&mut out, "chargehand_events_total", "counter", "Events written down since the store was made.");
    put(&mut out, "chargehand_events_total", &[], now.seq.0 as f64);
    if let Some(sums) = sums {
        of_history(&mut out, sums);
    }
    out
}

fn of_history(out: &mut String, sums: &Sums) {
    family(out, "chargehand_cut_seconds_total", "counter", "Motion of finished operations.");
    put(out, "chargehand_cut_seconds_total", &[], sums.cut.value());
    family(out, "chargehand_held_seconds_total", "counter", "Time held within finished operations.");
    put(out, "chargehand_held_seconds_total", &[], sums.held.value());
    family(out, "chargehand_cut_metres_total", "counter", "Way cut below the face.");
    put(out, "chargehand_cut_metres_total", &[], sums.way.value());
    family(out, "chargehand_stops_total", "counter", "Times a sheet was stopped.");
    put(out, "chargehand_stops_total", &[], sums.stops as f64);
    family(out, "chargehand_parts_total", "counter", "Parts by how they came out.");
    for (parts, word) in sums.parts.into_iter().zip(["good", "rework", "scrap"]) {
        put(out, "chargehand_parts_total", &[("outcome", word)], parts as f64);
    }
}

const fn flag(yes: bool) -> f64 {
    if yes { 1.0 } else { 0.0 }
}

fn family(out: &mut String, name: &str, kind: &str, help: &str) {
    // writing to a string cannot fail
    let _ = write!(out, "# HELP {name} {help}\n# TYPE {name} {kind}\n");
}

fn put(out: &mut String, name: &str, labels: &[(&str, &str)], value: f64) {
    out.push_str(name);
    for (i, (key, text)) in labels.iter().enumerate() {
        let text = text.replace('\\', "\\\\").replace('"', "\\\"").replace('\n', "\\n");
        let _ = write!(out, "{}{key}=\"{text}\"", if i == 0 { '{' } else { ',' });
    }
    let _ = writeln!(out, "{} {value}", if labels.is_empty() { "" } else { "}" });
}
