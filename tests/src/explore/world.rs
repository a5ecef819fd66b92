//! The shop as it truly is, kept beside the floor from what happened alone, and the rules that it is held against. It
//! never looks at what the floor believes but to say where that is wrong.

use super::contract::{Contract, Order, Stretch, Task, Word};
use chargehand_daemon::floor::happening::{Asked, By, Happening, Reading, Tried};
use chargehand_daemon::floor::permit::{Epoch, Permit};
use chargehand_daemon::floor::state::{
    Homing, Motion, Position, Presence, Setup, Slot, Spindle, SpindleKind, WorkZero,
};
use chargehand_daemon::floor::{AtStage, Deed, State};
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::Role;

/// What must hold in every state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "each is told in full where it is looked at")]
pub enum Rule {
    Permit,
    Uninvited,
    StartCondition,
    HeldStaysHeld,
    EndsOnce,
    CutOnce,
    Hands,
    StopStops,
    HoldHolds,
    Position,
    Stillness,
    Watched,
    Contract,
    Window,
    LineOrder,
    Done,
}

/// So often somebody is waited for in vain: asked, called, given up.
const GIVEN_UP: u8 = 3;

/// How the spindle truly is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Turns {
    /// It turns, or may.
    Yes,
    /// It was switched off and runs down.
    RunsDown,
    /// It stands.
    No,
}

/// The shop as it is.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct World {
    /// The machine is where its controller believes.
    pub position: bool,
    /// The work zero was set since, and taken.
    pub zero: bool,
    /// The spindle.
    pub turns: Turns,
    /// Somebody looked, and saw that it stands.
    pub seen: bool,
    /// The bit in it.
    pub bit: Option<Slot>,
    /// Z was touched with this bit, on this sheet, in this work zero.
    pub touched: bool,
    /// What a setting under way will be when it is taken.
    pub setting: Option<Tried>,
    /// Signed for this sheet.
    pub secured: bool,
    /// Read, and inside the window.
    pub measured: bool,
    /// The tooling list, signed for this bit and zero.
    pub tooled: bool,
    /// The ready list, signed for the next start.
    pub readied: bool,
    /// A cycle start named a chain, and nothing happened since.
    pub chain: bool,
    /// Operations finished.
    pub cut: [bool; 2],
    /// The operation under way.
    pub running: u8,
    /// A sheet is on the machine.
    pub sheet: bool,
    /// A list of the day is due.
    pub list_due: bool,
    /// The machine may be left alone.
    pub away: bool,
    /// How often somebody was waited for in vain while a program ran with nobody there.
    pub unanswered: u8,
}

impl World {
    /// A morning: nothing is known.
    pub const MORNING: Self = Self {
        position: false,
        zero: false,
        turns: Turns::Yes,
        seen: false,
        bit: None,
        touched: false,
        setting: None,
        secured: false,
        measured: false,
        tooled: false,
        readied: false,
        chain: false,
        cut: [false; 2],
        running: 0,
        sheet: false,
        list_due: false,
        away: false,
        unanswered: 0,
    };

    /// The position is lost, and all that rests on it.
    pub const fn lose_position(&mut self) {
        self.position = false;
        self.zero = false;
        self.touched = false;
        self.tooled = false;
        self.readied = false;
    }

    /// A closing touch was off: nobody knows how the bit sits.
    pub const fn doubt_the_bit(&mut self) {
        self.bit = None;
        self.touched = false;
        self.tooled = false;
        self.readied = false;
    }

    /// The daemon is gone before it heard that the operation ended: nobody can tell it from one that was stopped on its
    /// way, and a person who looks at the sheet decides.
    pub fn ended_unheard(&mut self) {
        if let Some(cut) = self.cut.get_mut(usize::from(self.running)) {
            *cut = false;
        }
    }

    /// The time in which somebody was to answer is over.
    pub fn nobody_answers(&mut self, floor: &State) {
        if floor.presence == Presence::Nobody && floor.machine.motion == Motion::Program {
            self.unanswered = (self.unanswered + 1).min(GIVEN_UP);
        }
    }

