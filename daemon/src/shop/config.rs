//! `daemon.toml` as checked values: the machine, the hours, the people, the limits, and where things are kept.
//!
//! May live here: the values and their defaults. May not: the files beside it (see [`super::shelf`]), and any path made
//! absolute: relative ones are from the config file's folder, and the caller knows it.

mod hours;
mod machine;
mod outward;
mod raw;
mod read;
mod wares;

pub use hours::{Calendar, Exception, HandTimes, Hours, Presence, Window};
pub use machine::{AboveBit, Corner, DialMark, Machine, Plate, PlateSpot, Port, Reach, Spindle, Stop, Travel};
pub use outward::{Broker, How, Letters, Outward, Rule, Tls, Way};
pub use read::read;
pub use wares::{Panel, Product, Upkeep};

use chargehand_types::id::Person;
use chargehand_types::plan::Minutes;
use chargehand_types::quantity::{Angle, Area, Length, Spot};
use chargehand_types::stage::Role;
use std::net::SocketAddr;

/// Everything `daemon.toml` says, defaults filled in.
#[derive(Debug, Clone, PartialEq)]
pub struct Config {
    /// The machine.
    pub machine: Machine,
    /// Where sheets are pushed to.
    pub stop: Stop,
    /// What sheets lie on.
    pub waste_board: WasteBoard,
    /// When somebody is there.
    pub hours: Hours,
    /// Who works here; never empty.
    pub people: Vec<Worker>,
    /// What findings are measured against.
    pub limits: Limits,
    /// The folder of the journal and the state.
    pub store: String,
    /// Leaving a running sheet alone.
    pub away: SteppingAway,
    /// How the daemon is spoken to.
    pub api: Api,
    /// How the simulated machine runs.
    pub practice: Practice,
    /// For trying the daemon on a bench.
    pub bench: Bench,
    /// Whom the daemon tells outside the shop.
    pub outward: Outward,
    /// What an hour of the machine and an hour of a person cost; none where nobody says.
    pub rates: Option<[f64; 2]>,
    /// What is sold.
    pub products: Vec<Product>,
    /// What sheets are sawn from.
    pub panels: Vec<Panel>,
    /// What is to be kept up, and after how much work; none when unsaid.
    pub upkeep: Vec<Upkeep>,
}

impl Config {
    /// How fast machine time runs against real time: the practice rate on the simulated port, 1 on every other.
    #[must_use]
    pub fn clock_rate(&self) -> f64 {
        match self.machine.port {
            Port::Simulated => self.practice.rate,
            Port::Path(_) => 1.0,
        }
    }

    /// A person's role; none for a stranger.
    #[must_use]
    pub fn role_of(&self, who: &Person) -> Option<Role> {
        self.people.iter().find(|w| w.name == *who).map(|w| w.role)
    }
}

/// One of the shop's people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Worker {
    /// As they sign in.
    pub name: Person,
    /// What they may do.
    pub role: Role,
}

/// What sheets lie on.
#[derive(Debug, Clone, PartialEq)]
pub struct WasteBoard {
    /// A key of materials.toml; its density says how well screws hold. Unsaid, holding is not reckoned.
    pub material: Option<String>,
    /// How thick; 18 mm when unsaid.
    pub thickness: Length,
    /// Work coordinates that hold bolts or tracks.
    pub keep_out: Vec<Rectangle>,
}

/// An upright rectangle in work coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rectangle {
    /// Lower left corner.
    pub from: Spot,
    /// Upper right corner.
    pub to: Spot,
}

/// What findings are measured against. Rules of thumb are common practice without a source; a shop sets its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Deepest pass in bit diameters: 2.
    pub pass_depth_x_diameter: f64,
    /// Steepest ramp that is not told: 10 degrees.
    pub steep_ramp: Angle,
    /// Tab strength over cutting force: 4.
    pub tab_safety: f64,
    /// The least of a tab that is not asked a signature for.
    pub tab_least: TabLeast,
    /// Minutes to watch the extractor after the last unattended cut: 45.
    pub smoulder_min: u32,
    /// Holding over lifting force: 4.
    pub fastener_safety: f64,
    /// No cut is farther from a fastener where places are proposed: 400 mm.
    pub fastener_span: Length,
    /// A skin thinner than this holds nothing: 0.1 mm.
    pub ignore_thinner: Length,
    /// Smaller pieces are chips: 5 mm2.
    pub small_piece: Area,
}

/// The least of a tab.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TabLeast {
    /// Above the underside: 2 mm.
    pub height: Length,
    /// Along the cut: 4 mm.
    pub width: Length,
    /// To a piece: 3.
    pub number: u32,
    /// Farthest apart: 400 mm.
    pub gap: Length,
}

/// Leaving a running sheet with nobody signed in at the machine. The times are common practice, without a source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SteppingAway {
    /// Whether it is turned on: false. The owner signs its cautions beside this.
    pub allowed: bool,
    /// How often it is asked whether somebody is still there: 10 minutes.
    pub still_there: Minutes,
    /// How long the answer may take before somebody is called, and once more before it holds: 2 minutes.
    pub answer: Minutes,
}

/// How the daemon is spoken to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Api {
    /// The Unix socket's path; `chargehand.sock` when unsaid.
    pub socket: String,
    /// Users (numeric ids of the system) whose programs count as standing at the machine. Unsaid: only the daemon's own.
    pub terminal_uids: Option<Vec<u32>>,
    /// Where it is spoken to over a network; nowhere when unsaid.
    pub network: Option<Network>,
}

/// How the daemon is spoken to over a network: TLS, and a token with every request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Network {
    /// Address and port.
    pub listen: SocketAddr,
    /// The certificate's file (PEM, what vouches for it after it); `chargehand.crt` when unsaid.
    pub certificate: String,
    /// The key's file; `chargehand.key` when unsaid.
    pub key: String,
}

/// How the simulated machine runs. Without meaning on a real port.
#[derive(Debug, Clone, PartialEq)]
pub struct Practice {
    /// Machine seconds to a real one: 20.
    pub rate: f64,
    /// What chance in the simulated machine starts from: 1.
    pub seed: u64,
    /// What goes wrong with it, to practise stumbles on.
    pub faults: Vec<PracticeFault>,
    /// Whether programs started from a login over a network count as being elsewhere, as they do at a real machine:
    /// false.
    pub refuse_remote_login: bool,
}

/// Something that goes wrong with the simulated machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PracticeFault {
    /// When it has received so many lines since it was switched on.
    pub line: u64,
    /// What.
    pub what: Stumble,
    /// With `unplug`: machine milliseconds until the cable is in again; unsaid, it stays out.
    pub back_ms: Option<u32>,
}

/// What can go wrong with the simulated machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs, reason = "each is the fault of its name in the room of the practice machine")]
pub enum Stumble {
    Refuse,
    Alarm,
    Restart,
    RestartUnheard,
    Silence,
    Stuck,
    LoseAnswer,
    DoubleAnswer,
    GarbleAnswer,
    GarbleLine,
    GarbleReport,
    WrongResend,
    Busy,
    Slow,
    HoldButton,
    DoorOpens,
    DrivesOff,
    BitPulled,
    NoSwitch,
    Unplug,
}

/// For trying the daemon on a bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bench {
    /// A program answers in a person's place: false. Whoever opens the port must refuse it on anything but a
    /// pseudo-terminal.
    pub scripted_operator: bool,
}

#[cfg(test)]
mod tests;
