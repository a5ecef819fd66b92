//! Tokens for other machines: 32 bytes of chance, shown once, kept as SHA-256 and compared in constant time.
//!
//! A hash without salt or cost is enough here: nobody can try 2^256 of them, which a PIN of four digits is not.
//! May live here: one token. May not: the book, what HTTP carries.

use chargehand_types::secret::Secret;
use chargehand_types::stage::Role;
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fmt;
use subtle::ConstantTimeEq;

/// Bytes of chance in a token.
pub const TOKEN_BYTES: usize = 32;
/// Tokens a shop may have.
pub const TOKENS_AT_MOST: usize = 50;
/// What every token begins with, so that one that went astray is known for what it is.
const BEGIN: &str = "chargehand-";

/// A token as it is kept.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Token {
    /// What it is called.
    pub name: String,
    /// What it may do.
    pub role: Role,
    /// Since when there is it.
    pub made: DateTime<Utc>,
    /// Until when it counts.
    pub expires: DateTime<Utc>,
    /// SHA-256 of its text, in hex.
    sha256: String,
}

impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Token").field("name", &self.name).field("role", &self.role).finish_non_exhaustive()
    }
}

/// Whoever shows a token.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// What the token is called.
    pub name: String,
    /// What it may do.
    pub role: Role,
}

fn hash(text: &[u8]) -> String {
    Sha256::digest(text).iter().map(|b| format!("{b:02x}")).collect()
}

impl Token {
    /// A new one out of chance, and its text.
    #[must_use]
    pub fn make(
        name: String,
        role: Role,
        made: DateTime<Utc>,
        expires: DateTime<Utc>,
        chance: &[u8; TOKEN_BYTES],
    ) -> (Self, Secret) {
        let text: String =
            BEGIN.chars().chain(chance.iter().flat_map(|b| format!("{b:02x}").chars().collect::<Vec<_>>())).collect();
        (Self { name, role, made, expires, sha256: hash(text.as_bytes()) }, Secret::new(text))
    }

    /// Whether it still counts.
    #[must_use]
    pub fn counts(&self, now: DateTime<Utc>) -> bool {
        now < self.expires
    }
}

/// Whose token this is, whether it still counts or not. Every kept one is compared, each in constant time.
pub(super) fn find<'a>(tokens: &'a [Token], given: &[u8]) -> Option<&'a Token> {
    let given = hash(given);
    let mut found = None;
    for token in tokens {
        if bool::from(token.sha256.as_bytes().ct_eq(given.as_bytes())) {
            found = Some(token);
        }
    }
    found
}
