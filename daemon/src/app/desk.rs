//! The desk of the API: answers from the fold, and brings acts to the foreman. Hold and stop go to the line first.

use super::acted::Acted;
use super::cards;
use super::doctor;
use super::drafts;
use super::foreman::{Ahead, Errand, Shared};
use super::judging::JudgedWith;
use super::numbered::{bits_used, stores_now};
use super::planning;
use super::planning::wares::stock_for;
use super::premises::Premises;
use super::revisions::{self, Numbered};
use super::tried;
use super::work::JudgedCard;
use crate::api::desk::{Answer, Caller, Desk, Live, Sums, Unrolled};
use crate::findings::Bench;
use crate::ledger::{Draft, Ledger, State as Fold};
use crate::link::wire::{Command, TickSource};
use crate::notices::Teller;
use crate::serial::Line;
use crate::shop::config::Port;
use chargehand_types::SCHEMA;
use chargehand_types::act::{Act, ActAnswer, ActRequest};
use chargehand_types::change::CardChanges;
use chargehand_types::check::{CheckReport, CheckRequest, Drawing};
use chargehand_types::draft::{Draft as CardDraft, DraftRequest};
use chargehand_types::event::{Event, StoredProgram, What};
use chargehand_types::finding::Severity;
use chargehand_types::history::{BitHistory, EffortHistory, HistoryQuery, RevisionHistory, SheetRecord};
use chargehand_types::holddown::{AirAnswer, AirRequest, HoldDownAnswer, HoldDownRequest};
use chargehand_types::id::{BatchId, CardName, CommandId, Revision, Seq, SheetId};
use chargehand_types::notice::{Notices, NoticesTest};
use chargehand_types::now::Now;
use chargehand_types::plan::DayPlan;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::Seconds;
use chargehand_types::queue::{
    AddBatch, AddCard, AddSets, BatchList, BatchRow, CancelBatch, CardList, CardRow, CardShown, CountStock, Doctor,
    Done, MeasureFit, SheetList,
};
use chargehand_types::report::BatchReport;
use chrono::Utc;
use std::collections::BTreeMap;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::{broadcast, mpsc, oneshot};

/// Judged cards kept, so that lists need not judge anew.
const JUDGED_KEPT: usize = 64;
/// First answers remembered.
const FIRST_KEPT: usize = 1024;
/// Sheets one batch may have.
pub(super) const SHEETS_AT_MOST: u32 = 500;

/// The desk.
pub struct FrontDesk {
    /// Errands for the foreman.
    pub errands: mpsc::UnboundedSender<Errand>,
    /// What all read.
    pub shared: Arc<Shared>,
    /// The files of the shop.
    pub premises: Arc<Premises>,
    /// The machine as a check needs it.
    pub bench: Bench,
    /// The store.
    pub ledger: Ledger,
    /// The line to the controller.
    pub line: Arc<Line>,
    /// Machine time.
    pub clock: Arc<dyn TickSource>,
    /// Holds and stops brought to the line already, by their command.
    pub acted: Mutex<Acted>,
    /// First answers of commands that were written down.
    pub first: Mutex<BTreeMap<CommandId, Done>>,
    /// Held while a batch gets its number and is written down.
    pub numbering: tokio::sync::Mutex<()>,
    /// Cards judged lately.
    pub judged: Mutex<BTreeMap<Revision, Arc<JudgedCard>>>,
    /// The drawings asked for last.
    pub drawings: super::drawings::Kept,
    /// What the sheet asked about last sweeps.
    pub airs: Arc<super::air::Kept>,
    /// Who is told outside the shop.
    pub teller: Teller,
    /// The plan made last.
    pub planned: tokio::sync::Mutex<Option<planning::Kept>>,
}

pub(super) fn gone() -> Problem {
    Problem::new(ProblemKind::OurFault, "the daemon is ending")
}

impl FrontDesk {
    pub(super) fn fold<T>(&self, read: impl FnOnce(&Fold) -> T) -> Answer<T> {
        self.shared.fold.read().map(|f| read(&f)).map_err(|_| gone())
    }

    pub(super) fn send(&self, errand: Errand) -> Answer<()> {
        self.errands.send(errand).map_err(|_| gone())
    }

