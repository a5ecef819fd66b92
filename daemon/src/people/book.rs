//! The book: whom the shop added, their PINs, wrong tries, and the tokens. A value; who keeps its file is not known here.
//!
//! A shop without a PIN works without PINs. With one, everybody needs one to sign in, and an owner's comes first, so
//! that there is always somebody who can set the others.
//!
//! May live here: reading and writing the book's text, and what may be changed in it. May not: the file.

use super::pin::KeptPin;
use super::token::{Holder, TOKEN_BYTES, TOKENS_AT_MOST, Token, find};
use super::tries::wait_after;
use chargehand_types::id::Person;
use chargehand_types::people::{PersonRow, TokenRow};
use chargehand_types::quantity::{Seconds, Tick};
use chargehand_types::secret::Secret;
use chargehand_types::stage::Role;
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The version of the book's text that this build writes.
const VERSION: u32 = 1;
/// People a shop may have, those whom config names among them.
const PEOPLE_AT_MOST: usize = 50;
/// Characters a name may have.
const NAME_AT_MOST: usize = 60;

/// Why something is not done.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BookFault {
    /// The text is none that this program wrote.
    #[error("the book of people and tokens cannot be read: {0}")]
    Text(String),
    /// Nobody of that name.
    #[error("{0} is nobody of this shop")]
    Nobody(Person),
    /// Somebody of that name is there.
    #[error("there is a {0} already")]
    There(String),
    /// A helper's PIN before any owner's.
    #[error("an owner's PIN comes first: with one PIN set, everybody needs one to sign in, and an owner sets them")]
    OwnerFirst,
    /// The last owner's PIN goes while others have one.
    #[error("this is the last owner's PIN, and others have one: take away theirs first, or set this one anew")]
    LastOwner,
    /// A name that is none.
    #[error("a name has 1 to {NAME_AT_MOST} characters, and no line breaks or other signs for machines")]
    Name,
    /// Too many.
    #[error("no more than {0} are kept")]
    TooMany(usize),
    /// A token that is over before it begins.
    #[error("a token's last day lies in the future")]
    Over,
    /// No token of that name.
    #[error("there is no token called {0}")]
    NoToken(String),
}

/// What a look at a PIN needs: what to compare with, or why there is no look.
#[derive(Debug, Clone, PartialEq)]
pub enum Looked {
    /// Compare with this.
    With(KeptPin),
    /// There is none: an owner sets it.
    Unset,
    /// Not now.
    Locked(Seconds),
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    who: Person,
    /// Only of those whom config does not name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    role: Option<Role>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pin: Option<KeptPin>,
    /// Wrong PINs since the last right one.
    #[serde(default)]
    wrong: u32,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Text {
    v: u32,
    #[serde(default)]
    people: Vec<Entry>,
    #[serde(default)]
    tokens: Vec<Token>,
}

/// The book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Book {
    /// Whom config names.
    config: Vec<(Person, Role)>,
    entries: Vec<Entry>,
    tokens: Vec<Token>,
    /// Until when no PIN of somebody is looked at. Not written: a wait begins anew with the daemon.
    locked: BTreeMap<String, Tick>,
}

impl Book {
    /// An empty one, for a shop whose config names these people.
    #[must_use]
    pub const fn new(config: Vec<(Person, Role)>) -> Self {
        Self { config, entries: Vec::new(), tokens: Vec::new(), locked: BTreeMap::new() }
    }

    /// Reads its text. Whoever was locked out waits anew from `now`.
    ///
    /// # Errors
    /// When this program did not write it.
    pub fn read(text: &str, config: Vec<(Person, Role)>, now: Tick) -> Result<Self, BookFault> {
        let read: Text = serde_json::from_str(text).map_err(|e| BookFault::Text(e.to_string()))?;
        if read.v != VERSION {
            return Err(BookFault::Text(format!("its version is {}, and this program knows {VERSION}", read.v)));
        }
        let mut book = Self { config, entries: read.people, tokens: read.tokens, locked: BTreeMap::new() };
        for (who, wrong) in book.entries.iter().map(|e| (e.who.0.clone(), e.wrong)).collect::<Vec<_>>() {
            book.lock(&who, wrong, now);
        }
        Ok(book)
    }

    /// Its text.
    ///
    /// # Errors
    /// When it cannot be written as JSON, which does not happen.
    pub fn text(&self) -> Result<String, BookFault> {
        let text = Text { v: VERSION, people: self.entries.clone(), tokens: self.tokens.clone() };
        serde_json::to_string_pretty(&text).map(|t| t + "\n").map_err(|e| BookFault::Text(e.to_string()))
    }

