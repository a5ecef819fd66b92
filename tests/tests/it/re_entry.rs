//! Going on with a program at one of its lines: at 500 random lines of every case that can be run, and of a program with
//! everything in it, the modes that a controller stands in after the entry, and the motions it makes from there on, are those of
//! the program read from its first line. The controller is the practice machine, which shares no line with the reader.

use super::cases::{Known, Shop, folder, known, names, shop};
use chargehand_daemon::findings::Enterable;
use chargehand_daemon::practice::{Controller, Habits, Homing, Motion, Setup};
use chargehand_daemon::program::motion::{Doing, MoveKind, Start};
use chargehand_daemon::program::steps;
use chargehand_daemon::program::way::Way;
use chargehand_daemon::sending::{CannotEnter, Entry, Sender, SentLine, enter, lines};
use chargehand_daemon::shop::understands::Understands;
use chargehand_types::quantity::{Length, Point, Seconds, Tick};
use proptest::prelude::{ProptestConfig, any};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::path::Path;

/// Lines followed after an entry.
const FOLLOWED: usize = 30;
const ENTRIES: u32 = 500;

/// Inches, G91, both planes, a shift, another system, cycles with and without L, inverse time, M4, coolant.
const EVERYTHING: &str = "\
%\nG21 G90 G17 G94\nT2 S12000\nM3\nG0 Z10\nX10 Y10\nG1 Z-1 F400\nX30 F900\nG2 X50 Y30 I0 J20\nG3 X40 Y40 R10\n\
G91 G1 X5 Y5\nG2 X10 Y0 I5 J0\nG20 G1 X0.25 F30\nY0.1\nG21 G90 F700\nX20 Y20\nG0 Z5\nG92 X0 Y0 Z5\nG1 Z-1\nX7 Y3\n\
G18 G2 X17 Z-1 I5 K0\nG17 X20 Y3 I1.5 J0\nG92.1\nG0 Z20\nM7\nG99 G81 X60 Y60 Z-2 R2 F300\nX70\nG91 X5 Y1 L3\nG90 G98\n\
G83 X80 Y80 Z-6 R1 Q2\nX85\nG82 X90 Y90 Z-2 R1 P0.2\nG80\nG0 Z15\nM9 M5\nM4 S9000\nG93 G1 X100 Y100 F30\nX110 F20\n\
G94 F500\nG1 Y110\nG55\nG0 X1 Y1 Z30\nG1 Z25 X5\nG54\nG0 X0 Y0 Z10\n#1=5\nG1 X[#1*2] Z-1\nX[#1*4]\nG0 Z10\nM5\nM30\n%\n";

struct Program {
    name: String,
    bytes: Vec<u8>,
    sent: Vec<SentLine>,
    /// What the controller says of its modes before each line that is sent.
    modes: Vec<String>,
    /// Every motion, and the number of the sent line it is of.
    motions: Vec<(usize, Motion)>,
}

fn start() -> Start {
    Start { at: top(), work_zero: Point::default(), arc_tolerance: Length(13_000) }
}

const fn top() -> Point {
    Point { x: Length(0), y: Length(0), z: Length(50_000_000) }
}

struct Machine {
    controller: Controller,
    now: Tick,
}

impl Machine {
    fn new() -> Self {
        let setup = Setup {
            rates: [133.0, 133.0, 50.0],
            accelerations: [400.0, 400.0, 200.0],
            deviation: 0.02,
            travel: [[-20_000.0, 20_000.0], [-20_000.0, 20_000.0], [-20_000.0, 20_000.0]],
            baud: 1_000_000,
            faults: Vec::new(),
        };
        let habits = Habits { homing: Homing::None, remembers: 10_000, ..Habits::default() };
        let mut machine = Self { controller: Controller::with_habits(setup, habits, Tick(0)), now: Tick(0) };
        // it believes to stand at its switches
        machine.ask("G10 L2 P1 X0 Y0 Z0");
        machine.ask("G90 G0 X0 Y0 Z50");
        machine.rest();
        machine
    }

