//! What the keys do, with the model's clock handed in.

use super::picture::heard;
use crate::client::ClientFault;
use crate::ui::model::{Dialog, Model, Screen};
use crate::ui::{Input, Intent, Press, Symbols, samples};
use chargehand_types::act::{Act, ActAnswer, Axis};
use chargehand_types::checklist::{ListKind, StepAnswer};
use chargehand_types::holddown::{AirAnswer, PlaceMeasured};
use chargehand_types::id::StageVersion;
use chargehand_types::now::Now;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, Spot};
use chargehand_types::stage::{Grade, Reason};

fn shown(now: Now) -> Model {
    heard(now, Symbols::Braille)
}

fn press(model: &mut Model, press: Press, clock: u64) -> Vec<Intent> {
    model.take(Input::Key(press), clock)
}

fn acts(intents: &[Intent]) -> Vec<Act> {
    let act = |i: &Intent| match i {
        Intent::Act(act, _) => Some(act.clone()),
        Intent::LookNow
        | Intent::LookSheets
        | Intent::LookPlan
        | Intent::LookRecords(_)
        | Intent::LookShop
        | Intent::LookNames
        | Intent::LookCard(_)
        | Intent::LookSheet(..)
        | Intent::LookAir(..)
        | Intent::Leave(_) => None,
    };
    intents.iter().filter_map(act).collect()
}

/// Types a text and answers with every act asked for.
fn typed(model: &mut Model, keys: &str, clock: u64) -> Vec<Act> {
    let intents: Vec<Intent> =
        keys.chars().flat_map(|c| press(model, if c == '\n' { Press::Enter } else { Press::Char(c) }, clock)).collect();
    acts(&intents)
}

#[test]
fn space_and_star_hold_everywhere() {
    let mut models = vec![
        shown(samples::cutting()),
        shown(samples::value()),
        shown(samples::touch()),
        shown(samples::parts()),
        shown(samples::lost_position()),
        Model::new(super::picture::settings(Symbols::Ascii)),
    ];
    for keys in ["s", "?", "m"] {
        let mut model = shown(samples::cutting());
        typed(&mut model, keys, 3_000);
        models.push(model);
    }
    let mut confirming = shown(samples::ready());
    typed(&mut confirming, "1", 3_000);
    assert!(matches!(confirming.dialog, Some(Dialog::Confirm { .. })));
    let mut naming = shown(samples::lost_position());
    typed(&mut naming, "1ad", 3_000);
    assert!(matches!(naming.dialog, Some(Dialog::Name { .. })));
    let mut signing = shown(samples::to_sign());
    typed(&mut signing, "1", 3_000);
    assert!(matches!(signing.dialog, Some(Dialog::Sign { .. })));
    let mut grading = shown(samples::parts());
    typed(&mut grading, "2\n", 3_000);
    assert!(matches!(grading.dialog, Some(Dialog::WhyNot { .. })));
    models.extend([confirming, naming, signing, grading]);
    for mut model in models {
        for key in [' ', '*'] {
            let dialog = model.dialog.clone();
            let clock = model.clock + 1_000;
            let intents = press(&mut model, Press::Char(key), clock);
            assert_eq!(intents, [Intent::Act(Act::Hold, None)], "{:?} {dialog:?}", model.screen);
            assert_eq!(model.dialog, dialog, "a hold changes nothing else");
        }
    }
}

#[test]
fn a_hold_is_never_part_of_a_value() {
    let mut model = shown(samples::value());
    let acts = typed(&mut model, "1 8\n", 3_000);
    assert_eq!(acts[0], Act::Hold);
    assert_eq!(acts[1], Act::Answer { step: "thickness-1".into(), answer: StepAnswer::Value { value: 18.0 } });
}

#[test]
fn a_held_down_space_sends_a_few() {
    let mut model = shown(samples::cutting());
    let sent: usize = (0..30).map(|i| acts(&press(&mut model, Press::Char(' '), 3_000 + i * 33)).len()).sum();
    assert!((1..=4).contains(&sent), "{sent}");
}

