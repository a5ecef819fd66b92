//! What is sent is the same motion as what was written.

use super::{SentLine, Then, lines};
use crate::program::fault::{Fault, Foreign, Rule};
use crate::program::motion::{Doing, Modal, Move, MoveKind, Start, Turning};
use crate::program::steps;
use crate::shop::understands::Understands;
use chargehand_types::quantity::{Feed, Length, Point, Rpm};
use proptest::prelude::*;

fn start() -> Start {
    Start { at: Point::default(), work_zero: Point::default(), arc_tolerance: Length(13_000) }
}

fn sent_from(text: &str, start: Start, understands: Understands) -> (Vec<SentLine>, Vec<Fault>) {
    let mut all = lines(text.as_bytes(), start, understands, Length::ZERO);
    let made = all.by_ref().collect();
    assert_eq!(all.sender().reading_faults(), [], "{text}");
    (made, all.sender().faults().to_vec())
}

fn sent(text: &str) -> Vec<SentLine> {
    let (lines, faults) = sent_from(text, start(), Understands::default());
    assert_eq!(faults, [], "{text}");
    lines
}

fn text_of(lines: &[SentLine]) -> String {
    lines.iter().map(|l| String::from_utf8_lossy(&l.bytes).into_owned() + "\n").collect()
}

/// One motion or dwell, and the machine around it.
#[derive(Debug, PartialEq)]
struct Event {
    doing: Doing,
    turning: Turning,
    speed: Option<Rpm>,
    coolant: (bool, bool),
}

fn events(text: &str, start: Start) -> Vec<Event> {
    let mut reading = steps(text.as_bytes(), start);
    let of = |doing, modal: Modal| Event {
        doing,
        turning: modal.turning,
        speed: modal.speed.filter(|_| modal.turning != Turning::Off),
        coolant: (modal.mist, modal.flood),
    };
    let events = reading
        .by_ref()
        .filter_map(|step| match step.doing {
            Doing::Move(m) => Some(of(Doing::Move(Move { named: 0, of_cycle: false, ..m }), step.modal)),
            Doing::Dwell { .. } => Some(of(step.doing, step.modal)),
            _ => None,
        })
        .collect();
    assert_eq!(reading.faults(), [], "{text}");
    events
}

fn same(text: &str, understands: Understands) -> Vec<SentLine> {
    let (lines, faults) = sent_from(text, start(), understands);
    assert_eq!(faults, [], "{text}");
    assert_eq!(events(&text_of(&lines), start()), events(text, start()), "{}", text_of(&lines));
    lines
}

/// A controller that takes next to nothing as it is.
fn plain() -> Understands {
    let g = ["0", "1", "2", "3", "4", "17", "18", "19", "20", "21", "53", "54", "90", "91", "92", "92.1", "93", "94"];
    let g = g.iter().map(|s| (*s).to_owned()).collect();
    Understands { g, radius_arcs: false, ..Understands::default() }
}

const WHOLE: &str = "%\nO0100\nN10 G21 G90 G17 G94 G54 (setup)\nN20 T1 M6\nN30 S18000 M03\nN40 G00 Z5.000\nN50 X+010.500 Y10.000\nN60 G01 Z-3.000 F0600\nN70 X110 F2400\nG2 X120 Y20 I10 J0\nG3 X120 Y40 R10\nG1 X[100+10] Y#1\nG98 G81 X10 Y10 Z-6 R2 F300\nX20\nG99 X30 Y20\nG80\nG4 P0.5\nG91 G1 X5 Y5\nG90 G0 Z5\nM0 (turn it)\nG20\nG1 X1.2345 F10\nG21\nM5\nM30\n%\n";

#[test]
fn sent_motion_is_written_motion() {
    for shorten in [true, false] {
        same(WHOLE, Understands { shorten, ..Understands::default() });
    }
}

