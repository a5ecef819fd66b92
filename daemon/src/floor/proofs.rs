//! Proofs: values that exist only because a check held a moment ago. A permit is made from a full set of them and
//! uses it up, so that a start condition cannot be forgotten at a call.
//!
//! The only place that makes permits. May live here: one type a start condition, the sets for each class of motion.
//! May not: changes of state.

use crate::floor::chain;
use crate::floor::happening::{By, Reading};
use crate::floor::permit::{Class, Epoch, Permit};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{Change, Findings, Held, OnMachine};
use crate::floor::state::{
    Homing, Link, Motion, Position, Presence, Signed, Spindle, SpindleKind, State, Store, Way, WorkZero,
};
use chargehand_types::stage::{HeldBy, Role};

/// Declares a proof and its check.
macro_rules! proof {
    ($(#[$doc:meta])* $name:ident, |$given:ident: $what:ty| $holds:expr => $otherwise:expr) => {
        proof!($(#[$doc])* $name, |$given: $what| ($holds).then_some(()).ok_or($otherwise));
    };
    ($(#[$doc:meta])* $name:ident, |$given:ident: $what:ty| $check:expr) => {
        $(#[$doc])*
        #[derive(Debug)]
        pub struct $name(());

        impl $name {
            /// Looks.
            ///
            /// # Errors
            /// When it does not hold.
            pub fn of($given: &$what) -> Result<Self, Refusal> {
                let checked: Result<(), Refusal> = $check;
                checked.map(Self)
            }
        }
    };
}

proof!(/// The controller answers.
    LinkUp, |s: State| s.machine.link == Link::Up => Refusal::NoLink);
proof!(/// The journal can be written.
    StoreFine, |s: State| s.machine.store == Store::Fine => Refusal::StoreFails);
proof!(/// The position is known.
PositionKnown, |s: State| match (s.machine.position, s.machine.setup.homing) {
    (Position::Known, _) => Ok(()),
    (Position::Unknown, Homing::Able) => Err(Refusal::PositionUnknown),
    (Position::Unknown, Homing::Unable) => Err(Refusal::PositionUnshown),
});
proof!(/// The work zero was confirmed since position was last lost.
    WorkZeroConfirmed, |s: State| s.machine.zero == WorkZero::Confirmed => Refusal::ZeroUnconfirmed);
proof!(/// Nothing moves, and the controller takes motion.
StandsStill, |s: State| match s.machine.motion {
    Motion::Still => Ok(()),
    Motion::Faulted => Err(Refusal::Faulted),
    Motion::Homing | Motion::Hand | Motion::Program | Motion::HoldAsked(_) | Motion::LiftAsked
    | Motion::Held | Motion::Raising | Motion::Stopping | Motion::Unknown => Err(Refusal::Moving),
});
proof!(/// The axes are held.
    AxesHeld, |s: State| s.machine.motion == Motion::Held => Refusal::Moving);
proof!(/// Nothing of ours is under way; the controller may be faulted or newly there.
    NothingUnderWay, |s: State|
    matches!(s.machine.motion, Motion::Still | Motion::Faulted | Motion::Unknown) => Refusal::Moving);
proof!(/// A person said that the bit is free and the way is clear.
    WayClear, |s: State| s.machine.way == Way::SaidClear => Refusal::BitNotFree);
proof!(/// The machine can find home.
    CanHome, |s: State| s.machine.setup.homing == Homing::Able => Refusal::CannotHome);
proof!(/// The bit was switched off, the run-down counted, and a person saw it stand still.
BitStill, |s: State| match s.machine.spindle {
    Spindle::Still => Ok(()),
    Spindle::Off => Err(Refusal::NobodyLooked),
    Spindle::RunningDown => Err(Refusal::RunDownCounts),
    Spindle::MayTurn => Err(Refusal::BitMayTurn),
});
proof!(/// The spindle was switched off and the run-down counted.
SpindleOff, |s: State| match s.machine.spindle {
    Spindle::Still | Spindle::Off => Ok(()),
    Spindle::RunningDown => Err(Refusal::RunDownCounts),
    Spindle::MayTurn => Err(Refusal::BitMayTurn),
});
proof!(/// No finding stops, and every one to sign is signed.
FindingsClear, |s: OnMachine| match s.findings {
    Findings::Clear => Ok(()),
    Findings::Unsigned => Err(Refusal::FindingsUnsigned),
    Findings::Stops => Err(Refusal::FindingsStop),
});
proof!(/// The thickness was read and is inside the working window.
ThicknessInside, |s: OnMachine| match s.thickness {
    Some(Reading::Inside) => Ok(()),
    Some(Reading::Outside) => Err(Refusal::ThicknessOutside),
    None => Err(Refusal::ThicknessUnread),
});
proof!(/// The securing list is signed for this sheet.
    SecuringSigned, |s: OnMachine| s.securing == Signed::Yes => Refusal::SecuringUnsigned);
proof!(/// The ready list is signed for this start.
    ReadySigned, |s: OnMachine| s.ready == Signed::Yes => Refusal::ReadyUnsigned);
proof!(/// The tooling list is signed for the bit and the Z zero as they are.
    ToolingSigned, |s: State| s.machine.tooling == Signed::Yes => Refusal::ToolingUnsigned);
proof!(/// The bit in the spindle is the one the operation at hand needs.
BitServes, |s: State| {
    let wanted = s.sheet.as_ref().and_then(OnMachine::at_hand).map(|o| o.bit);
    (wanted.is_some() && wanted == s.machine.bit).then_some(()).ok_or(Refusal::WrongBit)
});
proof!(/// The Z zero is newer than the bit change, lies where the sheet wants it and, there on top, is newer than the
/// sheet (a zero on top is forgotten when a sheet leaves).
ZeroFresh, |s: State| {
    let wanted = s.sheet.as_ref().map(|sheet| sheet.z_on);
    (wanted.is_some() && wanted == s.machine.z_zero).then_some(()).ok_or(Refusal::ZStale)
});
proof!(/// A bit change that is due in the middle of a program was made.
    ChangeMade, |h: Held| h.change == Change::None => Refusal::WrongBit);

/// A person signed in at the machine asked for it.
#[derive(Debug)]
pub struct PersonHere(Role);

impl PersonHere {
    /// Looks. A role counts no further than the highest one signed in.
    ///
    /// # Errors
    /// When it comes from afar or nobody is signed in.
    pub fn of(state: &State, by: By) -> Result<Self, Refusal> {
        match (by, state.presence) {
            (By::Afar, _) => Err(Refusal::FromAfar),
            (By::AtMachineNobody, _) | (By::AtMachine(_), Presence::Nobody) => Err(Refusal::NobodyHere),
            (By::AtMachine(Role::Owner), Presence::Owner) => Ok(Self(Role::Owner)),
            (By::AtMachine(_), Presence::Helper | Presence::Owner) => Ok(Self(Role::Helper)),
        }
    }

    /// Whether it is the owner.
    #[must_use]
    pub fn is_owner(&self) -> bool {
        self.0 == Role::Owner
    }
}

/// The chain named at cycle start still holds, and names this operation next.
#[derive(Debug)]
pub struct ChainHolds(u8);

impl ChainHolds {
    /// Looks.
    ///
    /// # Errors
    /// When the chain is over, the bit is another, or the rest may not run alone.
    pub fn of(state: &State) -> Result<Self, Refusal> {
        chain::goes_on_to(state).map(Self)
    }

    /// The operation it goes on to.
    #[must_use]
    pub const fn next(&self) -> u8 {
        self.0
    }
}

/// What a cut starts by.
#[derive(Debug)]
pub enum Starter {
    /// A person's cycle start.
    Person(PersonHere),
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
            starter: Starter::Person(PersonHere(_)) | Starter::Chain(ChainHolds(_)),
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
            change: ChangeMade::of(held)?,
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