#[test]
fn a_hold_that_cannot_be_sent_is_said() {
    let mut model = shown(samples::cutting());
    typed(&mut model, " ", 3_000);
    let fault = ClientFault::Unreachable { place: "x".into(), why: "gone".into() };
    let _ = model.take(Input::Answered(Act::Hold, Box::new(Err(fault))), 3_010);
    let (said, _, _) = model.said.unwrap();
    assert!(said.contains("NOT SENT") && said.contains("red button"), "{said}");
}

#[test]
fn digits_are_the_value_while_one_is_asked() {
    let mut model = shown(samples::value());
    assert_eq!(typed(&mut model, "17,8", 3_000), []);
    assert!(model.dialog.is_none());
    assert_eq!(model.asked.as_ref().unwrap().entry, "17.8");
    press(&mut model, Press::Back, 3_000);
    assert_eq!(model.asked.as_ref().unwrap().entry, "17.");
    let acts = typed(&mut model, "9\n", 3_100);
    assert_eq!(acts, [Act::Answer { step: "thickness-1".into(), answer: StepAnswer::Value { value: 17.9 } }]);
}

#[test]
fn a_wrong_reading_is_sent_and_asked_again() {
    let mut model = shown(samples::value());
    let acts = typed(&mut model, "178\n", 3_000);
    let wrong = Act::Answer { step: "thickness-1".into(), answer: StepAnswer::Value { value: 178.0 } };
    assert_eq!(acts, std::slice::from_ref(&wrong));
    let answer = ActAnswer { schema: 1, said: "That cannot be.".into(), now: samples::value() };
    let _ = model.take(Input::Answered(wrong, Box::new(Ok(answer))), 3_100);
    assert_eq!(model.asked.as_ref().unwrap().entry, "");
    assert_eq!(typed(&mut model, "\n", 4_000), [], "nothing typed is no reading");
    assert!(model.said.as_ref().unwrap().0.contains("Type the value"));
}

/// 23/32 in is 18.25625 mm: 25.4 mm an inch by definition (NIST SP 811).
#[test]
fn a_fraction_of_an_inch_is_sent_as_millimetres() {
    let inches = || super::picture::heard_in(samples::value(), Symbols::Braille, crate::ui::Units::Inches);
    let mut model = inches();
    let sent = |acts: &[Act]| match acts {
        [Act::Answer { answer: StepAnswer::Value { value }, .. }] => *value,
        other => panic!("{other:?}"),
    };
    assert_eq!(sent(&typed(&mut inches(), "23/32\n", 3_000)), 18.256_25);
    assert_eq!(sent(&typed(&mut inches(), "0.709\n", 3_000)), 18.0086);
    // a wrong reading is sent too: the daemon says that it is wrong, and it is part of the record
    assert_eq!(sent(&typed(&mut inches(), "1-1/2\n", 3_000)), 38.1);
    // millimetres typed as inches are not
    assert_eq!(typed(&mut model, "18.1\n", 3_000), []);
    assert!(model.said.as_ref().unwrap().0.contains("would be 459.74 mm"), "{:?}", model.said);
    for wrong in ["5/12", "/", "1-"] {
        let mut model = inches();
        assert_eq!(typed(&mut model, &format!("{wrong}\n"), 3_000), []);
        assert!(model.said.as_ref().unwrap().0.contains("in inches"), "{wrong}: {:?}", model.said);
    }
}

#[test]
fn a_place_moves_by_sixteenths() {
    let mut model = super::picture::heard_in(samples::place(), Symbols::Braille, crate::ui::Units::Inches);
    let before = model.placing.as_ref().unwrap().places[0];
    press(&mut model, Press::Right, 3_000);
    let after = model.placing.as_ref().unwrap().places[0];
    assert_eq!((after.x - before.x).mm(), 1.5875);
}

#[test]
fn keys_typed_ahead_answer_nothing() {
    let mut model = shown(samples::value());
    let _ = model.take(Input::Now(Box::new(Ok(samples::warning()))), 10_000);
    assert_eq!(typed(&mut model, "\n", 10_100), []);
    assert_eq!(model.said, None);
}