#[test]
fn real_programs_are_sent_as_they_are() {
    let start = Start {
        at: Point::new(Length::ZERO, Length::ZERO, Length::whole_mm(60)),
        work_zero: Point::new(Length::whole_mm(10), Length::whole_mm(10), Length::whole_mm(-60)),
        arc_tolerance: Length(13_000),
    };
    for text in [
        include_str!("../../../tests/cases/plant-stand-sides/plant-stand-sides-outlines.nc"),
        include_str!("../../../tests/cases/seed-tray-rack/seed-tray-rack-holes.nc"),
        include_str!("../../../tests/cases/herb-crate/herb-crate-inner-parts.nc"),
        include_str!("../../../tests/cases/folding-shelf/folding-shelf-outlines.nc"),
        include_str!("../../../tests/cases/label-stakes/label-stakes-letters.nc"),
        include_str!("../../../tests/cases/label-stakes/label-stakes-scoops.nc"),
        include_str!("../../../tests/cases/frame-units/frame-units-all-in-one.nc"),
    ] {
        let (lines, faults) = sent_from(text, start, Understands::default());
        assert_eq!(faults, []);
        let written = text_of(&lines);
        assert_eq!(events(&written, start), events(text, start));
        assert!(written.len() < text.len() || text.contains("G83"), "a cycle takes more lines than it had");
        assert!(
            written.bytes().all(|b| b == b'\n' || b.is_ascii_uppercase() || b.is_ascii_digit() || b"+-.".contains(&b))
        );
    }
}

#[test]
fn the_modes_taken_for_granted_are_written_first() {
    let lines = sent("G0 X1\nM2\n");
    assert_eq!(text_of(&lines), "G40G49G92.1G17G21G90G94G91.1G54\nG0X1\nM2\n");
    assert_eq!((lines[0].source_line, lines[0].part, lines[1].part), (1, 0, 1));
}

#[test]
fn words_are_written_short() {
    let lines = sent("N5 g01 x +010.500 y-00.50 (here) f0600. S1000 T3\nM2\n");
    assert_eq!(lines[1].bytes.as_ref(), b"G1X10.5Y-.5F600S1000");
    let (lines, _) = sent_from(
        "N5 g01 x +010.500 y-00.50 (here) f0600. ; there\nM2\n",
        start(),
        Understands { shorten: false, ..Understands::default() },
    );
    assert_eq!(lines[1].bytes.as_ref(), b"G1 X+010.500 Y-00.50 F0600.");
}

#[test]
fn every_line_knows_where_it_comes_from() {
    let lines = sent(WHOLE);
    assert!(lines.windows(2).all(|w| (w[0].source_line, w[0].part) < (w[1].source_line, w[1].part)));
    let last = lines.last().unwrap();
    assert_eq!((last.source_line, last.bytes.as_ref()), (25, b"M30".as_ref()));
}

/// Where the bit is after a text, and the modes that its next block stands in.
fn after(text: &str) -> (Point, bool, bool, Option<Feed>, Turning) {
    let mut reading = steps(text.as_bytes(), start());
    let last = reading.by_ref().filter_map(|s| if let Doing::Move(m) = s.doing { Some(m.to) } else { None }).last();
    let modal = reading.modal();
    (last.unwrap_or_default(), modal.incremental, modal.inch, modal.feed, modal.turning)
}

#[test]
fn after_every_line_it_stands_as_the_program_does() {
    let (whole, source) = (sent(WHOLE), WHOLE.lines().collect::<Vec<_>>());
    let mut written = String::new();
    for (n, line) in whole.iter().enumerate() {
        written += &(String::from_utf8_lossy(&line.bytes).into_owned() + "\n");
        if whole.get(n + 1).is_none_or(|next| next.source_line > line.source_line) {
            let read = source[..line.source_line as usize].join("\n") + "\n";
            assert_eq!(after(&written), after(&read), "{written}");
        }
    }
}

#[test]
fn people_are_asked_and_modes_restored() {
    let lines = sent(WHOLE);
    let asks: Vec<_> = lines.iter().filter(|l| l.bytes.is_empty()).map(|l| (l.source_line, l.then.clone())).collect();
    assert_eq!(asks, [(4, Then::ChangesBit { tool: Some(1) }), (20, Then::Asks { text: Some("turn it".into()) })]);
    let at = lines.iter().position(|l| matches!(l.then, Then::Asks { .. })).unwrap();
    assert_eq!(lines[at + 1].bytes.as_ref(), b"G17G21G90G94G91.1G54F300");
}

