//! Moving one axis by hand for as long as somebody asks for it, in short steps: each is sent only while the asking goes on,
//! so that whatever happens to whoever asks, the machine comes to a stand by itself.
//!
//! Where the controller has words for a move that can be broken off, a few steps are ahead and a byte breaks them off. Where
//! it has none, a step goes out once the one before it has run out.

use super::conversation::{Link, Owner, Task};
use super::talk;
use super::wire::{NotDone, Run, StateWord};
use crate::floor::permit::{Class, Permit};
use chargehand_types::act::Axis;
use chargehand_types::quantity::{Feed, Length, Point, Tick};
use std::sync::Arc;

/// It goes on for so long after it was last asked for: longer than the pause between two repeats of a key. Links give no
/// deadline less real time than this in any case.
pub(in crate::link) const KEPT_MS: u64 = 250;
/// A step takes so long; twice that where one has to run out before the next.
const STEP_MS: i64 = 100;
/// Real microseconds between two looks, where the next step has to wait.
const LOOK_US: f64 = 5_000.0;
/// No more steps than this are ahead of the reported place.
const AHEAD: i64 = 4;

/// A run under way.
#[derive(Debug, Clone, Copy)]
pub(in crate::link) struct Running {
    axis: Axis,
    step: Length,
    /// The way to its end that was not sent yet.
    left: Length,
    /// Where the steps sent so far end, on its axis; none where reports tell no place.
    end: Option<Length>,
    feed: Feed,
    /// It is asked for until then.
    until: Tick,
    /// The next step goes out no sooner.
    next: Tick,
    /// A step was sent.
    sent: bool,
    over: bool,
}

impl Link {
    /// Whether its moves can be broken off.
    fn breaks_off(&self) -> bool {
        !self.profile.keys.commands.run.is_empty() && !self.profile.keys.at_once.end_run.is_empty()
    }

    /// Begins, for as long as it is kept on.
    pub(in crate::link) fn begin_run(&mut self, now: Tick, permit: Permit, how: Run) -> Result<(), NotDone> {
        self.free()?;
        let Some(state) = self.state.filter(|s| s.word == StateWord::Ready) else {
            return Err(NotDone::Busy("it does not stand still"));
        };
        permit.used(Class::Hand, self.epoch)?;
        let steps = if self.breaks_off() { 1 } else { 2 };
        let step = Length(how.feed.0.saturating_mul(STEP_MS * steps) / 60_000).max(Length(1_000));
        self.running = Some(Running {
            axis: how.axis,
            step: if how.up { step } else { -step },
            left: how.most.max(Length::ZERO),
            end: state.machine.map(|at| along(at, how.axis)),
            feed: how.feed,
            until: now.after_ms(self.ms(KEPT_MS)),
            next: now,
            sent: false,
            over: false,
        });
        self.start_task(Task::Run, Vec::new());
        self.run_on(now);
        Ok(())
    }

    /// Somebody still asks for it. A run that is over is not begun again.
    pub(in crate::link) fn keep_running(&mut self, now: Tick) {
        let until = now.after_ms(self.ms(KEPT_MS));
        if let Some(running) = self.running.as_mut().filter(|r| !r.over) {
            running.until = until;
        }
    }

    /// No step more; those that can be broken off are.
    pub(in crate::link) fn end_run(&mut self) {
        let breaks_off = self.breaks_off();
        let Some(running) = self.running.as_mut().filter(|r| !r.over) else { return };
        running.over = true;
        self.task_lines.clear();
        if breaks_off {
            self.urgent(&self.profile.keys.at_once.end_run.clone());
        }
        self.report_asked = None;
    }

    /// The next step, when it is time for it.
    pub(in crate::link) fn run_on(&mut self, now: Tick) {
        if self.task != Some(Task::Run) {
            return;
        }
        let Some(mut running) = self.running.filter(|r| !r.over) else { return };
        if now >= running.until || running.left <= Length::ZERO {
            return self.end_run_at(now);
        }
        let breaks_off = self.breaks_off();
        let at = self.state.and_then(|s| s.machine).map(|at| along(at, running.axis));
        let near = at.zip(running.end).is_none_or(|(at, end)| (end - at).abs() <= Length(running.step.abs().0 * AHEAD));
        // it stood still as it began
        let stands = !running.sent || self.state.is_some_and(|s| self.drained(s.word));
        let free = if breaks_off { now >= running.next && near } else { stands };
        if !free || !self.task_lines.is_empty() || self.flight.iter().any(|f| f.of.works()) {
            return;
        }
        let step = if running.left < running.step.abs() {
            if running.step < Length::ZERO { -running.left } else { running.left }
        } else {
            running.step
        };
        let lines = talk::run_step(&Arc::clone(&self.profile), running.axis, step, running.feed);
        running.sent = true;
        running.left = running.left - step.abs();
        running.end = running.end.map(|end| end + step);
        running.next = running.next.max(now).after_ms(STEP_MS.unsigned_abs());
        self.running = Some(running);
        self.ready_since_answer = false;
        self.task_lines.extend(lines.into_iter().map(|line| (line, Owner::Task)));
    }

    /// Out of way, or out of asking: what is at its end runs out, what was let go of is broken off.
    fn end_run_at(&mut self, now: Tick) {
        let asked = self.running.is_some_and(|r| now < r.until);
        if asked {
            if let Some(running) = &mut self.running {
                running.over = true;
            }
        } else {
            self.end_run();
        }
    }

    /// Whether it is over, so that standing still ends it.
    pub(in crate::link) fn run_is_over(&self) -> bool {
        self.running.is_none_or(|r| r.over)
    }

    /// When the link has to look at it again.
    pub(in crate::link) fn run_wake(&self, now: Tick) -> Option<Tick> {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rates are small and positive")]
        let soon = now.after_us((LOOK_US * self.rate) as u64);
        self.running.filter(|r| !r.over).map(|r| r.next.min(r.until).max(soon))
    }
}

const fn along(at: Point, axis: Axis) -> Length {
    match axis {
        Axis::X => at.x,
        Axis::Y => at.y,
        Axis::Z => at.z,
    }
}
