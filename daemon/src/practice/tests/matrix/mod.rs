//! The fault matrix: each fault, in each flow, at five positions of a program, in simulated time. For every cell: what
//! must come of it; that nothing that works is written after it was known, before a person decides; that no line is
//! written twice unless it was asked for; that what is told as done was truly cut; and that work begins again after.

mod bench;

use crate::floor::permit::Class;
use crate::link::wire::{Command, Report};
use crate::practice::{Fault, Hand, Wire};
use bench::Bench;

#[derive(Debug, Clone, Copy, PartialEq)]
enum Position {
    FirstLine,
    MidArc,
    MidProgram,
    LastLine,
    DuringHold,
}

const POSITIONS: [Position; 5] =
    [Position::FirstLine, Position::MidArc, Position::MidProgram, Position::LastLine, Position::DuringHold];

#[derive(Debug, Clone, Copy)]
struct Cell {
    fault: Fault,
    wire: Wire,
    position: Position,
    /// Which byte is damaged, and how.
    seed: u64,
}

/// What must come of it.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Must {
    /// It ends in a stop that was told.
    Stop,
    /// It goes on to the end by itself.
    GoOn,
    /// Whether it can be known depends on where it strikes: a stop that was told, or the end with all of it cut.
    Either,
    /// It holds until a person lets it go on.
    Hold,
}

/// The faults, and how many seeds each is tried with.
const FAULTS: [(Fault, u64); 20] = [
    (Fault::Refuse, 1),
    (Fault::Alarm, 1),
    (Fault::LoseAnswer, 1),
    (Fault::DoubleAnswer, 1),
    (Fault::GarbleAnswer, 4),
    (Fault::GarbleLine, 3),
    (Fault::GarbleReport, 4),
    (Fault::Restart, 1),
    (Fault::RestartUnheard, 1),
    (Fault::Silence, 1),
    (Fault::Stuck, 1),
    (Fault::Unplug { back_ms: Some(3_000) }, 1),
    (Fault::Unplug { back_ms: Some(200) }, 1),
    (Fault::Unplug { back_ms: None }, 1),
    (Fault::Busy, 1),
    (Fault::Slow, 1),
    (Fault::WrongResend, 1),
    (Fault::HoldButton, 1),
    (Fault::DoorOpens, 1),
    (Fault::DrivesOff, 1),
];

fn cells(wire: Wire) -> Vec<Cell> {
    let mut cells = Vec::new();
    for (fault, seeds) in FAULTS {
        // without a number and a checksum nobody asks for a line again, and nobody sees that one was damaged
        if wire == Wire::Window && matches!(fault, Fault::WrongResend | Fault::GarbleLine) {
            continue;
        }
        for position in POSITIONS {
            cells.extend((1..=seeds).map(|seed| Cell { fault, wire, position, seed }));
        }
    }
    cells
}

impl Cell {
    fn must(self) -> Must {
        match (self.fault, self.wire) {
            // it may strike the line that asks for a report, and that harms nothing
            (Fault::Refuse, Wire::Numbered) => Must::Either,
            (Fault::Alarm | Fault::Restart | Fault::Silence | Fault::Unplug { .. }, _) => Must::Stop,
            (Fault::Refuse | Fault::WrongResend | Fault::DoubleAnswer | Fault::GarbleAnswer, _) => Must::Stop,
            (Fault::LoseAnswer | Fault::RestartUnheard, Wire::Window) => Must::Stop,
            (Fault::HoldButton | Fault::DoorOpens, _) => Must::Hold,
            (Fault::Busy | Fault::Slow | Fault::DrivesOff | Fault::GarbleLine | Fault::BitPulled, _) => Must::GoOn,
            (Fault::GarbleReport | Fault::LoseAnswer, _) => Must::Either,
            (Fault::Stuck | Fault::RestartUnheard | Fault::NoSwitch, _) => Must::Either,
        }
    }
}

/// A plunge, a zigzag, a half circle, a zigzag, and a last long move: 44 lines.
fn program() -> String {
    let zigzag = |from: i32| -> String {
        (0..14).map(|i| format!("X{} Y{}\n", if i % 2 == 0 { 60 } else { 20 }, from + i * 3)).collect()
    };
    format!(
        "G21 G90 G17\nM3 S18000\nG0 Z5\nX20 Y20\nG1 Z-2 F900\nF3000\n{}X100 Y70\nG3 X100 Y170 I0 J50\nG1 X20 Y180\n{}\
         G0 Z5\nG1 X120\nM5\nM30\n",
        zigzag(22),
        zigzag(181)
    )
}

const SMALL: &str = "G21 G90 G17\nG0 Z5\nX30 Y30\nG1 Z-1 F900\nX60\nG0 Z5\nM30\n";

fn is_stop(r: &Report) -> bool {
    matches!(r, Report::Refused { .. } | Report::Fault { .. } | Report::Restarted { .. } | Report::Down { .. })
}

