//! A desk with a list of events and nothing else.

use super::client::Client;
use crate::api::books::Books;
use crate::api::desk::{Sums, Unrolled};
use crate::api::{Answer, Caller, Desk, Door, Gate, Guest, Limits, Live, Token, Turned, serve};
use chargehand_types::act::{Act, ActAnswer, ActRequest};
use chargehand_types::bits::{BeginBit, BitList, MeasureBit, ScrapBit};
use chargehand_types::brought::{BringIn, BroughtIn};
use chargehand_types::change::CardChanges;
use chargehand_types::check::{CheckReport, CheckRequest, Drawing};
use chargehand_types::draft::{Draft, DraftRequest};
use chargehand_types::event::{Event, What};
use chargehand_types::history::{BitHistory, EffortHistory, HistoryQuery, RevisionHistory, SheetRecord};
use chargehand_types::holddown::{AirAnswer, AirRequest, HoldDownAnswer, HoldDownRequest};
use chargehand_types::id::{BatchId, BitNumber, CardName, Seq, SheetId};
use chargehand_types::notice::{Notices, NoticesTest};
use chargehand_types::now::Now;
use chargehand_types::people::{
    ChangePeople, MakeToken, PeopleChanged, PeopleList, RefusalKind, RefusalList, RevokeToken, TokenList, TokenMade,
};
use chargehand_types::plan::DayPlan;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::Tick;
use chargehand_types::queue::{
    AddBatch, AddCard, AddSets, BatchList, BatchRow, CancelBatch, CardList, CardShown, CountStock, Doctor, Done,
    MeasureFit, SheetList,
};
use chargehand_types::record::{CorrectSheet, LeftGone, LeftList, NameLot};
use chargehand_types::stage::Role;
use chargehand_types::upkeep::{UpkeepDone, UpkeepList};
use chrono::DateTime;
use serde_json::json;
use std::net::IpAddr;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use tempfile::TempDir;
use tokio::sync::{Notify, broadcast, mpsc, oneshot};
use tokio::task::JoinHandle;

pub const TOKEN: &str = "00112233";

/// The desk.
pub struct TestDesk {
    events: Mutex<Vec<Event>>,
    live: broadcast::Sender<Live>,
    pub callers: Mutex<Vec<Caller>>,
    pub ahead: Mutex<Vec<Act>>,
    pub refused: Mutex<Vec<(RefusalKind, String)>>,
    pub go_on: Notify,
    pub finished: Notify,
}

impl TestDesk {
    pub fn new(room: usize) -> Self {
        Self {
            events: Mutex::default(),
            live: broadcast::channel(room).0,
            callers: Mutex::default(),
            ahead: Mutex::default(),
            refused: Mutex::default(),
            go_on: Notify::new(),
            finished: Notify::new(),
        }
    }

    /// Stores an event, then publishes it, as the daemon does.
    pub fn happen(&self, text: &str) {
        let event = {
            let mut events = self.events.lock().unwrap();
            let event = event(events.len() as u64 + 1, text);
            events.push(event.clone());
            event
        };
        let _ = self.live.send(Live::Durable(Arc::new(event)));
    }

    /// Stores an event that is not published yet.
    pub fn store_only(&self, text: &str) {
        let mut events = self.events.lock().unwrap();
        let event = event(events.len() as u64 + 1, text);
        events.push(event);
    }

    pub fn tell(&self, live: Live) {
        let _ = self.live.send(live);
    }

    fn nothing<T>() -> Answer<T> {
        Err(Problem::new(ProblemKind::NotFound, "The desk of the tests has none."))
    }
}

pub fn event(seq: u64, text: &str) -> Event {
    Event {
        v: 1,
        seq: Seq(seq),
        id: format!("beef-{seq}"),
        command_id: None,
        at: DateTime::from_timestamp(1_780_000_000, 0).unwrap(),
        tick: Tick(seq),
        actor: None,
        terminal: None,
        sheet: None,
        what: What::LinkUp { note: text.to_owned() },
    }
}

impl Gate for TestDesk {
    async fn people(&self, _: Caller) -> Answer<PeopleList> {
        Self::nothing()
    }

    async fn change_people(&self, _: Caller, _: ChangePeople) -> Answer<PeopleChanged> {
        Self::nothing()
    }

    async fn tokens(&self, _: Caller) -> Answer<TokenList> {
        Self::nothing()
    }

    async fn make_token(&self, _: Caller, _: MakeToken) -> Answer<TokenMade> {
        Self::nothing()
    }

    async fn revoke_token(&self, _: Caller, _: String, _: RevokeToken) -> Answer<PeopleChanged> {
        Self::nothing()
    }

    async fn refusals(&self, _: Caller) -> Answer<RefusalList> {
        Self::nothing()
    }

