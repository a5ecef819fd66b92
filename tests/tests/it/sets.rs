//! Whole sets, stock and the sheet that is next, through the real daemon.

use super::day::{plan, shop};
use chargehand_tests::client::{Client, Told, fresh};
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::plan::{Change, PlanChanged, SetsRow};
use chargehand_types::queue::{AddBatch, AddSets, BatchList, CountStock, Done};
use chargehand_types::stage::{Grade, Reason};
use chrono::{DateTime, TimeDelta, Utc};
use std::collections::BTreeMap;

const SIDES: &str = "plant-stand-sides";

/// The day's shop, selling label stands of two boards and two sides.
fn selling() -> Workshop {
    let shop = shop();
    shop.edit("daemon.toml", |text| {
        text + "\n[[product]]\nname = \"label stand\"\nparts = { board = 2, side = 2 }\nfinishing_days = 2\n\
                [[product]]\nname = \"rack\"\nparts = { foot = 4 }\n\
                [[stock]]\nname = \"ply12\"\nmaterial = \"softwood-plywood\"\nthickness = 12.0\nsize = [1220.0, 2440.0]\n\
                [[stock]]\nname = \"ply18\"\nmaterial = \"softwood-plywood\"\nthickness = 18.0\nsize = [1220.0, 2440.0]\n\
                price = 48.0\n"
    });
    shop
}

fn with_cards(shop: &mut Workshop) -> Client {
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_card(&shop.path("plant-stand-sides.card.toml")).unwrap();
    client
}

fn order(client: &Client, product: &str, sets: u32, due: Option<DateTime<Utc>>) -> Told<Done> {
    client.post("/v1/sets", &AddSets { command_id: fresh(), product: product.into(), sets, due, weight: None })
}

fn parts(all: &[(&str, u32)]) -> BTreeMap<String, u32> {
    all.iter().map(|(name, number)| ((*name).to_owned(), *number)).collect()
}

fn row(client: &Client) -> SetsRow {
    let plan = plan(client, "");
    assert_eq!(plan.sets.len(), 1, "{:?}", plan.sets);
    plan.sets[0].clone()
}

#[test]
fn an_order_of_sets_becomes_the_sheets_of_its_cards() {
    let mut shop = selling();
    let client = with_cards(&mut shop);
    let due = Utc::now() + TimeDelta::days(20);
    let request = AddSets { command_id: fresh(), product: "label stand".into(), sets: 2, due: Some(due), weight: None };
    let done: Done = client.post("/v1/sets", &request).unwrap();
    assert!(done.said.contains("2 of `label-board`") && done.said.contains("2 days of finishing"), "{}", done.said);
    let again: Done = client.post("/v1/sets", &request).unwrap();
    assert_eq!(again.id, done.id);
    let batches = client.get::<BatchList>("/v1/batches").unwrap().batches;
    let told: Vec<(&str, &str, u32)> = batches.iter().map(|b| (b.id.0.as_str(), b.card.0.as_str(), b.sheets)).collect();
    assert_eq!(told, [("B1", CARD, 2), ("B2", SIDES, 1)], "added once, the same command twice");
    // two days earlier at the same time of day: an hour either way where the clocks change
    let back = due - batches[0].due.unwrap();
    assert!((back - TimeDelta::days(2)).abs() <= TimeDelta::hours(1), "{back}");
    let first = row(&client);
    assert_eq!((first.wanted, first.complete, first.coming), (2, 0, 2));
    assert_eq!((first.short, first.more.len()), (parts(&[("board", 4), ("side", 4)]), 0));

    // one bad part asks for that part
    let mut operator = Operator::owner(&client);
    operator.grading = |i| if i == 0 { (Grade::Good, None) } else { (Grade::Scrap, Some(Reason::TornFace)) };
    client.act_seen(client.now().version, Act::SignOut).ok();
    operator.sign_in();
    client.act(Act::TakeSheet { sheet: Some("B1-1".into()) }).unwrap();
    operator.walk_sheets(1);
    let bad = row(&client);
    assert_eq!(bad.short, parts(&[("board", 3), ("side", 4)]));
    assert_eq!((bad.coming, bad.more), (1, BTreeMap::from([(CARD.into(), 1)])));
    // the order outlives the daemon
    shop.kill();
    assert_eq!(row(&shop.start()).short, parts(&[("board", 3), ("side", 4)]));
}

#[test]
fn what_cannot_be_made_is_refused() {
    let mut shop = selling();
    let client = with_cards(&mut shop);
    for (product, sets, word) in [("label stnd", 1, "label stand"), ("rack", 1, "foot"), ("label stand", 0, "1 to")] {
        let refused = order(&client, product, sets, None).unwrap_err();
        assert!(format!("{refused:?}").contains(word), "{refused:?}");
    }
    assert!(client.get::<BatchList>("/v1/batches").unwrap().batches.is_empty());
    let counted = CountStock { command_id: fresh(), stock: "oak".into(), sheets: 3 };
    let refused = client.post::<Done>("/v1/stock", &counted).unwrap_err();
    assert!(format!("{refused:?}").contains("ply"), "{refused:?}");
}