fn is_end(r: &Report) -> bool {
    is_stop(r) || matches!(r, Report::Finished(_) | Report::Held { .. })
}

/// Brings the program to the position, and lets it happen there.
fn strike(b: &mut Bench, cell: Cell) -> Result<(), String> {
    let until = |b: &mut Bench, there: fn([f64; 3]) -> bool| {
        for _ in 0..60_000 {
            if there(b.work()) {
                return Ok(());
            }
            b.run(0.01);
        }
        Err(format!("it never came there: {:?}", b.work()))
    };
    if cell.position == Position::LastLine {
        b.at_last = Some(cell.fault);
    }
    b.begin(&program());
    match cell.position {
        Position::FirstLine => {
            if matches!(cell.fault, Fault::HoldButton | Fault::DoorOpens) {
                b.run(0.05);
            }
        }
        Position::MidArc => until(b, |[x, ..]| x > 130.0)?,
        Position::MidProgram => until(b, |[_, y, _]| y > 195.0)?,
        Position::LastLine => {
            for _ in 0..6_000 {
                if b.struck.is_some() {
                    return Ok(());
                }
                b.run(0.01);
            }
            return Err("the last line was never written".to_owned());
        }
        Position::DuringHold => {
            until(b, |[x, y, _]| y > 40.0 && x > 30.0 && x < 50.0)?;
            b.tell(Command::Hold);
            b.until(30.0, |r| matches!(r, Report::Held { .. })).ok_or("it never held")?;
        }
    }
    b.strike(cell.fault);
    Ok(())
}

/// Plays a cell.
fn play(cell: Cell) -> Result<(), String> {
    let mut b = Bench::new(cell.wire, cell.seed);
    b.run(2.0);
    b.home()?;
    let before = b.machine.trace().count();
    b.heard.clear();
    b.said.clear();
    strike(&mut b, cell)?;
    let mut end = come_to_an_end(&mut b, cell)?;
    for _ in 0..4 {
        let Report::Held { .. } = end else { break };
        end = let_go_on(&mut b)?;
    }
    let must = cell.must();
    match &end {
        Report::Finished(_) if must == Must::Stop && b.machine.is_pending() => {}
        Report::Finished(_) if must == Must::Stop => {
            return Err(format!("it went on as if nothing had happened: {}", tail(&b.said)));
        }
        Report::Finished(at) => whole(&b, before, at.done)?,
        stop if must == Must::GoOn || must == Must::Hold => return Err(format!("it stopped: {stop:?}")),
        _ => {
            stopped_for_good(&mut b)?;
            truly_cut(&b, before)?;
        }
    }
    written_once(&b)?;
    again(&mut b, cell)
}

fn tail(said: &str) -> String {
    let lines: Vec<&str> = said.lines().collect();
    lines[lines.len().saturating_sub(40)..].join(" / ")
}

fn come_to_an_end(b: &mut Bench, cell: Cell) -> Result<Report, String> {
    if cell.position == Position::DuringHold {
        let lines = b.written.len();
        let told = b.until(8.0, is_end);
        if b.written.len() > lines {
            return Err("something was written while it was held".to_owned());
        }
        if let Some(stop) = told.filter(is_stop) {
            return Ok(stop);
        }
        return let_go_on(b);
    }
    if cell.must() == Must::Hold && cell.wire == Wire::Numbered {
        // nothing on the wire tells it; it goes on by its own button
        b.run(6.0);
        b.machine.hand(b.now, Hand::CloseDoor);
        b.machine.hand(b.now, Hand::ResumeButton);
    }
    if let Some((_, end)) = b.heard.iter().find(|(_, r)| is_end(r)) {
        return Ok(end.clone());
    }
    b.until(300.0, is_end).ok_or_else(|| format!("nothing came of it: {:?}", b.heard.last()))
}

/// A person looks, closes the door, and lets it go on.
fn let_go_on(b: &mut Bench) -> Result<Report, String> {
    let lines = b.written.len();
    b.run(2.0);
    if b.written.len() > lines {
        return Err("something was written while it was held".to_owned());
    }
    b.machine.hand(b.now, Hand::CloseDoor);
    b.machine.hand(b.now, Hand::ResumeButton);
    b.run(0.5);
    let permit = b.permit(Class::Resume);
    b.tell(Command::Resume(permit));
    b.until(300.0, is_end).ok_or_else(|| format!("nothing came of going on: {:?}", b.heard.last()))
}

