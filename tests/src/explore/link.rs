//! The real link with a program of three lines and a window of two, between orders that may come at any time and a
//! controller that takes its time and stumbles once at any point; held against the contract that the floor counts on.

mod words;

use super::Explored;
use super::contract::{Contract, Order, Stretch, Task, Word};
use super::machine::{Axes, Line, Machine, Stumble};
use super::world::Rule;
use crate::permits::permit;
use chargehand_daemon::floor::Tried;
use chargehand_daemon::floor::permit::Class;
use chargehand_daemon::link::wire::{Command, Input, Output, Reached, Report};
use chargehand_daemon::link::{Link, Settings};
use chargehand_daemon::program::motion::Start;
use chargehand_daemon::sending::{Passage, SentLine, lines};
use chargehand_daemon::shop::profile::{Flow, Profile, profile};
use chargehand_types::act::Axis;
use chargehand_types::quantity::{Feed, Length, Point, Rpm, Tick};
use stateright::{Model, Property};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;
use words::{before_a_stop, line_of, reached_of, tried_of, word_of};

/// Time passes in steps of so many microseconds: every deadline of the link lies well between two of them.
const STEP_US: u64 = 600_000;
/// Bytes that two lines of the program are, and three are not.
const WINDOW: u16 = 20;
/// What a spindle is to turn at.
const SPEED: Rpm = Rpm(18_000_000);
/// Three lines of about nine bytes, the second a lift.
const PROGRAM: &[u8] = b"G1X1F600\nG0X2Z50\nG1X3Z49\n";

/// A break of the wrapper around the link, to see whether the rules bite.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Break {
    MovesUninvited,
    GoesOnByItself,
    WindowTooWide,
    LineLeftOut,
    FinishedTooEarly,
    DoneTooEarly,
    SaysItTwice,
    StopIsSwallowed,
    StaysClosed,
}

/// What is explored.
#[derive(Clone)]
pub struct LinkModel {
    profile: Arc<Profile>,
    program: Vec<SentLine>,
    /// Ways to stumble, one of which may come once.
    pub stumbles: Vec<Stumble>,
    /// Orders that may be given.
    pub orders: Vec<Order>,
    /// A break of the wrapper.
    pub broken: Option<Break>,
}

/// Link, controller, and what the contract makes of them.
#[derive(Clone)]
pub struct Wire {
    link: Link,
    now: Tick,
    /// The controller.
    pub machine: Machine,
    /// The contract.
    pub contract: Contract,
    /// It may still stumble.
    pub may_stumble: bool,
    plugged: bool,
    fed: bool,
    /// The rule that the last step broke.
    pub broken: Option<Rule>,
}

/// One thing that may come next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// The floor gives an order, with a permit that counts or with one from before the last stop.
    Order(Order, bool),
    /// The controller takes a line.
    Takes,
    /// A motion is over.
    Ends,
    /// What it said is heard.
    Heard,
    /// Time passes.
    Time,
    /// It stumbles.
    Stumbles(Stumble),
    /// Its button is let go.
    LetGo,
    /// It is heard again.
    Speaks,
    /// The cable is in again.
    Plugged,
}

