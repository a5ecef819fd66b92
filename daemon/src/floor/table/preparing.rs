//! Before and after the cut: taking a sheet, signing lists, bit, zero, spindle.
//!
//! May live here: what people say of sheet, bit and spindle. May not: anything that moves an axis.

use crate::floor::chain::check_order;
use crate::floor::draft::Draft;
use crate::floor::happening::{By, Reading};
use crate::floor::outcome::Deed;
use crate::floor::proofs::{
    BitServes, BitStill, ChangeMade, DayBegun, LinkUp, NothingUnderWay, PositionKnown, StoreFine, ThicknessInside,
    WorkZeroConfirmed, ZeroFresh,
};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{Article, AtStage, Change, Findings, Graded, Held, OnMachine, Raise, SheetFacts};
use crate::floor::state::{Motion, Signed, Slot, Spindle, SpindleKind};
use chargehand_types::card::ZZero;
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::{HeldBy, Stage};

/// Puts a sheet on the machine. What was touched on the top of another sheet does not count for it.
pub(super) fn take(d: &mut Draft, by: By, facts: &SheetFacts) -> Result<(), Refusal> {
    let person = d.person(by)?;
    DayBegun::of(&d.state, &person)?;
    if d.state.sheet.is_some() {
        return Err(Refusal::SheetOnMachine);
    }
    StoreFine::of(&d.state)?;
    NothingUnderWay::of(&d.state)?;
    let operation = check_order(facts)?;
    if facts.findings == Findings::Stops {
        return Err(Refusal::FindingsStop);
    }
    d.state.sheet = Some(OnMachine {
        at: AtStage::Securing,
        article: facts.article,
        z_on: facts.z_on,
        operations: facts.operations.clone(),
        done: facts.done,
        operation,
        securing: Signed::No,
        ready: Signed::No,
        thickness: None,
        findings: facts.findings,
        approval: facts.approval,
    });
    forget_what_does_not_carry_over(d, facts);
    d.deed(Deed::StageChanged { from: facts.from.stage(), to: Stage::Securing });
    Ok(())
}

fn forget_what_does_not_carry_over(d: &mut Draft, facts: &SheetFacts) {
    let machine = &mut d.state.machine;
    machine.bit = facts.bit_in;
    if machine.bit.is_none() || machine.z_zero == Some(ZZero::Top) {
        machine.z_zero = None;
        machine.tooling = Signed::No;
    }
    if facts.article == Article::First {
        machine.tooling = Signed::No;
    }
}

/// The last step of a list was answered.
pub(super) fn signed(d: &mut Draft, by: By, list: ListKind) -> Result<(), Refusal> {
    d.person(by)?;
    match (list, d.sheet()?.at.clone()) {
        (ListKind::Securing, AtStage::Securing) => securing_signed(d),
        (ListKind::Tooling, AtStage::Tooling) => tooling_signed(d),
        (ListKind::Tooling, AtStage::Held(held)) => tooling_signed_in_change(d, &held),
        (ListKind::Ready, AtStage::Ready) => ready_signed(d),
        (ListKind::TakingOff, AtStage::TakingOff) => taking_off_signed(d),
        (ListKind::Checking, AtStage::Checking { graded }) => checking_signed(d, graded),
        (
            ListKind::Securing
            | ListKind::Tooling
            | ListKind::Ready
            | ListKind::TakingOff
            | ListKind::Checking
            | ListKind::Opening
            | ListKind::Closing
            | ListKind::HandOver
            | ListKind::AfterPowerCut,
            AtStage::Securing
            | AtStage::Tooling
            | AtStage::Ready
            | AtStage::Cutting(_)
            | AtStage::Held(_)
            | AtStage::Stopped(_)
            | AtStage::TakingOff
            | AtStage::Checking { .. },
        ) => Err(Refusal::OtherStage),
    }
}

fn securing_signed(d: &mut Draft) -> Result<(), Refusal> {
    BitStill::of(&d.state)?;
    ThicknessInside::of(d.sheet()?)?;
    d.sheet()?.securing = Signed::Yes;
    d.go_prepare();
    Ok(())
}

fn tooling_signed(d: &mut Draft) -> Result<(), Refusal> {
    BitStill::of(&d.state)?;
    BitServes::of(&d.state)?;
    ZeroFresh::of(&d.state)?;
    d.state.machine.tooling = Signed::Yes;
    d.go_prepare();
    Ok(())
}

/// The same list again, for a bit change in the middle of a program.
fn tooling_signed_in_change(d: &mut Draft, held: &Held) -> Result<(), Refusal> {
    if held.by != HeldBy::BitChange {
        return Err(Refusal::OtherStage);
    }
    BitStill::of(&d.state)?;
    ChangeMade::of(&d.state, held)?;
    ZeroFresh::of(&d.state)?;
    d.state.machine.tooling = Signed::Yes;
    Ok(())
}

/// Where the router is switched by hand, this list asked for it to be on and at speed.
fn ready_signed(d: &mut Draft) -> Result<(), Refusal> {
    d.sheet()?.ready = Signed::Yes;
    if d.state.machine.setup.spindle == SpindleKind::Manual {
        d.state.machine.spindle = Spindle::MayTurn;
    }
    Ok(())
}

fn taking_off_signed(d: &mut Draft) -> Result<(), Refusal> {
    BitStill::of(&d.state)?;
    d.go(AtStage::Checking { graded: Graded::NotAll });
    Ok(())
}

