//! `chargehand check`: a card and its programs, judged by the daemon against this shop.
//!
//! May live here: sending and showing. May not: judging.

use super::end::End;
use super::line::CheckLine;
use super::page::{fold, json, say, table};
use super::{files, findings};
use crate::client::Api;
use crate::words;
use chargehand_types::check::{CheckReport, CheckRequest, OperationReport, PieceReport, WorkingWindow};
use chargehand_types::quantity::{Length, Seconds, plain};
use std::collections::BTreeMap;

pub(super) async fn run(api: &Api, line: CheckLine) -> Result<(), End> {
    let files = files::read(&line.card)?;
    let programs = files::programs_by_operation(&files.text);
    let bit_used = line.bit_used.into_iter().collect();
    let (thickness, corners) = match line.thickness.as_slice() {
        [] => (None, Vec::new()),
        [one] => (Some(*one), Vec::new()),
        all => (None, all.to_vec()),
    };
    let report = api.check(&CheckRequest { files, thickness, corners, z_shift: line.z_shift, bit_used }).await?;
    if line.json {
        json(&report)?;
    } else {
        say(&told(&report, &programs))?;
    }
    match findings::counts(&report.findings) {
        [0, _, _] => Ok(()),
        [_, _, _] => Err(End::No),
    }
}

/// A report as a page.
fn told(report: &CheckReport, programs: &BTreeMap<String, String>) -> String {
    let mut out =
        format!("{}   sheet {}   revision {}\n", report.card, report.thickness, words::short(&report.revision.0));
    out.push_str(&fold("  in this order: ", &report.order.join(", then "), 4));
    match report.straight_through {
        Some(true) => out.push_str("  Nothing comes loose while cutting goes on beside it.\n"),
        Some(false) => out.push_str("  A part comes loose while cutting goes on beside it.\n"),
        None => {}
    }
    out.push('\n');
    out.push_str(&operations(&report.operations));
    if !report.pieces.is_empty() {
        out.push('\n');
        out.push_str(&pieces(&report.pieces));
    }
    if !report.picture.is_empty() {
        out.push('\n');
        report.picture.iter().for_each(|row| out.push_str(&format!("  | {row}\n")));
        out.push_str("  A B C pieces   . cut through   + tab   o fastener; the far edge first\n\n");
    }
    if let Some(window) = &report.window {
        out.push_str(&fold("  ", &fits(window), 2));
    }
    for pair in &report.precedence {
        let told = format!("Keep {} before {}. The other way round: {}", pair.first, pair.then, pair.otherwise);
        out.push_str(&fold("  ", &told, 2));
    }
    out.push('\n');
    let counts = findings::counts(&report.findings);
    if !report.findings.is_empty() {
        out.push_str(&findings::told(&report.findings, programs));
        out.push('\n');
    }
    for advice in &report.advice {
        out.push_str(&fold("advice  ", advice, 8));
    }
    out.push_str(&verdict(counts));
    out
}

fn operations(operations: &[OperationReport]) -> String {
    let heading = ["operation", "bit", "time", "cut", "rapid", "deepest", "lines", "wire"];
    let mut rows = vec![heading.map(str::to_owned).to_vec()];
    let mut sum = Seconds::ZERO;
    for o in operations {
        sum += o.seconds;
        rows.push(vec![
            o.name.clone(),
            o.bit.clone(),
            words::span(o.seconds),
            words::way(o.cut_m),
            words::way(o.rapid_m),
            o.cut_extents.z.map_or_else(String::new, |[low, _]| format!("{} mm", plain(low.mm()))),
            o.lines.to_string(),
            words::span(o.wire_seconds),
        ]);
    }
    if operations.len() > 1 {
        rows.push(vec!["together".to_owned(), String::new(), words::span(sum)]);
    }
    table(&rows).lines().map(|l| format!("  {l}\n")).collect()
}

/// The pieces, each with what holds it, by the letters of the picture.
fn pieces(pieces: &[PieceReport]) -> String {
    let mut rows = vec![["piece", "called", "area", "held by"].map(str::to_owned).to_vec()];
    for (piece, letter) in pieces.iter().zip(('A'..='Z').chain('a'..='z').chain(std::iter::repeat('#'))) {
        let held = match (&piece.loose_at, piece.tabs.len()) {
            (Some(at), _) => format!("nothing after {} line {}", at.operation, at.line),
            (None, 0) => "a fastener".to_owned(),
            (None, 1) => format!("1 tab, {}", least_tab(piece)),
            (None, count) => format!("{count} tabs, least {}", least_tab(piece)),
        };
        let name = piece.name.clone().unwrap_or_else(|| "-".to_owned());
        rows.push(vec![letter.to_string(), name, format!("{:.0} mm2", piece.area_mm2.value()), held]);
    }
    table(&rows).lines().map(|l| format!("  {l}\n")).collect()
}

