//! Whole maps: what must not change the answer, and small sheets worked out by hand.

use super::*;
use crate::program::motion::{Arc, Move, MoveKind, Pace, Place, Plane};
use chargehand_types::card::{BitKind, Sheet, ZZero};
use chargehand_types::quantity::{Area, Length, Point, Spot};
use cutter::tests::bit;
use proptest::prelude::*;

type Spot3 = [f64; 3];

fn mm(v: f64) -> Length {
    Length::from_mm(v).unwrap()
}

fn sheet(size: [f64; 2]) -> Sheet {
    Sheet {
        material: "plywood".into(),
        size: size.map(mm),
        thickness: mm(12.0),
        z_zero: ZZero::Top,
        corner: Spot::default(),
        max_bed_bite: mm(0.5),
        z_shift_max: Length::ZERO,
        face: None,
        grain: None,
    }
}

fn pool(workers: usize) -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new().num_threads(workers).build().unwrap()
}

fn moved(kind: MoveKind, from: Spot3, to: Spot3) -> Move {
    let point = |s: Spot3| {
        let [x, y, z] = s.map(mm);
        Point::new(x, y, z)
    };
    Move { kind, from: point(from), to: point(to), pace: Pace::Rapid, named: 7, of_cycle: false }
}

/// Straights through these places, with a bit.
fn job(kind: BitKind, diameter: f64, ways: &[Vec<Spot3>]) -> Job {
    let mut job = Job::new(&sheet([100.0, 100.0]), mm(12.0));
    let cutter = job.fit(&bit(kind, diameter));
    let mut line = 1;
    for way in ways {
        if let Some(first) = way.first() {
            let up = [first[0], first[1], 5.0];
            job.push(0, cutter, Place { line, column: 1 }, &moved(MoveKind::Rapid, up, up));
        }
        for pair in way.windows(2) {
            line += 1;
            job.push(0, cutter, Place { line, column: 1 }, &moved(MoveKind::Feed, pair[0], pair[1]));
        }
    }
    job
}

fn map(job: &Job) -> SheetMap {
    map_by(job, 1)
}

fn map_by(job: &Job, workers: usize) -> SheetMap {
    SheetMap::of(job, Least { depth: mm(0.1), piece: Area::of(5.0) }, &[], &pool(workers))
}

/// Heights of the whole sheet.
fn heights(map: &SheetMap) -> Vec<f32> {
    let grid = map.swept.grid;
    let rows = 0..grid.rows;
    rows.flat_map(|r| (0..grid.columns).map(move |c| (c, r))).map(|(c, r)| map.swept.height(c, r).unwrap()).collect()
}

fn square(at: [f64; 2], edge: f64, z: f64) -> Vec<Spot3> {
    let [x, y] = at;
    [[0.0, 0.0], [edge, 0.0], [edge, edge], [0.0, edge], [0.0, 0.0]].map(|[u, v]| [x + u, y + v, z]).to_vec()
}

#[test]
fn a_square_comes_loose_at_its_last_side() {
    // a 6 mm bit round a 46 mm square leaves 40 x 40
    let job = job(BitKind::UpCut, 6.0, &[square([20.0, 20.0], 46.0, -12.2)]);
    let map = map(&job);
    assert_eq!(map.regions().len(), 1);
    let piece = &map.regions()[0];
    assert!((piece.area - 1600.0).abs() < 1.0e-6, "{}", piece.area);
    assert!((piece.centroid[0] - 43.0).abs() < 1.0e-6 && (piece.centroid[1] - 43.0).abs() < 1.0e-6);
    assert_eq!(job.strokes[piece.loose.unwrap() as usize].place.line, 5);
    assert_eq!(map.piece_at([43.0, 43.0]), Some(0));
    assert_eq!(map.piece_at([5.0, 5.0]), None);
}

#[test]
fn a_shallow_square_leaves_the_sheet_whole() {
    let map = map(&job(BitKind::UpCut, 6.0, &[square([20.0, 20.0], 46.0, -11.8)]));
    assert!(map.regions().is_empty());
}

#[test]
fn tabs_hold_and_are_measured() {
    // the upper side lifted 2 mm above the underside for 14 mm: 8 mm between the round ends
    let mut way = square([20.0, 20.0], 46.0, -12.2);
    way.splice(3..3, [[50.0, 66.0, -12.2], [50.0, 66.0, -10.0], [36.0, 66.0, -10.0], [36.0, 66.0, -12.2]]);
    let map = map(&job(BitKind::UpCut, 6.0, &[way]));
    let [tab] = map.tabs() else { panic!("{:?}", map.tabs()) };
    assert!((tab.width - 8.0).abs() < 1.0e-9 && (tab.width_top - 8.0).abs() < 1.0e-9, "{tab:?}");
    assert!((tab.height - 2.0).abs() < 1.0e-9 && (tab.section - 16.0).abs() < 1.0e-9, "{tab:?}");
    assert_eq!((tab.at, tab.ramped), ([43.0, 66.0], false));
    let piece = &map.regions()[0];
    assert_eq!((piece.loose, piece.tabs.as_slice()), (None, &[0][..]));
    assert!((piece.area - 1600.0).abs() < 1.0e-6);
}

