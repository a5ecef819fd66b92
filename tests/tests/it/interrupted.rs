//! A list that was left: where it goes on, in time that is set. The real foreman and store, and no machine.

use chargehand_daemon::api::desk::Caller;
use chargehand_daemon::app::{ByHand, MachineClock};
use chargehand_daemon::floor::permit::Epoch;
use chargehand_daemon::link::wire::{Report, TickSource};
use chargehand_tests::days::shop::Shop;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::{Act, ActRequest};
use chargehand_types::checklist::{Ask, ListKind, StepAnswer, Task};
use chargehand_types::event::What;
use chargehand_types::id::{CommandId, Person, Seq, TerminalId};
use chargehand_types::now::Now;
use chargehand_types::problem::ProblemKind;
use chargehand_types::quantity::Length;
use chrono::DateTime;
use std::sync::Arc;

struct Walk {
    hand: ByHand,
    clock: Arc<MachineClock>,
    commands: u32,
}

fn here() -> Caller {
    let peer_uid = Some(rustix::process::geteuid().as_raw());
    Caller { peer_uid, token_ok: true, terminal: Some(TerminalId("t1".to_owned())), ..Caller::default() }
}

impl Walk {
    /// The opening list, begun by the owner.
    async fn begin(shop: &Shop) -> Self {
        let clock = Arc::new(MachineClock::by_hand(DateTime::from_timestamp(1_772_900_000, 0).unwrap()));
        let mut walk = Self { hand: shop.open(&clock).await.unwrap(), clock, commands: 0 };
        walk.act(Act::SignIn { who: Person::from("Solveig"), pin: None }).await.unwrap();
        walk.act(Act::BeginList { list: ListKind::Opening }).await.unwrap();
        walk
    }

    async fn act(&mut self, act: Act) -> Result<(), ProblemKind> {
        let seen = Some(self.hand.now(here()).await.unwrap().version);
        self.commands += 1;
        let command_id = CommandId(format!("c{}", self.commands));
        let request = ActRequest { command_id, terminal: TerminalId("t1".to_owned()), seen, act };
        self.hand.act(here(), request).await.map(|_| ()).map_err(|p| p.kind)
    }

    async fn task(&self) -> Task {
        self.hand.now(here()).await.unwrap().task.unwrap()
    }

    /// Answers the step that is asked, as it wants to be answered.
    async fn answer(&mut self) {
        let task = self.task().await;
        let answer = match task.step.ask {
            Ask::Choose { options } => StepAnswer::Choice { key: options[0].key.clone() },
            _ => StepAnswer::Done,
        };
        self.act(Act::Answer { step: task.step.id, answer }).await.unwrap();
    }

    /// Answers until the list is at this step.
    async fn to(&mut self, step: &str) {
        while self.task().await.step.id != step {
            self.answer().await;
        }
    }

    fn pass(&self, seconds: u64) {
        self.clock.set(self.clock.now().after_ms(seconds * 1000));
    }

    /// Steps answered so far, as they were written down.
    async fn answered(&self) -> Vec<String> {
        let events = self.hand.events_after(Seq(0)).await.unwrap().into_iter();
        let answered = events.filter_map(|e| match e.what {
            What::StepAnswered { step, taken: true, .. } => {
                assert_eq!(e.actor.map(|a| a.who), Some(Person::from("Solveig")));
                Some(step)
            }
            _ => None,
        });
        answered.collect()
    }
}

fn walked(walk: impl AsyncFnOnce(Walk)) {
    let shop = Shop::new().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async { walk(Walk::begin(&shop).await).await });
}

