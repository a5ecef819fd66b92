//! The card's text, with a marked line wherever something is missing; and the last questions: title, parts, material,
//! fastener.
//!
//! May live here: the form of a card's text. May not: reading programs.

use super::asking::Asking;
use super::sheet::Guess;
use super::{CannotDraft, Sketch, Wanted, pieces};
use crate::shop::card::MOST_PARTS;
use chargehand_types::card::{FastenerKind, Leaves, ZZero};
use chargehand_types::quantity::{Length, plain};
use std::fmt::Write as _;

/// How a marked line begins.
const MARK: &str = "# ??";
/// A screw should hold this far (mm) in the waste board at least: common practice, no source.
const LEAST_HOLD: f64 = 8.0;
/// And not come out under a usual waste board (mm).
const MOST_HOLD: f64 = 16.0;

/// Writes the card.
pub(super) fn card(
    asking: &mut Asking<'_>,
    wanted: &Wanted<'_>,
    sheet: &Guess,
    sketches: &[Sketch],
) -> Result<String, CannotDraft> {
    let title = title(asking, wanted.name, sketches);
    let seen = pieces::seen(wanted, sketches, sheet);
    let parts = parts(asking, sketches, sheet, seen.as_ref().map(Vec::len))?;
    let material = material(asking, wanted, sketches)?;
    let fastener = fastener(asking, wanted, sheet)?;
    let mut out = String::from("# Drafted from its programs. Read it through before it is cut.\n\n[card]\n");
    line(&mut out, "name", &text(wanted.name));
    line(&mut out, "title", &text(&title));
    either(&mut out, asking, "parts", parts.map(|p| p.to_string()));
    out.push_str("\n[sheet]\n");
    either(&mut out, asking, "material", material.as_deref().map(text));
    either(&mut out, asking, "size", sheet.size.map(pair));
    either(&mut out, asking, "thickness", sheet.thickness.map(|t| float(t.mm())));
    let zero = sheet.z_zero.map(|z| match z {
        ZZero::Top => text("top"),
        ZZero::Bed => text("bed"),
    });
    either(&mut out, asking, "z_zero", zero);
    either(&mut out, asking, "corner", sheet.corner.map(pair));
    line(&mut out, "max_bed_bite", &float(sheet.bed_bite));
    out.push_str("\n[holddown]\n");
    either(&mut out, asking, "fastener", fastener.as_deref().map(text));
    out.push_str("margin = 4.0\n");
    for sketch in sketches {
        operation(&mut out, asking, sketch);
    }
    if let Some(seen) = seen.filter(|seen| !seen.is_empty() && Some(seen.len()) == parts.map(|p| p as usize)) {
        out.push_str(&pieces::named(&seen));
        asking.assume("its parts are the pieces the cuts leave, named by their size; call them what they are");
    }
    Ok(out)
}

fn operation(out: &mut String, asking: &Asking<'_>, sketch: &Sketch) {
    out.push_str("\n[[operation]]\n");
    line(out, "name", &text(&sketch.name));
    line(out, "program", &text(&sketch.program));
    match &sketch.bit {
        Some(bit) => line(out, "bit", &text(bit)),
        None => marked(out, asking, &format!("bit.{}", sketch.name), "bit"),
    }
    let after: Vec<String> = sketch.after.iter().map(|a| text(a)).collect();
    line(out, "after", &format!("[{}]", after.join(", ")));
    if let Some(left) = sketch.leaves {
        let word = match left.leaves {
            Leaves::Through => "through",
            Leaves::Tabs => "tabs",
            Leaves::Skin => "skin",
            Leaves::Pocket => "pocket",
        };
        line(out, "leaves", &text(word));
        if let Some(skin) = left.skin {
            line(out, "skin", &float(skin.mm()));
        }
    }
    out.push_str("unattended = false\n");
}

fn either(out: &mut String, asking: &Asking<'_>, key: &str, value: Option<String>) {
    match value {
        Some(value) => line(out, key, &value),
        None => marked(out, asking, key, key),
    }
}

fn line(out: &mut String, key: &str, value: &str) {
    let _ = writeln!(out, "{key} = {value}");
}

/// The line a person fills in.
fn marked(out: &mut String, asking: &Asking<'_>, question: &str, key: &str) {
    let Some(open) = asking.open(question) else { return };
    let _ = write!(out, "{MARK} {key} =     # {}", open.asks);
    if !open.choices.is_empty() {
        let _ = write!(out, " One of: {}.", open.choices.join(", "));
    }
    if let Some(likely) = &open.suggested {
        let _ = write!(out, " Likely: {likely}.");
    }
    out.push('\n');
}