fn checking_signed(d: &mut Draft, graded: Graded) -> Result<(), Refusal> {
    match graded {
        Graded::NotAll => Err(Refusal::PartsUngraded),
        Graded::All => {
            d.leave(Stage::Closed, Deed::CloseSheet);
            Ok(())
        }
    }
}

/// The thickness was read, before anything was cut from here on.
pub(super) fn thickness(d: &mut Draft, by: By, reading: Reading) -> Result<(), Refusal> {
    d.person(by)?;
    before_cutting(d.sheet()?)?;
    d.sheet()?.thickness = Some(reading);
    d.unsign_ready();
    Ok(())
}

/// Whether the sheet is being made ready.
pub(super) const fn before_cutting(sheet: &OnMachine) -> Result<(), Refusal> {
    match sheet.at {
        AtStage::Securing | AtStage::Tooling | AtStage::Ready => Ok(()),
        AtStage::Cutting(_) => Err(Refusal::ProgramRuns),
        AtStage::Held(_) | AtStage::Stopped(_) | AtStage::TakingOff | AtStage::Checking { .. } => {
            Err(Refusal::OtherStage)
        }
    }
}

/// It may turn from now on. A controlled spindle is started only to go on after a hold.
pub(super) fn switched_on(d: &mut Draft, by: By) -> Result<(), Refusal> {
    d.person(by)?;
    let held = matches!(d.state.at(), Some(AtStage::Held(_)));
    if held && d.state.machine.setup.spindle == SpindleKind::Controlled {
        LinkUp::of(&d.state)?;
        StoreFine::of(&d.state)?;
        d.deed(Deed::SpindleOn);
    }
    d.state.machine.spindle = Spindle::MayTurn;
    Ok(())
}

/// Not under a bit that is on its way through wood.
pub(super) fn switched_off(d: &mut Draft, by: By) -> Result<(), Refusal> {
    d.person(by)?;
    match d.state.at() {
        Some(AtStage::Cutting(_)) => Err(Refusal::Moving),
        Some(
            AtStage::Securing
            | AtStage::Tooling
            | AtStage::Ready
            | AtStage::Held(_)
            | AtStage::Stopped(_)
            | AtStage::TakingOff
            | AtStage::Checking { .. },
        )
        | None => {
            d.switch_off();
            Ok(())
        }
    }
}

/// Looked: but only once the run-down was counted out.
pub(super) fn still(d: &mut Draft, by: By) -> Result<(), Refusal> {
    d.person(by)?;
    match d.state.machine.spindle {
        Spindle::MayTurn => Err(Refusal::BitMayTurn),
        Spindle::RunningDown => Err(Refusal::RunDownCounts),
        Spindle::Off | Spindle::Still => {
            d.state.machine.spindle = Spindle::Still;
            Ok(())
        }
    }
}

/// Any bit may be fitted; whether it serves is looked at when something needs it.
pub(super) fn bit_fitted(d: &mut Draft, by: By, slot: Slot) -> Result<(), Refusal> {
    d.person(by)?;
    at_the_bit(d)?;
    d.state.machine.bit = Some(slot);
    d.state.machine.z_zero = None;
    d.unsign_tooling();
    d.review_ready();
    if let AtStage::Held(held) = &mut d.sheet()?.at {
        held.change = match held.change {
            Change::To(wanted) if wanted != slot => Change::To(wanted),
            Change::To(_) | Change::ToUnlisted | Change::None => Change::None,
        };
    }
    Ok(())
}

/// The zero is where the bit stands now.
pub(super) fn z_zeroed(d: &mut Draft, by: By) -> Result<(), Refusal> {
    d.person(by)?;
    at_the_bit(d)?;
    StoreFine::of(&d.state)?;
    LinkUp::of(&d.state)?;
    PositionKnown::of(&d.state)?;
    WorkZeroConfirmed::of(&d.state)?;
    d.state.machine.z_zero = Some(d.sheet()?.z_on);
    d.unsign_tooling();
    d.review_ready();
    d.moves(Motion::Hand);
    d.deed(Deed::SetZZero);
    Ok(())
}

/// Hands are near the bit: only where it is time for it, nothing moves, and somebody saw it stand still.
fn at_the_bit(d: &mut Draft) -> Result<(), Refusal> {
    match d.sheet()?.at {
        AtStage::Tooling | AtStage::Ready => NothingUnderWay::of(&d.state).map(drop)?,
        AtStage::Held(Held { by: HeldBy::BitChange, raise: Raise::Not, .. }) => {
            if d.state.machine.motion != Motion::Held {
                return Err(Refusal::Moving);
            }
        }
        AtStage::Cutting(_) => return Err(Refusal::ProgramRuns),
        AtStage::Securing | AtStage::Held(_) | AtStage::Stopped(_) | AtStage::TakingOff | AtStage::Checking { .. } => {
            return Err(Refusal::OtherStage);
        }
    }
    BitStill::of(&d.state).map(drop)
}

/// The owner signed what the check found, for this revision.
pub(super) fn findings_signed(d: &mut Draft, by: By) -> Result<(), Refusal> {
    if !d.person(by)?.is_owner() {
        return Err(Refusal::OwnerSigns);
    }
    let sheet = d.sheet()?;
    match sheet.findings {
        Findings::Stops => Err(Refusal::FindingsStop),
        Findings::Clear | Findings::Unsigned => {
            sheet.findings = Findings::Clear;
            Ok(())
        }
    }
}
