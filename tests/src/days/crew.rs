//! Those who work in a day: who they are, at which terminal, when each looks next and what each is about to do.
//!
//! May live here: that. May not: what the screen shows them.

use crate::operator::ByRule;
use chargehand_types::act::Act;
use chargehand_types::now::Now;
use chargehand_types::quantity::Tick;
use chargehand_types::stage::{Grade, Reason};

/// Somebody who comes only when they are fetched.
const NOT_FETCHED: Tick = Tick(u64::MAX);

/// Who works in a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    /// The owner.
    Owner,
    /// The owner and the helper at once, each at a terminal.
    Both,
    /// The helper, who fetches the owner when nothing goes on without one; the owner leaves again.
    Helper,
}

/// Who works in a day, and how.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Crew {
    /// Who.
    pub who: Who,
    /// At times what was stopped goes on at a line, and a held bit is raised; others always cut it again from its start.
    pub goes_on: bool,
}

impl Crew {
    /// The owner alone, who cuts again what was stopped.
    pub const OWNER: Self = Self { who: Who::Owner, goes_on: false };

    /// Of a day: all that there are take turns with the seeds.
    #[must_use]
    pub const fn of_seed(seed: u64) -> Self {
        let who = match seed % 3 {
            0 => Who::Owner,
            1 => Who::Both,
            _ => Who::Helper,
        };
        Self { who, goes_on: seed.is_multiple_of(2) }
    }

    /// Them in the morning.
    #[must_use]
    pub fn people(self) -> Vec<Person> {
        let owner = Person::new("Solveig", true);
        let helper = Person::new("Emrik", false);
        match self.who {
            Who::Owner => vec![owner],
            Who::Both => vec![owner, Person { terminal: "t2", ..helper }],
            Who::Helper => vec![helper, Person { terminal: "t2", look_at: NOT_FETCHED, ..owner }],
        }
    }
}

/// Somebody who works in a day.
#[derive(Debug)]
pub struct Person {
    /// Their name.
    pub who: &'static str,
    /// Whether it is the owner.
    pub is_owner: bool,
    /// The terminal they use.
    pub terminal: &'static str,
    /// When they look next, or do what they intend.
    pub look_at: Tick,
    /// What they saw, and what they are about to do about it.
    pub intends: Option<(Box<Now>, Act)>,
    /// Since when the machine stands and there is nothing they may do.
    pub idle_since: Option<Tick>,
    /// When one who was fetched leaves again.
    pub leaves_at: Option<Tick>,
}

impl Person {
    const fn new(who: &'static str, is_owner: bool) -> Self {
        Self { who, is_owner, terminal: "t1", look_at: Tick(0), intends: None, idle_since: None, leaves_at: None }
    }

    /// What they do about what they see.
    #[must_use]
    pub const fn rule(&self) -> ByRule {
        ByRule { who: self.who, grading: all_good }
    }

    /// Whether they come only when they are fetched.
    #[must_use]
    pub fn is_afar(&self) -> bool {
        self.look_at == NOT_FETCHED
    }

    /// They come then, and stay until.
    pub const fn fetched(&mut self, comes_at: Tick, leaves_at: Tick) {
        self.look_at = comes_at;
        self.leaves_at = Some(leaves_at);
    }

    /// They are gone until they are fetched again.
    pub fn goes(&mut self) {
        (self.look_at, self.leaves_at, self.intends) = (NOT_FETCHED, None, None);
    }

    /// What they do next, they do not before then.
    pub fn dawdles_until(&mut self, then: Tick) {
        if !self.is_afar() {
            self.look_at = then;
        }
    }

    /// They are gone until then.
    pub fn is_away_until(&mut self, back: Tick) {
        if !self.is_afar() {
            (self.look_at, self.intends) = (back, None);
        }
    }
}

fn all_good(index: u32) -> (Grade, Option<Reason>) {
    let _ = index;
    (Grade::Good, None)
}