    /// Says a line; gives what it answers, its own `ok` left out.
    fn ask(&mut self, line: &str) -> String {
        self.controller.take(self.now, format!("{line}\n").as_bytes());
        let mut said = String::new();
        for _ in 0..1_000_000 {
            let next = self.controller.next_wake().unwrap_or(self.now.after_ms(1));
            self.now = next.max(self.now.after_us(1));
            self.controller.advance(self.now);
            said.push_str(&String::from_utf8_lossy(&self.controller.output(self.now)));
            if let Some((before, _)) = said.split_once("ok\r\n") {
                return before.lines().filter(|l| !l.contains("Practice")).collect::<Vec<_>>().join(" ");
            }
            assert!(
                !said.contains("error") && !said.contains("ALARM"),
                "{line} is answered {said} at {:?}",
                self.controller.at()
            );
        }
        panic!("{line} is never answered");
    }

    fn rest(&mut self) {
        self.ask("G4 P0");
    }

    fn motions(&self) -> Vec<Motion> {
        self.controller.trace().copied().collect()
    }
}

fn text(line: &SentLine) -> String {
    String::from_utf8(line.bytes.to_vec()).unwrap()
}

fn understands() -> Understands {
    Understands { window: 127, ..Understands::default() }
}

fn program(name: &str, bytes: Vec<u8>) -> Program {
    let sent: Vec<SentLine> =
        lines(&bytes, start(), understands(), Length::ZERO).filter(|l| !l.bytes.is_empty()).collect();
    let mut reading = steps(&bytes, start());
    while reading.next().is_some() {}
    assert!(reading.faults().is_empty() || name != "everything", "{name}: {:?}", reading.faults());
    let mut machine = Machine::new();
    let (before, mut modes, mut motions) = (machine.motions().len(), Vec::new(), Vec::new());
    for (n, line) in sent.iter().enumerate() {
        modes.push(machine.ask("$G"));
        machine.ask(&text(line));
        machine.rest();
        let all = machine.motions();
        motions.extend(all.iter().skip(before + motions.len()).map(|m| (n, *m)));
    }
    Program { name: name.to_owned(), bytes, sent, modes, motions }
}

/// Every program of every case that can be read and has a feed for every cut, and the one with everything in it.
fn programs() -> Vec<Program> {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for folder in ["cases", "cases-own"] {
        for case in std::fs::read_dir(tests.join(folder)).unwrap().map(|e| e.unwrap().path()).filter(|p| p.is_dir()) {
            files.extend(std::fs::read_dir(case).unwrap().map(|e| e.unwrap().path()));
        }
    }
    files.retain(|f| f.extension().is_some_and(|e| e == "nc"));
    files.sort();
    let mut found = vec![program("everything", EVERYTHING.as_bytes().to_vec())];
    for file in files {
        let bytes = std::fs::read(&file).unwrap();
        if can_be_run(&bytes) {
            found.push(program(&file.file_name().unwrap().to_string_lossy(), bytes));
        }
    }
    found
}

fn can_be_run(bytes: &[u8]) -> bool {
    let mut sender = Sender::new(start(), understands(), Length::ZERO);
    sender.push(bytes);
    sender.finish();
    while sender.next_line().is_some() {}
    let fed = steps(bytes, start()).all(|step| match step.doing {
        Doing::Move(made) => made.kind == MoveKind::Rapid || step.modal.feed.is_some(),
        _ => true,
    });
    fed && sender.faults().is_empty() && sender.reading_faults().is_empty()
}

fn entry(line: u32) -> Entry {
    let mm = Length::whole_mm;
    let from = Point { x: mm(333), y: mm(-77), z: mm(3) };
    Entry { line, from, travel_z: mm(45), near_z: mm(2), spin_up: Seconds::of(1.5) }
}

/// The modes but the motion word, which the entry's own moves leave behind and the next line says anew, and the feed
/// where the program has set none.
fn without_motion(modes: &str, feed: bool) -> String {
    let motion = ["G0", "G1", "G2", "G3", "G80", "G38.2"];
    let words = modes.trim_start_matches("[GC:").trim_end_matches(']').split(' ');
    words.filter(|w| !motion.contains(w) && (feed || !w.starts_with('F'))).collect::<Vec<_>>().join(" ")
}