/// Once it was known nothing that works is written, however long nobody decides.
fn stopped_for_good(b: &mut Bench) -> Result<(), String> {
    let told = b.heard.iter().find(|(_, r)| is_stop(r)).map(|(at, _)| *at).ok_or("no stop was told")?;
    b.run(20.0);
    let after: Vec<&str> = b.written.iter().filter(|w| w.at > told).map(|w| w.text.as_str()).collect();
    if !after.is_empty() {
        return Err(format!("written after the stop was told: {after:?}"));
    }
    if b.heard.iter().any(|(_, r)| matches!(r, Report::Finished(_))) {
        return Err("told as finished after a stop".to_owned());
    }
    Ok(())
}

/// What is told as done was truly run to its end.
fn truly_cut(b: &Bench, before: usize) -> Result<(), String> {
    let done = b.last_reached().done;
    let claimed = done.map_or(0, |line| b.motions_until(line));
    let run = b.machine.trace().skip(before).count();
    if claimed > run {
        return Err(format!("{claimed} motions are told as done, {run} were run: {:?}", b.last_reached()));
    }
    Ok(())
}

fn whole(b: &Bench, before: usize, done: Option<u32>) -> Result<(), String> {
    let (last, run) = (b.program.last().map(|l| l.source_line), b.machine.trace().skip(before).count());
    let all = b.motions_until(u32::MAX);
    if done != last || run != all {
        return Err(format!("finished at {done:?} of {last:?}, {run} motions of {all}"));
    }
    Ok(())
}

/// The lines went out in order, each once; again only under its old number, and only when it was asked for.
fn written_once(b: &Bench) -> Result<(), String> {
    let mut first: Vec<&bench::Written> = Vec::new();
    for w in &b.written {
        match first.iter().find(|f| f.number.is_some() && f.number == w.number) {
            Some(same) if same.text != w.text => return Err(format!("number {:?} was used twice", w.number)),
            Some(_) if !b.said.contains("Resend") => return Err(format!("{} was sent twice", w.text)),
            Some(_) => {}
            None => first.push(w),
        }
    }
    let program = b.program.iter().filter(|l| !l.bytes.is_empty());
    for (w, line) in first.iter().zip(program) {
        if w.text.as_bytes() != &*line.bytes {
            return Err(format!("{} was sent where {:?} was due", w.text, String::from_utf8_lossy(&line.bytes)));
        }
    }
    if first.len() > b.program.len() { Err("more was sent than there is".to_owned()) } else { Ok(()) }
}

/// A person has seen to it: the cable is in, the machine is on. Home, zero, and a small program, whole.
fn again(b: &mut Bench, cell: Cell) -> Result<(), String> {
    b.plug();
    if matches!(cell.fault, Fault::Silence | Fault::Stuck) {
        b.machine.befall(b.now, Fault::Restart);
    }
    b.machine.hand(b.now, Hand::DrivesOn);
    b.run(15.0);
    b.home()?;
    let before = b.machine.trace().count();
    b.begin(SMALL);
    let end = b.until(60.0, is_end);
    match end {
        Some(Report::Finished(at)) => whole(b, before, at.done),
        other => Err(format!("the next program came to {other:?}")),
    }
}

fn play_all(wire: Wire) {
    let mut wrong = Vec::new();
    for cell in cells(wire) {
        if let Err(why) = play(cell) {
            wrong.push(format!("{cell:?}: {why}"));
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), cells(wire).len(), wrong.join("\n"));
}

#[test]
fn lines_in_a_window() {
    play_all(Wire::Window);
}

#[test]
fn numbered_lines() {
    play_all(Wire::Numbered);
}

/// 20,000 short segments, by a machine faster than its line: against what 8N1 carries at 115,200 baud, 11,520 bytes a
/// second (ten bits a byte), in simulated time.
#[test]
fn the_window_is_used_to_the_full() {
    let mut b = Bench::with(Wire::Window, 1, [1.0e5; 3], [1.0e8; 3]);
    b.run(2.0);
    b.home().unwrap();
    // to and fro in steps of 0.15 mm
    let x = |i: i32| f64::from((i % 800 - 400).abs()) * 0.15;
    let body: String = (0..20_000).map(|i| format!("X{:.3} Y{:.3}\n", x(i), f64::from(i) * 0.01)).collect();
    b.begin(&format!("G21 G90 G17\nG0 Z5\nG1 Z-3 F600000\n{body}M30\n"));
    b.until(5.0, |r| matches!(r, Report::Reached(_))).unwrap();
    let (from, bytes) = (b.now, b.machine.tally().bytes);
    b.run(15.0);
    let carried = (b.machine.tally().bytes - bytes) as f64 / b.now.since(from).value();
    println!("{carried:.0} bytes a second, {:.2} % of 11,520; starved {} times", carried / 115.2, b.starved);
    assert!(carried >= 0.99 * 11_520.0, "{carried}");
    assert_eq!((b.starved, b.machine.overrun()), (0, 0));
}

#[test]
fn there_are_enough_cells() {
    let count = cells(Wire::Window).len() + cells(Wire::Numbered).len();
    assert!(count >= 200, "{count}");
}