    /// Hold and stop act first and are written after.
    fn act_first(&self, caller: &Caller, request: &ActRequest) {
        let command = match Ahead::of(&request.act, caller) {
            Some(Ahead::Hold) => Command::Hold,
            Some(Ahead::Lift) => Command::HoldAtLift,
            Some(Ahead::Stop) => Command::Stop,
            None => return,
        };
        // a repeated command does nothing twice
        if self.acted.lock().unwrap_or_else(PoisonError::into_inner).is_new(&request.command_id) {
            self.line.command(command);
        }
    }

    /// A stored revision, judged.
    pub(super) async fn judged(&self, name: &CardName, number: Option<u32>) -> Answer<Arc<JudgedCard>> {
        let found = self.fold(|f| {
            let card = f.card(name)?;
            let revision = match number {
                Some(n) => card.numbered(n),
                None => card.newest(),
            }?;
            Some((revision.revision.clone(), revision.text.clone(), revision.programs.clone(), bits_used(f)))
        })?;
        let Some((revision, text, stored, used)) = found else {
            let what = number.map_or_else(String::new, |n| format!(" revision {n}"));
            return Err(Problem::new(ProblemKind::NotFound, format!("There is no card `{name}`{what} in the shop.")));
        };
        if let Some(kept) = self.judged.lock().unwrap_or_else(PoisonError::into_inner).get(&revision) {
            return Ok(Arc::clone(kept));
        }
        let card = crate::shop::card::read(&format!("{name}.card.toml"), &text, &self.premises.stores)
            .map_err(|f| Problem::new(ProblemKind::Malformed, crate::shop::fault::told(&f)))?;
        let mut bytes = BTreeMap::new();
        for program in &stored {
            let found = self.ledger.program(&program.sha256).await;
            bytes.insert(
                program.path.clone(),
                found.map_err(|e| Problem::new(ProblemKind::MissingOrBusy, e.to_string()))?,
            );
        }
        let stores = self.premises.stores.clone();
        let with = JudgedWith::to(&card, self.bench.clone(), None, used, stores);
        let judged = cards::judge(&self.premises, card, bytes, with).await?;
        let judged = JudgedCard::shelved(judged, &self.ledger, &stored);
        let mut kept = self.judged.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.len() >= JUDGED_KEPT {
            kept.pop_first();
        }
        kept.insert(revision, Arc::clone(&judged));
        Ok(judged)
    }

    /// What a card to be added changes of its newest revision; nothing of a card that is new.
    async fn changed(&self, new: &JudgedCard) -> Answer<Option<CardChanges>> {
        let name = &new.card.name;
        let newest = self.fold(|f| f.card(name).and_then(|c| c.newest().map(|r| (r.number, r.signed.clone()))))?;
        let Some((number, signed)) = newest else { return Ok(None) };
        // a stored card that no longer fits what the shop owns stands in nobody's way
        let Ok(old) = self.judged(name, Some(number)).await else { return Ok(None) };
        let (before, after) =
            (Numbered { number, judged: &old }, Numbered { number: number.saturating_add(1), judged: new });
        revisions::between(&before, &after, &signed, &self.premises.stores, &self.bench).map(Some)
    }

    async fn row(&self, name: &CardName, number: Option<u32>) -> Answer<CardRow> {
        let judged = self.judged(name, number).await?;
        let known = self.fold(|f| {
            let card = f.card(name)?;
            let revision = number.map_or_else(|| card.newest(), |n| card.numbered(n))?;
            Some((revision.revision.clone(), revision.number, revision.added))
        })?;
        let Some((revision, number, added)) = known else { return Err(gone()) };
        let count = |s: Severity| u32::try_from(judged.findings(s).count()).unwrap_or(u32::MAX);
        Ok(CardRow {
            name: name.clone(),
            title: judged.card.title.clone(),
            revision,
            number,
            added,
            findings: [count(Severity::Stops), count(Severity::Sign), count(Severity::Tells)],
            seconds: seconds(&judged),
            parts: judged.card.parts,
        })
    }

    pub(super) fn draft(&self, command: &CommandId, what: What) -> Draft {
        #[allow(clippy::disallowed_methods, reason = "the wall clock is read once an event")]
        let at = Utc::now();
        Draft::new(at, self.clock.now(), what).from_command(command.clone(), None)
    }

