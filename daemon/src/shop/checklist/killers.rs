//! The steps no shop can take out of its lists, and what each must ask.
//!
//! May live here: the table and whether a list keeps it. May not: wording.

use super::{Asks, Expect, Only, Step};
use chargehand_types::checklist::{ListForm, ListKind};

/// The kind of answer a safety-critical step must ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Must {
    Confirm,
    Thickness,
    BitDiameter,
    Fasteners,
    Place,
    RunDown,
    TouchZ,
    Parts,
}

impl Must {
    /// As a list's file writes it.
    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::Confirm => "ask = \"confirm\"",
            Self::Thickness => "ask = \"value\" with expect = \"thickness\"",
            Self::BitDiameter => "ask = \"value\" with expect = \"bit-diameter\"",
            Self::Fasteners => "ask = \"value\" with expect = \"fasteners\"",
            Self::Place => "ask = \"place\"",
            Self::RunDown => "ask = \"run-down\"",
            Self::TouchZ => "ask = \"touch-z\"",
            Self::Parts => "ask = \"parts\"",
        }
    }

    pub(super) fn is_asked(self, asks: &Asks) -> bool {
        let expects = |wanted: Expect| matches!(asks, Asks::Value(r) if r.expect == Some(wanted) && r.within.is_some());
        match self {
            Self::Confirm => matches!(asks, Asks::Confirm),
            Self::Thickness => expects(Expect::Thickness),
            Self::BitDiameter => expects(Expect::BitDiameter),
            Self::Fasteners => expects(Expect::Fasteners),
            Self::Place => matches!(asks, Asks::Place),
            Self::RunDown => matches!(asks, Asks::RunDown),
            Self::TouchZ => matches!(asks, Asks::TouchZ),
            Self::Parts => matches!(asks, Asks::Parts),
        }
    }
}

/// A step that cannot be taken out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Killer {
    pub id: &'static str,
    pub must: Must,
    /// The one condition it may bear.
    pub may_only: Option<Only>,
}

const fn killer(id: &'static str, must: Must) -> Killer {
    Killer { id, must, may_only: None }
}

const fn when(only: Only, id: &'static str, must: Must) -> Killer {
    Killer { id, must, may_only: Some(only) }
}

const SECURING_FULL: &[Killer] = &[
    killer("at-stop", Must::Confirm),
    killer("thickness-near-left", Must::Thickness),
    killer("thickness-near-right", Must::Thickness),
    killer("thickness-far-right", Must::Thickness),
    killer("thickness-far-left", Must::Thickness),
    killer("places", Must::Place),
    killer("seated", Must::Confirm),
];
const SECURING_REPEAT: &[Killer] = &[
    killer("at-stop", Must::Confirm),
    killer("thickness", Must::Thickness),
    killer("places", Must::Place),
    killer("seated", Must::Confirm),
];
const TOOLING_FULL: &[Killer] = &[
    killer("off", Must::Confirm),
    killer("still", Must::RunDown),
    killer("bit-diameter", Must::BitDiameter),
    killer("touch-z", Must::TouchZ),
];
const TOOLING_REPEAT: &[Killer] = &[
    killer("off", Must::Confirm),
    killer("still", Must::RunDown),
    when(Only::BitChange, "bit-diameter", Must::BitDiameter),
    killer("touch-z", Must::TouchZ),
];
const READY_FULL: &[Killer] = &[
    killer("plate", Must::Confirm),
    killer("clear", Must::Confirm),
    killer("extraction", Must::Confirm),
    killer("eyes-ears", Must::Confirm),
    killer("red-button", Must::Confirm),
    when(Only::ManualSpindle, "router-on", Must::Confirm),
];
const READY_REPEAT: &[Killer] = &[
    killer("plate", Must::Confirm),
    killer("clear", Must::Confirm),
    killer("extraction", Must::Confirm),
    killer("eyes-ears", Must::Confirm),
    when(Only::ManualSpindle, "router-on", Must::Confirm),
];
const TAKING_OFF: &[Killer] =
    &[killer("off", Must::Confirm), killer("still", Must::RunDown), killer("fasteners", Must::Fasteners)];
const CHECKING: &[Killer] = &[killer("parts", Must::Parts)];

/// The steps a list must keep, in the order it must keep them.
pub(super) const fn of(kind: ListKind, form: ListForm) -> &'static [Killer] {
    match (kind, form) {
        (ListKind::Securing, ListForm::Full) => SECURING_FULL,
        (ListKind::Securing, ListForm::Repeat) => SECURING_REPEAT,
        (ListKind::Tooling, ListForm::Full) => TOOLING_FULL,
        (ListKind::Tooling, ListForm::Repeat) => TOOLING_REPEAT,
        (ListKind::Ready, ListForm::Full) => READY_FULL,
        (ListKind::Ready, ListForm::Repeat) => READY_REPEAT,
        (ListKind::TakingOff, _) => TAKING_OFF,
        (ListKind::Checking, _) => CHECKING,
    }
}

/// A killer that stands before one it must come after, by place in the list.
pub(super) fn out_of_order(killers: &[Killer], steps: &[Step]) -> Option<(usize, &'static str)> {
    let mut earlier: Option<(usize, &'static str)> = None;
    for killer in killers {
        let Some(at) = steps.iter().position(|s| s.id == killer.id) else { continue };
        match earlier {
            Some((before, id)) if before > at => return Some((at, id)),
            _ => earlier = Some((at, killer.id)),
        }
    }
    None
}