fn same(a: &Motion, b: &Motion) -> bool {
    let near = |a: Point, b: Point| (a - b).x.0.abs().max((a - b).y.0.abs()).max((a - b).z.0.abs()) <= 2;
    let round = match (a.round, b.round) {
        (None, None) => true,
        (Some(a), Some(b)) => {
            let centre = a.centre.iter().zip(b.centre).all(|(a, b)| (*a - b).0.abs() <= 2);
            a.axes == b.axes && centre && (a.sweep - b.sweep).abs() < 1.0e-6
        }
        _ => false,
    };
    let feed = match (a.feed, b.feed) {
        (None, None) => true,
        // nanometres a minute, by way of mm/s and back
        (Some(a), Some(b)) => (a.0 - b.0).abs() <= 2_000,
        _ => false,
    };
    near(a.from, b.from) && near(a.to, b.to) && round && feed
}

/// Where the bit is, and every mode, before a line, by reading alone.
fn read_until(bytes: &[u8], line: u32) -> (Point, chargehand_daemon::program::motion::Modal) {
    let before: Vec<u8> = bytes.split_inclusive(|b| *b == b'\n').take(line as usize - 1).flatten().copied().collect();
    let mut steps = steps(&before, start());
    while steps.next().is_some() {}
    (steps.at(), steps.modal())
}

fn try_line(p: &Program, line: u32) -> Result<bool, String> {
    let at = |why: &str| format!("{} line {line}: {why}", p.name);
    let Some(first) = p.sent.iter().position(|l| l.source_line >= line && l.part == 0) else {
        let answer = enter(&p.bytes, start(), understands(), Length::ZERO, entry(line));
        return match answer {
            Err(CannotEnter::NoSuchLine(_)) => Ok(false),
            other => Err(at(&format!("nothing is left to cut, and it answers {other:?}"))),
        };
    };
    let entered = enter(&p.bytes, start(), understands(), Length::ZERO, entry(line)).map_err(|e| at(&e.to_string()))?;
    let (place, modal) = read_until(&p.bytes, line);
    if (entered.at, entered.modal) != (place, modal) {
        return Err(at(&format!("the state is {entered:?}, read {place:?} {modal:?}")));
    }
    let mut sender = Sender::entering(start(), understands(), Length::ZERO, entry(line));
    sender.push(&p.bytes);
    sender.finish();
    let all: Vec<SentLine> = std::iter::from_fn(|| sender.next_line()).filter(|l| !l.bytes.is_empty()).collect();
    let (coming, going) = all.split_at(entered.lines.len());
    if coming != entered.lines {
        return Err(at("the entry sent is not the one told"));
    }
    let mut machine = Machine::new();
    let from = entry(line).from;
    machine.ask(&format!("G0 X{} Y{} Z{}", from.x.mm(), from.y.mm(), from.z.mm()));
    for sent in coming {
        machine.ask(&text(sent));
    }
    machine.rest();
    let feed = modal.feed.is_some() && !modal.inverse_time;
    let (is, was) = (machine.ask("$G"), p.modes.get(first).cloned().unwrap_or_default());
    // the first line sent sets what the check takes for granted; before it the controller stands as it was switched on
    if first > 0 && without_motion(&is, feed) != without_motion(&was, feed) {
        return Err(at(&format!("it stands in {is}, and stood in {was}")));
    }
    let before = machine.motions().len();
    way_in(&machine.motions(), &entered.at).map_err(|e| at(&e))?;
    for sent in going.iter().take(FOLLOWED) {
        machine.ask(&text(sent));
    }
    machine.rest();
    let made: Vec<Motion> = machine.motions().into_iter().skip(before).collect();
    let wanted: Vec<&Motion> =
        p.motions.iter().filter(|(n, _)| *n >= first && *n < first + FOLLOWED).map(|(_, m)| m).collect();
    if let Some((m, w)) = made.iter().zip(&wanted).find(|(m, w)| !same(m, w)) {
        return Err(at(&format!("{m:?}\nwas to be\n{w:?}")));
    }
    if made.len().abs_diff(wanted.len()) > 1 {
        return Err(at(&format!("{} motions for {}", made.len(), wanted.len())));
    }
    Ok(true)
}

