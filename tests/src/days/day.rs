//! One day from one seed: the real foreman, desk, store and link, the practice machine, people by rule, and what goes
//! wrong; in time that is set. After every turn the rules are looked at.
//!
//! May live here: the turn of a day, what goes wrong in it, its rules looked at. May not: what people do (`looking`).

use super::cable::Cable;
use super::chance::Chance;
use super::crew::{Crew, Person};
use super::mischief::{Kind, Mischief};
use super::rules::{Broken, Reader, acted_on_what_is, start_conditions};
use super::shop::Shop;
use chargehand_daemon::api::desk::Caller;
use chargehand_daemon::app::{ByHand, MachineClock, practice_machine};
use chargehand_daemon::link::wire::{Command, Report, TickSource};
use chargehand_types::act::{Act, ActRequest};
use chargehand_types::id::{CardName, CommandId, Seq, StageVersion, TerminalId};
use chargehand_types::now::Now;
use chargehand_types::problem::ProblemKind;
use chargehand_types::quantity::Tick;
use chargehand_types::queue::{AddBatch, AddCard};
use chargehand_types::stage::{Decision, Stage};
use std::collections::VecDeque;
use std::sync::Arc;

/// Turns a sheet may take, whatever goes wrong; a day that takes more hangs.
const TURNS_AT_MOST: u64 = 4_000;
/// And turns in which nobody may be there: some leave for an hour, while a held machine reports every second.
const TURNS_AWAY: u64 = 30_000;
/// Milliseconds that making room and starting the daemon anew takes.
const ROOM_MADE_MS: u64 = 20_000;
/// Rounds of bytes, reports and commands at one moment, and how many of the last are told when it takes more.
const ROUNDS_AT_MOST: u32 = 10_000;
const ROUNDS_SHOWN: u32 = 6;
/// Lines of the log kept.
const LOG_KEPT: usize = 16;

/// What came of a day.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Told {
    /// Sheets closed.
    pub closed: u64,
    /// Sheets set aside at least once and not taken up again.
    pub aside: u64,
    /// Turns.
    pub turns: u64,
    /// Machine seconds.
    pub seconds: u64,
    /// Acts done.
    pub done: u64,
    /// Acts refused.
    pub refused: u64,
    /// Things that went wrong.
    pub mischief: u64,
    /// Times the daemon was killed.
    pub kills: u64,
    /// Times the disk was full.
    pub full: u64,
    /// Times somebody switched the controller off and on.
    pub switched: u64,
    /// Events in the store.
    pub events: u64,
    /// Bytes to the machine.
    pub bytes: u64,
    /// Times the cut of an operation began.
    pub begun: u64,
    /// Turn in which the first of them began.
    pub first_begun: u64,
    /// Times the helper fetched the owner.
    pub fetched: u64,
    /// Acts that came too late: somebody else was quicker, or things moved on.
    pub late: u64,
    /// Times a stopped operation went on at a line.
    pub gone_on: u64,
    /// Times a held bit was raised.
    pub raised: u64,
}

impl Told {
    /// Adds another day's.
    pub const fn add(&mut self, other: &Self) {
        self.closed += other.closed;
        self.aside += other.aside;
        self.turns += other.turns;
        self.seconds += other.seconds;
        self.done += other.done;
        self.refused += other.refused;
        self.mischief += other.mischief;
        self.kills += other.kills;
        self.full += other.full;
        self.switched += other.switched;
        self.events += other.events;
        self.bytes += other.bytes;
        self.begun += other.begun;
        if self.first_begun == 0 {
            self.first_begun = other.first_begun;
        }
        self.fetched += other.fetched;
        self.late += other.late;
        self.gone_on += other.gone_on;
        self.raised += other.raised;
    }
}

