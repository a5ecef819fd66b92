//! The way to a key from the top of a file, and from a place in the text back to its key.

use crate::shop::nearest::nearest;
use std::fmt;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One step of a way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// A key of a table.
    Key(String),
    /// An entry of a list, from 0. It is told from 1, as people count.
    At(usize),
}

/// The way to a key from the top of a file.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Path(Vec<Step>);

impl Path {
    /// The top of the file.
    #[must_use]
    pub fn top() -> Self {
        Self::default()
    }

    /// A key of the table here.
    #[must_use]
    pub fn key(&self, key: &str) -> Self {
        self.with(Step::Key(key.to_owned()))
    }

    /// An entry of the list here, from 0.
    #[must_use]
    pub fn at(&self, index: usize) -> Self {
        self.with(Step::At(index))
    }

    /// Its steps, from the top.
    #[must_use]
    pub fn steps(&self) -> &[Step] {
        &self.0
    }

    /// Its first steps.
    pub(super) fn first(&self, steps: usize) -> Self {
        Self(self.0.iter().take(steps).cloned().collect())
    }

    fn with(&self, step: Step) -> Self {
        let mut steps = self.0.clone();
        steps.push(step);
        Self(steps)
    }

    pub(super) fn is_parent_of(&self, other: &Self) -> bool {
        other.0.split_last().is_some_and(|(_, parent)| parent == self.0)
    }

    /// Whether its last key is this one, or a slip for it.
    pub(super) fn ends_near(&self, key: &str) -> bool {
        match self.0.last() {
            Some(Step::Key(last)) => nearest(last, [key]).is_some(),
            Some(Step::At(_)) | None => false,
        }
    }
}

impl fmt::Display for Path {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, step) in self.0.iter().enumerate() {
            match step {
                Step::Key(key) if i > 0 => write!(f, ".{}", Quoted(key))?,
                Step::Key(key) => write!(f, "{}", Quoted(key))?,
                Step::At(index) => write!(f, " {}", index + 1)?,
            }
        }
        Ok(())
    }
}

/// A key as TOML writes it: bare where it may be.
struct Quoted<'k>(&'k str);

impl fmt::Display for Quoted<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let bare = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
        if !self.0.is_empty() && self.0.chars().all(bare) { f.write_str(self.0) } else { write!(f, "{:?}", self.0) }
    }
}

/// The way to the key or value that stands at a place; the innermost one where several do.
pub(super) fn at(root: &DeTable<'_>, span: &Range<usize>) -> Path {
    let mut best = Path::top();
    for (key, value) in root {
        let here = Path::top().key(key.get_ref());
        if key.span() == *span {
            return here;
        }
        if let Some(found) = inside(value, &here, span) {
            best = found;
        }
    }
    best
}

fn inside(value: &Spanned<DeValue<'_>>, here: &Path, span: &Range<usize>) -> Option<Path> {
    let below = match value.get_ref() {
        DeValue::Table(table) => table.iter().find_map(|(key, value)| {
            let next = here.key(key.get_ref());
            if key.span() == *span { Some(next) } else { inside(value, &next, span) }
        }),
        DeValue::Array(list) => list.iter().enumerate().find_map(|(i, value)| inside(value, &here.at(i), span)),
        _ => None,
    };
    below.or_else(|| (value.span() == *span).then(|| here.clone()))
}

/// What can be taken out for a fault here: an entry that is a table, else the whole list it stands in, since a list of
/// plain values may have a fixed length.
pub(super) fn removable(root: &DeTable<'_>, path: &Path) -> Path {
    let mut path = path.clone();
    while let Some((Step::At(_), way)) = path.0.split_last() {
        let is_table = matches!(value(root, &path).map(Spanned::get_ref), Some(DeValue::Table(_)));
        if is_table {
            break;
        }
        path = Path(way.to_vec());
    }
    path
}

/// The value a way leads to.
pub(super) fn value<'r, 't>(root: &'r DeTable<'t>, path: &Path) -> Option<&'r Spanned<DeValue<'t>>> {
    let (first, way) = path.0.split_first()?;
    let Step::Key(first) = first else { return None };
    way.iter().try_fold(root.get(first.as_str())?, |here, step| match (step, here.get_ref()) {
        (Step::Key(key), DeValue::Table(table)) => table.get(key.as_str()),
        (Step::At(index), DeValue::Array(list)) => list.get(*index),
        _ => None,
    })
}

/// Takes a key out, so that reading can go on without it. Says whether there was one.
pub(super) fn remove(root: &mut DeTable<'_>, path: &Path) -> bool {
    let Some((first, way)) = path.0.split_first() else {
        return false;
    };
    let Step::Key(first) = first else {
        return false;
    };
    if way.is_empty() {
        return root.remove(first.as_str()).is_some();
    }
    root.get_mut(first.as_str()).is_some_and(|value| remove_below(value.get_mut(), way))
}

fn remove_below(here: &mut DeValue<'_>, way: &[Step]) -> bool {
    match (way, here) {
        ([Step::Key(key)], DeValue::Table(table)) => table.remove(key.as_str()).is_some(),
        ([Step::Key(key), rest @ ..], DeValue::Table(table)) => {
            table.get_mut(key.as_str()).is_some_and(|v| remove_below(v.get_mut(), rest))
        }
        ([Step::At(index)], DeValue::Array(list)) if *index < list.len() => {
            let kept = list.iter().enumerate().filter(|(i, _)| i != index);
            *list = kept.map(|(_, value)| value.clone()).collect();
            true
        }
        ([Step::At(index), rest @ ..], DeValue::Array(list)) => {
            list.get_mut(*index).is_some_and(|v| remove_below(v.get_mut(), rest))
        }
        _ => false,
    }
}
