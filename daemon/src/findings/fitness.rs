//! Whether the right bit is in, and how much cutting it has left.
//!
//! May live here: `wrong-bit` and `bit-due`. May not: what the bit does to the wood.

use super::case::Case;
use super::cause::{Cause, against, bare};
use super::cutting::Fitted;
use crate::program::motion::Place;
use chargehand_types::finding::{Code, Finding, Unit};
use std::collections::BTreeMap;

/// How far each bit has cut, in mm, carried from operation to operation.
#[derive(Debug, Clone, Default)]
pub(super) struct Wear(BTreeMap<String, f64>);

impl Wear {
    pub(super) fn new(case: &Case<'_>) -> Self {
        Self(case.bit_used.iter().map(|(key, used)| (key.clone(), used.value() * 1000.0)).collect())
    }

    /// More was cut; true when the bit's life is passed by it.
    fn add(&mut self, fitted: Fitted<'_>, cut: f64) -> bool {
        let Some(life) = fitted.bit.life.map(|l| l.value() * 1000.0) else { return false };
        let used = if let Some(used) = self.0.get_mut(fitted.key) {
            used
        } else {
            self.0.entry(fitted.key.to_owned()).or_default()
        };
        let before = *used;
        *used += cut;
        before <= life && *used > life
    }

    fn metres(&self, key: &str) -> f64 {
        self.0.get(key).copied().unwrap_or_default() / 1000.0
    }
}

/// The rules' memory over one operation.
#[derive(Debug, Default)]
pub(super) struct Fitness<'a> {
    /// By the T number called.
    wrong: BTreeMap<u32, Cause>,
    due: Vec<(Fitted<'a>, Place)>,
}

impl<'a> Fitness<'a> {
    /// A bit change: the number called against the one the card's bit has.
    pub(super) fn changed(&mut self, place: Place, tool: Option<u32>, meant: Fitted<'_>) {
        if let (Some(called), Some(own)) = (tool, meant.bit.tool)
            && called != own
        {
            self.wrong.entry(called).or_default().over(place, f64::from(called), None);
        }
    }

    /// A cut of this many mm.
    pub(super) fn cut(&mut self, place: Place, fitted: Fitted<'a>, cut: f64, wear: &mut Wear) {
        if wear.add(fitted, cut) {
            self.due.push((fitted, place));
        }
    }

    /// What was found, at the end of the operation.
    pub(super) fn findings(&self, operation: &str, meant: Fitted<'_>, wear: &Wear, out: &mut Vec<Finding>) {
        for cause in self.wrong.values() {
            let Some(found) = cause.finding(Code::WrongBit, operation) else { continue };
            let own = meant.bit.tool.map(f64::from).unwrap_or_default();
            let mut found = against(found, own, Unit::Tool);
            found.facts.bit = Some(meant.key.to_owned());
            out.push(found);
        }
        for (fitted, place) in &self.due {
            let life = fitted.bit.life.map(|l| l.value()).unwrap_or_default();
            let mut found = against(bare(Code::BitDue, operation), life, Unit::M);
            found.line = Some(place.line);
            found.column = Some(place.column);
            found.lines = Some([place.line; 2]);
            found.measured = Some(wear.metres(fitted.key));
            found.facts.bit = Some(fitted.key.to_owned());
            out.push(found);
        }
    }
}
