//! Events: what happened, once and for ever. The journal is a list of them; the state is their fold.
//!
//! The envelope is `{v, seq, id, command_id, at, tick, actor, terminal, kind, sheet, data}`. `v` is the version of
//! `kind`'s `data`; [`upcast`] brings older data up to date before it is read, so this build knows one form only.

mod reading;
use crate::bits::BitFigures;
use crate::brought::BroughtSheet;
use crate::call::CallReason;
use crate::checklist::{ListForm, ListKind, StepAnswer};
use crate::finding::Code;
use crate::id::{
    BatchId, BitName, BitNumber, CardName, CommandId, Person, Revision, Seq, SheetId, StageVersion, TerminalId,
};
use crate::quantity::{Length, Metres, Seconds, Spot, Tick};
use crate::queue::SetOrder;
use crate::record::Left;
use crate::stage::{Decision, Grade, HeldBy, Reason, Role, Stage, StopCause};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The version of every kind's data that this build writes.
pub const EVENT_VERSION: u16 = 1;

/// One thing that happened.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Event {
    /// Version of `data`.
    pub v: u16,
    /// Place in the journal.
    pub seq: Seq,
    /// Unique; consumers drop repeats by it.
    pub id: String,
    /// The command that caused it, if one did.
    pub command_id: Option<CommandId>,
    /// Wall time.
    pub at: DateTime<Utc>,
    /// Machine time.
    pub tick: Tick,
    /// Who did it, if a person did.
    pub actor: Option<Actor>,
    /// From which terminal.
    pub terminal: Option<TerminalId>,
    /// The sheet it concerns.
    pub sheet: Option<SheetId>,
    /// What happened.
    #[serde(flatten)]
    pub what: What,
}

/// A person in a role.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Actor {
    /// The person.
    pub who: Person,
    /// In this role.
    pub role: Role,
}

/// How somebody's rights were changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RightsChange {
    /// Somebody was added.
    Added,
    /// A PIN was set, or set anew.
    PinSet,
    /// A PIN was taken away, and with it whoever was added.
    Removed,
    /// A token was made.
    TokenMade,
    /// A token was taken back.
    TokenRevoked,
}

