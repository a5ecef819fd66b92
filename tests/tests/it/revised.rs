//! A card changed after it was signed: what changed is said in words of the trade, and which signatures still stand,
//! through the real daemon and the real command line.

use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::change::{CardChanges, ChangeKind};

/// Machine seconds to a real one.
const RATE: f64 = 60.0;
const SLOTS: &str = "label-board-slots.nc";

/// A shop whose card was taken in and its one finding, an untried feed, signed by the owner.
fn signed_shop() -> (Workshop, Client) {
    let mut shop = Workshop::new(RATE);
    shop.edit(SLOTS, |t| t.replace("G1 X85 F2700", "G1 X85 F3300"));
    let client = shop.start();
    assert!(client.add_card(&shop.card()).unwrap().changes.is_none(), "a new card changes nothing");
    client.add_batch(CARD, 1).unwrap();
    Operator::owner(&client).sign_in();
    client.act(Act::TakeSheet { sheet: None }).unwrap();
    let fingerprint = client.now().sheet.unwrap().to_sign[0].fingerprint.clone();
    client.act(Act::SignFinding { fingerprint }).unwrap();
    (shop, client)
}

#[test]
fn a_changed_program_is_told_and_voids_the_signature() {
    let (shop, client) = signed_shop();
    shop.edit(SLOTS, |t| t.replace("F3300", "F3500"));
    let done = client.add_card(&shop.card()).unwrap();
    let changes = done.changes.unwrap();
    println!("{changes:#?}");
    assert_eq!((changes.before.0, changes.after.0), (1, 2));
    let kinds: Vec<ChangeKind> = changes.changes.iter().map(|c| c.kind).collect();
    assert_eq!(kinds, [ChangeKind::Feed, ChangeKind::Time]);
    assert!(changes.changes[0].says.contains("3500") && changes.changes[0].says.contains("before"));
    let [signature] = changes.signatures.as_slice() else { panic!("one signature") };
    assert!(!signature.stands);
    assert_eq!((signature.operation.as_deref(), signature.by.as_deref()), (Some("slots"), Some("Solveig")));
    // asked again later, the same is answered
    let again: CardChanges = client.get(&format!("/v1/cards/{CARD}/changes")).unwrap();
    assert_eq!(again, *changes);
    let told = shop.says(&shop.path("."), &["card", "show", CARD, "--changes"]);
    println!("{}", told.said);
    assert_eq!(told.code, Some(0), "{told:?}");
    for words in ["Revision 2 against revision 1", "`slots` is fed at", "3500", "no longer stands", "by Solveig"] {
        assert!(told.said.contains(words), "{words}: {}", told.said);
    }
}

#[test]
fn a_mended_title_keeps_the_signature() {
    let (shop, client) = signed_shop();
    shop.edit("label-board.card.toml", |t| t.replace("Label boards, two", "Label boards, a pair"));
    let changes = client.add_card(&shop.card()).unwrap().changes.unwrap();
    assert_eq!(changes.changes, []);
    assert!(changes.signatures[0].stands, "{changes:?}");
    let told = shop.says(&shop.path("."), &["card", "show", CARD, "--changes"]);
    assert!(told.said.contains("Nothing that is cut or checked") && told.said.contains("still stands"), "{told:?}");
}

#[test]
fn a_first_revision_has_nothing_before_it() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    let told = shop.says(&shop.path("."), &["card", "show", CARD, "--changes"]);
    assert_ne!(told.code, Some(0));
    assert!(told.complained.contains("is its first"), "{told:?}");
    let told = shop.says(&shop.path("."), &["card", "show", "no-such-card", "--changes"]);
    assert!(told.complained.contains("no-such-card"), "{told:?}");
}
