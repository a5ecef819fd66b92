//! What a practice machine is like, and what is to go wrong with it.

use super::speed::Vector;
use chargehand_types::quantity::Length;

/// The machine, as a shop would describe its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// mm/s.
    pub rates: Vector,
    /// mm/s2.
    pub accelerations: Vector,
    /// mm.
    pub deviation: f64,
    /// Machine coordinates in mm, least and most.
    pub travel: [[f64; 2]; 3],
    /// Of the line.
    pub baud: u32,
    /// What goes wrong, by the number of the line received, from 1.
    pub faults: Vec<(u64, Fault)>,
}

impl Setup {
    /// Where its switches are: left, towards you, up.
    pub(in crate::practice) const fn home(&self) -> Vector {
        [self.travel[0][0], self.travel[1][0], self.travel[2][1]]
    }

    /// Whether all of a box lies inside the travel (a nanometre over is rounding).
    pub(in crate::practice) fn holds(&self, reach: [[f64; 2]; 3]) -> bool {
        let slack = 1.0e-6;
        self.travel.iter().zip(reach).all(|([low, high], [least, most])| least >= low - slack && most <= high + slack)
    }
}

/// What goes wrong when the line of that number has been received.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The line is refused.
    Refuse,
    /// A limit switch is hit.
    Alarm,
    /// It starts anew, as after a dip of its supply.
    Restart,
    /// It starts anew, and its greeting is lost.
    RestartUnheard,
    /// It says nothing any more.
    Silence,
    /// It reads no more lines, but still reports.
    Stuck,
    /// The answer is lost.
    LoseAnswer,
    /// The answer comes twice.
    DoubleAnswer,
    /// A byte of the answer is changed on the way.
    GarbleAnswer,
    /// A byte of the line was changed on the way.
    GarbleLine,
    /// A byte of the next report is changed on the way.
    GarbleReport,
    /// It asks for a line that was never sent.
    WrongResend,
    /// It says for some seconds that it is busy, and reads no line meanwhile.
    Busy,
    /// From now on it takes its time over every answer.
    Slow,
    /// Somebody presses the hold button at the machine.
    HoldButton,
    /// Somebody opens the door.
    DoorOpens,
    /// The drives lose their power; the controller counts on.
    DrivesOff,
    /// The bit is pulled 0.3 mm out of its collet. Nothing tells it but the wood, and a touch.
    BitPulled,
    /// A homing run finds no switch.
    NoSwitch,
    /// The cable comes out, and goes in again after so many machine milliseconds.
    Unplug {
        /// Left out: for good.
        back_ms: Option<u32>,
    },
}

/// How far a pulled bit comes out.
pub(in crate::practice) const PULLED: Length = Length(-300_000);

impl Fault {
    /// Every kind that needs no person to have done something first, and that the line can know of.
    pub const ALL: [Self; 19] = [
        Self::Refuse,
        Self::Alarm,
        Self::Restart,
        Self::RestartUnheard,
        Self::Silence,
        Self::Stuck,
        Self::LoseAnswer,
        Self::DoubleAnswer,
        Self::GarbleAnswer,
        Self::GarbleLine,
        Self::GarbleReport,
        Self::WrongResend,
        Self::Busy,
        Self::Slow,
        Self::HoldButton,
        Self::DoorOpens,
        Self::DrivesOff,
        Self::NoSwitch,
        Self::Unplug { back_ms: Some(3_000) },
    ];

    /// A script of so many faults among the first `lines` lines, the same for the same seed.
    #[must_use]
    pub fn script(seed: u64, count: usize, lines: u64) -> Vec<(u64, Self)> {
        let mut chance = Chance::new(seed);
        let mut script: Vec<(u64, Self)> = Vec::with_capacity(count);
        for _ in 0..count {
            let line = 1 + chance.below(lines.max(1));
            let kind = usize::try_from(chance.below(Self::ALL.len() as u64)).unwrap_or(0);
            script.extend(Self::ALL.get(kind).map(|fault| (line, *fault)));
        }
        script.sort_by_key(|(line, _)| *line);
        script
    }
}

/// How it behaves, where machines of the family differ. The default is a machine that is kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Habits {
    /// How it talks.
    pub wire: Wire,
    /// For what is left to chance: which byte is changed, where the carriage stands at first.
    pub seed: u64,
    /// Whether it takes motion before it was homed.
    pub homing: Homing,
    /// Where the carriage stands when it is switched on.
    pub start: Standing,
    /// How far it backs off from its switches.
    pub pull_off: Length,
    /// Microseconds it thinks over a line.
    pub line_us: u64,
    /// Microseconds from power to greeting, after a restart.
    pub boot_us: u64,
    /// What it does when the port is opened.
    pub on_open: OnOpen,
    /// What a hold byte does when nothing at all waits.
    pub idle_hold: IdleHold,
    /// Whether it reports while it looks for its switches.
    pub reports_while_homing: bool,
    /// Machine Z at which the bit meets the touch plate; none: there is no plate.
    pub plate: Option<Length>,
    /// Finished motions it remembers for [`Controller::trace`](super::Controller::trace); the oldest go first.
    pub remembers: usize,
}

impl Default for Habits {
    fn default() -> Self {
        Self {
            wire: Wire::Window,
            seed: 1,
            homing: Homing::Required,
            start: Standing::AtHome,
            pull_off: Length::ZERO,
            line_us: 0,
            boot_us: 200_000,
            on_open: OnOpen::StaysAsItIs,
            idle_hold: IdleHold::Ignored,
            reports_while_homing: false,
            plate: None,
            remembers: 0,
        }
    }
}

/// How it talks: as one of the profiles that ship has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wire {
    /// `acknowledged-window`.
    Window,
    /// `numbered-checksum`.
    Numbered,
}

/// Whether it takes motion before it was homed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Homing {
    /// It wants home, or to be unlocked, first.
    Required,
    /// It has switches, but takes motion without.
    Optional,
    /// It has no switches.
    None,
}

/// Where the carriage stands when the machine is switched on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Where the controller believes it to be.
    AtHome,
    /// Somewhere in the travel, by the seed; the controller believes it to be at home.
    Anywhere,
}

/// What it does when the port is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnOpen {
    /// Nothing.
    StaysAsItIs,
    /// It restarts, as boards do that wire a modem line to their reset.
    Restarts,
}

/// What a hold byte does when nothing at all waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IdleHold {
    /// Nothing.
    Ignored,
    /// It stands held until it is resumed.
    Taken,
}

/// Chance out of a seed (the published splitmix64 step).
#[derive(Debug, Clone)]
pub(in crate::practice) struct Chance(u64);

impl Chance {
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub const fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// From 0 to below `bound`, which is at least 1.
    pub const fn below(&mut self, bound: u64) -> u64 {
        self.next() % if bound == 0 { 1 } else { bound }
    }

    /// From 0 to below 1.
    pub fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}
