//! A sheet that runs with nobody signed in: when it may, the question whether somebody is still there, and what comes of it
//! when nobody answers.

use chargehand_tests::client::{Client, Token, fresh};
use chargehand_tests::http;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::call::CallReason;
use chargehand_types::event::What;
use chargehand_types::now::{Motion, Now, OfferedAct};
use chargehand_types::problem::ProblemKind;
use chargehand_types::quantity::Length;
use chargehand_types::stage::{Grade, HeldBy, Stage};

/// Hours that reach over every minute of every day.
const ALWAYS: [[&str; 2]; 2] = [["00:00", "12:30"], ["12:00", "00:30"]];

/// A shop with a controlled spindle and the extraction on it, where stepping away is turned on; with hours of a kind.
fn shop_with(hours: &str) -> Workshop {
    let shop = Workshop::new(20.0);
    shop.edit("daemon.toml", |text| {
        let manual = text.lines().find(|l| l.starts_with("spindle = ")).expect("a spindle").to_owned();
        let controlled = "spindle = { kind = \"controlled\", least = 8000, most = 24000, run_down_s = 8.0 }";
        let days = "days = [\"mon\", \"tue\", \"wed\", \"thu\", \"fri\", \"sat\", \"sun\"]";
        let windows = |name: &str| {
            ALWAYS.map(|[from, to]| format!("[[shop.{name}]]\n{days}\nfrom = \"{from}\"\nto = \"{to}\"\n")).concat()
        };
        let (earshot, more) = (windows("earshot"), if hours.is_empty() { String::new() } else { windows(hours) });
        let limits = "[limits]\nsmoulder_min = 0\n";
        let away = "[away]\nallowed = true\nextraction = \"with-spindle\"\nstill_there_min = 1\nanswer_min = 2\n";
        text.replace(&manual, controlled) + "\n" + &earshot + &more + limits + away
    });
    shop
}

fn stage(now: &Now) -> Option<Stage> {
    now.sheet.as_ref().map(|s| s.stage)
}

fn held_by(now: &Now) -> Option<HeldBy> {
    now.sheet.as_ref().and_then(|s| s.held.as_ref()).map(|h| h.by)
}

/// Whether it is asked, and whether somebody is called already.
fn asked(now: &Now) -> Option<bool> {
    now.away.as_ref().and_then(|a| a.asked).map(|a| a.called)
}

fn why_not(now: &Now) -> String {
    now.away.as_ref().and_then(|a| a.why_not.clone()).unwrap_or_default()
}

/// The cautions signed, a first sheet closed, and the second one in the cut, slowly; its operator is still signed in.
fn second_sheet<'c>(client: &'c Client, shop: &Workshop) -> Operator<'c> {
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 2).unwrap();
    let mut operator = Operator::owner(client);
    operator.sign_in();
    let away = client.now().away.expect("it is turned on");
    assert!(!away.signed && away.cautions.len() > 1);
    let version = away.version;
    let old = client.act(Act::SignCautions { version: version + 1 }).unwrap_err();
    assert_eq!(old.kind, ProblemKind::SeenIsOld);
    client.act(Act::SignCautions { version }).unwrap();
    operator.walk_into_cut();
    assert!(why_not(&client.now()).contains("first sheet"), "{}", why_not(&client.now()));
    operator.walk_sheets(1);
    operator.walk_into_cut();
    assert!(why_not(&client.now()).contains("approve the first article"), "{}", why_not(&client.now()));
    let first = client.now().to_approve.expect("it came out good").sheet;
    client.act(Act::ApproveArticle { sheet: first }).unwrap();
    client.act(Act::Override { feed: Some(10), rapid: None }).unwrap();
    operator
}

