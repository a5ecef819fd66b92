//! Proposals, each checked against every point of the path without the index.

use super::*;
use crate::program::motion::{Doing, Start};
use crate::program::steps;
use crate::sheetmap::Job;
use chargehand_types::card::{Bit, BitKind, Fastener, FastenerKind, Sheet, ZZero};
use chargehand_types::quantity::{Length, Point, Spot};

fn mm(v: f64) -> Length {
    Length::from_mm(v).unwrap()
}

fn screw() -> Fastener {
    Fastener {
        title: "screw".to_owned(),
        kind: FastenerKind::Screw,
        diameter: Some(mm(4.0)),
        length: Some(mm(30.0)),
        penetration: None,
        head_diameter: Some(mm(8.0)),
        head_height: Length::ZERO,
        force: None,
        footprint: None,
        thickness: None,
        strength: None,
        pressure_kpa: None,
    }
}

/// A sheet cut by a program with a 6 mm bit.
struct Trial {
    corner: [f64; 2],
    size: [f64; 2],
    job: Job,
    keep_out: Vec<[[f64; 2]; 2]>,
    used: Vec<[f64; 2]>,
    each: Option<Hold>,
    need: Hold,
    bowed: bool,
    loose: Vec<LoosePiece>,
}

impl Trial {
    fn of(corner: [f64; 2], size: [f64; 2], program: &str) -> Self {
        let sheet = Sheet {
            material: "plywood".to_owned(),
            size: size.map(mm),
            thickness: mm(12.0),
            z_zero: ZZero::Top,
            corner: Spot { x: mm(corner[0]), y: mm(corner[1]) },
            max_bed_bite: mm(0.5),
            z_shift_max: Length::ZERO,
            face: None,
            grain: None,
        };
        let mut job = Job::new(&sheet, mm(12.0));
        let cutter = job.fit(&Bit {
            title: "6 mm".to_owned(),
            kind: BitKind::UpCut,
            diameter: mm(6.0),
            flutes: 2,
            cutting_length: mm(25.0),
            upcut_length: None,
            angle: None,
            helix: None,
            life: None,
            price: None,
            tool: None,
            measured: chargehand_types::bits::BitFigures::default(),
        });
        let start =
            Start { at: Point::new(mm(0.0), mm(0.0), mm(60.0)), work_zero: Point::default(), arc_tolerance: mm(0.013) };
        for step in steps(program.as_bytes(), start) {
            if let Doing::Move(mv) = &step.doing {
                job.push(0, cutter, step.place, mv);
            }
        }
        let (keep_out, used, loose) = (Vec::new(), Vec::new(), Vec::new());
        Self { corner, size, job, keep_out, used, each: None, need: Hold::default(), bowed: false, loose }
    }

    fn proposed(&self) -> Proposal {
        let clear = Clearance::new(&self.job, 0.0);
        propose(&Ask {
            corner: self.corner,
            size: self.size,
            clear: &clear,
            cuts: &clear,
            footing: Footing::of(&screw()),
            margin: 4.0,
            goes_in: true,
            keep_out: &self.keep_out,
            used: &self.used,
            piece_at: Some(&|_| None),
            loose: &self.loose,
            each: self.each,
            need: self.need,
            span: 400.0,
            bowed: self.bowed,
        })
    }

    /// Points of the path 0.05 mm apart at most, found without the index.
    fn path(&self) -> Vec<[f64; 2]> {
        let mut points = Vec::new();
        for stroke in &self.job.strokes {
            stroke.way.below(0.0, |t0, t1| {
                let count = (stroke.way.length() * (t1 - t0) / 0.05).ceil().max(1.0);
                let mut n = 0.0;
                while n <= count {
                    let [x, y, _] = stroke.way.at(t0 + (t1 - t0) * n / count);
                    points.push([x, y]);
                    n += 1.0;
                }
            });
        }
        points
    }

