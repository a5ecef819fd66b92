//! A card and the programs it names, read from the sender's disk to be sent.
//!
//! May live here: which files a card names, that they lie in its folder, reading them. May not: judging the card;
//! a card that is no TOML is sent as it is, and the daemon tells its faults.

use super::end::End;
use crate::outside;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use chargehand_types::check::CardFiles;
use std::collections::BTreeMap;
use std::path::{Component, Path};

/// Reads a card and its programs.
///
/// # Errors
/// When a file is missing, is no text, is too large, or lies outside the card's folder.
pub fn read(card: &Path) -> Result<CardFiles, End> {
    let name = card.display().to_string();
    let bytes = outside::file(card).map_err(|e| End::Missing(format!("{name}: the card cannot be read: {e}.")))?;
    let text = String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        End::Missing(format!("{name}: the card is not UTF-8 text (byte {at}). Save it as UTF-8."))
    })?;
    let folder = card.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut programs = BTreeMap::new();
    for path in named(&text) {
        let place = place(&name, &text, &path);
        let bytes = program(folder, &path).map_err(|why| End::Missing(format!("{place}: program {path:?} {why}")))?;
        programs.insert(path, STANDARD.encode(bytes));
    }
    Ok(CardFiles { file: name, text, programs })
}

/// The program of each operation, by its name, as far as the text tells.
#[must_use]
pub fn programs_by_operation(text: &str) -> BTreeMap<String, String> {
    operations(text)
        .iter()
        .filter_map(|o| Some((o.get("name")?.as_str()?.to_owned(), o.get("program")?.as_str()?.to_owned())))
        .collect()
}

fn named(text: &str) -> Vec<String> {
    let mut paths: Vec<String> =
        operations(text).iter().filter_map(|o| Some(o.get("program")?.as_str()?.to_owned())).collect();
    paths.sort();
    paths.dedup();
    paths
}

fn operations(text: &str) -> Vec<toml::Table> {
    let Ok(table) = text.parse::<toml::Table>() else { return Vec::new() };
    let Some(operations) = table.get("operation").and_then(toml::Value::as_array) else { return Vec::new() };
    operations.iter().filter_map(|o| o.as_table().cloned()).collect()
}

/// Where the card names the program: file, line and column.
fn place(file: &str, text: &str, path: &str) -> String {
    for (row, line) in text.lines().enumerate() {
        let key = line.trim_start().starts_with("program");
        if let Some(column) = line.find(path).filter(|_| key) {
            return format!("{file}:{}:{}", row + 1, line.get(..column).map_or(1, |l| l.chars().count() + 1));
        }
    }
    file.to_owned()
}

fn program(folder: &Path, path: &str) -> Result<Vec<u8>, String> {
    const STAY: &str = "lies outside the card's folder. Put it beside the card.";
    let inside = Path::new(path).components().all(|c| matches!(c, Component::Normal(_) | Component::CurDir));
    if !inside || path.is_empty() {
        return Err(STAY.to_owned());
    }
    let whole = folder.join(path);
    let cannot = |e: std::io::Error| match e.kind() {
        std::io::ErrorKind::NotFound => format!("is not there ({}). Put it beside the card.", whole.display()),
        _ => format!("cannot be read ({}): {e}.", whole.display()),
    };
    let real = whole.canonicalize().map_err(cannot)?;
    let root = folder.canonicalize().map_err(cannot)?;
    if !real.starts_with(&root) {
        return Err(STAY.to_owned());
    }
    outside::file(&real).map_err(cannot)
}

#[cfg(test)]
mod tests {
    use super::*;

    const CARD: &str = "[card]\nname = \"a\"\n\n[[operation]]\nname = \"slots\"\nprogram = \"cut/slots.nc\"\n";

    fn card(text: &str) -> (tempfile::TempDir, std::path::PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.card.toml");
        outside::write_file(&path, text.as_bytes()).unwrap();
        (folder, path)
    }

    fn missing(text: &str) -> String {
        let (_folder, path) = card(text);
        let end = read(&path).unwrap_err();
        assert_eq!(end.exit(), 5);
        end.to_string()
    }

    #[test]
    fn programs_come_along() {
        let (folder, path) = card(CARD);
        outside::write_file(&folder.path().join("cut/slots.nc"), b"G21\r\n\xff").unwrap();
        let files = read(&path).unwrap();
        assert_eq!(files.text, CARD);
        assert_eq!(STANDARD.decode(&files.programs["cut/slots.nc"]).unwrap(), b"G21\r\n\xff");
        assert_eq!(programs_by_operation(CARD)["slots"], "cut/slots.nc");
    }

    #[test]
    fn a_missing_program_is_placed() {
        let text = missing(CARD);
        assert!(text.contains("a.card.toml:6:12: program \"cut/slots.nc\" is not there"), "{text}");
    }

    #[test]
    fn a_path_stays_in_the_folder() {
        for path in ["../x.nc", "/etc/hostname", "a/../../x.nc", ""] {
            let text = missing(&format!("[[operation]]\nprogram = \"{path}\"\n"));
            assert!(text.contains("outside the card's folder"), "{path}: {text}");
        }
    }

    #[test]
    fn a_link_out_of_the_folder_is_seen() {
        let (folder, path) = card("[[operation]]\nprogram = \"x.nc\"\n");
        let elsewhere = tempfile::NamedTempFile::new().unwrap();
        std::os::unix::fs::symlink(elsewhere.path(), folder.path().join("x.nc")).unwrap();
        assert!(read(&path).unwrap_err().to_string().contains("outside"));
    }

    #[test]
    fn a_broken_card_is_still_sent() {
        let (_folder, path) = card("[card\n");
        assert_eq!(read(&path).unwrap().programs.len(), 0);
    }

    #[test]
    fn a_missing_card_is_told() {
        let end = read(Path::new("/nowhere/a.card.toml")).unwrap_err();
        assert!(end.to_string().starts_with("/nowhere/a.card.toml: the card cannot be read"));
    }
}
