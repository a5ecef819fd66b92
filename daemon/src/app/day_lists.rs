//! The lists of the day as they are walked: begun, answered, put down, finished. They belong to no sheet.
//!
//! May live here: one walk at a time and what an answer comes to. May not: when a list is due (`day_due`), what begins
//! without one (`floor`).

use super::acts::Said;
use super::day_due;
use super::foreman::{Foreman, Source, refused};
use super::interrupted::{Attention, LOOK_AGAIN};
use super::lists::{self, OFF};
use super::upkeep;
use super::work::ListRun;
use crate::floor::state::{DayLists, Motion};
use crate::floor::{Asked, AtStage, By, Happening, Refusal};
use crate::link::wire::TickSource;
use crate::shop::checklist::{Asks, Step as ListStep};
use chargehand_types::checklist::{DayListNow, ListForm, ListKind, StepAnswer};
use chargehand_types::event::{Actor, What};
use chargehand_types::now::{LinkNow, OfferedAct};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::stage::Role;
use chrono::NaiveDate;

/// The step that asks what the machine does.
const DOING: &str = "doing";

/// The list of the day under way, and what the owner passed over.
#[derive(Default)]
pub struct Day {
    /// The walk.
    pub run: Option<ListRun>,
    passed_over: Option<(NaiveDate, Vec<ListKind>)>,
}

impl Foreman {
    /// The lists of the day that are due now.
    pub(in crate::app) fn lists_due(&self) -> Vec<ListKind> {
        let zone = self.premises.config.hours.time_zone;
        let now = self.clock.wall();
        self.shared.fold.read().map(|f| day_due::due(&f, zone, now)).unwrap_or_default()
    }

    /// Tells the floor whether one is due.
    pub(in crate::app) async fn review_day(&mut self) {
        let lists = if self.lists_due().is_empty() { DayLists::Done } else { DayLists::Due };
        if self.floor.lists != lists {
            self.happens_by_itself(Happening::ListsChanged(lists)).await;
        }
    }

    /// Writes down that the owner began without lists that are due: once a day and set of lists.
    pub(in crate::app) async fn pass_over(&mut self, by: By, source: &Source) -> Result<(), Problem> {
        let lists = self.lists_due();
        let today = self.clock.wall().with_timezone(&self.premises.config.hours.time_zone).date_naive();
        let passed = Some((today, lists.clone()));
        if lists.is_empty() || by != By::AtMachine(Role::Owner) || self.day.passed_over == passed {
            return Ok(());
        }
        self.tell_of_shop(vec![What::DayPassedOver { lists }], source).await?;
        self.day.passed_over = passed;
        Ok(())
    }

    /// How the lists of the day stand.
    pub(in crate::app) fn day_lists_now(&self) -> Vec<DayListNow> {
        let due = self.lists_due();
        let lists = &self.premises.lists;
        let facts = self.facts();
        let Ok(fold) = self.shared.fold.read() else { return Vec::new() };
        let standing = |list: ListKind| {
            let state = fold.day().list(list);
            let signed = state.and_then(|s| s.signed.as_ref());
            let answered = state.map_or(0, |s| s.answered.len());
            let steps = lists.steps(list, ListForm::Full, &facts).len();
            let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
            DayListNow {
                list,
                title: lists.title(list).to_owned(),
                due: due.contains(&list).then(|| day_due::told(list)),
                by: signed.and_then(|(by, _)| by.as_ref()).map(|by| by.who.clone()),
                at: signed.map(|(_, at)| *at),
                left_off: (answered > 0).then(|| [number(answered), number(steps)]),
            }
        };
        ListKind::OF_DAY.map(standing).into()
    }

