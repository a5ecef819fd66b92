//! Room `api`.