impl LinkModel {
    /// The shipped profile with a window of two lines.
    #[must_use]
    pub fn new(stumbles: &[Stumble], broken: Option<Break>) -> Self {
        let file = "config/controllers/acknowledged-window.toml";
        let text = include_str!("../../../config/controllers/acknowledged-window.toml");
        let mut profile = profile(file, text).expect("the shipped profile can be read");
        let window = if broken == Some(Break::WindowTooWide) { 2 * WINDOW } else { WINDOW };
        profile.keys.flow = Flow::Window { window };
        profile.keys.reports_hz.moving = 1.0;
        profile.keys.reports_hz.still = 1.0;
        profile.keys.planner_blocks = 1;
        let start = Start { at: Point::default(), work_zero: Point::default(), arc_tolerance: Length(13_000) };
        // the line that sets every mode is left out: it moves nothing, and the window would hold it alone
        let all = lines(PROGRAM, start, profile.keys.understands.clone(), Length::ZERO);
        let program: Vec<_> = all.filter(|l| !matches!(l.passage, Passage::Still) || l.bytes.is_empty()).collect();
        assert_eq!(program.iter().filter(|l| !l.bytes.is_empty()).count(), 3, "three lines: {program:?}");
        let mut orders = vec![
            Order::Begin,
            Order::Hold,
            Order::HoldAtLift,
            Order::Resume,
            Order::Raise,
            Order::Stop,
            Order::HandMove,
            Order::Setting(Tried::SetWorkZero),
            Order::Unlock,
        ];
        // an answer that comes twice lets a line out too early, and with a fourth line that is one more than the buffer
        // holds: whoever counts answers cannot know
        if !stumbles.contains(&Stumble::Doubled) {
            orders.push(Order::Spindle(false));
        }
        Self { profile: Arc::new(profile), program, stumbles: stumbles.to_vec(), orders, broken }
    }

    /// Finding home: it may take three minutes, so nothing else is tried with it.
    #[must_use]
    pub fn homing() -> Self {
        let orders = vec![Order::Home, Order::Hold, Order::Stop];
        Self { orders, ..Self::new(&[Stumble::Alarm], None) }
    }
}

impl Hash for Wire {
    fn hash<H: Hasher>(&self, into: &mut H) {
        self.link.sketch(self.now, into);
        (&self.machine, self.contract, self.may_stumble, self.plugged, self.fed, self.broken).hash(into);
    }
}

impl PartialEq for Wire {
    fn eq(&self, other: &Self) -> bool {
        let told = |wire: &Self| {
            let mut hasher = DefaultHasher::new();
            wire.hash(&mut hasher);
            hasher.finish()
        };
        told(self) == told(other)
    }
}

impl std::fmt::Debug for Wire {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Wire")
            .field("now", &self.now)
            .field("machine", &self.machine)
            .field("contract", &self.contract)
            .field("plugged", &self.plugged)
            .field("broken", &self.broken)
            .finish_non_exhaustive()
    }
}

impl Model for LinkModel {
    type State = Wire;
    type Action = Next;

    fn init_states(&self) -> Vec<Wire> {
        let mut wire = Wire {
            link: Link::new(Arc::clone(&self.profile), Settings { rate: 1.0 }),
            now: Tick(1_000_000_000),
            machine: Machine::NEW,
            contract: Contract::CLOSED,
            may_stumble: !self.stumbles.is_empty(),
            plugged: true,
            fed: false,
            broken: None,
        };
        wire.give(self, Input::Opened, None);
        vec![wire]
    }

    fn actions(&self, wire: &Wire, all: &mut Vec<Next>) {
        if wire.broken.is_some() {
            return;
        }
        for order in &self.orders {
            if wire.contract.expects(*order) && wire.wanted(*order) {
                all.push(Next::Order(*order, true));
            }
        }
        all.push(Next::Order(Order::Begin, false));
        all.push(Next::Order(Order::Resume, false));
        let m = &wire.machine;
        all.extend(m.can_take().then_some(Next::Takes));
        all.extend(m.can_end().then_some(Next::Ends));
        all.extend(m.button.then_some(Next::LetGo));
        all.extend(m.mute.then_some(Next::Speaks));
        all.extend((!wire.plugged).then_some(Next::Plugged));
        if m.said.is_empty() || !wire.plugged {
            // nothing that is to come at once waits longer than a moment
            all.extend((!m.can_take()).then_some(Next::Time));
        } else {
            all.push(Next::Heard);
        }
        if wire.may_stumble {
            all.extend(self.stumbles.iter().filter(|s| m.can(**s)).map(|s| Next::Stumbles(*s)));
        }
    }

