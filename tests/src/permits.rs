//! Real permits for whoever drives the link without a floor: made by the floor itself, in states in which they are due.
//!
//! Uses nothing but the daemon's own library, so that the fuzz targets can take this file as it is.

use chargehand_daemon::floor::happening::{Asked, By, Happening};
use chargehand_daemon::floor::permit::{Class, Epoch, Permit};
use chargehand_daemon::floor::sheet::{
    Approval, Article, Attendance, Change, Findings, Held, OnMachine, OperationFacts, Ops, Raise,
};
use chargehand_daemon::floor::state::{
    Homing, Link, Motion, Position, Presence, Setup, Signed, Slot, Spindle, SpindleKind, Way, WorkZero,
};
use chargehand_daemon::floor::{AtStage, BitAt, Reading, State, step};
use chargehand_types::card::ZZero;
use chargehand_types::stage::{HeldBy, Role};

/// A real permit, made by the real floor in a state in which it is due.
#[must_use]
pub fn permit(class: Class, epoch: Epoch) -> Permit {
    let by = By::AtMachine(Role::Owner);
    let (state, what) = due(class);
    let outcome = step(&state, &Happening::Act { by, what }, epoch).expect("every condition holds");
    outcome.permit.expect("it moves")
}

/// A state in which a motion of a class may begin, and what is asked for then.
fn due(class: Class) -> (State, Asked) {
    let homing = if class == Class::Unlock { Homing::Unable } else { Homing::Able };
    let mut state = State::new(Setup { spindle: SpindleKind::Manual, homing });
    state.presence = Presence::Owner;
    let m = &mut state.machine;
    m.link = Link::Up;
    m.position = Position::Known;
    m.zero = WorkZero::Confirmed;
    m.way = Way::SaidClear;
    m.bit = Some(Slot(0));
    m.z_zero = Some(ZZero::Top);
    m.tooling = Signed::Yes;
    m.motion = Motion::Still;
    let held = Held { by: HeldBy::Person, bit: BitAt::MaybeInCut, raise: Raise::Not, change: Change::None };
    let (at, what) = match class {
        Class::Home => (None, Asked::Home),
        Class::Hand => (None, Asked::HandMove),
        Class::Unlock => (None, Asked::ConfirmZero),
        Class::Cut => (Some(AtStage::Ready), Asked::CycleStart),
        Class::Resume => (Some(AtStage::Held(held)), Asked::Resume),
        Class::Raise => (Some(AtStage::Held(held)), Asked::Raise),
    };
    match class {
        Class::Hand => m.spindle = Spindle::Off,
        Class::Unlock => m.motion = Motion::Faulted,
        Class::Resume | Class::Raise => m.motion = Motion::Held,
        Class::Home | Class::Cut => {}
    }
    state.sheet = at.map(|at| OnMachine {
        at,
        article: Article::First,
        z_on: ZZero::Top,
        operations: vec![OperationFacts { bit: Slot(0), attendance: Attendance::Attended, after: Ops::NONE }],
        done: Ops::NONE,
        operation: 0,
        securing: Signed::Yes,
        ready: Signed::Yes,
        thickness: Some(Reading::Inside),
        findings: Findings::Clear,
        approval: Approval::Given,
    });
    (state, what)
}
