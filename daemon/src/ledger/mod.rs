//! Room `ledger`.