    fn next_state(&self, before: &Wire, next: Next) -> Option<Wire> {
        let mut wire = before.clone();
        wire.now = Tick(wire.now.0 + 1);
        match next {
            Next::Order(order, permitted) => wire.order(self, order, permitted),
            Next::Takes => wire.machine.take(),
            Next::Ends => wire.machine.end(),
            Next::LetGo => wire.machine.let_go(),
            Next::Speaks => wire.machine.mute = false,
            Next::Plugged => {
                wire.plugged = true;
                wire.machine.said.clear();
            }
            Next::Heard => {
                let reply = wire.machine.said.pop_front()?;
                wire.give(self, Input::Bytes(reply.bytes().as_bytes()), None);
            }
            Next::Time => {
                wire.now = Tick(wire.now.0 + STEP_US);
                wire.give(self, Input::Woke, None);
            }
            Next::Stumbles(stumble) => {
                wire.may_stumble = false;
                wire.machine.stumbles(stumble);
                if stumble == Stumble::Unplugged {
                    wire.plugged = false;
                    wire.give(self, Input::Lost("the cable is out"), None);
                }
            }
        }
        if wire.machine.out_of_order {
            wire.broken = Some(Rule::LineOrder);
        }
        Some(wire)
    }

    fn properties(&self) -> Vec<Property<Self>> {
        vec![
            Property::always("nothing moves uninvited", |_, s: &Wire| s.broken != Some(Rule::Uninvited)),
            Property::always("held stays held", |_, s: &Wire| s.broken != Some(Rule::HeldStaysHeld)),
            Property::always("a stop stops", |_, s: &Wire| s.broken != Some(Rule::StopStops)),
            Property::always("no more waits than its buffer holds", |_, s: &Wire| s.broken != Some(Rule::Window)),
            Property::always("every line once, in its order", |_, s: &Wire| s.broken != Some(Rule::LineOrder)),
            Property::always("what is told done is done", |_, s: &Wire| s.broken != Some(Rule::Done)),
            Property::always("every word keeps the contract", |_, s: &Wire| s.broken != Some(Rule::Contract)),
            Property::sometimes("a program is finished", |m: &Self, s: &Wire| {
                !m.orders.contains(&Order::Begin) || (s.machine.cut == 3 && s.contract == Contract::IDLE)
            }),
        ]
    }
}

impl Explored for LinkModel {
    /// It answers, and nothing is under way or waits.
    fn is_over(&self, wire: &Wire) -> bool {
        let m = &wire.machine;
        wire.contract == Contract::IDLE && m.waits.is_empty() && m.planned.is_empty() && m.axes != Axes::Moves
    }
}

impl Wire {
    /// Whether an order changes anything: a second of the same does not.
    fn wanted(&self, order: Order) -> bool {
        match order {
            Order::Hold => self.contract.open && self.contract.stretch != Stretch::HoldAsked,
            Order::HoldAtLift => self.contract.stretch == Stretch::Runs,
            Order::Stop => self.contract.open && self.contract.task != Task::Stopping,
            Order::Unlock => self.machine.axes == Axes::Locked,
            Order::Spindle(_) => self.contract.open && !self.contract.off_wanted,
            _ => self.contract.open,
        }
    }

    fn order(&mut self, model: &LinkModel, order: Order, counts: bool) {
        if order == Order::Stop && model.broken == Some(Break::StopIsSwallowed) {
            self.contract = self.contract.after(order);
            return;
        }
        let epoch = self.link.epoch();
        let epoch = if counts { epoch } else { before_a_stop(epoch) };
        let at = Point::default();
        let command = match order {
            Order::Home => Command::Home(permit(Class::Home, epoch)),
            Order::Unlock => Command::Unlock(permit(Class::Unlock, epoch)),
            Order::HandMove => Command::HandMove {
                permit: permit(Class::Hand, epoch),
                axis: Axis::Y,
                by: Length::whole_mm(1),
                feed: Feed::from_unit(600.0).unwrap_or_default(),
            },
            Order::Setting(_) => Command::SetWorkZero { at, epoch },
            Order::Begin => Command::Begin(permit(Class::Cut, epoch)),
            Order::Resume => Command::Resume(permit(Class::Resume, epoch)),
            Order::Raise => Command::Raise { permit: permit(Class::Raise, epoch), machine_z: Length::ZERO },
            Order::Spindle(on) => Command::Spindle(on.then_some(SPEED)),
            Order::Hold => Command::Hold,
            Order::HoldAtLift => Command::HoldAtLift,
            Order::Stop => Command::Stop,
        };
        self.give(model, Input::Command(command), Some((order, counts)));
    }

