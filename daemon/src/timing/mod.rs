//! Room `timing`.
