//! Each rule of the simulated days bites: a day that was lived as it should is told again with one thing changed, and
//! the rule that is meant for it says so.

use chargehand_daemon::app::MachineClock;
use chargehand_tests::days::crew::{Crew, Who};
use chargehand_tests::days::mischief::{Kind, Mischief};
use chargehand_tests::days::rules::{Reader, acted_on_what_is, start_conditions};
use chargehand_tests::days::{day, shop::Shop};
use chargehand_types::act::Act;
use chargehand_types::event::{Event, What};
use chargehand_types::id::{CommandId, Seq};
use chargehand_types::now::{LinkNow, Now, PersonHere};
use chargehand_types::stage::{Role, Stage, StopCause};
use std::collections::BTreeSet;
use std::sync::Arc;

/// The events of a day with two sheets on which nothing goes wrong, and how things stand in the morning after.
fn lived() -> (Vec<Event>, Now) {
    lived_with(Crew::OWNER, &[])
}

fn lived_with(crew: Crew, mischief: &[Mischief]) -> (Vec<Event>, Now) {
    let shop = Shop::new().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        day::live(&shop, crew, 5, 2, mischief).await.unwrap();
        let begin = chrono::DateTime::from_timestamp(1_800_000_000, 0).unwrap();
        let hand = shop.open(&Arc::new(MachineClock::by_hand(begin))).await.unwrap();
        let events = hand.events_after(Seq(0)).await.unwrap();
        let caller = chargehand_daemon::api::desk::Caller::default();
        let now = hand.now(caller).await.unwrap();
        hand.kill().await;
        (events, now)
    })
}

/// What the reader says of a day told otherwise, its events numbered anew.
fn said(events: &[Event], change: impl FnOnce(&mut Vec<Event>)) -> Result<Reader, String> {
    let mut changed = events.to_vec();
    change(&mut changed);
    for (event, seq) in changed.iter_mut().zip(1..) {
        event.seq = Seq(seq);
    }
    let mut reader = Reader::default();
    reader.read(&changed).map(|()| reader)
}

fn last(events: &[Event], of: impl Fn(&What) -> bool) -> Event {
    events.iter().rev().find(|e| of(&e.what)).unwrap().clone()
}

#[test]
fn every_rule_of_the_record_bites() {
    let (events, _) = lived();
    let reader = said(&events, |_| ()).unwrap();
    assert_eq!((reader.ended(Stage::Closed), reader.unfinished().len()), (2, 0));

    let bites = |words: &str, change: &dyn Fn(&mut Vec<Event>)| {
        let told = said(&events, |events| change(events)).err();
        assert!(told.as_ref().is_some_and(|t| t.contains(words)), "{words:?}: {told:?}");
    };
    let again = |of: fn(&What) -> bool| {
        // whoever did it is gone by then
        let event = Event { actor: None, ..last(&events, of) };
        move |events: &mut Vec<Event>| events.push(event.clone())
    };
    bites("was finished 2 times", &again(|w| matches!(w, What::OperationFinished { .. })));
    bites("is closed, and came to", &again(|w| matches!(w, What::SheetStage { .. })));
    bites("after it was closed", &again(|w| matches!(w, What::PartChecked { .. })));
    bites("was closed twice", &again(|w| matches!(w, What::SheetClosed { .. })));
    bites("good parts, and", &|events| {
        for event in events {
            if let What::SheetClosed { good, .. } = &mut event.what {
                *good += 1;
            }
        }
    });

    // numbers with a gap
    let mut gap = events.clone();
    gap.remove(3);
    assert!(Reader::default().read(&gap).unwrap_err().contains("follows"));
}

