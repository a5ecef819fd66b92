//! Stepping away: whether a running sheet may be left with nobody signed in at the machine, and the question that is then
//! asked again and again, whether somebody is still there.
//!
//! May live here: working out whether it may, and counting the times. May not: what an empty room means; the floor says so.

use super::acts::{Done, Said};
use super::foreman::{Foreman, Source};
use super::wording;
use crate::calendar::{self, Span};
use crate::floor::sheet::{Approval, Article, Attendance};
use crate::floor::state::Away;
use crate::floor::{Asked, AtStage, By, Happening, Presence, Watch};
use crate::link::wire::TickSource;
use chargehand_types::call::CallReason;
use chargehand_types::event::What;
use chargehand_types::now::{AwayNow, StillThereNow};
use chargehand_types::plan::{Minute, Minutes};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Seconds, Tick};
use chargehand_types::stage::Role;
use chrono::{DurationRound, TimeDelta};

/// Machine milliseconds between two looks at the hours while a sheet runs alone.
const LOOK_EVERY_MS: u64 = 30_000;
const MINUTE_MS: u64 = 60_000;

/// The times of a sheet that runs alone.
#[derive(Debug, Default)]
pub(in crate::app) struct Vigil {
    /// How far the question had come when the time was set.
    seen: Option<Watch>,
    /// When it goes a step further.
    due: Option<Tick>,
    /// When it is looked again whether the sheet may still run alone.
    look: Option<Tick>,
    /// A spindle that was started again is up to speed from then on.
    at_speed: Option<Tick>,
}

impl Foreman {
    /// The next time of a sheet that runs alone.
    pub(in crate::app) fn vigil_at(&self) -> Option<Tick> {
        [self.vigil.due, self.vigil.look].into_iter().flatten().min()
    }

    /// What is due of it.
    pub(in crate::app) async fn vigil_due(&mut self) {
        let now = self.clock.now();
        if self.vigil.due.is_some_and(|t| t <= now) {
            self.vigil.due = None;
            self.happens_by_itself(Happening::StillThereDue).await;
        }
        if self.vigil.look.is_some_and(|t| t <= now) {
            self.vigil.look = None;
            // what runs may come to its end as long as it is still time for it
            self.review_away(Seconds::ZERO).await;
            self.keep_vigil();
        }
    }

    /// Sets the times anew where the question went further, or where the sheet began or ended to run alone.
    pub(in crate::app) fn keep_vigil(&mut self) {
        let watch = match (self.floor.presence, self.floor.at()) {
            (Presence::Nobody, Some(AtStage::Cutting(cutting))) => Some(cutting.watch),
            _ => None,
        };
        let (now, away) = (self.clock.now(), &self.premises.config.away);
        if watch != self.vigil.seen {
            self.vigil.seen = watch;
            self.vigil.due = match watch {
                Some(Watch::Rests) => Some(away.still_there),
                Some(Watch::Asked | Watch::Called) => Some(away.answer),
                Some(Watch::GivenUp) | None => None,
            }
            .map(|minutes| now.after_ms(u64::from(minutes.0) * MINUTE_MS));
        }
        match watch {
            Some(_) => self.vigil.look = self.vigil.look.or(Some(now.after_ms(LOOK_EVERY_MS))),
            None => self.vigil.look = None,
        }
    }

    /// Works out anew whether the machine may be left alone while it cuts for so long, and tells the floor.
    pub(in crate::app) async fn review_away(&mut self, to_come: Seconds) {
        if !self.premises.config.away.allowed {
            return;
        }
        let away = if self.why_not_away(to_come).is_some() { Away::Off } else { Away::Allowed };
        if away != self.floor.machine.away {
            self.happens_by_itself(Happening::AwayChanged(away)).await;
        }
    }

    /// Machine seconds of the chain that is cut, from now to its end.
    pub(in crate::app) fn chain_left(&self) -> Seconds {
        self.progress().1 + self.chain_after()
    }

    /// Machine seconds of the operations of the chain behind the one being cut.
    pub(in crate::app) fn chain_after(&self) -> Seconds {
        let later = self.floor.chain().into_iter().skip(1);
        later.fold(Seconds::ZERO, |sum, at| sum + self.predicted(at))
    }

    /// Why the sheet on the machine may not run with nobody signed in for so long from now; none when it may.
    fn why_not_away(&self, to_come: Seconds) -> Option<String> {
        let no = |text: &str| Some(text.to_owned());
        if !self.cautions_signed() {
            return no("The owner has yet to read and sign the cautions of stepping away.");
        }
        let Some(sheet) = &self.floor.sheet else { return no("No sheet is on the machine.") };
        if sheet.article == Article::First {
            return no("A first sheet is watched: only what was tried and passed runs alone.");
        }
        if sheet.approval != Approval::Given {
            return no("The owner has yet to approve the first article of this revision.");
        }
        let attended = |at: u8| sheet.facts(at).is_none_or(|o| o.attendance == Attendance::Attended);
        if self.floor.chain().into_iter().any(attended) {
            return no("The card does not mark every operation of this chain as one that may run alone.");
        }
        if self.in_earshot_for(to_come) {
            return None;
        }
        let smoulder = self.premises.config.limits.smoulder_min;
        Some(format!(
            "Nobody is in earshot long enough: by the calendar the cut has to end {smoulder} min before they leave, and outside the quiet hours."
        ))
    }

