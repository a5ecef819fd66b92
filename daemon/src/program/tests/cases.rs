//! Real programs, held against figures computed outside this project (each folder's `truth.json`).

use super::*;
use crate::program::fault::Rule;
use serde_json::Value;

macro_rules! case {
    ($folder:literal: $($operation:literal),*) => {
        (
            include_str!(concat!("../../../../tests/cases/", $folder, "/truth.json")),
            vec![$(($operation, include_str!(concat!("../../../../tests/cases/", $folder, "/", $folder, "-", $operation, ".nc")))),*],
        )
    };
}

fn start_of(truth: &Value) -> Start {
    let at = truth["given"]["start"].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect::<Vec<_>>();
    // the work zero of the cases' daemon.toml
    Start { at: mm(at[0], at[1], at[2]), work_zero: mm(10.0, 10.0, -60.0), arc_tolerance: Length(13_000) }
}

#[derive(Default, Debug, PartialEq)]
struct Counts {
    rapid: u64,
    linear: u64,
    arc_cw: u64,
    arc_ccw: u64,
    cycle_holes: u64,
    dwell: u64,
    zero_length: u64,
}

fn count(reading: &Reading) -> Counts {
    let mut counts = Counts::default();
    let mut hole = 0;
    for step in &reading.steps {
        match &step.doing {
            Doing::Dwell { .. } => counts.dwell += 1,
            Doing::Move(m) if m.of_cycle => {
                counts.cycle_holes += u64::from(step.place.line != hole);
                hole = step.place.line;
            }
            Doing::Move(m) => {
                match m.kind {
                    MoveKind::Rapid => counts.rapid += 1,
                    MoveKind::Arc(arc) if arc.sweep < 0.0 => counts.arc_cw += 1,
                    MoveKind::Arc(_) => counts.arc_ccw += 1,
                    MoveKind::Feed | MoveKind::Probe => counts.linear += 1,
                }
                counts.zero_length += u64::from(m.from == m.to && !matches!(m.kind, MoveKind::Arc(_)));
            }
            _ => {}
        }
    }
    counts
}

fn box_of(reading: &Reading) -> [[f64; 2]; 3] {
    let mut found = [[f64::MAX, f64::MIN]; 3];
    let mut before = 0;
    for m in reading.moves() {
        let to = [m.to.x.mm(), m.to.y.mm(), m.to.z.mm()];
        let (least, most) = extents(&m);
        for n in 0..3 {
            let bit = 1 << n;
            if before & bit != 0 {
                found[n] = [found[n][0].min(least[n]), found[n][1].max(most[n])];
            } else if m.named & bit != 0 {
                found[n] = [to[n], to[n]];
            }
        }
        before = m.named;
    }
    found
}

fn check(truth: &str, programs: &[(&str, &str)]) {
    let truth: Value = serde_json::from_str(truth).unwrap();
    for (name, text) in programs {
        let wanted = truth["operations"].as_array().unwrap().iter().find(|o| o["name"] == *name).unwrap();
        let reading = read_from(text, start_of(&truth));
        assert_eq!(reading.faults, [], "{name}");
        assert_eq!(u64::from(reading.facts.lines), wanted["lines"].as_u64().unwrap(), "{name}");
        assert_eq!(u64::from(reading.facts.blocks), wanted["blocks"].as_u64().unwrap(), "{name}");
        assert_eq!(reading.facts.ended.map(|p| u64::from(p.line)), wanted["end_line"].as_u64(), "{name}");
        if wanted.get("motions").is_some() {
            check_motion(name, &reading, wanted);
        }
    }
}

