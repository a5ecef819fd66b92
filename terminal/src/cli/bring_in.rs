//! `chargehand bring-in`: a table of sheets that were cut before, read by its heading and sent row by row.
//!
//! May live here: the table's form (RFC 4180, commas or semicolons) and its heading. May not: what a row may say; the
//! daemon judges that.

use super::end::End;
use super::page::{fold, json, say};
use super::person;
use crate::client::Api;
use crate::{outside, words};
use chargehand_types::brought::{BroughtIn, BroughtRow, Column};
use clap::Args;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Rows of one request.
const SENT: usize = 2_000;
/// Refused rows that are told one by one as text.
const TOLD_MOST: usize = 50;

/// `bring-in`
#[derive(Debug, Args)]
pub struct BringInLine {
    /// The table (CSV with a heading). Columns: date and card; batch, by, thickness (mm), bit, predicted and minutes,
    /// metres, good, rework, scrap, grade, reason, lot, note as far as there are any
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// A column by another heading, such as minutes="run time"
    #[arg(long = "map", value_name = "COLUMN=HEADING", value_parser = mapped)]
    pub map: Vec<(Column, String)>,
    /// Only say what would be taken in and what would be refused
    #[arg(long)]
    pub only_look: bool,
    /// Who brings them in; signs in as them at the machine
    #[arg(long, value_name = "NAME")]
    pub who: Option<String>,
    /// One JSON document on stdout
    #[arg(long)]
    pub json: bool,
}

fn mapped(text: &str) -> Result<(Column, String), String> {
    let (name, heading) = text.split_once('=').ok_or("write it as COLUMN=HEADING, such as minutes=\"run time\"")?;
    let known = Column::ALL.into_iter().find(|column| column.word() == name.trim().to_lowercase());
    let column = known.ok_or_else(|| {
        let all: Vec<&str> = Column::ALL.iter().map(|column| column.word()).collect();
        format!("there is no column {name:?}; there are {}", all.join(", "))
    })?;
    Ok((column, heading.to_owned()))
}

pub(super) async fn run(api: &Api, line: BringInLine) -> Result<(), End> {
    let name = line.file.display();
    let bytes = outside::file(&line.file).map_err(|e| End::Missing(format!("{name} cannot be read: {e}.")))?;
    let text = String::from_utf8(bytes).map_err(|_| End::Missing(format!("{name} is no UTF-8 text.")))?;
    let (rows, passed_over) = rows(&text, &line.map).map_err(|why| End::Missing(format!("{name}: {why}")))?;
    person::sign_in(api, line.who).await?;
    let mut sum = BroughtIn { schema: chargehand_types::SCHEMA, taken: 0, known: 0, refused: Vec::new() };
    for some in rows.chunks(SENT) {
        let part = api.bring_in(some.to_vec(), line.only_look).await?;
        sum.taken += part.taken;
        sum.known += part.known;
        sum.refused.extend(part.refused);
    }
    if line.json {
        return json(&sum);
    }
    say(&told(&sum, line.only_look, &passed_over))
}

fn told(sum: &BroughtIn, only_look: bool, passed_over: &[String]) -> String {
    let would = if only_look { "would be" } else { "are" };
    let counted = |n: u32| words::count(n.into(), "sheet");
    let mut out = fold(
        "",
        &format!(
            "{} {would} taken in, {} were here already, {} refused.",
            counted(sum.taken),
            sum.known,
            sum.refused.len()
        ),
        0,
    );
    if !passed_over.is_empty() {
        out.push_str(&fold("Columns passed over: ", &format!("{}.", passed_over.join(", ")), 2));
    }
    for (number, why) in sum.refused.iter().take(TOLD_MOST) {
        out.push_str(&fold(&format!("  row {number}: "), &format!("{why}."), 4));
    }
    if sum.refused.len() > TOLD_MOST {
        out.push_str(&format!("  and {} more: --json tells all.\n", sum.refused.len() - TOLD_MOST));
    }
    out
}

