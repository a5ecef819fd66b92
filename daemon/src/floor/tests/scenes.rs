//! Scenes: a state of every stage, each reached by the true path, and every happening there is.

use crate::floor::happening::{Asked, BitAt, By, Happening, Reading, Tried};
use crate::floor::permit::Epoch;
use crate::floor::sheet::{Approval, Article, Attendance, Findings, OperationFacts, Ops, Origin, SheetFacts};
use crate::floor::state::{Away, DayLists, Homing, Presence, Setup, Slot, SpindleKind, State};
use crate::floor::table::step;
use chargehand_types::card::ZZero;
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::{Decision, Role};

pub const ROUTER: Setup = Setup { spindle: SpindleKind::Manual, homing: Homing::Able };
pub const SPINDLE: Setup = Setup { spindle: SpindleKind::Controlled, homing: Homing::Able };
pub const NO_SWITCHES: Setup = Setup { spindle: SpindleKind::Manual, homing: Homing::Unable };

pub const LIST_DUE: Happening = Happening::ListsChanged(DayLists::Due);

pub fn owner(what: Asked) -> Happening {
    Happening::Act { by: By::AtMachine(Role::Owner), what }
}

pub fn helper(what: Asked) -> Happening {
    Happening::Act { by: By::AtMachine(Role::Helper), what }
}

/// Pockets first, then outlines, with the same bit; a third operation with another where asked for.
pub fn facts(bits: &[u8]) -> SheetFacts {
    let operations = bits
        .iter()
        .enumerate()
        .map(|(i, bit)| OperationFacts { bit: Slot(*bit), attendance: Attendance::Attended, after: Ops::first(i) })
        .collect();
    SheetFacts {
        from: Origin::Queued,
        article: Article::First,
        z_on: ZZero::Top,
        operations,
        done: Ops::NONE,
        findings: Findings::Clear,
        bit_in: None,
        approval: Approval::Given,
    }
}

pub fn after(mut state: State, path: &[Happening]) -> State {
    for happening in path {
        state = step(&state, happening, Epoch::default()).unwrap_or_else(|why| panic!("{happening:?}: {why}")).state;
    }
    state
}

pub fn at_rest() -> Vec<Happening> {
    vec![owner(Asked::SpindleSwitchedOff), Happening::RunDownDue, owner(Asked::SpindleStill)]
}

fn joined(parts: &[Vec<Happening>]) -> Vec<Happening> {
    parts.concat()
}

pub fn morning() -> Vec<Happening> {
    let mut path = vec![
        Happening::LinkUp { position_kept: false },
        Happening::StandsStill,
        Happening::PresenceChanged(Presence::Owner),
        owner(Asked::BitFree),
        owner(Asked::Home),
        Happening::Homed,
        owner(Asked::ConfirmZero),
        Happening::HandDone,
    ];
    path.extend(at_rest());
    path
}

pub fn securing(bits: &[u8]) -> Vec<Happening> {
    joined(&[morning(), vec![owner(Asked::TakeSheet(facts(bits)))]])
}

pub fn tooling(bits: &[u8]) -> Vec<Happening> {
    let list = vec![owner(Asked::Thickness(Reading::Inside)), owner(Asked::ListSigned(ListKind::Securing))];
    joined(&[securing(bits), list])
}

pub fn fitted(bit: u8) -> Vec<Happening> {
    vec![
        owner(Asked::BitFitted(Slot(bit))),
        owner(Asked::ZZeroed),
        Happening::HandDone,
        owner(Asked::ListSigned(ListKind::Tooling)),
    ]
}

pub fn ready(bits: &[u8]) -> Vec<Happening> {
    joined(&[tooling(bits), fitted(bits[0])])
}

pub fn ready_signed(bits: &[u8]) -> Vec<Happening> {
    joined(&[ready(bits), vec![owner(Asked::ListSigned(ListKind::Ready))]])
}