    /// Whether signing in asks for a PIN.
    #[must_use]
    pub fn pins(&self) -> bool {
        self.entries.iter().any(|e| e.pin.is_some())
    }

    /// Everybody and their roles.
    pub fn people(&self) -> impl Iterator<Item = (&Person, Role)> {
        let added = self.entries.iter().filter(|e| !self.in_config(&e.who)).filter_map(|e| Some((&e.who, e.role?)));
        self.config.iter().map(|(who, role)| (who, *role)).chain(added)
    }

    /// A person's role; none for a stranger.
    #[must_use]
    pub fn role_of(&self, who: &Person) -> Option<Role> {
        self.people().find(|(p, _)| *p == who).map(|(_, role)| role)
    }

    fn in_config(&self, who: &Person) -> bool {
        self.config.iter().any(|(p, _)| p == who)
    }

    fn entry(&self, who: &Person) -> Option<&Entry> {
        self.entries.iter().find(|e| e.who == *who)
    }

    fn entry_mut(&mut self, who: &Person) -> Option<&mut Entry> {
        self.entries.iter_mut().find(|e| e.who == *who)
    }

    /// How many owners have a PIN, but for somebody.
    fn owners_with_pin_but(&self, who: &Person) -> usize {
        let has = |p: &Person| self.entry(p).is_some_and(|e| e.pin.is_some());
        self.people().filter(|(p, role)| *role == Role::Owner && *p != who && has(p)).count()
    }

    /// Adds somebody.
    ///
    /// # Errors
    /// When the name is none or taken, or there are too many.
    pub fn add(&mut self, who: &Person, role: Role) -> Result<(), BookFault> {
        name(&who.0)?;
        if self.role_of(who).is_some() {
            return Err(BookFault::There(who.to_string()));
        }
        if self.people().count() >= PEOPLE_AT_MOST {
            return Err(BookFault::TooMany(PEOPLE_AT_MOST));
        }
        self.entries.retain(|e| e.who != *who);
        self.entries.push(Entry { who: who.clone(), role: Some(role), pin: None, wrong: 0 });
        Ok(())
    }

    /// Whether somebody's PIN may be set now.
    ///
    /// # Errors
    /// For a stranger, and for a helper before any owner.
    pub fn may_have_pin(&self, who: &Person) -> Result<(), BookFault> {
        match self.role_of(who) {
            None => Err(BookFault::Nobody(who.clone())),
            Some(Role::Owner) => Ok(()),
            Some(Role::Helper) if self.owners_with_pin_but(who) > 0 => Ok(()),
            Some(Role::Helper) => Err(BookFault::OwnerFirst),
        }
    }

    /// Sets somebody's PIN; wrong tries are forgotten.
    ///
    /// # Errors
    /// As [`Book::may_have_pin`].
    pub fn set_pin(&mut self, who: &Person, pin: KeptPin) -> Result<(), BookFault> {
        self.may_have_pin(who)?;
        if self.entry(who).is_none() {
            self.entries.push(Entry { who: who.clone(), role: None, pin: None, wrong: 0 });
        }
        if let Some(entry) = self.entry_mut(who) {
            (entry.pin, entry.wrong) = (Some(pin), 0);
        }
        self.locked.remove(&who.0);
        Ok(())
    }

    /// Takes somebody's PIN away, and with it whoever was added.
    ///
    /// # Errors
    /// For a stranger, somebody without anything to take away, and the last owner's PIN while others have one.
    pub fn remove(&mut self, who: &Person) -> Result<(), BookFault> {
        let Some(entry) = self.entry(who) else { return Err(BookFault::Nobody(who.clone())) };
        let others = self.entries.iter().any(|e| e.who != *who && e.pin.is_some());
        let owner = self.role_of(who) == Some(Role::Owner) && entry.pin.is_some();
        if owner && others && self.owners_with_pin_but(who) == 0 {
            return Err(BookFault::LastOwner);
        }
        self.entries.retain(|e| e.who != *who);
        self.locked.remove(&who.0);
        Ok(())
    }

    /// What a look at somebody's PIN needs.
    #[must_use]
    pub fn look(&self, who: &Person, now: Tick) -> Looked {
        if let Some(left) = self.locked_for(who, now) {
            return Looked::Locked(left);
        }
        self.entry(who).and_then(|e| e.pin.clone()).map_or(Looked::Unset, Looked::With)
    }

