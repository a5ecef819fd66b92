//! Feeds and rapids faster or slower than written, while it cuts.
//!
//! May live here: who may, how far, and that it is written down. May not: bytes.

use super::acts::{Done, Said};
use super::foreman::{Foreman, Source};
use crate::floor::By;
use crate::link::wire::{Command, Override};
use chargehand_types::event::What;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::stage::Role;
use std::ops::RangeInclusive;

/// What a helper may set feeds to, per cent. More is the owner's.
const HELPERS: RangeInclusive<u16> = 50..=110;
/// What rapids can be set to.
const RAPIDS: [u16; 3] = [25, 50, 100];

impl Foreman {
    /// Sets feeds and rapids to so much per cent of what is written.
    ///
    /// # Errors
    /// When nobody is signed in at the machine, it is more than the person or the controller may, or the controller
    /// takes no such change.
    pub(super) async fn override_to(&mut self, by: By, feed: Option<u16>, rapid: Option<u16>, source: &Source) -> Done {
        let bad = |text: String| Problem::new(ProblemKind::BadRequest, text);
        let By::AtMachine(role) = by else {
            let text = "Only somebody signed in at the machine changes how fast it cuts.";
            return Err(Problem::new(ProblemKind::NotPermitted, text));
        };
        if feed.is_none() && rapid.is_none() {
            return Err(bad("Say to how much per cent feeds or rapids are to be set.".to_owned()));
        }
        if let Some(feed) = feed {
            let range = self.override_range("feed").ok_or_else(unable)?;
            if feed % 10 != 0 || !range.contains(&feed) {
                let text = format!("This controller takes feeds from {} to {} %, in tens.", range.start(), range.end());
                return Err(bad(text));
            }
            if role != Role::Owner && !HELPERS.contains(&feed) {
                let text = format!(
                    "A helper sets feeds from {} to {} %; the owner may set {feed} %.",
                    HELPERS.start(),
                    HELPERS.end()
                );
                return Err(Problem::new(ProblemKind::NotPermitted, text));
            }
        }
        if let Some(rapid) = rapid {
            let range = self.override_range("rapid").ok_or_else(rapids_stay)?;
            if !RAPIDS.contains(&rapid) || !range.contains(&rapid) {
                return Err(bad(format!("Rapids are set to 25, 50 or 100 %, not to {rapid} %.")));
            }
        }
        self.line.command(Command::Override(Override { feed, rapid }));
        self.tell(vec![What::Overridden { feed, rapid }], source).await?;
        let of = |what: &str, per_cent: Option<u16>| per_cent.map(|p| format!("{what} at {p} %"));
        let told: Vec<String> = [of("feeds", feed), of("rapids", rapid)].into_iter().flatten().collect();
        Ok(Said::of(format!("Asked for: {} of what is written.", told.join(", "))))
    }

    /// A chain begins as it is written: what was set for another sheet is not left to surprise this one.
    pub(super) fn as_written(&mut self) {
        let set = self.controller.and_then(|c| c.per_cent).is_some_and(|per_cent| per_cent != [100, 100]);
        if set && self.override_range("feed").is_some() {
            let rapid = self.override_range("rapid").map(|_| 100);
            self.line.command(Command::Override(Override { feed: Some(100), rapid }));
        }
    }

    /// Whether rapids can be slowed.
    pub(super) fn slows_rapids(&self) -> bool {
        self.override_range("rapid").is_some()
    }

    fn override_range(&self, of: &str) -> Option<RangeInclusive<u16>> {
        let keys = &self.premises.profile.keys;
        let (at_once, by_line) = match of {
            "rapid" => (&keys.at_once.rapid_whole, &keys.commands.rapid_override),
            _ => (&keys.at_once.feed_whole, &keys.commands.feed_override),
        };
        if at_once.is_empty() && by_line.is_empty() {
            return None;
        }
        keys.override_range.get(of).map(|[least, most]| *least..=*most)
    }
}

fn rapids_stay() -> Problem {
    let text = "This controller has no words to slow rapids: they stay as written. Feeds can be changed.";
    Problem::new(ProblemKind::NotNow, text)
}

fn unable() -> Problem {
    Problem::new(ProblemKind::NotNow, "This controller takes no change of feed while it cuts.")
}