    fn guest(&self, given: Option<&[u8]>, address: IpAddr, _: &str, _: bool) -> Result<Guest, Turned> {
        match given {
            Some(name @ (b"helper" | b"owner")) => {
                let role = if name == b"owner" { Role::Owner } else { Role::Helper };
                Ok(Guest { name: String::from_utf8_lossy(name).into_owned(), role, address })
            }
            Some(b"busy") => Err(Turned::TooMany(7)),
            _ => Err(Turned::BadToken),
        }
    }

    fn refused(&self, _: &Caller, kind: RefusalKind, asked: &str) {
        self.refused.lock().unwrap().push((kind, asked.to_owned()));
    }
}

impl Desk for TestDesk {
    async fn now(&self, _: Caller) -> Answer<Now> {
        Ok(now())
    }

    fn ahead(&self, _: &Caller, act: &ActRequest) {
        self.ahead.lock().unwrap().push(act.act.clone());
    }

    async fn act(&self, caller: Caller, act: ActRequest) -> Answer<ActAnswer> {
        self.callers.lock().unwrap().push(caller);
        Ok(ActAnswer { schema: 1, said: format!("{:?}", act.act), now: now() })
    }

    async fn check(&self, _: Caller, _: CheckRequest) -> Answer<CheckReport> {
        panic!("a fault of the program")
    }

    async fn draft_card(&self, _: Caller, request: DraftRequest) -> Answer<Draft> {
        let (name, findings) = (request.name, vec![]);
        Ok(Draft { schema: 1, name, text: String::new(), assumed: vec![], missing: vec![], findings })
    }

    async fn hold_down(&self, _: Caller, request: HoldDownRequest) -> Answer<HoldDownAnswer> {
        self.store_only(&format!("{} {}", request.files.file, request.at.len()));
        Self::nothing()
    }

    async fn add_card(&self, _: Caller, request: AddCard) -> Answer<Done> {
        self.finished.notify_one();
        self.go_on.notified().await;
        self.store_only(&request.files.file);
        self.finished.notify_one();
        Self::nothing()
    }

    async fn cards(&self, _: Caller) -> Answer<CardList> {
        Ok(CardList { schema: 1, cards: vec![] })
    }

    async fn card(&self, _: Caller, name: CardName, revision: Option<u32>) -> Answer<CardShown> {
        Err(Problem::new(ProblemKind::NotFound, format!("{name} {revision:?}")))
    }

    async fn card_changes(&self, _: Caller, _: CardName, _: Option<u32>) -> Answer<CardChanges> {
        Self::nothing()
    }

    async fn card_drawing(&self, _: Caller, _: CardName) -> Answer<Drawing> {
        Self::nothing()
    }

    async fn sheet_drawing(&self, _: Caller, _: SheetId) -> Answer<Drawing> {
        Self::nothing()
    }

    async fn sheet_air(&self, _: Caller, _: SheetId, _: AirRequest) -> Answer<AirAnswer> {
        Self::nothing()
    }

    async fn add_batch(&self, _: Caller, request: AddBatch) -> Answer<Done> {
        let said = format!("{} sheets of {}.", request.sheets, request.card);
        Ok(Done { schema: 1, said, id: None, revision: None, findings: vec![], changes: None })
    }

    async fn add_sets(&self, _: Caller, _: AddSets) -> Answer<Done> {
        Self::nothing()
    }

    async fn count_stock(&self, _: Caller, _: CountStock) -> Answer<Done> {
        Self::nothing()
    }

    async fn batches(&self, _: Caller) -> Answer<BatchList> {
        Self::nothing()
    }

    async fn batch(&self, _: Caller, _: BatchId) -> Answer<BatchRow> {
        Self::nothing()
    }

    async fn cancel_batch(&self, _: Caller, batch: BatchId, _: CancelBatch) -> Answer<Done> {
        Err(Problem::new(ProblemKind::NotNow, format!("{batch} is being cut.")))
    }

    async fn sheets(&self, _: Caller) -> Answer<SheetList> {
        Self::nothing()
    }

    async fn sheet(&self, _: Caller, _: SheetId) -> Answer<SheetRecord> {
        Self::nothing()
    }

    async fn effort_history(&self, _: Caller, _: HistoryQuery) -> Answer<EffortHistory> {
        Self::nothing()
    }

    async fn revision_history(&self, _: Caller, asked: HistoryQuery) -> Answer<RevisionHistory> {
        Err(Problem::new(ProblemKind::NotFound, format!("{asked:?}")))
    }

    async fn bit_history(&self, _: Caller, _: HistoryQuery) -> Answer<BitHistory> {
        Self::nothing()
    }

    async fn sums(&self, _: Caller) -> Answer<Sums> {
        Self::nothing()
    }

    async fn sheet_history(&self, _: Caller, asked: HistoryQuery) -> Answer<Unrolled> {
        let HistoryQuery { since, card, batch, bit, grade, newest } = asked;
        Err(Problem::new(ProblemKind::NotFound, format!("{since:?} {card:?} {batch:?} {bit:?} {grade:?} {newest:?}")))
    }

    async fn measure_fit(&self, _: Caller, _: SheetId, _: MeasureFit) -> Answer<Done> {
        Self::nothing()
    }

