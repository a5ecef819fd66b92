//! What a program makes happen, one step after the other: the values that every room below works on.
//!
//! Positions are in the work frame: G54 millimetres with every other shift (G55 to G59.3, G92, tool length) taken
//! out, so that `position + work zero` is the machine coordinate.

use chargehand_types::quantity::{Feed, Length, Point, Rpm};

/// A place in the program's text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Place {
    /// 1-based.
    pub line: u32,
    /// 1-based, in bytes; the word that asks for the step.
    pub column: u32,
}

/// One thing the program makes happen, in the order of execution of NISTIR 6556 Table 8.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Where it is written.
    pub place: Place,
    /// What happens.
    pub doing: Doing,
    /// Every modal group as it stands while it happens.
    pub modal: Modal,
}

/// What happens.
#[derive(Debug, Clone, PartialEq)]
pub enum Doing {
    /// The bit moves.
    Move(Move),
    /// G4.
    Dwell {
        /// Seconds.
        seconds: f64,
    },
    /// M3, M4, M5, or an S word while it turns: the machine comes to rest here.
    Spindle,
    /// M7, M8, M9.
    Coolant,
    /// M0, M1, M60: a person is asked.
    Prompt {
        /// M1: only with the optional stop on.
        optional: bool,
        /// The comment of the block, or the last message before it.
        text: Option<Box<str>>,
    },
    /// M6: a person fits another bit.
    BitChange {
        /// The T word in force.
        tool: Option<u32>,
    },
    /// `(MSG, …)`.
    Message(Box<str>),
    /// M2, M30.
    End,
}

/// One motion of the bit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Move {
    /// Rapid, feed, arc, probe.
    pub kind: MoveKind,
    /// Start.
    pub from: Point,
    /// End.
    pub to: Point,
    /// How fast.
    pub pace: Pace,
    /// Axes a motion has named so far, this one included: X 1, Y 2, Z 4. Extents count an axis from then on.
    pub named: u8,
    /// Part of what a canned cycle unfolds to.
    pub of_cycle: bool,
}

/// The form of a motion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MoveKind {
    /// G0, and the rapids of cycles, G28, G30.
    Rapid,
    /// G1, and the feeds of cycles.
    Feed,
    /// G2, G3: a circle or a helix.
    Arc(Arc),
    /// G38.2.
    Probe,
}

/// The circle of an arc. The third axis moves evenly along it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arc {
    /// Its plane.
    pub plane: Plane,
    /// Centre along the plane's first and second axis: (X, Y), (Z, X), (Y, Z), in mm.
    pub centre: [f64; 2],
    /// Radius at the start, in mm.
    pub radius: f64,
    /// Signed sweep in radians, counter-clockwise positive, as seen from the positive end of the third axis.
    pub sweep: f64,
}

/// How fast a motion is asked to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    /// As fast as the machine rapids.
    Rapid,
    /// G94: along the path.
    Feed(Feed),
    /// G93: the whole motion in this many seconds.
    Within(f64),
    /// Cutting was asked for and no feed was ever set.
    Unset,
}

/// G17, G18, G19.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Plane {
    /// G17.
    #[default]
    Xy,
    /// G18.
    Zx,
    /// G19.
    Yz,
}

/// G0, G1, G2, G3, G38.2, G80 to G89.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[allow(missing_docs, reason = "each is the G word of its name")]
pub enum MotionMode {
    #[default]
    G0,
    G1,
    G2,
    G3,
    G38_2,
    G80,
    G81,
    G82,
    G83,
    G84,
    G85,
    G86,
    G87,
    G88,
    G89,
}

/// Which way the spindle turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Turning {
    /// M5.
    #[default]
    Off,
    /// M3.
    Clockwise,
    /// M4.
    CounterClockwise,
}

/// Every modal group of NISTIR 6556 Table 4, with feed, speed and tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Modal {
    /// Group 1.
    pub motion: MotionMode,
    /// Group 2.
    pub plane: Plane,
    /// Group 3: G91.
    pub incremental: bool,
    /// G90.1: arc centres are absolute.
    pub absolute_centres: bool,
    /// Group 5: G93.
    pub inverse_time: bool,
    /// Group 6: G20.
    pub inch: bool,
    /// Group 8: the H word of G43; none after G49.
    pub tool_length: Option<u16>,
    /// Group 10: G99.
    pub return_to_r: bool,
    /// Group 12: 1 is G54, 9 is G59.3.
    pub system: u8,
    /// Group 13: G61 or G61.1.
    pub exact: bool,
    /// M group 7.
    pub turning: Turning,
    /// M7.
    pub mist: bool,
    /// M8.
    pub flood: bool,
    /// M group 9: M49.
    pub overrides_off: bool,
    /// F as last set under G94.
    pub feed: Option<Feed>,
    /// S.
    pub speed: Option<Rpm>,
    /// T.
    pub tool: Option<u32>,
    /// The G92 shift in force, to be taken from a programmed coordinate to get the system's.
    pub shift: Point,
}

/// Where a program starts: the machine's state before its first block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    /// Work-frame position; a check starts at X0 Y0 and the top of Z travel.
    pub at: Point,
    /// Work zero (G54) in machine coordinates, for G53, G28, G30 and other systems.
    pub work_zero: Point,
    /// Radii of an arc may differ by this much, or by 0.1 %, whichever is larger.
    pub arc_tolerance: Length,
}
