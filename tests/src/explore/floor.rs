//! The real transition table of the floor among people, timers and a link that keeps the contract, with one thing going
//! wrong at any point. Reports wait before they are heard, so the floor may decide on what is no longer so. Terminals
//! hold nothing: whoever asks may ask anything at any time, so there may be any number of them.

use super::Explored;
use super::broken_floor::Break;
use super::contract::{Contract, Order, Stretch, Task, Word};
use super::world::{Rule, Step, Turns, World, believed, counts, order_of};
use chargehand_daemon::floor::happening::{Asked, BitAt, By, Happening, Reading, Tried};
use chargehand_daemon::floor::permit::{Epoch, Permit};
use chargehand_daemon::floor::sheet::{
    Approval, Article, Attendance, Findings, OperationFacts, Ops, Origin, SheetFacts,
};
use chargehand_daemon::floor::state::{DayLists, Motion, Presence, Setup, Slot, SpindleKind, Store};
use chargehand_daemon::floor::{AtStage, Deed, Outcome, Refusal, State, step};
use chargehand_types::card::ZZero;
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::{Decision, Role};
use stateright::{Model, Property};
use std::collections::VecDeque;

/// What a report carries that knows no epoch.
const NONE: i8 = i8::MAX;
/// Answers to orders that were not taken, beside those reports.
const ANSWERS_BESIDE: usize = 1;

/// What is explored.
#[derive(Debug, Clone)]
pub struct FloorModel {
    /// The machine.
    pub setup: Setup,
    /// Sheets that wait.
    pub sheets: u8,
    /// The bits of a sheet's operations.
    pub bits: Vec<u8>,
    /// Things that may go wrong.
    pub troubles: u8,
    /// Whether programs ask for a person in their middle.
    pub asks: bool,
    /// Whether a helper may be there too.
    pub helper: bool,
    /// Reports that may wait to be heard before the link says more; with none each is heard at once.
    pub waits: usize,
    /// A break of the wrapper.
    pub broken: Option<Break>,
    /// What has happened already when the exploring begins.
    pub before: Vec<Next>,
}

/// What the controller last showed of itself, as the foreman keeps it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Shown {
    /// Nothing since the link was lost.
    Nothing,
    /// It stands still and takes lines.
    Ready,
    /// It moves.
    Moves,
    /// It is held.
    Holds,
    /// It refuses motion.
    Locked,
}

/// A report on its way to the floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Report {
    /// Something happened, in this epoch of the link; of what was not done, the epoch that its permit was made in.
    /// Counted from the one that the floor was last told, each that nothing is of left out; below 0 is any before.
    Word(Word, i8),
    /// What the controller shows of itself.
    State(Shown),
}

/// The shop.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Shop {
    /// The floor.
    pub floor: State,
    /// The link.
    pub link: Contract,
    /// The controller refuses motion.
    pub locked: bool,
    /// Reports on their way.
    pub told: VecDeque<Report>,
    /// The link's epoch, counted in the same way.
    pub epoch: i8,
    /// What was last shown and heard.
    pub shown: Shown,
    /// What was last shown, heard or not.
    pub last_shown: Shown,
    /// A program is being fed.
    pub feeding: bool,
    /// The run-down counts.
    pub run_down: bool,
    /// The gap of a chain counts.
    pub gap: bool,
    /// Sheets that wait.
    pub waiting: u8,
    /// Things that may still go wrong.
    pub troubles: u8,
    /// The shop as it truly is.
    pub world: World,
    /// The rule that the last step broke.
    pub broken: Option<Rule>,
}

/// One thing that may come next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Next {
    /// Somebody does or says something.
    Acts(By, Asked),
    /// Somebody comes or goes.
    Presence(Presence),
    /// A timer is due.
    Due(Happening),
    /// The link says something.
    Says(Word),
    /// The same, and it is trouble.
    Trouble(Word),
    /// The controller shows itself otherwise than before.
    Shows(Shown),
    /// A task of the link ends without a word.
    Quietly,
    /// The link passes on that the spindle is to be switched off.
    SwitchesOff,
    /// A report is heard.
    Heard,
    /// The daemon is killed and comes up again.
    Killed,
    /// The journal cannot be written.
    StoreFails,
    /// The check finds something to sign.
    Finds,
    /// A list of the day becomes due, or is walked.
    Lists(DayLists),
}

