//! Steps that tell a place on the sheet: the spot for the Z zero, and what is cut by hand when the parts come off; and that
//! nobody answers a step without being signed in.

use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::checklist::StepAnswer;
use chargehand_types::event::What;
use chargehand_types::holddown::{AirAnswer, AirRequest};
use chargehand_types::quantity::{Length, Spot};

/// The program lifts the bit to Z-9 once a tab, 3 mm over the underside of a sheet of 12 mm; the first of them stands
/// between X 118 and X 130 on the line Y 135.
#[test]
fn the_tabs_of_the_sheet_are_told_with_their_tool_and_place() {
    let mut workshop = Workshop::new(60.0);
    let client = workshop.start();
    client.add_card(&workshop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let program = std::fs::read_to_string(workshop.path("label-board-outlines.nc")).unwrap();
    let lifts = program.matches("Z-9").count();
    assert!(lifts > 0);
    let now = Operator::owner(&client)
        .walk("the hand tools", |_, now| now.task.as_ref().is_some_and(|t| t.step.id == "free"));
    let step = now.task.unwrap().step;
    assert!(step.text.contains(&format!("{lifts} tabs of ")), "{step:?}");
    assert!(step.text.contains(" x 3 mm with a fine saw"), "{step:?}");
    let places = step.help.unwrap();
    assert!(places.contains("board at 120 and 90: ") && places.contains("124 and 135"), "{places}");
    assert_eq!(places.matches("board at").count(), 2, "{places}");
}

/// Nothing that the programs move along below the face comes into the place told: measured over the daemon's own route
/// for air, whose distances are judged elsewhere against points of the cases.
#[test]
fn the_spot_for_the_zero_is_uncut() {
    let mut workshop = Workshop::new(60.0);
    let client = workshop.start();
    client.add_card(&workshop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let now =
        Operator::owner(&client).walk("the zero", |_, now| now.task.as_ref().is_some_and(|t| t.step.id == "touch-z"));
    let text = now.task.unwrap().step.text;
    let numbers: Vec<f64> = text.split(|c: char| !c.is_ascii_digit()).filter_map(|n| n.parse().ok()).collect();
    let [x, y, round, ..] = numbers[..] else { panic!("{text}") };
    let mm = |v| Length::from_mm(v).unwrap();
    let request = AirRequest { at: vec![Spot { x: mm(x), y: mm(y) }] };
    let air: AirAnswer = client.post(&format!("/v1/sheets/{}/air", now.sheet.unwrap().id), &request).unwrap();
    let measured = air.places[0].clearance_mm.unwrap();
    println!("{text} measured {measured:.2} mm");
    // told in whole millimetres: the place may be 0.71 mm from where it was found
    assert!(air.places[0].on_sheet && round > 5.0 && measured > round - 0.8, "{text}: {measured}");
}

#[test]
fn a_step_is_answered_only_by_somebody_who_is_signed_in() {
    let mut workshop = Workshop::new(60.0);
    let client = workshop.start();
    client.add_card(&workshop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    Operator::owner(&client)
        .walk("a step to confirm", |_, now| now.task.as_ref().is_some_and(|t| t.step.id == "at-stop"));
    client.act(Act::SignOut).unwrap();
    let answer = Act::Answer { step: "at-stop".to_owned(), answer: StepAnswer::Done };
    let refused = client.act_seen(client.now().version, answer).unwrap_err();
    assert!(refused.detail.contains("signed in"), "{refused}");
    let taken = |what: &What| matches!(what, What::StepAnswered { step, .. } if step == "at-stop");
    assert!(!client.all_events().iter().any(|event| taken(&event.what)));
}
