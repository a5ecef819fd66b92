//! How things stand: everything the Now screen shows, and what a walk-through steers by.

use crate::call::Call;
use crate::checklist::{DayListNow, Task};
use crate::finding::Finding;
use crate::id::{BatchId, BitName, CardName, Person, Revision, Seq, SheetId, StageVersion};
use crate::quantity::{Length, Point, Seconds};
use crate::stage::{Decision, Grade, HeldBy, Reason, Role, Stage};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// `GET /v1/now`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Now {
    /// 1.
    pub schema: u32,
    /// The last event folded in.
    pub seq: Seq,
    /// Counts every change of what a person may confirm.
    pub version: StageVersion,
    /// Wall time of the answer.
    pub at: DateTime<Utc>,
    /// The machine.
    pub machine: MachineNow,
    /// Who is signed in at the machine.
    pub people: Vec<PersonHere>,
    /// Everybody who works here, as config names them: who could sign in.
    #[serde(default)]
    pub staff: Vec<PersonHere>,
    /// Whether signing in asks for a PIN.
    #[serde(default)]
    pub pins: bool,
    /// The sheet on the machine.
    pub sheet: Option<SheetNow>,
    /// What is happening, in a sentence or two.
    pub headline: String,
    /// What the person must do, if anything.
    pub task: Option<Task>,
    /// What may be done now; the terminal shows up to four.
    pub actions: Vec<Offer>,
    /// Sheets waiting.
    pub waiting: u32,
    /// The next sheet that would be taken.
    pub next_sheet: Option<SheetId>,
    /// Open calls.
    pub calls: Vec<Call>,
    /// What every screen must say: practice machine, scripted operator, store trouble.
    pub notices: Vec<String>,
    /// The lists of the day: which are due, who did them last.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lists: Vec<DayListNow>,
    /// Stepping away from a running sheet; none where config does not allow it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub away: Option<AwayNow>,
    /// A first article that came out good and waits for the owner's approval.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_approve: Option<ToApprove>,
}

/// Stepping away: whether a running sheet may be left with nobody signed in at the machine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AwayNow {
    /// What the owner signs before it is allowed.
    pub cautions: Vec<String>,
    /// Which wording of them that is.
    pub version: u32,
    /// The owner signed this wording.
    pub signed: bool,
    /// Why it may not be left now, as a sentence; none when it may.
    pub why_not: Option<String>,
    /// The question whether somebody is still there, while it is asked.
    pub asked: Option<StillThereNow>,
}

/// It is asked whether somebody is still there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct StillThereNow {
    /// Machine seconds until somebody is called; once called, until it is told to hold at its next lift.
    pub left: Seconds,
    /// Nobody answered in time, and somebody is called.
    pub called: bool,
}

/// A first article that waits for the owner's approval.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ToApprove {
    /// The sheet.
    pub sheet: SheetId,
    /// Its card.
    pub card: CardName,
    /// The number of its revision.
    pub revision: u32,
}

/// The machine, as far as it is known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MachineNow {
    /// Its name in config.
    pub name: String,
    /// Whether the controller answers.
    pub link: LinkNow,
    /// A simulated machine.
    pub practice: bool,
    /// Machine seconds a real second.
    pub rate: f64,
    /// Whether the position is known since the last fault, restart or power loss.
    pub position_known: bool,
    /// Whether the work zero was confirmed since position was last lost.
    pub zero_confirmed: bool,
    /// What it does, as the controller last said.
    pub motion: Motion,
    /// The bit's place in work coordinates, where reports tell it.
    pub at: Option<Point>,
    /// Feed in force, where reports tell it.
    #[serde(default)]
    pub feed: Option<crate::quantity::Feed>,
    /// The bit in the spindle, as a person read it back.
    pub bit: Option<BitName>,
    /// Whether the spindle is switched by hand.
    pub manual_spindle: bool,
    /// Machine seconds until the bit stands still, counted from the command or the person's word; none when the
    /// spindle may turn or nobody counts.
    pub run_down_left: Option<Seconds>,
    /// Where the red button is.
    pub red_button: String,
    /// Per cent of feeds and of rapids, as the controller last said; none where it does not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub per_cent: Option<[u16; 2]>,
    /// Machine seconds until a hold asked for now takes effect, where it waits behind what the controller already holds:
    /// no more than the lines written and not known done take. None where a hold acts at once, and while no program runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stops_after: Option<Seconds>,
}

/// Whether the controller answers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "link", rename_all = "kebab-case")]
pub enum LinkNow {
    /// It does.
    Up,
    /// Not yet: the port is being opened or the controller is settling.
    Opening,
    /// It does not.
    Down {
        /// As a sentence.
        why: String,
    },
}

