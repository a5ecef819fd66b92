//! The machine as config describes it.

use chargehand_types::quantity::{Acceleration, Feed, Length, Point, Rpm, Seconds, Spot, plain};
use std::fmt;

/// The machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// For people.
    pub name: String,
    /// How it is reached.
    pub port: Port,
    /// Bits a second on the line: 115200 when unsaid.
    pub baud: u32,
    /// The controller's profile: `acknowledged-window` when unsaid.
    pub profile: String,
    /// How far it can go, in machine coordinates.
    pub travel: Travel,
    /// G54 in machine coordinates, as last set.
    pub work_zero: Point,
    /// Fastest, by axis.
    pub max_rate: [Feed; 3],
    /// Hardest, by axis.
    pub acceleration: [Acceleration; 3],
    /// How far a corner may be cut short while keeping speed: 0.02 mm when unsaid.
    pub corner_deviation: Length,
    /// How the bit is turned.
    pub spindle: Spindle,
    /// Limit switches are there: true when unsaid. Without them position is known only after stop, mark and touch.
    pub can_home: bool,
    /// Work Z above the sheet's face for travel between places: 10 mm when unsaid.
    pub safe_z: Length,
    /// Machine X and Y where the bit waits out of a person's way; far left when unsaid.
    pub park: Spot,
    /// The Z touch plate.
    pub plate: Plate,
    /// Fastest feed it proved itself at in sheet goods; unsaid, feeds are not judged by it.
    pub max_feed_tried: Option<Feed>,
    /// Where the red button is, for people.
    pub red_button: String,
    /// What is wider than the bit and goes down with it: collet nut, spindle nose, dust shoe. None when unsaid.
    pub above_bit: Vec<AboveBit>,
}

/// A round body that goes down with the bit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AboveBit {
    /// Across it.
    pub diameter: Length,
    /// From the tip of the bit up to its underside, with the bit that sticks out least.
    pub above_tip: Length,
}

/// How the machine is reached.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Port {
    /// The practice machine.
    Simulated,
    /// A serial device.
    Path(String),
}

impl From<String> for Port {
    fn from(text: String) -> Self {
        if text == "simulated" { Self::Simulated } else { Self::Path(text) }
    }
}

impl fmt::Display for Port {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Simulated => f.write_str("simulated"),
            Self::Path(path) => f.write_str(path),
        }
    }
}

/// How far the machine can go, in machine coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Travel {
    /// Left and right.
    pub x: Reach,
    /// Towards you and away.
    pub y: Reach,
    /// Down and up.
    pub z: Reach,
}

/// How far one axis can go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reach {
    /// One end.
    pub least: Length,
    /// The other end.
    pub most: Length,
}

impl Reach {
    /// Whether a place is on the axis, ends included.
    #[must_use]
    pub fn holds(self, at: Length) -> bool {
        self.least <= at && at <= self.most
    }
}

/// How the bit is turned.
#[derive(Debug, Clone, PartialEq)]
pub enum Spindle {
    /// Switched by hand: M3 and M5 do nothing, a person turns the dial.
    Manual {
        /// Dial marks and the speed at each, rising; may be empty where the dial bears speeds.
        dial: Vec<DialMark>,
        /// From "off" to standing still.
        run_down: Seconds,
    },
    /// Switched and set by the controller.
    Controlled {
        /// Slowest.
        least: Rpm,
        /// Fastest.
        most: Rpm,
        /// From "off" to standing still.
        run_down: Seconds,
    },
}

/// A mark on a speed dial.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DialMark {
    /// What is printed there.
    pub mark: f64,
    /// How fast the bit turns at it, unloaded.
    pub speed: Rpm,
}

impl Spindle {
    /// From "off" to standing still: 15 s when unsaid.
    #[must_use]
    pub const fn run_down(&self) -> Seconds {
        match self {
            Self::Manual { run_down, .. } | Self::Controlled { run_down, .. } => *run_down,
        }
    }

    /// Where to turn the dial for a speed, to the nearest tenth between two marks; none without marks, with a
    /// controlled spindle, or for a speed the dial does not reach.
    #[must_use]
    pub fn dial_for(&self, speed: Rpm) -> Option<f64> {
        let Self::Manual { dial, .. } = self else {
            return None;
        };
        let above = dial.iter().position(|m| m.speed >= speed)?;
        let upper = dial.get(above)?;
        if upper.speed == speed {
            return Some(upper.mark);
        }
        let lower = dial.get(above.checked_sub(1)?)?;
        let part = (speed - lower.speed).unit() / (upper.speed - lower.speed).unit();
        Some(((lower.mark + part * (upper.mark - lower.mark)) * 10.0).round() / 10.0)
    }
}

impl fmt::Display for DialMark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", plain(self.mark), self.speed)
    }
}

/// The Z touch plate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plate {
    /// How thick: 15 mm when unsaid.
    pub thickness: Length,
    /// Where it is laid.
    pub spot: PlateSpot,
}

/// Where the touch plate is laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlateSpot {
    /// On an uncut place by a fastener, as proposed for each sheet.
    Proposed,
    /// Always here, in work coordinates.
    At(Spot),
}

/// Where sheets are pushed to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stop {
    /// Which corner of the sheet is pushed home: lower left when unsaid.
    pub corner: Corner,
    /// Work coordinates of the edge stops.
    pub pins: Vec<Spot>,
    /// Work coordinates of a mark on the waste board to check the zero over.
    pub mark: Option<Spot>,
}

/// A corner of the sheet, seen from where a person stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Corner {
    /// Near, left.
    #[default]
    LowerLeft,
    /// Near, right.
    LowerRight,
    /// Far, left.
    UpperLeft,
    /// Far, right.
    UpperRight,
}

impl Corner {
    /// For people.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::LowerLeft => "near left corner",
            Self::LowerRight => "near right corner",
            Self::UpperLeft => "far left corner",
            Self::UpperRight => "far right corner",
        }
    }
}