#[test]
fn the_bit_is_changed_first_and_still() {
    // NISTIR 6556 Table 8: M6 comes before M3 and motion of its line; 3.6.3: the spindle stands still after it
    let lines = sent("M3 S9000 F900\nG1 X1\nG0 X5 M3 T4 M6\nM0 X9\nM2\n");
    let told: Vec<_> = lines.iter().map(|l| (String::from_utf8_lossy(&l.bytes).into_owned(), l.then.clone())).collect();
    let at = told.iter().position(|(_, then)| *then == Then::ChangesBit { tool: Some(4) }).unwrap();
    assert_eq!(told[at - 1].0, "M5");
    let written: String = told[..=at].iter().map(|(text, _)| format!("{text}\n")).collect();
    assert_eq!(after(&written).4, Turning::Off);
    assert_eq!(told[at + 2].0, "G0X5M3");
    let at = told.iter().position(|(_, then)| *then == Then::Asks { text: None }).unwrap();
    assert_eq!(told[at - 1].0, "X9", "the rest of an M0 line comes before the wait");
}

#[test]
fn a_rapid_out_of_the_wood_is_a_lift() {
    let lines = sent("G21 G90 F600\nG1 Z-3\nG0 Z5\nG0 Z9\nG1 Z-1\nG53 G0 Z2\nG81 X1 Z-2 R1\nM2\n");
    let lifts: Vec<u32> = lines.iter().filter(|l| l.then == Then::Lifted).map(|l| l.source_line).collect();
    assert_eq!(lifts, [3, 6, 7]);
}

#[test]
fn repeated_words_go_only_a_window_later() {
    let body: String = (0..60).map(|i| format!("G1 X{i}.5 Y7.25 F900\n")).collect();
    let lines = same(&format!("G21 G90\n{body}M2\n"), Understands::default());
    let ends: Vec<usize> = lines
        .iter()
        .scan(0, |sum, l| {
            *sum += l.bytes.len() + 1;
            Some(*sum)
        })
        .collect();
    let first = lines.iter().position(|l| l.source_line == 2).unwrap();
    for (n, line) in lines.iter().enumerate().filter(|(_, l)| (3..=61).contains(&l.source_line)) {
        let written = String::from_utf8_lossy(&line.bytes).into_owned();
        // the first of these lines set G1, Y and F; no line in flight may rest on it
        let back = ends[n - 1] - ends[first];
        assert_eq!(written.contains("G1") && written.contains('F') && written.contains('Y'), back < 127, "{written}");
    }
}

#[test]
fn lines_lost_in_a_window_leave_the_rest_whole() {
    // a controller skips a refused line: everything in flight behind it still says what it means by itself
    let body: String = (0..200).map(|i| format!("G{} X{}.5 Y{} F{}\n", i / 40 % 2, i, i / 50, 600 + i / 60)).collect();
    let lines = sent(&format!("G21 G90\n{body}M2\n"));
    for lost in 2..lines.len() - 1 {
        let (mut in_flight, mut upto) = (0, lost);
        while upto + 1 < lines.len() && in_flight + lines[upto].bytes.len() < 127 {
            in_flight += lines[upto].bytes.len() + 1;
            upto += 1;
        }
        let with = text_of(&lines[..upto]);
        let without = text_of(&[&lines[..lost], &lines[lost + 1..upto]].concat());
        let (with, without) = (events(&with, start()), events(&without, start()));
        let ends = |events: &[Event]| -> Vec<_> {
            events
                .iter()
                .filter_map(|e| if let Doing::Move(m) = &e.doing { Some((m.to, m.pace, m.kind)) } else { None })
                .collect()
        };
        let (with, without) = (ends(&with), ends(&without));
        assert_eq!(with.len(), without.len() + 1);
        assert!(without.iter().all(|m| with.contains(m)), "line {lost} lost");
    }
}

