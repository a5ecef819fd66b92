//! Older events are read, and every kind has its name.

use super::*;
use serde_json::json;
#[test]
fn an_older_event_is_brought_up_to_date() {
    let old = json!({"v": 0, "actor": {"name": "Ada", "role": "helper"}});
    let new = upcast(old).unwrap();
    assert_eq!(new["v"], 1);
    assert_eq!(new["actor"]["who"], "Ada");
}

#[test]
fn a_newer_event_is_refused() {
    assert_eq!(upcast(json!({"v": 9})), Err(UpcastFault::Newer(9)));
    assert_eq!(upcast(json!({})), Err(UpcastFault::NoVersion));
}

#[test]
fn the_envelope_has_kind_and_data() {
    let e = Event {
        v: EVENT_VERSION,
        seq: Seq(7),
        id: "e7".into(),
        command_id: None,
        at: DateTime::from_timestamp(0, 0).unwrap(),
        tick: Tick(5),
        actor: None,
        terminal: None,
        sheet: Some(SheetId::from("B1-1")),
        what: What::CallAnswered { number: 3 },
    };
    let v = serde_json::to_value(&e).unwrap();
    assert_eq!(v["kind"], "call.answered");
    assert_eq!(v["data"]["number"], 3);
    assert_eq!(serde_json::from_value::<Event>(v).unwrap(), e);
}
