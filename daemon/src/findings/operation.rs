//! One operation judged: its program read once, every move handed to the clock, the sums and the rules.
//!
//! May live here: that one pass. May not: the rules, or anything about the card as a whole.

use super::bounds::{Bounds, Edges};
use super::case::{CannotJudge, Case};
use super::cutting::{Cutting, Fitted, Given};
use super::fitness::{Fitness, Wear};
use super::reach::Reach;
use super::tally::Tally;
use super::trace::Trace;
use super::{excerpt, text, units};
use crate::program::fault::Fault;
use crate::program::motion::{Doing, Move, MoveKind, Step};
use crate::program::way::Way;
use crate::program::{Facts, steps};
use crate::sending::lines;
use crate::timing::{self, Clockwork, Delivery, LineTimes};
use chargehand_types::card::{Material, Operation};
use chargehand_types::finding::Finding;
use chargehand_types::quantity::{Rpm, Seconds};

/// What one pass over a program gathered.
#[derive(Debug)]
pub(super) struct Read<'a> {
    pub(super) operation: &'a Operation,
    pub(super) meant: Fitted<'a>,
    pub(super) bytes: &'a [u8],
    /// Bytes that go over the wire.
    pub(super) sent: u64,
    /// How long the machine stands waiting for them.
    waits: Seconds,
    pub(super) facts: Facts,
    faults: Vec<Fault>,
    /// What can be read, and neither sent nor adapted.
    unsendable: Vec<Fault>,
    pub(super) tally: Tally,
    pub(super) times: LineTimes,
    bounds: Bounds,
    pub(super) cutting: Cutting,
    fitness: Fitness<'a>,
    /// How far each bit had cut when this operation was done.
    wear: Wear,
    /// Where the bit was at the end, work mm.
    pub(super) last: Option<[f64; 3]>,
    speed: Option<Rpm>,
}

/// Waiting for lines is told beyond so many seconds, and beyond this share of the motion (common practice, no source).
const WAITS: f64 = 2.0;
const WAITS_SHARE: f64 = 0.05;

/// The pass itself.
struct Pass<'a, 'w> {
    case: &'a Case<'a>,
    trace: &'w mut Trace<'a>,
    last: Option<[f64; 3]>,
    speed: Option<Rpm>,
    edges: Edges,
    material: &'a Material,
    meant: Fitted<'a>,
    fitted: Fitted<'a>,
    tally: Tally,
    bounds: Bounds,
    cutting: Cutting,
    fitness: Fitness<'a>,
    wear: &'w mut Wear,
}

/// Reads an operation's program. What follows a block that cannot be read is not judged: nobody knows where the bit
/// is by then.
///
/// # Errors
/// When the card names something that is not there.
pub(super) fn read<'a>(
    case: &'a Case<'a>,
    operation: &'a Operation,
    wear: &mut Wear,
    trace: &mut Trace<'a>,
) -> Result<Read<'a>, CannotJudge> {
    let bytes = case.program(operation)?;
    let meant = Fitted { key: &operation.bit, bit: case.bit(operation)? };
    trace.begin();
    let mut pass = Pass {
        case,
        trace,
        last: None,
        speed: None,
        edges: Edges::new(case),
        material: case.material()?,
        meant,
        fitted: meant,
        tally: Tally::default(),
        bounds: Bounds::default(),
        cutting: Cutting::default(),
        fitness: Fitness::default(),
        wear,
    };
    let mut clock = Clockwork::new(&case.bench.limits).knowing(case.bench.planner_blocks);
    let mut times = LineTimes::default();
    let mut reader = steps(bytes, case.bench.start());
    while let Some(step) = reader.next() {
        if reader.faults().is_empty() {
            clock.push(&step, &mut |timed| times.add(timed));
            pass.take(&step);
        }
    }
    clock.finish(&mut |timed| times.add(timed));
    let facts = reader.facts().clone();
    let faults = reader.faults().to_vec();
    let times = times.closed(facts.lines);
    let over_wire = if faults.is_empty() { send(case, bytes, &times) } else { OverWire::default() };
    let suspect = units::is_suspect(&facts, &pass.tally.feed, &pass.edges);
    if !faults.is_empty() || suspect {
        pass.trace.take_back();
    }
    Ok(Read {
        last: pass.last,
        speed: pass.speed,
        operation,
        meant,
        bytes,
        sent: over_wire.bytes,
        waits: over_wire.waits,
        faults,
        unsendable: over_wire.unsendable,
        tally: pass.tally,
        times,
        bounds: pass.bounds,
        cutting: pass.cutting,
        fitness: pass.fitness,
        wear: pass.wear.clone(),
        facts,
    })
}

/// A program on its way to the controller.
#[derive(Debug, Default)]
struct OverWire {
    bytes: u64,
    /// How long the machine would stand waiting for lines.
    waits: Seconds,
    unsendable: Vec<Fault>,
}