#[test]
fn an_unread_step_is_not_answered() {
    let mut model = shown(samples::value());
    let _ = model.take(Input::Now(Box::new(Ok(samples::warning()))), 10_000);
    assert_eq!(typed(&mut model, "\n", 11_000), []);
    assert!(model.said.as_ref().unwrap().0.contains("Read it first"));
    assert_eq!(typed(&mut model, "\n", 12_000).len(), 1);
}

#[test]
fn a_held_down_enter_completes_nothing() {
    let mut model = shown(samples::value());
    let _ = model.take(Input::Now(Box::new(Ok(samples::warning()))), 10_000);
    let sent: usize = (0..300).map(|i| acts(&press(&mut model, Press::Enter, 10_000 + i * 33)).len()).sum();
    assert_eq!(sent, 0);
}

#[test]
fn one_step_gets_one_answer() {
    let mut model = shown(samples::warning());
    assert_eq!(typed(&mut model, "\n", 3_000).len(), 1);
    assert_eq!(typed(&mut model, "\n", 4_000), []);
    let refusal = ClientFault::Problem(Problem::new(ProblemKind::NotNow, "Not now."));
    let act = Act::Answer { step: "router-off".into(), answer: StepAnswer::Done };
    let _ = model.take(Input::Answered(act, Box::new(Err(refusal))), 4_100);
    assert_eq!(model.said.as_ref().unwrap().0, "Not now.");
    assert_eq!(typed(&mut model, "\n", 5_000).len(), 1);
}

#[test]
fn what_moves_the_machine_takes_two_steps() {
    let mut model = shown(samples::ready());
    assert_eq!(typed(&mut model, "1", 3_000), []);
    assert_eq!(typed(&mut model, "\n", 3_100), [], "typed ahead");
    let intents = press(&mut model, Press::Enter, 3_900);
    assert_eq!(intents, [Intent::Act(Act::CycleStart, Some(StageVersion(7)))]);
    assert!(model.dialog.is_none());
}

#[test]
fn any_other_key_does_not_start() {
    let mut model = shown(samples::ready());
    assert_eq!(typed(&mut model, "1x\n", 3_000), []);
    assert!(model.dialog.is_none());
}

#[test]
fn a_start_asked_of_an_old_state_is_dropped() {
    let mut model = shown(samples::ready());
    typed(&mut model, "1", 3_000);
    let mut changed = samples::ready();
    changed.version = StageVersion(8);
    let _ = model.take(Input::Now(Box::new(Ok(changed))), 3_500);
    assert!(model.dialog.is_none());
    assert_eq!(typed(&mut model, "\n", 4_500), []);
}

#[test]
fn a_refused_action_says_why() {
    let mut model = shown(samples::lost_position());
    assert_eq!(typed(&mut model, "2", 3_000), []);
    assert_eq!(model.said.as_ref().unwrap().0, "Sign in at the machine first.");
}

#[test]
fn a_name_is_typed_as_it_is_written() {
    let mut model = shown(samples::lost_position());
    let acts = typed(&mut model, "1Ada_B\n", 3_000);
    assert_eq!(acts, [Act::SignIn { who: "Ada B".into(), pin: None }]);
}

#[test]
fn a_known_name_is_one_digit() {
    let mut model = shown(samples::lost_position());
    let _ = model.take(Input::Known(vec!["Ada".into(), "Bo".into(), "Ada".into()]), 2_500);
    assert_eq!(typed(&mut model, "12", 3_000), [Act::SignIn { who: "Bo".into(), pin: None }]);
}

