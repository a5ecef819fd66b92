//! Pieces, chance and scale: what holds for any bytes.

use super::*;
use crate::program::Reader;
use proptest::prelude::*;

fn in_pieces(bytes: &[u8], sizes: &[usize]) -> (Vec<Step>, Vec<Fault>, Facts) {
    let mut reader = Reader::new(start_at(Point::default()));
    let (mut steps, mut rest) = (Vec::new(), bytes);
    let mut sizes = sizes.iter().cycle();
    while !rest.is_empty() {
        let size = sizes.next().copied().unwrap_or(1).clamp(1, rest.len());
        let (piece, after) = rest.split_at(size);
        rest = after;
        reader.push(piece);
        while let Some(step) = reader.next() {
            steps.push(step);
        }
    }
    reader.finish();
    while let Some(step) = reader.next() {
        steps.push(step);
    }
    (steps, reader.faults().to_vec(), reader.facts().clone())
}

fn whole(bytes: &[u8]) -> (Vec<Step>, Vec<Fault>, Facts) {
    let mut reading = steps(bytes, start_at(Point::default()));
    let steps = reading.by_ref().collect();
    (steps, reading.faults().to_vec(), reading.facts().clone())
}

/// Lines that look like a program, some of them wrong.
fn line() -> impl Strategy<Value = String> {
    let number = (-20_000_i32..20_000, 0_u32..4).prop_map(|(n, d)| format!("{}", f64::from(n) / 10_f64.powi(d as i32)));
    let word = ("[XYZXYZXYZIJKRFPQLS]", number.clone()).prop_map(|(l, n)| format!("{l}{n}"));
    let code = prop::sample::select(vec![
        "G0",
        "G1",
        "G2",
        "G3",
        "G17",
        "G18",
        "G20",
        "G21",
        "G90",
        "G91",
        "G81",
        "G83",
        "G80",
        "G92",
        "G92.1",
        "G53",
        "G28",
        "G54",
        "G55",
        "G98",
        "G99",
        "G93",
        "G94",
        "M3",
        "M5",
        "M0",
        "M6",
        "T3",
        "(MSG, look)",
        "(remark)",
        "#1=4",
        "X#1",
        "Y[2+#1]",
        "%",
        "/",
        "N5",
    ])
    .prop_map(str::to_owned);
    let end = prop::sample::select(vec!["\n", "\r\n", "\r", "\n\n"]);
    (prop::collection::vec(prop_oneof![code, word], 0..6), end).prop_map(|(words, end)| words.join(" ") + end)
}

