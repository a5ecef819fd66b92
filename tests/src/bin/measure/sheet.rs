//! The sheet map measured: an ordinary card, a relief, and how the cost grows, beside a general-purpose geometry
//! library that widens the same ways and joins them.

use super::program::start;
use chargehand_daemon::program::motion::Doing;
use chargehand_daemon::program::steps;
use chargehand_daemon::sheetmap::{Job, Least, SheetMap};
use chargehand_types::card::{Bit, BitKind, Sheet, ZZero};
use chargehand_types::quantity::{Area, Length, Spot};
use i_overlay::mesh::float::stroke::offset::StrokeOffset as _;
use i_overlay::mesh::float::style::{LineCap, LineJoin, StrokeStyle};
use std::fmt::Write as _;
use std::time::Instant;

/// What one map took.
#[derive(Debug, Clone, Copy)]
pub struct Taken {
    /// Moves swept.
    pub moves: usize,
    /// Seconds, on the wall: the bands share the cores.
    pub seconds: f64,
    /// Bytes of cells held.
    pub held: usize,
    /// Pieces found.
    pub pieces: usize,
}

fn mm(value: f64) -> Length {
    Length::from_mm(value).unwrap_or_default()
}

fn sheet() -> Sheet {
    Sheet {
        material: "plywood".to_owned(),
        size: [mm(610.0), mm(1220.0)],
        thickness: mm(18.0),
        z_zero: ZZero::Top,
        corner: Spot::default(),
        max_bed_bite: mm(0.5),
        z_shift_max: Length::ZERO,
        face: None,
        grain: None,
    }
}

fn bit(kind: BitKind, diameter: f64) -> Bit {
    Bit {
        title: "a bit".to_owned(),
        kind,
        diameter: mm(diameter),
        flutes: 2,
        cutting_length: mm(25.0),
        upcut_length: None,
        angle: None,
        helix: None,
        life: None,
        price: None,
        tool: None,
        measured: chargehand_types::bits::BitFigures::default(),
    }
}

/// Round parts in three passes, as short straights: `moves` of them in all.
#[must_use]
pub fn outlines(moves: u32) -> String {
    let (points, passes) = (100, 3);
    let mut text = String::from("G21 G90\nM3 S18000\nG0 Z5\n");
    for part in 0..moves / (points * passes) {
        let (x, y) = (80.0 + 110.0 * f64::from(part % 5), 80.0 + 110.0 * f64::from(part / 5));
        let _ = writeln!(text, "G0 X{:.3} Y{y:.3}", x + 45.0);
        for pass in 1..=passes {
            let _ = writeln!(text, "G1 Z{:.3} F600", -6.1 * f64::from(pass));
            for point in 1..=points {
                let angle = std::f64::consts::TAU * f64::from(point) / f64::from(points);
                let _ = writeln!(text, "G1 X{:.3} Y{:.3} F2400", x + 45.0 * angle.cos(), y + 45.0 * angle.sin());
            }
        }
        text.push_str("G0 Z5\n");
    }
    text.push_str("M30\n");
    text
}

/// A surface in rows 0.8 mm apart with a move every 1.4 mm, over and over.
#[must_use]
pub fn relief(moves: u32) -> String {
    let mut text = String::from("G21 G90\nM3 S18000\nG0 X60 Y90 Z5\nG1 Z-1 F1200\n");
    for i in 0..moves {
        let (column, row) = (i % 300, i / 300 % 700);
        let column = if row % 2 == 0 { column } else { 299 - column };
        let (x, y) = (60.0 + 1.4 * f64::from(column), 90.0 + 0.8 * f64::from(row));
        let z = -2.0 + 1.5 * (x / 40.0).sin() * (y / 55.0).cos();
        let _ = writeln!(text, "G1 X{x:.3} Y{y:.3} Z{z:.3}");
    }
    text.push_str("G0 Z5\nM30\n");
    text
}

/// A program's moves with one bit.
fn job(text: &str, bit: &Bit) -> Job {
    let mut job = Job::new(&sheet(), sheet().thickness);
    let cutter = job.fit(bit);
    for step in steps(text.as_bytes(), start()) {
        if let Doing::Move(mv) = &step.doing {
            job.push(0, cutter, step.place, mv);
        }
    }
    job
}

/// Seconds on the wall that something takes: the bands share the cores.
#[allow(clippy::disallowed_methods, reason = "a benchmark reads the clock")]
fn seconds<T>(run: impl FnOnce() -> T) -> (f64, T) {
    let begun = Instant::now();
    let done = run();
    (begun.elapsed().as_secs_f64(), done)
}

/// The shortest of three maps of a program with an up-cut or a ball bit.
pub fn map(text: &str, ball: bool, pool: &rayon::ThreadPool) -> Taken {
    let bit = if ball { bit(BitKind::Ball, 6.0) } else { bit(BitKind::UpCut, 6.35) };
    let job = job(text, &bit);
    let least = Least { depth: mm(0.1), piece: Area::of(5.0) };
    let mut taken = Taken { moves: job.len(), seconds: f64::INFINITY, held: 0, pieces: 0 };
    for _ in 0..3 {
        let (took, map) = seconds(|| SheetMap::of(&job, least, &[], pool));
        taken.seconds = taken.seconds.min(took);
        taken.held = map.cells_held() * 4;
        taken.pieces = map.pieces();
    }
    taken
}

/// The same ways widened to the bit and joined by the library; seconds, and the area covered.
pub fn widened(text: &str) -> (f64, f64) {
    let mut ways: Vec<Vec<[f64; 2]>> = Vec::new();
    for step in steps(text.as_bytes(), start()) {
        if let Doing::Move(mv) = &step.doing {
            let to = [mv.to.x.mm(), mv.to.y.mm()];
            match ways.last_mut().filter(|_| mv.to.z < Length::ZERO && mv.from.z < Length::ZERO) {
                Some(way) => way.push(to),
                None => ways.push(vec![to]),
            }
        }
    }
    ways.retain(|way| way.len() > 1);
    let round = LineCap::Round(0.05);
    let style = StrokeStyle::new(6.35).line_join(LineJoin::Round(0.05)).start_cap(round.clone()).end_cap(round);
    let (took, shapes) = seconds(|| ways.stroke(style, false));
    let area = |contour: &Vec<[f64; 2]>| {
        let next = contour.iter().cycle().skip(1);
        contour.iter().zip(next).map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum::<f64>() / 2.0
    };
    (took, shapes.iter().flatten().map(area).sum::<f64>().abs())
}
