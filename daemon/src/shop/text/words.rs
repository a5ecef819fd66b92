//! What the parser says, in the words of a person who never saw it.
//!
//! May live here: the reading of messages of `serde` and `toml`. May not: places.

use super::Path;
use crate::shop::fault::Fault;

/// What is wrong with the form of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Trouble {
    /// A key that nobody reads.
    Unknown { key: String, allowed: Vec<String> },
    /// A word that is none of those allowed.
    Word { word: String, allowed: Vec<String> },
    /// A key that must be there.
    Missing(String),
    /// A value of another type, length or size.
    Value { found: String, wanted: String },
    /// Anything else, as it was said.
    Other(String),
}

impl Trouble {
    pub(super) fn of(message: &str) -> Self {
        if let Some(rest) = message.strip_prefix("unknown field ") {
            let mut names = quoted(rest);
            let key = names.next().unwrap_or_default();
            return Self::Unknown { key, allowed: names.collect() };
        }
        if let Some(rest) = message.strip_prefix("unknown variant ") {
            let mut names = quoted(rest);
            let word = names.next().unwrap_or_default();
            return Self::Word { word, allowed: names.collect() };
        }
        if let Some(rest) = message.strip_prefix("missing field ") {
            return Self::Missing(quoted(rest).next().unwrap_or_default());
        }
        let invalid = ["invalid type: ", "invalid value: ", "invalid length "]
            .iter()
            .find_map(|start| message.strip_prefix(start));
        match invalid.and_then(|rest| rest.rsplit_once(", expected ")) {
            Some((found, wanted)) => Self::Value { found: kind(found), wanted: kind(wanted) },
            None => Self::Other(message.to_owned()),
        }
    }

    /// Whether it is only there because a key was taken out after its own fault was told.
    pub(super) fn follows_from(&self, path: &Path, removed: &[Path]) -> bool {
        match self {
            Self::Missing(key) => removed.iter().any(|gone| path.is_parent_of(gone) && gone.ends_near(key)),
            Self::Unknown { .. } | Self::Word { .. } | Self::Value { .. } | Self::Other(_) => false,
        }
    }

    pub(super) fn tell(&self, fault: Fault) -> Fault {
        match self {
            Self::Unknown { key, allowed } => fault.found(format!("there is no key `{key}` here")).one_of(key, allowed),
            Self::Word { word, allowed } => {
                fault.found(format!("`{word}` is none of the words allowed")).one_of(word, allowed)
            }
            Self::Missing(key) => fault.found(format!("the key `{key}` is missing")),
            Self::Value { found, wanted } => fault.found(format!("found {found}")).allowed(wanted),
            Self::Other(message) => fault.found(message),
        }
    }
}

/// What the parser found and what it wanted, of a text that is no TOML.
pub(super) fn syntax(message: &str) -> (String, String) {
    match message.split_once(", expected ") {
        Some((found, wanted)) => (found.to_owned(), wanted.to_owned()),
        None => (message.to_owned(), String::new()),
    }
}

/// The words between backticks.
fn quoted(text: &str) -> impl Iterator<Item = String> + '_ {
    text.split('`').skip(1).step_by(2).map(str::to_owned)
}

/// The parser's name for a kind of value, as people say it.
fn kind(said: &str) -> String {
    const SIMPLE: [(&str, &str); 14] = [
        ("f64", "a number"),
        ("a string", "text in quotes"),
        ("string", "text"),
        ("a boolean", "true or false"),
        ("a bool", "true or false"),
        ("boolean", ""),
        ("sequence", "a list"),
        ("a sequence", "a list"),
        ("map", "a table"),
        ("a map", "a table"),
        ("floating point", "the number"),
        ("integer", "the number"),
        ("u32", "a whole number, 0 or more"),
        ("u64", "a whole number, 0 or more"),
    ];
    if let Some((_, plain)) = SIMPLE.iter().find(|(name, _)| *name == said) {
        return (*plain).to_owned();
    }
    if let Some(size) = said.strip_prefix("an array of length ").or_else(|| said.strip_prefix("a tuple of size ")) {
        return format!("a list of {size}");
    }
    if matches!(said, "u8" | "u16" | "usize") {
        return "a whole number, 0 or more".to_owned();
    }
    if matches!(said, "i8" | "i16" | "i32" | "i64") {
        return "a whole number".to_owned();
    }
    if said.starts_with("struct ") {
        return "a table".to_owned();
    }
    if said.chars().all(|c| c.is_ascii_digit()) {
        return format!("a list of {said}");
    }
    let valued = said.split_once(' ').filter(|_| said.contains(['`', '"']));
    match valued {
        Some(("string", value)) => format!("the text {value}"),
        Some(("integer" | "boolean", value)) => value.replace('`', ""),
        Some(("floating", value)) => value.replace("point ", "").replace('`', ""),
        _ => said.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn types_are_told_plainly() {
        let told = |m: &str| match Trouble::of(m) {
            Trouble::Value { found, wanted } => format!("{found} / {wanted}"),
            other => format!("{other:?}"),
        };
        assert_eq!(told("invalid type: string \"a\", expected f64"), "the text \"a\" / a number");
        assert_eq!(told("invalid type: floating point `1.5`, expected u32"), "1.5 / a whole number, 0 or more");
        assert_eq!(told("invalid length 3, expected an array of length 2"), "a list of 3 / a list of 2");
        assert_eq!(told("invalid type: sequence, expected struct Raw"), "a list / a table");
    }
}
