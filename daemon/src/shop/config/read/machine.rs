//! `[machine]`.

use super::{MOST_ENTRIES, Range, spot};
use crate::shop::check::Check;
use crate::shop::config::machine::{AboveBit, DialMark, Machine, Plate, PlateSpot, Port, Reach, Spindle, Travel};
use crate::shop::config::raw::{RawAboveBit, RawMachine, RawPlate, RawPlateSpot, RawSpindle, RawTravel, SpindleKind};
use crate::shop::text::{Path, Row};
use chargehand_types::quantity::{Acceleration, Feed, Length, Point, Rpm, Spot};

const AXES: [&str; 3] = ["x", "y", "z"];
const COORDINATE: Range = Range::from(-20_000.0, 20_000.0, "mm");
const FEED: Range = Range::above(0.0, 100_000.0, "mm/min");
const HARDEST: Range = Range::above(0.0, 50_000.0, "mm/s2");
const DEVIATION: Range = Range::above(0.0, 2.0, "mm");
const ABOVE_BIT: Range = Range::above(0.0, 1000.0, "mm");
const SAFE_Z: Range = Range::above(0.0, 500.0, "mm");
const PLATE: Range = Range::from(0.0, 100.0, "mm");
const SPEED: Range = Range::above(0.0, 100_000.0, "rpm");
const RUN_DOWN: Range = Range::from(1.0, 600.0, "s");
const BAUD: Range = Range::from(1200.0, 4_000_000.0, "bits a second");

pub(super) fn judge(check: &mut Check<'_, '_>, path: &Path, raw: RawMachine) -> Machine {
    check.words(&path.key("name"), &raw.name);
    check.words(&path.key("port"), &raw.port);
    check.name(&path.key("profile"), &raw.profile);
    check.number(&path.key("baud"), f64::from(raw.baud), BAUD);
    let travel = travel(check, &path.key("travel"), &raw.travel);
    let Row([x, y, z]) = raw.work_zero;
    let work_zero = Point::new(x, y, z);
    within_travel(check, &path.key("work_zero"), &travel, &raw.work_zero.0);
    axes(check, path, &raw);
    check.number(&path.key("corner_deviation"), raw.corner_deviation.mm(), DEVIATION);
    check.number(&path.key("safe_z"), raw.safe_z.mm(), SAFE_Z);
    check.number_if(&path.key("max_feed_tried"), raw.max_feed_tried.map(Feed::unit), FEED);
    let park = raw.park.map(spot).unwrap_or(Spot { x: travel.x.least, y: travel.y.most });
    within_travel(check, &path.key("park"), &travel, &[park.x, park.y]);
    let red_button = raw.red_button.unwrap_or_else(|| "on the machine".to_owned());
    check.words(&path.key("red_button"), &red_button);
    Machine {
        name: raw.name,
        port: Port::from(raw.port),
        baud: raw.baud,
        profile: raw.profile,
        travel,
        work_zero,
        max_rate: raw.max_rate.0,
        acceleration: raw.acceleration.0,
        corner_deviation: raw.corner_deviation,
        spindle: spindle(check, &path.key("spindle"), raw.spindle),
        can_home: raw.can_home,
        safe_z: raw.safe_z,
        park,
        plate: plate(check, &path.key("plate"), &raw.plate),
        max_feed_tried: raw.max_feed_tried,
        red_button,
        above_bit: above_bit(check, &path.key("above_bit"), &raw.above_bit),
    }
}

fn above_bit(check: &mut Check<'_, '_>, path: &Path, raw: &[RawAboveBit]) -> Vec<AboveBit> {
    let mut bodies = Vec::with_capacity(raw.len());
    for (i, body) in raw.iter().enumerate() {
        let here = path.at(i);
        check.number(&here.key("diameter"), body.diameter.mm(), ABOVE_BIT);
        check.number(&here.key("above_tip"), body.above_tip.mm(), ABOVE_BIT);
        bodies.push(AboveBit { diameter: body.diameter, above_tip: body.above_tip });
    }
    bodies
}