    fn in_earshot_for(&self, to_come: Seconds) -> bool {
        let now = self.clock.wall();
        let Ok(zero) = now.duration_trunc(TimeDelta::minutes(1)) else { return false };
        let (hours, smoulder) = (&self.premises.config.hours, Minutes(self.premises.config.limits.smoulder_min));
        // who is there by the calendar and not signed in hears no more than anybody
        let reach = calendar::reach(hours, &[], smoulder, Span { zero, days: 2 });
        let real = to_come.value() / self.clock.rate() / 60.0;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "minutes of one chain")]
        let minutes = real.ceil().max(0.0) as u32 + 1;
        reach.earshot.without(&reach.quiet).hold(Minute(0), Minute(minutes))
    }

    fn cautions_signed(&self) -> bool {
        self.shared.fold.read().is_ok_and(|f| f.cautions() == Some(wording::CAUTIONS_VERSION))
    }

    /// Stepping away as screens show it.
    pub(in crate::app) fn away_now(&self) -> Option<AwayNow> {
        if !self.premises.config.away.allowed {
            return None;
        }
        let left = || self.vigil.due.map_or(Seconds::ZERO, |t| t.since(self.clock.now()));
        let asked = match self.vigil.seen {
            Some(Watch::Asked) => Some(StillThereNow { left: left(), called: false }),
            Some(Watch::Called) => Some(StillThereNow { left: left(), called: true }),
            Some(Watch::Rests | Watch::GivenUp) | None => None,
        };
        Some(AwayNow {
            cautions: wording::CAUTIONS.map(str::to_owned).to_vec(),
            version: wording::CAUTIONS_VERSION,
            signed: self.cautions_signed(),
            why_not: self.why_not_away(self.chain_left()),
            asked,
        })
    }

    /// What is written down when it is asked.
    pub(in crate::app) fn still_there_asked(&self) -> What {
        let minutes = f64::from(self.premises.config.away.answer.0);
        What::StillThereAsked { answer_within: Seconds::of(minutes * 60.0) }
    }

    /// Somebody at the machine says that they are there.
    pub(super) async fn still_there(&mut self, by: By, source: &Source) -> Done {
        let mut also = vec![What::StillThereAnswered];
        if let Ok(fold) = self.shared.fold.read() {
            let calls = fold.calls().filter(|c| c.reason == CallReason::StillThere);
            also.extend(calls.map(|c| What::CallAnswered { number: c.number }));
        }
        self.happen(Happening::Act { by, what: Asked::StillThere }, source.clone(), also).await?;
        let minutes = self.premises.config.away.still_there.0;
        Ok(Said::of(format!("Noted: somebody is there. It is asked again in {minutes} min.")))
    }

    /// The owner signs the cautions, in the wording they were shown in.
    pub(super) async fn sign_cautions(&mut self, by: By, version: u32, source: &Source) -> Done {
        if !self.premises.config.away.allowed {
            let text = "Stepping away is not turned on: daemon.toml says so under [away].";
            return Err(Problem::new(ProblemKind::NotNow, text));
        }
        if by != By::AtMachine(Role::Owner) {
            let text = "Only the owner, signed in at the machine, signs the cautions of stepping away.";
            return Err(Problem::new(ProblemKind::NotPermitted, text));
        }
        if version != wording::CAUTIONS_VERSION {
            return Err(Problem::new(ProblemKind::SeenIsOld, "The cautions read otherwise now. Read them again."));
        }
        self.tell_of_shop(vec![What::CautionsSigned { version }], source).await?;
        self.version.0 += 1;
        Ok(Said::of("Signed. What was tried and passed may now run alone, within the hours of earshot."))
    }

    /// A spindle that was stopped for want of anybody is switched on again, and comes to speed.
    pub(super) async fn start_spindle_again(&mut self, by: By, source: &Source) -> Result<(), Problem> {
        self.happen(Happening::Act { by, what: Asked::SpindleSwitchedOn }, source.clone(), Vec::new()).await?;
        // it needs no longer up than down
        let seconds = self.premises.config.machine.spindle.run_down().value();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "config holds it within limits")]
        let us = (seconds * 1.0e6) as u64;
        self.vigil.at_speed = Some(self.clock.now().after_us(us));
        Ok(())
    }

    /// Nothing goes into the wood before the spindle is at speed.
    pub(super) fn at_speed(&self) -> Result<(), Problem> {
        let left = self.vigil.at_speed.map_or(Seconds::ZERO, |t| t.since(self.clock.now()));
        if left.value() <= 0.0 {
            return Ok(());
        }
        let text = format!("The spindle is still coming to speed: go on in {}.", wording::span(left));
        Err(Problem::new(ProblemKind::StartCondition, text))
    }
}