/// Sideways only at travel height; the last way is straight down on the point, or none.
fn way_in(motions: &[Motion], to: &Point) -> Result<(), String> {
    let travel = entry(1).travel_z;
    let own = motions.iter().rposition(|m| m.to.z == entry(1).from.z).map_or(0, |n| n + 1);
    for m in motions.get(own..).unwrap_or_default() {
        let sideways = m.from.x != m.to.x || m.from.y != m.to.y;
        if sideways && (m.from.z < travel || m.to.z < travel) {
            return Err(format!("it goes sideways below travel height: {m:?}"));
        }
        let down = m.to.z < m.from.z;
        if down && m.to.z < entry(1).near_z && m.feed.is_none() {
            return Err(format!("it falls at rapid: {m:?}"));
        }
    }
    match motions.last() {
        Some(last) if (last.to - *to).z.0.abs() <= 2 && (last.to - *to).x.0.abs() <= 2 => Ok(()),
        last => Err(format!("it came to {last:?}, not to {to:?}")),
    }
}

#[test]
fn five_hundred_lines_are_entered() {
    let programs = programs();
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]);
    let config = Config { failure_persistence: None, ..ProptestConfig::with_cases(ENTRIES) };
    let mut runner = TestRunner::new_with_rng(config, rng);
    let (mut entered, mut odd, mut wrong) = (0_u32, 0_u32, Vec::new());
    let drawn = std::cell::RefCell::new(Vec::new());
    runner
        .run(&(any::<u32>(), any::<u32>()), |(which, line)| {
            drawn.borrow_mut().push((which, line));
            Ok(())
        })
        .unwrap();
    let random = drawn.into_inner();
    // every line of the one with everything in it, besides
    let everything = (1..=EVERYTHING.lines().count() as u32).map(|line| (0_usize, line));
    let random = random.iter().map(|(which, line)| {
        let p = *which as usize % programs.len();
        let lines = programs[p].bytes.split(|b| *b == b'\n').count() as u32;
        (p, 1 + line % lines)
    });
    for (which, line) in random.chain(everything) {
        let p = &programs[which];
        match try_line(p, line) {
            Ok(made) => {
                entered += u32::from(made);
                let (_, modal) = read_until(&p.bytes, line);
                odd += u32::from(modal.incremental || modal.inch || modal.inverse_time);
            }
            Err(why) => wrong.push(why),
        }
    }
    println!("{entered} lines entered, {odd} of them in G91, inches or inverse time");
    assert!(wrong.is_empty(), "{} wrong, the first:\n{}", wrong.len(), wrong[..wrong.len().min(6)].join("\n"));
    assert!(entered > ENTRIES * 9 / 10 && odd >= 20, "{entered} {odd}");
}

#[test]
fn what_cannot_be_entered_is_told() {
    let ask = |text: &str, line| enter(text.as_bytes(), start(), understands(), Length::ZERO, entry(line)).map(|_| ());
    assert_eq!(ask("G21 G90\nG1 X1 F100\nM2\n", 9), Err(CannotEnter::NoSuchLine(9)));
    assert_eq!(ask("G21 G90\nG1 X1 Q7 U2\nG1 X2 F100\nM2\n", 3), Err(CannotEnter::Unreadable(2)));
    assert_eq!(ask("G21 G90\nG10 L2 P1 X3\nG1 X2 F100\nM2\n", 3), Err(CannotEnter::OriginsSet(3)));
    let mut knows = understands();
    knows.g.insert("81".to_owned());
    let text = b"G21 G90\nG81 X1 Y1 Z-1 R1 F100\nX2\nM2\n";
    let answer = enter(text, start(), knows, Length::ZERO, entry(3)).map(|_| ());
    assert_eq!(answer, Err(CannotEnter::InCycle(3)));
}

