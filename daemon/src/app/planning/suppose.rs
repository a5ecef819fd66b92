//! What somebody wants to suppose: other hours on a day, more or fewer sheets. Nothing is changed by it.

use crate::shop::config::{Exception, Hours};
use chargehand_types::id::BatchId;
use chrono::{NaiveDate, NaiveTime};

/// What is supposed in place of what is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Supposed {
    /// On a day somebody is there just then; nobody where there are no hours.
    presence: Vec<(NaiveDate, Option<(NaiveTime, NaiveTime)>)>,
    /// So many sheets of a batch more, or fewer.
    pub sheets: Vec<(BatchId, i32)>,
    /// As it was asked.
    pub asked: Vec<String>,
}

/// Why something cannot be supposed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotSupposed {
    /// Hours that are not understood.
    #[error("`{0}` is not understood as hours: write 2026-03-12 09:00-13:00, or 2026-03-12 none, with commas between")]
    Presence(String),
    /// A number of sheets that is not understood.
    #[error("`{0}` is not understood as sheets: write B2+3 or B2-1, with commas between")]
    Sheets(String),
    /// No such batch waits.
    #[error("there is no batch {0} with sheets that wait")]
    NoBatch(BatchId),
}

/// More sheets than this are not supposed of a batch.
const SHEETS_AT_MOST: i32 = 100;

impl Supposed {
    /// Reads what was asked.
    ///
    /// # Errors
    /// With the first part that is not understood.
    pub fn read(presence: Option<&str>, sheets: Option<&str>) -> Result<Self, NotSupposed> {
        let mut supposed = Self::default();
        for item in presence.iter().flat_map(|p| p.split(',')) {
            supposed.presence.push(day(item.trim()).ok_or_else(|| NotSupposed::Presence(item.to_owned()))?);
            supposed.asked.push(format!("presence {}", item.trim()));
        }
        for item in sheets.iter().flat_map(|s| s.split(',')) {
            supposed.sheets.push(number(item.trim()).ok_or_else(|| NotSupposed::Sheets(item.to_owned()))?);
            supposed.asked.push(format!("sheets {}", item.trim()));
        }
        Ok(supposed)
    }

    /// Nothing is supposed.
    #[must_use]
    pub const fn is_nothing(&self) -> bool {
        self.asked.is_empty()
    }

    /// The shop's hours with what is supposed of them.
    pub fn hours(&self, hours: &Hours) -> Hours {
        let mut hours = hours.clone();
        hours.exceptions.retain(|e| !self.presence.iter().any(|(date, _)| *date == e.date));
        let supposed =
            self.presence.iter().map(|(date, instead)| Exception { date: *date, who: None, instead: *instead });
        hours.exceptions.extend(supposed);
        hours
    }
}

fn day(text: &str) -> Option<(NaiveDate, Option<(NaiveTime, NaiveTime)>)> {
    let (date, hours) = text.split_once([' ', 'T'])?;
    let date = NaiveDate::parse_from_str(date, "%Y-%m-%d").ok()?;
    let hours = hours.trim();
    if hours == "none" {
        return Some((date, None));
    }
    let (from, to) = hours.split_once('-')?;
    let time = |t: &str| NaiveTime::parse_from_str(t.trim(), "%H:%M").ok();
    let (from, to) = (time(from)?, time(to)?);
    (from != to).then_some((date, Some((from, to))))
}

fn number(text: &str) -> Option<(BatchId, i32)> {
    let at = text.rfind(['+', '-'])?;
    let (batch, number) = text.split_at(at);
    let number: i32 = number.parse().ok()?;
    let batch = batch.trim();
    let fine = !batch.is_empty() && number != 0 && number.abs() <= SHEETS_AT_MOST;
    fine.then(|| (BatchId(batch.to_owned()), number))
}
