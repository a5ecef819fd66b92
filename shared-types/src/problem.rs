//! What went wrong, told over the API as RFC 9457 problem details and on the command line as an exit code.

use serde::{Deserialize, Serialize};

/// RFC 9457 problem details. `kind` is written as `type`; clients branch on it, never on the text.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, thiserror::Error)]
#[error("{detail}")]
pub struct Problem {
    /// `/problems/…`; see [`ProblemKind`].
    #[serde(rename = "type")]
    pub kind: ProblemKind,
    /// The same for every occurrence.
    pub title: String,
    /// The HTTP status, once more.
    pub status: u16,
    /// This occurrence, and what to do.
    pub detail: String,
    /// The faults of a file, one by one, each a full text with file, line and column.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<String>,
}

/// The kinds of problems, and what each means to a client.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum ProblemKind {
    /// A request that says nothing usable.
    #[serde(rename = "/problems/bad-request")]
    BadRequest,
    /// No such card, batch, sheet, route.
    #[serde(rename = "/problems/not-found")]
    NotFound,
    /// The confirmation was made against an older state; look again.
    #[serde(rename = "/problems/seen-is-old")]
    SeenIsOld,
    /// A start condition says no.
    #[serde(rename = "/problems/start-condition")]
    StartCondition,
    /// Not from this terminal, or not for this role.
    #[serde(rename = "/problems/not-permitted")]
    NotPermitted,
    /// Not now: the stage does not take it.
    #[serde(rename = "/problems/not-now")]
    NotNow,
    /// A card, program or config file is malformed or missing.
    #[serde(rename = "/problems/malformed")]
    Malformed,
    /// A check with `stops` findings.
    #[serde(rename = "/problems/cannot-run")]
    CannotRun,
    /// The port, the store or the disk is missing, full or busy.
    #[serde(rename = "/problems/missing-or-busy")]
    MissingOrBusy,
    /// Our own fault.
    #[serde(rename = "/problems/our-fault")]
    OurFault,
}

impl ProblemKind {
    /// The HTTP status that goes with it.
    #[must_use]
    pub const fn status(self) -> u16 {
        match self {
            Self::BadRequest => 400,
            Self::NotFound => 404,
            Self::SeenIsOld => 412,
            Self::StartCondition | Self::NotNow => 409,
            Self::NotPermitted => 403,
            Self::Malformed | Self::CannotRun => 422,
            Self::MissingOrBusy => 503,
            Self::OurFault => 500,
        }
    }

    /// The exit code of the command line: 1 the answer is no, 2 wrong use, 4 refused, 5 missing, malformed or busy.
    #[must_use]
    pub const fn exit(self) -> u8 {
        match self {
            Self::CannotRun => 1,
            Self::BadRequest => 2,
            Self::SeenIsOld | Self::StartCondition | Self::NotPermitted | Self::NotNow => 4,
            Self::NotFound | Self::Malformed | Self::MissingOrBusy | Self::OurFault => 5,
        }
    }

    const fn title(self) -> &'static str {
        match self {
            Self::BadRequest => "The request cannot be understood",
            Self::NotFound => "There is no such thing",
            Self::SeenIsOld => "What you saw is no longer so",
            Self::StartCondition => "A start condition is not met",
            Self::NotPermitted => "Not from here, or not for this role",
            Self::NotNow => "Not now",
            Self::Malformed => "A file is missing or malformed",
            Self::CannotRun => "The card cannot run",
            Self::MissingOrBusy => "Something needed is missing or busy",
            Self::OurFault => "A fault of the program itself",
        }
    }
}

impl Problem {
    /// One problem with its sentence.
    #[must_use]
    pub fn new(kind: ProblemKind, detail: impl Into<String>) -> Self {
        Self { kind, title: kind.title().to_owned(), status: kind.status(), detail: detail.into(), faults: Vec::new() }
    }

    /// With the faults of a file.
    #[must_use]
    pub fn with_faults(mut self, faults: Vec<String>) -> Self {
        self.faults = faults;
        self
    }
}