pub fn cutting(bits: &[u8]) -> Vec<Happening> {
    joined(&[ready_signed(bits), vec![owner(Asked::CycleStart)]])
}

pub fn cutting_then(bits: &[u8], more: &[Happening]) -> Vec<Happening> {
    joined(&[cutting(bits), more.to_vec()])
}

pub fn held(bit: BitAt) -> Vec<Happening> {
    cutting_then(&[0, 0], &[owner(Asked::Hold), Happening::HeldConfirmed { asked: true, bit }])
}

pub fn stopped() -> Vec<Happening> {
    cutting_then(&[0, 0], &[owner(Asked::Stop), Happening::Stopped { position_kept: true }])
}

/// It ran to its end before the stop reached it; the first question is answered.
pub fn run_out(bits: &[u8], pressed: bool) -> Vec<Happening> {
    let over = [Happening::Finished, Happening::Stopped { position_kept: true }];
    let stop = [vec![owner(Asked::Stop)], over.to_vec(), vec![owner(Asked::RedButton { pressed })]].concat();
    cutting_then(bits, &stop)
}

pub fn taking_off() -> Vec<Happening> {
    cutting_then(&[0], &[Happening::Finished])
}

pub fn checking() -> Vec<Happening> {
    joined(&[taking_off(), at_rest(), vec![owner(Asked::ListSigned(ListKind::TakingOff))]])
}

/// One of each stage, and of each way of being in it that matters.
pub fn scenes(setup: Setup) -> Vec<(&'static str, State)> {
    let bits = [0, 0];
    let at = |path: &[Happening]| after(State::new(setup), path);
    let then = |more: &[Happening]| at(&cutting_then(&bits, more));
    let in_cut = BitAt::MaybeInCut;
    let change = Happening::AtBitChange { wants: Some(Slot(1)), bit: BitAt::Clear };
    let with = |path: Vec<Happening>, more: &[Happening]| at(&joined(&[path, more.to_vec()]));
    vec![
        ("nothing known", State::new(setup)),
        ("no sheet", at(&morning())),
        ("finding home", at(&morning()[..5])),
        ("securing", at(&securing(&bits))),
        ("tooling", at(&tooling(&bits))),
        ("hand move", with(tooling(&bits), &[owner(Asked::HandMove)])),
        ("ready", at(&ready(&bits))),
        ("ready, signed", at(&ready_signed(&bits))),
        ("ready, signed, a list of the day due", with(ready_signed(&bits), &[LIST_DUE])),
        ("cutting", at(&cutting(&bits))),
        ("cutting, hold asked", then(&[owner(Asked::Hold)])),
        ("cutting, lift asked", then(&[owner(Asked::HoldAtLift)])),
        ("held", at(&held(in_cut))),
        ("held, raising", with(held(in_cut), &[owner(Asked::Raise)])),
        ("held, raised", with(held(in_cut), &[owner(Asked::Raise), Happening::Raised])),
        ("held at a prompt", then(&[Happening::AtPrompt { bit: BitAt::Clear }])),
        ("bit change", then(std::slice::from_ref(&change))),
        ("resumed", with(held(in_cut), &[owner(Asked::Resume)])),
        ("stop asked", then(&[owner(Asked::Stop)])),
        ("stopped", at(&stopped())),
        ("stopped, run out", at(&run_out(&bits, false))),
        ("stopped, run out, nothing left", at(&run_out(&[0], false))),
        ("stopped, answered", with(stopped(), &[owner(Asked::RedButton { pressed: false })])),
        ("stopped, red button", with(stopped(), &[owner(Asked::RedButton { pressed: true })])),
        ("stopped, faulted", then(&[Happening::Fault { position_lost: false }])),
        ("stopped, no link", then(&[Happening::LinkDown])),
        ("taking off", at(&taking_off())),
        ("checking", at(&checking())),
        ("checking, graded", with(checking(), &[owner(Asked::PartsGraded)])),
    ]
}

