//! The fold of the scripted shift, fact by fact.

use super::shift::{self, CARD, REVISION, drafts, helper, owner};
use crate::ledger::draft::Draft;
use crate::ledger::fold::State;
use crate::ledger::fold::answered::KEPT;
use chargehand_types::event::What;
use chargehand_types::history::HistoryQuery;
use chargehand_types::id::{Seq, StageVersion};
use chargehand_types::quantity::{Metres, Tick};
use chargehand_types::stage::{Grade, Stage};

fn fold(drafts: Vec<Draft>) -> State {
    let mut state = State::default();
    for (nth, draft) in (1..).zip(drafts) {
        state.apply(&draft.at_place(Seq(nth), "beef"));
    }
    state
}

#[test]
fn the_closed_sheet_has_its_record() {
    let state = fold(drafts());
    let record = state.sheet(&"B1-1".into()).unwrap().record();
    assert_eq!((record.stage, record.grade), (Stage::Closed, Some(Grade::Good)));
    assert_eq!(record.operators, [helper(), owner()]);
    assert_eq!(record.thickness.len(), 4);
    assert_eq!(record.fasteners.len(), 1);
    let names: Vec<_> = record.operations.iter().map(|o| o.name.as_str()).collect();
    assert_eq!(names, ["slots", "outlines"]);
    assert!(record.operations.iter().all(|o| o.real.is_some()));
    assert_eq!(record.bits, [("c635".into(), Metres::of(3.25 + 11.0 / 3.0))]);
    let grades: Vec<_> = record.parts.iter().map(|p| (p.index, p.grade)).collect();
    assert_eq!(grades, [(0, Grade::Good), (1, Grade::Good)], "the last grade of a part counts");
    assert_eq!(record.notes, ["dry board"]);
    assert!(record.begun < record.closed && record.stops.is_empty());
}

#[test]
fn one_stop_is_one_record() {
    let state = fold(drafts());
    let sheet = state.sheet(&"B1-2".into()).unwrap();
    assert_eq!(sheet.stage, Stage::Stopped);
    assert_eq!(sheet.stops.len(), 1, "more became known of the same stop");
    assert_eq!(sheet.stops[0].last_line_done, Some(41));
    assert_eq!(sheet.stopped.as_ref(), sheet.stops.first());
    assert_eq!(state.on_machine().map(|s| &s.id), Some(&sheet.id));
}

#[test]
fn the_shop_knows_who_is_here_and_what_was_tried() {
    let state = fold(drafts());
    let here: Vec<_> = state.people().iter().map(|p| p.who.0.as_str()).collect();
    assert_eq!(here, ["Moss"]);
    assert!(state.is_tried(&CARD.into(), &REVISION.into()));
    assert!(!state.is_tried(&CARD.into(), &"other".into()));
    assert_eq!(state.tried().first().unwrap().bits, ["c635".into()]);
    assert_eq!(state.bit_used(&"c635".into()), Metres::of(3.25 + 11.0 / 3.0));
    assert_eq!(state.fitted().unwrap().bit, "c635".into());
    assert_eq!(state.signed(&CARD.into(), &REVISION.into())[0].fingerprint, "f-1");
    let calls: Vec<_> = state.calls().map(|c| c.number).collect();
    assert_eq!((calls, state.next_call()), (vec![2], 3));
    assert_eq!(state.next_batch(), "B2".into());
    assert_eq!(state.misfits().count, 0);
}

#[test]
fn floor_and_version_are_the_newest() {
    let state = fold(drafts());
    assert_eq!(state.floor().unwrap()["stage"], "stopped");
    assert_eq!(state.floor().unwrap()["n"], state.version().0);
    assert!(state.version() > StageVersion(10));
}

#[test]
fn lists_come_in_the_order_of_cutting() {
    let state = fold(drafts());
    let rows = state.sheet_list(|s| Some(format!("operation {}", s.operation))).sheets;
    let ids: Vec<_> = rows.iter().map(|r| r.id.0.as_str()).collect();
    assert_eq!(ids, ["B1-2", "B1-1"], "closed ones last");
    assert_eq!(rows[0].predicted.value(), 612.3 + (0.1 + 0.2));
    let batches = state.batch_list().batches;
    assert_eq!((batches[0].sheets, batches[0].closed), (2, 1));
}

#[test]
fn history_has_what_was_begun_since() {
    let state = fold(drafts());
    let ids = |h: chargehand_types::history::SheetHistory| h.sheets.into_iter().map(|s| s.sheet.0).collect::<Vec<_>>();
    let since = |at| HistoryQuery::since(at);
    assert_eq!(ids(state.history(&since(None))), ["B1-1", "B1-2"]);
    let closed = state.sheet(&"B1-1".into()).unwrap().last;
    let after = closed + chrono::TimeDelta::seconds(1);
    assert_eq!(ids(state.history(&since(Some(closed)))), ["B1-1", "B1-2"]);
    assert_eq!(ids(state.history(&since(Some(after)))), ["B1-2"]);
}

