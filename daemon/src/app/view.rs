//! How things stand, for the Now screen: read from the floor, the fold and the link.

use super::foreman::Foreman;
use super::wording;
use crate::api::desk::Caller;
use crate::floor::sheet::{Raise, RedButton};
use crate::floor::state::{Motion, Position, Spindle, SpindleKind, Way, WorkZero};
use crate::floor::{AtStage, BitAt, By, decisions, offers};
use crate::link::wire::TickSource;
use crate::shop::config::Port;
use crate::shop::profile::HoldTakes;
use chargehand_types::SCHEMA;
use chargehand_types::id::{BitName, Person};
use chargehand_types::now::{
    GradedPart, HeldNow, MachineNow, Now, Offer, OfferedAct, OperationNow, PersonHere, SheetNow, StoppedNow,
};
use chargehand_types::quantity::Seconds;
use chargehand_types::stage::Role;

impl Foreman {
    /// Everything the Now screen shows to whoever asks.
    pub(in crate::app) fn now_view(&self, caller: &Caller) -> Now {
        let machine = self.machine_now();
        let sheet = self.sheet_now(caller);
        let (people, calls, waiting, next_sheet) = self
            .shared
            .fold
            .read()
            .map(|f| {
                let waiting = u32::try_from(f.waiting().len()).unwrap_or(u32::MAX);
                (f.people().to_vec(), f.calls().cloned().collect(), waiting, self.shared.next_sheet(&f))
            })
            .unwrap_or_default();
        let headline = wording::headline(&machine, sheet.as_ref(), waiting);
        let at = self.clock.wall();
        Now {
            schema: SCHEMA,
            seq: self.seq(),
            version: self.version,
            at,
            machine,
            people,
            staff: self.staff(),
            pins: self.shared.keeper.pins(),
            sheet,
            headline,
            task: self.task(),
            actions: self.actions(self.by(caller), waiting),
            waiting,
            next_sheet,
            calls,
            notices: self.notices(),
            lists: self.day_lists_now(),
            away: self.away_now(),
            to_approve: self.to_approve(),
        }
    }

    fn staff(&self) -> Vec<PersonHere> {
        let known = |(who, role): (&Person, Role)| PersonHere { who: who.clone(), role };
        self.shared.keeper.book(|b| b.people().map(known).collect())
    }

    fn notices(&self) -> Vec<String> {
        let mut notices: Vec<String> = self.undone.iter().cloned().collect();
        let config = &self.premises.config;
        if config.machine.port == Port::Simulated {
            notices.push(wording::PRACTICE.to_owned());
        }
        if self.premises.profile.keys.hold == HoldTakes::AfterBuffer {
            notices.push(wording::AFTER_BUFFER.to_owned());
        }
        if !self.slows_rapids() {
            notices.push(wording::RAPIDS_STAY.to_owned());
        }
        if config.bench.scripted_operator {
            notices.push(wording::SCRIPTED.to_owned());
        }
        if self.away_now().is_some_and(|a| !a.signed) {
            notices.push(wording::CAUTIONS_UNSIGNED.to_owned());
        }
        if let Some(trouble) = self.store_trouble() {
            notices.push(format!("Nothing can be written down: {trouble}"));
        }
        notices
    }

    fn actions(&self, by: By, waiting: u32) -> Vec<Offer> {
        let mut actions: Vec<Offer> = offers(&self.floor, by)
            .into_iter()
            .filter(|(act, _)| *act != OfferedAct::TakeSheet || waiting > 0)
            .map(|(act, refused)| Offer {
                act,
                text: wording::offer(act).to_owned(),
                refused: refused.map(|r| r.to_string()),
            })
            .collect();
        if let Err(soon) = self.at_speed() {
            let resume = actions.iter_mut().find(|o| o.act == OfferedAct::Resume && o.refused.is_none());
            resume.into_iter().for_each(|o| o.refused = Some(soon.to_string()));
        }
        if matches!(by, By::AtMachine(_)) {
            let (first, last) = self.day_offers();
            let offer = |act| Offer { act, text: wording::offer(act).to_owned(), refused: None };
            if self.day.run.is_some() && !actions.iter().any(|o| o.act == OfferedAct::Answer) {
                actions.insert(0, offer(OfferedAct::Answer));
            }
            // the owner who took a sheet before the shop was opened is not asked again at every step
            let later = by == By::AtMachine(Role::Owner) && self.floor.sheet.is_some();
            let (before, after): (Vec<_>, Vec<_>) =
                first.into_iter().partition(|act| !later || *act != OfferedAct::Opening);
            actions.splice(0..0, before.into_iter().map(offer));
            if self.to_approve().is_some() {
                let refused = super::article::owner(by).err().map(|why| why.to_string());
                actions.push(Offer { refused, ..offer(OfferedAct::ApproveArticle) });
            }
            actions.extend(after.into_iter().chain(last).map(offer));
        }
        let calls = self.shared.fold.read().map(|f| f.calls().count()).unwrap_or_default();
        if calls > 0 {
            let text = wording::offer(OfferedAct::AnswerCall).to_owned();
            actions.push(Offer { act: OfferedAct::AnswerCall, text, refused: None });
        }
        actions
    }

