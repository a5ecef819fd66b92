//! What a person may ask of the daemon at the machine: one act, made against a state they saw.

use crate::checklist::{ListKind, StepAnswer};
use crate::id::{CommandId, Person, SheetId, StageVersion, TerminalId};
use crate::quantity::Length;
use crate::secret::Secret;
use crate::stage::{Decision, Grade, Reason};
use serde::{Deserialize, Serialize};

/// `POST /v1/acts`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ActRequest {
    /// Made by the client; a repeated one gets the first answer.
    pub command_id: CommandId,
    /// Which terminal.
    pub terminal: TerminalId,
    /// What the person was looking at. Not asked of hold and stop.
    #[serde(default)]
    pub seen: Option<StageVersion>,
    /// What is wanted.
    pub act: Act,
}

/// What is wanted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "act", rename_all = "kebab-case")]
pub enum Act {
    /// Sign in at the machine.
    SignIn {
        /// Who.
        who: Person,
        /// Their PIN, where the shop uses them.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pin: Option<Secret>,
    },
    /// Sign out.
    SignOut,
    /// Put this sheet, or the next one, on the machine.
    TakeSheet {
        /// Which; the next one in the queue when left out.
        #[serde(default)]
        sheet: Option<SheetId>,
    },
    /// Answer the step asked now.
    Answer {
        /// The step's id, so that an answer never lands on another step.
        step: String,
        /// The answer.
        #[serde(flatten)]
        answer: StepAnswer,
    },
    /// Walk a list of the day, from its start or from where it was put down.
    BeginList {
        /// Which.
        list: ListKind,
    },
    /// Put the list of the day under way down; its place is kept.
    LeaveList,
    /// Grade a part.
    GradePart {
        /// Its index on the card, from 0.
        index: u32,
        /// How it came out.
        grade: Grade,
        /// Why it is not good.
        #[serde(default)]
        reason: Option<Reason>,
        /// In the person's words.
        #[serde(default)]
        note: Option<String>,
    },
    /// Sign a finding of the card at hand.
    SignFinding {
        /// Its fingerprint.
        fingerprint: String,
    },
    /// Approve the first article: the sheet of its revision that came out good first. The owner alone.
    ApproveArticle {
        /// That sheet.
        sheet: SheetId,
    },
    /// Start the motion that the ready list was signed for.
    CycleStart,
    /// Feed hold at once. Any terminal, no sign-in.
    Hold,
    /// Hold at the next lift out of the material. Any terminal, no sign-in.
    HoldAtLift,
    /// Go on after a hold or a prompt.
    Resume,
    /// After a hold: bit up, spindle off, place kept.
    Raise,
    /// End the motion for good; the sheet is stopped and a person decides. Any terminal, no sign-in.
    Stop,
    /// Something is wrong: hold, call, and show what to do.
    Trouble,
    /// Answer the first question after a stop.
    RedButton {
        /// Was the red button pressed, the power off, the carriage moved or stalled?
        pressed: bool,
    },
    /// The bit is free and the way is clear.
    BitFree,
    /// Find home.
    Home,
    /// Set the work zero as config has it, over the mark, and say that it was looked at.
    ConfirmZero,
    /// Feeds and rapids at so much per cent of what is written.
    Override {
        /// Of feeds, in whole tens; as it is when left out.
        #[serde(default)]
        feed: Option<u16>,
        /// Of rapids: 25, 50 or 100; as it is when left out.
        #[serde(default)]
        rapid: Option<u16>,
    },
    /// The waste board was surfaced or changed: no hole of before counts any more.
    BoardRenewed,
    /// Move one axis by hand, one named distance.
    HandMove {
        /// Which axis.
        axis: Axis,
        /// How far, signed; one of [`HAND_STEPS_MM`].
        by: Length,
    },
    /// Move one axis by hand for as long as this is asked again and again, by the same terminal, within a quarter of a
    /// second each time; it ends by itself at the end of the machine's travel.
    HandRun {
        /// Which axis.
        axis: Axis,
        /// Towards rising coordinates: right, away, up.
        up: bool,
    },
    /// The next part of the way to the place that the step asks for; the step shows it.
    Approach,
    /// Lower the bit until it meets the touch plate, and take the Z zero from it. The plate's wire must have been seen
    /// to close and open before.
    TouchPlate,
    /// Bring the bit over the place where the Z zero was touched: up first, then sideways. Only where it is asked for.
    OverSpot,
    /// Take the place where the bit stands as zero of this axis; where a touch is asked for once more, as the place where
    /// it touches now.
    ZeroHere {
        /// Which axis.
        axis: Axis,
        /// What lies between: paper or plate, in mm; 0 for none.
        #[serde(default)]
        above: Length,
    },
    /// Decide about a stopped sheet.
    Decide {
        /// Which.
        sheet: SheetId,
        /// What.
        decision: Decision,
        /// With re-enter.
        #[serde(default)]
        line: Option<u32>,
    },
    /// Somebody is still there: the answer to the question that is asked while a sheet runs with nobody signed in.
    StillThere,
    /// The owner read the cautions of stepping away and signs them.
    SignCautions {
        /// Which wording of them.
        version: u32,
    },
    /// Answer a call.
    AnswerCall {
        /// Which.
        number: u64,
    },
    /// Write something down about the sheet at hand.
    Note {
        /// In the person's words.
        text: String,
    },
}

