//! A store written by an earlier build is kept: what it told, this build tells, and it goes on with what waited.
//!
//! `tests/stores/fold-3` was written by the build of 2026-11-25, whose fold was of version 3: three sheets of the label boards
//! cut, two queued. Beside it lies what that build answered.

use chargehand_tests::client::Token;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{Workshop, repository};
use serde_json::Value;
use std::path::Path;

/// A folder and all in it.
fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
        let to = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &to);
        } else {
            std::fs::copy(entry.path(), to).unwrap();
        }
    }
}

/// Everything that was told is told; more may be.
fn holds(place: &str, told: &Value, was: &Value) {
    match (told, was) {
        (Value::Object(told), Value::Object(was)) => {
            for (key, was) in was {
                let told = told.get(key).unwrap_or_else(|| panic!("{place}.{key} is no longer told"));
                holds(&format!("{place}.{key}"), told, was);
            }
        }
        (Value::Array(told), Value::Array(was)) => {
            assert_eq!(told.len(), was.len(), "{place}");
            for (n, (told, was)) in told.iter().zip(was).enumerate() {
                holds(&format!("{place}[{n}]"), told, was);
            }
        }
        _ => assert_eq!(told, was, "{place}"),
    }
}

#[test]
fn a_store_of_an_earlier_build_is_kept_and_gone_on_with() {
    let before = repository().join("tests/stores/fold-3");
    let mut shop = Workshop::new(60.0);
    copy(&before, &shop.path("store"));
    let journal = std::fs::read(before.join("journal")).unwrap();
    let client = shop.start();
    for (route, file) in [("/v1/history/sheets", "history.json"), ("/v1/sheets", "sheets.json")] {
        let was: Value = serde_json::from_slice(&std::fs::read(before.join(file)).unwrap()).unwrap();
        let (status, told) = client.ask("GET", route, None, Token::NotShown).unwrap();
        assert_eq!(status, 200, "{told}");
        holds(route, &told, &was);
    }
    let kept = std::fs::read(shop.path("store/journal")).unwrap();
    assert!(kept.starts_with(&journal), "what was written is not written anew");
    let mut operator = Operator::owner(&client);
    operator.sign_in();
    operator.walk_sheets(2);
    assert_eq!(client.history().sheets.len(), 5, "the two that waited are cut as well");
    shop.end();
}