#[test]
fn a_pin_is_asked_for_and_never_shown() {
    let mut now = samples::lost_position();
    now.pins = true;
    let mut model = shown(now);
    assert_eq!(typed(&mut model, "1Bo\n", 3_000), []);
    assert_eq!(typed(&mut model, "73x0", 3_000), [], "letters are no digits");
    for (wide, high) in [(60, 18), (80, 24), (200, 60)] {
        let text = super::picture::text(&super::picture::buffer(&model, wide, high));
        assert!(text.contains("Bo, your PIN") && text.contains("###_") && !text.contains("730"), "{text}");
    }
    assert!(!format!("{model:?}").contains("730"), "nor in anything that is printed of it");
    let intents = press(&mut model, Press::Back, 3_000);
    assert!(acts(&intents).is_empty());
    let pin = Some(chargehand_types::secret::Secret::new("731904".into()));
    assert_eq!(typed(&mut model, "1904\n", 3_000), [Act::SignIn { who: "Bo".into(), pin }]);
    assert!(model.dialog.is_none());
}

#[test]
fn a_pin_not_typed_signs_nobody_in() {
    let mut now = samples::lost_position();
    now.pins = true;
    for keys in ["1Bo\n\n", "1Bo\n7"] {
        let mut model = shown(now.clone());
        assert_eq!(typed(&mut model, keys, 3_000), []);
        let intents = press(&mut model, Press::Escape, 3_000);
        assert!(acts(&intents).is_empty() && model.dialog.is_none());
    }
}

#[test]
fn nobody_signs_in_while_it_cuts() {
    let mut now = samples::cutting();
    now.actions.insert(0, samples::offer(chargehand_types::now::OfferedAct::SignIn, "Sign in."));
    let mut model = shown(now);
    typed(&mut model, "1", 3_000);
    assert!(model.dialog.is_none());
    assert!(model.said.as_ref().unwrap().0.contains("hold first"));
}

#[test]
fn the_owner_signs_what_was_shown() {
    let mut model = shown(samples::to_sign());
    assert_eq!(typed(&mut model, "1", 3_000), []);
    assert_eq!(typed(&mut model, "\n", 3_800), [], "too quick to have been read");
    assert_eq!(typed(&mut model, "\n", 5_000), [Act::SignFinding { fingerprint: "f-plunge".into() }]);
}

#[test]
fn hand_moves_are_named_distances() {
    let mut model = shown(samples::touch());
    let acts_of = |model: &mut Model, key, clock| acts(&press(model, key, clock));
    let down = |mm: f64| Act::HandMove { axis: Axis::Z, by: Length::from_mm(mm).unwrap() };
    assert_eq!(acts_of(&mut model, Press::PageDown, 3_000), [down(-1.0)]);
    assert_eq!(acts_of(&mut model, Press::PageDown, 3_010), [], "one move at a time");
    let answer = ActAnswer { schema: 1, said: "Moved.".into(), now: samples::touch() };
    let _ = model.take(Input::Answered(down(-1.0), Box::new(Ok(answer))), 3_100);
    typed(&mut model, "-", 3_100);
    assert_eq!(acts_of(&mut model, Press::Char('d'), 3_200), [down(-0.1)]);
}

#[test]
fn enter_sets_the_zero_above_paper() {
    let mut model = shown(samples::touch());
    let above = Length::from_mm(0.1).unwrap();
    assert_eq!(typed(&mut model, "\n", 3_000), [Act::ZeroHere { axis: Axis::Z, above }]);
}

#[test]
fn the_way_over_a_place_goes_by_a_key_and_enter_answers_there_alone() {
    let mut model = shown(samples::hover(false));
    assert_eq!(typed(&mut model, "\n", 3_000), [], "it is not there yet");
    assert_eq!(typed(&mut model, "0", 3_500), [], "so nothing can be beside it");
    assert!(model.said.as_ref().unwrap().0.contains("not over it"));
    assert_eq!(typed(&mut model, "g", 4_000), [Act::Approach]);
    let mut model = shown(samples::hover(true));
    let answer = |answer| Act::Answer { step: "mark".into(), answer };
    assert_eq!(typed(&mut model, "0", 3_000), [answer(StepAnswer::Choice { key: "off".into() })]);
    let mut model = shown(samples::hover(true));
    assert_eq!(typed(&mut model, "\n", 3_000), [answer(StepAnswer::Done)]);
}