fn axes(check: &mut Check<'_, '_>, path: &Path, raw: &RawMachine) {
    for (i, rate) in raw.max_rate.0.iter().copied().map(Feed::unit).enumerate() {
        check.number(&path.key("max_rate").at(i), rate, FEED);
    }
    for (i, hardest) in raw.acceleration.0.iter().copied().map(Acceleration::value).enumerate() {
        check.number(&path.key("acceleration").at(i), hardest, HARDEST);
    }
}

fn travel(check: &mut Check<'_, '_>, path: &Path, raw: &RawTravel) -> Travel {
    let mut reach = |key: &str, Row([least, most]): Row<Length, 2>| {
        let here = path.key(key);
        check.number(&here.at(0), least.mm(), COORDINATE);
        check.number(&here.at(1), most.mm(), COORDINATE);
        if least >= most {
            check.tell(&here, format!("from {least} to {most} there is no way"), "[least, most]");
        }
        Reach { least, most }
    };
    Travel { x: reach("x", raw.x), y: reach("y", raw.y), z: reach("z", raw.z) }
}

fn within_travel(check: &mut Check<'_, '_>, path: &Path, travel: &Travel, at: &[Length]) {
    let reaches = [travel.x, travel.y, travel.z];
    for (i, ((at, reach), axis)) in at.iter().zip(reaches).zip(AXES).enumerate() {
        if reach.least < reach.most && !reach.holds(*at) {
            let found = format!("{at} lies outside the travel in {axis}");
            check.tell(&path.at(i), found, format!("{} to {}, in machine coordinates", reach.least, reach.most));
        }
    }
}

fn plate(check: &mut Check<'_, '_>, path: &Path, raw: &RawPlate) -> Plate {
    check.number(&path.key("thickness"), raw.thickness.mm(), PLATE);
    let spot = match raw.spot {
        RawPlateSpot::Proposed => PlateSpot::Proposed,
        RawPlateSpot::At(at) => PlateSpot::At(spot(at)),
    };
    Plate { thickness: raw.thickness, spot }
}

fn spindle(check: &mut Check<'_, '_>, path: &Path, raw: RawSpindle) -> Spindle {
    let run_down = raw.run_down_s;
    check.number(&path.key("run_down_s"), run_down.value(), RUN_DOWN);
    match raw.kind {
        SpindleKind::Manual => {
            for (key, there) in [("least", raw.least), ("most", raw.most)] {
                if there.is_some() {
                    check.idle(path, key, "only with kind = \"controlled\"; a dial gives the speeds of a manual one");
                }
            }
            Spindle::Manual { dial: dial(check, &path.key("dial"), raw.dial.unwrap_or_default()), run_down }
        }
        SpindleKind::Controlled => {
            if raw.dial.is_some() {
                check.idle(path, "dial", "only with kind = \"manual\"");
            }
            let mut speed = |key: &str, speed: Option<Rpm>| {
                match speed {
                    Some(speed) => check.number(&path.key(key), speed.unit(), SPEED),
                    None => check.missing(path, key, "a speed in rpm"),
                }
                speed.unwrap_or_default()
            };
            let (least, most) = (speed("least", raw.least), speed("most", raw.most));
            if most != Rpm::ZERO && least > most {
                check.tell(&path.key("least"), format!("{least} is more than the most"), format!("up to {most}"));
            }
            Spindle::Controlled { least, most, run_down }
        }
    }
}

/// Marks and speeds both rise along a dial, so that a speed has one place on it.
fn dial(check: &mut Check<'_, '_>, path: &Path, raw: Vec<Row<f64, 2>>) -> Vec<DialMark> {
    check.no_more_than(path, raw.len(), MOST_ENTRIES);
    let mut marks: Vec<DialMark> = Vec::new();
    for (i, Row([mark, speed])) in raw.into_iter().enumerate() {
        let here = path.at(i);
        check.number(&here.at(0), mark, Range::from(0.0, 100_000.0, ""));
        check.number(&here.at(1), speed, SPEED);
        let speed = Rpm::from_unit(speed).unwrap_or_default();
        if marks.last().is_some_and(|last| last.mark >= mark || last.speed >= speed) {
            check.tell(&here, "marks and speeds must rise along the dial", "[mark, rpm], both larger than before");
        }
        marks.push(DialMark { mark, speed });
    }
    marks
}
