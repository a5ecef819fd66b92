//! What happens in the shop that is explored: acts and deeds as the foreman carries them out, the link's words as he
//! hears them, and a daemon that is killed.

use super::{FloorModel, NONE, Report, Shop, Shown};
use crate::explore::broken_floor::Break;
use crate::explore::contract::{Contract, Order, Stretch, Task, Word};
use crate::explore::world::{Rule, Step, Turns, counts, order_of};
use chargehand_daemon::floor::happening::{Asked, BitAt, By, Happening, Tried};
use chargehand_daemon::floor::permit::{Epoch, Permit};
use chargehand_daemon::floor::state::{DayLists, Link, Motion, Setup, Slot, SpindleKind};
use chargehand_daemon::floor::{AtStage, Deed, Outcome, State};

impl Shop {
    /// The link's epoch, as the permits see it that the floor makes now.
    pub(super) fn epoch(&self) -> Epoch {
        if self.epoch == 0 { Epoch::default() } else { Epoch::default().next() }
    }

    /// The link's epoch moves on: every permit made before is void.
    pub(super) fn moves_on(&mut self) {
        self.epoch += 1;
        self.count_epochs(0);
    }

    /// Counts epochs from this one, and leaves out those that nothing is of.
    pub(super) fn count_epochs(&mut self, from: i8) {
        let told = self.told.iter().filter_map(|r| match r {
            Report::Word(_, epoch) if *epoch != NONE => Some(*epoch),
            Report::Word(..) | Report::State(_) => None,
        });
        let mut known: Vec<i8> = told.chain([from, self.epoch]).filter(|e| *e >= from).collect();
        known.sort_unstable();
        known.dedup();
        let place = |epoch: i8| (0..).zip(&known).find(|(_, e)| **e == epoch).map_or(-1, |(place, _)| place);
        self.epoch = place(self.epoch);
        for report in &mut self.told {
            if let Report::Word(_, epoch) = report
                && *epoch != NONE
            {
                *epoch = place(*epoch);
            }
        }
    }

    /// What the controller would show now.
    pub(super) const fn shows(&self) -> Shown {
        if !self.link.open {
            return Shown::Nothing;
        }
        match (self.locked, self.link.stretch, self.link.task) {
            (true, _, _) => Shown::Locked,
            (false, Stretch::Held, _) => Shown::Holds,
            (false, Stretch::Runs | Stretch::HoldAsked | Stretch::LiftWanted, _)
            | (false, _, Task::Home | Task::Hand | Task::Raising) => Shown::Moves,
            (false, Stretch::None | Stretch::AtLift | Stretch::Asking, _) => Shown::Ready,
        }
    }

    /// Hold and stop go to the link first, as the desk sends them.
    pub(super) fn acts_first(&mut self, by: By, what: &Asked) -> Option<Order> {
        let order = match (what, by) {
            (Asked::Hold, By::AtMachine(_) | By::AtMachineNobody) => Order::Hold,
            (Asked::Hold | Asked::HoldAtLift, _) => Order::HoldAtLift,
            (Asked::Stop, _) => Order::Stop,
            _ => return None,
        };
        self.order(order, true);
        Some(order)
    }

    /// The link is given an order; whether it came with a permit that counts.
    pub(super) fn order(&mut self, order: Order, permitted: bool) {
        if !self.link.takes(order, permitted) {
            if matches!(order, Order::Setting(_)) {
                self.world.setting = None;
            }
            let ends = order.class().is_some() || matches!(order, Order::Setting(_));
            let made = if ends { 0 } else { NONE };
            self.told.push_back(Report::Word(Word::NotDone(order.tried()), made));
            return;
        }
        if !self.link.expects(order) {
            self.broken = Some(Rule::Contract);
        }
        if self.link.voids(order) {
            self.moves_on();
        }
        self.world.ordered(order, self.link, self.floor.machine.setup);
        // of a spindle that is to be switched while something else is under way nothing is known
        self.link = self.link.after(order);
    }

    pub(super) fn happens(&mut self, model: &FloorModel, happening: Happening) {
        self.follows(model, happening, None);
    }