    /// Somebody does or says something, and it was not refused.
    pub fn done(&mut self, what: &Asked, setup: Setup, open: bool) {
        match what {
            Asked::TakeSheet(_) => {
                *self = Self {
                    sheet: true,
                    touched: false,
                    tooled: false,
                    secured: false,
                    measured: false,
                    readied: false,
                    bit: None,
                    cut: [false; 2],
                    ..self.clone()
                };
            }
            Asked::ListSigned(ListKind::Securing) => self.secured = true,
            Asked::ListSigned(ListKind::Tooling) => self.tooled = true,
            Asked::ListSigned(ListKind::Ready) => {
                self.readied = true;
                if setup.spindle == SpindleKind::Manual {
                    self.may_turn();
                }
            }
            Asked::Thickness(reading) => self.measured = *reading == Reading::Inside,
            Asked::SpindleSwitchedOn => self.may_turn(),
            Asked::SpindleStill => self.seen = self.turns == Turns::No,
            // where the controller cannot do it, a person pulls its plug
            Asked::SpindleSwitchedOff if setup.spindle == SpindleKind::Manual || !open => self.turns = Turns::RunsDown,
            Asked::BitFitted(slot) => {
                self.bit = Some(*slot);
                self.touched = false;
                self.tooled = false;
                self.readied = false;
            }
            Asked::RedButton { pressed: true } => self.lose_position(),
            Asked::StillThere => self.unanswered = 0,
            Asked::ConfirmZero if setup.homing == Homing::Unable => self.position = true,
            _ => {}
        }
    }

    /// The link took an order.
    pub fn ordered(&mut self, order: Order, contract: Contract, setup: Setup) {
        let switches = contract.open && setup.spindle == SpindleKind::Controlled;
        self.chain &= order == Order::Begin;
        match order {
            Order::Begin | Order::Resume => self.may_turn(),
            Order::Home => self.lose_position(),
            Order::Spindle(true) => self.may_turn(),
            // giving up what it holds switches the spindle off too
            Order::Stop if switches && self.turns == Turns::Yes => self.turns = Turns::RunsDown,
            _ => {}
        }
    }

    /// The link passes on that the spindle is to be switched off.
    pub fn switched_off(&mut self) {
        if self.turns == Turns::Yes {
            self.turns = Turns::RunsDown;
        }
    }

    /// The link, that answered until then as far as was heard, is heard to be down or started anew: what it was told to
    /// turn may turn. Hands that came near between its word and this were near a bit that nobody could know to turn.
    pub const fn doubt_spindle(&mut self) {
        self.may_turn();
    }

    const fn may_turn(&mut self) {
        self.turns = Turns::Yes;
        self.seen = false;
    }

    /// The link said something, truly.
    pub fn told(&mut self, word: Word, setup: Setup) {
        let controlled = setup.spindle == SpindleKind::Controlled;
        self.chain &= word == Word::Finished;
        match word {
            Word::Homed => self.position = true,
            Word::Fault { lost: true } | Word::Stopped { kept: false } | Word::Up | Word::Down | Word::Restarted => {
                self.lose_position()
            }
            // what was seen to stand does not turn for a refusal that is told late
            Word::NotDone(Tried::Spindle) if controlled && !self.seen => self.may_turn(),
            Word::NotDone(Tried::SetWorkZero | Tried::SetZZero) => self.setting = None,
            Word::HandDone => match self.setting.take() {
                Some(Tried::SetWorkZero) => {
                    self.zero = true;
                    self.touched = false;
                }
                Some(Tried::SetZZero) => self.touched = true,
                _ => {}
            },
            Word::Finished => {
                if let Some(cut) = self.cut.get_mut(usize::from(self.running)) {
                    *cut = true;
                }
            }
            _ => {}
        }
    }

    /// Whether a program that was held may truly go on.
    #[must_use]
    pub const fn may_go_on(&self) -> bool {
        self.position && self.touched && self.bit.is_some()
    }

