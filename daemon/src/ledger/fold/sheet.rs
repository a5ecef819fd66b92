//! One sheet's whole life, as the events tell it.
//!
//! May live here: the facts of a sheet and how each event changes them. May not: whether that was allowed.

use super::note_actor;
use chargehand_types::checklist::{ListForm, ListKind};
use chargehand_types::event::{Actor, Event, StopRecord, What};
use chargehand_types::history::{JointRecord, OperationRecord, TouchedAgain};
use chargehand_types::id::{BatchId, BitName, CardName, Revision, Seq, SheetId, StageVersion};
use chargehand_types::quantity::{Length, Metres, Seconds, Spot, Tick};
use chargehand_types::record::{Correction, Left, ReEntry};
use chargehand_types::stage::{Decision, Grade, HeldBy, Reason, Stage};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// A sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetState {
    /// Its id.
    pub id: SheetId,
    /// Its batch.
    pub batch: BatchId,
    /// Its number in the batch, from 1.
    pub number: u32,
    /// Its place among all sheets ever added, from 1.
    pub place: u64,
    /// Its card.
    pub card: CardName,
    /// Its revision.
    pub revision: Revision,
    /// Called off before it was begun.
    pub cancelled: bool,
    /// Where it is in its life.
    pub stage: Stage,
    /// The stage version of its last change.
    pub version: StageVersion,
    /// The operation at hand, from 0.
    pub operation: u32,
    /// Why it is held.
    pub held: Option<HeldBy>,
    /// What is known of the stop it stands in.
    pub stopped: Option<StopRecord>,
    /// When it was taken onto the machine.
    pub begun: Option<DateTime<Utc>>,
    /// When it was closed.
    pub closed: Option<DateTime<Utc>>,
    /// When its last finished operation ended.
    #[serde(default)]
    pub cut: Option<DateTime<Utc>>,
    /// When something last happened to it.
    pub last: DateTime<Utc>,
    /// Everybody who signed or started something on it, in order of first appearance.
    pub operators: Vec<Actor>,
    /// Lists signed, in order.
    pub lists: Vec<SignedList>,
    /// Caliper readings.
    pub thickness: Vec<Length>,
    /// Fastener places as made.
    pub fasteners: Vec<Spot>,
    /// One an operation that was begun.
    pub operations: Vec<OperationRecord>,
    /// Way each bit cut on it.
    pub bits: Vec<(BitName, Metres)>,
    /// Times it was stopped, and why.
    pub stops: Vec<StopRecord>,
    /// The operation at hand at each of them.
    #[serde(default)]
    pub stopped_in: Vec<u32>,
    /// Parts as graded, by index.
    pub parts: Vec<PartState>,
    /// How it came out.
    pub grade: Option<Grade>,
    /// What was written down.
    pub notes: Vec<NoteState>,
    /// The line at which the operation at hand goes on, as a person decided.
    #[serde(default)]
    pub re_enter: Option<u32>,
    /// Changes of feeds and rapids, in per cent.
    #[serde(default)]
    pub overrides: Vec<[Option<u16>; 2]>,
    /// Closing touches, in order.
    #[serde(default)]
    pub touched_again: Vec<TouchedAgain>,
    /// Time in each stage that it has left since it was first taken.
    #[serde(default)]
    pub spent: Vec<(Stage, Seconds)>,
    /// When it came to the stage it is in: on the wall, and in machine time as long as that runs on.
    #[serde(default)]
    pub entered: Option<(DateTime<Utc>, Option<Tick>)>,
    /// Joints measured on it; the last reading of a joint counts.
    #[serde(default)]
    pub joints: Vec<JointRecord>,
    /// Time that it stood at the machine and no operation has on its account yet.
    pub waited: Seconds,
    /// The record of its caliper readings.
    pub measured_in: Option<Seq>,
    /// The record that closed it.
    pub closed_in: Option<Seq>,
    /// What was corrected in it, oldest first.
    pub corrections: Vec<Correction>,
    /// From which lot its material is.
    pub lot: Option<String>,
    /// Operations that went on, or were cut again, after a stop.
    pub re_entries: Vec<ReEntry>,
    /// Tabs that held its parts; none before it was cut.
    pub tabs: Option<u32>,
    /// The largest rectangle that was left of it.
    pub left: Option<Left>,
    /// What became of that; none while it is there.
    pub left_gone: Option<String>,
}

