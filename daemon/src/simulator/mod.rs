//! Room `simulator`.