/// A lot is typed with every letter, the one that calls for help too, and Enter alone leaves it as it was.
#[test]
fn a_lot_is_typed_or_left_as_it_was() {
    let answer = |answer| Act::Answer { step: "lot".into(), answer };
    let mut model = shown(samples::lot(Some("P-2611")));
    assert_eq!(typed(&mut model, "\n", 3_000), [answer(StepAnswer::Done)]);
    let mut model = shown(samples::lot(None));
    assert_eq!(typed(&mut model, "lW-7_b\n", 3_000), [answer(StepAnswer::Named { text: "W-7 b".into() })]);
    let mut model = shown(samples::lot(None));
    assert_eq!(typed(&mut model, "lW *", 3_000), [Act::Hold], "a hold is never part of it");
    let _ = press(&mut model, Press::Escape, 5_000);
    assert_eq!(typed(&mut model, "\n", 5_500), [answer(StepAnswer::Done)], "what was begun is given up");
}

/// Low or high, Enter is an answer: what is wrong with it the daemon says, and writes down.
#[test]
fn the_way_up_goes_by_keys_and_enter_answers() {
    let mut model = shown(samples::raise(false));
    assert_eq!(typed(&mut model, "g", 3_000), [Act::Approach]);
    let mut model = shown(samples::raise(false));
    let up = Act::HandMove { axis: Axis::Z, by: Length::whole_mm(1) };
    assert_eq!(typed(&mut model, "u", 3_000), [up]);
    for clear in [false, true] {
        let mut model = shown(samples::raise(clear));
        let answer = Act::Answer { step: "raised".into(), answer: StepAnswer::Done };
        assert_eq!(typed(&mut model, "0", 3_000), [], "it is over no place that it could be beside");
        assert_eq!(typed(&mut model, "\n", 3_500), [answer]);
    }
}

/// A step that was just put takes no digit yet, but help opens over it.
#[test]
fn help_opens_over_a_value_that_was_just_asked() {
    let mut model = shown(samples::value());
    model.asked.as_mut().unwrap().shown = 2_990;
    typed(&mut model, "1?", 3_000);
    assert_eq!((model.screen, model.asked.as_ref().unwrap().entry.as_str()), (Screen::Help, ""));
}

#[test]
fn run_down_is_waited_for() {
    let mut model = shown(samples::run_down());
    assert_eq!(typed(&mut model, "\n", 3_000), []);
    assert!(model.said.as_ref().unwrap().0.contains("Wait for the count"));
    assert_eq!(typed(&mut model, "\n", 9_500), [Act::Answer { step: "still".into(), answer: StepAnswer::Still }]);
}

#[test]
fn a_lost_daemon_counts_no_run_down() {
    let mut model = shown(samples::run_down());
    let _ = model.take(Input::LinkLost, 2_000);
    assert_eq!(typed(&mut model, "\n", 60_000), []);
}

#[test]
fn a_choice_is_a_number_and_enter() {
    let mut model = shown(samples::choose());
    assert_eq!(typed(&mut model, "3\n", 3_000), []);
    press(&mut model, Press::Back, 3_500);
    let acts = typed(&mut model, "2\n", 4_000);
    assert_eq!(acts, [Act::Answer { step: "face".into(), answer: StepAnswer::Choice { key: "down".into() } }]);
}

#[test]
fn parts_are_graded_with_reasons() {
    let mut model = shown(samples::parts());
    let good = Act::GradePart { index: 1, grade: Grade::Good, reason: None, note: None };
    assert_eq!(typed(&mut model, "1\n", 3_000), [good]);
    let mut model = shown(samples::parts());
    let torn = Act::GradePart { index: 1, grade: Grade::Scrap, reason: Some(Reason::TornFace), note: None };
    assert_eq!(typed(&mut model, "3\n1", 3_000), [torn]);
    let mut model = shown(samples::parts());
    let note = Some("knot fell out".to_owned());
    let other = Act::GradePart { index: 1, grade: Grade::Rework, reason: Some(Reason::Other), note };
    assert_eq!(typed(&mut model, "2\n0knot_fell_out", 3_000), []);
    assert_eq!(typed(&mut model, "\n", 4_000), [other]);
}