impl FloorModel {
    /// A day that has come to where the first sheet waits for cycle start. Everything was heard at once.
    #[must_use]
    pub fn ready(mut self) -> Self {
        let owner = |what| Next::Acts(By::AtMachine(Role::Owner), what);
        self.before = vec![
            Next::Presence(Presence::Owner),
            Next::Says(Word::Up),
            Next::Quietly,
            Next::Shows(Shown::Ready),
            owner(Asked::BitFree),
            owner(Asked::Home),
            Next::Says(Word::Homed),
            owner(Asked::ConfirmZero),
            Next::Says(Word::HandDone),
            owner(Asked::SpindleSwitchedOff),
            Next::Due(Happening::RunDownDue),
            owner(Asked::SpindleStill),
            owner(Asked::TakeSheet(self.facts())),
            owner(Asked::Thickness(Reading::Inside)),
            owner(Asked::ListSigned(ListKind::Securing)),
            owner(Asked::BitFitted(Slot(0))),
            owner(Asked::ZZeroed),
            Next::Says(Word::HandDone),
            owner(Asked::ListSigned(ListKind::Tooling)),
            owner(Asked::ListSigned(ListKind::Ready)),
        ];
        if self.setup.spindle == SpindleKind::Controlled {
            self.before.insert(10, Next::SwitchesOff);
            self.before.insert(11, Next::Quietly);
        }
        self
    }

    /// The facts of a sheet: every operation after those before it.
    fn facts(&self) -> SheetFacts {
        let operations = self.bits.iter().enumerate().map(|(i, bit)| OperationFacts {
            bit: Slot(*bit),
            attendance: Attendance::Attended,
            after: Ops::first(i),
        });
        SheetFacts {
            from: Origin::Queued,
            article: Article::First,
            approval: Approval::Given,
            z_on: ZZero::Top,
            operations: operations.collect(),
            done: Ops::NONE,
            findings: Findings::Clear,
            bit_in: None,
        }
    }

    fn acts(&self, shop: &Shop) -> Vec<(By, Asked)> {
        let mut by_owner: Vec<Asked> = vec![
            Asked::Thickness(Reading::Inside),
            Asked::Thickness(Reading::Outside),
            Asked::SpindleSwitchedOff,
            Asked::SpindleSwitchedOn,
            Asked::BitFitted(Slot(0)),
            Asked::ZZeroed,
            Asked::FindingsSigned,
            Asked::CycleStart,
            Asked::Hold,
            Asked::HoldAtLift,
            Asked::Resume,
            Asked::Raise,
            Asked::Stop,
            Asked::Trouble,
            Asked::RedButton { pressed: true },
            Asked::RedButton { pressed: false },
            Asked::BitFree,
            Asked::Home,
            Asked::ConfirmZero,
            Asked::HandMove,
            Asked::PartsGraded,
        ];
        if self.bits.contains(&1) {
            by_owner.push(Asked::BitFitted(Slot(1)));
        }
        if shop.world.turns == Turns::No {
            // whoever looks sees what is
            by_owner.push(Asked::SpindleStill);
        }
        if shop.waiting > 0 {
            by_owner.push(Asked::TakeSheet(self.facts()));
        }
        by_owner.extend(ListKind::ALL.map(Asked::ListSigned));
        by_owner.extend([Decision::ReEnter, Decision::Restart, Decision::SetAside, Decision::End].map(Asked::Decide));
        let mut acts: Vec<_> = by_owner.into_iter().map(|what| (By::AtMachine(Role::Owner), what)).collect();
        if self.helper {
            let helper = By::AtMachine(Role::Helper);
            acts.extend(
                [Asked::CycleStart, Asked::Resume, Asked::Decide(Decision::Restart)].map(|what| (helper, what)),
            );
        }
        acts.extend([Asked::Hold, Asked::Stop, Asked::CycleStart, Asked::Resume].map(|what| (By::Afar, what)));
        acts.extend([Asked::Hold, Asked::Stop, Asked::CycleStart].map(|what| (By::AtMachineNobody, what)));
        acts
    }

    /// The floor's answer, with the break where there is one.
    fn answer(&self, before: &State, happening: &Happening, epoch: Epoch) -> Result<Outcome, Refusal> {
        let told = step(before, happening, epoch);
        match self.broken {
            Some(how) => how.spoil(before, happening, told),
            None => told,
        }
    }
}

impl Model for FloorModel {
    type State = Shop;
    type Action = Next;

    fn init_states(&self) -> Vec<Shop> {
        let morning = Shop {
            floor: State::new(self.setup),
            link: Contract::CLOSED,
            locked: false,
            told: VecDeque::new(),
            epoch: 0,
            shown: Shown::Nothing,
            last_shown: Shown::Nothing,
            feeding: false,
            run_down: false,
            gap: false,
            waiting: self.sheets,
            troubles: self.troubles,
            world: World::MORNING,
            broken: None,
        };
        // heard at once, whoever waits later
        let heard = Self { waits: 0, broken: None, ..self.clone() };
        let happens = |shop: Shop, next: &Next| {
            let after = heard.next_state(&shop, next.clone());
            after.unwrap_or_else(|| panic!("{next:?} changes nothing in {shop:#?}"))
        };
        vec![self.before.iter().fold(morning, happens)]
    }

