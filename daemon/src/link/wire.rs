//! The edge of the link: everything that goes in and comes out.

use crate::floor::permit::{Epoch, Permit, VoidPermit};
use crate::sending::SentLine;
use chargehand_types::act::Axis;
use chargehand_types::quantity::{Feed, Length, Point, Rpm, Tick};

/// What comes in.
#[derive(Debug)]
pub enum Input<'a> {
    /// The port was opened (again); nothing is known of the controller.
    Opened,
    /// Bytes were read.
    Bytes(&'a [u8]),
    /// The port is gone: hang-up, error, cannot be opened. The text says why, for people.
    Lost(&'a str),
    /// The asked-for time has come.
    Woke,
    /// Somebody wants something.
    Command(Command),
}

/// What somebody wants.
#[derive(Debug)]
pub enum Command {
    /// Find home.
    Home(Permit),
    /// Make a faulted controller take motion again.
    Unlock(Permit),
    /// Set G54 to these machine coordinates (config's work zero). It moves nothing; asked for before a stop it is not done
    /// after it all the same, when the machine may stand elsewhere than was thought.
    SetWorkZero {
        /// Where.
        at: Point,
        /// The epoch it was asked for in.
        epoch: Epoch,
    },
    /// Move one axis by hand.
    HandMove {
        /// The right to.
        permit: Permit,
        /// Which axis.
        axis: Axis,
        /// How far.
        by: Length,
        /// How fast.
        feed: Feed,
    },
    /// Touch a plate with the bit, twice; [`Report::Touched`] tells where it was met.
    Touch {
        /// The right to.
        permit: Permit,
        /// How.
        how: Touch,
    },
    /// Move one axis by hand for as long as [`Command::KeepRunning`] comes again and again.
    Run {
        /// The right to.
        permit: Permit,
        /// How.
        how: Run,
    },
    /// Whoever asked for a run still does.
    KeepRunning,
    /// Bring the bit over a place: straight up to its Z, then sideways.
    Over {
        /// The right to.
        permit: Permit,
        /// Where, in machine coordinates.
        at: Point,
    },
    /// The bit's place on this axis shall read `value` in G54. As with the work zero, not after a stop.
    ZeroHere {
        /// The epoch it was asked for in.
        epoch: Epoch,
        /// Which axis.
        axis: Axis,
        /// What it shall read: 0, or the thickness of plate or paper.
        value: Length,
    },
    /// Begin a stretch: the lines come by [`Command::Lines`].
    Begin(Permit),
    /// More lines of the stretch, in order.
    Lines(Vec<SentLine>),
    /// There are no more lines.
    NoMoreLines,
    /// Feed hold at once. Passes everything.
    Hold,
    /// Send no more after the next line that ends in a lift; run out; then held.
    HoldAtLift,
    /// Go on after a hold, a lift or a prompt.
    Resume(Permit),
    /// After a hold: give up what the controller still holds without losing position where it can, raise to
    /// machine Z, spindle off. Lines not known done are given back by [`Report::Raised`].
    Raise {
        /// The right to.
        permit: Permit,
        /// How high, in machine coordinates.
        machine_z: Length,
    },
    /// End the stretch for good: hold, then discard. Voids permits. Passes everything.
    Stop,
    /// Switch the spindle (controlled spindles only).
    Spindle(Option<Rpm>),
    /// Feed motion and rapids at so much per cent of what is written; none stays as it is. At once.
    Override(Override),
}

/// How a plate is touched. Lengths are positive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Touch {
    /// No farther down than this.
    pub reach: Length,
    /// How fast at first.
    pub quick: Feed,
    /// How far off it before the second touch.
    pub off: Length,
    /// How fast then.
    pub slow: Feed,
    /// How far up afterwards.
    pub up: Length,
}

/// A run by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Run {
    /// Which axis.
    pub axis: Axis,
    /// Towards rising coordinates.
    pub up: bool,
    /// No farther than this.
    pub most: Length,
    /// How fast.
    pub feed: Feed,
}

/// Per cent of what is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Override {
    /// Of feeds; whole tens.
    pub feed: Option<u16>,
    /// Of rapids: 25, 50 or 100.
    pub rapid: Option<u16>,
}

/// What goes out.
#[derive(Debug, Clone, PartialEq)]
pub enum Output {
    /// Write these bytes. Urgent ones pass what waits.
    Send {
        /// The bytes.
        bytes: Vec<u8>,
        /// Whether they pass what waits.
        urgent: bool,
    },
    /// Throw away what is written but not yet taken by the kernel.
    DropUnsent,
    /// Close the port and open it again by its configured path.
    Reopen,
    /// Something to know.
    Report(Report),
    /// Nothing more until then (or until input). Always the last output of a drain.
    WakeAt(Tick),
}

