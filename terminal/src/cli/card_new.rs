//! `chargehand card new`: a card drafted from programs, what nobody can read from them asked, and the card written.
//!
//! May live here: which files are sent and written, asking a person. May not: reading a program, guessing.

use super::end::End;
use super::line::NewLine;
use super::page::{fold, json, say};
use super::{files, findings};
use crate::client::Api;
use crate::outside;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use chargehand_types::draft::{Draft, DraftProgram, DraftRequest, Question};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Rounds of questions: an answer may raise another, and a wrong one is asked again.
const ROUNDS: usize = 50;

pub(super) async fn run(api: &Api, line: NewLine) -> Result<(), End> {
    let folder = PathBuf::from(&line.name);
    let card = folder.join(format!("{}.card.toml", line.name));
    if card.exists() && !line.replace {
        return Err(there_already(&card));
    }
    let programs = gather(&folder, &line.programs)?;
    let mut request = DraftRequest {
        name: line.name.as_str().into(),
        programs: programs.iter().map(Program::sent).collect(),
        answers: line.answers.iter().cloned().collect(),
    };
    let mut draft = api.draft_card(&request).await?;
    if outside::is_somebody_there() && !line.json {
        draft = ask(api, &mut request, draft).await?;
    }
    for program in &programs {
        program.put_beside(&folder)?;
    }
    write(&card, &draft.text, line.replace)?;
    if line.json {
        json(&draft)?;
    } else {
        say(&told(&draft, &card))?;
    }
    match draft.missing.as_slice() {
        [] => Ok(()),
        missing => Err(End::Missing(unanswered(missing, &card))),
    }
}

/// A program as it was named, and as the card will name it.
#[derive(Debug)]
struct Program {
    from: PathBuf,
    /// Path from the card's folder.
    path: String,
    bytes: Vec<u8>,
    /// It lies there already.
    beside: bool,
}

impl Program {
    fn sent(&self) -> DraftProgram {
        DraftProgram { path: self.path.clone(), bytes: STANDARD.encode(&self.bytes) }
    }

    /// Copies it beside the card, never over another program.
    fn put_beside(&self, folder: &Path) -> Result<(), End> {
        if self.beside {
            return Ok(());
        }
        let to = folder.join(&self.path);
        if outside::file(&to).is_ok_and(|there| there == self.bytes) {
            return Ok(());
        }
        outside::write_new_file(&to, &self.bytes).map_err(|e| {
            let from = self.from.display();
            let why = match e.kind() {
                std::io::ErrorKind::AlreadyExists => "another program lies there".to_owned(),
                _ => e.to_string(),
            };
            End::Missing(format!("{from} cannot be copied to {}: {why}. Nothing was written over.", to.display()))
        })
    }
}

/// Reads the programs; what lies in the card's folder is named from there, everything else is to be copied.
fn gather(folder: &Path, programs: &[PathBuf]) -> Result<Vec<Program>, End> {
    let home = folder.canonicalize().ok();
    let mut all: Vec<Program> = Vec::new();
    for from in programs {
        let bytes =
            outside::file(from).map_err(|e| End::Missing(format!("{} cannot be read: {e}.", from.display())))?;
        let real = from.canonicalize().ok();
        let inside = home.as_ref().zip(real.as_ref()).and_then(|(home, real)| real.strip_prefix(home).ok());
        let beside = inside.is_some();
        let relative = inside.map(Path::to_path_buf).or_else(|| from.file_name().map(PathBuf::from));
        let Some(path) = relative.as_deref().and_then(Path::to_str).map(str::to_owned) else {
            return Err(End::Missing(format!("{} has no name a card can give.", from.display())));
        };
        if let Some(other) = all.iter().find(|p| p.path == path) {
            let (a, b) = (other.from.display(), from.display());
            return Err(End::WrongUse(format!("{a} and {b} would both lie beside the card as {path}.")));
        }
        all.push(Program { from: from.clone(), path, bytes, beside });
    }
    Ok(all)
}

/// Asks the person until nothing is missing, or no more is typed.
async fn ask(api: &Api, request: &mut DraftRequest, mut draft: Draft) -> Result<Draft, End> {
    for _ in 0..ROUNDS {
        let Some(question) = draft.missing.first() else { break };
        eprint!("{}", put(question));
        let Some(typed) = outside::typed_line().map_err(End::Out)? else { break };
        let answer = if typed.is_empty() { question.suggested.clone().unwrap_or_default() } else { typed };
        if answer.is_empty() {
            continue;
        }
        let key = question.key.clone();
        request.answers.insert(key.clone(), answer);
        match api.draft_card(request).await {
            Ok(better) => draft = better,
            Err(fault) => {
                eprintln!("{fault}");
                request.answers.remove(&key);
            }
        }
    }
    Ok(draft)
}

