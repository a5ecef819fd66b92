//! A list that was interrupted: where it goes on. After a gap, or once the machine did something by itself, the last
//! finished step is asked once more; after a long gap, or on another ground than it began on, the list begins anew (say
//! where you stopped, repeat the last finished item: Flight Safety Foundation, ALAR briefing note 1.5).
//!
//! May live here: that rule, and the place in the list under way that follows from it. May not: what a step asks.

use super::foreman::Foreman;
use super::lists::{self, OFF};
use super::work::ListRun;
use crate::floor::state::{Position, Slot, Spindle, WorkZero};
use crate::floor::{Asked, Happening};
use crate::link::wire::TickSource;
use crate::shop::checklist::Asks;
use chargehand_types::act::Act;
use chargehand_types::card::ZZero;
use chargehand_types::checklist::ListKind;
use chargehand_types::event::What;
use chargehand_types::quantity::{Seconds, Tick};
use chrono::TimeDelta;

/// After a gap longer than this the last finished step is asked once more. Common practice, no source.
pub const ONCE_MORE_AFTER: TimeDelta = TimeDelta::seconds(60);
/// After a gap longer than this nothing that was looked at counts any more. Common practice, no source.
pub const ANEW_AFTER: TimeDelta = TimeDelta::minutes(10);

/// Where a list goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GoesOn {
    /// At the step that is asked.
    Here,
    /// At the last finished one.
    OnceMore,
    /// At its first.
    Anew,
}

/// What a list rests on besides its sheet and its program, which no list outlives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ground {
    bit: Option<Slot>,
    position: Position,
    zero: WorkZero,
    z_zero: Option<ZZero>,
}

/// How a list is attended to.
#[derive(Debug, Clone)]
pub struct Attention {
    /// When somebody was last seen to be at it.
    since: Tick,
    /// On what it rested then; none for a list that rests on nothing.
    ground: Option<Ground>,
    /// The machine did something by itself since.
    stirred: bool,
    /// The last finished step is asked once more, since nobody was at it.
    back: bool,
}

impl Attention {
    /// Somebody is at it now.
    pub const fn now(since: Tick, ground: Option<Ground>) -> Self {
        Self { since, ground, stirred: false, back: false }
    }

    /// Where its list goes on at a time, on a ground, at a step whose work takes so long.
    fn goes_on(&self, now: Tick, rate: f64, ground: Option<Ground>, takes: Seconds) -> GoesOn {
        // a practice machine hurries; who stands at it does not
        let passed = now.since(self.since).value() / rate - takes.value();
        #[allow(clippy::cast_possible_truncation, reason = "milliseconds of days at most")]
        let gap = TimeDelta::milliseconds((passed * 1000.0) as i64);
        if self.ground != ground || gap > ANEW_AFTER {
            GoesOn::Anew
        } else if !self.back && (self.stirred || gap > ONCE_MORE_AFTER) {
            GoesOn::OnceMore
        } else {
            GoesOn::Here
        }
    }
}

/// What was said at the step that was left stands first: it may say what went wrong there.
fn beside(said: Option<String>, why: String) -> String {
    said.map_or(why.clone(), |said| format!("{said} {why}"))
}

impl Foreman {
    /// Somebody at the machine did something for the list under way.
    pub(in crate::app) fn attended(&mut self) {
        let Some(kind) = self.list_under_way().map(|run| run.kind) else { return };
        let attention = Attention::now(self.clock.now(), self.ground(kind));
        if let Some(run) = self.list_under_way() {
            run.attention = attention;
        }
    }

