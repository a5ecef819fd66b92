//! A hold at the next lift while home is being looked for: there will be no lift, so the floor decides on a hold at
//! once, and that reaches the line although the weaker one was told ahead.

use chargehand_daemon::api::desk::Caller;
use chargehand_daemon::app::MachineClock;
use chargehand_daemon::floor::permit::Epoch;
use chargehand_daemon::link::wire::{Command, ControllerState, Pins, Report, StateWord};
use chargehand_tests::days::shop::Shop;
use chargehand_types::act::{Act, ActRequest};
use chargehand_types::id::{CommandId, Person, TerminalId};
use std::sync::Arc;

#[test]
fn a_hold_at_the_next_lift_holds_at_once_where_no_lift_comes() {
    let shop = Shop::new().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
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
        let here = || Caller {
            peer_uid: Some(rustix::process::geteuid().as_raw()),
            token_ok: true,
            terminal: Some(TerminalId("t1".to_owned())),
            ..Caller::default()
        };
        let acts = [Act::SignIn { who: Person::from("Solveig"), pin: None }, Act::BitFree, Act::Home, Act::HoldAtLift];
        let mut given = Vec::new();
        for (n, act) in acts.into_iter().enumerate() {
            let seen = Some(hand.now(here()).await.unwrap().version);
            let terminal = TerminalId("t1".to_owned());
            let request = ActRequest { command_id: CommandId(format!("c-{n}")), terminal, seen, act };
            hand.act(here(), request).await.unwrap();
            while let Some(command) = hand.command() {
                given.push(command.unwrap());
            }
        }
        assert!(given.iter().any(|c| matches!(c, Command::Home(_))), "{given:?}");
        assert!(given.iter().any(|c| matches!(c, Command::Hold)), "home is held: {given:?}");
        hand.kill().await;
    });
}
