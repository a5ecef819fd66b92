//! PINs: which digits make one, and how it is kept: as an Argon2id hash (RFC 9106) in the PHC string form.
//!
//! May live here: checking, keeping and comparing one PIN. May not: whose it is.

use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use argon2::{Algorithm, Argon2, Params, Version};
use chargehand_types::secret::Secret;
use serde::{Deserialize, Serialize};
use std::fmt;

/// Digits a PIN has at least and at most.
const DIGITS: std::ops::RangeInclusive<usize> = 4..=12;
/// Bytes of chance that a PIN is kept with (RFC 9106, section 3.1: 16 are recommended).
pub const SALT_BYTES: usize = 16;
/// Memory in KiB, passes and lanes: what the library recommends, within what a small computer at a machine has.
const COST: (u32, u32, u32) = (19 * 1024, 2, 1);
/// No kept PIN may ask for more, or a changed file could stop the daemon.
const COST_AT_MOST: (u32, u32, u32) = (256 * 1024, 16, 8);

/// Why digits are no PIN, or a kept one cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PinFault {
    /// Not digits, or too few or many.
    #[error("a PIN has {} to {} digits and nothing else", DIGITS.start(), DIGITS.end())]
    Form,
    /// Anybody would try it first.
    #[error("a PIN of one digit only, or of digits in a row, is tried first: choose another")]
    Plain,
    /// The library says no.
    #[error("the PIN cannot be kept: {0}")]
    Hash(String),
}

/// A PIN as it was typed. Shows nothing of itself.
#[derive(Clone, PartialEq, Eq)]
pub struct Pin(Secret);

impl fmt::Debug for Pin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Pin(…)")
    }
}

impl Pin {
    /// What was typed to be compared; anything but digits is none.
    ///
    /// # Errors
    /// When it cannot be a PIN.
    pub fn typed(secret: &Secret) -> Result<Self, PinFault> {
        let text = secret.shown();
        if !DIGITS.contains(&text.len()) || !text.bytes().all(|b| b.is_ascii_digit()) {
            return Err(PinFault::Form);
        }
        Ok(Self(secret.clone()))
    }

    /// One that is to be kept: not the first that anybody would try.
    ///
    /// # Errors
    /// When it cannot be a PIN, or is too plain.
    pub fn chosen(secret: &Secret) -> Result<Self, PinFault> {
        let pin = Self::typed(secret)?;
        let digits = pin.0.shown().as_bytes();
        let steps = |by: i16| digits.windows(2).all(|w| matches!(w, [a, b] if i16::from(*b) - i16::from(*a) == by));
        if steps(0) || steps(1) || steps(-1) {
            return Err(PinFault::Plain);
        }
        Ok(pin)
    }

    /// As it is kept, with chance of its own.
    ///
    /// # Errors
    /// When the library cannot.
    pub fn keep(&self, salt: &[u8; SALT_BYTES]) -> Result<KeptPin, PinFault> {
        let told = |e: &dyn fmt::Display| PinFault::Hash(e.to_string());
        let params = Params::new(COST.0, COST.1, COST.2, None).map_err(|e| told(&e))?;
        let argon = Argon2::new(Algorithm::Argon2id, Version::V0x13, params);
        let hash: PasswordHash =
            argon.hash_password_with_salt(self.0.shown().as_bytes(), salt).map_err(|e| told(&e))?;
        Ok(KeptPin(hash.to_string()))
    }
}

/// A PIN as it is kept.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct KeptPin(String);

impl fmt::Debug for KeptPin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("KeptPin(…)")
    }
}

impl TryFrom<String> for KeptPin {
    type Error = String;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        let bad = || "a PIN is kept in a form that this program did not write".to_owned();
        let hash = PasswordHash::new(&text).map_err(|_| bad())?;
        let params = Params::try_from(&hash).map_err(|_| bad())?;
        let (memory, passes, lanes) = COST_AT_MOST;
        let dear = params.m_cost() > memory || params.t_cost() > passes || params.p_cost() > lanes;
        if dear || hash.hash.is_none() || hash.salt.is_none() {
            return Err(bad());
        }
        Ok(Self(text))
    }
}

impl From<KeptPin> for String {
    fn from(kept: KeptPin) -> Self {
        kept.0
    }
}

impl KeptPin {
    /// Whether this is it. Takes its time on purpose.
    #[must_use]
    pub fn is(&self, pin: &Pin) -> bool {
        PasswordHash::new(&self.0)
            .is_ok_and(|hash| Argon2::default().verify_password(pin.0.shown().as_bytes(), &hash).is_ok())
    }
}
