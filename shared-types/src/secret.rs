//! A text that must never be read by anybody but whom it is for: a PIN on its way to the daemon, a token shown once.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A secret. It crosses the wire as the text it is, and shows nothing of itself where things are printed for a log.
#[derive(Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Secret(String);

impl Secret {
    /// From its text.
    #[must_use]
    pub const fn new(text: String) -> Self {
        Self(text)
    }

    /// The text itself. Never write it anywhere.
    #[must_use]
    pub fn shown(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::act::{Act, ActRequest};

    #[test]
    fn a_secret_is_not_printed() {
        let pin = Some(Secret::new("731904".into()));
        let act = Act::SignIn { who: "Ada".into(), pin };
        let request = ActRequest { command_id: "c".into(), terminal: "t".into(), seen: None, act };
        assert!(!format!("{request:?}").contains("731904"), "{request:?}");
        assert!(serde_json::to_string(&request).unwrap().contains("731904"), "but it reaches the daemon");
    }
}
