//! The parameters `#1` to `#5399` (NISTIR 6556 3.2.1).
//!
//! May live here: their store, which of them are the controller's own. May not: expressions.

use super::fault::Rule;
use super::number::Decimal;
use chargehand_types::quantity::Point;

/// Parameters run from 1 to this.
pub const LAST: usize = 5399;
/// The controller's own (Table 2): probe results, homes, shifts, origins.
const RESERVED: std::ops::RangeInclusive<u16> = 5061..=5390;
/// The work system in force, 1 to 9.
pub const SYSTEM: u16 = 5220;
/// Results of a probe, known only at the machine.
const PROBED: std::ops::RangeInclusive<u16> = 5061..=5066;

/// The store. Everything is zero until it is set; a program that uses none costs nothing.
#[derive(Debug, Clone, Default)]
pub struct Parameters {
    values: Vec<f64>,
    /// The program is in inches: the controller's own lengths, kept in mm, read as inches.
    pub inch: bool,
}

impl Parameters {
    /// Which parameter a computed number names.
    ///
    /// # Errors
    /// When it is no whole number from 1 to 5399.
    pub fn index(number: f64) -> Result<u16, Rule> {
        let near = number.round();
        if (number - near).abs() <= 1e-4 && (1.0..=LAST as f64).contains(&near) {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked just above")]
            Ok(near as u16)
        } else {
            Err(Rule::ParameterIndex(Decimal::from_f64(number).unwrap_or_default()))
        }
    }

    /// Its value now.
    ///
    /// # Errors
    /// When only the machine knows it.
    pub fn get(&self, index: u16) -> Result<f64, Rule> {
        if PROBED.contains(&index) {
            return Err(Rule::ParameterUnknown(index));
        }
        let value = self.values.get(usize::from(index)).copied().unwrap_or(0.0);
        Ok(if self.inch && index != SYSTEM && RESERVED.contains(&index) { value / 25.4 } else { value })
    }

    /// Whether a program may set it.
    ///
    /// # Errors
    /// When it is the controller's own.
    pub fn settable(index: u16) -> Result<u16, Rule> {
        if RESERVED.contains(&index) { Err(Rule::ParameterReserved(index)) } else { Ok(index) }
    }

    /// Sets three in a row to a point, in mm: a home, the shift, an origin.
    pub fn set_point(&mut self, first: u16, point: Point) {
        for (n, length) in (first..).zip([point.x, point.y, point.z]) {
            self.set(n, length.mm());
        }
    }

    /// Sets it.
    pub fn set(&mut self, index: u16, value: f64) {
        if self.values.is_empty() {
            self.values.resize(LAST + 1, 0.0);
        }
        if let Some(place) = self.values.get_mut(usize::from(index)) {
            *place = value;
        }
    }
}
