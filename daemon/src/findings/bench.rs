//! The machine as a check needs to know it.
//!
//! May live here: its values. May not: reading them from a file, or anything a check decides.

use crate::program::motion::Start;
use crate::shop::config;
use crate::shop::profile::{Flow, Keys};
use crate::shop::understands::Understands;
use crate::timing::Limits;
use chargehand_types::quantity::{Angle, Area, Feed, Length, Point, Rpm, Spot};
use std::collections::BTreeMap;

/// What a card is judged against, beside the card itself and the shop's stores.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    /// Least and most machine coordinate of X, Y, Z.
    pub travel: [[Length; 2]; 3],
    /// Work zero (G54) in machine coordinates, as last set.
    pub work_zero: Point,
    /// Of it, how far it lies above where it was touched off: the shift an owner allows a sheet that is not as thick as
    /// its label. Downwards is negative.
    pub z_shift: Length,
    /// How fast the axes move and change speed.
    pub limits: Limits,
    /// How the spindle is switched.
    pub spindle: Spindle,
    /// Slowest and fastest mark of a dial turned by hand; none where there is none.
    pub dial: Option<[Rpm; 2]>,
    /// Above the sheet's face, where the bit travels between places.
    pub safe_z: Length,
    /// The fastest feed this machine has proved itself at; none when it is not asked.
    pub max_feed_tried: Option<Feed>,
    /// By bit the fastest feed that a sheet of the card's material came out good with.
    pub good_feeds: BTreeMap<String, Feed>,
    /// A ramp steeper than this is a plunge: what it takes a tooth is not judged.
    pub steep_ramp: Angle,
    /// A cut less deep than this is no cut.
    pub ignore_thinner: Length,
    /// Smaller pieces are chips.
    pub small_piece: Area,
    /// Radii of an arc may differ by this much, or by 0.1 %, whichever is larger.
    pub arc_tolerance: Length,
    /// Bits a second on the serial line; 0 where there is none.
    pub baud: u32,
    /// Motions the controller knows at a time.
    pub planner_blocks: u16,
    /// Bytes that may be on their way to the controller; 0 where each line waits for its answer.
    pub window: u64,
    /// Bytes that end a line there.
    pub line_end: u64,
    /// What goes down with the bit and is wider.
    pub above_bit: Vec<config::AboveBit>,
    /// What sheets lie on.
    pub waste_board: config::WasteBoard,
    /// Holes in it from sheets before, in machine coordinates.
    pub old_holes: Vec<Spot>,
    /// Holding over lifting force.
    pub fastener_safety: f64,
    /// No cut is farther from a fastener where places are proposed.
    pub fastener_span: Length,
    /// What the controller takes as it is written.
    pub understands: Understands,
    /// What the shop measures findings against.
    pub limits_set: config::Limits,
}

/// How the spindle is switched.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spindle {
    /// By hand: M3, S and M5 do nothing, so a program without them cuts as well.
    Manual,
    /// By the program, between these speeds.
    Controlled {
        /// Slowest.
        least: Rpm,
        /// Fastest.
        most: Rpm,
    },
}

impl Bench {
    /// From the shop's config and the profile of its controller; nothing is known of the waste board yet.
    #[must_use]
    pub fn of(machine: &config::Machine, limits: &config::Limits, profile: &Keys) -> Self {
        let config::Travel { x, y, z } = machine.travel;
        let dial = match &machine.spindle {
            config::Spindle::Manual { dial, .. } => dial.first().zip(dial.last()).map(|(a, b)| [a.speed, b.speed]),
            config::Spindle::Controlled { .. } => None,
        };
        let spindle = match machine.spindle {
            config::Spindle::Manual { .. } => Spindle::Manual,
            config::Spindle::Controlled { least, most, .. } => Spindle::Controlled { least, most },
        };
        Self {
            travel: [x, y, z].map(|reach| [reach.least, reach.most]),
            work_zero: machine.work_zero,
            z_shift: Length::ZERO,
            limits: Limits {
                max_rate: machine.max_rate,
                acceleration: machine.acceleration,
                corner_deviation: machine.corner_deviation,
            },
            spindle,
            dial,
            safe_z: machine.safe_z,
            max_feed_tried: machine.max_feed_tried,
            good_feeds: BTreeMap::new(),
            steep_ramp: limits.steep_ramp,
            ignore_thinner: limits.ignore_thinner,
            small_piece: limits.small_piece,
            arc_tolerance: profile.arc_tolerance,
            baud: machine.baud,
            planner_blocks: profile.planner_blocks,
            window: match profile.flow {
                Flow::Window { window } => u64::from(window),
                Flow::OneAtATime | Flow::Numbered { .. } => 0,
            },
            line_end: profile.line_end.len() as u64,
            above_bit: machine.above_bit.clone(),
            waste_board: config::WasteBoard { material: None, thickness: Length::whole_mm(18), keep_out: Vec::new() },
            old_holes: Vec::new(),
            fastener_safety: limits.fastener_safety,
            fastener_span: limits.fastener_span,
            understands: profile.understands.clone(),
            limits_set: limits.clone(),
        }
    }

    /// The same with sheets on this waste board.
    #[must_use]
    pub fn on(mut self, board: &config::WasteBoard) -> Self {
        self.waste_board = board.clone();
        self
    }

    /// The same with work zero so much higher than it was touched off.
    #[must_use]
    pub fn shifted(mut self, by: Length) -> Self {
        self.work_zero.z += by;
        self.z_shift += by;
        self
    }

    /// Where a check starts a program: X0 Y0 and the top of the Z travel.
    #[must_use]
    pub fn start(&self) -> Start {
        let [_, _, [_, top]] = self.travel;
        Start {
            at: Point::new(Length::ZERO, Length::ZERO, top - self.work_zero.z),
            work_zero: self.work_zero,
            arc_tolerance: self.arc_tolerance,
        }
    }
}