/// Something to know.
#[derive(Debug, Clone, PartialEq)]
pub enum Report {
    /// The controller answers and gave a report of its state.
    Up {
        /// What it said of itself, in our words.
        note: String,
        /// Whether its own words say that position may be kept (false after any restart).
        position_kept: bool,
        /// The epoch now.
        epoch: Epoch,
    },
    /// The link is lost.
    Down {
        /// As a sentence.
        why: String,
        /// How far the stretch had come, if one ran.
        at: Option<Reached>,
        /// The epoch now.
        epoch: Epoch,
    },
    /// The controller's state, from its report. Sent when it changes and at most at the report rate.
    State(ControllerState),
    /// The stretch has room: more lines are wanted (about this many bytes).
    WantsLines {
        /// Bytes.
        bytes: usize,
    },
    /// How far the stretch has come.
    Reached(Reached),
    /// The controller reports that the axes are held, after [`Command::Hold`] or by the machine's own button.
    Held {
        /// How far.
        at: Reached,
        /// Asked for by us, or by the machine's own button or door.
        asked: bool,
    },
    /// A hold was asked for and no report confirmed it in time.
    HoldUnconfirmed,
    /// Everything sent has run out after a lift that a hold was waiting for.
    HeldAtLift(Reached),
    /// Everything sent has run out before a prompt or a bit change.
    AtPrompt {
        /// The line that asks.
        line: Box<SentLine>,
        /// How far.
        at: Reached,
    },
    /// The stretch is finished: every line acknowledged and the controller reports standing still.
    Finished(Reached),
    /// A line was refused; nothing more is sent.
    Refused {
        /// The source line.
        line: u32,
        /// The controller's reason in plain words.
        meaning: String,
        /// How far.
        at: Reached,
        /// The epoch now.
        epoch: Epoch,
    },
    /// The controller reported a fault; nothing more is sent.
    Fault {
        /// In plain words.
        meaning: String,
        /// Whether position is lost by it.
        position_lost: bool,
        /// How far, if a stretch ran.
        at: Option<Reached>,
        /// The epoch now.
        epoch: Epoch,
    },
    /// The controller greeted anew in the middle of work.
    Restarted {
        /// How far, if a stretch ran.
        at: Option<Reached>,
        /// The epoch now.
        epoch: Epoch,
    },
    /// A stop was carried out: nothing more is sent, the controller was told to discard.
    Stopped {
        /// How far.
        at: Option<Reached>,
        /// Whether the controller keeps its position through this.
        position_kept: bool,
        /// The epoch now.
        epoch: Epoch,
    },
    /// Home was found.
    Homed,
    /// A hand move, a zero or a raise is done and the machine stands still.
    HandDone,
    /// Raised after a hold; the stretch is over, these lines are not certainly cut.
    Raised {
        /// How far.
        at: Reached,
    },
    /// The plate was touched twice, and the bit is off it again and stands still.
    Touched {
        /// Where the slow touch met it, in machine coordinates.
        machine_z: Length,
    },
    /// A setting was taken (work zero, zero here).
    SettingTaken,
    /// A command came with a permit that does not count, or at a wrong time, or was refused.
    NotDone {
        /// What was to be done.
        what: Wanted,
        /// The epoch it was asked for in, of what an epoch ends: of one that is over it says nothing of what was asked
        /// for since.
        of: Option<Epoch>,
        /// Why.
        why: NotDone,
    },
    /// The controller said something meant for people.
    Said(String),
}

/// What a command wants done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// Home found.
    Home,
    /// A faulted controller made to take motion again.
    Unlock,
    /// The work zero set.
    WorkZero,
    /// A move by hand.
    HandMove,
    /// A plate touched.
    Touch,
    /// A zero set where the bit stands.
    ZeroHere,
    /// A stretch begun, or its lines sent.
    Stretch,
    /// A hold at once.
    Hold,
    /// A hold at the next lift.
    HoldAtLift,
    /// To go on after a hold.
    Resume,
    /// The bit raised after a hold.
    Raise,
    /// The stretch ended for good.
    Stop,
    /// The spindle switched.
    Spindle,
    /// Another feed, or other rapids.
    Override,
}

impl Command {
    /// What it wants done.
    #[must_use]
    pub const fn wanted(&self) -> Wanted {
        match self {
            Self::Home(_) => Wanted::Home,
            Self::Unlock(_) => Wanted::Unlock,
            Self::SetWorkZero { .. } => Wanted::WorkZero,
            Self::HandMove { .. } | Self::Over { .. } | Self::Run { .. } | Self::KeepRunning => Wanted::HandMove,
            Self::Touch { .. } => Wanted::Touch,
            Self::ZeroHere { .. } => Wanted::ZeroHere,
            Self::Begin(_) | Self::Lines(_) | Self::NoMoreLines => Wanted::Stretch,
            Self::Hold => Wanted::Hold,
            Self::HoldAtLift => Wanted::HoldAtLift,
            Self::Resume(_) => Wanted::Resume,
            Self::Raise { .. } => Wanted::Raise,
            Self::Stop => Wanted::Stop,
            Self::Spindle(_) => Wanted::Spindle,
            Self::Override(_) => Wanted::Override,
        }
    }