/// A place under the bit, coming down to a line, that no move before the line has cleared; flat bits only.
fn stands_at(known: &Known, shop: &Shop, operation: &str, clear: &Enterable) -> Option<[f64; 2]> {
    let [x, y, z] = [clear.at.x.mm(), clear.at.y.mm(), clear.at.z.mm()];
    let sheet = &known.card.sheet;
    if z >= sheet.face_z(sheet.thickness).mm() {
        return None;
    }
    let radius = |bit: &str| shop.stores.bits[bit].diameter.mm() / 2.0;
    let mut near: Vec<([f64; 2], f64)> = Vec::new();
    for at in chargehand_daemon::shop::card::order(&known.card) {
        let other = &known.card.operations[at];
        let own = radius(&other.bit);
        for step in steps(&known.programs[&other.program], shop.bench.start()) {
            let Doing::Move(mv) = &step.doing else { continue };
            if other.name == operation && step.place.line >= clear.line {
                break;
            }
            let way = Way::of(mv);
            let count = (way.length() / 0.2).ceil().max(1.0);
            let mut k = 0.0;
            while k <= count {
                let [px, py, pz] = way.at(k / count);
                if pz <= z + 0.101 && (px - x).hypot(py - y) < 2.0 * own + 20.0 {
                    near.push(([px, py], own));
                }
                k += 1.0;
            }
        }
        if other.name == operation {
            break;
        }
    }
    let bit = radius(&known.card.operations.iter().find(|o| o.name == operation).unwrap().bit);
    let grid = (-8_i32..=8).flat_map(|i| (-8_i32..=8).map(move |j| [i, j].map(|n| f64::from(n) / 8.0)));
    let under = grid.filter(|[i, j]| i.hypot(*j) <= 1.0).map(|[i, j]| [x + i * (bit - 0.25), y + j * (bit - 0.25)]);
    let on_sheet = |[px, py]: &[f64; 2]| {
        let (left, low) = (sheet.corner.x.mm(), sheet.corner.y.mm());
        (left..=left + sheet.size[0].mm()).contains(px) && (low..=low + sheet.size[1].mm()).contains(py)
    };
    under.filter(on_sheet).find(|[px, py]| !near.iter().any(|([nx, ny], own)| (nx - px).hypot(ny - py) <= own + 0.05))
}

#[test]
fn a_bit_comes_back_through_what_was_cut() {
    // 500 random lines over the good cases: the line that is proposed can be entered, and a search over finely spaced
    // places of every earlier move, which shares nothing with the map the proposal was made with, finds no wood there
    use chargehand_daemon::findings::{Case, way_back};
    let folder = folder();
    let shop = shop(&folder);
    let mut seed = 7_u64;
    let mut next = move || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as u32
    };
    let good = ["folding-shelf", "herb-crate", "label-stakes", "plant-stand-sides", "seed-tray-rack"];
    let (mut asked, mut moved, mut none) = (0_u32, 0_u32, 0_u32);
    for name in names(&folder).into_iter().filter(|n| good.contains(&n.as_str())) {
        let known = known(&folder, &name, &shop);
        let case = Case {
            card: &known.card,
            programs: &known.programs,
            stores: &shop.stores,
            bench: &shop.bench,
            thickness: None,
            bit_used: &std::collections::BTreeMap::new(),
            pool: &shop.pool,
            window: false,
        };
        for round in 0..100 {
            let operation = &known.card.operations[next() as usize % known.card.operations.len()];
            let lines = known.programs[&operation.program].iter().filter(|b| **b == b'\n').count() as u32;
            let wanted = 1 + next() % lines;
            asked += 1;
            let Some(way) = way_back(&case, &operation.name, wanted).unwrap() else {
                none += 1;
                continue;
            };
            let clear = way.clear.unwrap_or_else(|| panic!("{name} {} line {wanted}: no way back", operation.name));
            assert!(clear.line <= wanted);
            moved += u32::from(clear.line < wanted);
            if round % 10 == 0 {
                let stands = stands_at(&known, &shop, &operation.name, &clear);
                assert!(stands.is_none(), "{name} {} line {}: wood at {stands:?}", operation.name, clear.line);
            }
            let again = way_back(&case, &operation.name, clear.line).unwrap().unwrap();
            assert!(again.bite <= 0.1 + 1.0e-9, "{name}: {again:?}");
        }
    }
    println!("{asked} lines asked: {moved} moved to an earlier one, {none} behind the last motion");
    assert_eq!(asked, ENTRIES);
    // every line begins where the one before it ended, so a whole program can be entered anywhere
    assert!(moved + none < asked);
}