    /// The floor decides, and its deeds are done; this was ordered ahead of it.
    pub(super) fn follows(&mut self, model: &FloorModel, happening: Happening, ahead: Option<Order>) {
        let before = self.floor.clone();
        let Ok(outcome) = model.answer(&before, &happening, Epoch::default()) else { return };
        let Outcome { state, deeds, permit } = outcome;
        let looked =
            Step { before: &before, happening: &happening, after: &state, deeds: &deeds, permit: permit.as_ref() };
        self.broken = self.broken.or_else(|| looked.broken(&self.world, self.link));
        if let Happening::Act { what, .. } = &happening {
            if matches!(what, Asked::TakeSheet(_)) {
                self.waiting -= 1;
            }
            self.world.done(what, model.setup, self.link.open);
        }
        self.world.sheet = state.sheet.is_some();
        self.floor = state;
        let mut permit = permit;
        let mut strongest = rank(ahead);
        let by = match happening {
            Happening::Act { by, .. } => Some(by),
            _ => None,
        };
        for deed in deeds {
            let order = order_of(deed, model.setup.spindle);
            strongest = strongest.max(rank(order));
            let its = if deed.needs_permit() { permit.take() } else { None };
            match order {
                Some(order) if rank(Some(order)) > 0 && rank(ahead) >= rank(Some(order)) => {}
                order => self.deed(model, deed, order, its, by),
            }
        }
        if matches!(self.floor.at(), Some(AtStage::Stopped(_))) || self.floor.sheet.is_none() {
            self.feeding = false;
        }
        // whoever waits for a hold to be confirmed has asked for it
        let waits = |state: &State| matches!(state.machine.motion, Motion::HoldAsked(_));
        if self.broken.is_none() && waits(&self.floor) && !waits(&before) && strongest < rank(Some(Order::Hold)) {
            self.broken = Some(Rule::HoldHolds);
        }
    }

    pub(super) fn deed(
        &mut self,
        model: &FloorModel,
        deed: Deed,
        order: Option<Order>,
        permit: Option<Permit>,
        by: Option<By>,
    ) {
        match deed {
            Deed::StartRunDown => self.run_down = true,
            Deed::OperationDone { .. } => {
                self.feeding = false;
                self.gap = true;
            }
            Deed::SetWorkZero => self.world.setting = Some(Tried::SetWorkZero),
            Deed::SetZZero => self.world.setting = Some(Tried::SetZZero),
            _ => {}
        }
        let Some(order) = order else { return };
        let void_taken = model.broken == Some(Break::LinkTakesVoidPermits);
        let permitted = counts(permit, order, self.epoch()) || void_taken;
        let taken = self.link.takes(order, permitted);
        if deed == Deed::ResumeLink && taken && !self.world.may_go_on() {
            self.broken = Some(Rule::StartCondition);
        }
        if let Deed::Begin { operation } = deed {
            self.feeding = true;
            self.gap = false;
            if taken {
                self.begins(model, operation, by);
            }
        }
        self.order(order, permitted);
    }

    /// Whether hands may touch the wood again with the bit that is in, as the foreman asks before they do.
    pub(super) fn may_be_touched(&self) -> bool {
        let stands = matches!(self.link.stretch, Stretch::None | Stretch::Held | Stretch::AtLift | Stretch::Asking);
        stands && self.link.open && self.link.task == Task::None && self.world.turns == Turns::No && self.world.touched
    }

    /// A cut truly begins.
    pub(super) fn begins(&mut self, model: &FloorModel, operation: u8, by: Option<By>) {
        let bit = model.bits.get(usize::from(operation)).copied().unwrap_or(u8::MAX);
        if !self.world.may_begin(operation, Slot(bit), by) {
            self.broken = Some(Rule::StartCondition);
        }
        self.world.running = operation;
        self.world.readied = false;
        self.world.chain = true;
    }

    /// The link says something.
    pub(super) fn says(&mut self, word: Word, setup: Setup) -> Option<()> {
        let after = self.link.says(word)?;
        self.world.told(word, setup);
        self.locked = match word {
            Word::Fault { .. } => true,
            Word::Homed | Word::Restarted | Word::Stopped { .. } | Word::Down => false,
            _ => self.locked,
        };
        self.link = after;
        if Contract::word_voids(word) {
            self.moves_on();
        }
        if word == Word::Down {
            self.last_shown = Shown::Nothing;
        }
        self.told.push_back(Report::Word(word, if Contract::tells_epoch(word) { self.epoch } else { NONE }));
        Some(())
    }