/// What happened: `kind` and `data` of the envelope.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "data")]
pub enum What {
    /// The daemon came up.
    #[serde(rename = "daemon.started")]
    DaemonStarted {
        /// Of the program.
        version: String,
    },
    /// A card, or a new revision of one, was taken in.
    #[serde(rename = "card.added")]
    CardAdded {
        /// Its name.
        name: CardName,
        /// Its revision.
        revision: Revision,
        /// The card's text as it was.
        text: String,
        /// Its programs.
        programs: Vec<StoredProgram>,
    },
    /// Sheets are wanted.
    #[serde(rename = "batch.added")]
    BatchAdded {
        /// Its id.
        batch: BatchId,
        /// Of this card.
        card: CardName,
        /// Of this revision.
        revision: Revision,
        /// One id a sheet.
        sheets: Vec<SheetId>,
        /// When they are due.
        due: Option<DateTime<Utc>>,
        /// How much that matters.
        weight: f64,
        /// Seconds each operation should take, in the card's order.
        predicted: Vec<Seconds>,
        /// The sets it was added for.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        order: Option<SetOrder>,
    },
    /// Feeds and rapids were set to so much per cent of what is written.
    #[serde(rename = "machine.override")]
    Overridden {
        /// Of feeds; none when left as it was.
        feed: Option<u16>,
        /// Of rapids.
        rapid: Option<u16>,
    },
    /// Sheets in stock were counted.
    #[serde(rename = "stock.counted")]
    StockCounted {
        /// A name of the shop's stock.
        stock: String,
        /// Sheets there.
        sheets: u32,
    },
    /// Who may do what was changed. No PIN and no token is in it.
    #[serde(rename = "people.changed")]
    PeopleChanged {
        /// How.
        change: RightsChange,
        /// A person, or a token's name.
        name: String,
        /// In which role.
        role: Role,
    },
    /// The sheets of a batch not yet begun are no longer wanted.
    #[serde(rename = "batch.cancelled")]
    BatchCancelled {
        /// Its id.
        batch: BatchId,
    },
    /// A sheet went from one stage to another, or a fact of its stage changed.
    #[serde(rename = "sheet.stage")]
    SheetStage {
        /// Before.
        from: Stage,
        /// After.
        to: Stage,
        /// The new stage version.
        version: StageVersion,
        /// The operation at hand, from 0.
        operation: u32,
        /// Why it is held, if it is.
        held: Option<HeldBy>,
        /// Why it stopped, if it did.
        stopped: Option<StopRecord>,
        /// The whole small state of the floor after it, as the floor writes it.
        floor: Value,
    },
    /// A step of a list was answered.
    #[serde(rename = "step.answered")]
    StepAnswered {
        /// Which list.
        list: ListKind,
        /// In which form.
        form: ListForm,
        /// Which step.
        step: String,
        /// What was answered.
        answer: StepAnswer,
        /// What was expected, where that was known.
        expected: Option<f64>,
        /// Whether the answer was taken.
        taken: bool,
    },
    /// A whole list was signed.
    #[serde(rename = "sheet.signed")]
    SheetSigned {
        /// Which list.
        list: ListKind,
        /// In which form.
        form: ListForm,
        /// For which operation, where the list belongs to one.
        operation: Option<String>,
    },
    /// A list of the day was begun from its first step. Its answers follow as `step.answered`, of no sheet.
    #[serde(rename = "day.begun")]
    DayBegun {
        /// Which list.
        list: ListKind,
    },
    /// A list of the day was finished.
    #[serde(rename = "day.signed")]
    DaySigned {
        /// Which list.
        list: ListKind,
    },
    /// The owner began work without lists of the day that were due.
    #[serde(rename = "day.passed-over")]
    DayPassedOver {
        /// Which lists.
        lists: Vec<ListKind>,
    },
    /// The owner signed a finding of a card's revision.
    #[serde(rename = "finding.signed")]
    FindingSigned {
        /// The card.
        card: CardName,
        /// The revision.
        revision: Revision,
        /// Which finding.
        code: Code,
        /// What the signature covers.
        fingerprint: String,
    },
    /// The owner approved the first article of a revision.
    #[serde(rename = "article.approved")]
    ArticleApproved {
        /// The card.
        card: CardName,
        /// The revision.
        revision: Revision,
    },
    /// The sheet's thickness was read.
    #[serde(rename = "sheet.measured")]
    SheetMeasured {
        /// One a reading.
        thickness: Vec<Length>,
    },
    /// Fasteners were put in.
    #[serde(rename = "sheet.fastened")]
    SheetFastened {
        /// Where, as made.
        places: Vec<Spot>,
        /// Holes that they make in the waste board, in machine coordinates: the work zero may be another tomorrow.
        #[serde(default)]
        holes: Vec<Spot>,
    },
    /// The waste board was surfaced or changed: its old holes are gone.
    #[serde(rename = "board.renewed")]
    BoardRenewed,
    /// A bit was fitted and read back.
    #[serde(rename = "bit.fitted")]
    BitFitted {
        /// Its key.
        bit: BitName,
        /// Diameter read back, where it was.
        diameter: Option<Length>,
        /// Which physical one, where the shop numbers them.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        number: Option<BitNumber>,
    },
    /// A physical bit was taken into use under its own number.
    #[serde(rename = "bit.began")]
    BitBegan {
        /// Its own, never given before.
        number: BitNumber,
        /// Of which kind.
        bit: BitName,
        /// As measured.
        figures: BitFigures,
        /// Way it had cut before.
        used: Metres,
    },
    /// A physical bit was measured, or ground anew and measured.
    #[serde(rename = "bit.measured")]
    BitMeasured {
        /// Which.
        number: BitNumber,
        /// As measured; what is left out stays as it was.
        figures: BitFigures,
        /// Its wear counts from here.
        reground: bool,
    },
    /// A physical bit is used no more.
    #[serde(rename = "bit.scrapped")]
    BitScrapped {
        /// Which.
        number: BitNumber,
        /// Why.
        why: String,
    },
    /// The Z zero was set.
    #[serde(rename = "zero.set")]
    ZeroSet {
        /// Machine Z of the zero, where the controller told it.
        machine_z: Option<Length>,
    },
    /// The Z zero was touched once more after the cut, where it was touched before.
    #[serde(rename = "zero.touched-again")]
    TouchedAgain {
        /// The bit in the spindle.
        bit: BitName,
        /// How much higher it touches now; below zero, how much lower.
        off: Length,
        /// Whether that is more than is trusted: the bit slipped, or steps were lost.
        suspect: bool,
    },
    /// Streaming of an operation began.
    #[serde(rename = "operation.started")]
    OperationStarted {
        /// Its name.
        operation: String,
        /// Seconds it should take.
        predicted: Seconds,
        /// The line it starts from, 1 for the whole program.
        from_line: u32,
    },
    /// The last motion of an operation ended.
    #[serde(rename = "operation.finished")]
    OperationFinished {
        /// Its name.
        operation: String,
        /// The bit that cut.
        bit: BitName,
        /// Seconds it should take.
        predicted: Seconds,
        /// Seconds in motion or dwell.
        real: Seconds,
        /// Seconds held.
        held: Seconds,
        /// Way cut below the face.
        cut: Metres,
        /// The physical bit, where the shop numbers them.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        number: Option<BitNumber>,
    },
    /// A joint of the card was measured.
    #[serde(rename = "joint.measured")]
    JointMeasured {
        /// It.
        joint: crate::history::JointRecord,
    },
    /// A part was graded.
    #[serde(rename = "part.checked")]
    PartChecked {
        /// Its index on the card, from 0.
        index: u32,
        /// Its name.
        name: String,
        /// How it came out.
        grade: Grade,
        /// Why it is not good.
        reason: Option<Reason>,
        /// In the person's words.
        note: Option<String>,
    },
    /// A person decided about a stopped sheet.
    #[serde(rename = "sheet.decided")]
    SheetDecided {
        /// What.
        decision: Decision,
        /// With re-enter.
        line: Option<u32>,
    },
    /// A sheet ended.
    #[serde(rename = "sheet.closed")]
    SheetClosed {
        /// How it came out as a whole.
        grade: Grade,
        /// Good parts.
        good: u32,
        /// Parts on the card.
        of: u32,
    },
    /// The controller answers.
    #[serde(rename = "link.up")]
    LinkUp {
        /// What it said of itself, in our words.
        note: String,
    },
    /// The controller is gone.
    #[serde(rename = "link.down")]
    LinkDown {
        /// Why, as a sentence.
        why: String,
    },
    /// The machine found its home.
    #[serde(rename = "machine.homed")]
    MachineHomed,
    /// Position is no longer known.
    #[serde(rename = "position.lost")]
    PositionLost {
        /// Why.
        why: String,
    },
    /// The work zero over the mark was looked at and found right.
    #[serde(rename = "zero.confirmed")]
    ZeroConfirmed,
    /// Somebody signed in at the machine.
    #[serde(rename = "person.came")]
    PersonCame {
        /// Who.
        who: Person,
        /// In which role.
        role: Role,
    },
    /// Somebody signed out.
    #[serde(rename = "person.left")]
    PersonLeft {
        /// Who.
        who: Person,
    },
    /// The owner signed the cautions of stepping away.
    #[serde(rename = "cautions.signed")]
    CautionsSigned {
        /// Which wording of them.
        version: u32,
    },
    /// It is asked whether somebody is still there.
    #[serde(rename = "still-there.asked")]
    StillThereAsked {
        /// Machine seconds until somebody is called.
        answer_within: Seconds,
    },
    /// Somebody said that they are.
    #[serde(rename = "still-there.answered")]
    StillThereAnswered,
    /// Somebody is called.
    #[serde(rename = "call.raised")]
    CallRaised {
        /// Counts up.
        number: u64,
        /// Why.
        reason: CallReason,
        /// What happened and what to do.
        text: String,
    },
    /// A call was answered.
    #[serde(rename = "call.answered")]
    CallAnswered {
        /// Which.
        number: u64,
    },
    /// A person wrote something down about a sheet.
    #[serde(rename = "sheet.noted")]
    SheetNoted {
        /// In their words.
        text: String,
    },
    /// From which lot a sheet's material is.
    #[serde(rename = "sheet.lot")]
    SheetLot {
        /// As the supplier marks it; empty where it was taken to be of one, and none is marked on it.
        lot: String,
    },
    /// What stands of a sheet once it is cut.
    #[serde(rename = "sheet.remains")]
    SheetRemains {
        /// Tabs that held its parts.
        tabs: u32,
        /// The largest rectangle that nothing touched; none where it is too small to keep.
        left: Option<Left>,
    },
    /// A rest was used up or thrown away.
    #[serde(rename = "left.gone")]
    LeftGone {
        /// What became of it.
        why: String,
    },
    /// Something of the machine's upkeep was done.
    #[serde(rename = "upkeep.done")]
    UpkeepDone {
        /// A name of the shop's upkeep.
        name: String,
    },
    /// A sheet that was cut before Chargehand was brought in from a table.
    #[serde(rename = "sheet.brought")]
    SheetBrought {
        /// Its id: it follows from what the row says, so that a row is brought in once.
        sheet: SheetId,
        /// What the row says.
        row: Box<BroughtSheet>,
    },
    /// An earlier record was wrong; this one says how it should read. The earlier one stays as it is.
    #[serde(rename = "record.corrected")]
    RecordCorrected {
        /// The earlier record.
        seq: Seq,
        /// What it should have been: `kind` and `data` of an event.
        data: Value,
        /// Why.
        note: String,
    },
}

