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
    TouchAgain,
    Parts,
    /// A choice that holds the list where it is not right.
    Choose,
    /// A choice that the daemon holds against what it knows.
    AnyChoice,
    SheetNumber,
    Calls,
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
            Self::TouchAgain => "ask = \"touch-again\"",
            Self::Parts => "ask = \"parts\"",
            Self::Choose => "ask = \"choose\" with `right`",
            Self::AnyChoice => "ask = \"choose\"",
            Self::SheetNumber => "ask = \"value\" with expect = \"sheet-number\"",
            Self::Calls => "ask = \"value\" with expect = \"calls\"",
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
            Self::TouchAgain => matches!(asks, Asks::TouchAgain),
            Self::Parts => matches!(asks, Asks::Parts),
            Self::Choose => matches!(asks, Asks::Choose { right, .. } if !right.is_empty()),
            Self::AnyChoice => matches!(asks, Asks::Choose { .. }),
            Self::SheetNumber => expects(Expect::SheetNumber),
            Self::Calls => expects(Expect::Calls),
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
const TAKING_OFF: &[Killer] = &[
    killer("off", Must::Confirm),
    killer("still", Must::RunDown),
    when(Only::Touched, "closing-touch", Must::TouchAgain),
    killer("fasteners", Must::Fasteners),
];
const CHECKING: &[Killer] = &[killer("parts", Must::Parts)];
const OPENING: &[Killer] = &[
    killer("red-button", Must::Choose),
    killer("off", Must::Confirm),
    killer("board", Must::Choose),
    killer("extractor", Must::Choose),
];
const CLOSING: &[Killer] = &[
    killer("bit-out", Must::Confirm),
    killer("off", Must::Confirm),
    killer("still", Must::RunDown),
    killer("slots", Must::Choose),
    killer("collector", Must::Choose),
    killer("wall-switch", Must::Confirm),
];
const HAND_OVER: &[Killer] = &[
    killer("red-button", Must::Confirm),
    killer("doing", Must::AnyChoice),
    when(Only::SheetOn, "sheet", Must::SheetNumber),
    killer("calls", Must::Calls),
];
const AFTER_POWER_CUT: &[Killer] = &[
    killer("off", Must::Confirm),
    killer("still", Must::RunDown),
    killer("heat", Must::Choose),
    killer("bit", Must::Choose),
    killer("power", Must::Confirm),
    killer("home", Must::Confirm),
];

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
        (ListKind::Opening, ListForm::Full) => OPENING,
        (ListKind::Closing, ListForm::Full) => CLOSING,
        (ListKind::HandOver, ListForm::Full) => HAND_OVER,
        (ListKind::AfterPowerCut, ListForm::Full) => AFTER_POWER_CUT,
        (ListKind::Opening | ListKind::Closing | ListKind::HandOver | ListKind::AfterPowerCut, ListForm::Repeat) => &[],
    }
}

/// The step that must end a list, where one must: the wall switch takes the light and the extraction with it.
pub(super) const fn last(kind: ListKind) -> Option<&'static str> {
    match kind {
        ListKind::Closing => Some("wall-switch"),
        _ => None,
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