/// A question as it is put at a terminal.
fn put(question: &Question) -> String {
    let mut out = fold("", &question.asks, 0);
    if !question.choices.is_empty() {
        out.push_str(&fold("  ", &question.choices.join(", "), 2));
    }
    match &question.suggested {
        Some(likely) => out.push_str(&format!("  {} [{likely}]: ", question.key)),
        None => out.push_str(&format!("  {}: ", question.key)),
    }
    out
}

fn write(card: &Path, text: &str, replace: bool) -> Result<(), End> {
    let written = if replace {
        outside::write_file(card, text.as_bytes())
    } else {
        outside::write_new_file(card, text.as_bytes())
    };
    written.map_err(|e| match e.kind() {
        std::io::ErrorKind::AlreadyExists => there_already(card),
        _ => End::Missing(format!("{} cannot be written: {e}.", card.display())),
    })
}

fn there_already(card: &Path) -> End {
    let card = card.display();
    End::Missing(format!("{card} is there already, and was left alone. Add --replace to draft it anew over it."))
}

fn told(draft: &Draft, card: &Path) -> String {
    let mut out = String::from("Taken from the programs, or from what is usual:\n");
    for sentence in &draft.assumed {
        out.push_str(&fold("  - ", sentence, 4));
    }
    if !draft.findings.is_empty() {
        out.push('\n');
        out.push_str(&findings::told(&draft.findings, &files::programs_by_operation(&draft.text)));
    }
    let state = if draft.missing.is_empty() { "Written" } else { "Written with gaps" };
    out.push_str(&format!("\n{state}: {}\n", card.display()));
    out
}

fn unanswered(missing: &[Question], card: &Path) -> String {
    let by_key: BTreeMap<&str, &Question> = missing.iter().map(|q| (q.key.as_str(), q)).collect();
    let mut out = format!("Not known from the programs: {}.\n", by_key.keys().copied().collect::<Vec<_>>().join(", "));
    for question in missing {
        out.push_str(&fold("  ", &format!("{}: {}", question.key, question.asks), 4));
        if !question.choices.is_empty() {
            out.push_str(&fold("    one of: ", &question.choices.join(", "), 4));
        }
    }
    let first = missing.first().map_or("key", |q| q.key.as_str());
    out.push_str(&fold(
        "",
        &format!(
            "Fill in the lines marked # ?? in {}, or ask again with --replace --answer {first}=...",
            card.display()
        ),
        2,
    ));
    out.trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn question(suggested: Option<&str>) -> Question {
        Question {
            key: "material".into(),
            asks: "Which material?".into(),
            choices: vec!["mdf".into(), "pine-panel".into()],
            suggested: suggested.map(str::to_owned),
        }
    }

    #[test]
    fn a_question_shows_what_is_likely() {
        assert_eq!(put(&question(Some("mdf"))), "Which material?\n  mdf, pine-panel\n  material [mdf]: ");
        assert!(put(&question(None)).ends_with("  material: "));
    }

    #[test]
    fn what_is_missing_is_named() {
        let text = unanswered(&[question(None)], Path::new("a/a.card.toml"));
        for words in ["material: Which material?", "one of: mdf, pine-panel", "# ??", "--answer material="] {
            assert!(text.contains(words), "{words}: {text}");
        }
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    }

    #[test]
    fn a_program_in_the_folder_stays_there() {
        let folder = tempfile::tempdir().unwrap();
        let (inside, outside_it) = (folder.path().join("tray/cut/slots.nc"), folder.path().join("rims.nc"));
        outside::write_file(&inside, b"G21").unwrap();
        outside::write_file(&outside_it, b"G20").unwrap();
        let home = folder.path().join("tray");
        let all = gather(&home, &[inside.clone(), outside_it.clone()]).unwrap();
        assert_eq!((all[0].path.as_str(), all[0].beside), ("cut/slots.nc", true));
        assert_eq!((all[1].path.as_str(), all[1].beside), ("rims.nc", false));
        all[1].put_beside(&home).unwrap();
        assert_eq!(outside::file(&home.join("rims.nc")).unwrap(), b"G20");
        all[1].put_beside(&home).unwrap();
        outside::write_file(&home.join("rims.nc"), b"G0 X1").unwrap();
        let told = all[1].put_beside(&home).unwrap_err();
        assert_eq!(told.exit(), 5);
        assert_eq!(outside::file(&home.join("rims.nc")).unwrap(), b"G0 X1", "it was not written over");
        assert_eq!(gather(&home, &[outside_it.clone(), outside_it]).unwrap_err().exit(), 2);
    }

    #[test]
    fn a_card_is_not_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let card = folder.path().join("a/a.card.toml");
        write(&card, "one", false).unwrap();
        assert_eq!(write(&card, "two", false).unwrap_err().exit(), 5);
        assert_eq!(outside::file(&card).unwrap(), b"one");
        write(&card, "two", true).unwrap();
        assert_eq!(outside::file(&card).unwrap(), b"two");
    }
}