/// A program kept beside the journal under its hash.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredProgram {
    /// The path the card gives.
    pub path: String,
    /// SHA-256 in hex, and the file's name in the store.
    pub sha256: String,
    /// How many bytes.
    pub bytes: u64,
}

/// What is known of a stop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StopRecord {
    /// Why.
    pub cause: StopCause,
    /// What happened, as a sentence.
    pub text: String,
    /// The last line certainly finished.
    pub last_line_done: Option<u32>,
    /// The last line written to the line.
    pub last_line_sent: Option<u32>,
    /// Whether the position is still known.
    pub position_known: bool,
    /// Whether the bit may be in the cut.
    pub bit_in_cut: bool,
}

/// Data that cannot be brought up to date.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum UpcastFault {
    /// Written by a later build.
    #[error("an event of version {0} was written by a newer Chargehand; this one writes version {EVENT_VERSION}")]
    Newer(u64),
    /// No version there.
    #[error("an event has no version number")]
    NoVersion,
}

/// Brings an event of any earlier version, as JSON, to the form of this build.
///
/// # Errors
/// When it was written by a later build, or carries no version.
pub fn upcast(event: Value) -> Result<Value, UpcastFault> {
    let v = event.get("v").and_then(Value::as_u64).ok_or(UpcastFault::NoVersion)?;
    match v {
        // Version 0 never left the workshop; it is kept as the pattern for the next one: the words "who" of an
        // actor was "name".
        0 => {
            let mut event = event;
            if let Some(actor) = event.get_mut("actor").and_then(Value::as_object_mut)
                && let Some(name) = actor.remove("name")
            {
                actor.insert("who".to_owned(), name);
            }
            if let Some(o) = event.as_object_mut() {
                o.insert("v".to_owned(), Value::from(1));
            }
            upcast(event)
        }
        1 => Ok(event),
        newer => Err(UpcastFault::Newer(newer)),
    }
}

/// What is streamed but never kept or replayed: where the machine is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PositionTick {
    /// Machine time.
    pub tick: Tick,
    /// Work coordinates of the bit.
    pub at: Option<crate::quantity::Point>,
    /// The source line being cut, as far as can be told.
    pub line: Option<u32>,
    /// Motion done of the operation, 0 to 1, by time.
    pub done: f64,
    /// Machine seconds left in the operation.
    pub left: Seconds,
}

#[cfg(test)]
mod tests;
