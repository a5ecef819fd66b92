//! Who may do what: people with their PINs, tokens for other machines, and what was refused.

use crate::id::Person;
use crate::quantity::Seconds;
use crate::secret::Secret;
use crate::stage::Role;
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// Who asks for a change, and their PIN. Not needed while nobody of the shop has one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Credential {
    /// Who.
    pub who: Person,
    /// Their PIN.
    pub pin: Secret,
}

/// `POST /v1/people`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChangePeople {
    /// Who asks.
    #[serde(default)]
    pub by: Option<Credential>,
    /// What is asked.
    pub change: PeopleChange,
}

/// A change of the people.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case", deny_unknown_fields)]
pub enum PeopleChange {
    /// Somebody new, besides those whom daemon.toml names.
    Add {
        /// Who.
        who: Person,
        /// What they may do.
        role: Role,
        /// Their PIN; to be set later when left out.
        #[serde(default)]
        pin: Option<Secret>,
    },
    /// A PIN is set, or set anew.
    SetPin {
        /// Whose.
        who: Person,
        /// Four to twelve digits.
        pin: Secret,
    },
    /// Somebody's PIN is taken away; with it whoever was added by [`PeopleChange::Add`].
    Remove {
        /// Who.
        who: Person,
    },
}

/// What a change of people or tokens answers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PeopleChanged {
    /// 1.
    pub schema: u32,
    /// What was done, as a sentence.
    pub said: String,
}

/// `GET /v1/people`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PeopleList {
    /// 1.
    pub schema: u32,
    /// Whether signing in asks for a PIN.
    pub pins: bool,
    /// Everybody.
    pub people: Vec<PersonRow>,
}

/// Somebody of the shop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PersonRow {
    /// Who.
    pub who: Person,
    /// What they may do.
    pub role: Role,
    /// Whether daemon.toml names them; else they were added.
    pub in_config: bool,
    /// Whether they have a PIN.
    pub pin: bool,
    /// Wrong PINs since the last right one.
    pub wrong: u32,
    /// No PIN of theirs is looked at for so long.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub locked_for: Option<Seconds>,
}

/// `POST /v1/tokens`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MakeToken {
    /// Who asks.
    #[serde(default)]
    pub by: Option<Credential>,
    /// What it is called.
    pub name: String,
    /// What it may do: a helper's looks and holds, an owner's also adds cards and batches.
    pub role: Role,
    /// Until when it counts.
    pub expires: DateTime<Utc>,
}

/// What [`MakeToken`] answers: the only time that the token is seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TokenMade {
    /// 1.
    pub schema: u32,
    /// What was done, as a sentence.
    pub said: String,
    /// The token.
    pub token: Secret,
}

/// `POST /v1/tokens/{name}/revoke`.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RevokeToken {
    /// Who asks.
    #[serde(default)]
    pub by: Option<Credential>,
}

/// `GET /v1/tokens`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TokenList {
    /// 1.
    pub schema: u32,
    /// In the order in which they were made.
    pub tokens: Vec<TokenRow>,
}

/// A token, but for itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TokenRow {
    /// What it is called.
    pub name: String,
    /// What it may do.
    pub role: Role,
    /// Since when there is it.
    pub made: DateTime<Utc>,
    /// Until when it counts.
    pub expires: DateTime<Utc>,
    /// Whether it counts no longer.
    pub expired: bool,
}

/// `GET /v1/people/refusals`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RefusalList {
    /// 1.
    pub schema: u32,
    /// Oldest first; the last ones only.
    pub refusals: Vec<Refused>,
}

/// Something that was asked for and refused for want of a right.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refused {
    /// When.
    pub at: DateTime<Utc>,
    /// What kind of refusal.
    pub kind: RefusalKind,
    /// Who, as far as that is known: a person of the shop, or the name of a token.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub who: Option<String>,
    /// Over which way: the user of the socket's other end, or a network address.
    pub from: String,
    /// What was asked for.
    pub asked: String,
    /// Refusals of the kind before this one that there was no room to write down.
    #[serde(default, skip_serializing_if = "is_none_left_out")]
    pub left_out: u32,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for it so")]
const fn is_none_left_out(n: &u32) -> bool {
    *n == 0
}

/// Kinds of refusals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RefusalKind {
    /// A wrong PIN.
    WrongPin,
    /// A PIN while none is looked at, after too many wrong ones.
    LockedOut,
    /// Somebody who is nobody of this shop.
    Stranger,
    /// No token, a wrong one, one that is over or was revoked.
    BadToken,
    /// Too many requests or wrong tokens.
    TooMany,
    /// Something that is only done at the machine, asked from elsewhere.
    FromAfar,
    /// The role does not reach so far.
    Role,
    /// A program of a user who may not use the socket.
    Socket,
}

impl RefusalKind {
    /// In words.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::WrongPin => "wrong PIN",
            Self::LockedOut => "locked out",
            Self::Stranger => "nobody of this shop",
            Self::BadToken => "bad token",
            Self::TooMany => "too many",
            Self::FromAfar => "not at the machine",
            Self::Role => "not for this role",
            Self::Socket => "may not use the socket",
        }
    }
}
