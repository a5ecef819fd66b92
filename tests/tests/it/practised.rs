//! What the clock foretells is what the practice machine takes: two programs written apart, the same machine.

use chargehand_daemon::practice::{Controller, Habits, Homing, Setup};
use chargehand_daemon::program::motion::{Doing, Start};
use chargehand_daemon::program::steps;
use chargehand_daemon::sending::lines;
use chargehand_daemon::shop::understands::Understands;
use chargehand_daemon::timing::{Clockwork, Limits};
use chargehand_types::quantity::{Acceleration, Feed, Length, Point, Tick};
use std::collections::VecDeque;

/// The two may differ by this share.
const SHARE: f64 = 0.005;
/// Motions the practice machine knows at a time.
const PLANNER_BLOCKS: u16 = 15;
/// Bytes in flight.
const WINDOW: usize = 120;
const ACCELERATION: [f64; 3] = [400.0, 400.0, 200.0];
/// mm/min.
const RATE: [f64; 3] = [8000.0, 8000.0, 3000.0];
/// mm.
const DEVIATION: f64 = 0.02;

/// It stands at its home, with work zero a little inside and on the bed.
fn start() -> Start {
    let mm = Length::whole_mm;
    Start {
        at: Point::new(mm(-10), mm(-10), mm(60)),
        work_zero: Point::new(mm(10), mm(10), mm(-60)),
        arc_tolerance: Length(13_000),
    }
}

/// Seconds of motion, dwells left out.
fn foretold(program: &[u8]) -> f64 {
    let limits = Limits {
        max_rate: RATE.map(|f| Feed::from_unit(f).unwrap()),
        acceleration: ACCELERATION.map(Acceleration::of),
        corner_deviation: Length::from_mm(DEVIATION).unwrap(),
    };
    let (mut clock, mut dwelt) = (Clockwork::new(&limits).knowing(PLANNER_BLOCKS), 0.0);
    for step in steps(program, start()) {
        if let Doing::Dwell { seconds } = step.doing {
            dwelt += seconds;
        }
        clock.push(&step, &mut |_| {});
    }
    clock.finish(&mut |_| {});
    clock.total().value() - dwelt
}

/// Seconds the practice machine moves, fed as fast as it takes lines.
fn practised(program: &[u8]) -> f64 {
    let setup = Setup {
        rates: RATE.map(|f| f / 60.0),
        accelerations: ACCELERATION,
        deviation: DEVIATION,
        travel: [[0.0, 2000.0], [0.0, 2000.0], [-200.0, 0.0]],
        // so fast that the wire takes no time
        baud: 1_000_000_000,
        faults: Vec::new(),
    };
    let habits = Habits { homing: Homing::None, remembers: 1_000_000, boot_us: 0, ..Habits::default() };
    let mut machine = Controller::with_habits(setup, habits, Tick(0));
    let mut now = Tick(0);
    let zero = b"G21G10L2P1X10Y10Z-60".to_vec();
    let sent = lines(program, start(), Understands::default(), Length::ZERO).map(|line| line.bytes.to_vec());
    let mut waiting = std::iter::once(zero).chain(sent).filter(|line| !line.is_empty()).peekable();
    let mut in_flight: VecDeque<usize> = VecDeque::new();
    while waiting.peek().is_some() || !in_flight.is_empty() {
        while let Some(line) = waiting.next_if(|line| in_flight.iter().sum::<usize>() + line.len() < WINDOW) {
            in_flight.push_back(line.len() + 1);
            machine.take(now, &[line, b"\n".to_vec()].concat());
        }
        now = machine.next_wake().filter(|t| *t > now).unwrap_or(now.after_us(1000));
        machine.advance(now);
        let said = String::from_utf8(machine.output(now)).unwrap();
        assert!(!said.contains("error") && !said.contains("ALARM"), "{said}");
        for _ in said.lines().filter(|line| *line == "ok") {
            in_flight.pop_front();
        }
    }
    machine.advance(now.after_ms(3_600_000));
    machine.trace().map(|motion| motion.ended.since(motion.begun).value()).sum()
}

fn compare(name: &str, program: &[u8]) {
    let (foretold, practised) = (foretold(program), practised(program));
    let off = foretold / practised - 1.0;
    println!("{name:36} foretold {foretold:9.3} s, practised {practised:9.3} s, {:+.4} %", off * 100.0);
    assert!(off.abs() < SHARE, "{name}: foretold {foretold} s, practised {practised} s");
}

/// Flat programs. An upright arc is left out: the practice machine runs all of it at its slowest axis's limits.
#[test]
fn foretold_is_practised() {
    macro_rules! case {
        ($file:literal) => {
            ($file, include_bytes!(concat!("../../cases/", $file)).as_slice())
        };
    }
    for (name, program) in [
        case!("crate-ends-clamp/crate-ends-clamp-outlines.nc"),
        case!("folding-shelf/folding-shelf-outlines.nc"),
        case!("herb-crate/herb-crate-inner-parts.nc"),
        case!("herb-crate/herb-crate-openings.nc"),
        case!("stand-feet-loose/stand-feet-loose-caps.nc"),
        case!("trellis-slats-reach/trellis-slats-reach-parked-wide.nc"),
        case!("label-stakes/label-stakes-letters.nc"),
        case!("frame-units/frame-units-all-in-one.nc"),
    ] {
        compare(name, program);
    }
    let rounds: String = (1..80)
        .map(|i| {
            let r = 0.4 + f64::from(i) * 0.15;
            format!("G1 X{:.3}\nG2 X{0:.3} Y{:.3} I0 J-{r:.3}\nG1 X10\nG3 X10 Y0 J{r:.3}\n", 40.0 + r, -2.0 * r)
        })
        .collect();
    compare("tight turns", format!("G21 G90 F5000 S1 M3\nG0 X10 Y100 Z5\nG92 Y0\nG1 Z1\n{rounds}M2\n").as_bytes());
}
