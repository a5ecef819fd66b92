//! Who is in the shop that is explored: a day that has come to a cycle start, what may be asked of the floor, and the
//! floor's answer.

use super::{FloorModel, Next, Shop, Shown};
use crate::explore::contract::Word;
use crate::explore::world::Turns;
use chargehand_daemon::floor::happening::{Asked, By, Happening, Reading};
use chargehand_daemon::floor::permit::Epoch;
use chargehand_daemon::floor::sheet::{
    Approval, Article, Attendance, Findings, OperationFacts, Ops, Origin, SheetFacts,
};
use chargehand_daemon::floor::state::{Away, Presence, Slot, SpindleKind};
use chargehand_daemon::floor::{Outcome, Refusal, State, step};
use chargehand_types::card::ZZero;
use chargehand_types::checklist::ListKind;
use chargehand_types::stage::{Decision, Role};

impl FloorModel {
    /// A day that has come to where the first sheet waits for cycle start. Everything was heard at once.
    #[must_use]
    pub fn ready(mut self) -> Self {
        let owner = |what| Next::Acts(By::AtMachine(Role::Owner), what);
        self.before = vec![
            Next::Presence(Presence::Owner),
            Next::Says(Word::Up),
            Next::Quietly,
            Next::Shows(Shown::Ready),
            owner(Asked::BitFree),
            owner(Asked::Home),
            Next::Says(Word::Homed),
            owner(Asked::ConfirmZero),
            Next::Says(Word::HandDone),
            owner(Asked::SpindleSwitchedOff),
            Next::Due(Happening::RunDownDue),
            owner(Asked::SpindleStill),
            owner(Asked::TakeSheet(self.facts())),
            owner(Asked::Thickness(Reading::Inside)),
            owner(Asked::ListSigned(ListKind::Securing)),
            owner(Asked::BitFitted(Slot(0))),
            owner(Asked::ZZeroed),
            Next::Says(Word::HandDone),
            owner(Asked::ListSigned(ListKind::Tooling)),
            owner(Asked::ListSigned(ListKind::Ready)),
        ];
        if self.setup.spindle == SpindleKind::Controlled {
            self.before.insert(10, Next::SwitchesOff);
            self.before.insert(11, Next::Quietly);
        }
        self.before.extend(self.alone.then_some(Next::Away(Away::Allowed)));
        self
    }

    /// The facts of a sheet: every operation after those before it.
    fn facts(&self) -> SheetFacts {
        let operations = self.bits.iter().enumerate().map(|(i, bit)| OperationFacts {
            bit: Slot(*bit),
            attendance: if self.alone { Attendance::Unattended } else { Attendance::Attended },
            after: Ops::first(i),
        });
        SheetFacts {
            from: Origin::Queued,
            article: Article::First,
            approval: Approval::Given,
            z_on: ZZero::Top,
            operations: operations.collect(),
            done: Ops::NONE,
            findings: Findings::Clear,
            bit_in: None,
        }
    }

    pub(super) fn acts(&self, shop: &Shop) -> Vec<(By, Asked)> {
        let mut by_owner: Vec<Asked> = vec![
            Asked::Thickness(Reading::Inside),
            Asked::Thickness(Reading::Outside),
            Asked::SpindleSwitchedOff,
            Asked::SpindleSwitchedOn,
            Asked::BitFitted(Slot(0)),
            Asked::ZZeroed,
            Asked::FindingsSigned,
            Asked::CycleStart,
            Asked::Hold,
            Asked::HoldAtLift,
            Asked::Resume,
            Asked::Raise,
            Asked::Stop,
            Asked::Trouble,
            Asked::RedButton { pressed: true },
            Asked::RedButton { pressed: false },
            Asked::BitFree,
            Asked::Home,
            Asked::ConfirmZero,
            Asked::HandMove,
            Asked::PartsGraded,
        ];
        if self.bits.contains(&1) {
            by_owner.push(Asked::BitFitted(Slot(1)));
        }
        if shop.world.turns == Turns::No {
            // whoever looks sees what is
            by_owner.push(Asked::SpindleStill);
        }
        if shop.waiting > 0 {
            by_owner.push(Asked::TakeSheet(self.facts()));
        }
        by_owner.extend(ListKind::ALL.map(Asked::ListSigned));
        let decisions = [Decision::Next, Decision::ReEnter, Decision::Restart, Decision::SetAside, Decision::End];
        by_owner.extend(decisions.map(Asked::Decide));
        let mut acts: Vec<_> = by_owner.into_iter().map(|what| (By::AtMachine(Role::Owner), what)).collect();
        if self.helper {
            let helper = By::AtMachine(Role::Helper);
            acts.extend(
                [Asked::CycleStart, Asked::Resume, Asked::Decide(Decision::Restart)].map(|what| (helper, what)),
            );
        }
        acts.extend([Asked::Hold, Asked::Stop, Asked::CycleStart, Asked::Resume].map(|what| (By::Afar, what)));
        acts.extend([Asked::Hold, Asked::Stop, Asked::CycleStart].map(|what| (By::AtMachineNobody, what)));
        if self.alone {
            acts.extend([By::AtMachineNobody, By::Afar].map(|by| (by, Asked::StillThere)));
        }
        acts
    }

    /// The floor's answer, with the break where there is one.
    pub(super) fn answer(&self, before: &State, happening: &Happening, epoch: Epoch) -> Result<Outcome, Refusal> {
        let told = step(before, happening, epoch);
        match self.broken {
            Some(how) => how.spoil(before, happening, told),
            None => told,
        }
    }
}
