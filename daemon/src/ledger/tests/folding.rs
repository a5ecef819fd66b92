//! The fold of the scripted shift, fact by fact.

use super::shift::{self, CARD, REVISION, drafts, helper, owner};
use crate::ledger::draft::Draft;
use crate::ledger::fold::State;
use crate::ledger::fold::answered::KEPT;
use chargehand_types::bits::BitFigures;
use chargehand_types::checklist::{ListForm, ListKind};
use chargehand_types::event::What;
use chargehand_types::history::HistoryQuery;
use chargehand_types::id::{BitNumber, Seq, StageVersion};
use chargehand_types::quantity::{Length, Metres, Seconds, Tick};
use chargehand_types::record::Corrected;
use chargehand_types::stage::{Grade, Reason, Stage};

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

/// A clock that is set back changes nothing of the order in which lists were signed.
#[test]
fn who_took_the_machine_over_and_whether_it_is_closed_follow_the_order_of_events() {
    let earlier = |hours| shift::morning() - chrono::TimeDelta::hours(hours);
    let day = |list, hours| Draft::new(earlier(hours), Tick(0), What::DaySigned { list }).by(helper());
    let with = |more: &[Draft]| fold(drafts().into_iter().chain(more.iter().cloned()).collect());
    let all = [day(ListKind::Opening, 1), day(ListKind::HandOver, 18), day(ListKind::Closing, 19)];
    assert_eq!((with(&[]).day().taken_over.clone(), with(&[]).day().closed), (None, false));
    assert_eq!(with(&all[..2]).day().taken_over, Some(helper().who));
    assert!(!with(&all[..2]).day().closed && with(&all).day().closed);
    let ready = What::SheetSigned { list: ListKind::Ready, form: ListForm::Full, operation: None };
    let signed = Draft::new(earlier(20), Tick(0), ready).on("B1-2".into()).by(owner());
    let after: Vec<_> = all.into_iter().chain([signed, day(ListKind::Opening, 21)]).collect();
    assert_eq!((with(&after).day().taken_over.clone(), with(&after).day().closed), (None, false));
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
fn a_question_by_the_lookup_finds_what_a_look_at_all_finds() {
    let state = fold(drafts());
    // read back as text it has no lookup, and looks at every sheet
    let all: State = serde_json::from_str(&serde_json::to_string(&state).unwrap()).unwrap();
    let any = HistoryQuery::default;
    for asked in [
        HistoryQuery { card: Some(CARD.into()), ..any() },
        HistoryQuery { card: Some("none".into()), ..any() },
        HistoryQuery { batch: Some("B1".into()), bit: Some("c635".into()), ..any() },
        HistoryQuery { bit: Some("c635".into()), grade: Some(Grade::Good), ..any() },
        HistoryQuery { bit: Some("none".into()), ..any() },
    ] {
        assert_eq!(state.history(&asked), all.history(&asked), "{asked:?}");
    }
}

/// At every event of the shift, what the lookup says is on the machine and waits is what a look at every sheet finds.
#[test]
fn what_is_on_the_machine_and_what_waits_is_known_without_a_look_at_every_sheet() {
    let mut state = State::default();
    let mut seen = Vec::new();
    let cancel = Draft::new(shift::morning(), Tick(0), What::BatchCancelled { batch: "B1".into() });
    for (nth, draft) in (1..).zip(drafts().into_iter().chain([cancel])) {
        state.apply(&draft.at_place(Seq(nth), "beef"));
        let all: State = serde_json::from_str(&serde_json::to_string(&state).unwrap()).unwrap();
        assert_eq!(state.on_machine(), all.on_machine(), "event {nth}");
        assert_eq!(state.waiting(), all.waiting(), "event {nth}");
        assert_eq!(state.next_sheet(), all.next_sheet(), "event {nth}");
        let looked: Vec<_> = state.sheets().into_iter().filter(|s| s.is_on_machine()).collect();
        assert_eq!(state.on_machine(), looked.first().copied(), "event {nth}");
        seen.push(looked.first().map(|s| s.id.0.clone()));
    }
    seen.dedup();
    let told: Vec<&str> = seen.iter().map(|id| id.as_deref().unwrap_or("none")).collect();
    assert_eq!(told, ["none", "B1-1", "none", "B1-2"], "one sheet after the other, and nothing between them");
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

/// The shift with one more record by the owner about sheet B1-1.
fn corrected(find: impl Fn(&What) -> bool, to: impl Fn(&What) -> What) -> (Vec<Draft>, Seq) {
    let mut script = drafts();
    let at = script.iter().rposition(|d| d.sheet == Some("B1-1".into()) && find(&d.what)).unwrap();
    let (seq, data) = (Seq(at as u64 + 1), serde_json::to_value(to(&script[at].what)).unwrap());
    let what = What::RecordCorrected { seq, data, note: "looked at it by daylight".into() };
    script.push(Draft::new(shift::morning(), Tick(0), what).on("B1-1".into()).by(owner()));
    (script, seq)
}

#[test]
fn a_corrected_part_counts_and_the_first_grade_stays() {
    let torn = |what: &What| match what {
        What::PartChecked { index, name, note, .. } => What::PartChecked {
            index: *index,
            name: name.clone(),
            grade: Grade::Scrap,
            reason: Some(Reason::TornFace),
            note: note.clone(),
        },
        other => panic!("{other:?}"),
    };
    let (script, seq) = corrected(|w| matches!(w, What::PartChecked { .. }), torn);
    let record = fold(script.clone()).sheet(&"B1-1".into()).unwrap().record();
    let scrap = record.parts.iter().filter(|p| p.grade == Grade::Scrap).count();
    assert_eq!((scrap, record.corrections.len()), (1, 1));
    let correction = &record.corrections[0];
    assert_eq!(
        (correction.record, &correction.by, correction.why.as_str()),
        (seq, &Some(owner()), "looked at it by daylight")
    );
    let Corrected::Part { was, now, .. } = &correction.what else { panic!("{correction:?}") };
    assert_eq!((was.0, *now), (Grade::Good, (Grade::Scrap, Some(Reason::TornFace))));
    // the journal's own record is as it was
    assert!(matches!(&script[seq.0 as usize - 1].what, What::PartChecked { grade: Grade::Good, .. }));
    assert_eq!(fold(script).misfits().count, 0);
}

#[test]
fn a_sheet_corrected_to_scrap_is_no_trial_that_passed() {
    let scrap = |_: &What| What::SheetClosed { grade: Grade::Scrap, good: 0, of: 2 };
    let (mut script, seq) = corrected(|w| matches!(w, What::SheetClosed { .. }), scrap);
    let state = fold(script.clone());
    assert_eq!(state.sheet(&"B1-1".into()).unwrap().grade, Some(Grade::Scrap));
    assert!(!state.is_tried(&CARD.into(), &REVISION.into()));
    let data = serde_json::to_value(What::SheetClosed { grade: Grade::Good, good: 2, of: 2 }).unwrap();
    let back = What::RecordCorrected { seq, data, note: "it was another sheet".into() };
    script.push(Draft::new(shift::morning(), Tick(0), back).on("B1-1".into()));
    let state = fold(script);
    assert!(state.is_tried(&CARD.into(), &REVISION.into()));
    assert_eq!(state.sheet(&"B1-1".into()).unwrap().corrections.len(), 2);
}

#[test]
fn a_thickness_and_a_note_can_be_corrected() {
    let thin = |_: &What| What::SheetMeasured { thickness: vec![Length::whole_mm(17)] };
    let (script, _) = corrected(|w| matches!(w, What::SheetMeasured { .. }), thin);
    let record = fold(script).sheet(&"B1-1".into()).unwrap().record();
    assert_eq!(record.thickness, [Length::whole_mm(17)]);
    assert!(matches!(&record.corrections[0].what, Corrected::Thickness { was, .. } if was.len() == 4));
    let wet = |_: &What| What::SheetNoted { text: "wet board".into() };
    let (script, _) = corrected(|w| matches!(w, What::SheetNoted { .. }), wet);
    let record = fold(script).sheet(&"B1-1".into()).unwrap().record();
    assert_eq!(record.notes, ["wet board"]);
    assert!(matches!(&record.corrections[0].what, Corrected::Note { was, number: 1, .. } if was == "dry board"));
    // a correction of something else keeps its reason, and changes nothing
    let other = |_: &What| What::MachineHomed;
    let (script, _) = corrected(|w| matches!(w, What::SheetNoted { .. }), other);
    let record = fold(script).sheet(&"B1-1".into()).unwrap().record();
    assert_eq!((record.notes.len(), &record.corrections[0].what), (2, &Corrected::Other));
}

#[test]
fn a_physical_bit_lives_from_its_number_to_scrap() {
    let at = |n: i64| shift::morning() + chrono::TimeDelta::hours(n);
    let (one, two) = (BitNumber(1), BitNumber(2));
    let read = |mm| BitFigures { diameter: Length::from_mm(mm).ok(), ..BitFigures::default() };
    let cut = |number, metres| What::OperationFinished {
        operation: "slots".into(),
        bit: "c635".into(),
        predicted: Seconds::of(1.0),
        real: Seconds::of(1.0),
        held: Seconds::ZERO,
        cut: Metres::of(metres),
        number,
    };
    let fitted = |number| What::BitFitted { bit: "c635".into(), diameter: Length::from_mm(6.3).ok(), number };
    let began =
        |number, used| What::BitBegan { number, bit: "c635".into(), figures: read(6.35), used: Metres::of(used) };
    let mut script = drafts();
    script.truncate(8);
    let more = [
        began(one, 40.0),
        began(two, 0.0),
        fitted(Some(one)),
        cut(Some(one), 10.0),
        What::BitMeasured { number: one, figures: read(6.21), reground: true },
        cut(Some(one), 5.0),
        fitted(Some(two)),
        cut(Some(two), 2.0),
        What::BitScrapped { number: one, why: "chipped".into() },
        What::BitScrapped { number: BitNumber(9), why: "never was".into() },
    ];
    script.extend((1..).zip(more).map(|(n, what)| Draft::new(at(n), Tick(0), what).by(owner())));
    let state = fold(script);
    let bit = state.numbered_bit(one).unwrap();
    assert_eq!((bit.cut, bit.since_grind, bit.regrinds), (Metres::of(55.0), Metres::of(5.0), 1));
    assert_eq!(bit.diameters.iter().map(|(_, d)| d.mm()).collect::<Vec<_>>(), [6.35, 6.3, 6.21]);
    assert_eq!(bit.scrapped.as_ref().unwrap().why, "chipped");
    assert_eq!(state.bit_at_hand(&"c635".into()).unwrap().number, two);
    assert_eq!(state.bits_in_use(&"c635".into()).count(), 1);
    assert_eq!(state.next_bit(), BitNumber(3), "a number is never given again");
    assert_eq!(state.misfits().count, 1, "the last one tells of a bit that never was");
    let json = serde_json::to_string(&state).unwrap();
    assert_eq!(serde_json::from_str::<crate::ledger::State>(&json).unwrap(), state);
}

#[test]
fn time_before_an_operation_is_on_its_account() {
    let record = fold(drafts()).sheet(&"B1-1".into()).unwrap().record();
    // of every stage at the machine but cutting, held, taking off and checking, nothing is lost
    let stood = [Stage::Securing, Stage::Tooling, Stage::Ready, Stage::Stopped];
    let known: f64 = record.spent.iter().filter(|(s, _)| stood.contains(s)).map(|(_, t)| t.value()).sum();
    let told: f64 = record.operations.iter().map(|o| o.waiting.value()).sum();
    assert!(known > 0.0 && (told - known).abs() < 1.0e-9, "{told} {known}");
}
