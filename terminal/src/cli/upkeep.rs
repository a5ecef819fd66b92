//! `chargehand upkeep`: what is to be kept up, what is due, who did it last.
//!
//! May live here: sending and showing. May not: when something is due; the daemon says so.

use super::end::End;
use super::line::UpkeepVerb;
use super::page::{fold, json, say};
use super::person;
use crate::client::Api;
use crate::outside;
use chargehand_types::upkeep::UpkeepRow;

pub(super) async fn run(api: &Api, verb: Option<UpkeepVerb>, as_json: bool) -> Result<(), End> {
    match verb {
        Some(UpkeepVerb::Done { name, who }) => {
            person::sign_in(api, who).await?;
            say(&fold("", &api.upkeep_done(&name).await?.said, 0))
        }
        None if as_json => json(&api.upkeep().await?),
        None => say(&list(&api.upkeep().await?.upkeep)),
    }
}

/// One paragraph a thing, what is due first.
pub(super) fn list(rows: &[UpkeepRow]) -> String {
    if rows.is_empty() {
        return "Nothing is named. Say what is to be kept up in daemon.toml: [[upkeep]].\n".to_owned();
    }
    let mut sorted: Vec<&UpkeepRow> = rows.iter().collect();
    sorted.sort_by_key(|row| !row.due);
    sorted.into_iter().map(one).collect()
}

fn one(row: &UpkeepRow) -> String {
    let units = [(row.hours, "h in motion"), (row.metres, "m of cut"), (row.days, "days")];
    let since: Vec<String> = units
        .into_iter()
        .filter_map(|(of, unit)| of.map(|[since, every]| format!("{since:.1} {unit} of {every:.0}")))
        .collect();
    let done = match &row.done {
        Some((by, at)) => {
            let by = by.as_ref().map_or_else(String::new, |by| format!(" by {}", by.who));
            format!("done {}{by}", outside::local_minute(*at))
        }
        None => "not done yet since the shop's first record".to_owned(),
    };
    let word = if row.due { "DUE" } else { "fine" };
    format!(
        "{}   {word}\n{}{}",
        row.name,
        fold("  ", &row.what, 4),
        fold("  ", &format!("{}; {done}", since.join(", ")), 4)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_due_comes_first() {
        let row = |name: &str, due| UpkeepRow {
            name: name.to_owned(),
            what: "Brush it".to_owned(),
            hours: Some([12.0, 10.0]),
            metres: None,
            days: Some([3.0, 90.0]),
            due,
            done: None,
        };
        let text = list(&[row("drive", false), row("collet", true)]);
        assert!(text.starts_with("collet   DUE") && text.contains("12.0 h in motion of 10, 3.0 days of 90"), "{text}");
        assert!(list(&[]).contains("[[upkeep]]"));
    }
}
