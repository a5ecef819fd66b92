//! Scheduling instances as files: read, planned with the daemon's planner, written in the truth's form.

use chargehand_daemon::calendar::Windows;
use chargehand_daemon::dayplan::{Doing, Hours, Operation, Problem, Schedule, Sheet};
use chargehand_types::id::{BitName, SheetId};
use chargehand_types::plan::{Minute, Minutes};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// An instance's file.
#[derive(Debug, Clone, Deserialize)]
pub struct Instance {
    /// Its name.
    pub name: String,
    /// In the spindle at `now`.
    pub bit_on_machine: String,
    /// Length of a bit change.
    pub bit_change_minutes: u32,
    /// Nothing starts earlier.
    pub now: u32,
    /// When somebody is there.
    pub presence: Vec<[u32; 2]>,
    /// When unattended cutting may run; always when left out.
    #[serde(default)]
    pub alone: Option<Vec<[u32; 2]>>,
    /// To be cut.
    pub sheets: Vec<InstanceSheet>,
}

/// A sheet of an instance.
#[derive(Debug, Clone, Deserialize)]
pub struct InstanceSheet {
    /// Unique.
    pub id: String,
    /// Minutes.
    pub load: u32,
    /// Minutes.
    pub cleanup: u32,
    /// Minute.
    pub due: u32,
    /// Of a minute late.
    pub weight: f64,
    /// Each once.
    pub operations: Vec<InstanceOperation>,
}

/// An operation of an instance's sheet.
#[derive(Debug, Clone, Deserialize)]
pub struct InstanceOperation {
    /// Unique on the sheet.
    pub name: String,
    /// Length.
    pub minutes: u32,
    /// Needed.
    pub bit: String,
    /// Names on the same sheet.
    pub after: Vec<String>,
    /// Nobody is needed.
    pub unattended: bool,
}

/// A schedule as the truth writes it.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
pub struct Written {
    /// The sheet.
    pub sheet: String,
    /// Its steps.
    pub steps: Vec<WrittenStep>,
}

/// A step as the truth writes it.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
pub struct WrittenStep {
    /// `load`, `bit`, `op` or `cleanup`.
    pub what: String,
    /// Minute.
    pub start: u32,
    /// Minute.
    pub end: u32,
    /// Of an `op`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub operation: Option<String>,
    /// Of a `bit`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bit: Option<String>,
}

/// What a schedule is measured by.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Deserialize, Serialize)]
pub struct Measured {
    /// Sum of weight times minutes late.
    pub weighted_tardiness: f64,
    /// End of the last sheet.
    pub last_finish: u32,
    /// Bit changes.
    pub bit_changes: u32,
}

/// What went wrong with a file.
#[derive(Debug, thiserror::Error)]
pub enum BadInstance {
    /// It could not be read.
    #[error("{0}: {1}")]
    File(String, std::io::Error),
    /// It is no instance.
    #[error("{0}: {1}")]
    Form(String, serde_json::Error),
}

/// Reads an instance.
///
/// # Errors
/// When the file cannot be read or is no instance.
pub fn read(path: &Path) -> Result<Instance, BadInstance> {
    let name = path.display().to_string();
    let text = std::fs::read_to_string(path).map_err(|e| BadInstance::File(name.clone(), e))?;
    serde_json::from_str(&text).map_err(|e| BadInstance::Form(name, e))
}

impl Instance {
    /// As the planner takes it.
    #[must_use]
    pub fn problem(&self) -> Problem {
        let windows = |all: &[[u32; 2]]| Windows::of(all.iter().map(|w| (Minute(w[0]), Minute(w[1]))));
        let presence = windows(&self.presence);
        let alone = self.alone.as_deref().map(windows);
        Problem {
            now: Minute(self.now),
            bit_on_machine: Some(BitName(self.bit_on_machine.clone())),
            bit_change: Minutes(self.bit_change_minutes),
            hours: Hours { hands: presence.clone(), attended: presence, alone },
            sheets: self.sheets.iter().map(InstanceSheet::sheet).collect(),
            frozen: 0,
        }
    }
}

impl InstanceSheet {
    fn sheet(&self) -> Sheet {
        let operation = |o: &InstanceOperation| Operation {
            name: o.name.clone(),
            minutes: Minutes(o.minutes),
            bit: BitName(o.bit.clone()),
            after: o.after.clone(),
            unattended: o.unattended,
        };
        Sheet {
            id: SheetId(self.id.clone()),
            load: Minutes(self.load),
            cleanup: Minutes(self.cleanup),
            due: Some(Minute(self.due)),
            weight: self.weight,
            operations: self.operations.iter().map(operation).collect(),
        }
    }
}

/// A schedule in the truth's form.
#[must_use]
pub fn written(schedule: &Schedule) -> Vec<Written> {
    let step = |s: &chargehand_daemon::dayplan::Step| {
        let (what, operation, bit) = match &s.doing {
            Doing::Load => ("load", None, None),
            Doing::BitChange(bit) => ("bit", None, Some(bit.0.clone())),
            Doing::Cut { operation, .. } => ("op", Some(operation.clone()), None),
            Doing::Cleanup => ("cleanup", None, None),
        };
        WrittenStep { what: what.to_owned(), start: s.start.0, end: s.end.0, operation, bit }
    };
    let blocks = schedule.blocks.iter();
    blocks.map(|b| Written { sheet: b.sheet.0.clone(), steps: b.steps.iter().map(step).collect() }).collect()
}