    /// The epoch it was asked for in, if that one's end is its end.
    #[must_use]
    pub const fn epoch(&self) -> Option<Epoch> {
        match self {
            Self::Home(permit) | Self::Unlock(permit) | Self::Begin(permit) | Self::Resume(permit) => {
                Some(permit.epoch())
            }
            Self::HandMove { permit, .. }
            | Self::Touch { permit, .. }
            | Self::Run { permit, .. }
            | Self::Over { permit, .. }
            | Self::Raise { permit, .. } => Some(permit.epoch()),
            Self::SetWorkZero { epoch, .. } | Self::ZeroHere { epoch, .. } => Some(*epoch),
            Self::KeepRunning
            | Self::Lines(_)
            | Self::NoMoreLines
            | Self::Hold
            | Self::HoldAtLift
            | Self::Stop
            | Self::Spindle(_)
            | Self::Override(_) => None,
        }
    }

    /// The report that it is not done.
    #[must_use]
    pub const fn undone(&self, why: NotDone) -> Report {
        Report::NotDone { what: self.wanted(), of: self.epoch(), why }
    }
}

/// Why a command was not carried out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotDone {
    /// The permit is void.
    #[error(transparent)]
    Permit(#[from] VoidPermit),
    /// There is no link.
    #[error("the controller does not answer")]
    NoLink,
    /// Something else is under way.
    #[error("the machine is busy: {0}")]
    Busy(&'static str),
    /// The controller cannot do it.
    #[error("this controller cannot: {0}")]
    Cannot(&'static str),
    /// It was refused.
    #[error("the controller refused: {0}")]
    Refused(String),
    /// Somebody held it.
    #[error("it was held, and what was left of it is given up")]
    Held,
}

/// How far a stretch has come. Lines are source lines; none before the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Reached {
    /// The last line certainly finished.
    pub done: Option<u32>,
    /// The line most likely being cut.
    pub cutting: Option<u32>,
    /// The last line acknowledged: parsed, not cut.
    pub acknowledged: Option<u32>,
    /// The last line written.
    pub sent: Option<u32>,
    /// Lines of the stretch known done.
    pub lines_done: u64,
}

/// What the controller says of itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ControllerState {
    /// Its state word, in ours.
    pub word: StateWord,
    /// Machine coordinates of the bit.
    pub machine: Option<Point>,
    /// Work coordinates of the bit.
    pub work: Option<Point>,
    /// Feed in force, if told.
    pub feed: Option<Feed>,
    /// Spindle speed in force, if told.
    pub speed: Option<Rpm>,
    /// Pins that are closed, if told: a limit switch, the probe, the door.
    pub pins: Pins,
    /// Per cent of feeds and of rapids, if told.
    pub per_cent: Option<[u16; 2]>,
}

/// Inputs of the controller.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Pins {
    /// A limit switch.
    pub limit: bool,
    /// The touch plate's wire.
    pub probe: bool,
    /// A door or hold button.
    pub door: bool,
}

/// The controller's state in our words, as profiles map them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StateWord {
    /// Stands still and takes lines.
    Ready,
    /// Moves.
    Cutting,
    /// Held, or about to be.
    Holding,
    /// Refuses motion until somebody sees to it.
    Faulted,
    /// Looks for its switches.
    Homing,
    /// Reads lines without moving.
    Checking,
    /// Sleeps.
    Asleep,
    /// Anything else.
    #[default]
    Unknown,
}

impl std::fmt::Display for StateWord {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Ready => "it stands still and takes lines",
            Self::Cutting => "it moves",
            Self::Holding => "it is held",
            Self::Faulted => "it refuses motion until home is found",
            Self::Homing => "it is finding home",
            Self::Checking => "it reads lines without moving",
            Self::Asleep => "it sleeps",
            Self::Unknown => "its state is not known",
        })
    }
}

/// The source of machine time for the I/O rooms; `app` makes the only one.
pub trait TickSource: Send + Sync {
    /// Now.
    fn now(&self) -> Tick;
    /// How long a real wait takes to reach a tick; nothing when it is past.
    fn real_until(&self, tick: Tick) -> std::time::Duration;
    /// Machine seconds a real second.
    fn rate(&self) -> f64;
}