#[test]
fn what_is_not_known_is_written_another_way() {
    let same_moves = |text: &str| {
        let lines = same(text, plain());
        let written = text_of(&lines);
        for word in ["G8", "G28", "G30", "G90.1", "G92.3", "G92.2", "G43", "G98", "G64"] {
            assert!(!written.contains(word), "{written}");
        }
    };
    same_moves("G43 H1 Z5\nG64\nG0 X5\nG1 F100 X7\nM2\n");
    same_moves("F100\nG91 G81 X4 Y5 Z-0.6 R1.8 L3\nX1\nG80\nG90 G1 X0\nM2\n");
    same_moves("M3 S900 F100\nG98 G83 X15 Y25 Z-10 R2 Q3\nG86 X1 Z-1 R1 P.25\nG84 X2 Z-3 R1\nG82 X3 Z-1 R1 P1\nM2\n");
    same_moves("M3 S900 F100\nG0 Z1\nG98 G84 Z-3 R1 L2\nG4 P2 G85 X1 Z-1 R0\nG1 X2\nM5 G81 X3 Z-1 R0\nM2\n");
    same_moves("F100\nG1 X5\nG28 Z5\nX9\nG91 G30 Z1\nX1 F50\nM2\n");
    same_moves("F100\nG90.1 G2 X10 Y0 I5 J0\nG18 G3 X20 Z0 I15 K0\nM2\n");
    same_moves("G0 X10\nG92 X0 Y1\nG0 X5\nG92.2\nG0 X6\nG92.3 G0 X7\nX0\nM2\n");
    same_moves("G20 F10\nG1 X1.23456789\nG81 X1 Y1 Z-.3 R.1\nG21 G1 X5 F300\nM2\n");
    same_moves("G93 G1 X5 F2\nX6 F2\nX6 F2\nG94 F100 X0\nM30\n");
    same_moves("G18 F100 G81 X1 Z2 Y-1 R1\nG19 G83 Y3 Z1 X-2 R0 Q1\nM2\n");
}

#[test]
fn the_line_that_ends_the_program_moves_as_it_says() {
    // M30 sets modes back (NISTIR 6556 3.6.1), but only after the motion of its line (Table 8, items 20 and 21)
    for text in [
        "X120 Y40 M30\n",
        "F100 G18\nG3 X20 Z0 I10 K0\nX0 I-10 K0 M2\n",
        "G91 F100 G1 X5\nX5 M2\n",
        "G92 X5\nF100 G81 X1 Z-2 R1 M30\n",
        "G10 L2 P2 X7\nG55 F100 G81 X1 Z-2 R1 M2\n",
        "G92 X5\nG28 X1 Y2 Z3 M2\n",
    ] {
        same(text, Understands::default());
        if !text.contains("G10") {
            same(text, plain());
        }
    }
}

#[test]
fn a_shift_comes_back_in_whatever_system_its_line_picks() {
    let text = "G10 L2 P2 X7\nG0 X10\nG92 X1 Y2\nG92.2\nG55 G92.3\nG0 X3 Y4\nG54 X0\nM2\n";
    same(text, Understands::default());
}

#[test]
fn the_same_number_is_another_feed_in_other_units_and_modes() {
    let same = |text: &str| same(text, Understands { window: 0, ..Understands::default() });
    same("G21 F10\nG1 X1\nG20 G1 X1 F10\nM2\n");
    same("G21 F10\nG1 X1\nF10 G20 G1 X1\nX2 F10\nG21 F10 X3\nM2\n");
    same("F100\nG1 X1\nG93 X2 F2\nG94 F100\nX3\nM2\n");
    same("F100\nG1 X1\nG93 X2 F2\nG94\nX3 F100\nM2\n");
}

#[test]
fn radius_arcs_become_centres_where_they_must() {
    let text = "G21 G90 G17 F600\nG0 X0 Y-20\nG3 X10 Y-10 R10\nG2 X20 Y0 R-10\nM2\n";
    let (lines, _) = sent_from(text, start(), plain());
    let written = text_of(&lines);
    assert!(!written.contains('R'), "{written}");
    for (a, b) in events(&written, start()).iter().zip(events(text, start())) {
        let (Doing::Move(a), Doing::Move(b)) = (&a.doing, &b.doing) else { panic!("not a move") };
        assert_eq!((a.from, a.to, a.pace), (b.from, b.to, b.pace));
        if let (MoveKind::Arc(a), MoveKind::Arc(b)) = (a.kind, b.kind) {
            assert!((a.sweep - b.sweep).abs() < 1e-6 && (a.radius - b.radius).abs() < 1e-6);
        }
    }
}

