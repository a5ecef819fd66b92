//! What goes wrong in a day: kinds, and when, from the day's seed.

use super::chance::Chance;
use chargehand_daemon::practice::Fault;

/// One thing that goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The machine stumbles: at the next line, or now.
    Machine(Fault),
    /// The cable is pulled, and back in after so many machine milliseconds.
    Cable(u64),
    /// The daemon is gone, and back after so many machine milliseconds.
    Kill(u64),
    /// The daemon is gone in the middle of a write: the journal ends in half a frame.
    KillTorn,
    /// The disk is full, until somebody makes room after so many machine milliseconds and starts the daemon anew.
    FullDisk(u64),
    /// The wall clock jumps by so many minutes.
    Clock(i64),
    /// The first of those who work signs out and leaves, for so many machine seconds.
    Leaves(u64),
    /// The last of those who work is gone for so many machine seconds, and stays signed in.
    WalksOff(u64),
    /// The next answer takes so many machine seconds.
    Dawdles(u64),
    /// A wrong answer to whatever is asked.
    WrongAnswer,
    /// Hold.
    Hold,
    /// Hold at the next lift.
    HoldAtLift,
    /// Stop.
    Stop,
    /// Stop, just after the next operation has run to its end and before anybody heard that it has.
    LateStop,
    /// Something is wrong.
    Trouble,
    /// A second terminal acts on an old screen.
    OldScreen,
    /// A command is sent twice.
    Twice,
    /// Somebody afar, without the token, asks for a start.
    AfarStart,
}

/// When it goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mischief {
    /// After so many turns of the day.
    pub turn: u64,
    /// What.
    pub kind: Kind,
}

/// The mischief of a day.
#[must_use]
pub fn of_day(seed: u64, sheets: u32) -> Vec<Mischief> {
    let mut chance = Chance::of(seed ^ 0x6d69_7363_6869_6566);
    let count = chance.between(0, u64::from(sheets) * 2);
    let turns = u64::from(sheets) * TURNS_A_SHEET;
    let mut all: Vec<Mischief> =
        (0..count).map(|_| Mischief { turn: chance.below(turns), kind: kind(&mut chance) }).collect();
    all.sort_by_key(|m| m.turn);
    all
}

/// Turns that a sheet about takes when nothing goes wrong.
const TURNS_A_SHEET: u64 = 250;

fn kind(chance: &mut Chance) -> Kind {
    match chance.below(23) {
        0..6 => {
            let at = usize::try_from(chance.below(Fault::ALL.len() as u64)).unwrap_or(0);
            Kind::Machine(Fault::ALL.get(at).copied().unwrap_or(Fault::Refuse))
        }
        6 => Kind::Cable(chance.between(100, 20_000)),
        7 => Kind::Kill(chance.between(1, 60_000)),
        8 => Kind::KillTorn,
        9 => Kind::Clock(i64::try_from(chance.below(4000)).unwrap_or(0) - 2000),
        10 => Kind::Leaves(chance.between(10, 3600)),
        11 => Kind::Dawdles(chance.between(60, 3600)),
        12 => Kind::WrongAnswer,
        13 => Kind::Hold,
        14 => Kind::HoldAtLift,
        15 => Kind::Stop,
        16 => Kind::Trouble,
        17 => Kind::OldScreen,
        18 => Kind::Twice,
        19 => Kind::FullDisk(chance.between(1, 600_000)),
        20 => Kind::LateStop,
        21 => Kind::WalksOff(chance.between(10, 3600)),
        _ => Kind::AfarStart,
    }
}
