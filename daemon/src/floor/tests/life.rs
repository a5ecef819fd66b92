//! The life of a sheet, told as stories.

use super::scenes::{
    NO_SWITCHES, ROUTER, SPINDLE, after, at_rest, checking, cutting_then, facts, fitted, held, morning, owner,
    ready_signed, securing, tooling,
};
use crate::floor::happening::{Asked, BitAt, By, Happening, Reading, Tried};
use crate::floor::outcome::{Deed, Outcome};
use crate::floor::permit::{Class, Epoch};
use crate::floor::refusal::Refusal;
use crate::floor::sheet::{Article, Findings, Ops, SheetFacts};
use crate::floor::state::{Motion, Position, Presence, Slot, Spindle, State};
use crate::floor::table::step;
use chargehand_types::call::CallReason;
use chargehand_types::card::ZZero;
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::{Decision, Stage};

pub fn machine(path: &[Happening]) -> State {
    after(State::new(ROUTER), path)
}

pub fn then(state: &State, happening: &Happening) -> Outcome {
    step(state, happening, Epoch::default()).unwrap()
}

pub fn why(state: &State, what: Asked) -> Refusal {
    step(state, &owner(what), Epoch::default()).unwrap_err()
}

#[test]
fn a_sheet_is_cut_and_closed() {
    let graded = [checking(), vec![owner(Asked::PartsGraded)]].concat();
    let last = then(&machine(&graded), &owner(Asked::ListSigned(ListKind::Checking)));
    assert!(last.state.sheet.is_none());
    let closed = Deed::StageChanged { from: Stage::Checking, to: Stage::Closed };
    assert_eq!(last.deeds, [closed, Deed::CloseSheet]);
}

#[test]
fn parts_without_grade_keep_it_open() {
    let state = machine(&checking());
    assert_eq!(why(&state, Asked::ListSigned(ListKind::Checking)), Refusal::PartsUngraded);
}

#[test]
fn one_start_runs_the_chain() {
    let start = then(&machine(&ready_signed(&[0, 0])), &owner(Asked::CycleStart));
    assert_eq!(start.deeds[0], Deed::Begin { operation: 0 });
    assert_eq!(start.permit.map(|p| p.class()), Some(Class::Cut));
    let next = then(&start.state, &Happening::Finished);
    assert_eq!(next.deeds, [Deed::OperationDone { operation: 0 }, Deed::Begin { operation: 1 }]);
    assert_eq!(next.permit.map(|p| p.class()), Some(Class::Cut));
    let end = then(&next.state, &Happening::Finished);
    assert_eq!(end.state.stage(), Some(Stage::TakingOff));
    assert!(end.deeds.contains(&Deed::Call(CallReason::OperationDone)));
}

#[test]
fn a_hold_ends_the_chain() {
    let go_on = vec![
        owner(Asked::Hold),
        Happening::HeldConfirmed { asked: true, bit: BitAt::MaybeInCut },
        owner(Asked::Resume),
    ];
    let resumed = machine(&cutting_then(&[0, 0], &go_on));
    let end = then(&resumed, &Happening::Finished);
    assert_eq!(end.state.stage(), Some(Stage::Ready), "bit and zero serve; a new start is needed");
    assert_eq!(end.permit, None);
    assert_eq!(why(&end.state, Asked::CycleStart), Refusal::ReadyUnsigned);
}

#[test]
fn a_gap_ends_the_chain() {
    let gap = machine(&cutting_then(&[0, 0], &[Happening::ChainGapDue]));
    assert_eq!(then(&gap, &Happening::Finished).permit, None);
}

#[test]
fn another_bit_needs_tooling_again() {
    let state = machine(&cutting_then(&[0, 1], &[Happening::Finished]));
    assert_eq!(state.stage(), Some(Stage::Tooling));
    assert_eq!(why(&state, Asked::BitFitted(Slot(1))), Refusal::BitMayTurn);
    let path = [at_rest(), fitted(1)].concat();
    assert_eq!(after(state, &path).stage(), Some(Stage::Ready));
}