    fn actions(&self, shop: &Shop, all: &mut Vec<Next>) {
        if shop.broken.is_some() || self.is_over(shop) {
            return;
        }
        all.extend(self.acts(shop).into_iter().map(|(by, what)| Next::Acts(by, what)));
        let others = [Presence::Owner, Presence::Helper, Presence::Nobody].into_iter();
        let others = others.filter(|p| *p != shop.floor.presence && (self.helper || *p != Presence::Helper));
        all.extend(others.map(Next::Presence));
        all.extend(shop.run_down.then_some(Next::Due(Happening::RunDownDue)));
        all.extend(shop.gap.then_some(Next::Due(Happening::ChainGapDue)));
        all.extend((!shop.told.is_empty()).then_some(Next::Heard));
        all.extend(shop.link.quietly().map(|_| Next::Quietly));
        all.extend(shop.link.switches_off().map(|_| Next::SwitchesOff));
        if shop.told.len() < self.waits.max(1) {
            all.extend(shop.link.words(self.asks).into_iter().map(Next::Says));
            let shows = shop.shows();
            let anew = shows != shop.last_shown || (shows == Shown::Holds && shop.thinks_it_goes());
            all.extend((anew && shows != Shown::Nothing).then_some(Next::Shows(shows)));
            if shop.troubles > 0 {
                all.extend(shop.link.trouble().into_iter().map(Next::Trouble));
            }
        }
        if shop.troubles > 0 {
            all.extend([Next::Killed, Next::StoreFails, Next::Finds, Next::Lists(DayLists::Due)]);
        } else if shop.floor.machine.store == Store::Failed {
            // a disk that was full is seen to, and the daemon started anew
            all.push(Next::Killed);
        }
        all.extend((shop.floor.lists == DayLists::Due).then_some(Next::Lists(DayLists::Done)));
    }

    fn next_state(&self, before: &Shop, next: Next) -> Option<Shop> {
        let mut shop = before.clone();
        match next {
            Next::Acts(by, what) => {
                let ahead = shop.acts_first(by, &what);
                shop.follows(self, Happening::Act { by, what }, ahead);
            }
            Next::Presence(presence) => shop.happens(self, Happening::PresenceChanged(presence)),
            Next::Due(happening) => {
                match happening {
                    Happening::RunDownDue => {
                        shop.run_down = false;
                        if shop.world.turns == Turns::RunsDown {
                            shop.world.turns = Turns::No;
                        }
                    }
                    _ => shop.gap = false,
                }
                shop.happens(self, happening);
            }
            Next::Says(word) => shop.says(word, self.setup)?,
            Next::Trouble(word) => {
                shop.troubles -= 1;
                shop.says(word, self.setup)?;
            }
            Next::Shows(shown) => {
                shop.last_shown = shown;
                shop.told.push_back(Report::State(shown));
            }
            Next::SwitchesOff => {
                shop.link = shop.link.switches_off()?;
                shop.world.switched_off();
            }
            Next::Quietly => {
                if shop.link.task == Task::Unlock {
                    shop.locked = false;
                }
                shop.link = shop.link.quietly()?;
            }
            Next::Heard => {
                let report = shop.told.pop_front()?;
                shop.hears(self, report);
            }
            Next::Killed => shop.is_killed(self),
            Next::StoreFails => {
                shop.troubles -= 1;
                shop.happens(self, Happening::StoreFailed);
            }
            Next::Lists(lists) => {
                shop.troubles -= u8::from(lists == DayLists::Due);
                shop.world.list_due = lists == DayLists::Due;
                shop.happens(self, Happening::ListsChanged(lists));
            }
            Next::Finds => {
                shop.troubles -= 1;
                shop.happens(self, Happening::FindingsChanged(Findings::Unsigned));
            }
        }
        while self.waits == 0
            && let Some(report) = shop.told.pop_front()
        {
            shop.hears(self, report);
        }
        if shop.told.len() > self.waits + ANSWERS_BESIDE {
            return None;
        }
        if !matches!(shop.link.task, Task::Setting(_)) {
            shop.world.setting = None;
        }
        if shop.told.is_empty() && shop.broken.is_none() {
            shop.broken = believed(&shop.floor, &shop.world);
        }
        (shop != *before).then_some(shop)
    }