    /// As the foreman has it: the machine is taken to stand ready, or to do something short, or to be about to be held.
    pub(super) const fn thinks_it_goes(&self) -> bool {
        matches!(self.floor.machine.motion, Motion::Still | Motion::Hand | Motion::Homing | Motion::HoldAsked(_))
    }

    /// A report is heard, and told to the floor as the foreman tells it.
    pub(super) fn hears(&mut self, model: &FloorModel, report: Report) {
        match report {
            Report::State(shown) => {
                let before = std::mem::replace(&mut self.shown, shown);
                match shown {
                    Shown::Ready if before != Shown::Ready => self.happens(model, Happening::StandsStill),
                    Shown::Locked if before != Shown::Locked && self.floor.machine.motion == Motion::Unknown => {
                        self.happens(model, Happening::Fault { position_lost: true });
                    }
                    Shown::Holds if (before != Shown::Holds || self.thinks_it_goes()) && !self.feeding => {
                        let bit = BitAt::MaybeInCut;
                        self.happens(model, Happening::HeldConfirmed { asked: false, bit });
                    }
                    _ => {}
                }
            }
            Report::Word(word, epoch) => {
                if Contract::tells_epoch(word) {
                    self.count_epochs(epoch);
                }
                // as the foreman does: a stop that was heard since has ended what it is of
                if matches!(word, Word::NotDone(_)) && epoch != NONE && epoch != 0 {
                    return;
                }
                let answered = self.floor.machine.link == Link::Up;
                let gone = matches!(word, Word::Down | Word::Restarted);
                if gone && answered && model.setup.spindle == SpindleKind::Controlled {
                    self.world.doubt_spindle();
                }
                if word == Word::Down {
                    self.shown = Shown::Nothing;
                }
                if let Some(happening) = self.happening(word, model) {
                    self.happens(model, happening);
                }
            }
        }
    }

    pub(super) fn happening(&mut self, word: Word, model: &FloorModel) -> Option<Happening> {
        Some(match word {
            Word::Up => Happening::LinkUp { position_kept: false },
            Word::Down => Happening::LinkDown,
            Word::Held { asked } => Happening::HeldConfirmed { asked, bit: BitAt::MaybeInCut },
            Word::HoldUnconfirmed => Happening::HoldUnconfirmed,
            Word::HeldAtLift => Happening::HeldAtLift,
            Word::AtPrompt => match model.bits.get(1) {
                Some(bit) if *bit != 0 => Happening::AtBitChange { wants: Some(Slot(*bit)), bit: BitAt::Clear },
                _ => Happening::AtPrompt { bit: BitAt::Clear },
            },
            Word::Finished => Happening::Finished,
            Word::Refused => Happening::Refused,
            Word::Fault { lost } => Happening::Fault { position_lost: lost },
            Word::Restarted => Happening::Restarted,
            Word::Stopped { kept } => Happening::Stopped { position_kept: kept },
            Word::Homed => Happening::Homed,
            Word::HandDone => Happening::HandDone,
            Word::Raised => Happening::Raised,
            Word::NotDone(tried) => {
                if tried == Tried::Begin {
                    self.feeding = false;
                }
                Happening::NotDone(tried)
            }
        })
    }

    /// The daemon goes and comes up again: the sheet is where the journal has it, and nothing else is known. What the
    /// link was doing runs out.
    pub(super) fn is_killed(&mut self, model: &FloorModel) {
        self.troubles = self.troubles.saturating_sub(1);
        if self.told.iter().any(|r| matches!(r, Report::Word(Word::Finished, _))) {
            self.world.ended_unheard();
        }
        self.told.clear();
        self.epoch = 0;
        self.shown = Shown::Nothing;
        self.last_shown = Shown::Nothing;
        self.feeding = false;
        self.run_down = false;
        self.gap = false;
        self.link = Contract::CLOSED;
        self.world.lose_position();
        self.world.setting = None;
        if self.floor.sheet.is_some() {
            self.happens(model, Happening::DaemonRestarted(model.setup));
        } else {
            self.floor = State::new(model.setup);
        }
        if self.world.list_due {
            self.happens(model, Happening::ListsChanged(DayLists::Due));
        }
    }
}

/// How strongly an order holds.
const fn rank(order: Option<Order>) -> u8 {
    match order {
        Some(Order::HoldAtLift) => 1,
        Some(Order::Hold) => 2,
        Some(Order::Stop) => 3,
        _ => 0,
    }
}
