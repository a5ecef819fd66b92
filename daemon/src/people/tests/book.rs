//! The book of people and tokens.

use crate::people::{Book, BookFault, KeptPin, Looked, Pin};
use chargehand_types::id::Person;
use chargehand_types::quantity::Tick;
use chargehand_types::secret::Secret;
use chargehand_types::stage::Role;
use chrono::{DateTime, TimeDelta, Utc};

fn config() -> Vec<(Person, Role)> {
    vec![("Ada".into(), Role::Owner), ("Bo".into(), Role::Helper)]
}

fn kept(digits: &str) -> KeptPin {
    Pin::chosen(&Secret::new(digits.to_owned())).unwrap().keep(&[1; 16]).unwrap()
}

fn at(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

#[test]
fn without_a_pin_nobody_is_asked_for_one() {
    let mut book = Book::new(config());
    assert!(!book.pins());
    book.add(&"Cleo".into(), Role::Helper).unwrap();
    assert!(!book.pins());
    assert_eq!(book.role_of(&"Cleo".into()), Some(Role::Helper));
    assert_eq!(book.role_of(&"Nobody".into()), None);
}

#[test]
fn an_owners_pin_comes_first_and_goes_last() {
    let mut book = Book::new(config());
    assert_eq!(book.set_pin(&"Bo".into(), kept("7301")), Err(BookFault::OwnerFirst));
    assert_eq!(book.set_pin(&"Nobody".into(), kept("7301")), Err(BookFault::Nobody("Nobody".into())));
    book.set_pin(&"Ada".into(), kept("7301")).unwrap();
    book.set_pin(&"Bo".into(), kept("7302")).unwrap();
    assert_eq!(book.remove(&"Ada".into()), Err(BookFault::LastOwner));
    assert_eq!(book.look(&"Ada".into(), Tick(0)), Looked::With(kept("7301")), "nothing was taken");
    book.add(&"Cleo".into(), Role::Owner).unwrap();
    book.set_pin(&"Cleo".into(), kept("7303")).unwrap();
    book.remove(&"Ada".into()).unwrap();
    assert_eq!(book.role_of(&"Ada".into()), Some(Role::Owner), "config still names her");
    assert_eq!(book.look(&"Ada".into(), Tick(0)), Looked::Unset, "and she cannot sign in without a PIN");
    book.remove(&"Bo".into()).unwrap();
    book.remove(&"Cleo".into()).unwrap();
    assert!(!book.pins() && book.role_of(&"Cleo".into()).is_none());
}

#[test]
fn wrong_tries_shut_one_person_out_and_outlive_the_daemon() {
    let mut book = Book::new(config());
    let (ada, bo) = (Person::from("Ada"), Person::from("Bo"));
    book.set_pin(&ada, kept("7301")).unwrap();
    book.set_pin(&bo, kept("7302")).unwrap();
    assert_eq!(book.was_wrong(&ada, Tick(0)), None);
    assert_eq!(book.was_wrong(&ada, Tick(0)), None);
    assert!(book.was_wrong(&ada, Tick(0)).is_some());
    assert!(matches!(book.look(&ada, Tick(29_999_999)), Looked::Locked(_)));
    assert!(matches!(book.look(&ada, Tick(30_000_000)), Looked::With(_)));
    assert!(matches!(book.look(&bo, Tick(0)), Looked::With(_)), "others are not shut out");

    let again = Book::read(&book.text().unwrap(), config(), Tick(5)).unwrap();
    assert!(matches!(again.look(&ada, Tick(6)), Looked::Locked(_)), "a restart gives no free tries");
    let mut later = again;
    assert!(later.was_right(&ada) && !later.was_right(&ada));
    assert!(matches!(later.look(&ada, Tick(6)), Looked::With(_)));
    assert_eq!(later.was_wrong(&ada, Tick(7)), None, "and counting begins anew");
}

#[test]
fn a_token_is_shown_once_and_kept_as_a_hash() {
    let mut book = Book::new(config());
    let (made, expires) = (at("2026-11-29T10:00:00Z"), at("2026-12-29T10:00:00Z"));
    let token = book.make_token("phone", Role::Helper, made, expires, &[9; 32]).unwrap();
    let text = book.text().unwrap();
    assert!(!text.contains(token.shown()), "{text}");
    assert!(!format!("{book:?}").contains(token.shown()));
    let of = |book: &Book, given: &str, now| book.holder(given.as_bytes(), now);
    assert_eq!(of(&book, token.shown(), made).map(|h| h.name), Ok("phone".to_owned()));
    assert_eq!(of(&book, token.shown(), expires), Err(Some("phone".to_owned())), "over");
    let mut wrong = token.shown().to_owned();
    wrong.pop();
    for given in ["", "chargehand-", &wrong, &token.shown().to_uppercase()] {
        assert_eq!(of(&book, given, made), Err(None), "{given}");
    }
    let again = Book::read(&text, config(), Tick(0)).unwrap();
    assert!(of(&again, token.shown(), made).is_ok());
    book.revoke("phone").unwrap();
    assert_eq!(of(&book, token.shown(), made), Err(None));
    assert_eq!(book.revoke("phone"), Err(BookFault::NoToken("phone".into())));
}

#[test]
fn tokens_have_an_end_a_name_of_their_own_and_a_bound() {
    let mut book = Book::new(config());
    let now = at("2026-11-29T10:00:00Z");
    let later = now + TimeDelta::days(1);
    assert_eq!(book.make_token("a", Role::Owner, now, now, &[0; 32]), Err(BookFault::Over));
    for bad in ["", " a", "a\n", &"x".repeat(61)] {
        assert_eq!(book.make_token(bad, Role::Owner, now, later, &[0; 32]), Err(BookFault::Name), "{bad:?}");
    }
    for n in 0..50_u8 {
        book.make_token(&format!("t{n}"), Role::Helper, now, later, &[n; 32]).unwrap();
    }
    assert!(matches!(book.make_token("t0", Role::Helper, now, later, &[0; 32]), Err(BookFault::There(_))));
    assert_eq!(book.make_token("more", Role::Helper, now, later, &[0; 32]), Err(BookFault::TooMany(50)));
}

#[test]
fn a_book_that_this_program_did_not_write_is_refused() {
    for bad in
        ["", "{}", "{\"v\":2}", "{\"v\":1,\"people\":[{\"who\":\"A\",\"pin\":\"1234\"}]}", "{\"v\":1,\"more\":0}", "[]"]
    {
        assert!(matches!(Book::read(bad, config(), Tick(0)), Err(BookFault::Text(_))), "{bad}");
    }
    let book = Book::new(config());
    assert_eq!(Book::read(&book.text().unwrap(), config(), Tick(0)), Ok(book));
}