#[test]
fn a_moved_place_is_measured_and_sent_as_made() {
    let mut model = shown(samples::place());
    let first = model.placing.as_ref().unwrap().places.clone();
    // the first question is under way since the step came up; a press meanwhile asks no second one
    assert!(press(&mut model, Press::Up, 3_000).is_empty());
    let place = |at: &Spot, ok: bool| PlaceMeasured {
        at: *at,
        clearance_mm: Some(if ok { 30.0 } else { 5.0 }),
        on_sheet: true,
        ok,
        operation: Some("outlines".into()),
        line: Some(88),
        notes: Vec::new(),
    };
    let answer = |of: &[Spot], ok: bool| AirAnswer {
        schema: 1,
        margin: Length::whole_mm(4),
        reach: Length::whole_mm(4),
        places: of.iter().map(|at| place(at, ok)).collect(),
    };
    let intents = model.take(Input::Air(first.clone(), Box::new(Ok(answer(&first, true)))), 3_010);
    let [Intent::LookAir(sheet, moved)] = intents.as_slice() else { panic!("{intents:?}") };
    assert_eq!((sheet.0.as_str(), moved[0].y - first[0].y), ("B1-1", Length::whole_mm(1)), "what was moved meanwhile");
    let _ = model.take(Input::Air(moved.clone(), Box::new(Ok(answer(moved, false)))), 3_020);
    assert!(
        model
            .placing
            .as_ref()
            .unwrap()
            .told(0, crate::words::english())
            .contains("WOULD BE HIT: 1 mm of air, 4 wanted")
    );
    // a lost answer is said, and the next press asks again
    assert_eq!(press(&mut model, Press::Right, 3_100).len(), 1);
    let gone = ClientFault::Unreachable { place: "x".into(), why: "gone".into() };
    let moved = model.placing.as_ref().unwrap().places.clone();
    let _ = model.take(Input::Air(moved, Box::new(Err(gone))), 3_200);
    assert_eq!(press(&mut model, Press::Right, 3_300).len(), 1);
    let acts = typed(&mut model, "\n", 6_000);
    let Act::Answer { answer: StepAnswer::Placed { places }, .. } = &acts[0] else { panic!("{acts:?}") };
    assert_eq!(places[0], Spot { x: first[0].x + Length::whole_mm(2), y: first[0].y + Length::whole_mm(1) });
    assert_eq!(places[1..], first[1..]);
}

#[test]
fn plus_and_minus_are_the_feed_while_it_cuts() {
    let wanted = |acts: &[Act]| match acts {
        [Act::Override { feed: Some(feed), rapid: None }] => *feed,
        other => panic!("{other:?}"),
    };
    let mut model = shown(samples::cutting());
    assert_eq!(wanted(&typed(&mut model, "+", 3_000)), 110);
    // pressed again before the controller has said so: a step more, not the same again
    assert_eq!(wanted(&typed(&mut model, "+", 3_100)), 120);
    let mut slower = samples::cutting();
    slower.machine.per_cent = Some([80, 50]);
    let mut model = shown(slower);
    assert_eq!(wanted(&typed(&mut model, "-", 3_000)), 70);
    assert!(typed(&mut shown(samples::ready()), "+", 3_000).is_empty(), "only while it cuts");
}

#[test]
fn placed_as_shown_is_one_key() {
    let mut model = shown(samples::place());
    let acts = typed(&mut model, "\n", 4_000);
    let Act::Answer { answer: StepAnswer::Placed { places }, .. } = &acts[0] else { panic!("{acts:?}") };
    assert_eq!(places.len(), 4);
}

#[test]
fn plain_letters_switch_the_screens() {
    let mut model = shown(samples::cutting());
    typed(&mut model, "S", 3_000);
    assert_eq!(model.screen, Screen::Sheets);
    typed(&mut model, "?", 3_000);
    assert_eq!(model.screen, Screen::Help);
    typed(&mut model, "n", 3_000);
    assert_eq!(model.screen, Screen::Now);
}