/// How many bytes would be sent, how long the machine would wait for them, and what cannot be sent.
fn send(case: &Case<'_>, bytes: &[u8], times: &LineTimes) -> OverWire {
    let bench = case.bench;
    let face = case.face_z();
    let mut lines = lines(bytes, bench.start(), bench.understands.clone(), face);
    let way = timing::Way { baud: bench.baud, window: bench.window, planner_blocks: bench.planner_blocks };
    let (mut delivery, mut sent, mut done) = (Delivery::new(way), 0, 0);
    for line in lines.by_ref().filter(|line| !line.bytes.is_empty()) {
        let length = line.bytes.len() as u64 + bench.line_end;
        sent += length;
        // lines left unsent since the last one take no time; of several lines from one, the first takes it all
        let motion = times.between(done, line.source_line);
        done = done.max(line.source_line);
        delivery.line(length, motion);
    }
    OverWire { bytes: sent, waits: delivery.waited(), unsendable: lines.sender().faults().to_vec() }
}

impl Pass<'_, '_> {
    fn take(&mut self, step: &Step) {
        match &step.doing {
            Doing::Move(mv) => self.moved(step, mv),
            Doing::BitChange { tool } => {
                self.fitness.changed(step.place, *tool, self.meant);
                if let Some((key, bit)) = tool.and_then(|t| self.case.called(t)) {
                    self.fitted = Fitted { key, bit };
                }
            }
            Doing::Dwell { .. }
            | Doing::Spindle
            | Doing::Coolant
            | Doing::Prompt { .. }
            | Doing::Message(_)
            | Doing::End => {}
        }
    }

    fn moved(&mut self, step: &Step, mv: &Move) {
        let way = Way::of(mv);
        self.last = Some(way.end());
        self.speed = self.speed.or(step.modal.speed.filter(|s| *s > Rpm::ZERO));
        self.trace.push(self.fitted, step.place, mv, self.case);
        let cut = self.tally.count(mv, &way, self.edges.face);
        if cut > 0.0 {
            self.tally.wear(self.fitted.key, cut);
            self.fitness.cut(step.place, self.fitted, cut, self.wear);
        }
        let radius = self.fitted.bit.cuts().mm() / 2.0;
        self.bounds.judge(step, mv, &way, radius, &self.edges);
        if !matches!(mv.kind, MoveKind::Rapid) {
            let given =
                Given { bench: self.case.bench, material: self.material, fitted: self.fitted, face: self.edges.face };
            self.cutting.judge(step, mv, &way, cut > 0.0, &given);
        }
    }
}

impl Read<'_> {
    /// Everything found in it; `needed` is the reach of the whole card.
    pub(super) fn findings(&self, case: &Case<'_>, needed: &Reach, out: &mut Vec<Finding>) {
        let name = &self.operation.name;
        let edges = Edges::new(case);
        text::faults(&self.faults, name, out);
        text::faults(&self.unsendable, name, out);
        text::loose_arcs(&self.facts, name, out);
        if self.faults.is_empty() {
            text::end(&self.facts, name, out);
            units::suspect(&self.facts, &self.tally.feed, &edges, name, out);
        }
        self.bounds.findings(name, needed, &edges, out);
        self.cutting.findings(name, case.bench, out);
        self.fitness.findings(name, self.meant, &self.wear, out);
        excerpt::add(self.bytes, out);
    }

    /// The first spindle speed it asks for.
    pub(super) fn first_speed(&self) -> Option<Rpm> {
        self.speed
    }

    /// Whether all of it could be read.
    pub(super) fn is_whole(&self) -> bool {
        self.faults.is_empty()
    }

    /// The most a tooth took in level cuts, mm; nothing where nothing turned or cut.
    pub(super) fn largest_load(&self) -> f64 {
        self.cutting.largest_load()
    }

    pub(super) fn advice(&self, out: &mut Vec<String>) {
        let name = &self.operation.name;
        self.cutting.advice(name, out);
        let (waits, total) = (self.waits.value(), self.times.total().value());
        if waits > WAITS && waits > WAITS_SHARE * total {
            out.push(format!(
                "{name}: the serial line is slower than the machine: {waits:.0} s more than the {total:.0} s of motion are spent waiting for lines, and the bit dwells in the wood; write fewer, longer moves, or raise the baud rate"
            ));
        }
        if let Some(place) = self.facts.system_unset {
            out.push(format!(
                "{name}: line {} moves in a work system whose zero the program does not set; it is judged as the machine's own zero",
                place.line
            ));
        }
        if let Some(place) = self.facts.home_assumed {
            out.push(format!(
                "{name}: line {} goes to a stored home; it is judged as the machine's own zero",
                place.line
            ));
        }
    }
}
