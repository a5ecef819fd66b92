//! When a sign-in lapses: where the shop uses PINs, ten minutes after the last thing a person did while something
//! stood still and waited for them, and at the end of the hours that they are there. Never while the machine moves.
//!
//! May live here: reckoning and carrying out the lapse. May not: what an empty room means; the floor says so.

use super::foreman::{Foreman, Source};
use crate::calendar;
use crate::link::wire::TickSource;
use chargehand_types::event::What;
use chargehand_types::id::Person;
use chargehand_types::quantity::Tick;
use chrono::{DateTime, Utc};

/// Machine time that a sign-in outlives the last thing a person did.
const QUIET_MS: u64 = 10 * 60 * 1000;

/// Who is signed in, as far as it lapses.
#[derive(Debug, Default)]
pub(in crate::app) struct Lapse {
    /// When a person, or the machine, last did something.
    stirred: Tick,
    /// The end of the hours in which the person signed in.
    ends: Option<DateTime<Utc>>,
}

impl Foreman {
    /// Somebody did something, or the machine came to a stand.
    pub(in crate::app) fn stirred(&mut self) {
        self.lapse.stirred = self.clock.now();
    }

    /// Somebody signed in: their hours are looked up.
    pub(in crate::app) fn hours_of(&mut self, who: &Person) {
        self.stirred();
        let Some(role) = self.shared.keeper.role_of(who) else { return };
        let now = self.clock.wall();
        // a calendar that cannot be read ends nobody's day; the plan and the doctor tell of it
        let booked = self.premises.booked(now).unwrap_or_default();
        self.lapse.ends = calendar::there_until(&self.premises.config.hours, &booked, who, role, now);
    }

    /// Machine time of the lapse; none where there is none to come.
    pub(in crate::app) fn lapses_at(&self) -> Option<Tick> {
        let somebody = self.shared.fold.read().is_ok_and(|f| !f.people().is_empty());
        if !somebody || !self.shared.keeper.pins() || self.floor.machine.motion.is_under_way() {
            return None;
        }
        let quiet = self.lapse.stirred.after_ms(QUIET_MS);
        let ends = self.lapse.ends.map(|end| {
            let left = (end - self.clock.wall()).max(chrono::TimeDelta::zero());
            let ms = u64::try_from(left.num_milliseconds()).unwrap_or_default() as f64 * self.clock.rate();
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "non-negative, days at most")]
            self.clock.now().after_ms(ms as u64)
        });
        Some(ends.map_or(quiet, |end| end.min(quiet)))
    }

    /// Everybody is signed out, and the record says that nobody did it.
    pub(in crate::app) async fn lapsed(&mut self) {
        self.lapse.ends = None;
        let people = self.shared.fold.read().map(|f| f.people().to_vec()).unwrap_or_default();
        let left = people.into_iter().map(|p| What::PersonLeft { who: p.who }).collect();
        let source = Source::default();
        let told = match self.tell(left, &source).await {
            Ok(()) => self.presence(&source).await,
            Err(problem) => Err(problem),
        };
        match told {
            Ok(()) => tracing::info!("the sign-in at the machine lapsed: nobody did anything, or their hours are over"),
            Err(problem) => tracing::warn!("{problem}"),
        }
    }
}