#[test]
fn sheets_are_planned_as_far_as_there_is_wood() {
    let mut shop = selling();
    let client = with_cards(&mut shop);
    order(&client, "label stand", 2, None).unwrap();
    let count = |stock: &str, sheets| {
        let counted = CountStock { command_id: fresh(), stock: stock.into(), sheets };
        client.post::<Done>("/v1/stock", &counted).unwrap();
        plan(&client, "")
    };
    let free = plan(&client, "");
    let [thin, thick] = free.stock.as_slice() else { panic!("{:?}", free.stock) };
    assert_eq!((free.sheets.len(), thin.there, thin.wanted, thick.wanted), (3, None, 2, 1));
    // one in twenty is bad as is usual: a single sheet comes out good often enough; in quarters of a panel
    assert_eq!((thick.spare, thick.panels, thick.cost, thick.left), (0, 1, 48.0, 3));
    // two centre cuts leave 608.4 by 1218.4 (worked by hand), and the sides want 610 by 1220
    assert!(thick.troubles.iter().any(|t| t.contains(SIDES) && t.contains("too short")), "{thick:?}");
    assert_eq!(thin.troubles, Vec::<String>::new());
    let short = count("ply12", 1);
    assert_eq!((short.sheets.len(), short.unplanned.len(), short.stock[0].there), (2, 1, Some(1)));
    assert!(short.unplanned.iter().all(|u| u.reason.contains("stock")), "{:?}", short.unplanned);
    let enough = count("ply12", 3);
    assert_eq!((enough.sheets.len(), enough.unplanned.len(), enough.stock[0].panels), (3, 0, 0));
    // a sheet that is begun is no longer there
    Operator::owner(&client).sign_in();
    client.act(Act::TakeSheet { sheet: Some("B1-1".into()) }).unwrap();
    assert_eq!(plan(&client, "").stock[0].there, Some(2));
}

#[test]
fn the_plan_says_which_sheet_is_next() {
    let mut shop = selling();
    let client = with_cards(&mut shop);
    let add = |card: &str, due| {
        let request = AddBatch { command_id: fresh(), card: card.into(), sheets: 1, due: Some(due), weight: None };
        client.post::<Done>("/v1/batches", &request).unwrap().id.unwrap()
    };
    // the batch's answer tells the stock: two centre cuts leave 608.4 by 1218.4 (worked by hand), the sides want 610
    let far = Utc::now() + TimeDelta::days(9);
    let request = AddBatch { command_id: fresh(), card: SIDES.into(), sheets: 1, due: Some(far), weight: None };
    let said = client.post::<Done>("/v1/batches", &request).unwrap().said;
    assert!(said.contains("Of ply18: not counted yet, 1 wanted and 0 to spare, 1 panel to buy for 48.00"), "{said}");
    assert!(said.contains("too short"), "{said}");
    let urgent = add(CARD, Utc::now() + TimeDelta::hours(1));
    let next = format!("{urgent}-1");
    client.until("the plan's first sheet", |now| now.next_sheet.as_ref().is_some_and(|id| id.0 == next));
    Operator::owner(&client).sign_in();
    client.act(Act::TakeSheet { sheet: None }).unwrap();
    assert_eq!(client.now().sheet.unwrap().id.0, next, "not the oldest");
}

#[test]
fn a_new_plan_is_told_to_all_and_leaves_what_is_about_to_start() {
    let mut shop = selling();
    let client = with_cards(&mut shop);
    let add = |card: &str, due| {
        let request = AddBatch { command_id: fresh(), card: card.into(), sheets: 1, due: Some(due), weight: None };
        client.post::<Done>("/v1/batches", &request).unwrap().id.unwrap()
    };
    let first = add(SIDES, Utc::now() + TimeDelta::days(9));
    assert_eq!(plan(&client, "").sheets.len(), 1);
    let mut stream = client.events(None);
    let urgent = format!("{}-1", add(CARD, Utc::now() + TimeDelta::hours(1)));
    let told = std::iter::from_fn(|| stream.next_message()).find(|m| m.event == "plan").unwrap();
    assert_eq!(told.id, None, "it is not kept");
    let told: PlanChanged = serde_json::from_value(told.data).unwrap();
    assert!(told.changes.contains(&Change::New { sheet: urgent.as_str().into() }), "{told:?}");
    // somebody is in, so the first sheet is about to start and keeps its place, urgent as the other is
    assert_eq!(client.now().next_sheet.unwrap().0, format!("{first}-1"));
    let asked = plan(&client, "");
    assert_eq!((asked.sheets[1].sheet.0.as_str(), asked.changed), (urgent.as_str(), Some(told.at)));
}