/// The tab of least section, as width by height.
fn least_tab(piece: &PieceReport) -> String {
    let least = piece.tabs.iter().min_by(|a, b| a.section_mm2.value().total_cmp(&b.section_mm2.value()));
    let size = |mm: Length| format!("{:.1}", mm.mm());
    least.map(|tab| format!("{} x {} mm", size(tab.width), size(tab.height))).unwrap_or_default()
}

/// How far sheet and bits may be off before any finding changes.
fn fits(window: &WorkingWindow) -> String {
    let range = |[least, most]: &[Length; 2]| format!("{} to {} mm", plain(least.mm()), plain(most.mm()));
    let bits: Vec<String> = window.bit.iter().map(|(key, of)| format!("{key} of {}", range(of))).collect();
    let shift = window.z_shift.as_ref().map(|[least, most]| {
        format!(", and with work zero shifted by {} to {} mm", plain(least.mm()), plain(most.mm()))
    });
    let (thickness, bits) = (range(&window.thickness), bits.join(", "));
    format!("The same holds from {thickness} of thickness, with {bits}{}.", shift.unwrap_or_default())
}

fn verdict(counts: [u32; 3]) -> String {
    let found = findings::counted(counts);
    match counts {
        [0, 0, _] => format!("This card can run: {found}.\n"),
        [0, _, _] => format!("This card can run once the owner has signed: {found}.\n"),
        [_, _, _] => format!("This card cannot run: {found}.\n"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::check::{Extents, LineOf};
    use chargehand_types::quantity::{Area, Metres};

    fn report() -> CheckReport {
        let operation = |name: &str, seconds: f64, low: i64| OperationReport {
            name: name.into(),
            bit: "c635".into(),
            lines: 214,
            moves: 190,
            cut_m: Metres::of(8.44),
            rapid_m: Metres::of(2.1),
            seconds: Seconds::of(seconds),
            wire_seconds: Seconds::of(31.0),
            extents: Extents::default(),
            cut_extents: Extents { z: Some([Length::whole_mm(low), Length::ZERO]), ..Extents::default() },
        };
        CheckReport {
            schema: 1,
            card: "plant-stand-sides".into(),
            revision: "3f2a9c41be0011".into(),
            thickness: Length::whole_mm(18),
            order: vec!["slots".into(), "outlines".into()],
            straight_through: None,
            findings: vec![findings::tests::bed_bite()],
            advice: vec![],
            pieces: vec![PieceReport {
                name: Some("side".into()),
                area_mm2: Area::of(120_541.3),
                centroid: [Length::whole_mm(163), Length::whole_mm(320)],
                loose_at: Some(LineOf { operation: "outlines".into(), line: 212 }),
                tabs: vec![],
            }],
            picture: vec![" .....".into(), " .AAA.".into(), "o.....".into()],
            precedence: Vec::new(),
            window: Some(WorkingWindow {
                z_shift: None,
                thickness: [17_800_000, 18_200_000].map(Length),
                bit: BTreeMap::from([("c635".to_owned(), [6_250_000, 6_400_000].map(Length))]),
            }),
            operations: vec![operation("slots", 722.0, -9), operation("outlines", 1140.0, -19)],
            holddown: None,
        }
    }

    #[test]
    fn a_report_fits_eighty_columns() {
        let text = told(&report(), &BTreeMap::new());
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        assert!(text.starts_with("plant-stand-sides   sheet 18 mm   revision 3f2a9c41be\n"), "{text}");
        assert!(text.contains("in this order: slots, then outlines"), "{text}");
        assert!(text.contains("outlines   c635  19 min  8.4 m  2.1 m   -19 mm    214  31 s"), "{text}");
        assert!(text.contains("together         31 min"), "{text}");
        assert!(text.contains("A      side    120541 mm2  nothing after outlines line 212"), "{text}");
        assert!(text.contains("  |  .AAA.\n"), "{text}");
        assert!(text.contains("from 17.8 to 18.2 mm of thickness, with c635 of 6.25 to 6.4 mm."), "{text}");
        assert!(text.ends_with("This card cannot run: 1 cannot run.\n"), "{text}");
    }

    #[test]
    fn a_clean_card_can_run() {
        let mut clean = report();
        clean.findings.clear();
        assert!(told(&clean, &BTreeMap::new()).ends_with("This card can run: nothing found.\n"));
    }
}
