//! Rows of a table of sheets that were cut before Chargehand, judged one by one.
//!
//! May live here: what a row must and may say, and its id. May not: reading files, the state.

use chargehand_types::brought::{BroughtRow, BroughtSheet, Column};
use chargehand_types::id::SheetId;
use chargehand_types::quantity::{Length, Metres, Seconds};
use chargehand_types::stage::{Grade, Reason};
use chrono::{DateTime, NaiveDate, NaiveDateTime, NaiveTime, Utc};
use chrono_tz::Tz;
use sha2::{Digest, Sha256};

/// Nothing was cut by numbers before this year: a date before it is a slip of the pen.
const EARLIEST: i32 = 1950;
/// Parts of one kind on a sheet, minutes and metres of one sheet at most.
const PARTS_MOST: u32 = 2000;
const MINUTES_MOST: f64 = 7.0 * 24.0 * 60.0;
const METRES_MOST: f64 = 100_000.0;
const THICKEST: f64 = 200.0;
/// A day without a time counts at noon.
const NOON: (u32, u32) = (12, 0);

/// A row as a sheet of the history. `zone` is the shop's, `now` the moment.
///
/// # Errors
/// What is wrong with the row, as a sentence.
pub fn judge(row: &BroughtRow, zone: Tz, now: DateTime<Utc>) -> Result<BroughtSheet, String> {
    let cell = |column: Column| row.cells.get(&column).map(|text| text.trim()).filter(|text| !text.is_empty());
    let needed = |column: Column| cell(column).ok_or_else(|| format!("it has no {}", column.word()));
    let closed = moment(needed(Column::Date)?, zone)?;
    if closed > now {
        return Err("its date is in the future".to_owned());
    }
    let words = |column| cell(column).map(str::to_owned);
    let number = |column: Column, most: f64| cell(column).map(|text| number(text, column, most)).transpose();
    let count = |column: Column| -> Result<Option<u32>, String> {
        let Some(text) = cell(column) else { return Ok(None) };
        let found = text.parse::<u32>().ok().filter(|n| *n <= PARTS_MOST);
        found
            .map(Some)
            .ok_or_else(|| format!("{} is `{}`, which is no number of parts", column.word(), text.escape_debug()))
    };
    let counted = [count(Column::Good)?, count(Column::Rework)?, count(Column::Scrap)?];
    let parts = counted.map(|n| n.unwrap_or(0));
    let said = cell(Column::Grade).map(grade).transpose()?;
    let grade = match said {
        Some(grade) => grade,
        None if counted.iter().all(Option::is_none) => {
            return Err("neither its grade nor its parts are told".to_owned());
        }
        None => of_parts(parts),
    };
    let minutes = |minutes: f64| Seconds::of(minutes * 60.0);
    Ok(BroughtSheet {
        card: needed(Column::Card)?.to_owned(),
        batch: words(Column::Batch),
        closed,
        by: words(Column::By),
        thickness: number(Column::Thickness, THICKEST)?.and_then(|mm| Length::from_mm(mm).ok()),
        bit: words(Column::Bit),
        predicted: number(Column::Predicted, MINUTES_MOST)?.map(minutes),
        real: number(Column::Minutes, MINUTES_MOST)?.map(minutes),
        cut: number(Column::Metres, METRES_MOST)?.map(Metres::of),
        parts,
        grade,
        reason: cell(Column::Reason).map(reason).transpose()?,
        lot: words(Column::Lot),
        note: words(Column::Note),
    })
}

/// The id of a row: the same words give the same id, so that a table brought in twice is there once.
#[must_use]
pub fn id(row: &BroughtRow) -> SheetId {
    let mut sum = Sha256::new();
    for (column, text) in &row.cells {
        sum.update(column.word().as_bytes());
        sum.update([0]);
        sum.update(text.trim().as_bytes());
        sum.update([0]);
    }
    sum.update(row.alike.to_be_bytes());
    let hex: String = sum.finalize().iter().take(6).map(|byte| format!("{byte:02x}")).collect();
    SheetId(format!("old-{hex}"))
}

/// 2024-03-01, 2024-03-01 14:30, or RFC 3339.
fn moment(text: &str, zone: Tz) -> Result<DateTime<Utc>, String> {
    let wrong = || format!("date is `{}`; write it as 2024-03-01 or \"2024-03-01 14:30\"", text.escape_debug());
    let at = match DateTime::parse_from_rfc3339(text) {
        Ok(at) => at.to_utc(),
        Err(_) => {
            let noon = NaiveTime::from_hms_opt(NOON.0, NOON.1, 0).unwrap_or(NaiveTime::MIN);
            let day = || NaiveDate::parse_from_str(text, "%Y-%m-%d").map(|day| day.and_time(noon));
            let local =
                NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").or_else(|_| day()).map_err(|_| wrong())?;
            local.and_local_timezone(zone).earliest().ok_or_else(wrong)?.to_utc()
        }
    };
    let earliest = NaiveDate::from_ymd_opt(EARLIEST, 1, 1).unwrap_or(NaiveDate::MIN);
    if at.date_naive() < earliest { Err(format!("its date is before {EARLIEST}")) } else { Ok(at) }
}

