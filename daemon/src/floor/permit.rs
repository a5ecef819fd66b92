//! Permits: a motion needs one, only this room makes them, the link uses them up, and any stop voids them.

/// Counts the stops of a link, round a small ring. A permit carries the one it was made in; the link takes it only
/// while its own is the same, and moves its own on at every stop. The ring is far longer than the number of permits
/// ever in flight (one).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, serde::Serialize, serde::Deserialize)]
pub struct Epoch(u8);

impl Epoch {
    /// The next one.
    #[must_use]
    pub const fn next(self) -> Self {
        Self(self.0.wrapping_add(1))
    }
}

/// What a permit is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Class {
    /// Finding home.
    Home,
    /// A hand move or a touch.
    Hand,
    /// Cycle start of a chain.
    Cut,
    /// Going on after a hold or a prompt.
    Resume,
    /// Raising the bit after a hold.
    Raise,
    /// Making the controller take motion again after a fault (it moves nothing by itself).
    Unlock,
}

/// The right to one motion. Not copied, not kept: the link takes it by value.
#[derive(Debug, PartialEq, Eq, Hash)]
pub struct Permit {
    class: Class,
    epoch: Epoch,
}

impl Permit {
    /// Made by the transition table only, once every start condition of the class holds.
    pub(in crate::floor) const fn made(class: Class, epoch: Epoch) -> Self {
        Self { class, epoch }
    }

    /// What it is for.
    #[must_use]
    pub const fn class(&self) -> Class {
        self.class
    }

    /// The stop count it was made in.
    #[must_use]
    pub const fn epoch(&self) -> Epoch {
        self.epoch
    }

    /// Uses it up.
    ///
    /// # Errors
    /// When it was made before the last stop, or for another class.
    pub fn used(self, class: Class, now: Epoch) -> Result<(), VoidPermit> {
        if self.class != class {
            Err(VoidPermit::OtherClass { wanted: class, got: self.class })
        } else if self.epoch != now {
            Err(VoidPermit::BeforeAStop)
        } else {
            Ok(())
        }
    }

    /// A permit for the tests of the rooms below.
    #[cfg(test)]
    #[must_use]
    pub const fn for_tests(class: Class, epoch: Epoch) -> Self {
        Self::made(class, epoch)
    }
}

/// Why a permit does not count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum VoidPermit {
    /// Something stopped since it was made.
    #[error("the machine stopped since this was allowed; look again and start anew")]
    BeforeAStop,
    /// It is for another kind of motion.
    #[error("this was allowed for {got:?}, not for {wanted:?}")]
    OtherClass {
        /// What it was used for.
        wanted: Class,
        /// What it is for.
        got: Class,
    },
}