fn check_motion(name: &str, reading: &Reading, wanted: &Value) {
    let n = |key: &str| wanted["motions"][key].as_u64().unwrap();
    let motions = Counts {
        rapid: n("rapid"),
        linear: n("linear"),
        arc_cw: n("arc_cw"),
        arc_ccw: n("arc_ccw"),
        cycle_holes: n("cycle_holes"),
        dwell: n("dwell"),
        zero_length: n("zero_length"),
    };
    assert_eq!(count(reading), motions, "{name}");
    for (axis, found) in ["x", "y", "z"].iter().zip(box_of(reading)) {
        for side in 0..2 {
            let wanted = wanted["extents_all"][axis][side].as_f64().unwrap();
            assert!((found[side] - wanted).abs() < 1e-3, "{name} {axis}: {found:?} {wanted}");
        }
    }
    let way = |rapid: bool| -> f64 {
        let of = reading.moves().into_iter().filter(|m| (m.kind == MoveKind::Rapid) == rapid);
        of.map(|m| length(&m)).sum::<f64>() / 1000.0
    };
    let (feed, rapid) = (wanted["feed_length_m"].as_f64().unwrap(), wanted["rapid_length_m"].as_f64().unwrap());
    assert!((way(false) - feed).abs() < 2e-6, "{name}: feed {} {feed}", way(false));
    assert!((way(true) - rapid).abs() < 2e-6, "{name}: rapid {} {rapid}", way(true));
}

#[test]
fn good_programs_read_as_they_are() {
    for (truth, programs) in [
        case!("plant-stand-sides": "slots", "outlines"),
        case!("seed-tray-rack": "pockets", "holes", "outlines"),
        case!("herb-crate": "openings", "inner-parts", "outlines"),
        case!("folding-shelf": "holes", "outlines"),
        case!("label-stakes": "letters", "outlines", "scoops"),
    ] {
        check(truth, &programs);
    }
}

#[test]
fn programs_with_other_mistakes_read_too() {
    let (truth, programs) = case!("frame-units": "all-in-one", "inch-word", "other-bit");
    check(truth, &programs);
    let (truth, programs) = case!("rail-set-syntax": "endless");
    check(truth, &programs);
}

#[test]
fn broken_programs_are_told_once() {
    type Is = fn(&Rule) -> bool;
    let (_, programs) = case!("rail-set-syntax": "two-words", "radius", "arc-end", "number", "letter");
    let wanted: [(u32, u32, Is); 5] = [
        (21, 9, |r| matches!(r, Rule::SameGroup { .. })),
        (16, 27, |r| matches!(r, Rule::ArcRadii { .. })),
        (18, 5, |r| matches!(r, Rule::ArcNoEnd('X', 'Y'))),
        (19, 9, |r| matches!(r, Rule::MalformedNumber(_))),
        (23, 9, |r| matches!(r, Rule::Stray('@'))),
    ];
    for ((name, text), (line, column, is)) in programs.into_iter().zip(wanted) {
        let reading = read_from(text, start_at(mm(0.0, 0.0, 60.0)));
        assert_eq!(reading.faults.len(), 1, "{name}: {:?}", reading.faults);
        let fault = &reading.faults[0];
        assert_eq!((fault.place.line, fault.place.column), (line, column), "{name}: {fault}");
        assert!(is(&fault.rule), "{name}: {fault}");
    }
}

#[test]
fn units_words_are_found() {
    let (_, programs) = case!("frame-units": "inch-word");
    let reading = read_from(programs[0].1, start_at(mm(0.0, 0.0, 60.0)));
    assert_eq!(reading.facts.first_inch.map(|p| (p.line, p.column)), Some((3, 9)));
    assert!(reading.facts.ends_well());
}

#[test]
fn prompts_carry_the_programs_words() {
    let (_, programs) = case!("label-stakes": "letters");
    let reading = read_from(programs[0].1, start_at(mm(0.0, 0.0, 60.0)));
    let prompt = reading.steps.iter().find(|s| matches!(s.doing, Doing::Prompt { .. })).unwrap();
    let Doing::Prompt { optional, text } = &prompt.doing else { panic!("a prompt") };
    assert_eq!((*optional, text.as_deref()), (false, Some("dial 3, switch the router on, then resume")));
}
