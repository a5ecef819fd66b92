//! Findings as a person reads them: where, the line of the program with a caret, what it means, what to do.
//!
//! May live here: their layout. May not: their sentences, which the catalogue in the shared types writes.

use super::page::{cut, fold};
use chargehand_types::finding::{Finding, Severity, Unit};
use chargehand_types::quantity::plain;
use std::collections::BTreeMap;

/// Every finding, worst first as it came, with its program's file where that is known.
#[must_use]
pub fn told(findings: &[Finding], programs: &BTreeMap<String, String>) -> String {
    findings.iter().map(|f| one(f, programs)).collect::<Vec<_>>().join("\n")
}

/// The counts as one sentence: "1 cannot run, 2 owner signs, 3 notes".
#[must_use]
pub fn counted(counts: [u32; 3]) -> String {
    let [stops, signs, notes] = counts;
    let mut parts = Vec::new();
    for (number, words) in [(stops, "cannot run"), (signs, "owner signs"), (notes, "note")] {
        if number > 0 {
            let s = if words == "note" && number > 1 { "s" } else { "" };
            parts.push(format!("{number} {words}{s}"));
        }
    }
    if parts.is_empty() { "nothing found".to_owned() } else { parts.join(", ") }
}

/// How many of each severity: stops, sign, tells.
#[must_use]
pub fn counts(findings: &[Finding]) -> [u32; 3] {
    let of = |severity| u32::try_from(findings.iter().filter(|f| f.severity == severity).count()).unwrap_or(u32::MAX);
    [of(Severity::Stops), of(Severity::Sign), of(Severity::Tells)]
}

fn one(f: &Finding, programs: &BTreeMap<String, String>) -> String {
    let mut head = format!("{}  {}", f.severity.on_screen(), f.code);
    if let Some(place) = place(f, programs) {
        head.push_str(&format!("   {place}"));
    }
    if let Some(operation) = &f.operation {
        head.push_str(&format!("   operation \"{operation}\""));
    }
    let mut out = head + "\n";
    for line in f.facts.excerpt.iter().flat_map(|e| e.lines()) {
        out.push_str(&format!("  {}\n", cut(line, 78)));
    }
    out.push_str(&fold("  means  ", &f.means, 9));
    if let Some(again) = again(f) {
        out.push_str(&fold("  where  ", &again, 9));
    }
    if let Some(figures) = figures(f) {
        out.push_str(&fold("  found  ", &figures, 9));
    }
    out.push_str(&fold("  do     ", &f.remedy, 9));
    out
}

fn place(f: &Finding, programs: &BTreeMap<String, String>) -> Option<String> {
    let file = f.operation.as_ref().and_then(|o| programs.get(o));
    match (file, f.line, f.column) {
        (Some(file), Some(line), Some(column)) => Some(format!("{file}:{line}:{column}")),
        (Some(file), Some(line), None) => Some(format!("{file}:{line}")),
        (Some(file), None, _) => Some(file.clone()),
        (None, Some(line), _) => Some(format!("line {line}")),
        (None, None, _) => None,
    }
}

fn again(f: &Finding) -> Option<String> {
    let [first, last] = f.lines?;
    (f.count > 1).then(|| format!("{} times, from line {first} to line {last}", f.count))
}

/// The figures once more, where the unit makes them worth a line: found and allowed.
fn figures(f: &Finding) -> Option<String> {
    let (measured, limit, unit) = (f.measured?, f.limit?, f.unit?);
    let unit = match unit {
        Unit::Mm => "mm",
        Unit::Deg => "degrees",
        Unit::MmPerTooth => "mm a tooth",
        Unit::Mm2 => "mm2",
        Unit::M => "m",
        Unit::N => "N",
        Unit::S => "s",
        Unit::MmPerMin => "mm/min",
        Unit::Tool | Unit::Tabs => return None,
    };
    Some(format!("{} {unit}; allowed {} {unit}", plain(measured), plain(limit)))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use chargehand_types::finding::{Code, Facts};

    pub(crate) fn bed_bite() -> Finding {
        Finding {
            code: Code::BedBite,
            severity: Severity::Stops,
            operation: Some("outlines".into()),
            line: Some(214),
            column: Some(10),
            lines: Some([214, 380]),
            count: 12,
            fingerprint: "f1".into(),
            place: None,
            measured: Some(1.8),
            limit: Some(0.5),
            unit: Some(Unit::Mm),
            facts: Facts {
                excerpt: Some("214 | G1 X80.0 Z-19.8 F900\n    |          ^^^^^^".into()),
                ..Facts::default()
            },
            means: String::new(),
            remedy: String::new(),
        }
        .told()
    }

    #[test]
    fn a_finding_reads_well() {
        let programs = [("outlines".to_owned(), "outlines.nc".to_owned())].into();
        let text = told(&[bed_bite()], &programs);
        assert_eq!(
            text,
            "cannot run  bed-bite   outlines.nc:214:10   operation \"outlines\"\n  \
             214 | G1 X80.0 Z-19.8 F900\n      |          ^^^^^^\n  \
             means  the bit cuts 1.8 mm into the waste board (allowed 0.5 mm) and may reach\n         a fastener\n  \
             where  12 times, from line 214 to line 380\n  \
             found  1.8 mm; allowed 0.5 mm\n  \
             do     measure the sheet again, or write the program for this thickness\n"
        );
    }

    #[test]
    fn counts_are_a_sentence() {
        assert_eq!(counted([0, 0, 0]), "nothing found");
        assert_eq!(counted([1, 0, 2]), "1 cannot run, 2 notes");
        assert_eq!(counts(&[bed_bite()]), [1, 0, 0]);
    }
}
