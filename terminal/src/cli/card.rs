//! `chargehand card`: cards added, listed, shown; `card new` has its own file.
//!
//! May live here: sending and showing. May not: judging.

use super::end::End;
use super::line::CardVerb;
use super::page::{cut, fold, json, say, table};
use super::{card_new, files, findings};
use crate::client::Api;
use crate::{outside, words};
use chargehand_types::change::CardChanges;
use chargehand_types::id::CardName;
use chargehand_types::queue::{CardRow, CardShown};

pub(super) async fn run(api: &Api, verb: CardVerb) -> Result<(), End> {
    match verb {
        CardVerb::New(line) => card_new::run(api, line).await,
        CardVerb::Add { card } => {
            let files = files::read(&card)?;
            let programs = files::programs_by_operation(&files.text);
            let done = api.add_card(files).await?;
            let mut text = fold("", &done.said, 0);
            if let Some(changes) = &done.changes {
                text.push('\n');
                text.push_str(&changed(changes));
            }
            if !done.findings.is_empty() {
                text.push('\n');
                text.push_str(&findings::told(&done.findings, &programs));
            }
            say(&text)
        }
        CardVerb::List { json: true } => json(&api.cards().await?),
        CardVerb::List { json: false } => say(&list(&api.cards().await?.cards)),
        CardVerb::Show { name, revision, changes: true, json: as_json } => {
            let changes = api.card_changes(&CardName(name), revision).await?;
            if as_json { json(&changes) } else { say(&changed(&changes)) }
        }
        CardVerb::Show { name, revision, changes: false, json: as_json } => {
            let shown = api.card(&CardName(name), revision).await?;
            if as_json { json(&shown) } else { say(&show(&shown)) }
        }
    }
}

/// What changed, and which signatures still stand.
fn changed(changes: &CardChanges) -> String {
    let mut out = format!("Revision {} against revision {}:\n", changes.after.0, changes.before.0);
    if changes.changes.is_empty() {
        out.push_str("  Nothing that is cut or checked.\n");
    }
    for change in &changes.changes {
        out.push_str(&fold("  - ", &change.says, 4));
    }
    for s in &changes.signatures {
        let place = s.operation.as_ref().map_or_else(String::new, |o| format!(" in `{o}`"));
        let by = s.by.as_ref().map_or_else(String::new, |who| format!(" by {who}"));
        let now = if s.stands { "still stands" } else { "no longer stands: the owner looks at it anew" };
        out.push_str(&fold("  signed: ", &format!("{}{place}{by} {now}", s.code), 4));
    }
    out
}

fn list(cards: &[CardRow]) -> String {
    if cards.is_empty() {
        return "No card yet. Add one with: chargehand card add CARDFILE\n".to_owned();
    }
    let mut rows = vec![["card", "title", "rev", "time", "parts", "check"].map(str::to_owned).to_vec()];
    for c in cards {
        rows.push(vec![
            cut(&c.name.0, 22),
            cut(&c.title, 20),
            c.number.to_string(),
            words::span(c.seconds),
            c.parts.to_string(),
            marks(c.findings),
        ]);
    }
    table(&rows)
}

fn marks([stops, signs, notes]: [u32; 3]) -> String {
    match (stops, signs, notes) {
        (0, 0, 0) => "clean".to_owned(),
        (0, 0, n) => words::count(n.into(), "note"),
        (0, _, _) => "owner signs".to_owned(),
        (_, _, _) => "cannot run".to_owned(),
    }
}

fn show(shown: &CardShown) -> String {
    let row = &shown.row;
    let mut out = format!("{}   {}\n", row.name, row.title);
    out.push_str(&format!(
        "  revision {} ({}), added {}\n",
        row.number,
        words::short(&row.revision.0),
        outside::local_minute(row.added)
    ));
    out.push_str(&format!(
        "  {}, {} a sheet, {}\n",
        words::count(row.parts.into(), "part"),
        words::span(row.seconds),
        findings::counted(row.findings)
    ));
    if shown.revisions.len() > 1 {
        let all: Vec<String> = shown.revisions.iter().map(|(n, r)| format!("{n} ({})", words::short(&r.0))).collect();
        out.push_str(&fold("  revisions: ", &all.join(", "), 4));
    }
    if !shown.findings.is_empty() {
        out.push('\n');
        out.push_str(&findings::told(&shown.findings, &files::programs_by_operation(&shown.text)));
    }
    out.push_str("\nThe card:\n");
    for line in shown.text.lines() {
        out.push_str(&format!("  {line}\n"));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::quantity::Seconds;

    fn row() -> CardRow {
        CardRow {
            name: "tray-with-a-name-that-never-ends".into(),
            title: "Seed tray with a title that never ends".into(),
            revision: "abc".into(),
            number: 2,
            added: outside::utc_now(),
            findings: [0, 1, 2],
            seconds: Seconds::of(700.0),
            parts: 6,
        }
    }

    #[test]
    fn a_long_name_keeps_the_columns() {
        let text = list(&[row()]);
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        assert!(text.contains("owner signs"));
    }

    #[test]
    fn an_empty_list_says_what_to_do() {
        assert!(list(&[]).contains("card add"));
    }

    #[test]
    fn a_shown_card_has_its_text() {
        let shown = CardShown {
            schema: 1,
            row: row(),
            revisions: vec![(1, "aaa".into()), (2, "abc".into())],
            text: "[card]\nname = \"t\"\n".into(),
            findings: vec![],
        };
        let text = show(&shown);
        assert!(text.contains("revisions: 1 (aaa), 2 (abc)") && text.ends_with("  name = \"t\"\n"), "{text}");
    }
}
