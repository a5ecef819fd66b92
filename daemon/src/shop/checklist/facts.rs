//! What is known of the sheet at hand when a step is shown.

use super::{Expect, Only, Over};
use chargehand_types::id::BitNumber;
use chargehand_types::quantity::{Length, Rpm, Seconds, Spot};
use std::collections::BTreeSet;

/// What is known of the sheet at hand. What is not known is told in general words.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Facts {
    /// The card's title.
    pub card: Option<String>,
    /// The title of the operation's bit.
    pub bit: Option<String>,
    /// Its diameter.
    pub bit_diameter: Option<Length>,
    /// Numbers of the physical bits of its kind that are in use.
    pub bit_numbers: Vec<BitNumber>,
    /// What upkeep is due, as a sentence each.
    pub upkeep: Vec<String>,
    /// The sheet's nominal thickness.
    pub thickness: Option<Length>,
    /// Least and most thickness in which nothing that was found changes.
    pub thickness_window: Option<[Length; 2]>,
    /// The operation.
    pub operation: Option<String>,
    /// Every operation of the chain, in order.
    pub chain: Vec<String>,
    /// Minutes the chain takes.
    pub minutes: Option<u32>,
    /// The dial mark for the speed.
    pub dial: Option<f64>,
    /// The speed the program asks for.
    pub rpm: Option<Rpm>,
    /// The fastener's title.
    pub fastener: Option<String>,
    /// Where fasteners go.
    pub places: Vec<Spot>,
    /// How many were placed; none until then.
    pub fasteners: Option<u32>,
    /// Told by the card.
    pub face: Option<String>,
    /// Told by the card.
    pub grain: Option<String>,
    /// The mark on the waste board, in work coordinates.
    pub mark: Option<Spot>,
    /// The sheet's left front corner, in work coordinates.
    pub corner: Option<Spot>,
    /// Where a stopped cut goes on, in work coordinates.
    pub entry: Option<Spot>,
    /// Where the red button is.
    pub button: Option<String>,
    /// Who switches the spindle.
    pub spindle: HandOn,
    /// From "off" to standing still, in all.
    pub run_down: Seconds,
    /// What is left of it.
    pub run_down_left: Seconds,
    /// Where the Z zero is touched.
    pub spot: Option<String>,
    /// Where it was touched, in work coordinates, while it is to be touched once more.
    pub touched_at: Option<Spot>,
    /// The middle of that place, in work coordinates.
    pub spot_at: Option<Spot>,
    /// What is to be cut by hand before the parts are free, and with what.
    pub cuts: Option<String>,
    /// Where each part hangs, from the sheet's left and front edges.
    pub hangs: Option<String>,
    /// The name of each part, in order.
    pub parts: Vec<String>,
    /// Which are graded already.
    pub graded: Vec<u32>,
    /// The code on the sheet's label.
    pub label: Option<String>,
    /// The number of the sheet on the machine in its batch.
    pub sheet_number: Option<u32>,
    /// How many calls are open.
    pub calls: Option<u32>,
    /// What holds beside the spindle's kind, which is known from `spindle`.
    pub holds: BTreeSet<Only>,
}

/// Who switches the spindle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum HandOn {
    /// A person, at the router's own switch.
    #[default]
    Manual,
    /// The controller.
    Controlled,
}

impl Facts {
    /// Whether a condition holds.
    #[must_use]
    pub fn hold(&self, only: Only) -> bool {
        match only {
            Only::ManualSpindle => self.spindle == HandOn::Manual,
            Only::ControlledSpindle => self.spindle == HandOn::Controlled,
            Only::NumberedBit => !self.bit_numbers.is_empty(),
            Only::UpkeepDue => !self.upkeep.is_empty(),
            Only::GoingOn => self.entry.is_some(),
            Only::UpkeepOnPaper
            | Only::BitChange
            | Only::FirstOperation
            | Only::Tabs
            | Only::Skin
            | Only::SheetOn
            | Only::Touched => self.holds.contains(&only),
        }
    }

    /// The place that a step has the bit brought over; none where it is not known.
    #[must_use]
    pub const fn over(&self, over: Over) -> Option<Spot> {
        match over {
            Over::Mark => self.mark,
            Over::Corner => self.corner,
            Over::Entry => self.entry,
        }
    }

    /// The value a reading should have, in the unit of files.
    #[must_use]
    pub fn expected(&self, expect: Expect) -> Option<f64> {
        match expect {
            Expect::Thickness => self.thickness.map(Length::mm),
            Expect::BitDiameter => self.bit_diameter.map(Length::mm),
            // it is read off the bit: which one of several it is nobody else knows
            Expect::BitNumber => None,
            Expect::Dial => self.dial,
            Expect::Fasteners => self.fasteners.map(f64::from),
            Expect::SheetNumber => self.sheet_number.map(f64::from),
            Expect::Calls => self.calls.map(f64::from),
            Expect::Number(number) => Some(number),
        }
    }
}