    /// Every place against every point of the path: 3 mm of bit, 4 of head, 4 of air.
    fn verify(&self, found: &Proposal) {
        let path = self.path();
        for place in &found.places {
            let off = path.iter().map(|p| apart(*p, place.at)).fold(f64::INFINITY, f64::min);
            assert!(off >= 11.0 - 1.0e-6, "{place:?} is {off} off the path");
            assert!((off - 3.0 - place.air).abs() < 0.05, "{place:?}: the path is {off} off");
            for axis in [0, 1] {
                let from = place.at[axis] - self.corner[axis];
                assert!(from >= 12.0 && from <= self.size[axis] - 12.0, "{place:?}");
                assert!((from / 5.0 - (from / 5.0).round()).abs() < 1.0e-9, "{place:?} is not round");
            }
            assert!(self.used.iter().all(|hole| apart(*hole, place.at) >= 8.0));
        }
        let told = |cut: &[f64; 2]| {
            found.troubles.iter().any(|t| matches!(t, Trouble::FarCut { cut: far, .. } if apart(*far, *cut) <= 420.0))
        };
        for cut in path.iter().step_by(20) {
            let near = found.places.iter().map(|p| apart(p.at, *cut)).fold(f64::INFINITY, f64::min);
            // the cuts are looked at every 20 mm
            assert!(near <= 410.0 || told(cut), "{cut:?} is {near} from any fastener");
        }
    }
}

/// A rectangle cut through, from a corner.
fn outline(x: f64, y: f64, wide: f64, deep: f64) -> String {
    format!("G0 Z5\nG0 X{x} Y{y}\nG1 Z-12.3\nG1 X{}\nG1 Y{}\nG1 X{x}\nG1 Y{y}\nG0 Z5\n", x + wide, y + deep)
}

fn program(cuts: &[String]) -> String {
    format!("G21 G90 G17 G94 S18000 M3 F3000\n{}M2\n", cuts.concat())
}

#[test]
fn four_corners_hold_a_small_sheet() {
    let trial = Trial::of([0.0, 0.0], [500.0, 500.0], &program(&[outline(50.0, 50.0, 400.0, 400.0)]));
    let found = trial.proposed();
    trial.verify(&found);
    let at: Vec<[f64; 2]> = found.places.iter().map(|p| p.at).collect();
    assert_eq!(at, [[15.0, 15.0], [485.0, 15.0], [15.0, 485.0], [485.0, 485.0]]);
    assert_eq!(found.troubles, []);
    assert_eq!(found.places[3].why.to_string(), "holds the far right corner");
}

#[test]
fn a_long_sheet_gets_more_along_its_edges() {
    let cuts: Vec<String> = (0..4).map(|n| outline(40.0, 40.0 + 290.0 * f64::from(n), 530.0, 270.0)).collect();
    let trial = Trial::of([-4.0, -3.0], [610.0, 1220.0], &program(&cuts));
    let found = trial.proposed();
    trial.verify(&found);
    assert_eq!(found.troubles, []);
    assert!((6..=8).contains(&found.places.len()), "{:?}", found.places);
    assert!(found.places.iter().any(|p| matches!(p.why, Why::Span { .. })));
    assert_eq!(trial.proposed(), found);
}

#[test]
fn a_cut_corner_moves_its_place() {
    // a slot across the near left corner region leaves no room within 150 mm
    let slots: Vec<String> =
        (0..9).map(|n| format!("G0 Z5\nG0 X0 Y{0}\nG1 Z-3\nG1 X160\nG0 Z5\n", f64::from(n) * 20.0)).collect();
    let trial = Trial::of([0.0, 0.0], [600.0, 600.0], &program(&slots));
    let found = trial.proposed();
    trial.verify(&found);
    let moved = found.places.iter().find(|p| p.why == Why::MovedFromCorner { corner: 0 }).unwrap();
    assert!(moved.at[0] > 150.0 || moved.at[1] > 150.0, "{moved:?}");
    assert!(moved.why.to_string().contains("near left corner"));
}

#[test]
fn keep_outs_and_old_holes_are_avoided() {
    let mut trial = Trial::of([0.0, 0.0], [500.0, 500.0], &program(&[outline(60.0, 60.0, 380.0, 380.0)]));
    trial.keep_out = vec![[[470.0, 0.0], [500.0, 30.0]]];
    trial.used = vec![[15.0, 15.0], [14.0, 484.0]];
    let found = trial.proposed();
    trial.verify(&found);
    assert_eq!(found.places.len(), 4);
    assert!(!found.places.iter().any(|p| p.at[0] >= 466.0 && p.at[1] <= 34.0), "{:?}", found.places);
}