    fn properties(&self) -> Vec<Property<Self>> {
        vec![
            Property::always("no motion without a permit", |_, s: &Shop| s.broken != Some(Rule::Permit)),
            Property::always("no motion uninvited", |_, s: &Shop| s.broken != Some(Rule::Uninvited)),
            Property::always("no start condition skipped", |_, s: &Shop| s.broken != Some(Rule::StartCondition)),
            Property::always("held stays held", |_, s: &Shop| s.broken != Some(Rule::HeldStaysHeld)),
            Property::always("each sheet ends in exactly one way", |_, s: &Shop| s.broken != Some(Rule::EndsOnce)),
            Property::always("no operation is done twice", |_, s: &Shop| s.broken != Some(Rule::CutOnce)),
            Property::always("hands only near a bit that stands", |_, s: &Shop| s.broken != Some(Rule::Hands)),
            Property::always("a stop stops", |_, s: &Shop| s.broken != Some(Rule::StopStops)),
            Property::always("a hold reaches the link", |_, s: &Shop| s.broken != Some(Rule::HoldHolds)),
            Property::always("no position believed that is lost", |_, s: &Shop| s.broken != Some(Rule::Position)),
            Property::always("no bit believed still that turns", |_, s: &Shop| s.broken != Some(Rule::Stillness)),
            Property::always("no order that the contract knows nothing of", |_, s: &Shop| {
                s.broken != Some(Rule::Contract)
            }),
            Property::sometimes("a sheet is cut", |m: &Self, s: &Shop| {
                s.world.cut.iter().zip(&m.bits).all(|(cut, _)| *cut)
            }),
        ]
    }
}

impl Explored for FloorModel {
    fn is_over(&self, shop: &Shop) -> bool {
        shop.waiting == 0 && shop.floor.sheet.is_none() && !shop.world.sheet
    }
}

impl Shop {
    /// The link's epoch, as the permits see it that the floor makes now.
    fn epoch(&self) -> Epoch {
        if self.epoch == 0 { Epoch::default() } else { Epoch::default().next() }
    }

    /// The link's epoch moves on: every permit made before is void.
    fn moves_on(&mut self) {
        self.epoch += 1;
        self.count_epochs(0);
    }

    /// Counts epochs from this one, and leaves out those that nothing is of.
    fn count_epochs(&mut self, from: i8) {
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
    const fn shows(&self) -> Shown {
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
    fn acts_first(&mut self, by: By, what: &Asked) -> Option<Order> {
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
    fn order(&mut self, order: Order, permitted: bool) {
        if !self.link.takes(order, permitted) {
            if matches!(order, Order::Setting(_)) {
                self.world.setting = None;
            }
            let made = if order.class().is_some() { 0 } else { NONE };
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

    fn happens(&mut self, model: &FloorModel, happening: Happening) {
        self.follows(model, happening, None);
    }

    /// The floor decides, and its deeds are done; this was ordered ahead of it.
    fn follows(&mut self, model: &FloorModel, happening: Happening, ahead: Option<Order>) {
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

    fn deed(&mut self, model: &FloorModel, deed: Deed, order: Option<Order>, permit: Option<Permit>, by: Option<By>) {
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
        if deed == Deed::ResumeLink && taken && !self.world.position {
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

    /// A cut truly begins.
    fn begins(&mut self, model: &FloorModel, operation: u8, by: Option<By>) {
        let bit = model.bits.get(usize::from(operation)).copied().unwrap_or(u8::MAX);
        if !self.world.may_begin(operation, Slot(bit), by) {
            self.broken = Some(Rule::StartCondition);
        }
        self.world.running = operation;
        self.world.readied = false;
        self.world.chain = true;
    }

    /// The link says something.
    fn says(&mut self, word: Word, setup: Setup) -> Option<()> {
        let after = self.link.says(word)?;
        self.world.told(word, self.link.task, setup);
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
    const fn thinks_it_goes(&self) -> bool {
        matches!(self.floor.machine.motion, Motion::Still | Motion::Hand | Motion::Homing | Motion::HoldAsked(_))
    }

    /// A report is heard, and told to the floor as the foreman tells it.
    fn hears(&mut self, model: &FloorModel, report: Report) {
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
                if word == Word::Down {
                    self.shown = Shown::Nothing;
                }
                if let Some(happening) = self.happening(word, model) {
                    self.happens(model, happening);
                }
            }
        }
    }

    fn happening(&mut self, word: Word, model: &FloorModel) -> Option<Happening> {
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
    fn is_killed(&mut self, model: &FloorModel) {
        self.troubles = self.troubles.saturating_sub(1);
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
