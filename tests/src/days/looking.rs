//! What people do in a day: they look at the screen, and do what is to be done at it and at the machine.
//!
//! May live here: that, by rule and by chance. May not: what goes wrong.

use super::day::{Day, here};
use super::rules::Broken;
use crate::days::crew::Who;
use crate::operator::Next;
use chargehand_daemon::link::wire::TickSource;
use chargehand_daemon::practice::{Fault, Hand};
use chargehand_types::act::Act;
use chargehand_types::checklist::{Ask, ListKind, StepAnswer};
use chargehand_types::now::{LinkNow, Motion, Now, OfferedAct};
use chargehand_types::quantity::Tick;
use chargehand_types::stage::{Decision, Role, Stage};

/// Microseconds between two looks of a person while nothing is to be done.
const LOOK_US: u64 = 2_000_000;
/// Microseconds a person watches a controller that says nothing before they switch it off and on.
const SILENT_US: u64 = 60_000_000;
/// Times that the screen says of something that it was not done before the controller is switched off and on.
const DONE_IN_VAIN: u32 = 3;
/// Times home is looked for in vain before somebody sees to the drives, the door and the controller.
const HOMES_IN_VAIN: u32 = 3;
/// Microseconds that a helper stands before the machine with nothing to do before they fetch the owner.
const FETCHES_AFTER_US: u64 = 60_000_000;
/// A bit that is held is raised and given up so rarely, where people go on with what was stopped: one in so many looks.
const RAISES_ONE_IN: u64 = 4;

fn open(now: &Now, act: OfferedAct) -> bool {
    now.actions.iter().any(|o| o.act == act && o.refused.is_none())
}

/// Whether the machine moves, or is about to.
fn is_at_work(now: &Now) -> bool {
    let cutting = now.sheet.as_ref().is_some_and(|s| s.stage == Stage::Cutting);
    cutting || matches!(now.machine.motion, Motion::Moving | Motion::Homing | Motion::HoldAsked)
}