    async fn batch_report(&self, _: Caller, _: BatchId) -> Answer<chargehand_types::report::BatchReport> {
        Self::nothing()
    }

    async fn plan(&self, _: Caller, presence: Option<String>, sheets: Option<String>) -> Answer<DayPlan> {
        Err(Problem::new(ProblemKind::NotFound, format!("{presence:?} {sheets:?}")))
    }

    async fn doctor(&self, _: Caller) -> Answer<Doctor> {
        std::future::pending().await
    }

    async fn notices(&self, _: Caller) -> Answer<Notices> {
        Ok(Notices { schema: 1, ways: vec![], not_through: vec![] })
    }

    async fn try_notices(&self, _: Caller) -> Answer<NoticesTest> {
        Ok(NoticesTest { schema: 1, ways: vec![] })
    }

    async fn backup(&self, _: Caller) -> Answer<mpsc::Receiver<Vec<u8>>> {
        let (give, given) = mpsc::channel(4);
        for piece in [b"one ".to_vec(), b"two".to_vec()] {
            give.send(piece).await.unwrap();
        }
        Ok(given)
    }

    fn subscribe(&self) -> broadcast::Receiver<Live> {
        self.live.subscribe()
    }

    fn last_seq(&self) -> Seq {
        Seq(self.events.lock().unwrap().len() as u64)
    }

    async fn events_after(&self, seq: Seq, limit: usize) -> Answer<Vec<Event>> {
        tokio::task::yield_now().await;
        let events = self.events.lock().unwrap();
        let after = events.iter().filter(|e| e.seq > seq).take(limit);
        Ok(after.cloned().collect())
    }
}

pub fn now() -> Now {
    serde_json::from_value(json!({
        "schema": 1, "seq": 0, "version": 0, "at": "2026-05-28T20:26:40Z",
        "machine": {
            "name": "bench", "link": {"link": "opening"}, "practice": true, "rate": 1.0,
            "position_known": false, "zero_confirmed": false, "motion": "unknown", "at": null,
            "bit": null, "manual_spindle": true, "run_down_left": null, "red_button": "left"
        },
        "people": [], "sheet": null, "headline": "", "task": null, "actions": [], "waiting": 0,
        "next_sheet": null, "calls": [], "notices": []
    }))
    .unwrap()
}

impl Books for TestDesk {
    async fn correct_sheet(&self, _: Caller, _: SheetId, _: CorrectSheet) -> Answer<Done> {
        Self::nothing()
    }

    async fn name_lot(&self, _: Caller, _: SheetId, _: NameLot) -> Answer<Done> {
        Self::nothing()
    }

    async fn left(&self, _: Caller) -> Answer<LeftList> {
        Self::nothing()
    }

    async fn left_gone(&self, _: Caller, _: SheetId, _: LeftGone) -> Answer<Done> {
        Self::nothing()
    }

    async fn upkeep(&self, _: Caller) -> Answer<UpkeepList> {
        Self::nothing()
    }

    async fn upkeep_done(&self, _: Caller, _: String, _: UpkeepDone) -> Answer<Done> {
        Self::nothing()
    }

    async fn bring_in(&self, _: Caller, _: BringIn) -> Answer<BroughtIn> {
        Self::nothing()
    }

    async fn numbered_bits(&self, _: Caller) -> Answer<BitList> {
        Self::nothing()
    }

    async fn begin_bit(&self, _: Caller, _: BeginBit) -> Answer<Done> {
        Self::nothing()
    }

    async fn measure_bit(&self, _: Caller, _: BitNumber, _: MeasureBit) -> Answer<Done> {
        Self::nothing()
    }

    async fn scrap_bit(&self, _: Caller, _: BitNumber, _: ScrapBit) -> Answer<Done> {
        Self::nothing()
    }
}

/// The API being served to a test.
pub struct Served {
    pub desk: Arc<TestDesk>,
    pub socket: PathBuf,
    pub dir: TempDir,
    end: Option<oneshot::Sender<()>>,
    server: JoinHandle<()>,
}

impl Served {
    pub fn start(limits: Limits, room: usize) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let socket = dir.path().join("run").join("chargehand.sock");
        let door = Door::open(&socket).unwrap();
        let desk = Arc::new(TestDesk::new(room));
        let (end, ended) = oneshot::channel();
        let token = Token::of(TOKEN.to_owned());
        let serving = serve(door, Arc::clone(&desk), token, limits, async {
            let _ = ended.await;
        });
        let server = tokio::spawn(async { serving.await.unwrap() });
        Self { desk, socket, dir, end: Some(end), server }
    }

    pub async fn client(&self) -> Client {
        Client::connect(&self.socket).await
    }

    /// Asks it to end, without waiting.
    pub fn end(&mut self) {
        self.end.take().unwrap().send(()).unwrap();
    }

    pub async fn ended(self) -> TempDir {
        self.server.await.unwrap();
        self.dir
    }
}

/// With the usual limits.
pub fn served() -> Served {
    Served::start(Limits::default(), 1024)
}
