//! Which proofs each class of motion needs. The only place that makes permits.
//!
//! May live here: one set a class. May not: the checks themselves.

use super::{
    AxesHeld, BitServes, CanHome, ChainHolds, ChangeMade, DayBegun, FindingsClear, LinkUp, NothingUnderWay, PersonHere,
    PositionKnown, ReadySigned, SecuringSigned, SpindleOff, StandsStill, StoreFine, ThicknessInside, ToolingSigned,
    WayClear, WorkZeroConfirmed, ZeroFresh,
};
use crate::floor::permit::{Class, Epoch, Permit};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{Held, OnMachine};
use crate::floor::state::{Spindle, SpindleKind, State};
use chargehand_types::stage::HeldBy;

/// What a cut starts by.
#[derive(Debug)]
pub enum Starter {
    /// A person's cycle start, on a day that was begun.
    Person(PersonHere, DayBegun),
    /// The chain of an earlier one.
    Chain(ChainHolds),
}

/// Every start condition of cutting.
#[derive(Debug)]
pub struct CutProofs {
    starter: Starter,
    link: LinkUp,
    store: StoreFine,
    position: PositionKnown,
    zero: WorkZeroConfirmed,
    still: StandsStill,
    findings: FindingsClear,
    thickness: ThicknessInside,
    securing: SecuringSigned,
    bit: BitServes,
    z: ZeroFresh,
    tooling: ToolingSigned,
    ready: ReadySigned,
}

impl CutProofs {
    /// Looks at all of them; the first that fails is told.
    ///
    /// # Errors
    /// When one does not hold.
    pub fn of(state: &State, sheet: &OnMachine, starter: Starter) -> Result<Self, Refusal> {
        Ok(Self {
            starter,
            store: StoreFine::of(state)?,
            link: LinkUp::of(state)?,
            still: StandsStill::of(state)?,
            position: PositionKnown::of(state)?,
            zero: WorkZeroConfirmed::of(state)?,
            findings: FindingsClear::of(sheet)?,
            thickness: ThicknessInside::of(sheet)?,
            securing: SecuringSigned::of(sheet)?,
            bit: BitServes::of(state)?,
            z: ZeroFresh::of(state)?,
            tooling: ToolingSigned::of(state)?,
            ready: ReadySigned::of(sheet)?,
        })
    }

    /// Uses them up.
    #[must_use]
    pub fn permit(self, epoch: Epoch) -> Permit {
        let Self {
            starter: Starter::Person(PersonHere(_), DayBegun(())) | Starter::Chain(ChainHolds(_)),
            link: LinkUp(()),
            store: StoreFine(()),
            position: PositionKnown(()),
            zero: WorkZeroConfirmed(()),
            still: StandsStill(()),
            findings: FindingsClear(()),
            thickness: ThicknessInside(()),
            securing: SecuringSigned(()),
            bit: BitServes(()),
            z: ZeroFresh(()),
            tooling: ToolingSigned(()),
            ready: ReadySigned(()),
        } = self;
        Permit::made(Class::Cut, epoch)
    }
}

/// The router turns, where the motion that goes on needs it to.
#[derive(Debug)]
pub struct RouterServes(());

impl RouterServes {
    /// Looks. After a bit change the program itself switches a controlled spindle on.
    fn of(state: &State, held: &Held) -> Result<Self, Refusal> {
        let by_program = state.machine.setup.spindle == SpindleKind::Controlled && held.by == HeldBy::BitChange;
        (by_program || state.machine.spindle == Spindle::MayTurn).then_some(Self(())).ok_or(Refusal::RouterOff)
    }
}

/// Every condition of going on after a hold.
#[derive(Debug)]
pub struct ResumeProofs {
    person: PersonHere,
    link: LinkUp,
    store: StoreFine,
    position: PositionKnown,
    zero: WorkZeroConfirmed,
    held: AxesHeld,
    findings: FindingsClear,
    change: ChangeMade,
    z: ZeroFresh,
    tooling: ToolingSigned,
    router: RouterServes,
}

