//! Proofs that the start conditions hold. Each is a value that only its check can make; a permit for cutting is made
//! from all of them and uses them up, so the check cannot be left out.

use super::permit::{Class, Epoch, Permit};
use super::refusal::Refusal;
use super::state::{By, Findings, Freshness, Link, Moving, OnMachine, Position, Spindle, State, Thickness, Way, Zero};
use chargehand_types::stage::Role;

/// The controller answers and nothing moves.
#[derive(Debug)]
pub(in crate::floor) struct Idle(());
/// A person is signed in at the machine.
#[derive(Debug)]
pub(in crate::floor) struct PersonHere(Role);
/// The position is known.
#[derive(Debug)]
pub(in crate::floor) struct PositionKnown(());
/// The work zero was looked at since position was last lost.
#[derive(Debug)]
pub(in crate::floor) struct ZeroSeen(());
/// No finding stands in the way.
#[derive(Debug)]
pub(in crate::floor) struct FindingsClear(());
/// Securing, tooling and ready are signed, and the bit is the operation's.
#[derive(Debug)]
pub(in crate::floor) struct ListsSigned(());
/// The Z zero is newer than the bit change and the sheet; the thickness is inside the window.
#[derive(Debug)]
pub(in crate::floor) struct HeightsRight(());
/// A person looked: the bit stands still.
#[derive(Debug)]
pub(in crate::floor) struct BitStill(());
/// A person said that the bit is free and the way clear.
#[derive(Debug)]
pub(in crate::floor) struct WayClear(());

/// Whether the link is up and nothing moves.
pub(in crate::floor) fn idle(s: &State) -> Result<Idle, Refusal> {
    match (s.link, s.moving) {
        (Link::Down, _) => Err(Refusal::NoLink),
        (Link::Up, Moving::Nothing) => Ok(Idle(())),
        (Link::Up, _) => Err(Refusal::Moving),
    }
}

/// Whether the asker is signed in at the machine.
pub(in crate::floor) fn person(by: By) -> Result<PersonHere, Refusal> {
    match by {
        By::AtMachine(role) => Ok(PersonHere(role)),
        By::Unsigned => Err(Refusal::NobodySignedIn),
        By::Afar => Err(Refusal::NotAtMachine),
    }
}

/// Whether the asker is the owner.
pub(in crate::floor) fn owner(by: By) -> Result<PersonHere, Refusal> {
    let person = person(by)?;
    match person.0 {
        Role::Owner => Ok(person),
        Role::Helper => Err(Refusal::OwnersOnly),
    }
}

/// Whether the position is known.
pub(in crate::floor) fn position(s: &State) -> Result<PositionKnown, Refusal> {
    match s.position {
        Position::Known => Ok(PositionKnown(())),
        Position::Unknown => Err(Refusal::PositionUnknown),
    }
}

/// Whether the zero was looked at.
pub(in crate::floor) fn zero(s: &State) -> Result<ZeroSeen, Refusal> {
    match s.zero {
        Zero::Confirmed => Ok(ZeroSeen(())),
        Zero::Unconfirmed => Err(Refusal::ZeroUnconfirmed),
    }
}

/// Whether the bit stands still.
pub(in crate::floor) fn still(s: &State) -> Result<BitStill, Refusal> {
    match s.spindle {
        Spindle::Still => Ok(BitStill(())),
        Spindle::RunningDown => Err(Refusal::RunDownNotOver),
        Spindle::MayTurn | Spindle::RunDownOver => Err(Refusal::BitMayTurn),
    }
}

/// Whether the way home is clear.
pub(in crate::floor) fn way(s: &State) -> Result<WayClear, Refusal> {
    match s.way {
        Way::Clear => Ok(WayClear(())),
        Way::Unknown => Err(Refusal::BitNotFree),
    }
}