/// The rules of who was there, on a day of owner and helper on which a cut is stopped.
#[test]
fn every_rule_of_who_was_there_bites() {
    let crew = Crew { who: Who::Both, goes_on: false };
    let (events, _) = lived_with(crew, &[Mischief { turn: 520, kind: Kind::Stop }]);
    said(&events, |_| ()).unwrap();
    let bites = |words: &str, change: &dyn Fn(&mut Vec<Event>)| {
        let told = said(&events, |events| change(events)).err();
        assert!(told.as_ref().is_some_and(|t| t.contains(words)), "{words:?}: {told:?}");
    };
    let owner = |e: &Event| e.actor.as_ref().is_some_and(|a| a.role == Role::Owner);
    bites("who was not signed in", &|events| {
        events.retain(|e| !matches!(e.what, What::PersonCame { role: Role::Owner, .. }));
    });
    // an owner who never came, and what they did told of the helper
    let helpers = |events: &mut Vec<Event>| {
        let helper = events.iter().filter_map(|e| e.actor.clone()).find(|a| a.role == Role::Helper).unwrap();
        let came = events.iter().position(|e| matches!(e.what, What::PersonCame { role: Role::Helper, .. })).unwrap();
        let came = events.remove(came);
        events.insert(0, came);
        events.retain(|e| !matches!(e.what, What::PersonCame { role: Role::Owner, .. }));
        for event in events.iter_mut().filter(|e| owner(e)) {
            event.actor = Some(helper.clone());
        }
    };
    bites("is an owner's", &helpers);
    let no_approval = |events: &mut Vec<Event>| {
        helpers(events);
        events.retain(|e| !matches!(e.what, What::FindingSigned { .. } | What::ArticleApproved { .. }));
    };
    said(&events, no_approval).unwrap();
    bites("left a stop", &|events| {
        no_approval(events);
        for event in events.iter_mut() {
            if let What::SheetStage { stopped: Some(record), .. } = &mut event.what {
                record.cause = StopCause::Fault;
            }
        }
    });
}

#[test]
fn what_was_done_on_an_old_screen_or_before_a_list_is_seen() {
    let (_, now) = lived();
    let mut seen = now.clone();
    assert_eq!(acted_on_what_is(&seen, &now, &Act::Resume), Ok(()));
    seen.version.0 += 1;
    assert!(acted_on_what_is(&seen, &now, &Act::Resume).unwrap_err().contains("old screen"));
    assert_eq!(acted_on_what_is(&seen, &now, &Act::Stop), Ok(()), "it may be stopped from any");
    let due = now.lists.iter().any(|l| l.due.is_some());
    assert!(due && now.people.is_empty());
    let begun = acted_on_what_is(&now, &now, &Act::CycleStart);
    assert!(begun.unwrap_err().contains("without an owner"));
}

#[test]
fn what_was_answered_and_is_gone_is_missed() {
    let (events, _) = lived();
    let answered: BTreeSet<CommandId> = events.iter().filter_map(|e| e.command_id.clone()).collect();
    let whole = said(&events, |_| ()).unwrap();
    assert!(whole.missing(answered.iter()).is_empty());
    let gone = answered.last().unwrap().clone();
    let reader = said(&events, |events| events.retain(|e| e.command_id.as_ref() != Some(&gone))).unwrap();
    assert_eq!(reader.missing(answered.iter()), [&gone]);
    // and the fold of what is left is another
    assert!(whole.fold != reader.fold);
}

#[test]
fn a_day_that_is_not_over_is_seen() {
    let (events, _) = lived();
    let closing = events.iter().rposition(|e| matches!(e.what, What::SheetStage { to: Stage::Closed, .. })).unwrap();
    let reader = said(&events, |events| events.truncate(closing)).unwrap();
    assert_eq!((reader.ended(Stage::Closed), reader.unfinished().len()), (1, 1));
}

#[test]
fn every_start_condition_bites() {
    let (_, mut now) = lived();
    let misses = |now: &Now, words: &str| {
        let told = start_conditions(now).unwrap_err();
        assert!(told.contains(words), "{words:?}: {told}");
    };
    misses(&now, "the controller answers");
    now.machine.link = LinkNow::Up;
    misses(&now, "the position is known");
    now.machine.position_known = true;
    misses(&now, "the work zero is confirmed");
    now.machine.zero_confirmed = true;
    misses(&now, "somebody is at the machine");
    now.people = vec![serde_json::from_str::<PersonHere>(r#"{"who":"Solveig","role":"owner"}"#).unwrap()];
    misses(&now, "a sheet is on the machine");
}
