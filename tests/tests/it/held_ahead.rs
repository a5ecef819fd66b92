//! Home is being looked for. A hold at the next lift then: there will be no lift, so the floor decides on a hold at once,
//! and that reaches the line although the weaker one was told ahead. And what the link says was not done is not blamed
//! on whatever was last tried.

use chargehand_daemon::api::desk::Caller;
use chargehand_daemon::app::{ByHand, MachineClock};
use chargehand_daemon::floor::permit::Epoch;
use chargehand_daemon::link::wire::{Command, ControllerState, NotDone, Pins, Report, StateWord, Wanted};
use chargehand_tests::days::shop::Shop;
use chargehand_types::act::{Act, ActRequest};
use chargehand_types::id::{CommandId, Person, TerminalId};
use chargehand_types::now::Motion;
use std::sync::Arc;

fn here() -> Caller {
    Caller {
        peer_uid: Some(rustix::process::geteuid().as_raw()),
        token_ok: true,
        terminal: Some(TerminalId("t1".to_owned())),
        ..Caller::default()
    }
}

/// Does these acts one after the other; gives what the line was told.
async fn ask(hand: &ByHand, acts: impl IntoIterator<Item = Act>) -> Vec<Command> {
    let mut given = Vec::new();
    for (n, act) in acts.into_iter().enumerate() {
        let seen = Some(hand.now(here()).await.unwrap().version);
        let terminal = TerminalId("t1".to_owned());
        let request = ActRequest { command_id: CommandId(format!("c-{n}-{act:?}")), terminal, seen, act };
        hand.act(here(), request).await.unwrap();
        while let Some(command) = hand.command() {
            given.push(command.unwrap());
        }
    }
    given
}

/// A shop whose machine looks for home.
async fn homing(shop: &Shop) -> ByHand {
    let begin = chrono::DateTime::from_timestamp(1_800_000_000, 0).unwrap();
    let hand = shop.open(&Arc::new(MachineClock::by_hand(begin))).await.unwrap();
    hand.report(Report::Up { note: String::new(), position_kept: false, epoch: Epoch::default() });
    hand.report(Report::State(ControllerState {
        word: StateWord::Ready,
        machine: None,
        work: None,
        feed: None,
        speed: None,
        pins: Pins::default(),
        per_cent: None,
    }));
    hand.woke().await;
    let given = ask(&hand, [Act::SignIn { who: Person::from("Solveig"), pin: None }, Act::BitFree, Act::Home]).await;
    assert!(given.iter().any(|c| matches!(c, Command::Home(_))), "{given:?}");
    hand
}

#[test]
fn a_hold_at_the_next_lift_holds_at_once_where_no_lift_comes() {
    let shop = Shop::new().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let hand = homing(&shop).await;
        let given = ask(&hand, [Act::HoldAtLift]).await;
        assert!(given.iter().any(|c| matches!(c, Command::Hold)), "home is held: {given:?}");
        hand.kill().await;
    });
}

#[test]
fn what_is_not_done_is_not_blamed_on_the_last_deed() {
    let shop = Shop::new().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let hand = homing(&shop).await;
        let why = || NotDone::Cannot("change its speed so while it cuts");
        // a change of speed is no deed of the floor, and the spindle is another: home is looked for all the same
        hand.report(Report::NotDone { what: Wanted::Override, of: None, why: why() });
        hand.report(Report::NotDone { what: Wanted::Spindle, of: None, why: why() });
        hand.woke().await;
        assert_eq!(hand.now(here()).await.unwrap().machine.motion, Motion::Homing);
        // nor is what was asked for before a stop that was heard since
        let before_a_stop = Some(Epoch::default().next());
        hand.report(Report::NotDone { what: Wanted::Home, of: before_a_stop, why: why() });
        hand.woke().await;
        assert_eq!(hand.now(here()).await.unwrap().machine.motion, Motion::Homing);
        hand.report(Report::NotDone { what: Wanted::Home, of: Some(Epoch::default()), why: why() });
        hand.woke().await;
        assert_ne!(hand.now(here()).await.unwrap().machine.motion, Motion::Homing);
        hand.kill().await;
    });
}