    pub(super) async fn record(&self, draft: Draft, command: CommandId, done: Done) -> Answer<Done> {
        let (reply, answer) = oneshot::channel();
        self.send(Errand::Record(vec![draft], command.clone(), done, reply))?;
        let done = answer.await.map_err(|_| gone())??;
        self.keep_first(command, &done);
        Ok(done)
    }

    /// Keeps the first answer of a command.
    pub(super) fn keep_first(&self, command: CommandId, done: &Done) {
        let mut first = self.first.lock().unwrap_or_else(PoisonError::into_inner);
        if first.len() >= FIRST_KEPT {
            first.pop_first();
        }
        first.insert(command, done.clone());
    }

    /// What a repeated command was answered the first time, read from its record.
    pub(super) async fn repeated(&self, command: &CommandId) -> Answer<Option<Done>> {
        if let Some(done) = self.first.lock().unwrap_or_else(PoisonError::into_inner).get(command) {
            return Ok(Some(done.clone()));
        }
        // after a restart the record alone is left
        let Some(seq) = self.fold(|f| f.answered(command))? else { return Ok(None) };
        let before = Seq(seq.0.saturating_sub(1));
        let event = self.events_after(before, 1).await?.into_iter().next();
        let (id, revision) = match event.map(|e| e.what) {
            Some(What::BatchAdded { batch, revision, .. }) => (Some(batch.0), Some(revision)),
            Some(What::BatchCancelled { batch }) => (Some(batch.0), None),
            Some(What::CardAdded { name, revision, .. }) => (Some(name.0), Some(revision)),
            _ => (None, None),
        };
        let said = format!("That was done already (record {seq}).");
        Ok(Some(Done { schema: SCHEMA, said, id, revision, findings: Vec::new(), changes: None }))
    }
}

fn seconds(judged: &JudgedCard) -> Seconds {
    judged.judged.operations.iter().fold(Seconds::ZERO, |sum, o| sum + o.seconds)
}

impl Desk for FrontDesk {
    async fn now(&self, caller: Caller) -> Answer<Now> {
        let (reply, answer) = oneshot::channel();
        self.send(Errand::Now(caller, reply))?;
        answer.await.map_err(|_| gone())?
    }

    fn ahead(&self, caller: &Caller, act: &ActRequest) {
        self.act_first(caller, act);
    }

    async fn act(&self, mut caller: Caller, act: ActRequest) -> Answer<ActAnswer> {
        self.act_first(&caller, &act);
        if let Act::SignIn { who, pin } = &act.act {
            caller.proved = self.proved(&caller, who, pin.as_ref()).await?;
        }
        if act.act == Act::CycleStart {
            self.airs.forget();
        }
        let (asker, named) = (caller.clone(), act.act.name());
        let (reply, answer) = oneshot::channel();
        self.send(Errand::Act(caller, act, reply))?;
        let answer = answer.await.map_err(|_| gone())?;
        if let Err(problem) = &answer {
            self.note_refusal(&asker, named, problem);
        }
        answer
    }

    async fn check(&self, _: Caller, mut request: CheckRequest) -> Answer<CheckReport> {
        let (card, programs) = cards::read(&request.files, &self.premises)?;
        let mut used = self.fold(bits_used)?;
        used.append(&mut request.bit_used);
        let (fold, material) = (&self.shared.fold, card.sheet.material.as_str());
        let good_feeds = tried::good_feeds(fold, &self.ledger, &self.premises, &self.bench, material).await;
        let bench = Bench { old_holes: self.fold(|f| f.holes(None))?, good_feeds, ..self.bench.clone() };
        let stores = self.fold(|f| stores_now(&self.premises.stores, f))?;
        cards::check(&self.premises, bench, card, programs, request, (used, stores)).await
    }

    async fn draft_card(&self, _: Caller, request: DraftRequest) -> Answer<CardDraft> {
        let used = self.fold(bits_used)?;
        drafts::draft(&self.premises, &self.bench, request, used).await
    }