#[test]
fn after_a_minute_the_last_step_is_asked_once_more_and_says_why() {
    walked(async |mut walk| {
        // the step takes two minutes: a minute more is still no gap
        walk.to("fire").await;
        walk.pass(180);
        assert_eq!(walk.task().await.step.id, "fire");
        walk.pass(1);
        let task = walk.task().await;
        assert_eq!((task.step.id.as_str(), task.number), ("extractor", 4));
        assert!(task.to_know, "no answer was wrong");
        let note = task.note.unwrap();
        assert!(note.starts_with("You stopped at step 5."), "{note}");
        // it steps back once, however long they are away
        walk.pass(300);
        assert_eq!(walk.task().await.step.id, "extractor");
        walk.answer().await;
        assert_eq!(walk.task().await.step.id, "fire", "and goes on where it was");
        assert_eq!(walk.task().await.note, None);
        assert_eq!(walk.answered().await, ["red-button", "off", "board", "extractor", "extractor"]);
    });
}

#[test]
fn an_answer_to_the_step_that_was_left_is_not_taken() {
    walked(async |mut walk| {
        walk.to("fire").await;
        let seen = walk.hand.now(here()).await.unwrap().version;
        walk.pass(181);
        let act = Act::Answer { step: "fire".to_owned(), answer: StepAnswer::Done };
        let terminal = TerminalId("t1".to_owned());
        let request = ActRequest { command_id: CommandId("late".to_owned()), terminal, seen: Some(seen), act };
        let refused = walk.hand.act(here(), request).await.unwrap_err();
        assert_eq!(refused.kind, ProblemKind::SeenIsOld);
        assert_eq!(walk.task().await.step.id, "extractor");
    });
}

#[test]
fn after_ten_minutes_the_list_begins_anew() {
    walked(async |mut walk| {
        walk.to("fire").await;
        walk.pass(120 + 601);
        let task = walk.task().await;
        assert_eq!((task.step.id.as_str(), task.number), ("red-button", 1));
        assert!(task.to_know, "no answer was wrong");
        let note = task.note.unwrap();
        assert!(note.contains("step 5") && note.contains("begins anew"), "{note}");
        // put down now, it is not taken up in its middle
        walk.act(Act::LeaveList).await.unwrap();
        walk.act(Act::BeginList { list: ListKind::Opening }).await.unwrap();
        assert_eq!(walk.task().await.number, 1);
    });
}

#[test]
fn what_the_machine_does_by_itself_asks_the_last_step_once_more() {
    walked(async |mut walk| {
        walk.to("fire").await;
        let why = "the cable was pulled".to_owned();
        walk.hand.report(Report::Down { why, at: None, epoch: Epoch::default() });
        walk.hand.woke().await;
        let task = walk.task().await;
        assert_eq!(task.step.id, "extractor");
        assert!(task.note.unwrap().starts_with("You stopped at step 5."));
        walk.answer().await;
        assert_eq!(walk.task().await.step.id, "fire");
    });
}

#[test]
fn a_corner_that_is_read_once_more_counts_in_place_of_what_was_read_there() {
    let mut shop = Workshop::new(20.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut owner = Operator::owner(&client);
    let corner = |now: &Now| {
        let task = now.task.as_ref().filter(|task| matches!(task.step.ask, Ask::Value { .. }))?;
        (task.list == ListKind::Securing).then(|| task.step.id.clone())
    };
    let first = owner.walk("the first corner", |_, now| corner(now).is_some());
    let step = corner(&first).unwrap();
    // inside what the card takes, and thicker than the sheet is
    let read = |step: &str, value: f64| {
        client.act(Act::Answer { step: step.to_owned(), answer: StepAnswer::Value { value } }).unwrap().now
    };
    let second = corner(&read(&step, 12.2)).unwrap();
    assert_ne!(second, step);
    client.act(Act::Trouble).unwrap();
    let back = client.until("the last finished step is asked once more", |now| corner(now).as_ref() == Some(&step));
    assert_eq!(back.sheet.unwrap().thickness, Some(Length::from_mm(12.2).unwrap()));
    let now = read(&step, 12.0);
    assert_eq!(corner(&now).as_ref(), Some(&second));
    assert_eq!(now.sheet.unwrap().thickness, Some(Length::whole_mm(12)), "what was misread counts no longer");
    shop.end();
}