/// Lines that are plain, or nearly: the fast way and the careful way must not differ by one step or fault.
fn plain_line() -> impl Strategy<Value = String> {
    let number = (any::<i32>(), 0_usize..10, 0_u32..30).prop_map(|(n, places, size)| {
        let digits = format!("{:0>1$}", (n >> size).unsigned_abs(), places + 1);
        let (whole, part) = digits.split_at(digits.len() - places);
        let sign = if n < 0 { "-" } else { "" };
        if places == 0 && n % 3 != 0 { format!("{sign}{whole}") } else { format!("{sign}{whole}.{part}") }
    });
    let words = [("N", 0.1), ("G", 0.5), ("X", 0.9), ("Y", 0.9), ("Z", 0.8), ("F", 0.2)].map(|(letter, often)| {
        let motion = prop::sample::select(vec!["G0", "G1", "G01", "G00", "G1.", "G 1", "G10", "G2", "g1"]);
        let line_number = (0_u32..200_000).prop_map(|n| format!("N{n}"));
        let valued = number.clone().prop_map(move |n| format!("{letter}{n}"));
        let word = match letter {
            "G" => motion.prop_map(str::to_owned).boxed(),
            "N" => line_number.boxed(),
            _ => valued.boxed(),
        };
        prop::option::weighted(often, word)
    });
    let blank = prop::sample::select(vec![" ", "", "  ", "\t"]);
    let odd =
        prop::option::weighted(0.05, prop::sample::select(vec!["X", "Y1", "Z-", "F", "F-1", ".", "+1", "(a)", "x2"]));
    let end = prop::sample::select(vec!["\n", "\r\n", "\r"]);
    (words, blank, odd, end).prop_map(|(words, blank, odd, end)| {
        let words: Vec<_> = words.into_iter().flatten().chain(odd.map(str::to_owned)).collect();
        words.join(blank) + end
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn plain_lines_are_read_as_the_careful_way_reads_them(
        modes in prop::sample::select(vec!["G21", "G20", "G91", "G92 X1 Y2 Z3", "G93 G1 X1 F2", "G55", "G81 X1 Y1 Z-1 R2 F9"]),
        lines in prop::collection::vec(plain_line(), 1..60),
    ) {
        // pieces of a few bytes leave no room for the fast way
        let text = format!("{modes}\n{}", lines.concat());
        prop_assert_eq!(whole(text.as_bytes()), in_pieces(text.as_bytes(), &[7, 3]));
    }

    #[test]
    fn any_bytes_are_read_to_the_end(bytes in prop::collection::vec(any::<u8>(), 0..2000)) {
        let (_, faults, _) = whole(&bytes);
        prop_assert!(faults.len() <= 101);
    }

    #[test]
    fn splits_change_nothing(lines in prop::collection::vec(line(), 0..60), sizes in prop::collection::vec(1_usize..40, 1..8)) {
        let text = lines.concat();
        let (whole, pieces) = (whole(text.as_bytes()), in_pieces(text.as_bytes(), &sizes));
        prop_assert_eq!(whole.2, pieces.2);
        prop_assert_eq!(whole.1, pieces.1);
        prop_assert_eq!(whole.0, pieces.0);
    }

    #[test]
    fn splits_of_any_bytes_change_nothing(bytes in prop::collection::vec(any::<u8>(), 0..3000), sizes in prop::collection::vec(1_usize..900, 1..8)) {
        prop_assert_eq!(whole(&bytes), in_pieces(&bytes, &sizes));
    }

    #[test]
    fn moves_join_up(lines in prop::collection::vec(line(), 0..60)) {
        let text = lines.concat();
        let reading = read_from(&text, start_at(Point::default()));
        if reading.faults.is_empty() {
            let mut at = Point::default();
            for m in reading.moves() {
                prop_assert_eq!(m.from, at);
                at = m.to;
            }
            prop_assert_eq!(reading.at, at);
        }
    }

    #[test]
    fn inches_and_millimetres_agree(places in prop::collection::vec((-1_000_000_i64..1_000_000, -1_000_000_i64..1_000_000), 1..30)) {
        // whole ten-thousandths of an inch are exact in both
        let (mut inch, mut metric) = ("G20\n".to_owned(), "G21\n".to_owned());
        for (x, y) in places {
            let text = |n: i64, one: f64| format!("{:.6}", n as f64 / 10_000.0 * one);
            inch += &format!("G0 X{} Y{}\n", text(x, 1.0), text(y, 1.0));
            metric += &format!("G0 X{} Y{}\n", text(x, 25.4), text(y, 25.4));
        }
        let (inch, metric) = (read_from(&inch, start_at(Point::default())), read_from(&metric, start_at(Point::default())));
        prop_assert_eq!(inch.moves(), metric.moves());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn inches_scale_every_kind_of_motion(
        moves in prop::collection::vec((0_u8..6, -400_000_i64..400_000, 1_i64..400_000), 1..30),
    ) {
        // whole ten-thousandths of an inch, and 25.4 times as many millimetres
        let written = |units: &str, one: f64| {
            let text = |n: i64| format!("{:.6}", n as f64 / 10_000.0 * one);
            let mut all = format!("{units} F{}\n", text(500_000));
            for (kind, a, b) in &moves {
                all += &match kind {
                    0 => format!("G90 G0 X{} Y{}\n", text(*a), text(*b)),
                    1 => format!("G91 G1 X{} Z{}\n", text(*a), text(-*b)),
                    2 => format!("G91 G2 X{} Y0 I{} J0\n", text(2 * b), text(*b)),
                    3 => format!("G91 G3 X0 Y{} R{}\n", text(*b), text(*b)),
                    4 => format!("G91 G98 G81 X{} Z{} R0\nG80\n", text(*a), text(-*b)),
                    _ => format!("G92 X{}\n", text(*a)),
                };
            }
            all + "M2\n"
        };
        let (inch, metric) = (whole(written("G20", 1.0).as_bytes()), whole(written("G21", 25.4).as_bytes()));
        prop_assert_eq!(&inch.1, &[]);
        prop_assert_eq!(inch.0.len(), metric.0.len());
        for (one, other) in inch.0.iter().zip(&metric.0) {
            let (Doing::Move(a), Doing::Move(b)) = (&one.doing, &other.doing) else { continue };
            prop_assert_eq!((a.from, a.to, a.pace), (b.from, b.to, b.pace));
            if let (MoveKind::Arc(a), MoveKind::Arc(b)) = (a.kind, b.kind) {
                prop_assert!((a.radius - b.radius).abs() < 1e-6 && (a.sweep - b.sweep).abs() < 1e-6);
            }
        }
    }
}

#[test]
fn long_lines_keep_little() {
    let mut reader = Reader::new(start_at(Point::default()));
    for _ in 0..1000 {
        reader.push(&[b'X'; 1000]);
        assert!(reader.next().is_none());
    }
    reader.push(b"\nG0 X1\nM2\n");
    reader.finish();
    let mut count = 0;
    while reader.next().is_some() {
        count += 1;
    }
    assert_eq!(reader.faults().len(), 1);
    assert_eq!((reader.lines(), count), (3, 1));
}
