//! `daemon.toml`: the machine, the shop, the limits of findings, where things are kept.

use super::fault::Fault;
use super::text::{Faults, Text};
use chargehand_types::id::Person;
use chargehand_types::quantity::{Acceleration, Angle, Area, Feed, Length, Point, Rpm, Seconds, Spot};
use chargehand_types::stage::Role;
use serde::Deserialize;
use toml::Spanned;

/// Everything in `daemon.toml`. Paths are as written, to be taken from its folder.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Config {
    /// The machine.
    pub machine: Machine,
    /// Where sheets are pushed to.
    #[serde(default)]
    pub stop: Option<Stop>,
    /// What lies under the sheet.
    #[serde(default)]
    pub waste_board: Option<WasteBoard>,
    /// The shop.
    pub shop: Shop,
    /// Who works here.
    #[serde(default)]
    pub people: Vec<PersonOfShop>,
    /// What findings are measured against.
    #[serde(default)]
    pub limits: Limits,
    /// Where the store is.
    pub store: Store,
    /// Where the API is.
    pub api: Api,
    /// How the practice machine behaves.
    #[serde(default)]
    pub practice: Practice,
    /// For trying the daemon on a bench.
    #[serde(default)]
    pub bench: Bench,
}

/// The machine.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Machine {
    /// For people.
    pub name: String,
    /// A device, or `simulated`.
    pub port: String,
    /// Of the serial line.
    pub baud: Spanned<u32>,
    /// A file of `controllers/`, without its ending.
    pub profile: Spanned<String>,
    /// Machine coordinates.
    pub travel: Spanned<Travel>,
    /// G54 in machine coordinates, as last set.
    pub work_zero: Point,
    /// Fastest on each axis.
    pub max_rate: Spanned<[Feed; 3]>,
    /// Hardest on each axis.
    pub acceleration: Spanned<[Acceleration; 3]>,
    /// Of a rounded corner.
    pub corner_deviation: Length,
    /// How the spindle is switched.
    pub spindle: Spindle,
    /// Limit switches.
    #[serde(default = "yes")]
    pub can_home: bool,
    /// Above the sheet's face, between places.
    #[serde(default = "ten_mm")]
    pub safe_z: Length,
    /// Machine X, Y where the bit waits out of a person's way.
    #[serde(default)]
    pub park: Option<Spot>,
    /// Z touch plate.
    #[serde(default)]
    pub plate: Option<Plate>,
    /// The fastest feed this machine has proved itself at.
    #[serde(default)]
    pub max_feed_tried: Option<Feed>,
    /// Where the red button is, as the screens say it.
    #[serde(default = "red_button")]
    pub red_button: String,
}

/// Least and most on each axis, machine coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs, reason = "each is the axis of its name")]
pub struct Travel {
    pub x: [Length; 2],
    pub y: [Length; 2],
    pub z: [Length; 2],
}

impl Travel {
    /// By axis.
    #[must_use]
    pub const fn axes(&self) -> [[Length; 2]; 3] {
        [self.x, self.y, self.z]
    }
}

/// How the spindle is switched.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Spindle {
    /// By hand; M3, S and M5 do nothing.
    Manual {
        /// Dial number and its speed.
        #[serde(default)]
        dial: Vec<(f64, Rpm)>,
        /// Seconds until it stands still.
        #[serde(default = "run_down")]
        run_down_s: Seconds,
    },
    /// By the controller.
    Controlled {
        /// Slowest.
        least: Rpm,
        /// Fastest.
        most: Rpm,
        /// Seconds until it stands still.
        #[serde(default = "run_down")]
        run_down_s: Seconds,
    },
}

impl Spindle {
    /// Seconds until it stands still.
    #[must_use]
    pub const fn run_down(&self) -> Seconds {
        match self {
            Self::Manual { run_down_s, .. } | Self::Controlled { run_down_s, .. } => *run_down_s,
        }
    }
}

/// Z touch plate.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plate {
    /// Its thickness.
    pub thickness: Length,
    /// `proposed`, or a place.
    #[serde(default)]
    pub spot: Option<PlateSpot>,
}

/// Where the plate is put.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum PlateSpot {
    /// As a word: `proposed`.
    Word(String),
    /// A place in work coordinates.
    At(Spot),
}

/// Where sheets are pushed to.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stop {
    /// Which corner.
    pub corner: String,
    /// Work coordinates of the edge stops.
    #[serde(default)]
    pub pins: Vec<Spot>,
    /// A mark on the waste board to check the zero over.
    #[serde(default)]
    pub mark: Option<Spot>,
}

/// What lies under the sheet.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WasteBoard {
    /// A key of materials.toml.
    pub material: String,
    /// How thick.
    pub thickness: Length,
    /// Rectangles: bolts, tracks.
    #[serde(default)]
    pub keep_out: Vec<[Length; 4]>,
}

