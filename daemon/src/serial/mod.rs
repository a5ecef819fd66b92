//! Room `serial`.