    /// Looks whether the list under way was interrupted, and takes it back where it was.
    pub(in crate::app) async fn review_list(&mut self) {
        self.review_bit();
        let Some(kind) = self.list_under_way().map(|run| run.kind) else { return };
        let (now, rate, ground) = (self.clock.now(), self.clock.rate(), self.ground(kind));
        let touched = self.touched_at().is_some();
        let Some(run) = self.list_under_way() else { return };
        let Some(before) = run.at.checked_sub(1) else {
            // nothing is finished yet that could be repeated
            run.attention.ground = ground;
            run.attention.stirred = false;
            return;
        };
        let takes = run.items.get(run.at).map_or(Seconds::ZERO, |step| step.takes);
        match run.attention.goes_on(now, rate, ground, takes) {
            GoesOn::Here => {}
            GoesOn::OnceMore => {
                run.attention.back = true;
                run.attention.stirred = false;
                // what was compared is written down, and there is nothing to compare it with any more
                if run.items.get(before).is_some_and(|step| step.asks != Asks::TouchAgain || touched) {
                    let why = format!("You stopped at step {}. {LOOK_AGAIN}", run.at + 1);
                    (run.note, run.back) = (Some(beside(run.note.take(), why)), true);
                    run.at = before;
                    run.put = lists::now();
                    self.version.0 += 1;
                }
            }
            GoesOn::Anew => {
                let why = if run.attention.ground == ground {
                    format!("You stopped at step {}, more than ten minutes ago. The list begins anew.", run.at + 1)
                } else {
                    format!("You stopped at step {}. Since then bit or zero changed: the list begins anew.", run.at + 1)
                };
                let note = beside(run.note.take(), why);
                self.list_anew(note).await;
            }
        }
    }

    /// A bit that somebody saw stand in the list under way, and that may turn since: the list goes back to where it is made
    /// safe, or no later step of it could be done. A list of the day that has the spindle switched off does that to the sheet's.
    pub(in crate::app) fn review_bit(&mut self) {
        let spindle = self.floor.machine.spindle;
        let Some(run) = self.list_under_way().filter(|_| spindle != Spindle::Still) else { return };
        if !run.items.iter().take(run.at).any(|s| s.asks == Asks::RunDown) {
            return;
        }
        let why = format!("You stopped at step {}. Since then the bit may have turned: look at it again.", run.at + 1);
        (run.note, run.back) = (Some(beside(run.note.take(), why)), true);
        // what was compared is written down, and there is nothing to compare it with any more
        let done = run
            .items
            .drain(..run.at.min(run.items.len()))
            .filter(|step| step.asks != Asks::TouchAgain)
            .collect::<Vec<_>>();
        let off = done.iter().position(|s| s.id == OFF && spindle == Spindle::MayTurn);
        let looks = done.iter().position(|s| s.asks == Asks::RunDown);
        (run.at, run.put) = (off.or(looks).unwrap_or_default(), lists::now());
        run.items.splice(0..0, done);
        self.version.0 += 1;
    }

    /// The list under way from its first step.
    async fn list_anew(&mut self, note: String) {
        let Some(kind) = self.list_under_way().map(|run| run.kind) else { return };
        let again = if kind.is_of_day() { None } else { self.list_run(kind) };
        if let (Some(again), Some(work)) = (again, &mut self.work) {
            work.list = Some(again);
        }
        self.attended();
        let put = lists::now();
        if let Some(run) = self.list_under_way() {
            (run.at, run.note, run.back, run.put) = (0, Some(note), true, put);
        }
        self.version.0 += 1;
        if kind.is_of_day()
            && let Err(problem) = self.tell_of_shop(vec![What::DayBegun { list: kind }], &Default::default()).await
        {
            tracing::warn!("{problem}");
        }
    }

    fn list_under_way(&mut self) -> Option<&mut ListRun> {
        match &mut self.day.run {
            Some(run) => Some(run),
            None => self.work.as_mut()?.list.as_mut(),
        }
    }

    /// What a list rests on now. A sheet that is laid and held down, and parts on the bench, are as they are whatever
    /// becomes of bit and zero.
    pub(in crate::app) fn ground(&self, list: ListKind) -> Option<Ground> {
        let machine = &self.floor.machine;
        let ground =
            Ground { bit: machine.bit, position: machine.position, zero: machine.zero, z_zero: machine.z_zero };
        matches!(list, ListKind::Tooling | ListKind::Ready | ListKind::TakingOff).then_some(ground)
    }