/// Something written down about a sheet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NoteState {
    /// The record that holds it.
    pub record: Seq,
    /// In the person's words, as corrected.
    pub text: String,
}

/// A list that was signed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SignedList {
    /// Which.
    pub list: ListKind,
    /// In which form.
    pub form: ListForm,
    /// For which operation, where it belongs to one.
    pub operation: Option<String>,
    /// By whom.
    pub by: Option<Actor>,
    /// When.
    pub at: DateTime<Utc>,
}

/// A graded part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartState {
    /// Its index on the card, from 0.
    pub index: u32,
    /// Its name.
    pub name: String,
    /// How it came out.
    pub grade: Grade,
    /// Why it is not good.
    pub reason: Option<Reason>,
    /// In the person's words.
    pub note: Option<String>,
    /// The record that holds the grade.
    pub record: Seq,
}

impl SheetState {
    /// A sheet that waits.
    pub(super) fn queued(
        id: &SheetId,
        batch: &BatchId,
        card: &CardName,
        revision: &Revision,
        number: u32,
        place: u64,
        at: DateTime<Utc>,
    ) -> Self {
        Self {
            id: id.clone(),
            batch: batch.clone(),
            number,
            place,
            card: card.clone(),
            revision: revision.clone(),
            cancelled: false,
            stage: Stage::Queued,
            version: StageVersion::default(),
            operation: 0,
            held: None,
            stopped: None,
            begun: None,
            closed: None,
            cut: None,
            last: at,
            operators: Vec::new(),
            lists: Vec::new(),
            thickness: Vec::new(),
            fasteners: Vec::new(),
            operations: Vec::new(),
            bits: Vec::new(),
            stops: Vec::new(),
            parts: Vec::new(),
            grade: None,
            notes: Vec::new(),
            overrides: Vec::new(),
            joints: Vec::new(),
            re_enter: None,
            stopped_in: Vec::new(),
            touched_again: Vec::new(),
            spent: Vec::new(),
            entered: None,
            waited: Seconds::ZERO,
            measured_in: None,
            closed_in: None,
            corrections: Vec::new(),
            lot: None,
            re_entries: Vec::new(),
            tabs: None,
            left: None,
            left_gone: None,
        }
    }

    /// Whether it lies on the machine.
    #[must_use]
    pub const fn is_on_machine(&self) -> bool {
        match self.stage {
            Stage::Queued | Stage::SetAside | Stage::Closed => false,
            Stage::Securing
            | Stage::Tooling
            | Stage::Ready
            | Stage::Cutting
            | Stage::Held
            | Stage::Stopped
            | Stage::TakingOff
            | Stage::Checking => true,
        }
    }

    /// Names of the operations that were finished, in order of being begun.
    pub fn finished(&self) -> impl Iterator<Item = &str> {
        self.operations.iter().filter(|o| o.real.is_some()).map(|o| o.name.as_str())
    }