#[test]
fn nobody_there_is_asked_called_for_and_held_with_the_spindle_stopped() {
    let mut shop = shop_with("");
    let client = shop.start();
    let mut operator = second_sheet(&client, &shop);
    assert_eq!(why_not(&client.now()), "");
    // the command line may have to be built first
    assert_eq!(shop.says(&shop.path(""), &["machine"]).code, Some(0));
    client.act(Act::SignOut).unwrap();
    let now = client.until("it is asked", |n| asked(n) == Some(false));
    assert_eq!((stage(&now), now.machine.motion, now.calls.len()), (Some(Stage::Cutting), Motion::Moving, 0));
    assert!(now.actions.iter().any(|o| o.act == OfferedAct::StillThere && o.refused.is_none()));
    let page = http::send(&shop.socket(), "GET", "/", &[], None).unwrap().whole().unwrap();
    assert!(page.contains("Is somebody still there?") && page.contains("cannot be answered from here"), "{page}");
    // somebody far away is not there; somebody at the machine is, signed in or not
    let afar = client.act_with(fresh(), now.version, Act::StillThere, Token::NotShown).unwrap_err();
    assert_eq!(afar.kind, ProblemKind::NotPermitted);
    let said = shop.says(&shop.path(""), &["machine", "here"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    assert_eq!(asked(&client.now()), None);
    let early = client.act(Act::StillThere).unwrap_err();
    assert_eq!(early.kind, ProblemKind::StartCondition, "what is not asked is not answered");

    client.until("it is asked again", |n| asked(n) == Some(false));
    let called = client.until("somebody is called", |n| asked(n) == Some(true));
    assert_eq!(stage(&called), Some(Stage::Cutting), "it cuts on meanwhile");
    assert!(called.calls.iter().any(|c| c.reason == CallReason::StillThere), "{:?}", called.calls);
    let held = client.until("held", |n| stage(n) == Some(Stage::Held));
    assert_eq!(held_by(&held), Some(HeldBy::NobodyThere));
    assert!(held.machine.at.unwrap().z > Length::ZERO, "with the bit out of the wood");
    assert!(held.machine.run_down_left.is_some(), "the spindle was told to stop");

    operator.sign_in();
    let refused = client.act(Act::Resume).unwrap_err();
    assert!(refused.detail.contains("switched off"), "{refused}");
    client.act(Act::Override { feed: Some(100), rapid: None }).unwrap();
    operator.walk_sheets(1);
    assert_eq!(client.history().sheets.iter().filter(|s| s.grade == Some(Grade::Good)).count(), 2);
    let told: Vec<What> = client.all_events().into_iter().map(|e| e.what).collect();
    let count = |f: fn(&What) -> bool| told.iter().filter(|w| f(w)).count();
    assert_eq!(count(|w| matches!(w, What::StillThereAsked { .. })), 2);
    assert_eq!(count(|w| matches!(w, What::StillThereAnswered)), 1);
    assert_eq!(count(|w| matches!(w, What::CautionsSigned { .. })), 1);
}

#[test]
fn unsigned_cautions_or_quiet_hours_hold_at_the_next_lift() {
    let mut shop = shop_with("quiet");
    let client = shop.start();
    second_sheet(&client, &shop);
    assert!(why_not(&client.now()).contains("quiet hours"), "{}", why_not(&client.now()));
    client.act(Act::SignOut).unwrap();
    let held = client.until("held", |n| stage(n) == Some(Stage::Held));
    assert_eq!(held_by(&held), Some(HeldBy::Lift));
    assert!(held.calls.iter().any(|c| c.reason == CallReason::HeldFromAfar));
    assert_eq!(asked(&held), None);

    let mut shop = shop_with("");
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    Operator::owner(&client).walk_into_cut();
    assert!(client.now().notices.iter().any(|n| n.contains("cautions are not signed")));
    let read = shop.says(&shop.path(""), &["machine", "away"]);
    assert!(read.code == Some(0) && read.said.contains("fire") && read.said.contains("Not signed."), "{read:?}");
    client.act(Act::SignOut).unwrap();
    client.until("held", |n| stage(n) == Some(Stage::Held));
}

#[test]
fn a_hand_switched_spindle_or_extraction_is_refused_with_its_key() {
    let shop = shop_with("");
    shop.edit("daemon.toml", |t| t.replace("extraction = \"with-spindle\"\n", ""));
    shop.run_to_end(&["--check"]).refused(5, &["away.allowed", "extraction"]);
    let shop = Workshop::new(20.0);
    shop.edit("daemon.toml", |t| t + "\n[away]\nallowed = true\nextraction = \"with-spindle\"\n");
    shop.run_to_end(&["--check"]).refused(5, &["spindle is switched by hand", "earshot"]);
}