    /// Something happened that calls whoever walks a list away from it.
    pub(in crate::app) fn perhaps_interrupted(&mut self, happening: &Happening) {
        let calls_away = matches!(
            happening,
            Happening::LinkDown
                | Happening::HeldConfirmed { asked: false, .. }
                | Happening::HoldUnconfirmed
                | Happening::Refused
                | Happening::Fault { .. }
                | Happening::Restarted
                | Happening::Stopped { .. }
                | Happening::Act { what: Asked::Trouble, .. }
        );
        if calls_away && let Some(run) = self.list_under_way() {
            run.attention.stirred = true;
        }
    }
}

/// What is asked of whoever comes back to a list.
pub const LOOK_AGAIN: &str = "Look at this step again, whatever you remember.";

/// Whether an act is one that a person does for the list under way.
pub const fn is_of_list(act: &Act) -> bool {
    matches!(
        act,
        Act::Answer { .. }
            | Act::GradePart { .. }
            | Act::ZeroHere { .. }
            | Act::HandMove { .. }
            | Act::HandRun { .. }
            | Act::OverSpot
            | Act::Approach
            | Act::TouchPlate
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use GoesOn::{Anew, Here, OnceMore};

    const GROUND: Ground =
        Ground { bit: Some(Slot(0)), position: Position::Known, zero: WorkZero::Confirmed, z_zero: Some(ZZero::Top) };

    fn after(attention: &Attention, seconds: u64, takes: f64) -> GoesOn {
        let now = attention.since.after_us(seconds * 1_000_000);
        attention.goes_on(now, 1.0, Some(GROUND), Seconds::of(takes))
    }

    #[test]
    fn a_gap_asks_the_last_step_once_more_and_a_long_one_begins_anew() {
        let attention = Attention::now(Tick(5_000_000), Some(GROUND));
        let told = [0, 60, 61, 600, 601].map(|seconds| after(&attention, seconds, 0.0));
        assert_eq!(told, [Here, Here, OnceMore, OnceMore, Anew]);
    }

    #[test]
    fn the_work_of_a_step_is_no_gap() {
        let attention = Attention::now(Tick(0), Some(GROUND));
        let told = [300, 360, 361, 901].map(|seconds| after(&attention, seconds, 300.0));
        assert_eq!(told, [Here, Here, OnceMore, Anew]);
    }

    #[test]
    fn it_steps_back_once_until_somebody_is_at_it_again() {
        let mut attention = Attention::now(Tick(0), Some(GROUND));
        attention.back = true;
        assert_eq!([61, 599, 601].map(|seconds| after(&attention, seconds, 0.0)), [Here, Here, Anew]);
        attention.stirred = true;
        assert_eq!(after(&attention, 2, 0.0), Here);
    }

    #[test]
    fn what_the_machine_does_by_itself_interrupts_at_once() {
        let attention = Attention { stirred: true, ..Attention::now(Tick(0), Some(GROUND)) };
        assert_eq!(after(&attention, 1, 900.0), OnceMore);
    }

    #[test]
    fn another_bit_or_zero_begins_it_anew() {
        let others = [
            Ground { bit: Some(Slot(1)), ..GROUND },
            Ground { bit: None, ..GROUND },
            Ground { position: Position::Unknown, ..GROUND },
            Ground { zero: WorkZero::Unconfirmed, ..GROUND },
            Ground { z_zero: None, ..GROUND },
        ];
        for other in others {
            let attention = Attention::now(Tick(0), Some(other));
            assert_eq!(after(&attention, 1, 0.0), Anew, "{other:?}");
        }
    }

    #[test]
    fn a_practice_machine_hurries_and_people_do_not() {
        let attention = Attention::now(Tick(0), None);
        let at = |seconds: u64| attention.goes_on(Tick(seconds * 1_000_000), 20.0, None, Seconds::ZERO);
        assert_eq!([61, 1200, 1221].map(at), [Here, Here, OnceMore]);
    }
}
