//! What is sent is the same motion as what was written.

use super::{Sender, SentLine, Then};
use crate::program::motion::{Doing, MoveKind, Start, Step};
use crate::program::steps;
use crate::shop::understands::Understands;
use chargehand_types::quantity::{Length, Point};
use proptest::prelude::*;

fn start() -> Start {
    Start { at: Point::default(), work_zero: Point::default(), arc_tolerance: Length(13_000) }
}

fn sent(text: &str, understands: Understands) -> (Vec<SentLine>, usize) {
    let mut sender = Sender::new(start(), understands, Length::ZERO);
    sender.push(text.as_bytes());
    sender.finish();
    let mut lines = Vec::new();
    while let Some(line) = sender.next_line() {
        lines.push(line);
    }
    (lines, sender.faults().len())
}

fn text_of(lines: &[SentLine]) -> String {
    lines.iter().map(|l| String::from_utf8_lossy(&l.bytes).into_owned() + "\n").collect()
}

/// Motions and what else happens to the machine, without places and modes.
fn motion(text: &str) -> Vec<Doing> {
    steps(text.as_bytes(), start())
        .filter_map(|s: Step| match s.doing {
            Doing::Move(m) => Some(Doing::Move(crate::program::motion::Move { named: 0, of_cycle: false, ..m })),
            Doing::Dwell { seconds } => Some(Doing::Dwell { seconds }),
            Doing::Spindle => Some(Doing::Spindle),
            _ => None,
        })
        .collect()
}

const WHOLE: &str = "%\nO0100\nN10 G21 G90 G17 G94 G54 (setup)\nN20 T1 M6\nN30 S18000 M03\nN40 G00 Z5.000\nN50 X+010.500 Y10.000\nN60 G01 Z-3.000 F0600\nN70 X110 F2400\nG2 X120 Y20 I10 J0\nG3 X120 Y40 R10\nG1 X[100+10] Y#1\nG98 G81 X10 Y10 Z-6 R2 F300\nX20\nG99 X30 Y20\nG80\nG4 P0.5\nG91 G1 X5 Y5\nG90 G0 Z5\nM0 (turn it)\nG20\nG1 X1.2345 F10\nG21\nM5\nM30\n%\n";

#[test]
fn sent_motion_is_written_motion() {
    for shorten in [true, false] {
        let (lines, faults) = sent(WHOLE, Understands { shorten, ..Understands::default() });
        assert_eq!(faults, 0);
        assert_eq!(motion(&text_of(&lines)), motion(WHOLE), "{}", text_of(&lines));
    }
}

#[test]
fn shorter_is_shorter() {
    let (long, _) = sent(WHOLE, Understands { shorten: false, ..Understands::default() });
    let (short, _) = sent(WHOLE, Understands::default());
    assert!(text_of(&short).len() < text_of(&long).len());
    assert!(!text_of(&short).contains('N') && !text_of(&short).contains('('));
}

#[test]
fn every_line_knows_where_it_comes_from() {
    let (lines, _) = sent(WHOLE, Understands::default());
    assert!(lines.windows(2).all(|w| (w[0].source_line, w[0].part) < (w[1].source_line, w[1].part)));
    let last = lines.last().unwrap();
    assert_eq!(last.source_line, 25);
    assert_eq!(last.bytes.as_ref(), b"M30");
}

#[test]
fn prompts_and_bit_changes_are_not_sent_on() {
    let (lines, _) = sent(WHOLE, Understands::default());
    let asks: Vec<_> = lines.iter().filter(|l| l.bytes.is_empty()).map(|l| (l.source_line, l.then.clone())).collect();
    assert_eq!(asks, [(4, Then::ChangesBit { tool: Some(1) }), (20, Then::Asks { text: Some("turn it".into()) })]);
}