/// Rows by the heading, and headings that name no column.
fn rows(text: &str, map: &[(Column, String)]) -> Result<(Vec<BroughtRow>, Vec<String>), String> {
    let table = table(text.trim_start_matches('\u{feff}'))?;
    let (_, heading) = table.first().ok_or("it is empty; a heading is wanted")?;
    let plain = |text: &str| text.trim().to_lowercase();
    let mut columns: Vec<Option<Column>> = Vec::new();
    let mut passed_over = Vec::new();
    for name in heading {
        let mapped = map.iter().find(|(_, heading)| plain(heading) == plain(name)).map(|(column, _)| *column);
        // a column that goes by another heading is not looked for under its own
        let own = Column::ALL.into_iter().find(|c| c.word() == plain(name) && map.iter().all(|(known, _)| known != c));
        let column = mapped.or(own);
        if let Some(column) = column
            && columns.contains(&Some(column))
        {
            return Err(format!("two columns are {}", column.word()));
        }
        if column.is_none() && !name.trim().is_empty() {
            passed_over.push(name.trim().to_owned());
        }
        columns.push(column);
    }
    if let Some((column, heading)) = map.iter().find(|(column, _)| !columns.contains(&Some(*column))) {
        return Err(format!("no column is headed {heading:?}, which is to be {}", column.word()));
    }
    let mut alike: BTreeMap<BTreeMap<Column, String>, u32> = BTreeMap::new();
    let mut out = Vec::new();
    for (number, cells) in table.into_iter().skip(1) {
        let cells: BTreeMap<Column, String> = columns
            .iter()
            .zip(cells)
            .filter_map(|(column, cell)| Some(((*column)?, cell.trim().to_owned())))
            .filter(|(_, cell)| !cell.is_empty())
            .collect();
        if cells.is_empty() {
            continue;
        }
        let before = alike.entry(cells.clone()).or_default();
        out.push(BroughtRow { number, alike: *before, cells });
        *before += 1;
    }
    Ok((out, passed_over))
}

/// Lines of cells, each with its number from 1, as RFC 4180 has them; the heading says whether commas or semicolons part
/// them.
fn table(text: &str) -> Result<Vec<(u32, Vec<String>)>, String> {
    let first = text.lines().next().unwrap_or_default();
    let between = if first.matches(';').count() > first.matches(',').count() { ';' } else { ',' };
    let mut lines: Vec<(u32, Vec<String>)> = Vec::new();
    let (mut cells, mut cell, mut quoted, mut number) = (Vec::new(), String::new(), false, 1_u32);
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' if quoted && letters.peek() == Some(&'"') => {
                cell.push('"');
                letters.next();
            }
            '"' if quoted => quoted = false,
            '"' if cell.is_empty() => quoted = true,
            _ if quoted => cell.push(letter),
            _ if letter == between => cells.push(std::mem::take(&mut cell)),
            '\r' if letters.peek() == Some(&'\n') => {}
            '\n' => {
                cells.push(std::mem::take(&mut cell));
                lines.push((number, std::mem::take(&mut cells)));
                number += 1;
            }
            _ => cell.push(letter),
        }
    }
    if quoted {
        return Err(format!("a quote is opened in row {number} and never closed"));
    }
    if !cell.is_empty() || !cells.is_empty() {
        cells.push(cell);
        lines.push((number, cells));
    }
    lines.retain(|(_, cells)| cells.iter().any(|cell| !cell.trim().is_empty()));
    Ok(lines)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_read_as_the_standard_has_it() {
        // RFC 4180, section 2: its own examples
        let read = table("aaa,\"b\r\nbb\",ccc\r\nzzz,yyy,xxx").unwrap();
        assert_eq!(
            read,
            [
                (1, vec!["aaa".into(), "b\r\nbb".into(), "ccc".into()]),
                (2, vec!["zzz".into(), "yyy".into(), "xxx".into()])
            ]
        );
        let read = table("\"aaa\",\"b\"\"bb\",\"ccc\"\n\n;").unwrap();
        assert_eq!(read[0].1, ["aaa", "b\"bb", "ccc"]);
        assert_eq!(table("a;b\n1,5;2\n").unwrap()[1].1, ["1,5", "2"]);
        assert!(table("a,\"b\n1,2\n").unwrap_err().contains("never closed"));
    }

    #[test]
    fn columns_go_by_their_heading() {
        let text = "Card,Day,run time,colour,Good\ntray,2024-03-01,12,red,4\n\ntray,2024-03-01,12,blue,4\n";
        let map = [(Column::Date, "day".to_owned()), (Column::Minutes, "Run time".to_owned())];
        let (rows, passed_over) = rows(text, &map).unwrap();
        assert_eq!(passed_over, ["colour"]);
        assert_eq!(rows.iter().map(|r| (r.number, r.alike)).collect::<Vec<_>>(), [(2, 0), (4, 1)]);
        assert_eq!(rows[0].cells[&Column::Minutes], "12");
        assert!(super::rows("card,card\n", &[]).unwrap_err().contains("two columns"));
        assert!(super::rows("card\n", &map).unwrap_err().contains("no column is headed"));
        assert!(super::rows("", &[]).unwrap_err().contains("empty"));
    }
}