/// The same square, left off at 50 and taken up again at 36 on its upper side, with these heights in between.
fn left_off(depth: f64, over: &[f64]) -> Vec<Spot3> {
    let mut way = square([20.0, 20.0], 46.0, depth);
    let mut between = vec![[50.0, 66.0, depth]];
    between.extend(over.iter().flat_map(|z| [[50.0, 66.0, *z], [36.0, 66.0, *z]]));
    between.push([36.0, 66.0, depth]);
    way.splice(3..3, between);
    way
}

#[test]
fn a_bit_lifted_out_leaves_a_tab_as_high_as_the_sheet() {
    let map = map(&job(BitKind::UpCut, 6.0, &[left_off(-12.2, &[5.0])]));
    let [tab] = map.tabs() else { panic!("{:?}", map.tabs()) };
    assert!((tab.width - 8.0).abs() < 1.0e-9 && (tab.height - 12.0).abs() < 1.0e-9, "{tab:?}");
    assert!((tab.section - 96.0).abs() < 1.0e-9 && tab.at == [43.0, 66.0], "{tab:?}");
    let piece = &map.regions()[0];
    assert_eq!((piece.loose, piece.tabs.as_slice()), (None, &[0][..]));
    assert!((piece.area - 1600.0).abs() < 1.0e-6);
}

#[test]
fn a_pass_that_is_not_lifted_takes_the_top_of_a_tab() {
    for over in [5.0, -9.0] {
        let ways = [square([20.0, 20.0], 46.0, -10.0), left_off(-12.2, &[over])];
        let map = map(&job(BitKind::UpCut, 6.0, &ways));
        let [tab] = map.tabs() else { panic!("{:?}", map.tabs()) };
        assert!((tab.height - 2.0).abs() < 1.0e-5 && (tab.section - 16.0).abs() < 1.0e-4, "{over}: {tab:?}");
    }
}

#[test]
fn slots_side_by_side_and_closed_cuts_leave_no_bridge() {
    // two slots beside each other, two squares 8 mm apart, a slot too far ahead of another
    let slot = |x: f64, y: f64| vec![[x, y, -12.2], [x + 20.0, y, -12.2]];
    let ways = [
        slot(5.0, 5.0),
        slot(5.0, 17.0),
        slot(60.0, 5.0),
        square([10.0, 30.0], 20.0, -12.2),
        square([44.0, 30.0], 20.0, -12.2),
    ];
    assert_eq!(map(&job(BitKind::UpCut, 6.0, &ways)).tabs(), []);
    // and drilled holes in a row
    let holes: Vec<Vec<Spot3>> = (0..6_i32)
        .map(|n| 10.0 + 14.0 * f64::from(n))
        .map(|x| vec![[x, 80.0, 1.0], [x, 80.0, -12.2], [x, 80.0, 1.0]])
        .collect();
    assert_eq!(map(&job(BitKind::UpCut, 6.0, &holes)).tabs(), []);
}

#[test]
fn a_tab_cut_away_holds_no_more() {
    let mut way = square([20.0, 20.0], 46.0, -12.2);
    way.splice(3..3, [[50.0, 66.0, -12.2], [50.0, 66.0, -10.0], [36.0, 66.0, -10.0], [36.0, 66.0, -12.2]]);
    let job = job(BitKind::UpCut, 6.0, &[way, vec![[55.0, 66.0, -12.2], [30.0, 66.0, -12.2]]]);
    let map = map(&job);
    assert!(map.tabs().is_empty());
    assert_eq!(job.strokes[map.regions()[0].loose.unwrap() as usize].place.line, 10);
}

#[test]
fn a_part_in_a_parts_opening_is_its_own_piece() {
    let ways =
        [square([10.0, 10.0], 80.0, -12.2), square([25.0, 25.0], 50.0, -12.2), square([40.0, 40.0], 20.0, -12.2)];
    let map = map(&job(BitKind::UpCut, 6.0, &ways));
    let areas: Vec<f64> = map.regions().iter().map(|r| r.area.round()).collect();
    // between squares of 74 and 56 (corners rounded by the bit), of 44 and 26, and 14 x 14
    let round = |outer: f64, inner: f64| outer * outer - inner * inner + (4.0 - std::f64::consts::PI) * 9.0;
    let known = [round(74.0, 56.0), round(44.0, 26.0), 196.0];
    for (area, known) in areas.iter().zip(known) {
        assert!((area - known).abs() < 3.0, "{areas:?} {known}");
    }
    assert_eq!(areas.len(), 3);
}