    /// Gives the link an input and looks at everything that comes of it.
    fn give(&mut self, model: &LinkModel, input: Input<'_>, order: Option<(Order, bool)>) {
        self.link.take(self.now, input);
        let mut outputs: Vec<Output> = std::iter::from_fn(|| self.link.next_output()).collect();
        if let Some((order, counts)) = order {
            self.ordered(order, counts, &mut outputs);
        }
        if model.broken.is_some() {
            self.spoil(model, &mut outputs);
        }
        let mut wants = false;
        let mut reopen = false;
        for output in outputs {
            match output {
                Output::Send { bytes, .. } => self.sent(&bytes, order.map(|(order, _)| order)),
                Output::Report(Report::WantsLines { .. }) => wants = true,
                Output::Report(report) => self.told(&report),
                Output::Reopen => reopen = true,
                Output::DropUnsent | Output::WakeAt(_) => {}
            }
        }
        if wants && !self.fed {
            self.fed = true;
            self.give(model, Input::Command(Command::Lines(model.program_for())), None);
            self.give(model, Input::Command(Command::NoMoreLines), None);
        }
        if reopen && model.broken != Some(Break::StaysClosed) {
            let input = if self.plugged { Input::Opened } else { Input::Lost("the cable is out") };
            self.give(model, input, None);
        }
    }

    /// The link took an order, or said that it did not: as the contract has it.
    fn ordered(&mut self, order: Order, counts: bool, outputs: &mut Vec<Output>) {
        let first = outputs.iter().find_map(|o| match o {
            Output::Report(report) => Some(report),
            _ => None,
        });
        if let Some(Report::NotDone { what, .. }) = first {
            if self.contract.takes(order, counts) || tried_of(*what) != Some(order.tried()) {
                self.broken = Some(Rule::Contract);
            }
            // the answer to this order, and none of the contract's words
            let at = outputs.iter().position(|o| matches!(o, Output::Report(Report::NotDone { .. })));
            if let Some(at) = at {
                outputs.remove(at);
            }
            return;
        }
        if !self.contract.takes(order, counts) {
            match self.contract.quietly().filter(|c| c.takes(order, counts)) {
                Some(quiet) => self.contract = quiet,
                None => self.broken = Some(Rule::Contract),
            }
        }
        self.contract = self.contract.after(order);
        if order == Order::Begin {
            self.fed = false;
            self.machine.cut = 0;
            self.machine.leaves_out = false;
        }
    }

    /// Bytes reach the controller, and are looked at.
    fn sent(&mut self, bytes: &[u8], order: Option<Order>) {
        if let [.., b'\n'] = bytes {
            let text = String::from_utf8_lossy(bytes);
            let line = line_of(text.trim());
            // with a raise the spindle is switched off too
            if text.starts_with('M') && self.contract.task != Task::Raising {
                self.switches();
            }
            self.may_be_sent(line);
            if self.plugged {
                self.machine.waits.push_back((line, u16::try_from(bytes.len()).unwrap_or(u16::MAX)));
                if self.machine.waits.len() > 1 && self.machine.bytes_waiting() > WINDOW {
                    self.broken = Some(Rule::Window);
                }
            }
            return;
        }
        for byte in bytes {
            if *byte == b'~' && order != Some(Order::Resume) {
                self.broken = Some(Rule::HeldStaysHeld);
            }
            if self.plugged {
                self.machine.at_once(*byte);
            }
        }
    }