    fn locked_for(&self, who: &Person, now: Tick) -> Option<Seconds> {
        self.locked.get(&who.0).filter(|until| **until > now).map(|until| until.since(now))
    }

    /// A wrong PIN: answers how long none is looked at now.
    pub fn was_wrong(&mut self, who: &Person, now: Tick) -> Option<Seconds> {
        let entry = self.entry_mut(who)?;
        entry.wrong = entry.wrong.saturating_add(1);
        let (who, wrong) = (entry.who.0.clone(), entry.wrong);
        self.lock(&who, wrong, now);
        self.locked_for(&Person(who), now)
    }

    fn lock(&mut self, who: &str, wrong: u32, now: Tick) {
        if let Some(wait) = wait_after(wrong) {
            let ms = u64::try_from(wait.as_millis()).unwrap_or(u64::MAX);
            self.locked.insert(who.to_owned(), now.after_ms(ms));
        }
    }

    /// Wrong PINs since the last right one.
    #[must_use]
    pub fn wrong(&self, who: &Person) -> u32 {
        self.entry(who).map_or(0, |e| e.wrong)
    }

    /// The right PIN: wrong ones are forgotten. Answers whether there were any.
    pub fn was_right(&mut self, who: &Person) -> bool {
        self.locked.remove(&who.0);
        self.entry_mut(who).is_some_and(|e| std::mem::take(&mut e.wrong) > 0)
    }

    /// Everybody, as they are told.
    #[must_use]
    pub fn rows(&self, now: Tick) -> Vec<PersonRow> {
        let row = |(who, role): (&Person, Role)| PersonRow {
            who: who.clone(),
            role,
            in_config: self.in_config(who),
            pin: self.entry(who).is_some_and(|e| e.pin.is_some()),
            wrong: self.wrong(who),
            locked_for: self.locked_for(who, now),
        };
        self.people().map(row).collect()
    }

    /// Makes a token out of chance; its text is never seen again.
    ///
    /// # Errors
    /// When the name is none or taken, the end lies behind, or there are too many.
    pub fn make_token(
        &mut self,
        called: &str,
        role: Role,
        now: DateTime<Utc>,
        expires: DateTime<Utc>,
        chance: &[u8; TOKEN_BYTES],
    ) -> Result<Secret, BookFault> {
        name(called)?;
        if self.tokens.iter().any(|t| t.name == called) {
            return Err(BookFault::There(format!("token called {called}")));
        }
        if expires <= now {
            return Err(BookFault::Over);
        }
        if self.tokens.len() >= TOKENS_AT_MOST {
            return Err(BookFault::TooMany(TOKENS_AT_MOST));
        }
        let (token, text) = Token::make(called.to_owned(), role, now, expires, chance);
        self.tokens.push(token);
        Ok(text)
    }

    /// Takes a token back.
    ///
    /// # Errors
    /// When there is none of that name.
    pub fn revoke(&mut self, called: &str) -> Result<(), BookFault> {
        let before = self.tokens.len();
        self.tokens.retain(|t| t.name != called);
        if self.tokens.len() == before { Err(BookFault::NoToken(called.to_owned())) } else { Ok(()) }
    }

    /// Who shows this token, if it counts; else the name of one that no longer does.
    ///
    /// # Errors
    /// The name of an expired one; none for one that nobody made.
    pub fn holder(&self, given: &[u8], now: DateTime<Utc>) -> Result<Holder, Option<String>> {
        let token = find(&self.tokens, given).ok_or(None)?;
        if !token.counts(now) {
            return Err(Some(token.name.clone()));
        }
        Ok(Holder { name: token.name.clone(), role: token.role })
    }

    /// The tokens, as they are told.
    #[must_use]
    pub fn token_rows(&self, now: DateTime<Utc>) -> Vec<TokenRow> {
        let row = |t: &Token| TokenRow {
            name: t.name.clone(),
            role: t.role,
            made: t.made,
            expires: t.expires,
            expired: !t.counts(now),
        };
        self.tokens.iter().map(row).collect()
    }
}

/// Names are shown in sentences and written into records.
fn name(text: &str) -> Result<(), BookFault> {
    let fits = !text.trim().is_empty() && text.trim() == text && text.chars().count() <= NAME_AT_MOST;
    if fits && !text.chars().any(char::is_control) { Ok(()) } else { Err(BookFault::Name) }
}