#[test]
fn a_zero_on_top_is_older_than_the_next_sheet() {
    let closing = [checking(), vec![owner(Asked::PartsGraded), owner(Asked::ListSigned(ListKind::Checking))]].concat();
    let again = |z_on, article| {
        let next = SheetFacts { z_on, article, bit_in: Some(Slot(0)), ..facts(&[0]) };
        let path = [
            owner(Asked::TakeSheet(next)),
            owner(Asked::Thickness(Reading::Inside)),
            owner(Asked::ListSigned(ListKind::Securing)),
        ];
        after(machine(&closing), &path).stage()
    };
    assert_eq!(again(ZZero::Top, Article::Repeat), Some(Stage::Tooling));
    assert_eq!(again(ZZero::Bed, Article::Repeat), Some(Stage::Tooling), "touched on top");
}

#[test]
fn a_zero_on_the_bed_serves_a_repeat() {
    let on_bed = |article| SheetFacts { z_on: ZZero::Bed, article, bit_in: Some(Slot(0)), ..facts(&[0]) };
    let secured = |article| {
        vec![
            owner(Asked::TakeSheet(on_bed(article))),
            owner(Asked::Thickness(Reading::Inside)),
            owner(Asked::ListSigned(ListKind::Securing)),
        ]
    };
    let first = [morning(), secured(Article::First), fitted(0)].concat();
    let ended = [first, vec![owner(Asked::Decide(Decision::SetAside))]].concat();
    let repeat = [ended.clone(), secured(Article::Repeat)].concat();
    assert_eq!(machine(&repeat).stage(), Some(Stage::Ready), "bit and zero already serve");
    let another_first = [ended, secured(Article::First)].concat();
    assert_eq!(machine(&another_first).stage(), Some(Stage::Tooling));
}

#[test]
fn each_start_condition_has_its_refusal() {
    let signed = machine(&ready_signed(&[0, 0]));
    let broken = |change: fn(&mut State)| {
        let mut state = signed.clone();
        change(&mut state);
        why(&state, Asked::CycleStart)
    };
    use crate::floor::state::{Link, Signed, Store, WorkZero};
    assert_eq!(broken(|s| s.machine.link = Link::Down), Refusal::NoLink);
    assert_eq!(broken(|s| s.machine.store = Store::Failed), Refusal::StoreFails);
    assert_eq!(broken(|s| s.machine.motion = Motion::Hand), Refusal::Moving);
    assert_eq!(broken(|s| s.machine.motion = Motion::Faulted), Refusal::Faulted);
    assert_eq!(broken(|s| s.machine.position = Position::Unknown), Refusal::PositionUnknown);
    assert_eq!(broken(|s| s.machine.zero = WorkZero::Unconfirmed), Refusal::ZeroUnconfirmed);
    assert_eq!(broken(|s| s.machine.bit = Some(Slot(3))), Refusal::WrongBit);
    assert_eq!(broken(|s| s.machine.z_zero = None), Refusal::ZStale);
    assert_eq!(broken(|s| s.machine.z_zero = Some(ZZero::Bed)), Refusal::ZStale);
    assert_eq!(broken(|s| s.machine.tooling = Signed::No), Refusal::ToolingUnsigned);
    assert_eq!(broken(|s| s.presence = Presence::Nobody), Refusal::NobodyHere);
    let sheet = |s: &mut State| s.sheet.take().unwrap();
    assert_eq!(broken(|s| s.sheet = None), Refusal::NoSheet);
    let mut parts = signed.clone();
    let whole = sheet(&mut parts);
    let with = |sheet| why(&State { sheet: Some(sheet), ..parts.clone() }, Asked::CycleStart);
    use crate::floor::sheet::OnMachine;
    let facts = |f: Findings| OnMachine { findings: f, ..whole.clone() };
    assert_eq!(with(facts(Findings::Stops)), Refusal::FindingsStop);
    assert_eq!(with(facts(Findings::Unsigned)), Refusal::FindingsUnsigned);
    assert_eq!(with(OnMachine { thickness: None, ..whole.clone() }), Refusal::ThicknessUnread);
    let outside = OnMachine { thickness: Some(Reading::Outside), ..whole.clone() };
    assert_eq!(with(outside), Refusal::ThicknessOutside);
    assert_eq!(with(OnMachine { securing: Signed::No, ..whole.clone() }), Refusal::SecuringUnsigned);
    assert_eq!(with(OnMachine { ready: Signed::No, ..whole.clone() }), Refusal::ReadyUnsigned);
}