    /// Folds in an event that names this sheet.
    pub(super) fn apply(&mut self, event: &Event) {
        self.last = event.at;
        match &event.what {
            What::SheetStage { to, version, operation, held, stopped, .. } => {
                self.move_to(*to, event);
                self.version = *version;
                self.operation = *operation;
                self.held = *held;
                self.note_stop(stopped.as_ref(), *operation);
            }
            What::SheetSigned { list, form, operation } => {
                note_actor(&mut self.operators, event.actor.as_ref());
                self.lists.push(SignedList {
                    list: *list,
                    form: *form,
                    operation: operation.clone(),
                    by: event.actor.clone(),
                    at: event.at,
                });
            }
            What::FindingSigned { .. } => note_actor(&mut self.operators, event.actor.as_ref()),
            What::SheetDecided { decision, line } => {
                note_actor(&mut self.operators, event.actor.as_ref());
                self.re_enter = *line;
                if matches!(decision, Decision::ReEnter | Decision::Restart) {
                    let (by, at) = (event.actor.clone(), event.at);
                    self.re_entries.push(ReEntry { operation: self.operation, line: *line, by, at });
                }
            }
            What::JointMeasured { joint } => {
                self.joints.retain(|j| j.name != joint.name);
                self.joints.push(joint.clone());
            }
            What::SheetMeasured { thickness } => {
                self.thickness.clone_from(thickness);
                self.measured_in = Some(event.seq);
            }
            What::SheetLot { lot } => self.lot = Some(lot.clone()).filter(|lot| !lot.is_empty()),
            What::SheetRemains { tabs, left } => (self.tabs, self.left) = (Some(*tabs), *left),
            What::LeftGone { why } => self.left_gone = Some(why.clone()),
            What::SheetFastened { places, .. } => self.fasteners.clone_from(places),
            What::OperationStarted { operation, predicted, .. } => {
                note_actor(&mut self.operators, event.actor.as_ref());
                self.re_enter = None;
                self.begin_operation(operation, *predicted);
            }
            What::TouchedAgain { bit, off, suspect } => {
                note_actor(&mut self.operators, event.actor.as_ref());
                self.touched_again.push(TouchedAgain { bit: bit.clone(), off: *off, suspect: *suspect });
            }
            What::OperationFinished { .. } => {
                self.cut = Some(event.at);
                self.finish_operation(&event.what);
            }
            What::PartChecked { .. } => {
                note_actor(&mut self.operators, event.actor.as_ref());
                self.grade_part(&event.what, event.seq);
            }
            What::SheetClosed { grade, .. } => {
                self.leave_stage(event);
                self.stage = Stage::Closed;
                self.grade = Some(*grade);
                self.closed = Some(event.at);
                self.closed_in = Some(event.seq);
                self.held = None;
                self.stopped = None;
            }
            What::SheetNoted { text } => self.note(event.seq, text),
            What::RecordCorrected { seq, data, note } => self.correct(event, *seq, data, note),
            What::Overridden { feed, rapid } => self.overrides.push([*feed, *rapid]),
            What::StepAnswered { .. }
            | What::ArticleApproved { .. }
            | What::DayBegun { .. }
            | What::DaySigned { .. }
            | What::DayPassedOver { .. }
            | What::BitFitted { .. }
            | What::BitBegan { .. }
            | What::SheetBrought { .. }
            | What::UpkeepDone { .. }
            | What::BitMeasured { .. }
            | What::BitScrapped { .. }
            | What::ZeroSet { .. }
            | What::ZeroConfirmed
            | What::BoardRenewed
            | What::CautionsSigned { .. }
            | What::StillThereAsked { .. }
            | What::StillThereAnswered
            | What::MachineHomed
            | What::PositionLost { .. }
            | What::LinkUp { .. }
            | What::LinkDown { .. }
            | What::CallRaised { .. }
            | What::CallAnswered { .. }
            | What::PersonCame { .. }
            | What::PersonLeft { .. }
            | What::CardAdded { .. }
            | What::BatchAdded { .. }
            | What::StockCounted { .. }
            | What::PeopleChanged { .. }
            | What::BatchCancelled { .. }
            | What::DaemonStarted { .. } => {}
        }
    }

    fn move_to(&mut self, to: Stage, event: &Event) {
        if to != Stage::Queued && self.begun.is_none() {
            self.begun = Some(event.at);
        }
        if to == Stage::Closed {
            self.closed.get_or_insert(event.at);
        }
        if to != self.stage {
            self.leave_stage(event);
        }
        self.stage = to;
        if to == Stage::Cutting {
            // what it stood for until now is on the account of the operation just begun
            let waited = std::mem::take(&mut self.waited);
            match self.operations.iter_mut().rfind(|o| o.real.is_none()) {
                Some(begun) => begun.waiting += waited,
                None => self.waited = waited,
            }
        }
    }