impl Act {
    /// Whether it may come from any terminal and without sign-in: hold and stop always may.
    #[must_use]
    pub const fn always_open(&self) -> bool {
        matches!(self, Self::Hold | Self::HoldAtLift | Self::Stop | Self::Trouble)
    }

    /// The act's name, as it is written in a request; nothing of what it carries.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::SignIn { .. } => "sign-in",
            Self::SignOut => "sign-out",
            Self::TakeSheet { .. } => "take-sheet",
            Self::Answer { .. } => "answer",
            Self::BeginList { .. } => "begin-list",
            Self::LeaveList => "leave-list",
            Self::GradePart { .. } => "grade-part",
            Self::SignFinding { .. } => "sign-finding",
            Self::ApproveArticle { .. } => "approve-article",
            Self::CycleStart => "cycle-start",
            Self::Hold => "hold",
            Self::HoldAtLift => "hold-at-lift",
            Self::Resume => "resume",
            Self::Raise => "raise",
            Self::Stop => "stop",
            Self::Trouble => "trouble",
            Self::RedButton { .. } => "red-button",
            Self::BitFree => "bit-free",
            Self::Home => "home",
            Self::ConfirmZero => "confirm-zero",
            Self::Override { .. } => "override",
            Self::BoardRenewed => "board-renewed",
            Self::HandMove { .. } => "hand-move",
            Self::HandRun { .. } => "hand-run",
            Self::Approach => "approach",
            Self::TouchPlate => "touch-plate",
            Self::OverSpot => "over-spot",
            Self::ZeroHere { .. } => "zero-here",
            Self::Decide { .. } => "decide",
            Self::StillThere => "still-there",
            Self::SignCautions { .. } => "sign-cautions",
            Self::AnswerCall { .. } => "answer-call",
            Self::Note { .. } => "note",
        }
    }
}

/// An axis, in words with the letter beside.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Axis {
    /// Left and right.
    X,
    /// Towards you and away.
    Y,
    /// Up and down.
    Z,
}

impl Axis {
    /// All three.
    pub const ALL: [Self; 3] = [Self::X, Self::Y, Self::Z];

    /// The letter.
    #[must_use]
    pub const fn letter(self) -> char {
        match self {
            Self::X => 'X',
            Self::Y => 'Y',
            Self::Z => 'Z',
        }
    }
}

/// The distances a hand move may have, in millimetres.
pub const HAND_STEPS_MM: [f64; 5] = [0.02, 0.1, 1.0, 10.0, 50.0];

/// What an act answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ActAnswer {
    /// 1.
    pub schema: u32,
    /// What was done, as a sentence.
    pub said: String,
    /// How things stand after it.
    pub now: crate::now::Now,
}