#[test]
fn a_rapid_out_of_the_wood_is_a_lift() {
    let (lines, _) = sent("G21 G90 F600\nG1 Z-3\nG0 Z5\nG0 Z9\nM2\n", Understands::default());
    let lifts: Vec<u32> = lines.iter().filter(|l| l.then == Then::Lifted).map(|l| l.source_line).collect();
    assert_eq!(lifts, [3]);
}

#[test]
fn repeated_words_go_only_a_window_later() {
    let text: String = (0..40).map(|i| format!("G1 X{i}.5 Y{i}.25 F900\n")).collect();
    let (lines, _) = sent(&format!("G21 G90\n{text}M2\n"), Understands::default());
    let mut bytes = 0;
    for line in &lines {
        let written = String::from_utf8_lossy(&line.bytes).into_owned();
        if line.source_line > 1 && written.starts_with(['G', 'X']) {
            // "G21G90" is the first line; G1 was set by the second
            assert_eq!(written.contains("G1"), bytes <= 7 + 14 + 127, "{written} after {bytes}");
        }
        bytes += line.bytes.len() + 1;
    }
    assert_eq!(motion(&text_of(&lines)), motion(&format!("G21 G90\n{text}M2\n")));
}

#[test]
fn what_cannot_be_sent_is_refused_by_line() {
    for text in ["G21\nG59.1\nM2\n", "G21\nM48\nM2\n"] {
        let mut sender = Sender::new(start(), Understands::default(), Length::ZERO);
        sender.push(text.as_bytes());
        sender.finish();
        assert_eq!(sender.faults().len(), 1, "{text}");
        assert_eq!(sender.faults()[0].line, 2);
    }
    let long = format!("G1 X1.{} F100 Y2.{}\n", "1".repeat(60), "2".repeat(60));
    assert_eq!(sent(&long, Understands::default()).1, 1);
}

#[test]
fn radius_arcs_become_centres_where_they_must() {
    let text = "G21 G90 G17 F600\nG0 X0 Y-20\nG3 X10 Y-10 R10\nG2 X20 Y0 R-10\nM2\n";
    let (lines, _) = sent(text, Understands { radius_arcs: false, ..Understands::default() });
    let written = text_of(&lines);
    assert!(!written.contains('R'), "{written}");
    for (a, b) in motion(&written).iter().zip(motion(text)) {
        let (Doing::Move(a), Doing::Move(b)) = (a, &b) else { panic!("not a move") };
        assert_eq!((a.from, a.to), (b.from, b.to));
        if let (MoveKind::Arc(a), MoveKind::Arc(b)) = (a.kind, b.kind) {
            assert!((a.sweep - b.sweep).abs() < 1e-6 && (a.radius - b.radius).abs() < 1e-6);
        }
    }
}

proptest! {
    #[test]
    fn any_words_are_sent_as_they_were_meant(
        lines in proptest::collection::vec(
            (0_u8..8, -99_999_i32..99_999, -99_999_i32..99_999, 1_u32..4000), 1..60)
    ) {
        let mut text = String::from("G21 G90 F100\n");
        for (kind, a, b, f) in lines {
            let (x, y) = (f64::from(a) / 1000.0, f64::from(b) / 1000.0);
            text.push_str(&match kind {
                0 => format!("G00 X{x:+09.4} Y{y:.3}\n"),
                1 => format!("n5 g1 x {x:.3} (c) f{f}\n"),
                2 => format!("Y{y:.3} Z{:.3}\n", x / 10.0),
                3 => "G91\n".to_owned(),
                4 => "G90\n".to_owned(),
                5 => format!("G20 G1 X{:.4}\nG21\n", x / 25.4),
                6 => format!("G98 G81 X{x:.3} Y{y:.3} Z-3 R2 F{f}\nG80\nG0 Z5\n"),
                _ => format!("S{f} M3\nG1 X[{:.3}+1] Y{y:.3}\n", x),
            });
        }
        text.push_str("M2\n");
        let (lines, faults) = sent(&text, Understands::default());
        prop_assert_eq!(faults, 0);
        prop_assert_eq!(motion(&text_of(&lines)), motion(&text));
    }
}
