//! A floor that is broken in one place, to see whether the rules bite.

use chargehand_daemon::floor::happening::{Asked, By, Happening};
use chargehand_daemon::floor::permit::Epoch;
use chargehand_daemon::floor::sheet::{Cutting, Ops, Since, Watch};
use chargehand_daemon::floor::state::{
    Homing, Link, Motion, Position, Presence, Setup, Signed, Slot, Spindle, SpindleKind, Way,
};
use chargehand_daemon::floor::{AtStage, Deed, Outcome, Refusal, State, step};
use chargehand_types::stage::Role;

/// A break of the wrapper around the floor, to see whether the rules bite.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Break {
    MovesWithoutPermit,
    StartsByItself,
    LinkTakesVoidPermits,
    ReadyStaysSigned,
    ResumesByItself,
    EndsTwice,
    CountsTwice,
    BitFittedWhileItTurns,
    StopIsIgnored,
    HoldIsForgotten,
    PositionKnownOnceItAnswers,
    StillOnceSwitchedOff,
    NothingIsDecided,
    NobodyIsMissed,
    DoubtIsForgotten,
}

impl Break {
    /// Spoils the floor's answer.
    pub(super) fn spoil(
        self,
        before: &State,
        happening: &Happening,
        told: Result<Outcome, Refusal>,
    ) -> Result<Outcome, Refusal> {
        let asked = |wanted: &Asked| matches!(happening, Happening::Act { what, .. } if what == wanted);
        if self == Self::BitFittedWhileItTurns && asked(&Asked::BitFitted(Slot(0))) && before.sheet.is_some() {
            let (deeds, permit) = (Vec::new(), None);
            return Ok(Outcome { state: before.clone(), deeds, permit });
        }
        if self == Self::NothingIsDecided && matches!(happening, Happening::Act { what: Asked::Decide(_), .. }) {
            return Err(Refusal::NoSheet);
        }
        let forgets = match happening {
            Happening::StillThereDue => self == Self::NobodyIsMissed,
            Happening::BitDoubted => self == Self::DoubtIsForgotten,
            _ => false,
        };
        if forgets {
            return Ok(Outcome { state: before.clone(), deeds: Vec::new(), permit: None });
        }
        let mut outcome = told?;
        match self {
            Self::MovesWithoutPermit => outcome.permit = None,
            Self::StartsByItself if *happening == Happening::StandsStill => {
                // a right that somebody had, kept and used later
                let home = State { presence: Presence::Owner, sheet: None, ..homing_state(before) };
                let by = By::AtMachine(Role::Owner);
                let lent = step(&home, &Happening::Act { by, what: Asked::Home }, Epoch::default())?;
                outcome.deeds.push(Deed::HomeLink);
                outcome.permit = lent.permit;
            }
            Self::ReadyStaysSigned => {
                if let (Some(was), Some(is)) = (&before.sheet, &mut outcome.state.sheet)
                    && *happening == Happening::Finished
                {
                    is.ready = was.ready;
                    is.at = AtStage::Ready;
                    outcome.state.machine.tooling = Signed::Yes;
                    outcome.state.machine.bit = is.operations.get(usize::from(is.operation)).map(|o| o.bit);
                    outcome.state.machine.z_zero = Some(is.z_on);
                }
            }
            Self::ResumesByItself if matches!(happening, Happening::PresenceChanged(_)) => {
                if let Some(sheet) = &mut outcome.state.sheet
                    && matches!(sheet.at, AtStage::Held(_))
                {
                    sheet.at = AtStage::Cutting(Cutting { chain: Ops::NONE, since: Since::Start, watch: Watch::Rests });
                }
            }
            Self::EndsTwice => {
                let ends = outcome.deeds.iter().find(|d| matches!(d, Deed::SetSheetAside | Deed::CloseSheet)).copied();
                outcome.deeds.extend(ends);
            }
            Self::CountsTwice => {
                let done = outcome.deeds.iter().find(|d| matches!(d, Deed::OperationDone { .. })).copied();
                outcome.deeds.extend(done);
            }
            Self::StopIsIgnored if asked(&Asked::Stop) => outcome.state = before.clone(),
            Self::HoldIsForgotten => outcome.deeds.retain(|d| *d != Deed::Hold),
            Self::PositionKnownOnceItAnswers if matches!(happening, Happening::LinkUp { .. }) => {
                outcome.state.machine.position = Position::Known;
            }
            Self::StillOnceSwitchedOff if asked(&Asked::SpindleSwitchedOff) => {
                outcome.state.machine.spindle = Spindle::Still;
            }
            _ => {}
        }
        Ok(outcome)
    }
}

/// A machine that may find home, made from one that may not.
fn homing_state(of: &State) -> State {
    let mut state = State::new(Setup { spindle: SpindleKind::Manual, homing: Homing::Able });
    state.machine.link = Link::Up;
    state.machine.way = Way::SaidClear;
    state.machine.motion = Motion::Still;
    state.machine.store = of.machine.store;
    state
}