#[test]
fn what_cannot_be_sent_is_refused_by_line() {
    for (text, wanted) in
        [("G21\nG59.1\nM2\n", "G59.1"), ("G21\nM49\nM2\n", "M49"), ("G21\nF1 G38.2 Z-5\nM2\n", "G38.2")]
    {
        let understands = if wanted == "G38.2" { plain() } else { Understands::default() };
        let (lines, faults) = sent_from(text, start(), understands);
        let [fault] = &faults[..] else { panic!("{text}: {faults:?}") };
        assert_eq!(fault.place.line, 2);
        assert_eq!(fault.rule, Rule::Foreign(Foreign::Word(wanted.into())));
        assert!(lines.iter().all(|l| l.source_line < 2), "nothing is sent of it any more");
    }
    let long = "G1 X1.123456789 Y1.123456789 Z1.123456789 F1000.123456789 S12345.123456789 M3 G90 G17 G54 G94\nM2\n";
    let (_, faults) = sent_from(long, start(), Understands::default());
    assert!(matches!(faults[0].rule, Rule::Foreign(Foreign::LineTooLong { limit: 80, .. })));
}

#[test]
fn a_broken_program_is_not_sent() {
    let mut all = lines(b"G0 X1\nG0 X\nG0 X2\nM2\n", start(), Understands::default(), Length::ZERO);
    assert!(all.by_ref().all(|l| l.source_line == 1));
    assert_eq!(all.sender().reading_faults().len(), 1);
    assert_eq!(all.sender().lines_read(), 4);
}

/// Programs of every kind of line that can be sent.
fn program() -> impl Strategy<Value = String> {
    let line = (0_u8..16, -99_999_i32..99_999, -99_999_i32..99_999, 1_u32..4000).prop_map(|(kind, a, b, f)| {
        let (x, y) = (f64::from(a) / 1000.0, f64::from(b) / 1000.0);
        match kind {
            0 => format!("G00 X{x:+09.4} Y{y:.3}\n"),
            1 | 8 => format!("n5 g1 x {x:.3} y{:.1} (c) f{}\n", y / 50.0, f / 1000 * 1000 + 1),
            2 => format!("G1 Y{y:.3} Z{:.3}\n", x / 10.0),
            3 => "G91\n".to_owned(),
            4 => "G90\n".to_owned(),
            5 => format!("G20 G1 X{:.4}\nG21\n", x / 25.4),
            6 => format!("G90 G98 G81 X{x:.3} Y{y:.3} Z-3 R2 F{f}\nG80\nG0 Z5\n"),
            7 => format!("S{f} M3\nG1 X[{x:.3}+1] Y{y:.3}\n"),
            9 => format!("G1 X{x:.3} (MSG, far) F{f}\n"),
            10 => format!("G91 G2 X{x:.3} Y0 I{:.4} J{:.3}\nG90\n", x / 2.0, y / 10.0),
            11 => format!("G91 G99 G83 X{x:.3} Y1 Z-{} R1 Q2 F{f}\nG80 G90\n", f % 9 + 1),
            12 => format!("G92 X{x:.3}\nG0 X0\nG92.1\n"),
            13 => "G28 Z10\n".to_owned(),
            14 => "T3 M6\n".to_owned(),
            _ => format!("G53 G0 X{x:.3}\nM0 (look)\n"),
        }
    });
    prop::collection::vec(line, 1..60).prop_map(|lines| format!("G21 G90 F100\n{}M2\n", lines.concat()))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_program_is_sent_as_it_was_meant(text in program(), window in 0_u32..300, shorten in any::<bool>()) {
        let understands = Understands { window, shorten, ..Understands::default() };
        let (lines, faults) = sent_from(&text, start(), understands);
        prop_assert_eq!(faults, []);
        prop_assert_eq!(events(&text_of(&lines), start()), events(&text, start()));
    }

    #[test]
    fn little_controllers_get_the_same_motion(text in program()) {
        let (lines, faults) = sent_from(&text, start(), plain());
        prop_assert_eq!(faults, []);
        prop_assert_eq!(events(&text_of(&lines), start()), events(&text, start()));
    }
}