    /// Whether every start condition of cutting an operation with this bit truly holds, by a person's cycle start or by
    /// the chain of an earlier one.
    #[must_use]
    pub fn may_begin(&self, operation: u8, bit: Slot, by: Option<By>) -> bool {
        let turn =
            self.cut.get(usize::from(operation)) == Some(&false) && (operation == 0 || self.cut.first() == Some(&true));
        turn && self.position
            && self.zero
            && self.touched
            && self.bit == Some(bit)
            && self.secured
            && self.measured
            && self.tooled
            && (if by.is_some() { self.readied } else { self.chain })
            && !(self.list_due && by == Some(By::AtMachine(Role::Helper)))
    }
}

/// Everything of one step that the rules look at.
pub struct Step<'a> {
    /// The floor before.
    pub before: &'a State,
    /// What happened.
    pub happening: &'a Happening,
    /// The floor after.
    pub after: &'a State,
    /// What follows.
    pub deeds: &'a [Deed],
    /// The permit that came with it.
    pub permit: Option<&'a Permit>,
}

impl Step<'_> {
    /// The first rule that the floor's answer itself breaks, whatever the link makes of it.
    #[must_use]
    pub fn broken(&self, world: &World, contract: Contract) -> Option<Rule> {
        let rules = [
            (self.permitted(), Rule::Permit),
            (self.invited(), Rule::Uninvited),
            (self.held_stays(), Rule::HeldStaysHeld),
            (self.ends_once(world), Rule::EndsOnce),
            (self.cut_once(world), Rule::CutOnce),
            (self.hands_are_safe(world, contract), Rule::Hands),
            (self.stop_stops(), Rule::StopStops),
            (self.is_watched(world), Rule::Watched),
        ];
        rules.into_iter().find(|(holds, _)| !holds).map(|(_, rule)| rule)
    }

    /// At most one deed of a step moves, and it comes with a permit of its class; nothing else comes with one.
    fn permitted(&self) -> bool {
        let mut moving = self.deeds.iter().filter(|d| d.needs_permit());
        let class = moving.next().and_then(|d| order_of(*d, SpindleKind::Manual)).and_then(Order::class);
        moving.next().is_none() && class == self.permit.map(Permit::class)
    }

    /// What moves follows an act of somebody at the machine, or the end of an operation whose chain goes on.
    fn invited(&self) -> bool {
        let by_person = matches!(self.happening, Happening::Act { by: By::AtMachine(_), .. })
            && self.before.presence != Presence::Nobody;
        let by_chain = *self.happening == Happening::Finished
            && matches!(self.before.at(), Some(AtStage::Cutting(c)) if !c.chain.is_empty());
        by_person || by_chain || !self.deeds.iter().any(|d| d.needs_permit())
    }

    /// Out of a hold a program goes on only when somebody says so.
    fn held_stays(&self) -> bool {
        let goes_on =
            matches!((self.before.at(), self.after.at()), (Some(AtStage::Held(_)), Some(AtStage::Cutting(_))));
        !goes_on || matches!(self.happening, Happening::Act { what: Asked::Resume, by: By::AtMachine(_) })
    }

    /// A sheet leaves once, in one way, and only one that was there.
    fn ends_once(&self, world: &World) -> bool {
        let ends = self.deeds.iter().filter(|d| matches!(d, Deed::SetSheetAside | Deed::CloseSheet)).count();
        let left = world.sheet && self.after.sheet.is_none();
        ends == usize::from(left) && (self.before.sheet.is_some() == world.sheet)
    }

    /// An operation is done once, and only when its program ran out.
    fn cut_once(&self, world: &World) -> bool {
        let mut done = self.deeds.iter().filter_map(|d| match d {
            Deed::OperationDone { operation } => Some(*operation),
            _ => None,
        });
        let Some(operation) = done.next() else { return true };
        let before = self.before.sheet.as_ref().is_some_and(|s| s.done.contains(operation));
        done.next().is_none() && !before && operation == world.running && *self.happening == Happening::Finished
    }

    /// Hands come near the bit only while it stands and nothing moves.
    fn hands_are_safe(&self, world: &World, contract: Contract) -> bool {
        let Happening::Act { what, .. } = self.happening else { return true };
        let near = matches!(
            what,
            Asked::BitFitted(_)
                | Asked::ZZeroed
                | Asked::ListSigned(ListKind::Securing | ListKind::Tooling | ListKind::TakingOff)
        );
        let moves = !matches!(contract.stretch, Stretch::None | Stretch::Asking)
            || matches!(contract.task, Task::Home | Task::Hand | Task::Raising);
        let at_the_bit = matches!(what, Asked::BitFitted(_) | Asked::ZZeroed);
        !near || (world.turns == Turns::No && !(at_the_bit && moves))
    }

    /// With nobody there a program runs on only where that is allowed, and while somebody answers now and then; one that
    /// nobody answered for is held with its spindle switched off.
    fn is_watched(&self, world: &World) -> bool {
        let cuts = self.after.machine.motion == Motion::Program && matches!(self.after.at(), Some(AtStage::Cutting(_)));
        let runs_on = cuts && self.after.presence == Presence::Nobody;
        let given_up = world.unanswered >= GIVEN_UP;
        let held = given_up && *self.happening == Happening::HeldAtLift && self.after.presence == Presence::Nobody;
        let off = || self.deeds.contains(&Deed::SpindleOff);
        (!runs_on || (world.away && !given_up)) && (!held || off())
    }

    /// After a stop no program is under way, and nothing of it starts.
    fn stop_stops(&self) -> bool {
        let stop = matches!(self.happening, Happening::Act { what: Asked::Stop, .. });
        let under_way = matches!(self.after.at(), Some(AtStage::Cutting(_) | AtStage::Held(_)));
        !stop || (!under_way && self.permit.is_none())
    }
}