    pub(super) fn note(&mut self, record: Seq, text: &str) {
        self.notes.push(NoteState { record, text: text.to_owned() });
    }

    /// Counts the time in the stage that is left now.
    fn leave_stage(&mut self, event: &Event) {
        let before = self.entered.replace((event.at, Some(event.tick)));
        let Some((at, tick)) = before else { return };
        let time = match tick.filter(|tick| *tick <= event.tick) {
            Some(tick) => event.tick.since(tick),
            // machine time began anew in between: the clock on the wall is what is left
            None => Seconds::of((event.at - at).as_seconds_f64().max(0.0)),
        };
        match self.stage {
            Stage::Securing | Stage::Tooling | Stage::Ready | Stage::Stopped => self.waited += time,
            Stage::Queued
            | Stage::Cutting
            | Stage::Held
            | Stage::SetAside
            | Stage::TakingOff
            | Stage::Checking
            | Stage::Closed => {}
        }
        match self.spent.iter_mut().find(|(stage, _)| *stage == self.stage) {
            Some((_, sum)) => *sum += time,
            None => self.spent.push((self.stage, time)),
        }
    }

    /// After a start of the daemon its machine time cannot be compared with what was before.
    pub(super) fn forget_tick(&mut self) {
        if let Some((_, tick)) = self.entered.as_mut().filter(|_| self.stage != Stage::Closed) {
            *tick = None;
        }
    }

    /// Whether there is one to forget.
    pub(super) fn has_tick(&self) -> bool {
        self.stage != Stage::Closed && matches!(self.entered, Some((_, Some(_))))
    }

    /// A stop is one record, however often what is known of it changes.
    fn note_stop(&mut self, now: Option<&StopRecord>, operation: u32) {
        if let Some(record) = now {
            match (&self.stopped, self.stops.last_mut()) {
                (Some(_), Some(last)) => *last = record.clone(),
                (None, _) | (_, None) => {
                    self.stops.push(record.clone());
                    self.stopped_in.push(operation);
                }
            }
        }
        self.stopped = now.cloned();
    }

    fn begin_operation(&mut self, name: &str, predicted: Seconds) {
        let waited = std::mem::take(&mut self.waited);
        match self.operations.iter_mut().find(|o| o.name == name) {
            Some(record) => {
                record.predicted = predicted;
                record.real = None;
                record.waiting += waited;
            }
            None => self.operations.push(OperationRecord {
                name: name.to_owned(),
                bit: None,
                predicted,
                real: None,
                held: Seconds::ZERO,
                cut: Metres::ZERO,
                number: None,
                waiting: waited,
                waiting_predicted: None,
            }),
        }
    }

    fn finish_operation(&mut self, what: &What) {
        if let What::OperationFinished { operation, bit, predicted, real, held, cut, number } = what {
            if !self.operations.iter().any(|o| o.name == *operation) {
                self.begin_operation(operation, *predicted);
            }
            if let Some(record) = self.operations.iter_mut().find(|o| o.name == *operation) {
                record.bit = Some(bit.clone());
                record.number = *number;
                record.predicted = *predicted;
                record.real = Some(*real);
                record.held = *held;
                record.cut = *cut;
            }
            match self.bits.iter_mut().find(|(b, _)| b == bit) {
                Some((_, sum)) => *sum += *cut,
                None => self.bits.push((bit.clone(), *cut)),
            }
        }
    }

    /// The last grade of a part counts.
    fn grade_part(&mut self, what: &What, record: Seq) {
        if let What::PartChecked { index, name, grade, reason, note } = what {
            let (name, note) = (name.clone(), note.clone());
            let part = PartState { index: *index, name, grade: *grade, reason: *reason, note, record };
            match self.parts.binary_search_by_key(index, |p| p.index) {
                Ok(there) => {
                    if let Some(old) = self.parts.get_mut(there) {
                        *old = part;
                    }
                }
                Err(gap) => self.parts.insert(gap, part),
            }
        }
    }
}