    fn machine_now(&self) -> MachineNow {
        let config = &self.premises.config.machine;
        let m = &self.floor.machine;
        let run_down_left = match m.spindle {
            Spindle::MayTurn => None,
            Spindle::RunningDown => self.run_down_until.map(|t| t.since(self.clock.now())),
            Spindle::Off | Spindle::Still => Some(Seconds::ZERO),
        };
        let bit = m.bit.and_then(|slot| {
            let slots = self.work.as_ref()?.judged.slots();
            slots.get(usize::from(slot.0)).cloned().map(BitName)
        });
        MachineNow {
            name: config.name.clone(),
            link: self.link.clone(),
            practice: config.port == Port::Simulated,
            rate: self.clock.rate(),
            position_known: m.position == Position::Known,
            zero_confirmed: m.zero == WorkZero::Confirmed,
            motion: m.motion.shown(),
            at: self.controller.and_then(|c| c.work),
            feed: self.controller.and_then(|c| c.feed),
            bit,
            manual_spindle: m.setup.spindle == SpindleKind::Manual,
            run_down_left,
            red_button: config.red_button.clone(),
            per_cent: self.controller.and_then(|c| c.per_cent),
            stops_after: self.stops_after(),
        }
    }

    /// How long a hold waits behind what the controller already holds.
    fn stops_after(&self) -> Option<Seconds> {
        let waits = self.premises.profile.keys.hold == HoldTakes::AfterBuffer;
        let motion = self.floor.machine.motion;
        if !waits || !(motion.is_program() || matches!(motion, Motion::HoldAsked(_))) {
            return None;
        }
        let at = self.feeding.as_ref()?.reached;
        Some(self.times()?.between(at.done.unwrap_or(0), at.sent.unwrap_or(0)))
    }

    fn sheet_now(&self, caller: &Caller) -> Option<SheetNow> {
        let work = self.work.as_ref()?;
        let on = self.floor.sheet.as_ref()?;
        let fold = self.shared.fold.read().ok()?;
        let sheet = fold.sheet(&work.sheet)?;
        let batch = fold.batch(&sheet.batch);
        let order = work.judged.in_order();
        let now = self.clock.now();
        let held = match &on.at {
            AtStage::Held(h) => Some(HeldNow {
                by: h.by,
                seconds: work.held_since.map(|t| now.since(t)).unwrap_or_default(),
                bit_in_cut: h.bit == BitAt::MaybeInCut,
                raised: h.raise == Raise::Done,
            }),
            _ => None,
        };
        let stopped = match &on.at {
            AtStage::Stopped(s) => work.stop.clone().map(|record| StoppedNow {
                record,
                red_button: s.red_button.map(|r| r == RedButton::Pressed),
                bit_free: self.floor.machine.way == Way::SaidClear,
                choices: decisions(&self.floor, self.by(caller)),
                enter_line: work.proposed.flatten().map(|clear| clear.line),
                enter_at: work.proposed.flatten().map(|clear| clear.at),
            }),
            _ => None,
        };
        Some(SheetNow {
            id: work.sheet.clone(),
            card: work.judged.card.name.clone(),
            revision: work.judged.revision().clone(),
            title: work.judged.card.title.clone(),
            batch: sheet.batch.clone(),
            number: sheet.number,
            of: batch.map_or(0, |b| u32::try_from(b.sheets.len()).unwrap_or(u32::MAX)),
            stage: on.at.stage(),
            first: work.form == chargehand_types::checklist::ListForm::Full,
            operation: self.operation_now(),
            done: order
                .iter()
                .enumerate()
                .filter(|(i, _)| u8::try_from(*i).is_ok_and(|i| on.done.contains(i)))
                .map(|(_, o)| o.name.clone())
                .collect(),
            held,
            stopped,
            thickness: work.thickness,
            to_sign: {
                drop(fold);
                self.to_sign()
            },
            graded: self.graded(),
        })
    }

    fn graded(&self) -> Vec<GradedPart> {
        let Some(work) = &self.work else { return Vec::new() };
        let fold = self.shared.fold.read();
        fold.ok().and_then(|f| f.sheet(&work.sheet).map(|s| s.record().parts)).unwrap_or_default()
    }

    fn operation_now(&self) -> Option<OperationNow> {
        let work = self.work.as_ref()?;
        let on = self.floor.sheet.as_ref()?;
        if on.done == crate::floor::Ops::first(on.operations.len()) {
            return None;
        }
        let operation = work.operation(on.operation)?;
        let index = work.judged.index_on_card(&operation.name)?;
        let report = work.judged.judged.report.operations.iter().find(|o| o.name == operation.name)?;
        let (progress, left) = self.progress();
        let line = self.feeding.as_ref().and_then(|f| f.reached.cutting);
        let chain = self.floor.chain().into_iter().filter_map(|p| Some(work.operation(p)?.name.clone())).collect();
        Some(OperationNow {
            name: operation.name.clone(),
            index: u32::from(on.operation),
            of: u32::try_from(on.operations.len()).unwrap_or(u32::MAX),
            bit: BitName(operation.bit.clone()),
            bit_kind: self.premises.stores.bits.get(&operation.bit).map(|b| b.kind),
            bit_title: self.premises.stores.bits.get(&operation.bit).map(|b| b.title.clone()).unwrap_or_default(),
            chain,
            predicted: report.seconds,
            progress,
            left,
            lines: report.lines,
            line,
            next_lift: self.next_lift(index, line),
            prompt: work.prompt.clone(),
        })
    }

    /// Machine seconds until the next lift after a line.
    fn next_lift(&self, index: usize, line: Option<u32>) -> Option<Seconds> {
        let line = line?;
        let work = self.work.as_ref()?;
        let lifts = &work.judged.traits.get(index)?.lifts;
        let next = *lifts.get(lifts.partition_point(|l| *l < line))?;
        let times = self.times()?;
        Some(times.between(line.saturating_sub(1), next))
    }
}