/// As a TOML string.
fn text(words: &str) -> String {
    let mut out = String::from("\"");
    for c in words.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// As a TOML float.
fn float(value: f64) -> String {
    let text = plain(value);
    if text.contains('.') { text } else { format!("{text}.0") }
}

fn pair(lengths: [Length; 2]) -> String {
    let [a, b] = lengths.map(|l| float(l.mm()));
    format!("[{a}, {b}]")
}

/// What the programs' first comments have in common, or the card's name with spaces.
fn title(asking: &mut Asking<'_>, name: &str, sketches: &[Sketch]) -> String {
    if let Some(said) = asking.said("title").filter(|s| !s.is_empty()) {
        return said.to_owned();
    }
    let mut firsts = sketches.iter().map(|s| s.plan.remarks.first().map_or("", String::as_str));
    let first = firsts.next().unwrap_or_default();
    let common = firsts.fold(first.to_owned(), |common, next| {
        common.chars().zip(next.chars()).take_while(|(a, b)| a == b).map(|(a, _)| a).collect()
    });
    let common = if sketches.len() == 1 { head(&common).to_owned() } else { common };
    let common: String = common
        .trim_matches(|c: char| c.is_whitespace() || matches!(c, '-' | ':' | ',' | '.'))
        .chars()
        .take(100)
        .collect();
    if common.chars().filter(|c| c.is_alphabetic()).count() >= 4 {
        asking.assume(format!("its title is \"{common}\", as the comments begin"));
        return common;
    }
    let mut words = name.replace(['-', '_'], " ");
    if let Some(first) = words.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    words
}

/// Of a comment like `Plant stand - slots` what stands before the last dash or colon.
fn head(comment: &str) -> &str {
    comment.rsplit_once(" - ").or_else(|| comment.rsplit_once(": ")).map_or(comment, |(head, _)| head)
}

/// How many parts: asked, with the pieces the cuts leave, or as long as they are not known the cuts of the last
/// operation, as the likely answer.
fn parts(
    asking: &mut Asking<'_>,
    sketches: &[Sketch],
    sheet: &Guess,
    pieces: Option<usize>,
) -> Result<Option<u32>, CannotDraft> {
    if let Some(said) = asking.count("parts", MOST_PARTS)? {
        return Ok(Some(said));
    }
    let through = sheet.bottom().zip(sketches.last()).filter(|(b, s)| s.plan.lowest().is_some_and(|z| z <= *b + 0.05));
    let rounds = through.map(|(_, s)| s.plan.runs.len());
    let asks = "How many finished parts does a good sheet yield?";
    let likely = |n: &usize| (1..=MOST_PARTS as usize).contains(n);
    let (asks, suggested) = match (pieces.filter(likely), rounds.filter(likely)) {
        (Some(1), _) => (format!("{asks} The cuts leave 1 piece."), Some(1)),
        (Some(n), _) => (format!("{asks} The cuts leave {n} pieces."), Some(n)),
        (None, Some(n)) => (format!("{asks} The last operation cuts round {n} times."), Some(n)),
        (None, None) => (asks.to_owned(), None),
    };
    asking.ask("parts", asks, Vec::new(), suggested.map(|n| n.to_string()));
    Ok(None)
}

fn material(asking: &mut Asking<'_>, wanted: &Wanted<'_>, sketches: &[Sketch]) -> Result<Option<String>, CannotDraft> {
    let materials = &wanted.stores.materials;
    let all: Vec<String> = materials.keys().cloned().collect();
    if let Some(said) = asking.word("material", &all)? {
        return Ok(Some(said));
    }
    if let [only] = all.as_slice() {
        asking.assume(format!("the material is {only}, the only one of the shop"));
        return Ok(Some(only.clone()));
    }
    let remarks: Vec<String> = sketches.iter().flat_map(|s| s.plan.remarks.iter().map(|r| r.to_lowercase())).collect();
    let named = |key: &String, title: &str| {
        remarks.iter().any(|r| r.contains(&key.to_lowercase()) || r.contains(&title.to_lowercase()))
    };
    let mut found = materials.iter().filter(|(key, m)| named(key, &m.title)).map(|(key, _)| key.clone());
    if let (Some(key), None) = (found.next(), found.next()) {
        asking.assume(format!("the material is {key}: a comment says so"));
        return Ok(Some(key));
    }
    asking.ask("material", "Which material?", all, None);
    Ok(None)
}

fn fastener(asking: &mut Asking<'_>, wanted: &Wanted<'_>, sheet: &Guess) -> Result<Option<String>, CannotDraft> {
    let fasteners = &wanted.stores.fasteners;
    let all: Vec<String> = fasteners.keys().cloned().collect();
    if let Some(said) = asking.word("fastener", &all)? {
        return Ok(Some(said));
    }
    if let [only] = all.as_slice() {
        asking.assume(format!("it is held by {only}, the only fastener of the shop"));
        return Ok(Some(only.clone()));
    }
    let holds = |f: &chargehand_types::card::Fastener| {
        let deep = f.penetration.or_else(|| Some(f.length? - sheet.thickness?)).map(Length::mm);
        f.kind == FastenerKind::Screw && deep.is_some_and(|d| (LEAST_HOLD..=MOST_HOLD).contains(&d))
    };
    let likely = fasteners.iter().find(|(_, f)| holds(f)).map(|(key, _)| key.clone());
    asking.ask("fastener", "What holds the sheet down?", all, likely);
    Ok(None)
}