fn acts() -> Vec<Asked> {
    let mut acts = vec![
        Asked::TakeSheet(facts(&[0, 0])),
        Asked::Thickness(Reading::Inside),
        Asked::Thickness(Reading::Outside),
        Asked::SpindleSwitchedOn,
        Asked::SpindleSwitchedOff,
        Asked::SpindleStill,
        Asked::BitFitted(Slot(0)),
        Asked::BitFitted(Slot(1)),
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
        Asked::OffTheMark,
        Asked::HandMove,
        Asked::StillThere,
        Asked::PartsGraded,
    ];
    acts.extend(ListKind::ALL.map(Asked::ListSigned));
    let decisions = [Decision::Next, Decision::ReEnter, Decision::Restart, Decision::SetAside, Decision::End];
    acts.extend(decisions.map(Asked::Decide));
    acts
}

fn told_by_machine() -> Vec<Happening> {
    let mut told = vec![
        Happening::LinkDown,
        Happening::StandsStill,
        Happening::Homed,
        Happening::HoldUnconfirmed,
        Happening::HeldAtLift,
        Happening::Finished,
        Happening::Raised,
        Happening::Refused,
        Happening::Restarted,
        Happening::HandDone,
        Happening::AtBitChange { wants: Some(Slot(0)), bit: BitAt::Clear },
        Happening::AtBitChange { wants: Some(Slot(1)), bit: BitAt::MaybeInCut },
        Happening::AtBitChange { wants: None, bit: BitAt::Clear },
    ];
    for yes in [true, false] {
        told.push(Happening::LinkUp { position_kept: yes });
        told.push(Happening::Fault { position_lost: yes });
        told.push(Happening::Stopped { position_kept: yes });
        told.push(Happening::HeldConfirmed { asked: yes, bit: BitAt::MaybeInCut });
        told.push(Happening::HeldConfirmed { asked: yes, bit: BitAt::Clear });
    }
    told.extend([BitAt::Clear, BitAt::MaybeInCut].map(|bit| Happening::AtPrompt { bit }));
    told
}

fn told_by_house(setup: Setup) -> Vec<Happening> {
    let mut told = vec![
        Happening::RunDownDue,
        Happening::ChainGapDue,
        Happening::StillThereDue,
        Happening::BitDoubted,
        Happening::DaemonRestarted(setup),
        Happening::StoreFailed,
    ];
    told.extend(
        [
            Tried::Hold,
            Tried::HoldAtLift,
            Tried::StopLink,
            Tried::Begin,
            Tried::ResumeLink,
            Tried::RaiseLink,
            Tried::HomeLink,
            Tried::HandMoveLink,
            Tried::UnlockLink,
            Tried::SetWorkZero,
            Tried::SetZZero,
            Tried::Spindle,
        ]
        .map(Happening::NotDone),
    );
    told.extend([Presence::Nobody, Presence::Helper, Presence::Owner].map(Happening::PresenceChanged));
    told.extend([Away::Off, Away::Allowed].map(Happening::AwayChanged));
    told.push(Happening::ArticleApproved);
    told.extend([DayLists::Done, DayLists::Due].map(Happening::ListsChanged));
    told.extend([Findings::Clear, Findings::Unsigned, Findings::Stops].map(Happening::FindingsChanged));
    told
}

/// Every happening there is, acts by the owner.
pub fn by_owner(setup: Setup) -> Vec<Happening> {
    let mut all: Vec<_> = acts().into_iter().map(owner).collect();
    all.extend(told_by_machine());
    all.extend(told_by_house(setup));
    all
}

/// The same, and every act by everybody else too.
pub fn by_anybody(setup: Setup) -> Vec<Happening> {
    let mut all = by_owner(setup);
    for by in [By::AtMachine(Role::Helper), By::AtMachineNobody, By::Afar] {
        all.extend(acts().into_iter().map(|what| Happening::Act { by, what }));
    }
    all
}
