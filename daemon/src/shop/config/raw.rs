//! The form of `daemon.toml`, with the default of every key that may be left out.

use super::PracticeFault;
use super::machine::Corner;
use crate::shop::text::Row;
use chargehand_types::quantity::{Acceleration, Angle, Area, Feed, Length, Rpm, Seconds};
use chargehand_types::stage::Role;
use serde::de::{Error, SeqAccess, Visitor, value::SeqAccessDeserializer};
use serde::{Deserialize, Deserializer};
use std::collections::BTreeMap;
use std::fmt;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawConfig {
    pub machine: RawMachine,
    #[serde(default)]
    pub stop: RawStop,
    #[serde(default)]
    pub waste_board: RawWasteBoard,
    #[serde(default)]
    pub shop: RawShop,
    #[serde(default)]
    pub people: Vec<RawWorker>,
    #[serde(default)]
    pub limits: RawLimits,
    #[serde(default)]
    pub away: RawAway,
    #[serde(default)]
    pub store: RawStore,
    #[serde(default)]
    pub api: RawApi,
    #[serde(default)]
    pub practice: RawPractice,
    #[serde(default)]
    pub bench: RawBench,
    #[serde(default)]
    pub notices: super::outward::RawOutward,
    #[serde(default)]
    pub rates: RawRates,
    #[serde(default)]
    pub product: Vec<RawProduct>,
    #[serde(default)]
    pub stock: Vec<RawPanel>,
    #[serde(default)]
    pub upkeep: Vec<RawUpkeep>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawUpkeep {
    pub name: String,
    pub what: String,
    pub every_hours: Option<f64>,
    pub every_metres: Option<f64>,
    pub every_days: Option<f64>,
    #[serde(default)]
    pub with_board: bool,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawRates {
    pub machine_hour: Option<f64>,
    pub hand_hour: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawProduct {
    pub name: String,
    pub parts: BTreeMap<String, u32>,
    #[serde(default)]
    pub finishing_days: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawPanel {
    pub name: String,
    pub material: String,
    pub thickness: Length,
    pub size: Row<Length, 2>,
    #[serde(default = "super::read::usual_kerf")]
    pub kerf: Length,
    #[serde(default = "quarters")]
    pub pieces: Row<u32, 2>,
    #[serde(default)]
    pub price: f64,
}

fn quarters() -> Row<u32, 2> {
    Row([2, 2])
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawMachine {
    pub name: String,
    pub port: String,
    #[serde(default = "usual_baud")]
    pub baud: u32,
    #[serde(default = "usual_profile")]
    pub profile: String,
    pub travel: RawTravel,
    pub work_zero: Row<Length, 3>,
    pub max_rate: Row<Feed, 3>,
    pub acceleration: Row<Acceleration, 3>,
    #[serde(default = "usual_deviation")]
    pub corner_deviation: Length,
    pub spindle: RawSpindle,
    #[serde(default = "yes")]
    pub can_home: bool,
    #[serde(default = "usual_safe_z")]
    pub safe_z: Length,
    pub park: Option<Row<Length, 2>>,
    #[serde(default)]
    pub plate: RawPlate,
    pub max_feed_tried: Option<Feed>,
    pub red_button: Option<String>,
    #[serde(default)]
    pub above_bit: Vec<RawAboveBit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawAboveBit {
    pub diameter: Length,
    pub above_tip: Length,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawTravel {
    pub x: Row<Length, 2>,
    pub y: Row<Length, 2>,
    pub z: Row<Length, 2>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawSpindle {
    pub kind: SpindleKind,
    pub dial: Option<Vec<Row<f64, 2>>>,
    pub least: Option<Rpm>,
    pub most: Option<Rpm>,
    #[serde(default = "usual_run_down")]
    pub run_down_s: Seconds,
}

#[derive(Deserialize, PartialEq, Clone, Copy)]
#[serde(rename_all = "kebab-case")]
pub(super) enum SpindleKind {
    Manual,
    Controlled,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawPlate {
    #[serde(default = "usual_plate")]
    pub thickness: Length,
    #[serde(default)]
    pub spot: RawPlateSpot,
}

impl Default for RawPlate {
    fn default() -> Self {
        Self { thickness: usual_plate(), spot: RawPlateSpot::Proposed }
    }
}

/// `"proposed"`, or `[x, y]`.
#[derive(Default)]
pub(super) enum RawPlateSpot {
    #[default]
    Proposed,
    At(Row<Length, 2>),
}

impl<'de> Deserialize<'de> for RawPlateSpot {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct Either;
        impl<'de> Visitor<'de> for Either {
            type Value = RawPlateSpot;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("\"proposed\" or [x, y]")
            }

            fn visit_str<E: Error>(self, word: &str) -> Result<RawPlateSpot, E> {
                match word {
                    "proposed" => Ok(RawPlateSpot::Proposed),
                    other => Err(E::unknown_variant(other, &["proposed"])),
                }
            }

            fn visit_seq<A: SeqAccess<'de>>(self, list: A) -> Result<RawPlateSpot, A::Error> {
                Row::deserialize(SeqAccessDeserializer::new(list)).map(RawPlateSpot::At)
            }
        }
        d.deserialize_any(Either)
    }
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawStop {
    pub corner: Corner,
    pub pins: Vec<Row<Length, 2>>,
    pub mark: Option<Row<Length, 2>>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawWasteBoard {
    pub material: Option<String>,
    pub thickness: Option<Length>,
    pub keep_out: Vec<RawRectangle>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawRectangle {
    pub from: Row<Length, 2>,
    pub to: Row<Length, 2>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawShop {
    pub time_zone: Option<String>,
    pub presence: Vec<RawPresence>,
    pub earshot: Vec<RawWindow>,
    pub leave_running: bool,
    pub quiet: Vec<RawWindow>,
    pub exception: Vec<RawException>,
    pub calendar: Vec<RawCalendar>,
    pub load_min: Option<u32>,
    pub bit_change_min: Option<u32>,
    pub take_off_min: Option<u32>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawException {
    pub date: String,
    pub who: Option<String>,
    pub from: Option<String>,
    pub to: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawCalendar {
    pub who: String,
    pub file: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawPresence {
    pub who: String,
    pub days: Vec<RawDay>,
    pub from: String,
    pub to: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawWindow {
    pub days: Vec<RawDay>,
    pub from: String,
    pub to: String,
}

#[derive(Deserialize, Clone, Copy, PartialEq)]
#[serde(rename_all = "kebab-case")]
pub(super) enum RawDay {
    Mon,
    Tue,
    Wed,
    Thu,
    Fri,
    Sat,
    Sun,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawWorker {
    pub name: String,
    pub role: Role,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawLimits {
    pub pass_depth_x_diameter: f64,
    pub steep_ramp_deg: Angle,
    pub tab_safety: f64,
    pub tab_least: RawTabLeast,
    pub smoulder_min: u32,
    pub fastener_safety: f64,
    pub fastener_span: Length,
    pub ignore_thinner: Length,
    pub small_piece: Area,
}

impl Default for RawLimits {
    fn default() -> Self {
        Self {
            pass_depth_x_diameter: 2.0,
            steep_ramp_deg: Angle::of(10.0),
            tab_safety: 4.0,
            tab_least: RawTabLeast::default(),
            smoulder_min: 45,
            fastener_safety: 4.0,
            fastener_span: Length::whole_mm(400),
            ignore_thinner: Length(100_000),
            small_piece: Area::of(5.0),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawTabLeast {
    pub height: Length,
    pub width: Length,
    pub number: u32,
    pub gap: Length,
}

impl Default for RawTabLeast {
    fn default() -> Self {
        let mm = Length::whole_mm;
        Self { height: mm(2), width: mm(4), number: 3, gap: mm(400) }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawAway {
    pub allowed: bool,
    pub extraction: RawExtraction,
    pub still_there_min: u32,
    pub answer_min: u32,
}

impl Default for RawAway {
    fn default() -> Self {
        Self { allowed: false, extraction: RawExtraction::ByHand, still_there_min: 10, answer_min: 2 }
    }
}

/// How the extraction is switched.
#[derive(Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "kebab-case")]
pub(super) enum RawExtraction {
    ByHand,
    WithSpindle,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawStore {
    pub path: String,
}

impl Default for RawStore {
    fn default() -> Self {
        Self { path: "store".to_owned() }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawApi {
    pub socket: String,
    pub terminal_uids: Option<Vec<u32>>,
    pub listen: Option<String>,
    pub certificate: Option<String>,
    pub key: Option<String>,
}

impl Default for RawApi {
    fn default() -> Self {
        Self { socket: "chargehand.sock".to_owned(), terminal_uids: None, listen: None, certificate: None, key: None }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawPractice {
    pub rate: f64,
    pub seed: u64,
    pub faults: Vec<PracticeFault>,
    pub refuse_remote_login: bool,
}

impl Default for RawPractice {
    fn default() -> Self {
        Self { rate: 20.0, seed: 1, faults: Vec::new(), refuse_remote_login: false }
    }
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawBench {
    pub scripted_operator: bool,
}

const fn usual_baud() -> u32 {
    115_200
}

fn usual_profile() -> String {
    "acknowledged-window".to_owned()
}

const fn usual_deviation() -> Length {
    Length(20_000)
}

const fn yes() -> bool {
    true
}

const fn usual_safe_z() -> Length {
    Length::whole_mm(10)
}

const fn usual_plate() -> Length {
    Length::whole_mm(15)
}

/// Long for a small router, since a short one would let hands in too early. Common practice, no source.
fn usual_run_down() -> Seconds {
    Seconds::of(15.0)
}