#[test]
fn leaving_says_what_goes_on() {
    let mut model = shown(samples::cutting());
    let intents = press(&mut model, Press::Char('q'), 3_000);
    let [Intent::Leave(text)] = intents.as_slice() else { panic!("{intents:?}") };
    assert!(text.contains("The machine goes on"), "{text}");
    let mut model = shown(samples::idle());
    let intents = press(&mut model, Press::Leave, 3_000);
    let [Intent::Leave(text)] = intents.as_slice() else { panic!("{intents:?}") };
    assert!(text.contains("Nothing moves"), "{text}");
}

#[test]
fn the_machine_is_looked_at_while_it_cuts() {
    let mut model = shown(samples::cutting());
    let _ = model.take(Input::Now(Box::new(Ok(samples::cutting()))), 2_100);
    assert_eq!(model.take(Input::Tick, 2_200), []);
    assert_eq!(model.take(Input::Tick, 3_300), [Intent::LookNow]);
    assert_eq!(model.take(Input::Tick, 9_000), [], "one look at a time");
}

#[test]
fn a_daemon_that_comes_back_is_asked_at_once() {
    let mut model = shown(samples::idle());
    let _ = model.take(Input::Now(Box::new(Ok(samples::idle()))), 2_000);
    let _ = model.take(Input::LinkLost, 3_000);
    assert!(model.is_old());
    assert!(model.take(Input::Linked, 5_000).contains(&Intent::LookNow));
    assert!(!model.is_old());
}

#[test]
fn a_waiting_sheet_is_taken_from_the_list() {
    let mut model = shown(samples::idle());
    typed(&mut model, "s", 3_000);
    let _ = model.take(Input::Sheets(Box::new(Ok((samples::sheets(), samples::cards())))), 3_000);
    press(&mut model, Press::Down, 3_100);
    let acts = typed(&mut model, "\n", 3_200);
    assert_eq!(acts, [Act::TakeSheet { sheet: Some("B1-2".into()) }]);
}

/// One key from every screen, and from a dialog that is not typed into: hold and call once, then the cards.
#[test]
fn w_opens_the_short_cards_everywhere() {
    for keys in ["", "s", "d", "h", "o", "?", "m"] {
        let mut model = shown(samples::cutting());
        typed(&mut model, keys, 3_000);
        assert_eq!(typed(&mut model, "w", 4_000), [Act::Trouble], "after {keys:?}");
        assert_eq!(model.dialog, Some(Dialog::Trouble { card: None }), "after {keys:?}");
        assert_eq!(typed(&mut model, "w2", 5_000), [], "one call is enough");
        assert_eq!(model.dialog, Some(Dialog::Trouble { card: Some(1) }));
        typed(&mut model, "n", 6_000);
        assert_eq!(model.dialog, Some(Dialog::Trouble { card: None }), "back to the cards");
        typed(&mut model, "n", 7_000);
        assert_eq!(model.dialog, None);
    }
    let mut model = shown(samples::value());
    assert_eq!(typed(&mut model, "17w", 3_000), [Act::Trouble], "while a value is typed");
}

#[test]
fn the_short_cards_need_no_daemon() {
    let mut model = shown(samples::cutting());
    typed(&mut model, "w3", 3_000);
    let _ = model.take(Input::LinkLost, 4_000);
    assert_eq!(model.dialog, Some(Dialog::Trouble { card: Some(2) }));
}

#[test]
fn a_list_of_the_day_is_begun_by_its_number_and_answered_like_any_other() {
    let mut model = shown(samples::morning());
    assert_eq!(typed(&mut model, "1", 3_000), [Act::BeginList { list: ListKind::Opening }]);
    let mut model = shown(samples::opening());
    let answer = StepAnswer::Choice { key: "fastener".into() };
    assert_eq!(typed(&mut model, "2\n", 3_000), [Act::Answer { step: "board".into(), answer }]);
}