/// What the machine does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Motion {
    /// Nothing moves.
    Still,
    /// A program, or a hand move.
    Moving,
    /// Asked to hold, not yet confirmed by the controller.
    HoldAsked,
    /// The controller reports that the axes are held.
    Held,
    /// Looking for its switches.
    Homing,
    /// The controller refuses motion until somebody sees to it.
    Faulted,
    /// No report.
    Unknown,
}

/// Somebody signed in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PersonHere {
    /// Who.
    pub who: Person,
    /// In which role.
    pub role: Role,
}

/// The sheet on the machine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetNow {
    /// Which.
    pub id: SheetId,
    /// Its card.
    pub card: CardName,
    /// Its revision.
    pub revision: Revision,
    /// The card's title.
    pub title: String,
    /// Its batch.
    pub batch: BatchId,
    /// Its number in the batch, from 1.
    pub number: u32,
    /// Sheets in the batch.
    pub of: u32,
    /// Where it is in its life.
    pub stage: Stage,
    /// A sheet not yet tried with this revision, bit, lot and way of holding.
    pub first: bool,
    /// The operation at hand.
    pub operation: Option<OperationNow>,
    /// Operations finished.
    pub done: Vec<String>,
    /// Why it is held.
    pub held: Option<HeldNow>,
    /// What is known of the stop.
    pub stopped: Option<StoppedNow>,
    /// The caliper reading used.
    pub thickness: Option<Length>,
    /// Findings the owner has yet to sign.
    pub to_sign: Vec<Finding>,
    /// Parts graded so far.
    pub graded: Vec<GradedPart>,
}

/// A part with its grade.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct GradedPart {
    /// Its index on the card, from 0.
    pub index: u32,
    /// Its name.
    pub name: String,
    /// Its grade.
    pub grade: Grade,
    /// Why it is not good.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Reason>,
}

/// The operation at hand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OperationNow {
    /// Its name.
    pub name: String,
    /// Its place on the card, from 0.
    pub index: u32,
    /// Operations on the card.
    pub of: u32,
    /// The bit it needs.
    pub bit: BitName,
    /// The bit, for people.
    pub bit_title: String,
    /// The shape of its end and flutes, for a drawing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bit_kind: Option<crate::card::BitKind>,
    /// What one cycle start would run, or runs, by name.
    pub chain: Vec<String>,
    /// Seconds it should take.
    pub predicted: Seconds,
    /// Motion done, 0 to 1, by time.
    pub progress: f64,
    /// Machine seconds left.
    pub left: Seconds,
    /// Lines of the program.
    pub lines: u32,
    /// The source line being cut, as far as can be told.
    pub line: Option<u32>,
    /// Machine seconds until the next lift out of the material.
    pub next_lift: Option<Seconds>,
    /// The program's text at a prompt.
    pub prompt: Option<String>,
}

/// A hold.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HeldNow {
    /// Why.
    pub by: HeldBy,
    /// Machine seconds since.
    pub seconds: Seconds,
    /// Whether the bit stands in the cut and may burn it.
    pub bit_in_cut: bool,
    /// Whether the bit was raised.
    pub raised: bool,
}

/// A stop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StoppedNow {
    /// What is known.
    pub record: crate::event::StopRecord,
    /// The red-button question was answered.
    pub red_button: Option<bool>,
    /// A person said that the bit is free.
    pub bit_free: bool,
    /// What may be decided now.
    pub choices: Vec<Decision>,
    /// The line at which it would go on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub enter_line: Option<u32>,
    /// Where the bit would come down for it, in work coordinates.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub enter_at: Option<Point>,
}

/// Something that may be done, or could be if it were allowed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Offer {
    /// What it does.
    pub act: OfferedAct,
    /// As a sentence.
    pub text: String,
    /// Why not now, and who can.
    pub refused: Option<String>,
}

/// The acts a screen offers as a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs, reason = "each is the act of the same name")]
pub enum OfferedAct {
    SignIn,
    SignOut,
    TakeSheet,
    Answer,
    SignFinding,
    CycleStart,
    Hold,
    HoldAtLift,
    Resume,
    Raise,
    Stop,
    Trouble,
    RedButtonYes,
    RedButtonNo,
    BitFree,
    Home,
    ConfirmZero,
    ReEnter,
    Restart,
    Next,
    SetAside,
    End,
    AnswerCall,
    Opening,
    Closing,
    HandOver,
    AfterPowerCut,
    LeaveList,
    StillThere,
    ApproveArticle,
}
