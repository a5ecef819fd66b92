//! What did not get through: kept in a file of the store, so that a restart forgets none of it, and told by `doctor`.

use chargehand_types::notice::NotThrough;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

/// Kept at most; the oldest go first.
const KEPT: usize = 200;

/// The list.
#[derive(Debug, Clone)]
pub struct Unheard {
    list: Arc<Mutex<Vec<NotThrough>>>,
    file: PathBuf,
}

impl Unheard {
    /// The list as it was left. A file that cannot be read is as good as none; it is written anew.
    #[must_use]
    pub fn open(file: PathBuf) -> Self {
        #[allow(clippy::disallowed_methods, reason = "the list's file")]
        let text = std::fs::read(&file).unwrap_or_default();
        let list = serde_json::from_slice(&text).unwrap_or_default();
        Self { list: Arc::new(Mutex::new(list)), file }
    }

    /// The list, oldest first.
    #[must_use]
    pub fn all(&self) -> Vec<NotThrough> {
        self.list.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// It did not get through, or not yet.
    pub(super) fn failed(&self, what: NotThrough) {
        self.change(|list| {
            list.retain(|l| (&l.way, &l.id) != (&what.way, &what.id));
            list.push(what);
            let over = list.len().saturating_sub(KEPT);
            list.drain(..over);
        });
    }

    /// It got through after all.
    pub(super) fn through(&self, way: &str, id: &str) {
        self.change(|list| list.retain(|l| (l.way.as_str(), l.id.as_str()) != (way, id)));
    }

    fn change(&self, change: impl FnOnce(&mut Vec<NotThrough>)) {
        let mut list = self.list.lock().unwrap_or_else(PoisonError::into_inner);
        let before = list.clone();
        change(&mut list);
        if *list == before {
            return;
        }
        let text = serde_json::to_vec_pretty(&*list).unwrap_or_default();
        let new = self.file.with_extension("new");
        #[allow(clippy::disallowed_methods, reason = "the list's file")]
        let written = std::fs::write(&new, text).and_then(|()| std::fs::rename(&new, &self.file));
        if let Err(e) = written {
            tracing::warn!("what did not get through cannot be kept in {}: {e}", self.file.display());
        }
    }
}