/// Whether no finding stands in the way.
pub(in crate::floor) fn findings(sheet: &OnMachine) -> Result<FindingsClear, Refusal> {
    match sheet.findings {
        Findings::Clear => Ok(FindingsClear(())),
        Findings::Unsigned => Err(Refusal::FindingsUnsigned),
        Findings::Stops => Err(Refusal::CannotRun),
    }
}

/// Whether the lists are signed and the bit is the operation's.
pub(in crate::floor) fn lists(s: &State, sheet: &OnMachine) -> Result<ListsSigned, Refusal> {
    let operation = sheet.operation().ok_or(Refusal::NothingToCut)?;
    if !sheet.signed.securing {
        return Err(Refusal::NotSecured);
    }
    // a program that called for a bit of its own in its middle has it from the tooling list; only the list counts
    let own_bit = sheet.middle == super::state::Middle::WaitsForBit;
    if !own_bit && s.bit != Some(operation.bit) {
        return Err(Refusal::OtherBit);
    }
    if !sheet.signed.tooling {
        return Err(Refusal::NotTooled);
    }
    if !sheet.signed.ready {
        return Err(Refusal::NotReady);
    }
    Ok(ListsSigned(()))
}

/// Whether Z zero and thickness are right.
pub(in crate::floor) fn heights(sheet: &OnMachine) -> Result<HeightsRight, Refusal> {
    match (sheet.thickness, sheet.z_zero) {
        (Thickness::Unread, _) => Err(Refusal::ThicknessUnread),
        (Thickness::Outside, _) => Err(Refusal::ThicknessOutside),
        (Thickness::Inside, Freshness::Stale) => Err(Refusal::ZZeroStale),
        (Thickness::Inside, Freshness::Fresh) => Ok(HeightsRight(())),
    }
}

/// Everything cutting needs.
#[derive(Debug)]
pub(in crate::floor) struct CutProofs {
    pub position: PositionKnown,
    pub zero: ZeroSeen,
    pub findings: FindingsClear,
    pub lists: ListsSigned,
    pub heights: HeightsRight,
    pub idle: Idle,
}

/// All proofs that do not ask who starts.
pub(in crate::floor) fn cut(s: &State, sheet: &OnMachine) -> Result<CutProofs, Refusal> {
    Ok(CutProofs {
        idle: idle(s)?,
        position: position(s)?,
        zero: zero(s)?,
        findings: findings(sheet)?,
        heights: heights(sheet)?,
        lists: lists(s, sheet)?,
    })
}

impl CutProofs {
    /// The permit for a cycle start, or for the next operation of a whole chain.
    pub(in crate::floor) fn permit(self, class: Class, epoch: Epoch, _here: PersonHere) -> Permit {
        let Self {
            position: PositionKnown(()),
            zero: ZeroSeen(()),
            findings: FindingsClear(()),
            lists: ListsSigned(()),
            heights: HeightsRight(()),
            idle: Idle(()),
        } = self;
        Permit::made(class, epoch)
    }
}

/// Somebody is signed in at the machine: what a chain needs to go on by itself.
pub(in crate::floor) fn presence(s: &State) -> Result<PersonHere, Refusal> {
    match s.presence {
        super::state::Presence::Nobody => Err(Refusal::NobodySignedIn),
        super::state::Presence::Helper => Ok(PersonHere(Role::Helper)),
        super::state::Presence::Owner => Ok(PersonHere(Role::Owner)),
    }
}

/// The permit to find home.
pub(in crate::floor) fn home_permit(_: &PersonHere, _: Idle, _: WayClear, epoch: Epoch) -> Permit {
    Permit::made(Class::Home, epoch)
}

/// The permit for a hand move.
pub(in crate::floor) fn hand_permit(_: &PersonHere, _: Idle, _: PositionKnown, _: BitStill, epoch: Epoch) -> Permit {
    Permit::made(Class::Hand, epoch)
}

/// The permit to raise the bit after a hold.
pub(in crate::floor) fn raise_permit(_: &PersonHere, _: PositionKnown, epoch: Epoch) -> Permit {
    Permit::made(Class::Raise, epoch)
}