/// A day as it is lived.
pub(super) struct Day<'s> {
    shop: &'s Shop,
    pub(super) crew: Crew,
    pub(super) people: Vec<Person>,
    pub(super) clock: Arc<MachineClock>,
    hand: Option<ByHand>,
    pub(super) cable: Option<Cable>,
    pub(super) chance: Chance,
    reader: Reader,
    answered: Vec<CommandId>,
    commands: u64,
    due: Option<Tick>,
    /// When somebody makes room on a disk that is full.
    pub(super) full_until: Option<Tick>,
    pub(super) silent_since: Option<Tick>,
    pub(super) homes: u32,
    pub(super) undone: u32,
    pub(super) wrong_next: bool,
    sends_twice: bool,
    stops_late: bool,
    /// The wall clock jumped since the last act.
    jumped: bool,
    old: Option<(StageVersion, Act)>,
    pub(super) told: Told,
    /// The last things that were done, for whoever looks into a broken rule.
    log: VecDeque<String>,
}

/// Lives one day. Where a rule breaks, tells which and when.
///
/// # Errors
/// The first rule broken.
pub async fn live(shop: &Shop, crew: Crew, seed: u64, sheets: u32, mischief: &[Mischief]) -> Result<Told, Broken> {
    shop.make_room();
    shop.empty();
    let clock = Arc::new(MachineClock::by_hand(chrono::DateTime::from_timestamp(1_800_000_000, 0).unwrap_or_default()));
    let mut day = Day {
        shop,
        crew,
        people: crew.people(),
        hand: None,
        cable: None,
        chance: Chance::of(seed),
        reader: Reader::default(),
        answered: Vec::new(),
        commands: 0,
        due: None,
        full_until: None,
        silent_since: None,
        homes: 0,
        undone: 0,
        wrong_next: false,
        sends_twice: false,
        stops_late: false,
        jumped: false,
        old: None,
        told: Told::default(),
        log: VecDeque::new(),
        clock,
    };
    let lived = day.live(sheets, mischief).await;
    let at = (day.told.turns, day.clock.now().0 / 1_000_000);
    if let Some(hand) = day.hand.take() {
        hand.kill().await;
    }
    let log = day.log.into_iter().collect::<Vec<_>>().join("\n  ");
    lived.map_err(|why| format!("turn {}, second {}: {why}\nbefore it:\n  {log}", at.0, at.1))?;
    Ok(day.told)
}