impl ResumeProofs {
    /// Looks at all of them.
    ///
    /// # Errors
    /// When one does not hold.
    pub fn of(state: &State, sheet: &OnMachine, held: &Held, person: PersonHere) -> Result<Self, Refusal> {
        Ok(Self {
            person,
            store: StoreFine::of(state)?,
            link: LinkUp::of(state)?,
            held: AxesHeld::of(state)?,
            position: PositionKnown::of(state)?,
            zero: WorkZeroConfirmed::of(state)?,
            findings: FindingsClear::of(sheet)?,
            change: ChangeMade::of(state, held)?,
            z: ZeroFresh::of(state)?,
            tooling: ToolingSigned::of(state)?,
            router: RouterServes::of(state, held)?,
        })
    }

    /// Uses them up.
    #[must_use]
    pub fn permit(self, epoch: Epoch) -> Permit {
        let Self {
            person: PersonHere(_),
            link: LinkUp(()),
            store: StoreFine(()),
            position: PositionKnown(()),
            zero: WorkZeroConfirmed(()),
            held: AxesHeld(()),
            findings: FindingsClear(()),
            change: ChangeMade(()),
            z: ZeroFresh(()),
            tooling: ToolingSigned(()),
            router: RouterServes(()),
        } = self;
        Permit::made(Class::Resume, epoch)
    }
}

/// A person, a link and a journal: what every other motion needs first.
#[derive(Debug)]
struct Hands {
    person: PersonHere,
    link: LinkUp,
    store: StoreFine,
}

impl Hands {
    fn of(state: &State, person: PersonHere) -> Result<Self, Refusal> {
        Ok(Self { person, store: StoreFine::of(state)?, link: LinkUp::of(state)? })
    }

    fn permit(self, class: Class, epoch: Epoch) -> Permit {
        let Self { person: PersonHere(_), link: LinkUp(()), store: StoreFine(()) } = self;
        Permit::made(class, epoch)
    }
}

/// The right to raise the bit after a hold.
///
/// # Errors
/// When a condition does not hold.
pub fn raise(state: &State, person: PersonHere, epoch: Epoch) -> Result<Permit, Refusal> {
    let hands = Hands::of(state, person)?;
    let AxesHeld(()) = AxesHeld::of(state)?;
    let PositionKnown(()) = PositionKnown::of(state)?;
    Ok(hands.permit(Class::Raise, epoch))
}

/// The right to find home.
///
/// # Errors
/// When a condition does not hold.
pub fn home(state: &State, person: PersonHere, epoch: Epoch) -> Result<Permit, Refusal> {
    let CanHome(()) = CanHome::of(state)?;
    let hands = Hands::of(state, person)?;
    let NothingUnderWay(()) = NothingUnderWay::of(state)?;
    let WayClear(()) = WayClear::of(state)?;
    Ok(hands.permit(Class::Home, epoch))
}

/// Where the machine must stand for a hand move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Nothing runs.
    Free,
    /// At a bit change in the middle of a program.
    AtBitChange,
}

/// The right to a hand move: position known, router off.
///
/// # Errors
/// When a condition does not hold.
pub fn hand(state: &State, standing: Standing, person: PersonHere, epoch: Epoch) -> Result<Permit, Refusal> {
    let hands = Hands::of(state, person)?;
    match standing {
        Standing::Free => {
            let StandsStill(()) = StandsStill::of(state)?;
        }
        Standing::AtBitChange => {
            let AxesHeld(()) = AxesHeld::of(state)?;
        }
    }
    let PositionKnown(()) = PositionKnown::of(state)?;
    let SpindleOff(()) = SpindleOff::of(state)?;
    Ok(hands.permit(Class::Hand, epoch))
}

/// The right to make the controller take motion again. It moves nothing by itself.
///
/// # Errors
/// When a condition does not hold.
pub fn unlock(state: &State, person: PersonHere, epoch: Epoch) -> Result<Permit, Refusal> {
    let hands = Hands::of(state, person)?;
    let NothingUnderWay(()) = NothingUnderWay::of(state)?;
    let PositionKnown(()) = PositionKnown::of(state)?;
    Ok(hands.permit(Class::Unlock, epoch))
}
