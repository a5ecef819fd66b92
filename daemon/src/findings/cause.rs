//! What one cause did all through an operation, told as one finding.
//!
//! May live here: first and last line, the count, the worst of it. May not: what is a cause.

use crate::program::motion::Place;
use crate::program::way::Spot3;
use chargehand_types::finding::{Code, Facts, Finding, Severity, Unit};

/// Figures no farther apart than this are equally bad, and the first of them is told.
const ALIKE: f64 = 1.0e-6;

/// What one cause did so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Cause {
    worst: Option<Worst>,
    first: u32,
    last: u32,
    count: u32,
}

/// Where it was worst.
#[derive(Debug, Clone, Copy)]
struct Worst {
    place: Place,
    how_bad: f64,
    measured: Option<f64>,
    at: Option<Spot3>,
}

impl Cause {
    /// Once more, with nothing to compare.
    pub(super) fn seen(&mut self, place: Place, at: Option<Spot3>) {
        self.note(place, 0.0, None, at);
    }

    /// Once more; the larger figure is the worse.
    pub(super) fn over(&mut self, place: Place, measured: f64, at: Option<Spot3>) {
        self.note(place, measured, Some(measured), at);
    }

    /// Once more; the smaller figure is the worse.
    pub(super) fn under(&mut self, place: Place, measured: f64, at: Option<Spot3>) {
        self.note(place, -measured, Some(measured), at);
    }

    fn note(&mut self, place: Place, how_bad: f64, measured: Option<f64>, at: Option<Spot3>) {
        if self.count == 0 {
            self.first = place.line;
        }
        if self.count == 0 || self.last != place.line {
            self.count = self.count.saturating_add(1);
        }
        self.last = place.line;
        if self.worst.is_none_or(|worst| how_bad > worst.how_bad + ALIKE) {
            self.worst = Some(Worst { place, how_bad, measured, at });
        }
    }

    /// The finding of it, if it was seen at all.
    pub(super) fn finding(&self, code: Code, operation: &str) -> Option<Finding> {
        let worst = self.worst?;
        let mut finding = bare(code, operation);
        finding.line = Some(worst.place.line);
        finding.column = Some(worst.place.column);
        finding.lines = Some([self.first, self.last]);
        finding.count = self.count;
        finding.place = worst.at;
        finding.measured = worst.measured;
        Some(finding)
    }
}

/// A finding with nothing filled in but what it is.
pub(super) fn bare(code: Code, operation: &str) -> Finding {
    Finding {
        code,
        severity: severity(code),
        operation: Some(operation.to_owned()),
        line: None,
        column: None,
        lines: None,
        count: 1,
        fingerprint: String::new(),
        place: None,
        measured: None,
        limit: None,
        unit: None,
        facts: Facts::default(),
        means: String::new(),
        remedy: String::new(),
    }
}

/// With what is allowed, and the unit of both figures.
pub(super) fn against(mut finding: Finding, limit: f64, unit: Unit) -> Finding {
    finding.limit = Some(limit);
    finding.unit = Some(unit);
    finding
}

/// What each kind asks for, unless its own rule says otherwise.
pub(super) const fn severity(code: Code) -> Severity {
    match code {
        Code::Unreadable
        | Code::NotForThisController
        | Code::OutsideTravel
        | Code::BedBite
        | Code::RapidInMaterial
        | Code::SpindleOff
        | Code::NoFeed
        | Code::PartLoose
        | Code::FastenerInPath => Severity::Stops,
        Code::OutsideSheet
        | Code::NotThrough
        | Code::PlungeEntry
        | Code::ShallowFirstPass
        | Code::PassTooDeep
        | Code::ChipLoadHigh
        | Code::WeakTabs
        | Code::FeedUntried
        | Code::WeakHolddown
        | Code::WrongBit
        | Code::BitDue
        | Code::SuspectUnits => Severity::Sign,
        Code::LooseArc | Code::SteepRamp | Code::ChipLoadLow | Code::EndsOverSheet | Code::NoEnd => Severity::Tells,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(line: u32) -> Place {
        Place { line, column: 3 }
    }

    #[test]
    fn one_cause_is_told_once() {
        let mut cause = Cause::default();
        for (line, measured) in [(4, 1.0), (5, 3.0), (5, 2.0), (9, 3.0)] {
            cause.over(at(line), measured, None);
        }
        let f = cause.finding(Code::BedBite, "slots").unwrap();
        assert_eq!((f.line, f.column, f.lines, f.count), (Some(5), Some(3), Some([4, 9]), 3));
        assert_eq!(f.measured, Some(3.0));
    }

    #[test]
    fn least_can_be_worst() {
        let mut cause = Cause::default();
        cause.under(at(1), 0.05, None);
        cause.under(at(2), 0.03, None);
        assert_eq!(cause.finding(Code::ChipLoadLow, "slots").unwrap().measured, Some(0.03));
    }

    #[test]
    fn nothing_seen_is_no_finding() {
        assert!(Cause::default().finding(Code::NoFeed, "slots").is_none());
    }
}