#[test]
fn an_anchor_holds_its_piece() {
    let job = job(BitKind::UpCut, 6.0, &[square([20.0, 20.0], 46.0, -12.2)]);
    let screw = Spot { x: mm(43.0), y: mm(43.0) };
    let map = SheetMap::of(&job, Least { depth: mm(0.1), piece: Area::of(5.0) }, &[screw], &pool(1));
    assert_eq!(map.regions()[0].loose, None);
    assert!(map.regions()[0].anchored);
}

#[test]
fn a_huge_sheet_gets_coarser_cells() {
    for size in [[100_000.0, 100_000.0], [9_000_000.0, 0.1], [0.1, 0.1]] {
        let job = Job::new(&sheet(size), mm(12.0));
        let map = map(&job);
        assert!(map.swept.grid.columns * map.swept.grid.rows <= 50_000_000);
        assert!(map.regions().is_empty());
    }
}

#[test]
fn chips_are_no_pieces() {
    // 8 mm squares leave 2 x 2: less than 5 mm2
    assert!(map(&job(BitKind::UpCut, 6.0, &[square([20.0, 20.0], 8.0, -12.2)])).regions().is_empty());
}

#[test]
fn an_arc_is_cut_like_its_chords() {
    let centre = [50.0, 50.0];
    for (sweep, kind) in [(std::f64::consts::TAU, BitKind::UpCut), (2.0, BitKind::UpCut), (-4.0, BitKind::UpCut)] {
        let at = |angle: f64| [50.0 + 20.0 * angle.cos(), 50.0 + 20.0 * angle.sin(), -5.0];
        let mut arcs = Job::new(&sheet([100.0, 100.0]), mm(12.0));
        let cutter = arcs.fit(&bit(kind, 6.0));
        let arc = MoveKind::Arc(Arc { plane: Plane::Xy, centre, radius: 20.0, sweep });
        let to = if sweep >= std::f64::consts::TAU { at(0.0) } else { at(sweep) };
        arcs.push(0, cutter, Place { line: 1, column: 1 }, &moved(arc, at(0.0), to));
        let fine: Vec<Spot3> = (0..=4000).map(|k| at(sweep * f64::from(k) / 4000.0)).collect();
        let (a, b) = (heights(&map(&arcs)), heights(&map(&job(kind, 6.0, &[fine]))));
        let differ = a.iter().zip(&b).filter(|(a, b)| (**a - **b).abs() > 1.0e-4).count();
        // only cells whose middle lies within the chords' error of the edge
        assert!(differ <= 12, "{differ} cells differ for {sweep}");
    }
}

#[test]
fn what_a_stroke_took_is_told() {
    let job = job(
        BitKind::UpCut,
        6.0,
        &[vec![[20.0, 50.0, -4.0], [80.0, 50.0, -4.0]], vec![[20.0, 50.0, -9.0], [80.0, 50.0, -9.0]]],
    );
    let map = map(&job);
    let (first, second) = (map.cut(1), map.cut(3));
    assert!((first.deepest - 4.0).abs() < 1.0e-6 && (second.deepest - 5.0).abs() < 1.0e-6);
    let [lowered, fresh, _] = first.areas(map.cell_area());
    let stadium = 60.0 * 6.0 + std::f64::consts::PI * 9.0;
    assert!((lowered - stadium).abs() < 2.0 && (fresh - lowered).abs() < 1.0e-9, "{lowered} {stadium}");
    assert_eq!(second.areas(map.cell_area())[1], 0.0);
}

/// Ways of a few straights anywhere near the sheet, in steps of a thousandth.
fn ways() -> impl Strategy<Value = Vec<Vec<Spot3>>> {
    let coordinate = |from: i32, to: i32| (from..to).prop_map(|n| f64::from(n) / 1000.0);
    let place = (coordinate(-5_000, 105_000), coordinate(-5_000, 105_000), coordinate(-13_000, 2_000));
    prop::collection::vec(prop::collection::vec(place.prop_map(|(x, y, z)| [x, y, z]), 2..5), 1..4)
}

fn kinds() -> impl Strategy<Value = BitKind> {
    prop_oneof![Just(BitKind::UpCut), Just(BitKind::Ball), Just(BitKind::V)]
}

fn turned(ways: &[Vec<Spot3>], turn: impl Fn(Spot3) -> Spot3) -> Vec<Vec<Spot3>> {
    ways.iter().map(|way| way.iter().map(|p| turn(*p)).collect()).collect()
}