    async fn hold_down(&self, _: Caller, request: HoldDownRequest) -> Answer<HoldDownAnswer> {
        let (card, programs) = cards::read(&request.files, &self.premises)?;
        let bench = Bench { old_holes: self.fold(|f| f.holes(None))?, ..self.bench.clone() };
        let stores = self.fold(|f| stores_now(&self.premises.stores, f))?;
        cards::hold_down(&self.premises, &bench, card, programs, request, stores).await
    }

    async fn add_card(&self, _: Caller, request: AddCard) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let (card, programs) = cards::read(&request.files, &self.premises)?;
        let used = self.fold(bits_used)?;
        let with = JudgedWith::to(&card, self.bench.clone(), None, used, self.premises.stores.clone());
        let judged = cards::judge(&self.premises, card, programs, with).await?;
        let (name, revision) = (judged.card.name.clone(), judged.revision().clone());
        let findings = judged.judged.report.findings.clone();
        let changes = self.changed(&judged).await?.map(Box::new);
        let done = |said: String| Done {
            schema: SCHEMA,
            said,
            id: Some(name.0.clone()),
            revision: Some(revision.clone()),
            findings: findings.clone(),
            changes: changes.clone(),
        };
        // before anything else: a program that was harmed on the disk is mended by adding its card again
        let mut stored = Vec::new();
        for (path, bytes) in judged.programs.all()?.as_ref() {
            let sha256 = self.ledger.put_program(bytes.clone()).await;
            stored.push(StoredProgram {
                path: path.clone(),
                sha256: sha256.map_err(|e| Problem::new(ProblemKind::MissingOrBusy, e.to_string()))?,
                bytes: bytes.len() as u64,
            });
        }
        let newest =
            self.fold(|f| f.card(&name).and_then(|c| c.newest().map(|r| (r.revision.clone(), r.text.clone()))))?;
        if newest == Some((revision.clone(), request.files.text.clone())) {
            return Ok(done(format!("`{name}` is in the shop already, in this very revision.")));
        }
        let what = What::CardAdded {
            name: name.clone(),
            revision: revision.clone(),
            text: request.files.text.clone(),
            programs: stored,
        };
        let draft = self.draft(&request.command_id, what);
        self.record(draft, request.command_id, done(format!("`{name}` is in the shop."))).await
    }

    async fn cards(&self, _: Caller) -> Answer<CardList> {
        let names: Vec<CardName> = self.fold(|f| f.cards().map(|c| c.name.clone()).collect())?;
        let mut cards = Vec::new();
        for name in names {
            cards.push(self.row(&name, None).await?);
        }
        Ok(CardList { schema: SCHEMA, cards })
    }

    async fn card(&self, _: Caller, name: CardName, revision: Option<u32>) -> Answer<CardShown> {
        let row = self.row(&name, revision).await?;
        let judged = self.judged(&name, revision).await?;
        let (revisions, text) = self.fold(|f| {
            let card = f.card(&name);
            let all = card.map(|c| c.revisions.iter().map(|r| (r.number, r.revision.clone())).collect());
            let text = card.and_then(|c| c.numbered(row.number)).map(|r| r.text.clone());
            (all.unwrap_or_default(), text.unwrap_or_default())
        })?;
        Ok(CardShown { schema: SCHEMA, row, revisions, text, findings: judged.judged.report.findings.clone() })
    }

    async fn card_changes(&self, _: Caller, name: CardName, revision: Option<u32>) -> Answer<CardChanges> {
        let found = self.fold(|f| {
            let card = f.card(&name)?;
            let after = revision.map_or_else(|| card.newest(), |n| card.numbered(n))?.number;
            let before = card.revisions.iter().rfind(|r| r.number < after);
            Some((after, before.map(|r| (r.number, r.signed.clone()))))
        })?;
        let Some((later, earlier)) = found else {
            let text = format!("There is no card `{name}` in the shop, or not in that revision.");
            return Err(Problem::new(ProblemKind::NotFound, text));
        };
        let Some((earlier, signed)) = earlier else {
            let text = format!("Revision {later} of `{name}` is its first: there is nothing before it.");
            return Err(Problem::new(ProblemKind::NotFound, text));
        };
        let (old, new) = (self.judged(&name, Some(earlier)).await?, self.judged(&name, Some(later)).await?);
        let (before, after) = (Numbered { number: earlier, judged: &old }, Numbered { number: later, judged: &new });
        revisions::between(&before, &after, &signed, &self.premises.stores, &self.bench)
    }

    async fn card_drawing(&self, _: Caller, name: CardName) -> Answer<Drawing> {
        self.drawn(&name, None).await.map(Arc::unwrap_or_clone)
    }

    async fn sheet_drawing(&self, _: Caller, sheet: SheetId) -> Answer<Drawing> {
        self.sheet_drawn(&sheet).await.map(Arc::unwrap_or_clone)
    }

    async fn sheet_air(&self, _: Caller, sheet: SheetId, request: AirRequest) -> Answer<AirAnswer> {
        self.air_beside(sheet, request).await
    }

    async fn add_batch(&self, _: Caller, request: AddBatch) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        if !(1..=SHEETS_AT_MOST).contains(&request.sheets) {
            let text = format!("A batch has 1 to {SHEETS_AT_MOST} sheets.");
            return Err(Problem::new(ProblemKind::BadRequest, text));
        }
        let judged = self.judged(&request.card, None).await?;
        if let Some(f) = judged.findings(Severity::Stops).next() {
            let place = f.operation.as_ref().map_or_else(String::new, |o| {
                f.line.map_or_else(|| format!(" in `{o}`"), |l| format!(" in `{o}`, line {l}"))
            });
            let text = format!("`{}` cannot run: {}{place}: {}. {}", request.card, f.code, f.means, f.remedy);
            return Err(Problem::new(ProblemKind::CannotRun, text));
        }
        let _numbering = self.numbering.lock().await;
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let batch = self.fold(Fold::next_batch)?;
        let shop = &self.premises;
        let mut stock = self.fold(|f| stock_for(f, &shop.stores, &shop.config, &judged.card, request.sheets))?;
        stock.extend(self.fold(|f| super::rests::offered(f, &shop.stores, &judged.card))?);
        let sheets: Vec<SheetId> = (1..=request.sheets).map(|n| SheetId(format!("{batch}-{n}"))).collect();
        let what = What::BatchAdded {
            batch: batch.clone(),
            card: request.card.clone(),
            revision: judged.revision().clone(),
            sheets,
            due: request.due,
            weight: request.weight.unwrap_or(1.0),
            predicted: judged.judged.operations.iter().map(|o| o.seconds).collect(),
            order: None,
        };
        let done = Done {
            schema: SCHEMA,
            said: format!(
                "Batch {batch}: {} of `{}`, about {} each at the machine. {}",
                request.sheets,
                request.card,
                super::wording::span(seconds(&judged)),
                stock.join(" ")
            )
            .trim_end()
            .to_owned(),
            id: Some(batch.0),
            revision: Some(judged.revision().clone()),
            findings: judged.judged.report.findings.clone(),
            changes: None,
        };
        let draft = self.draft(&request.command_id, what);
        self.record(draft, request.command_id, done).await
    }

    async fn batches(&self, _: Caller) -> Answer<BatchList> {
        self.fold(Fold::batch_list)
    }

    async fn batch(&self, _: Caller, batch: BatchId) -> Answer<BatchRow> {
        self.fold(|f| f.batch(&batch).map(|b| f.batch_row(b)))?
            .ok_or_else(|| Problem::new(ProblemKind::NotFound, format!("There is no batch {batch}.")))
    }

    async fn cancel_batch(&self, _: Caller, batch: BatchId, request: CancelBatch) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let there = self.fold(|f| f.batch(&batch).is_some())?;
        if !there {
            return Err(Problem::new(ProblemKind::NotFound, format!("There is no batch {batch}.")));
        }
        let done = Done {
            schema: SCHEMA,
            said: format!("The sheets of {batch} that were not begun are no longer wanted."),
            id: Some(batch.0.clone()),
            revision: None,
            findings: Vec::new(),
            changes: None,
        };
        let draft = self.draft(&request.command_id, What::BatchCancelled { batch });
        self.record(draft, request.command_id, done).await
    }

    async fn sheets(&self, _: Caller) -> Answer<SheetList> {
        let premises = Arc::clone(&self.premises);
        self.fold(|f| {
            f.sheet_list(|sheet| {
                if !sheet.is_on_machine() {
                    return None;
                }
                let revision = f.card(&sheet.card)?.revision(&sheet.revision)?;
                let card = crate::shop::card::read("card", &revision.text, &premises.stores).ok()?;
                card.operations.get(sheet.operation as usize).map(|o| o.name.clone())
            })
        })
    }

    async fn sheet(&self, _: Caller, sheet: SheetId) -> Answer<SheetRecord> {
        let record = self.fold(|f| f.sheet(&sheet).map(crate::ledger::fold::sheet::SheetState::record))?;
        let missing = || Problem::new(ProblemKind::NotFound, format!("There is no sheet {sheet}."));
        let mut record = record.ok_or_else(missing)?;
        self.complete(std::slice::from_mut(&mut record))?;
        Ok(record)
    }

    async fn sheet_history(&self, _: Caller, asked: HistoryQuery) -> Answer<Unrolled> {
        self.sheets_so_far(&asked)
    }

    async fn sums(&self, _: Caller) -> Answer<Sums> {
        self.sums_so_far()
    }

    async fn revision_history(&self, caller: Caller, asked: HistoryQuery) -> Answer<RevisionHistory> {
        self.revisions_so_far(caller, &asked).await
    }

    async fn effort_history(&self, _: Caller, asked: HistoryQuery) -> Answer<EffortHistory> {
        self.effort(&asked)
    }

    async fn bit_history(&self, _: Caller, asked: HistoryQuery) -> Answer<BitHistory> {
        self.bits_so_far(&asked)
    }

    async fn measure_fit(&self, _: Caller, sheet: SheetId, request: MeasureFit) -> Answer<Done> {
        self.fit_measured(sheet, request).await
    }

    async fn batch_report(&self, caller: Caller, batch: BatchId) -> Answer<BatchReport> {
        self.reported(caller, batch).await
    }

    async fn plan(&self, _: Caller, presence: Option<String>, sheets: Option<String>) -> Answer<DayPlan> {
        self.plan_now(presence, sheets).await
    }

    async fn add_sets(&self, _: Caller, request: AddSets) -> Answer<Done> {
        self.order_sets(request).await
    }

    async fn count_stock(&self, _: Caller, request: CountStock) -> Answer<Done> {
        self.stock_counted(request).await
    }

    async fn doctor(&self, caller: Caller) -> Answer<Doctor> {
        let now = self.now(caller).await?;
        let mut doctor = doctor::look(&self.premises, &self.ledger, &now, self.line.most_below());
        doctor.looks.extend(super::outward::looks(&self.teller));
        doctor.looks.extend(self.network_look());
        doctor.looks.extend(super::upkeep::looks(&self.upkeep_now()?.upkeep));
        let port = match &self.premises.config.machine.port {
            Port::Path(path) => Some(path.clone()),
            Port::Simulated => None,
        };
        let look = move || super::surroundings::look(std::path::Path::new("/"), port.as_deref());
        doctor.looks.extend(tokio::task::spawn_blocking(look).await.map_err(|_| gone())?);
        Ok(doctor)
    }

    async fn notices(&self, _: Caller) -> Answer<Notices> {
        let ways = self.teller.receivers.iter().map(|r| r.name.clone()).collect();
        Ok(Notices { schema: SCHEMA, ways, not_through: self.teller.unheard.all() })
    }

    async fn try_notices(&self, _: Caller) -> Answer<NoticesTest> {
        Ok(NoticesTest { schema: SCHEMA, ways: self.teller.try_all(&self.premises.config.machine.name).await })
    }

    async fn backup(&self, _: Caller) -> Answer<mpsc::Receiver<Vec<u8>>> {
        super::backup::of(&self.ledger).await
    }

    fn subscribe(&self) -> broadcast::Receiver<Live> {
        self.shared.live.subscribe()
    }

    fn last_seq(&self) -> Seq {
        Seq(self.shared.seq.load(Ordering::SeqCst))
    }

    async fn events_after(&self, seq: Seq, limit: usize) -> Answer<Vec<Event>> {
        self.ledger.events_after(seq, limit).await.map_err(|e| Problem::new(ProblemKind::MissingOrBusy, e.to_string()))
    }
}
