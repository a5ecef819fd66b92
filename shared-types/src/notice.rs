//! What was told outside the shop, and what did not get through.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// `GET /v1/notices`: what did not get through.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Notices {
    /// 1.
    pub schema: u32,
    /// Names of the ways there are.
    pub ways: Vec<String>,
    /// Oldest first.
    pub not_through: Vec<NotThrough>,
}

/// Something that somebody was to be told and was not, or not yet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NotThrough {
    /// By which way.
    pub way: String,
    /// Its id.
    pub id: String,
    /// When it happened.
    pub at: DateTime<Utc>,
    /// What was to be told.
    pub text: String,
    /// Times it was tried.
    pub tries: u32,
    /// Why the last try failed.
    pub why: String,
    /// It will not be tried again.
    pub given_up: bool,
}

/// `POST /v1/notices/test`: every way was tried once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NoticesTest {
    /// 1.
    pub schema: u32,
    /// One a way.
    pub ways: Vec<WayTried>,
}

/// A way that was tried.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WayTried {
    /// Its name.
    pub name: String,
    /// Whether the receiver took it.
    pub taken: bool,
    /// What came of it, as a sentence.
    pub text: String,
}
