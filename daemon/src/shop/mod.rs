//! Room `shop`.
