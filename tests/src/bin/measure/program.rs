//! The program that is measured on, the machine it is for, and the clock.

use chargehand_daemon::program::motion::Start;
use chargehand_daemon::timing::Limits;
use chargehand_types::quantity::{Acceleration, Feed, Length, Point};
use rustix::time::{ClockId, clock_gettime};
use std::io::{self, Write};

/// Short segments with every word on the line, as a surfacing toolpath has them.
pub fn write_surfacing(lines: u32, out: &mut impl Write) -> io::Result<()> {
    out.write_all(b"G90 G94 G21\nG17 G54\nM3 S18000\nG0 X0 Y0\nG1 Z-1 F1200\n")?;
    for i in 0..lines {
        let (x, y) = (f64::from(i % 4000) * 0.15, f64::from(i / 4000) * 0.75);
        let z = -1.0 - f64::from(i.wrapping_mul(7919) % 1000) / 1000.0;
        writeln!(out, "G1 X{x:.3} Y{y:.3} Z{z:.3}")?;
    }
    out.write_all(b"M30\n")
}

/// The machine before the program.
pub fn start() -> Start {
    Start { at: Point::default(), work_zero: Point::default(), arc_tolerance: Length(13_000) }
}

/// A small router.
pub fn limits() -> Limits {
    Limits {
        max_rate: [8000.0, 8000.0, 3000.0].map(|f| Feed::from_unit(f).unwrap_or_default()),
        acceleration: [400.0, 400.0, 200.0].map(Acceleration::of),
        corner_deviation: Length(20_000),
    }
}

/// Seconds this thread has been run for: others on the machine count less than on a clock on the wall.
pub fn processor_seconds() -> f64 {
    let now = clock_gettime(ClockId::ThreadCPUTime);
    now.tv_sec as f64 + now.tv_nsec as f64 * 1.0e-9
}
