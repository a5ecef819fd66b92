//! An order of sheets, each with the route of its operations.

/// One place of an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Place {
    /// The sheet, by its number in the problem.
    pub sheet: u16,
    /// Its route: which of the admissible orders of its operations.
    pub route: u16,
}

/// An order of all sheets.
pub type Order = Vec<Place>;