#[test]
fn a_board_full_of_old_holes_is_told() {
    let mut trial = Trial::of([0.0, 0.0], [500.0, 500.0], &program(&[outline(60.0, 60.0, 380.0, 380.0)]));
    trial.used = (0..64).flat_map(|x| (0..64).map(move |y| [8.0 * f64::from(x), 8.0 * f64::from(y)])).collect();
    let found = trial.proposed();
    let told = Trouble::OldHoles { holes: 63 * 63 };
    assert!(found.places.is_empty() && found.troubles == [Trouble::NoRoom, told], "{:?}", found.troubles);
    assert!(told.to_string().contains("3969 old holes"), "{told}");
    // where there is no room without them either they are not to blame
    let field: Vec<String> =
        (0..50).map(|n| format!("G0 Z5\nG0 X0 Y{0}\nG1 Z-3\nG1 X200\n", f64::from(n) * 4.0)).collect();
    let mut full = Trial::of([0.0, 0.0], [200.0, 200.0], &program(&field));
    full.used = vec![[10.0, 10.0]];
    assert_eq!(full.proposed().troubles, [Trouble::NoRoom]);
}

#[test]
fn more_are_put_in_until_they_hold() {
    let mut trial = Trial::of([0.0, 0.0], [500.0, 500.0], &program(&[outline(50.0, 50.0, 400.0, 400.0)]));
    (trial.each, trial.need) = (Some(Hold { lift: 100.0, side: 50.0 }), Hold { lift: 100.0, side: 290.0 });
    let found = trial.proposed();
    trial.verify(&found);
    assert_eq!((found.places.len(), found.places[5].why), (6, Why::Force));
    trial.bowed = true;
    assert_eq!(trial.proposed().places.len(), 7);
    trial.need = Hold { lift: 100.0, side: 1.0e6 };
    let found = trial.proposed();
    assert!(matches!(found.troubles[..], [Trouble::Weak { needs: 1.0e6, .. }]), "{:?}", found.troubles);
    assert!(found.troubles[0].to_string().contains("longer fasteners"));
}

#[test]
fn a_loose_piece_is_held_or_told() {
    let cuts = program(&[outline(100.0, 100.0, 200.0, 200.0), outline(350.0, 350.0, 20.0, 20.0)]);
    let mut trial = Trial::of([0.0, 0.0], [500.0, 500.0], &cuts);
    trial.loose = vec![LoosePiece { inside: [200.0, 200.0] }, LoosePiece { inside: [360.0, 360.0] }];
    let found = trial.proposed();
    trial.verify(&found);
    assert!(found.places.iter().any(|p| p.why == Why::Piece && p.at == [200.0, 200.0]), "{:?}", found.places);
    // the place nearest to the small piece that has room would be outside it; without a map of pieces that is not seen
    assert_eq!(found.places.iter().filter(|p| p.why == Why::Piece).count() + found.troubles.len(), 2);
}

#[test]
fn no_room_anywhere_is_told() {
    let field: Vec<String> =
        (0..50).map(|n| format!("G0 Z5\nG0 X0 Y{0}\nG1 Z-3\nG1 X200\n", f64::from(n) * 4.0)).collect();
    let found = Trial::of([0.0, 0.0], [200.0, 200.0], &program(&field)).proposed();
    assert_eq!((found.places.len(), &found.troubles[..]), (0, &[Trouble::NoRoom][..]));
    let tiny = Trial::of([0.0, 0.0], [6.0, 6.0], &program(&[])).proposed();
    assert_eq!((tiny.places.len(), &tiny.troubles[..]), (0, &[Trouble::NoRoom][..]));
}

#[test]
fn the_largest_circle_touches_three_sides() {
    // between two cuts 100 apart the bit's edges leave 94 mm
    let cuts =
        "G0 Z5\nG0 X0 Y100\nG1 Z-3\nG1 X400\nG0 Z5\nG0 X0 Y200\nG1 Z-3\nG1 X400\nG0 Z5\nG0 X0 Y260\nG1 Z-3\nG1 X400\n";
    let trial = Trial::of([0.0, 0.0], [400.0, 300.0], &program(&[cuts.to_owned()]));
    let found = super::super::largest_free([0.0, 0.0], [400.0, 300.0], &Clearance::new(&trial.job, 0.0)).unwrap();
    assert!((found.radius - 48.5).abs() < 0.011, "{found:?}");
    let all = "G0 Z5\nG0 X0 Y10\nG1 Z-3\nG1 X400\n";
    let narrow = Trial::of([0.0, 0.0], [400.0, 12.0], &program(&[all.to_owned()]));
    let found = super::super::largest_free([0.0, 0.0], [400.0, 12.0], &Clearance::new(&narrow.job, 0.0)).unwrap();
    assert!((found.radius - 3.5).abs() < 0.011, "{found:?}");
}