impl Day<'_> {
    async fn live(&mut self, sheets: u32, mischief: &[Mischief]) -> Result<(), Broken> {
        self.open().await?;
        let machine = practice_machine(&self.shop.premises, self.clock.now());
        self.cable = Some(Cable::open(Arc::clone(&self.shop.premises.profile), machine, self.clock.now()));
        self.queue(sheets).await?;
        let mut mischief = mischief.iter().peekable();
        loop {
            while let Some(m) = mischief.next_if(|m| m.turn <= self.told.turns) {
                self.told.mischief += 1;
                self.goes_wrong(m.kind).await?;
            }
            if self.full_until.is_some_and(|t| t <= self.clock.now()) {
                self.kill(ROOM_MADE_MS, false).await?;
            }
            self.settle().await?;
            if self.look().await? {
                break;
            }
            self.settle().await?;
            self.forward();
            self.told.turns += 1;
            if self.told.turns > TURNS_AT_MOST * u64::from(sheets) + TURNS_AWAY {
                let now = self.now().await?;
                return Err(format!("the day does not end: {}", serde_json::to_string(&now).unwrap_or_default()));
            }
        }
        self.compare().await?;
        self.ended(sheets)
    }

    fn hand(&self) -> Result<&ByHand, Broken> {
        self.hand.as_ref().ok_or_else(|| "no daemon runs".to_owned())
    }

    async fn open(&mut self) -> Result<(), Broken> {
        let opened = self.shop.open(&self.clock).await?;
        self.hand = Some(opened);
        Ok(())
    }

    pub(super) async fn now(&self) -> Result<Now, Broken> {
        self.hand()?.now(here("t1")).await.map_err(|p| format!("no answer: {p}"))
    }

    fn fresh(&mut self) -> CommandId {
        self.commands += 1;
        CommandId(format!("d-{}", self.commands))
    }

    async fn queue(&mut self, sheets: u32) -> Result<(), Broken> {
        let add = AddCard { command_id: self.fresh(), files: self.shop.card.clone() };
        let batch = AddBatch {
            command_id: self.fresh(),
            card: CardName::from(crate::workshop::CARD),
            sheets,
            due: None,
            weight: None,
        };
        self.answered.extend([add.command_id.clone(), batch.command_id.clone()]);
        let hand = self.hand()?;
        hand.add_card(here("t1"), add).await.map_err(|p| format!("adding the card: {p}"))?;
        hand.add_batch(here("t1"), batch).await.map_err(|p| format!("adding the batch: {p}"))?;
        hand.plan(here("t1")).await.map_err(|p| format!("planning: {p}"))?;
        Ok(())
    }

    /// Bytes, reports and commands go round until all is quiet at this moment.
    async fn settle(&mut self) -> Result<(), Broken> {
        let now = self.clock.now();
        for round in 0..ROUNDS_AT_MOST {
            let watched = self.shop.watch_from.is_some_and(|turn| turn <= self.told.turns);
            let shown = watched || round + ROUNDS_SHOWN >= ROUNDS_AT_MOST;
            let mut heard = Vec::new();
            let Some(cable) = &mut self.cable else { return Ok(()) };
            cable.pass(now);
            let told: Vec<_> = std::iter::from_fn(|| cable.told()).collect();
            let over = told.iter().any(|r| matches!(r, Report::Finished(_)));
            if over && std::mem::take(&mut self.stops_late) {
                self.press(Act::Stop, here("t2")).await?;
            }
            let (Some(hand), Some(cable)) = (&self.hand, &mut self.cable) else { return Ok(()) };
            let mut some = false;
            for report in told {
                if shown {
                    heard.push(format!("told: {report:?}"));
                }
                hand.report(report);
                some = true;
            }
            if some || self.due.is_some_and(|t| t <= now) {
                self.due = hand.woke().await;
            }
            let mut begins = false;
            while let Some(command) = hand.command() {
                if shown {
                    heard.push(format!("commanded: {command:?}"));
                }
                begins |= matches!(command, Ok(Command::Begin(_)));
                cable.command(now, command);
                some = true;
            }
            if let Some(line) = cable.uninvited.first() {
                return Err(format!("{line:?} was written, and nothing was allowed to move"));
            }
            heard.into_iter().for_each(|what| self.note(what));
            if begins {
                self.told.begun += 1;
                if self.told.begun == 1 {
                    self.told.first_begun = self.told.turns;
                }
                start_conditions(&self.now().await?)?;
            }
            if !some {
                return Ok(());
            }
        }
        Err("it never comes to rest".to_owned())
    }

    fn forward(&mut self) {
        let now = self.clock.now();
        let cable = self.cable.as_ref().map_or(Tick(u64::MAX), Cable::next);
        let due = self.due.unwrap_or(Tick(u64::MAX));
        let room = self.full_until.unwrap_or(Tick(u64::MAX));
        let look = self.people.iter().map(|p| p.look_at).min().unwrap_or(Tick(u64::MAX));
        let next = cable.min(due).min(room).min(look);
        self.clock.set(Tick(next.0.max(now.0 + 1000)));
        self.told.seconds = self.clock.now().0 / 1_000_000;
    }

    pub(super) async fn do_act(&mut self, who: usize, (now, stands): (&Now, &Now), act: Act) -> Result<(), Broken> {
        let terminal = self.people.get(who).map_or("t1", |p| p.terminal);
        let request = ActRequest {
            command_id: self.fresh(),
            terminal: TerminalId(terminal.to_owned()),
            seen: Some(now.version),
            act: act.clone(),
        };
        self.homes = match act {
            Act::Home => self.homes + 1,
            _ if now.machine.position_known => 0,
            _ => self.homes,
        };
        self.undone += u32::from(now.notices.iter().any(|n| n.contains("was not done")));
        self.old = Some((now.version, act.clone()));
        let told = self.ask(here(terminal), request.clone()).await?;
        if told {
            acted_on_what_is(now, stands, &act)?;
        }
        if told && std::mem::take(&mut self.sends_twice) {
            let before = self.hand()?.seq();
            self.ask(here(terminal), request).await?;
            let after = self.hand()?.seq();
            if before != after {
                return Err(format!("a command sent twice was written twice: {before}, then {after}"));
            }
        }
        Ok(())
    }

    /// Whether it was done.
    async fn ask(&mut self, caller: Caller, request: ActRequest) -> Result<bool, Broken> {
        let (command, act) = (request.command_id.clone(), request.act.clone());
        let (before, jumped) = (self.hand()?.seq(), std::mem::take(&mut self.jumped));
        match self.hand()?.act(caller, request).await {
            Ok(_) => {
                self.told.done += 1;
                self.told.raised += u64::from(act == Act::Raise);
                self.told.gone_on += u64::from(matches!(act, Act::Decide { decision: Decision::ReEnter, .. }));
                self.note(format!("{act:?}"));
                // one that changes nothing that is kept writes nothing
                if self.hand()?.seq() != before && (!jumped || self.is_told(before, &command).await?) {
                    self.answered.push(command);
                }
                Ok(true)
            }
            Err(p) if p.kind == ProblemKind::OurFault => Err(format!("our fault: {p}")),
            Err(p) => {
                self.told.refused += 1;
                self.told.late += u64::from(p.kind == ProblemKind::SeenIsOld);
                self.note(format!("{act:?} was refused: {p}"));
                Ok(false)
            }
        }
    }

    /// Whether a command is told of by what was written since; a wall clock that jumped has lists fall due by themselves.
    async fn is_told(&self, since: Seq, command: &CommandId) -> Result<bool, Broken> {
        let events = self.hand()?.events_after(since).await.map_err(|e| e.to_string())?;
        Ok(events.iter().any(|e| e.command_id.as_ref() == Some(command)))
    }

    pub(super) fn note(&mut self, what: String) {
        if self.shop.watch_from.is_some_and(|turn| turn <= self.told.turns) {
            eprintln!("turn {}, second {}: {what}", self.told.turns, self.clock.now().0 / 1_000_000);
        }
        if self.log.len() >= LOG_KEPT {
            self.log.pop_front();
        }
        self.log.push_back(format!("turn {}, second {}: {what}", self.told.turns, self.clock.now().0 / 1_000_000));
    }

    async fn goes_wrong(&mut self, kind: Kind) -> Result<(), Broken> {
        self.note(format!("{kind:?}"));
        let at = self.clock.now();
        match kind {
            Kind::Machine(fault) => {
                if let Some(cable) = &mut self.cable {
                    cable.machine.befall(at, fault);
                }
            }
            Kind::Cable(ms) => {
                if let Some(cable) = &mut self.cable {
                    cable.pull(at, Some(at.after_ms(ms)));
                }
            }
            Kind::Kill(ms) => self.kill(ms, false).await?,
            Kind::FullDisk(ms) => {
                if self.shop.fill_disk(&mut self.chance) {
                    self.told.full += 1;
                    self.full_until = Some(at.after_ms(ms));
                }
            }
            Kind::KillTorn => self.kill(1000, true).await?,
            Kind::Clock(minutes) => {
                self.jumped = true;
                self.clock.shift_wall(chrono::Duration::minutes(minutes));
            }
            Kind::Leaves(seconds) => {
                self.press(Act::SignOut, here("t1")).await?;
                self.people.first_mut().into_iter().for_each(|p| p.is_away_until(at.after_ms(seconds * 1000)));
            }
            Kind::WalksOff(seconds) => {
                self.people.last_mut().into_iter().for_each(|p| p.is_away_until(at.after_ms(seconds * 1000)));
            }
            Kind::Dawdles(seconds) => {
                self.people.iter_mut().for_each(|p| p.dawdles_until(at.after_ms(seconds * 1000)));
            }
            Kind::WrongAnswer => self.wrong_next = true,
            Kind::Hold => self.press(Act::Hold, here("t1")).await?,
            Kind::HoldAtLift => self.press(Act::HoldAtLift, here("t2")).await?,
            Kind::Stop => self.press(Act::Stop, here("t2")).await?,
            Kind::LateStop => self.stops_late = true,
            Kind::Trouble => self.press(Act::Trouble, here("t1")).await?,
            Kind::Twice => self.sends_twice = true,
            Kind::AfarStart => self.afar_start().await?,
            Kind::OldScreen => self.old_screen().await?,
        }
        Ok(())
    }

    pub(super) async fn press(&mut self, act: Act, caller: Caller) -> Result<(), Broken> {
        let seen = self.now().await?.version;
        let terminal = caller.terminal.clone().unwrap_or_else(|| TerminalId("t1".to_owned()));
        let request = ActRequest { command_id: self.fresh(), terminal, seen: Some(seen), act };
        self.ask(caller, request).await.map(|_| ())
    }

    async fn afar_start(&mut self) -> Result<(), Broken> {
        for act in [Act::CycleStart, Act::Home, Act::Resume, Act::Raise] {
            let seen = self.now().await?.version;
            let caller = Caller::default();
            let terminal = TerminalId("afar".to_owned());
            let request = ActRequest { command_id: self.fresh(), terminal, seen: Some(seen), act };
            if self.ask(caller, request.clone()).await? {
                return Err(format!("{:?} was done from afar", request.act));
            }
        }
        Ok(())
    }

    async fn old_screen(&mut self) -> Result<(), Broken> {
        let Some((seen, act)) = self.old.clone() else { return Ok(()) };
        if self.now().await?.version == seen || matches!(act, Act::SignIn { .. }) || act.always_open() {
            return Ok(());
        }
        let terminal = TerminalId("t2".to_owned());
        let request = ActRequest { command_id: self.fresh(), terminal, seen: Some(seen), act };
        if self.ask(here("t2"), request.clone()).await? {
            return Err(format!("{:?} was done on an old screen", request.act));
        }
        Ok(())
    }

    async fn kill(&mut self, ms: u64, torn: bool) -> Result<(), Broken> {
        self.told.kills += 1;
        if let Some(hand) = self.hand.take() {
            hand.kill().await;
        }
        // nobody starts it on a disk that is full
        if self.full_until.take().is_some() {
            self.shop.make_room();
        }
        if torn {
            self.shop.tear(&mut self.chance);
        }
        self.clock.set(self.clock.now().after_ms(ms));
        self.due = None;
        self.open().await?;
        let at = self.clock.now();
        let profile = Arc::clone(&self.shop.premises.profile);
        self.cable = self.cable.take().map(|c| c.opened_anew(profile, at));
        self.compare().await
    }

    /// Reads the store from the disk: the rules, everything answered is there, and the fold is the one that is shown.
    async fn compare(&mut self) -> Result<(), Broken> {
        let after = Seq(self.reader.events);
        let hand = self.hand.as_ref().ok_or_else(|| "no daemon runs".to_owned())?;
        hand.woke().await;
        let events = hand.events_after(after).await.map_err(|e| e.to_string())?;
        let shown = hand.fold();
        self.reader.read(&events)?;
        if let [first, ..] = self.reader.missing(self.answered.iter()).as_slice() {
            return Err(format!("{first} was answered and is not in the store"));
        }
        if shown != self.reader.fold {
            return Err("what is shown is not what the store tells".to_owned());
        }
        Ok(())
    }

    fn ended(&mut self, sheets: u32) -> Result<(), Broken> {
        let (closed, aside) = (self.reader.ended(Stage::Closed), self.reader.ended(Stage::SetAside));
        if closed + aside != sheets as usize || !self.reader.unfinished().is_empty() {
            let left = self.reader.unfinished();
            return Err(format!("{closed} sheets closed, {aside} aside, of {sheets}; under way: {left:?}"));
        }
        (self.told.closed, self.told.aside) = (closed as u64, aside as u64);
        self.told.events = self.reader.events;
        self.told.bytes = self.cable.as_ref().map_or(0, |c| c.written);
        Ok(())
    }
}

/// Somebody at the machine.
pub(super) fn here(terminal: &str) -> Caller {
    let peer_uid = Some(rustix::process::geteuid().as_raw());
    Caller { peer_uid, token_ok: true, terminal: Some(TerminalId(terminal.to_owned())), ..Caller::default() }
}
