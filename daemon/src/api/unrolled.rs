//! The history of sheets as it is told: its records are made as they are written, so that no more of them are there at a
//! time than are on their way.
//!
//! May live here: the form of that answer. May not: which sheets are in it.

use chargehand_types::SCHEMA;
use chargehand_types::history::SheetRecord;
use chargehand_types::problem::Problem;
use serde::ser::{Error as _, SerializeSeq as _, SerializeStruct as _};
use serde::{Serialize, Serializer};
use std::cell::RefCell;

/// What makes the records, in order.
type Records = Box<dyn Iterator<Item = Result<SheetRecord, Problem>> + Send>;

/// The answer of `GET /v1/history/sheets`, in the form of [`chargehand_types::history::SheetHistory`]. It is told once.
pub struct Unrolled {
    older: u32,
    records: RefCell<Option<Records>>,
}

impl Unrolled {
    /// From what makes the records, and how many older ones are left out.
    pub fn of(records: impl Iterator<Item = Result<SheetRecord, Problem>> + Send + 'static, older: u32) -> Self {
        Self { older, records: RefCell::new(Some(Box::new(records))) }
    }
}

/// A list whose members are made one by one.
struct List(RefCell<Records>);

impl Serialize for List {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut list = to.serialize_seq(None)?;
        for record in &mut *self.0.borrow_mut() {
            // an answer that ends early is no answer: its reader is told by the line
            list.serialize_element(&record.map_err(|p| S::Error::custom(p.detail))?)?;
        }
        list.end()
    }
}

impl Serialize for Unrolled {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let records = self.records.borrow_mut().take();
        let records = records.ok_or_else(|| S::Error::custom("the history was told already"))?;
        let mut whole = to.serialize_struct("SheetHistory", 3)?;
        whole.serialize_field("schema", &SCHEMA)?;
        whole.serialize_field("sheets", &List(RefCell::new(records)))?;
        whole.serialize_field("older", &self.older)?;
        whole.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::history::SheetHistory;
    use chargehand_types::problem::ProblemKind;

    fn record(number: u32) -> SheetRecord {
        serde_json::from_value(serde_json::json!({
            "sheet": format!("B1-{number}"), "batch": "B1", "card": "tray", "revision": "r", "stage": "closed",
            "begun": null, "closed": null, "operators": [], "thickness": [12.0], "fasteners": [], "operations": [],
            "bits": [], "stops": [], "parts": [], "grade": "good", "notes": ["a \"note\""]
        }))
        .unwrap()
    }

    #[test]
    fn it_is_the_document_of_a_whole_history() {
        for sheets in [0, 1, 5] {
            let sheets: Vec<SheetRecord> = (0..sheets).map(record).collect();
            let unrolled = Unrolled::of(sheets.clone().into_iter().map(Ok), 7);
            let told = serde_json::to_string(&unrolled).unwrap();
            assert_eq!(told, serde_json::to_string(&SheetHistory { schema: SCHEMA, sheets, older: 7 }).unwrap());
            assert!(serde_json::to_string(&unrolled).is_err(), "it is told once");
        }
    }

    #[test]
    fn one_that_cannot_be_made_whole_is_none() {
        let gone = || Err(Problem::new(ProblemKind::OurFault, "the state cannot be read"));
        let told = serde_json::to_string(&Unrolled::of([Ok(record(1)), gone()].into_iter(), 0));
        assert!(told.unwrap_err().to_string().contains("cannot be read"));
    }
}