#[test]
fn only_the_machine_starts_motion() {
    let state = machine(&ready_signed(&[0]));
    for (by, expected) in [(By::Afar, Refusal::FromAfar), (By::AtMachineNobody, Refusal::NobodyHere)] {
        let start = Happening::Act { by, what: Asked::CycleStart };
        assert_eq!(step(&state, &start, Epoch::default()).unwrap_err(), expected);
    }
}

#[test]
fn a_role_counts_only_while_signed_in() {
    let unsigned = [
        securing(&[0]),
        vec![Happening::FindingsChanged(Findings::Unsigned), Happening::PresenceChanged(Presence::Helper)],
    ]
    .concat();
    assert_eq!(why(&machine(&unsigned), Asked::FindingsSigned), Refusal::OwnerSigns);
}

#[test]
fn a_doubted_bit_is_fitted_and_touched_anew() {
    let doubted = then(&machine(&checking()), &Happening::BitDoubted);
    assert_eq!(doubted.deeds, [Deed::Call(CallReason::Suspect)]);
    let path = [
        vec![owner(Asked::PartsGraded), owner(Asked::ListSigned(ListKind::Checking))],
        vec![owner(Asked::TakeSheet(SheetFacts { z_on: ZZero::Bed, article: Article::Repeat, ..facts(&[0]) }))],
        vec![owner(Asked::Thickness(Reading::Inside)), owner(Asked::ListSigned(ListKind::Securing))],
    ]
    .concat();
    let next = after(doubted.state, &path);
    assert_eq!(next.stage(), Some(Stage::Tooling));
    assert_eq!(why(&next, Asked::ListSigned(ListKind::Tooling)), Refusal::WrongBit);
}

#[test]
fn hands_wait_for_the_run_down() {
    let mut state = machine(&[tooling(&[0]), vec![owner(Asked::SpindleSwitchedOn)]].concat());
    assert_eq!(why(&state, Asked::BitFitted(Slot(0))), Refusal::BitMayTurn);
    assert_eq!(why(&state, Asked::HandMove), Refusal::BitMayTurn);
    assert_eq!(why(&state, Asked::SpindleStill), Refusal::BitMayTurn);
    state = after(state, &[owner(Asked::SpindleSwitchedOff)]);
    assert_eq!(why(&state, Asked::BitFitted(Slot(0))), Refusal::RunDownCounts);
    assert_eq!(why(&state, Asked::SpindleStill), Refusal::RunDownCounts);
    state = after(state, &[Happening::RunDownDue]);
    assert_eq!(why(&state, Asked::BitFitted(Slot(0))), Refusal::NobodyLooked);
    assert!(step(&state, &owner(Asked::HandMove), Epoch::default()).is_ok(), "router off");
    state = after(state, &[owner(Asked::SpindleStill)]);
    assert!(step(&state, &owner(Asked::BitFitted(Slot(0))), Epoch::default()).is_ok());
}

#[test]
fn a_bit_change_needs_bit_zero_and_list() {
    let change = Happening::AtBitChange { wants: Some(Slot(1)), bit: BitAt::Clear };
    let mut state = machine(&cutting_then(&[0], &[change]));
    assert_eq!(why(&state, Asked::Resume), Refusal::WrongBit);
    state = after(state, &at_rest());
    state = after(state, &[owner(Asked::BitFitted(Slot(1)))]);
    assert_eq!(why(&state, Asked::Resume), Refusal::ZStale);
    state = after(state, &[owner(Asked::HandMove), Happening::HandDone, owner(Asked::ZZeroed), Happening::HandDone]);
    assert_eq!(why(&state, Asked::Resume), Refusal::ToolingUnsigned);
    state = after(state, &[owner(Asked::ListSigned(ListKind::Tooling))]);
    assert_eq!(why(&state, Asked::Resume), Refusal::RouterOff);
    state = after(state, &[owner(Asked::SpindleSwitchedOn), owner(Asked::Resume)]);
    assert_eq!(state.stage(), Some(Stage::Cutting));
}

