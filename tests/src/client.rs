//! A client of the daemon: typed questions and acts, with or without the terminal's token.
//!
//! May live here: asking and waiting for an answer or a state. May not: deciding what to do next.

use crate::events::EventStream;
use crate::http;
use base64::Engine as _;
use chargehand_types::act::{Act, ActAnswer, ActRequest};
use chargehand_types::check::CardFiles;
use chargehand_types::event::Event;
use chargehand_types::history::{SheetHistory, SheetRecord};
use chargehand_types::id::{CardName, CommandId, StageVersion, TerminalId};
use chargehand_types::now::{MachineNow, Now};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::queue::{AddBatch, AddCard, CardList, Done};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::collections::BTreeMap;
use std::io;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// A state that is waited for must come within this.
pub const COMES_WITHIN: Duration = Duration::from_secs(60);
/// Between two looks.
const LOOK_EVERY: Duration = Duration::from_millis(10);
/// Times that an act is tried against a newer state.
const LOOKS_AGAIN: u32 = 5;
/// Between two looks for a card whose check takes minutes, and how many of them.
const LONG_LOOK: Duration = Duration::from_secs(1);
const LONG_LOOKS: u32 = 1200;

/// Whether the terminal's token is sent along.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Token {
    /// As the terminal at the machine does.
    Shown,
    /// As any other program does.
    NotShown,
}

/// A client.
#[derive(Debug, Clone)]
pub struct Client {
    socket: PathBuf,
    token: String,
}

/// A command id that no other command of this run has.
#[must_use]
pub fn fresh() -> CommandId {
    static NEXT: AtomicU64 = AtomicU64::new(1);
    let n = NEXT.fetch_add(1, Ordering::Relaxed);
    CommandId(format!("c-{}-{n}", std::process::id()))
}

impl Client {
    /// For a socket, with the token that lies beside it.
    ///
    /// # Errors
    /// When the token cannot be read.
    pub fn at(socket: &Path) -> io::Result<Self> {
        let token = std::fs::read_to_string(socket.with_file_name("terminal-token"))?;
        Ok(Self { socket: socket.to_owned(), token: token.trim().to_owned() })
    }

    /// One request: the status and the body as JSON.
    ///
    /// # Errors
    /// When the daemon does not answer.
    pub fn ask(&self, method: &str, path: &str, body: Option<&Value>, token: Token) -> io::Result<(u16, Value)> {
        let headers = match token {
            Token::Shown => vec![("chargehand-token", self.token.as_str())],
            Token::NotShown => Vec::new(),
        };
        let body = body.map(|b| serde_json::to_vec(b).unwrap());
        let answer = http::send(&self.socket, method, path, &headers, body.as_deref())?;
        let status = answer.status;
        let text = answer.whole()?;
        let value = serde_json::from_str(&text).unwrap_or(Value::String(text));
        Ok((status, value))
    }

    fn typed<T: DeserializeOwned>(&self, method: &str, path: &str, body: Option<&Value>, token: Token) -> Told<T> {
        let (status, value) = self.ask(method, path, body, token).unwrap_or_else(|e| panic!("{method} {path}: {e}"));
        if status == 200 {
            return Ok(
                serde_json::from_value(value.clone()).unwrap_or_else(|e| panic!("{method} {path}: {e}: {value}"))
            );
        }
        let problem: Problem =
            serde_json::from_value(value.clone()).unwrap_or_else(|e| panic!("{method} {path}: {status} {e}: {value}"));
        assert_eq!(problem.status, status, "{method} {path}: the problem names the status it came with");
        Err(problem)
    }

    /// A question.
    ///
    /// # Errors
    /// The daemon's problem.
    pub fn get<T: DeserializeOwned>(&self, path: &str) -> Told<T> {
        self.typed("GET", path, None, Token::Shown)
    }

    /// Something to be taken in.
    ///
    /// # Errors
    /// The daemon's problem.
    pub fn post<T: DeserializeOwned>(&self, path: &str, body: &impl Serialize) -> Told<T> {
        self.typed("POST", path, Some(&serde_json::to_value(body).unwrap()), Token::Shown)
    }

    /// How things stand.
    #[must_use]
    pub fn now(&self) -> Now {
        self.get("/v1/now").unwrap_or_else(|p| panic!("now: {p}"))
    }

    /// The machine, as it stands.
    #[must_use]
    pub fn machine(&self) -> MachineNow {
        self.now().machine
    }

    /// An act against how things stand now, from the terminal at the machine. When something else happens between
    /// the look and the act, it looks again.
    ///
    /// # Errors
    /// The daemon's problem.
    pub fn act(&self, act: Act) -> Told<ActAnswer> {
        for _ in 0..LOOKS_AGAIN {
            match self.act_seen(self.now().version, act.clone()) {
                Err(problem) if problem.kind == ProblemKind::SeenIsOld => {}
                answer => return answer,
            }
        }
        self.act_seen(self.now().version, act)
    }

    /// A hold over a connection that is there already: whether it was taken.
    ///
    /// # Errors
    /// When the daemon does not answer.
    pub fn hold_on(&self, connection: UnixStream) -> io::Result<bool> {
        let (command_id, terminal) = (fresh(), TerminalId::from("test"));
        let request = ActRequest { command_id, terminal, seen: None, act: Act::Hold };
        let body = serde_json::to_vec(&request)?;
        let headers = [("chargehand-token", self.token.as_str())];
        let answer = http::send_on(connection, "POST", "/v1/acts", &headers, Some(&body))?;
        let taken = answer.status == 200;
        answer.whole().map(|_| taken)
    }

