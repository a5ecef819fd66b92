//! `daemon.toml`'s text into [`Config`].

mod hours;
mod machine;
mod wares;

use super::raw::{
    RawApi, RawAway, RawConfig, RawExtraction, RawLimits, RawRectangle, RawStop, RawWasteBoard, RawWorker,
};
use super::{
    Api, Bench, Config, Hours, Limits, Machine, Network, Practice, Rectangle, Spindle, SteppingAway, Stop, Stumble,
    TabLeast, WasteBoard, Worker,
};
use crate::shop::check::{self, Check};
use crate::shop::fault::Fault;
use crate::shop::text::{Doc, Path, Row};
use chargehand_types::id::Person;
use chargehand_types::plan::Minutes;
use chargehand_types::quantity::{Length, Spot};
use chargehand_types::stage::Role;

pub(super) use wares::usual_kerf;

type Range = check::Limits;

/// No shop of this size has more people.
const MOST_PEOPLE: usize = 50;
/// No config lists more pins, rectangles, hours.
const MOST_ENTRIES: usize = 200;

const TIMES: Range = Range::above(0.0, 100.0, "");
const RAMP: Range = Range::above(0.0, 90.0, "deg");
const SIZE: Range = Range::from(0.0, 1000.0, "mm");
const GAP: Range = Range::above(0.0, 1.0e6, "mm");
const NUMBER: Range = Range::from(1.0, 100.0, "tabs");
const SMOULDER: Range = Range::from(0.0, 1440.0, "minutes");
const STILL_THERE: Range = Range::from(1.0, 30.0, "minutes");
const ANSWER: Range = Range::from(1.0, 10.0, "minutes");
const AREA: Range = Range::from(0.0, 10_000.0, "mm2");
const BOARD: Range = Range::above(0.0, 200.0, "mm");
const RATE: Range = Range::from(0.1, 1000.0, "");

/// Reads `daemon.toml`.
///
/// # Errors
/// Every fault of form; without such, every value that no machine or shop can have. Names of materials and profiles are
/// held against the files beside it by [`crate::shop::shelf::read`].
pub fn read(file: &str, text: &str) -> Result<Config, Vec<Fault>> {
    let doc = Doc::parse(file, text)?;
    let raw: RawConfig = doc.read()?;
    let mut check = Check::new(&doc);
    let check_in = &mut check;
    let top = Path::top();
    let people = people(check_in, &top.key("people"), raw.people);
    let machine = machine::judge(check_in, &top.key("machine"), raw.machine);
    let hours = hours::judge(check_in, &top.key("shop"), raw.shop, &people);
    let config = Config {
        away: away(check_in, &top.key("away"), raw.away, &machine, &hours),
        machine,
        stop: stop(check_in, &top.key("stop"), raw.stop),
        waste_board: waste_board(check_in, &top.key("waste_board"), raw.waste_board),
        hours,
        people,
        limits: limits(check_in, &top.key("limits"), raw.limits),
        store: path(check_in, &top.key("store").key("path"), raw.store.path),
        api: api(check_in, &top.key("api"), raw.api),
        practice: Practice {
            rate: raw.practice.rate,
            seed: raw.practice.seed,
            faults: raw.practice.faults,
            refuse_remote_login: raw.practice.refuse_remote_login,
        },
        bench: Bench { scripted_operator: raw.bench.scripted_operator },
        outward: super::outward::judge(check_in, &top.key("notices"), raw.notices),
        rates: wares::rates(check_in, &top.key("rates"), raw.rates),
        products: wares::products(check_in, &top.key("product"), raw.product),
        panels: wares::panels(check_in, &top.key("stock"), raw.stock),
        upkeep: wares::upkeep(check_in, &top.key("upkeep"), raw.upkeep),
    };
    check.number(&top.key("practice").key("rate"), config.practice.rate, RATE);
    let faults = top.key("practice").key("faults");
    check.no_more_than(&faults, config.practice.faults.len(), MOST_ENTRIES);
    for (i, fault) in config.practice.faults.iter().enumerate() {
        if fault.back_ms.is_some() && fault.what != Stumble::Unplug {
            check.tell(&faults.at(i).key("back_ms"), "nothing was unplugged", "back_ms with what = \"unplug\" only");
        }
    }
    check.done(config)
}

fn api(check: &mut Check<'_, '_>, at: &Path, raw: RawApi) -> Api {
    let certificate =
        path(check, &at.key("certificate"), raw.certificate.unwrap_or_else(|| "chargehand.crt".to_owned()));
    let key = path(check, &at.key("key"), raw.key.unwrap_or_else(|| "chargehand.key".to_owned()));
    let listen = raw.listen.and_then(|text| {
        let address = text.parse().ok();
        if address.is_none() {
            check.tell(
                &at.key("listen"),
                "this is no address with a port",
                "say \"0.0.0.0:7443\" for everywhere, or one address of this computer",
            );
        }
        address
    });
    Api {
        socket: path(check, &at.key("socket"), raw.socket),
        terminal_uids: raw.terminal_uids,
        network: listen.map(|listen| Network { listen, certificate, key }),
    }
}