/// The rule that what the floor believes breaks, when nothing the link said is still on its way.
#[must_use]
pub fn believed(floor: &State, world: &World) -> Option<Rule> {
    let m = &floor.machine;
    if (m.position == Position::Known && !world.position)
        || (m.zero == WorkZero::Confirmed && !world.zero && world.setting != Some(Tried::SetWorkZero))
    {
        return Some(Rule::Position);
    }
    let still = matches!(m.spindle, Spindle::Still) && world.turns != Turns::No;
    still.then_some(Rule::Stillness)
}

/// The order that a deed comes to.
#[must_use]
pub const fn order_of(deed: Deed, spindle: SpindleKind) -> Option<Order> {
    match deed {
        Deed::Hold => Some(Order::Hold),
        Deed::HoldAtLift => Some(Order::HoldAtLift),
        Deed::StopLink => Some(Order::Stop),
        Deed::Begin { .. } => Some(Order::Begin),
        Deed::ResumeLink => Some(Order::Resume),
        Deed::RaiseLink => Some(Order::Raise),
        Deed::HomeLink => Some(Order::Home),
        Deed::HandMoveLink => Some(Order::HandMove),
        Deed::UnlockLink => Some(Order::Unlock),
        Deed::SpindleOff | Deed::SpindleOn if matches!(spindle, SpindleKind::Manual) => None,
        Deed::SpindleOff => Some(Order::Spindle(false)),
        Deed::SpindleOn => Some(Order::Spindle(true)),
        Deed::SetWorkZero => Some(Order::Setting(Tried::SetWorkZero)),
        Deed::SetZZero => Some(Order::Setting(Tried::SetZZero)),
        Deed::StartRunDown
        | Deed::Call(_)
        | Deed::PositionLost
        | Deed::OperationDone { .. }
        | Deed::StageChanged { .. }
        | Deed::SetSheetAside
        | Deed::CloseSheet
        | Deed::AskStillThere => None,
    }
}

/// Whether the real permit counts at the real check of the link; a setting has none, and is of the epoch of the floor.
#[must_use]
pub fn counts(permit: Option<Permit>, order: Order, link: Epoch) -> bool {
    match (order.class(), permit) {
        (Some(class), Some(permit)) => permit.used(class, link).is_ok(),
        (Some(_), None) => false,
        (None, _) => !matches!(order, Order::Setting(_)) || link == Epoch::default(),
    }
}
