//! Proofs: values that exist only because a check held a moment ago. A permit is made from a full set of them and
//! uses it up, so that a start condition cannot be forgotten at a call.
//!
//! May live here: one type a start condition; in `sets`, which of them each class of motion needs. May not: changes
//! of state.

mod sets;

pub use sets::{CutProofs, ResumeProofs, Standing, Starter, hand, home, raise, unlock};

use crate::floor::chain;
use crate::floor::happening::{By, Reading};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{Change, Findings, Held, OnMachine};
use crate::floor::state::{
    DayLists, Homing, Link, Motion, Position, Presence, Signed, Spindle, State, Store, Way, WorkZero,
};
use chargehand_types::stage::Role;

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
/// A bit change that is due in the middle of a program was made, and the bit was not doubted since.
#[derive(Debug)]
pub struct ChangeMade(());

impl ChangeMade {
    /// Looks.
    ///
    /// # Errors
    /// When another bit is wanted than the one that is in, or nobody knows how it sits.
    pub fn of(state: &State, held: &Held) -> Result<Self, Refusal> {
        let made = held.change == Change::None && state.machine.bit.is_some();
        made.then_some(Self(())).ok_or(Refusal::WrongBit)
    }
}

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

/// No list of the day is due, or it is the owner who begins without it.
#[derive(Debug)]
pub struct DayBegun(());

impl DayBegun {
    /// Looks.
    ///
    /// # Errors
    /// When one is due and a helper asks.
    pub fn of(state: &State, person: &PersonHere) -> Result<Self, Refusal> {
        match state.lists {
            DayLists::Due if !person.is_owner() => Err(Refusal::ListDue),
            DayLists::Due | DayLists::Done => Ok(Self(())),
        }
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