/// Nobody can switch off by hand what nobody stands at, and nobody hears a machine outside the hours of earshot.
fn away(check: &mut Check<'_, '_>, at: &Path, raw: RawAway, machine: &Machine, hours: &Hours) -> SteppingAway {
    check.number(&at.key("still_there_min"), f64::from(raw.still_there_min), STILL_THERE);
    check.number(&at.key("answer_min"), f64::from(raw.answer_min), ANSWER);
    if raw.allowed {
        let allowed = at.key("allowed");
        if !matches!(machine.spindle, Spindle::Controlled { .. }) {
            check.tell(&allowed, "the spindle is switched by hand", "a spindle that the controller can stop");
        }
        if raw.extraction != RawExtraction::WithSpindle {
            let needs = "extraction = \"with-spindle\" with it, where that is so: it runs and stops with the spindle";
            check.tell(&allowed, "the extraction is switched by hand", needs);
        }
        if hours.earshot.is_empty() {
            check.tell(&allowed, "nobody is ever in earshot", "[[shop.earshot]] with it: a sheet runs alone only then");
        }
    }
    let (still_there, answer) = (Minutes(raw.still_there_min), Minutes(raw.answer_min));
    SteppingAway { allowed: raw.allowed, still_there, answer }
}

/// With nobody named, the shop has an "owner" and a "helper".
fn people(check: &mut Check<'_, '_>, path: &Path, raw: Vec<RawWorker>) -> Vec<Worker> {
    if raw.is_empty() {
        let named = |name: &str, role| Worker { name: Person::from(name), role };
        return vec![named("owner", Role::Owner), named("helper", Role::Helper)];
    }
    check.no_more_than(path, raw.len(), MOST_PEOPLE);
    for (i, worker) in raw.iter().enumerate() {
        check.words(&path.at(i).key("name"), &worker.name);
    }
    check.once("person", raw.iter().enumerate().map(|(i, w)| (path.at(i).key("name"), w.name.as_str())));
    if raw.iter().all(|w| w.role != Role::Owner) {
        check.tell(path, "nobody is the owner", "somebody with role = \"owner\": findings and stops need one");
    }
    raw.into_iter().map(|w| Worker { name: Person(w.name), role: w.role }).collect()
}

fn stop(check: &mut Check<'_, '_>, path: &Path, raw: RawStop) -> Stop {
    check.no_more_than(&path.key("pins"), raw.pins.len(), MOST_ENTRIES);
    Stop { corner: raw.corner, pins: raw.pins.into_iter().map(spot).collect(), mark: raw.mark.map(spot) }
}

fn waste_board(check: &mut Check<'_, '_>, path: &Path, raw: RawWasteBoard) -> WasteBoard {
    let thickness = raw.thickness.unwrap_or(Length::whole_mm(18));
    check.number(&path.key("thickness"), thickness.mm(), BOARD);
    let list = path.key("keep_out");
    check.no_more_than(&list, raw.keep_out.len(), MOST_ENTRIES);
    let keep_out = raw.keep_out.into_iter().enumerate().map(|(i, r)| rectangle(check, &list.at(i), &r)).collect();
    WasteBoard { material: raw.material, thickness, keep_out }
}

fn rectangle(check: &mut Check<'_, '_>, path: &Path, raw: &RawRectangle) -> Rectangle {
    let (from, to) = (spot(raw.from), spot(raw.to));
    if from.x >= to.x || from.y >= to.y {
        check.tell(path, "the rectangle has no area", "from = [least x, least y], to = [most x, most y]");
    }
    Rectangle { from, to }
}

fn limits(check: &mut Check<'_, '_>, path: &Path, raw: RawLimits) -> Limits {
    let at = |key: &str| path.key(key);
    check.number(&at("pass_depth_x_diameter"), raw.pass_depth_x_diameter, TIMES);
    check.number(&at("steep_ramp_deg"), raw.steep_ramp_deg.value(), RAMP);
    check.number(&at("tab_safety"), raw.tab_safety, TIMES);
    check.number(&at("fastener_safety"), raw.fastener_safety, TIMES);
    check.number(&at("fastener_span"), raw.fastener_span.mm(), GAP);
    check.number(&at("smoulder_min"), f64::from(raw.smoulder_min), SMOULDER);
    check.number(&at("ignore_thinner"), raw.ignore_thinner.mm(), SIZE);
    check.number(&at("small_piece"), raw.small_piece.value(), AREA);
    let tab = at("tab_least");
    check.number(&tab.key("height"), raw.tab_least.height.mm(), SIZE);
    check.number(&tab.key("width"), raw.tab_least.width.mm(), SIZE);
    check.number(&tab.key("number"), f64::from(raw.tab_least.number), NUMBER);
    check.number(&tab.key("gap"), raw.tab_least.gap.mm(), GAP);
    Limits {
        pass_depth_x_diameter: raw.pass_depth_x_diameter,
        steep_ramp: raw.steep_ramp_deg,
        tab_safety: raw.tab_safety,
        tab_least: TabLeast {
            height: raw.tab_least.height,
            width: raw.tab_least.width,
            number: raw.tab_least.number,
            gap: raw.tab_least.gap,
        },
        smoulder_min: raw.smoulder_min,
        fastener_safety: raw.fastener_safety,
        fastener_span: raw.fastener_span,
        ignore_thinner: raw.ignore_thinner,
        small_piece: raw.small_piece,
    }
}

fn path(check: &mut Check<'_, '_>, at: &Path, path: String) -> String {
    if path.is_empty() || path.contains('\0') {
        check.tell(at, "this is no path", "a path, absolute or from this file's folder");
    }
    path
}

const fn spot(Row([x, y]): Row<Length, 2>) -> Spot {
    Spot { x, y }
}