/// Cells that two maps differ in by more than rounding.
fn differing(a: &[f32], b: &[f32]) -> usize {
    a.iter().zip(b).filter(|(a, b)| (**a - **b).abs() > 2.0e-3).count()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn a_move_cut_in_two_cuts_the_same(kind in kinds(), ways in ways()) {
        let halved: Vec<Vec<Spot3>> = ways.iter().map(|way| {
            let mut all = vec![way[0]];
            for pair in way.windows(2) {
                all.push([0, 1, 2].map(|i| (pair[0][i] + pair[1][i]) / 2.0));
                all.push(pair[1]);
            }
            all
        }).collect();
        let (a, b) = (heights(&map(&job(kind, 6.0, &ways))), heights(&map(&job(kind, 6.0, &halved))));
        // cells on the very edge may fall to either side
        prop_assert!(differing(&a, &b) <= 8, "{} cells", differing(&a, &b));
    }

    #[test]
    fn shifting_by_whole_cells_shifts_the_map(kind in kinds(), ways in ways(), dx in 0_u8..9, dy in 0_u8..9) {
        let (x, y) = (0.25 * f64::from(dx), 0.25 * f64::from(dy));
        let shifted = turned(&ways, |[u, v, z]| [u + x, v + y, z]);
        let (here, there) = (map(&job(kind, 6.0, &ways)), map(&job(kind, 6.0, &shifted)));
        let grid = here.swept.grid;
        let (mut differ, dx, dy) = (0, usize::from(dx), usize::from(dy));
        for row in 0..grid.rows - dy {
            for column in 0..grid.columns - dx {
                let (a, b) = (here.swept.height(column, row), there.swept.height(column + dx, row + dy));
                differ += usize::from((a.unwrap() - b.unwrap()).abs() > 2.0e-3);
            }
        }
        prop_assert!(differ <= 8, "{differ} cells");
    }

    #[test]
    fn a_mirrored_way_cuts_a_mirrored_sheet(kind in kinds(), ways in ways()) {
        let mirrored = turned(&ways, |[x, y, z]| [100.0 - x, y, z]);
        let (here, there) = (map(&job(kind, 6.0, &ways)), map(&job(kind, 6.0, &mirrored)));
        let grid = here.swept.grid;
        let cells = (0..grid.rows).flat_map(|r| (0..grid.columns).map(move |c| (c, r)));
        let differ = cells.filter(|(c, r)| {
            let (a, b) = (here.swept.height(*c, *r), there.swept.height(grid.columns - 1 - c, *r));
            (a.unwrap() - b.unwrap()).abs() > 2.0e-3
        }).count();
        prop_assert!(differ <= 8, "{differ} cells");
    }

    #[test]
    fn more_cutting_never_adds_material(kind in kinds(), ways in ways(), more in ways()) {
        let both: Vec<Vec<Spot3>> = ways.iter().chain(&more).cloned().collect();
        let (few, many) = (heights(&map(&job(kind, 6.0, &ways))), heights(&map(&job(kind, 6.0, &both))));
        prop_assert!(few.iter().zip(&many).all(|(a, b)| b <= a));
    }

    #[test]
    fn the_number_of_workers_changes_nothing(kind in kinds(), ways in ways()) {
        let job = job(kind, 6.0, &ways);
        let (one, four) = (map_by(&job, 1), map_by(&job, 4));
        prop_assert_eq!(heights(&one), heights(&four));
        prop_assert_eq!(one.regions(), four.regions());
        prop_assert_eq!(&one.swept.cuts, &four.swept.cuts);
    }
}

#[test]
fn a_bit_meets_what_was_not_cut_before() {
    // a slot 6 wide and 4 deep from 20 to 60 along X
    let job = job(BitKind::UpCut, 6.0, &[vec![[20.0, 50.0, 5.0], [20.0, 50.0, -4.0], [60.0, 50.0, -4.0]]]);
    let met = |upto: usize, at: [f64; 3]| bite(&job, upto, 0, at, &pool(1));
    let all = job.len();
    assert_eq!(met(all, [40.0, 50.0, -4.0]), 0.0, "down its middle");
    assert!((met(all, [40.0, 50.0, -7.0]) - 3.0).abs() < 1.0e-5, "and deeper");
    assert!((met(all, [40.0, 51.0, -4.0]) - 4.0).abs() < 1.0e-5, "beside it");
    assert!((met(0, [40.0, 50.0, -4.0]) - 4.0).abs() < 1.0e-5, "before it was cut");
    assert_eq!(met(all, [40.0, 51.0, 2.0]), 0.0, "above the face");
    assert_eq!(met(0, [-20.0, 50.0, -4.0]), 0.0, "beside the sheet");
    // half over the edge only what is wood counts
    assert!((met(0, [-1.0, 50.0, -4.0]) - 4.0).abs() < 1.0e-5);
    assert_eq!(met(all, [f64::NAN, 50.0, -4.0]), 0.0);
}
