//! From which lot a sheet is: asked of the first sheet of a batch, and carried to the others.

use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::checklist::{Ask, StepAnswer};
use chargehand_types::event::{Event, What};
use chargehand_types::now::Now;

fn asks(now: &Now) -> bool {
    now.task.as_ref().is_some_and(|t| matches!(t.step.ask, Ask::Lot { carried: false, .. }))
}

fn answer(client: &Client, answer: StepAnswer) -> String {
    client.act(Act::Answer { step: "lot".into(), answer }).unwrap().said
}

/// The lots that were written down: of which sheet, and by whom.
fn named(client: &Client) -> Vec<(String, String, Option<String>)> {
    let told = |e: Event| match e.what {
        What::SheetLot { lot } => Some((e.sheet?.0, lot, e.actor.map(|a| a.who.0))),
        _ => None,
    };
    client.all_events().into_iter().filter_map(told).collect()
}

#[test]
fn the_first_sheet_of_a_batch_is_asked_for_its_lot() {
    let mut shop = Workshop::new(60.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    for sheets in [2, 1, 1] {
        client.add_batch(CARD, sheets).unwrap();
    }
    let mut owner = Operator::owner(&client);
    let asked = owner.walk("the lot is asked for", |_, n| asks(n)).task.unwrap();
    assert_eq!(asked.step.ask, Ask::Lot { before: None, carried: false });
    assert!(owner.walked.last().unwrap().contains("/at-stop"), "once the sheet is laid: {:#?}", owner.walked);
    let long = answer(&client, StepAnswer::Named { text: "P".repeat(10_000) });
    assert!(long.contains("too many") && asks(&client.now()), "{long}");
    assert!(answer(&client, StepAnswer::Named { text: "  ".into() }).contains("as it is marked"));
    answer(&client, StepAnswer::Named { text: " P-2611 ".into() });
    owner.walk_sheets(1);
    owner.walked.clear();
    owner.walk_sheets(1);
    assert!(owner.walked.iter().all(|w| !w.contains("/lot")), "the second is not asked: {:#?}", owner.walked);
    let solveig = Some("Solveig".to_owned());
    let lot = |sheet: &str, who: &Option<String>| (sheet.to_owned(), "P-2611".to_owned(), who.clone());
    assert_eq!(named(&client), [lot("B1-1", &solveig), lot("B1-2", &None)], "carried, as nobody's word");

    // another batch: the one of before is offered
    let asked = owner.walk("the lot is asked for", |_, n| asks(n)).task.unwrap();
    assert_eq!(asked.step.ask, Ask::Lot { before: Some("P-2611".into()), carried: false });
    answer(&client, StepAnswer::Done);
    owner.walk_sheets(1);
    assert_eq!(named(&client)[2..], [lot("B2-1", &solveig)]);
    owner.walk("the lot is asked for", |_, n| asks(n));
    answer(&client, StepAnswer::Named { text: "-".into() });
    owner.walk_sheets(1);
    assert_eq!(named(&client).len(), 3, "none is marked");
    assert_eq!(client.sheet("B3-1").lot, None);
    assert_eq!(client.sheet("B1-2").lot.as_deref(), Some("P-2611"));
}

/// The step that lays a later sheet takes another lot with its answer; what stands there already is written once.
#[test]
fn a_lot_that_changes_in_the_middle_of_a_batch_is_named_where_the_sheet_is_laid() {
    let mut shop = Workshop::new(60.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 4).unwrap();
    let mut owner = Operator::owner(&client);
    owner.walk("the lot is asked for", |_, n| asks(n));
    answer(&client, StepAnswer::Named { text: "P-2611".into() });
    owner.walk_sheets(1);
    let mut laid = |lot: &str, answer: StepAnswer| {
        let carries = |n: &Now| {
            matches!(&n.task.as_ref()?.step.ask, Ask::Lot { before, carried: true } if before.as_deref() == Some(lot))
                .then_some(())
        };
        let asked = owner.walk("the sheet is laid", |_, n| carries(n).is_some()).task.unwrap();
        assert_eq!(asked.step.id, "at-stop");
        client.act(Act::Answer { step: "at-stop".into(), answer }).unwrap();
        owner.walk_sheets(1);
    };
    laid("P-2611", StepAnswer::Named { text: "P-2612".into() });
    laid("P-2612", StepAnswer::Done);
    laid("P-2612", StepAnswer::Named { text: "-".into() });
    let lots = |sheet| client.sheet(sheet).lot;
    assert_eq!(["B1-1", "B1-2", "B1-3"].map(lots), ["P-2611", "P-2612", "P-2612"].map(|lot| Some(lot.to_owned())));
    assert_eq!(client.sheet("B1-4").lot, None, "none is marked on it");
    let solveig = Some("Solveig".to_owned());
    let told = |sheet: &str, lot: &str, who: Option<String>| (sheet.to_owned(), lot.to_owned(), who);
    assert_eq!(
        named(&client)[1..],
        [
            told("B1-2", "P-2611", None),
            told("B1-2", "P-2612", solveig.clone()),
            told("B1-3", "P-2612", None),
            told("B1-4", "P-2612", None),
            told("B1-4", "", solveig),
        ]
    );
}