/// A number with a point or a comma.
fn number(text: &str, column: Column, most: f64) -> Result<f64, String> {
    let value = text.replace(',', ".").parse::<f64>().ok().filter(|value| (0.0..=most).contains(value));
    value.ok_or_else(|| format!("{} is `{}`; a number from 0 to {most} is wanted", column.word(), text.escape_debug()))
}

fn grade(text: &str) -> Result<Grade, String> {
    match text.to_lowercase().as_str() {
        "good" | "ok" => Ok(Grade::Good),
        "rework" | "to rework" => Ok(Grade::Rework),
        "scrap" => Ok(Grade::Scrap),
        _ => Err(format!("grade is `{}`; there are good, rework and scrap", text.escape_debug())),
    }
}

fn reason(text: &str) -> Result<Reason, String> {
    let word = text.to_lowercase().replace(' ', "-");
    let known = serde_json::from_value(serde_json::Value::String(word));
    known.map_err(|_| {
        format!(
            "reason is `{}`; there are torn-face, fuzzy, burnt-edge, tab-scar, came-loose, slot-tight, slot-loose, delaminated, wrong-size and other",
            text.escape_debug()
        )
    })
}

/// As a sheet's grade follows from its parts.
const fn of_parts([good, rework, scrap]: [u32; 3]) -> Grade {
    match (good, rework, scrap) {
        (_, 0, 0) => Grade::Good,
        (0, 0, _) => Grade::Scrap,
        _ => Grade::Rework,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(cells: &[(Column, &str)]) -> BroughtRow {
        let cells = cells.iter().map(|(column, text)| (*column, (*text).to_owned())).collect();
        BroughtRow { number: 2, alike: 0, cells }
    }

    fn judged(cells: &[(Column, &str)]) -> Result<BroughtSheet, String> {
        judge(&row(cells), Tz::Europe__Vienna, DateTime::from_timestamp(1_780_000_000, 0).unwrap())
    }

    #[test]
    fn a_row_becomes_a_sheet() {
        let sheet = judged(&[
            (Column::Date, "2024-07-01 08:30"),
            (Column::Card, " tray "),
            (Column::Minutes, "12,5"),
            (Column::Good, "3"),
            (Column::Rework, "1"),
            (Column::Reason, "Torn face"),
        ])
        .unwrap();
        // 8:30 in Vienna in summer is 6:30 of universal time
        assert_eq!(sheet.closed.to_rfc3339(), "2024-07-01T06:30:00+00:00");
        assert_eq!((sheet.card.as_str(), sheet.real), ("tray", Some(Seconds::of(750.0))));
        assert_eq!((sheet.parts, sheet.grade, sheet.reason), ([3, 1, 0], Grade::Rework, Some(Reason::TornFace)));
    }

    #[test]
    fn what_a_row_cannot_say_is_told() {
        let date = (Column::Date, "2024-07-01");
        let card = (Column::Card, "tray");
        for (cells, word) in [
            (vec![card], "no date"),
            (vec![date, (Column::Good, "1")], "no card"),
            (vec![date, card], "neither its grade nor its parts"),
            (vec![(Column::Date, "01.07.2024"), card], "write it as"),
            (vec![(Column::Date, "2099-01-01"), card, (Column::Good, "1")], "future"),
            (vec![(Column::Date, "0024-07-01"), card, (Column::Good, "1")], "before 1950"),
            (vec![date, card, (Column::Good, "-1")], "no number of parts"),
            (vec![date, card, (Column::Good, "1"), (Column::Minutes, "long")], "a number from 0"),
            (vec![date, card, (Column::Grade, "meh")], "good, rework and scrap"),
            (vec![date, card, (Column::Good, "1"), (Column::Reason, "ugly")], "torn-face"),
        ] {
            let told = judged(&cells).unwrap_err();
            assert!(told.contains(word), "{word}: {told}");
        }
    }

    #[test]
    fn the_same_words_give_the_same_id() {
        let one = row(&[(Column::Card, "tray"), (Column::Note, "a")]);
        let spaced = row(&[(Column::Note, " a "), (Column::Card, "tray")]);
        assert_eq!(id(&one), id(&BroughtRow { number: 9, ..spaced }));
        assert_ne!(id(&one), id(&BroughtRow { alike: 1, ..one.clone() }));
        assert_ne!(id(&one), id(&row(&[(Column::Card, "traya"), (Column::Note, "")])));
    }
}