    /// A connection for [`Client::hold_on`].
    ///
    /// # Errors
    /// When nobody is there.
    pub fn connection(&self) -> io::Result<UnixStream> {
        UnixStream::connect(&self.socket)
    }

    /// An act that waits for no look: a hold, a stop, a note.
    ///
    /// # Errors
    /// The daemon's problem.
    pub fn act_at_once(&self, act: Act) -> Told<ActAnswer> {
        let request = ActRequest { command_id: fresh(), terminal: TerminalId::from("test"), seen: None, act };
        self.typed("POST", "/v1/acts", Some(&serde_json::to_value(request).unwrap()), Token::Shown)
    }

    /// An act against what was seen earlier.
    ///
    /// # Errors
    /// The daemon's problem.
    pub fn act_seen(&self, seen: StageVersion, act: Act) -> Told<ActAnswer> {
        self.act_with(fresh(), seen, act, Token::Shown)
    }

    /// An act with everything said.
    ///
    /// # Errors
    /// The daemon's problem.
    pub fn act_with(&self, command_id: CommandId, seen: StageVersion, act: Act, token: Token) -> Told<ActAnswer> {
        let request = ActRequest { command_id, terminal: TerminalId::from("test"), seen: Some(seen), act };
        self.typed("POST", "/v1/acts", Some(&serde_json::to_value(request).unwrap()), token)
    }

    /// Adds a card with its programs as they lie on the disk.
    ///
    /// # Errors
    /// The daemon's problem.
    pub fn add_card(&self, card: &Path) -> Told<Done> {
        self.post("/v1/cards", &AddCard { command_id: fresh(), files: files(card) })
    }

    /// Adds a shop's first card, whose check may take longer than anybody waits for an answer: looks until it is there.
    pub fn add_long_card(&self, card: &Path) {
        let request = AddCard { command_id: fresh(), files: files(card) };
        let body = serde_json::to_value(&request).unwrap_or_else(|e| panic!("{e}"));
        // no answer in time is no failure
        let _ = self.ask("POST", "/v1/cards", Some(&body), Token::Shown);
        let there = || self.get::<CardList>("/v1/cards").is_ok_and(|list| !list.cards.is_empty());
        let mut looks = 0;
        while !there() {
            assert!(looks < LONG_LOOKS, "the card is not added");
            looks += 1;
            std::thread::sleep(LONG_LOOK);
        }
    }

    /// Adds a batch.
    ///
    /// # Errors
    /// The daemon's problem.
    pub fn add_batch(&self, card: &str, sheets: u32) -> Told<Done> {
        let request = AddBatch { command_id: fresh(), card: CardName::from(card), sheets, due: None, weight: None };
        self.post("/v1/batches", &request)
    }

    /// The record of one sheet.
    #[must_use]
    pub fn sheet(&self, id: &str) -> SheetRecord {
        self.get(&format!("/v1/sheets/{id}")).unwrap_or_else(|p| panic!("sheet {id}: {p}"))
    }

    /// The history.
    #[must_use]
    pub fn history(&self) -> SheetHistory {
        self.get("/v1/history/sheets").unwrap_or_else(|p| panic!("history: {p}"))
    }

    /// The event stream after an event, or from now on.
    #[must_use]
    pub fn events(&self, since: Option<u64>) -> EventStream {
        let path = since.map_or_else(|| "/v1/events".to_owned(), |s| format!("/v1/events?since={s}"));
        let answer = http::send(&self.socket, "GET", &path, &[], None).unwrap_or_else(|e| panic!("GET {path}: {e}"));
        assert_eq!(answer.status, 200, "GET {path}");
        EventStream::of(answer)
    }

    /// Every event so far.
    #[must_use]
    pub fn all_events(&self) -> Vec<Event> {
        let last = self.now().seq;
        let mut stream = self.events(Some(0));
        let mut events = Vec::new();
        while events.last().is_none_or(|e: &Event| e.seq < last) {
            events.push(stream.next_event());
        }
        events
    }

    /// Waits until things stand so; panics with how they stood when they do not come to.
    pub fn until(&self, what: &str, mut so: impl FnMut(&Now) -> bool) -> Now {
        let begun = Instant::now();
        loop {
            let now = self.now();
            if so(&now) {
                return now;
            }
            if begun.elapsed() > COMES_WITHIN {
                panic!("it never came to this: {what}\n{}", serde_json::to_string_pretty(&now).unwrap());
            }
            sleep(LOOK_EVERY);
        }
    }
}

/// An answer, or the daemon's problem.
pub type Told<T> = Result<T, Problem>;

/// A card and the programs it names, read from where they lie. A program that is not there is left out.
#[must_use]
pub fn files(card: &Path) -> CardFiles {
    let text = std::fs::read_to_string(card).unwrap_or_else(|e| panic!("{}: {e}", card.display()));
    let folder = card.parent().unwrap_or_else(|| Path::new("."));
    let named = text.lines().filter_map(|l| l.strip_prefix("program = \"")?.strip_suffix('"'));
    let programs: BTreeMap<String, String> = named
        .filter_map(|p| {
            let bytes = std::fs::read(folder.join(p)).ok()?;
            Some((p.to_owned(), base64::engine::general_purpose::STANDARD.encode(bytes)))
        })
        .collect();
    let file = card.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    CardFiles { file, text, programs }
}
