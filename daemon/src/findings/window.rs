//! The working window: how far the sheet's thickness and a bit's diameter may be off before any finding changes.
//!
//! Every bound is found by judging the whole card again with the other value, never by a rule of thumb: the answer is
//! the same check, asked more often.
//!
//! May live here: the search. May not: any rule that is searched over.

use super::case::{CannotJudge, Case};
use super::judge::{Judged, check_once};
use chargehand_types::bits::BitFigures;
use chargehand_types::card::{Bit, Stores};
use chargehand_types::check::WorkingWindow;
use chargehand_types::finding::{Code, Severity};
use chargehand_types::quantity::Length;
use std::collections::BTreeMap;

/// How far thickness is looked at on either side.
const THICKNESS: Length = Length(1_500_000);
/// How far a bit's diameter is looked at on either side: regrinds and wear, not another bit.
const DIAMETER: Length = Length(300_000);
/// A bound is told to this.
const STEP: Length = Length(50_000);

/// What a card's findings come to, figures left out: these changing is a change.
type Shape = BTreeMap<(Code, Severity, Option<String>), usize>;

/// The window of a card round the values it was judged with.
///
/// # Errors
/// When the card names something that is not there.
pub fn window(case: &Case<'_>, judged: &Judged) -> Result<WorkingWindow, CannotJudge> {
    let known = shape(judged);
    let thickness = case.thickness();
    let as_thick = |other: Length| {
        Ok(other > Length::ZERO && shape(&check_once(&Case { thickness: Some(other), ..*case }, false)?) == known)
    };
    let range = range(thickness, THICKNESS, as_thick)?;
    let mut bits = BTreeMap::new();
    for operation in case.in_order() {
        if bits.contains_key(&operation.bit) {
            continue;
        }
        let bit = case.bit(operation)?;
        let as_wide = |other: Length| {
            if other <= Length::ZERO {
                return Ok(false);
            }
            let stores = with_diameter(case.stores, &operation.bit, bit, other);
            Ok(shape(&check_once(&Case { stores: &stores, ..*case }, false)?) == known)
        };
        bits.insert(operation.bit.clone(), self::range(bit.cuts(), DIAMETER, as_wide)?);
    }
    let most = case.card.sheet.z_shift_max;
    let z_shift = (most > Length::ZERO).then(|| {
        let shifted = |by: Length| {
            let bench = case.bench.clone().shifted(by);
            Ok(shape(&check_once(&Case { bench: &bench, ..*case }, false)?) == known)
        };
        self::range(Length::ZERO, most, shifted)
    });
    Ok(WorkingWindow { thickness: range, bit: bits, z_shift: z_shift.transpose()? })
}

fn shape(judged: &Judged) -> Shape {
    let mut shape = Shape::new();
    for f in &judged.report.findings {
        *shape.entry((f.code, f.severity, f.operation.clone())).or_default() += 1;
    }
    shape
}

fn with_diameter(stores: &Stores, key: &str, bit: &Bit, diameter: Length) -> Stores {
    let mut other = stores.clone();
    let measured = BitFigures { diameter: Some(diameter), ..bit.measured };
    other.bits.insert(key.to_owned(), Bit { diameter, measured, ..bit.clone() });
    other
}

/// The widest range round a value, in whole steps, at whose ends and between which nothing was found to change.
fn range(
    value: Length,
    reach: Length,
    mut same: impl FnMut(Length) -> Result<bool, CannotJudge>,
) -> Result<[Length; 2], CannotJudge> {
    let mut bound = |sign: i64| -> Result<Length, CannotJudge> {
        // the last step known to be alike, the first known not to be
        let (mut good, mut bad) = (0, (reach.0 / STEP.0).max(0) + 1);
        let at = |steps: i64| Length(value.0.saturating_add(sign * steps * STEP.0));
        let beyond = bad;
        while good + 1 < bad {
            // small steps first: most windows are narrow, and a far one would hide a gap on the way
            let next = if bad == beyond { (good * 2).max(1).min(bad - 1) } else { (good + bad) / 2 };
            if same(at(next))? {
                good = next;
            } else {
                bad = next;
            }
        }
        Ok(at(good))
    };
    Ok([bound(-1)?, bound(1)?])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(v: f64) -> Length {
        Length::from_mm(v).unwrap()
    }

    #[test]
    fn bounds_are_the_last_alike_step() {
        let mut asked = 0;
        let found = range(mm(18.0), THICKNESS, |at| {
            asked += 1;
            Ok(at >= mm(17.78) && at <= mm(18.31))
        });
        assert_eq!(found.unwrap(), [mm(17.8), mm(18.3)]);
        assert!(asked <= 14, "{asked}");
    }

    #[test]
    fn all_alike_reaches_as_far_as_is_looked() {
        assert_eq!(range(mm(6.35), DIAMETER, |_| Ok(true)).unwrap(), [mm(6.05), mm(6.65)]);
        assert_eq!(range(mm(6.35), DIAMETER, |_| Ok(false)).unwrap(), [mm(6.35), mm(6.35)]);
    }

    #[test]
    fn nothing_is_thinner_than_nothing() {
        assert_eq!(range(mm(0.12), THICKNESS, |at| Ok(at > Length::ZERO)).unwrap()[0], mm(0.02));
    }
}
