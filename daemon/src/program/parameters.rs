//! Numbered parameters `#1` to `#5399` (NISTIR 6556, 3.2.1 and Table 2).

use std::collections::BTreeMap;

/// The highest parameter.
pub const HIGHEST: i64 = 5399;

/// Values of the parameters; what was never set is 0.
#[derive(Debug, Clone, Default)]
pub struct Parameters {
    values: BTreeMap<u16, f64>,
}

impl Parameters {
    /// The value of a parameter.
    #[must_use]
    pub fn get(&self, index: u16) -> f64 {
        self.values.get(&index).copied().unwrap_or(0.0)
    }

    /// Sets a parameter.
    pub fn set(&mut self, index: u16, value: f64) {
        self.values.insert(index, value);
    }
}

/// A parameter's index, if it is one.
#[must_use]
pub fn index(value: f64) -> Option<u16> {
    let near = value.round();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked against 1..=5399")]
    ((value - near).abs() <= 1.0e-4 && near >= 1.0 && near <= HIGHEST as f64).then_some(near as u16)
}