/// The shop.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shop {
    /// An IANA name.
    pub time_zone: Spanned<String>,
    /// When someone is there.
    #[serde(default)]
    pub presence: Vec<Presence>,
    /// When somebody is near enough to hear.
    #[serde(default)]
    pub earshot: Vec<Hours>,
}

/// When someone is there.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Presence {
    /// Who.
    pub who: String,
    /// `mon` to `sun`.
    pub days: Vec<String>,
    /// Wall clock.
    pub from: String,
    /// Wall clock.
    pub to: String,
}

/// Hours of the week.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hours {
    /// `mon` to `sun`.
    pub days: Vec<String>,
    /// Wall clock.
    pub from: String,
    /// Wall clock.
    pub to: String,
}

/// Somebody who works here.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PersonOfShop {
    /// By which they sign in.
    pub name: Person,
    /// What they may do.
    pub role: Role,
}

/// What findings are measured against.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[allow(missing_docs, reason = "each is the key of formats.md of its name")]
pub struct Limits {
    pub pass_depth_x_diameter: f64,
    pub steep_ramp_deg: Angle,
    pub tab_safety: f64,
    pub tab_least: TabLeast,
    pub smoulder_min: f64,
    pub fastener_safety: f64,
    pub ignore_thinner: Length,
    pub small_piece: Area,
}

/// The least a tab may be.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs, reason = "each is the key of formats.md of its name")]
pub struct TabLeast {
    pub height: Length,
    pub width: Length,
    pub number: u32,
    pub gap: Length,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            pass_depth_x_diameter: 2.0,
            steep_ramp_deg: Angle::of(10.0),
            tab_safety: 4.0,
            tab_least: TabLeast {
                height: Length::whole_mm(2),
                width: Length::whole_mm(4),
                number: 3,
                gap: Length::whole_mm(400),
            },
            smoulder_min: 45.0,
            fastener_safety: 4.0,
            ignore_thinner: Length(100_000),
            small_piece: Area::of(5.0),
        }
    }
}

/// Where the store is.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Store {
    /// A folder.
    pub path: String,
}

/// Where the API is.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Api {
    /// A Unix socket.
    pub socket: String,
    /// Users whose processes count as the terminal at the machine; the daemon's own when left out.
    #[serde(default)]
    pub terminal_uids: Option<Vec<u32>>,
}

/// How the practice machine behaves.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Practice {
    /// Machine seconds a real second.
    pub rate: f64,
    /// Of its chances.
    pub seed: u64,
}

impl Default for Practice {
    fn default() -> Self {
        Self { rate: 1.0, seed: 1 }
    }
}

/// For trying the daemon on a bench.
#[derive(Debug, Clone, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Bench {
    /// Lets a scripted operator in; only where the port is a pseudo-terminal.
    pub scripted_operator: bool,
}

/// The port that stands for the practice machine.
pub const SIMULATED: &str = "simulated";

const fn yes() -> bool {
    true
}
const fn ten_mm() -> Length {
    Length::whole_mm(10)
}
fn run_down() -> Seconds {
    Seconds::of(12.0)
}
fn red_button() -> String {
    "the red button on the machine".to_owned()
}

/// Reads `daemon.toml`. `profiles` are the names of the profiles there are.
///
/// # Errors
/// Every fault.
pub fn config<'p>(text: Text<'_>, profiles: impl IntoIterator<Item = &'p str>) -> Result<Config, Vec<Fault>> {
    let config: Config = text.read()?;
    let mut faults = Faults::of(text);
    let m = &config.machine;
    faults.unless_known(&m.profile, "profile", "controller profile", profiles);
    if !(300..=4_000_000).contains(m.baud.as_ref()) {
        faults.add(m.baud.span(), "baud", "a serial line runs at 300 to 4,000,000 baud");
    }
    if m.travel.as_ref().axes().iter().any(|[least, most]| least >= most) {
        faults.add(m.travel.span(), "travel", "each axis has its least before its most");
    }
    if m.max_rate.as_ref().iter().any(|f| f.0 <= 0) {
        faults.add(m.max_rate.span(), "max_rate", "each axis moves faster than 0");
    }
    if m.acceleration.as_ref().iter().any(|a| a.value() <= 0.0) {
        faults.add(m.acceleration.span(), "acceleration", "each axis accelerates more than 0");
    }
    let zone = &config.shop.time_zone;
    if zone.as_ref() != "system" && zone.as_ref().parse::<chrono_tz::Tz>().is_err() {
        let known = chrono_tz::TZ_VARIANTS.iter().map(|z| z.name());
        let nearest = super::fault::nearest(zone.as_ref(), known);
        let fault = faults.add(zone.span(), "time_zone", format!("there is no time zone `{}`", zone.as_ref()));
        fault.allowed = Some("an IANA name such as Europe/Oslo, or system".to_owned());
        fault.nearest = nearest;
    }
    faults.or(config)
}