    /// What may be done with the lists of the day: those that are due come first.
    pub(in crate::app) fn day_offers(&self) -> (Vec<OfferedAct>, Vec<OfferedAct>) {
        let offered = |list: ListKind| match list {
            ListKind::Opening => Some(OfferedAct::Opening),
            ListKind::Closing => Some(OfferedAct::Closing),
            ListKind::HandOver => Some(OfferedAct::HandOver),
            ListKind::AfterPowerCut => Some(OfferedAct::AfterPowerCut),
            ListKind::Securing | ListKind::Tooling | ListKind::Ready | ListKind::TakingOff | ListKind::Checking => None,
        };
        if self.day.run.is_some() {
            return (vec![OfferedAct::LeaveList], Vec::new());
        }
        let due = self.lists_due();
        let rest = ListKind::OF_DAY.into_iter().filter(|l| !due.contains(l)).filter_map(offered).collect();
        (due.iter().copied().filter_map(offered).collect(), rest)
    }

    /// Begins a list of the day, or goes on with it.
    pub(in crate::app) async fn begin_list(
        &mut self,
        by: By,
        list: ListKind,
        source: &Source,
    ) -> Result<Said, Problem> {
        here(by)?;
        if !list.is_of_day() {
            let text = format!("The list `{}` belongs to a sheet and comes by itself.", list.word());
            return Err(Problem::new(ProblemKind::BadRequest, text));
        }
        let at_rest = matches!(self.floor.machine.motion, Motion::Still | Motion::Faulted | Motion::Unknown);
        if list != ListKind::HandOver && !at_rest && self.link == LinkNow::Up {
            let text = "The machine is at work. Walk this list when it stands and nothing is held.";
            return Err(Problem::new(ProblemKind::NotNow, text));
        }
        let facts = self.facts();
        let items: Vec<ListStep> =
            self.premises.lists.steps(list, ListForm::Full, &facts).into_iter().cloned().collect();
        let on = self.place_kept(list, &items, source.actor.as_ref());
        if on.is_none() {
            self.tell_of_shop(vec![What::DayBegun { list }], source).await?;
        }
        let note = on.map(|at| format!("You stopped at step {}. {LOOK_AGAIN}", at + 1));
        let title = self.premises.lists.title(list).to_owned();
        let put = lists::now();
        self.day.run = Some(ListRun {
            kind: list,
            form: ListForm::Full,
            title: title.clone(),
            items,
            at: on.unwrap_or(0),
            note,
            back: true,
            word: None,
            changed: None,
            put,
            attention: Attention::now(self.clock.now(), None),
        });
        self.version.0 += 1;
        Ok(Said::of(match on {
            Some(at) => format!("{title}: goes on at step {}.", at + 1),
            None => format!("{title}: from the first step."),
        }))
    }

    fn place_kept(&self, list: ListKind, items: &[ListStep], who: Option<&Actor>) -> Option<usize> {
        let steps: Vec<&str> = items.iter().map(|s| s.id.as_str()).collect();
        let fold = self.shared.fold.read().ok()?;
        let state = fold.day().list(list)?;
        let (by, at) = state.last.as_ref()?;
        let same = by.as_ref().map(|a| &a.who) == who.map(|a| &a.who);
        day_due::goes_on_at(&state.answered, &steps, self.clock.wall() - *at, same)
    }

    /// Puts the list under way down.
    pub(in crate::app) fn leave_list(&mut self) -> Result<Said, Problem> {
        let Some(run) = self.day.run.take() else {
            return Err(Problem::new(ProblemKind::NotNow, "No list of the day is under way."));
        };
        self.version.0 += 1;
        let (title, at, of) = (run.title, run.at + 1, run.items.len());
        Ok(Said::of(format!(
            "{title}: put down at step {at} of {of}. It goes on there for ten minutes, then from its start."
        )))
    }

