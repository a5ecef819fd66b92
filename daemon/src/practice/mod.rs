//! Room `practice`.
