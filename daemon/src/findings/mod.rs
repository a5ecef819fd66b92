//! Room `findings`.