    /// An answer to the step of the list under way.
    pub(in crate::app) async fn answer_of_day(
        &mut self,
        by: By,
        answer: StepAnswer,
        source: &Source,
    ) -> Result<Said, Problem> {
        here(by)?;
        let Some((kind, item)) = self.day.run.as_ref().and_then(|r| Some((r.kind, r.items.get(r.at)?.clone()))) else {
            return Err(Problem::new(ProblemKind::NotNow, "No list is being asked now."));
        };
        let expected = match &item.asks {
            Asks::Value(reading) => reading.expect.and_then(|e| self.facts().expected(e)),
            _ => None,
        };
        let wrong = self.judge_of_day(by, &item, &answer, source).await?;
        let taken = wrong.is_none();
        let kept_up = if taken { self.kept_up(&item, &answer) } else { Vec::new() };
        let step = What::StepAnswered { list: kind, form: ListForm::Full, step: item.id, answer, expected, taken };
        let last = self.day.run.as_ref().is_some_and(|r| r.at + 1 >= r.items.len());
        let signed = (taken && last).then_some(What::DaySigned { list: kind });
        let told = [step].into_iter().chain(kept_up).chain(signed).collect();
        self.tell_of_shop(told, source).await?;
        self.version.0 += 1;
        let Some(run) = &mut self.day.run else { return Ok(Said::of("Taken.")) };
        run.note.clone_from(&wrong);
        run.back = false;
        if let Some(note) = wrong {
            return Ok(Said::of(note));
        }
        if last {
            let title = run.title.clone();
            self.day.run = None;
            return Ok(Said::of(format!("{title} is complete.")));
        }
        run.at += 1;
        run.put = lists::now();
        self.attended();
        Ok(Said::of("Taken."))
    }

    /// What of the upkeep an answer says is done.
    fn kept_up(&self, item: &ListStep, answer: &StepAnswer) -> Vec<What> {
        let says = matches!(answer, StepAnswer::Choice { key } if item.id == upkeep::STEP && key == upkeep::STEP_DONE);
        let Some(fold) = self.shared.fold.read().ok().filter(|_| says) else { return Vec::new() };
        let rows = upkeep::rows(&self.premises.config.upkeep, &fold, self.clock.wall());
        rows.into_iter().filter(|row| row.due).map(|row| What::UpkeepDone { name: row.name }).collect()
    }

    /// What is wrong with an answer; none when the list goes on.
    async fn judge_of_day(
        &mut self,
        by: By,
        item: &ListStep,
        answer: &StepAnswer,
        source: &Source,
    ) -> Result<Option<String>, Problem> {
        if let Err(note) = item.judge(answer, &self.facts()) {
            return Ok(Some(note));
        }
        match (&item.asks, answer) {
            (Asks::Choose { .. }, StepAnswer::Choice { key }) if item.id == DOING => Ok(self.sees_otherwise(key)),
            (Asks::Confirm, _) if item.id == OFF => self.said(by, Asked::SpindleSwitchedOff, source).await,
            (Asks::RunDown, _) => self.said(by, Asked::SpindleStill, source).await,
            _ => Ok(None),
        }
    }

    async fn said(&mut self, by: By, what: Asked, source: &Source) -> Result<Option<String>, Problem> {
        self.happen(Happening::Act { by, what }, source.clone(), Vec::new()).await?;
        Ok(None)
    }

    /// What a person sees the machine do, held against what the controller says. A controller that does not answer
    /// says nothing.
    fn sees_otherwise(&self, seen: &str) -> Option<String> {
        let held = matches!(self.floor.at(), Some(AtStage::Held(_)));
        let known = match self.floor.machine.motion {
            Motion::Unknown => return None,
            Motion::Held => "held",
            Motion::Still | Motion::Faulted if held => "held",
            Motion::Still | Motion::Faulted => "still",
            Motion::Homing
            | Motion::Hand
            | Motion::Program
            | Motion::HoldAsked(_)
            | Motion::LiftAsked
            | Motion::Raising
            | Motion::Stopping => "moving",
        };
        (seen != known).then(|| {
            "The controller says otherwise. Look at the machine again; if it stays so, say that something is wrong."
                .to_owned()
        })
    }
}

/// Lists of the day are walked by somebody signed in at the machine.
fn here(by: By) -> Result<(), Problem> {
    match by {
        By::AtMachine(_) => Ok(()),
        By::AtMachineNobody => Err(refused(Refusal::NobodyHere)),
        By::Afar => Err(refused(Refusal::FromAfar)),
    }
}