    /// The spindle is switched: it was ordered.
    fn switches(&mut self) {
        match self.contract.switches_off() {
            Some(after) => self.contract = after,
            None => self.broken = Some(Rule::Contract),
        }
    }

    /// Whether what was ordered covers this line.
    fn may_be_sent(&mut self, line: Line) {
        let c = self.contract;
        let runs = matches!(c.stretch, Stretch::Runs | Stretch::LiftWanted);
        let may = match line {
            Line::Program(_) => runs && matches!(c.task, Task::None | Task::Unlock),
            Line::Home => c.task == Task::Home,
            Line::Unlock => c.task == Task::Unlock,
            Line::Hand => c.task == Task::Hand,
            Line::Raise => c.task == Task::Raising,
            Line::Setting => true,
        };
        if !may {
            let held = matches!(c.stretch, Stretch::Held | Stretch::HoldAsked | Stretch::AtLift);
            self.broken = Some(match (c.task, held) {
                (Task::Stopping, _) => Rule::StopStops,
                (_, true) => Rule::HeldStaysHeld,
                (_, false) => Rule::Uninvited,
            });
        }
    }

    /// What the link told, held against the contract and against the controller.
    fn told(&mut self, report: &Report) {
        let reached = reached_of(report);
        if reached.and_then(|r| r.done).is_some_and(|done| done > u32::from(self.machine.cut)) {
            self.broken = Some(Rule::Done);
        }
        let Some(word) = word_of(report) else { return };
        if word == Word::Finished && self.machine.cut != 3 {
            self.broken = Some(Rule::Done);
        }
        let moves = |line: &Line| !matches!(line, Line::Setting | Line::Unlock);
        let at_rest = self.machine.planned.is_empty() && !self.machine.waits.iter().any(|(line, _)| moves(line));
        if matches!(word, Word::Stopped { .. }) && self.plugged && !self.machine.mute && !at_rest {
            self.broken = Some(Rule::StopStops);
        }
        let after = self.contract.says(word).or_else(|| self.contract.quietly()?.says(word));
        match after {
            Some(after) => self.contract = after,
            None => self.broken = Some(Rule::Contract),
        }
    }

    fn spoil(&mut self, model: &LinkModel, outputs: &mut Vec<Output>) {
        let line = |text: &str| Output::Send { bytes: text.as_bytes().to_vec(), urgent: false };
        match model.broken {
            Some(Break::MovesUninvited) => {
                let up = outputs.iter().any(|o| matches!(o, Output::Report(Report::Up { .. })));
                outputs.extend(up.then(|| line("G21G91G1Y1F600\n")));
            }
            Some(Break::GoesOnByItself) => {
                let held = outputs.iter().any(|o| matches!(o, Output::Report(Report::Held { .. })));
                outputs.extend(held.then(|| Output::Send { bytes: b"~".to_vec(), urgent: true }));
            }
            Some(Break::FinishedTooEarly) => {
                let first = outputs.iter().position(|o| matches!(o, Output::Report(Report::Reached(_))));
                if let Some(at) = first {
                    outputs[at] = Output::Report(Report::Finished(Reached::default()));
                }
            }
            Some(Break::DoneTooEarly) => {
                for output in outputs {
                    if let Output::Report(Report::Reached(reached)) = output {
                        reached.done = reached.acknowledged;
                    }
                }
            }
            Some(Break::SaysItTwice) => {
                let over = outputs.iter().find_map(|o| match o {
                    Output::Report(Report::Finished(at)) => Some(Output::Report(Report::Finished(*at))),
                    _ => None,
                });
                outputs.extend(over);
            }
            _ => {}
        }
    }
}

impl LinkModel {
    fn program_for(&self) -> Vec<SentLine> {
        let mut program = self.program.clone();
        if self.broken == Some(Break::LineLeftOut) {
            program.remove(1);
        }
        program
    }
}