#[test]
fn history_has_what_is_asked_for() {
    let state = fold(drafts());
    let ids = |asked: HistoryQuery| {
        let told = state.history(&asked);
        (told.sheets.into_iter().map(|s| s.sheet.0).collect::<Vec<_>>(), told.older)
    };
    let all = HistoryQuery::default;
    let closed = state.sheet(&"B1-1".into()).unwrap();
    let (card, bit, grade) = (closed.card.clone(), closed.bits[0].0.clone(), closed.grade);
    assert_eq!(ids(HistoryQuery { grade, ..all() }), (vec!["B1-1".to_owned()], 0), "only one was closed");
    assert_eq!(ids(HistoryQuery { bit: Some(bit), ..all() }).0[0], "B1-1");
    assert_eq!(ids(HistoryQuery { bit: Some("none".into()), ..all() }).0.len(), 0);
    assert_eq!(ids(HistoryQuery { card: Some(card), ..all() }).0.len(), 2);
    assert_eq!(ids(HistoryQuery { card: Some("none".into()), ..all() }).0.len(), 0);
    assert_eq!(ids(HistoryQuery { batch: Some("B1".into()), ..all() }).0.len(), 2);
    assert_eq!(ids(HistoryQuery { batch: Some("B2".into()), ..all() }).0.len(), 0);
    assert_eq!(ids(HistoryQuery { newest: Some(1), ..all() }), (vec!["B1-2".to_owned()], 1));
}

#[test]
fn a_cancelled_batch_keeps_what_was_begun() {
    let mut script = drafts();
    let begun = script.iter().position(|d| matches!(d.what, What::SheetStage { .. })).unwrap();
    script.truncate(begun + 1);
    let cancel = What::BatchCancelled { batch: "B1".into() };
    script.push(Draft::new(shift::morning(), Tick(0), cancel));
    let state = fold(script);
    let left: Vec<_> = state.sheets().iter().map(|s| s.id.0.clone()).collect();
    assert_eq!(left, ["B1-1"]);
    assert!(state.waiting().is_empty() && state.next_sheet().is_none());
    assert!(state.batch_list().batches[0].cancelled);
}

#[test]
fn a_repeated_command_has_its_first_place() {
    let state = fold(drafts());
    let closing = state.answered(&"c-3".into()).unwrap();
    let script = drafts();
    let first = script.iter().position(|d| matches!(d.what, What::SheetClosed { .. })).unwrap();
    assert_eq!(closing, Seq(first as u64 + 1), "the first of its two events");
    assert_eq!(state.answered(&"never".into()), None);
}

#[test]
fn the_memory_of_commands_is_bounded() {
    let plain = drafts().swap_remove(0);
    let many = (0..KEPT + 5).map(|n| plain.clone().from_command(format!("n-{n}").into(), None));
    let state = fold(many.collect());
    assert_eq!(state.answered(&"n-4".into()), None);
    assert_eq!(state.answered(&"n-5".into()), Some(Seq(6)));
    let json = serde_json::to_string(&state).unwrap();
    assert_eq!(serde_json::from_str::<State>(&json).unwrap(), state);
}

#[test]
fn an_event_about_nothing_known_is_counted() {
    let stray = drafts().swap_remove(0).on("B9-9".into());
    let noted = Draft { what: What::SheetNoted { text: "?".into() }, ..stray };
    let state = fold(vec![drafts().swap_remove(0), noted]);
    assert_eq!((state.misfits().count, state.misfits().first), (1, Some(Seq(2))));
    assert_eq!(state.seq(), Seq(2));
}

#[test]
fn a_revision_added_again_keeps_its_signatures() {
    let mut script = drafts();
    let added = script.iter().position(|d| matches!(d.what, What::CardAdded { .. })).unwrap();
    let again = script[added].clone();
    script.push(again);
    let state = fold(script);
    let card = state.card(&CARD.into()).unwrap();
    assert_eq!(card.newest().unwrap().number, 2);
    assert_eq!(state.signed(&CARD.into(), &REVISION.into()).len(), 1);
    assert_eq!(card.numbered(1).unwrap().revision, card.numbered(2).unwrap().revision);
}

#[test]
fn holes_are_remembered_until_the_board_is_renewed() {
    let mut script = drafts();
    let state = fold(script.clone());
    let bored: Vec<_> = script
        .iter()
        .filter_map(|d| match &d.what {
            What::SheetFastened { holes, .. } => Some(holes.clone()),
            _ => None,
        })
        .flatten()
        .collect();
    assert!(!bored.is_empty());
    assert!(bored.iter().all(|hole| state.holes(None).contains(hole)), "{:?}", state.holes(None));
    assert!(state.holes(Some(&"B1-1".into())).len() < state.holes(None).len(), "a sheet's own holes are no bar to it");
    let mut renewed = script.last().unwrap().clone();
    renewed.what = What::BoardRenewed;
    script.push(renewed);
    assert_eq!(fold(script).holes(None), []);
}