#[test]
fn a_bit_already_in_needs_no_change() {
    let same = Happening::AtBitChange { wants: Some(Slot(0)), bit: BitAt::Clear };
    let state = after(State::new(SPINDLE), &cutting_then(&[0], &[same]));
    assert_eq!(state.machine.spindle, Spindle::RunningDown);
    assert!(step(&state, &owner(Asked::Resume), Epoch::default()).is_ok());
}

#[test]
fn a_void_permit_brings_the_list_back() {
    let state = machine(&cutting_then(&[0], &[Happening::NotDone(Tried::Begin)]));
    assert_eq!(state.stage(), Some(Stage::Ready));
    assert_eq!(why(&state, Asked::CycleStart), Refusal::ReadyUnsigned);
    let resumed = [held(BitAt::Clear), vec![owner(Asked::Resume)]].concat();
    let back = machine(&[resumed, vec![Happening::NotDone(Tried::ResumeLink)]].concat());
    assert_eq!(back.stage(), Some(Stage::Held));
}

#[test]
fn a_set_aside_sheet_keeps_what_is_done() {
    let half = SheetFacts { done: Ops::of([0]), ..facts(&[0, 1]) };
    let state = machine(&[morning(), vec![owner(Asked::TakeSheet(half))]].concat());
    assert_eq!(state.sheet.unwrap().operation, 1);
}

#[test]
fn an_impossible_card_is_not_taken() {
    let state = machine(&morning());
    let with = |change: fn(&mut SheetFacts)| {
        let mut facts = facts(&[0, 0]);
        change(&mut facts);
        why(&state, Asked::TakeSheet(facts))
    };
    assert_eq!(with(|f| f.operations.clear()), Refusal::NothingToCut);
    assert_eq!(with(|f| f.done = Ops::first(2)), Refusal::NothingToCut);
    assert_eq!(with(|f| f.operations = vec![f.operations[0]; 17]), Refusal::TooManyOperations);
    assert_eq!(with(|f| f.findings = Findings::Stops), Refusal::FindingsStop);
    assert_eq!(with(|f| f.operations[0].after = Ops::of([1])), Refusal::ImpossibleOrder);
    assert_eq!(with(|f| f.operations[1].after = Ops::of([7])), Refusal::ImpossibleOrder);
}

#[test]
fn a_machine_without_switches_is_shown_its_place() {
    let state = after(
        State::new(NO_SWITCHES),
        &[Happening::LinkUp { position_kept: false }, Happening::PresenceChanged(Presence::Owner)],
    );
    assert_eq!(why(&state, Asked::Home), Refusal::CannotHome);
    assert_eq!(why(&state, Asked::ConfirmZero), Refusal::BitNotFree);
    let free = after(state, &[owner(Asked::BitFree)]);
    let shown = then(&free, &owner(Asked::ConfirmZero));
    assert_eq!(shown.deeds, [Deed::UnlockLink, Deed::SetWorkZero]);
    assert_eq!(shown.state.machine.position, Position::Known);
}

#[test]
fn every_refusal_is_a_sentence() {
    let sample = [Refusal::FromAfar, Refusal::RunDownCounts, Refusal::OwnerDecides];
    for refusal in sample {
        let text = refusal.to_string();
        assert!(text.ends_with('.') && text.len() < 140, "{text}");
    }
    assert_eq!(Refusal::RunDownCounts.to_string(), "The bit may still turn. Wait for the run-down.");
}

#[test]
fn permits_are_made_in_one_module() {
    let others = [
        include_str!("../table/mod.rs"),
        include_str!("../table/moving.rs"),
        include_str!("../table/machine.rs"),
        include_str!("../table/deciding.rs"),
        include_str!("../table/halting.rs"),
        include_str!("../table/preparing.rs"),
        include_str!("../table/watching.rs"),
        include_str!("../table/world.rs"),
        include_str!("../draft.rs"),
        include_str!("../chain.rs"),
        include_str!("../offers.rs"),
        include_str!("../proofs/mod.rs"),
    ];
    assert!(others.iter().all(|text| !text.contains("Permit::made")));
}