impl Day<'_> {
    /// Whoever it is time for looks, or does what they intended. Whether the day is over.
    pub(super) async fn look(&mut self) -> Result<bool, Broken> {
        let at = self.clock.now();
        for who in 0..self.people.len() {
            if self.people.get(who).is_some_and(|p| p.look_at <= at) {
                let now = self.now().await?;
                if now.sheet.is_none() && now.waiting == 0 && self.full_until.is_none() {
                    return Ok(true);
                }
                self.one_looks(who, now).await?;
            }
        }
        Ok(false)
    }

    async fn one_looks(&mut self, who: usize, now: Now) -> Result<(), Broken> {
        let (at, alone) = (self.clock.now(), self.people.len() == 1);
        let Some(person) = self.people.get_mut(who) else { return Ok(()) };
        person.look_at = Tick(at.0 + LOOK_US);
        if person.leaves_at.is_some_and(|t| t <= at) {
            let terminal = person.terminal;
            person.goes();
            return self.press(Act::SignOut, here(terminal)).await;
        }
        if let Some((seen, act)) = person.intends.take() {
            return self.acts(who, (&seen, &now), act).await;
        }
        let rule = person.rule();
        self.sees_to_machine(&now);
        let act = match self.decides(who, &now) {
            Some(act) => Some(act),
            None => match rule.next(&now) {
                Next::Do(act) => Some(act),
                Next::Wait => None,
            },
        };
        let Some(act) = act else {
            self.waits(who, &now);
            return Ok(());
        };
        let act = self.perhaps_wrong(&now, act);
        if alone {
            return self.acts(who, (&now, &now), act).await;
        }
        // somebody else may be quicker
        let at = Tick(at.0 + self.chance.between(100_000, 3_000_000));
        if let Some(person) = self.people.get_mut(who) {
            (person.look_at, person.intends, person.idle_since) = (at, Some((Box::new(now), act)), None);
        }
        Ok(())
    }

    /// An act against what was seen, as things stand.
    async fn acts(&mut self, who: usize, (seen, stands): (&Now, &Now), act: Act) -> Result<(), Broken> {
        let at = self.clock.now();
        self.do_act(who, (seen, stands), act).await?;
        let next = Tick(at.0 + self.chance.between(500_000, 8_000_000));
        if let Some(person) = self.people.get_mut(who) {
            person.look_at = next;
        }
        Ok(())
    }

    /// A helper for whom nothing is left to do fetches the owner, who comes some minutes later and stays for some.
    fn waits(&mut self, who: usize, now: &Now) {
        let at = self.clock.now();
        let stands = self.crew.who == Who::Helper && !is_at_work(now) && now.machine.link == LinkNow::Up;
        let Some(person) = self.people.get_mut(who).filter(|p| !p.is_owner) else { return };
        if !stands {
            person.idle_since = None;
            return;
        }
        let since = *person.idle_since.get_or_insert(at);
        if at.0 < since.0 + FETCHES_AFTER_US {
            return;
        }
        person.idle_since = None;
        let comes = at.after_ms(self.chance.between(10_000, 300_000));
        let leaves = comes.after_ms(self.chance.between(30_000, 600_000));
        if let Some(owner) = self.people.iter_mut().find(|p| p.is_owner && p.is_afar()) {
            owner.fetched(comes, leaves);
            self.told.fetched += 1;
            self.note("the helper fetched the owner".to_owned());
        }
    }

    /// What is done at the machine itself: its power, its door, its buttons.
    fn sees_to_machine(&mut self, now: &Now) {
        self.watches_silence(now);
        let at = self.clock.now();
        let Some(cable) = &mut self.cable else { return };
        if now.machine.motion == Motion::Held {
            cable.machine.hand(at, Hand::CloseDoor);
            // a program that is held goes on from the screen
            if now.sheet.as_ref().is_none_or(|s| s.stage != Stage::Held) {
                cable.machine.hand(at, Hand::ResumeButton);
            }
        }
        if self.undone >= DONE_IN_VAIN {
            self.undone = 0;
            self.told.switched += 1;
            cable.machine.befall(at, Fault::Restart);
            self.note("switched the controller off and on: it does nothing".to_owned());
        } else if self.homes >= HOMES_IN_VAIN {
            for hand in [Hand::DrivesOn, Hand::CloseDoor, Hand::ResumeButton] {
                cable.machine.hand(at, hand);
            }
            cable.machine.befall(at, Fault::Restart);
            self.homes = 0;
            self.told.switched += 1;
            self.note(
                "gave the drives their power back, closed the door, switched the controller off and on".to_owned(),
            );
        }
    }

    /// A controller that has said nothing for a minute is switched off and on: that alone brings some back.
    fn watches_silence(&mut self, now: &Now) {
        let at = self.clock.now();
        if now.machine.link == LinkNow::Up {
            self.silent_since = None;
            return;
        }
        let since = *self.silent_since.get_or_insert(at);
        if at.0 < since.0 + SILENT_US {
            return;
        }
        self.silent_since = None;
        self.told.switched += 1;
        self.note("switched the controller off and on".to_owned());
        if let Some(cable) = &mut self.cable {
            cable.machine.befall(at, Fault::Restart);
        }
    }

    /// What nobody does by rule alone.
    fn decides(&mut self, who: usize, now: &Now) -> Option<Act> {
        let signed_in = self.people.get(who).filter(|p| now.people.iter().any(|here| here.who.0 == p.who))?;
        let (is_owner, many) = (signed_in.is_owner, self.people.len() > 1);
        let list = (!is_owner).then(|| list_first(now)).flatten();
        let approval = (is_owner && many).then(|| approves(now)).flatten();
        list.or(approval).or_else(|| self.gives_up_held(now)).or_else(|| self.decides_stopped(now))
    }

    /// At times a bit that is held is raised; the motion is given up with it, so the sheet is stopped then.
    fn gives_up_held(&mut self, now: &Now) -> Option<Act> {
        let held = now.sheet.as_ref().is_some_and(|s| s.stage == Stage::Held);
        if !self.crew.goes_on || !held || now.task.is_some() || is_at_work(now) {
            return None;
        }
        if !now.actions.iter().any(|o| o.act == OfferedAct::Resume) {
            return open(now, OfferedAct::Stop).then_some(Act::Stop);
        }
        let raises = open(now, OfferedAct::Raise) && self.chance.below(RAISES_ONE_IN) == 0;
        raises.then_some(Act::Raise)
    }

    /// After a stop, once the questions are answered: mostly again, at times aside or to its end, or on at a line.
    fn decides_stopped(&mut self, now: &Now) -> Option<Act> {
        let sheet = now.sheet.as_ref().filter(|s| s.stage == Stage::Stopped)?;
        if open(now, OfferedAct::RedButtonNo) || open(now, OfferedAct::BitFree) {
            return None;
        }
        let wanted = match self.chance.below(4) {
            0 if open(now, OfferedAct::End) => Decision::End,
            1 if open(now, OfferedAct::SetAside) => Decision::SetAside,
            2 if self.crew.goes_on && open(now, OfferedAct::ReEnter) => Decision::ReEnter,
            _ if open(now, OfferedAct::Restart) => Decision::Restart,
            _ if open(now, OfferedAct::Next) => Decision::Next,
            _ if open(now, OfferedAct::End) => Decision::End,
            _ => return None,
        };
        Some(Act::Decide { sheet: sheet.id.clone(), decision: wanted, line: None })
    }

    fn perhaps_wrong(&mut self, now: &Now, act: Act) -> Act {
        let (Some(task), Act::Answer { step, .. }) = (&now.task, &act) else { return act };
        if !std::mem::take(&mut self.wrong_next) {
            return act;
        }
        let answer = match &task.step.ask {
            Ask::Value { least, .. } => StepAnswer::Value { value: least - 1.0e6 },
            Ask::Choose { .. } => StepAnswer::Choice { key: "no-such-thing".to_owned() },
            _ => StepAnswer::Value { value: f64::MAX },
        };
        Act::Answer { step: step.clone(), answer }
    }
}

/// With a sheet on the machine and no owner there, a list of the day that is due comes first.
fn list_first(now: &Now) -> Option<Act> {
    let under_way = now.task.as_ref().is_some_and(|t| t.list.is_of_day());
    let owner = now.people.iter().any(|p| p.role == Role::Owner);
    let at_rest = matches!(now.machine.motion, Motion::Still | Motion::Faulted | Motion::Unknown);
    if owner || under_way || now.sheet.is_none() || !at_rest {
        return None;
    }
    let due = now.lists.iter().find(|l| l.due.is_some())?.list;
    let offered = match due {
        ListKind::Opening => OfferedAct::Opening,
        ListKind::HandOver => OfferedAct::HandOver,
        ListKind::AfterPowerCut => OfferedAct::AfterPowerCut,
        _ => return None,
    };
    open(now, offered).then_some(Act::BeginList { list: due })
}

/// The owner looks at the parts of a first article that waits, once nothing else is at hand.
fn approves(now: &Now) -> Option<Act> {
    let first = now.to_approve.as_ref().filter(|_| now.sheet.is_none() && !is_at_work(now))?;
    open(now, OfferedAct::ApproveArticle).then(|| Act::ApproveArticle { sheet: first.sheet.clone() })
}
