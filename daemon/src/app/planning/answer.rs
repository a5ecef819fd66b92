//! A plan in the words of the API.

use super::intake::Intake;
use super::{Effort, Kept, Question, SEED, STAY, with_visits};
use crate::calendar::{Reach, Span, Windows};
use crate::dayplan::{self, Doing, Plan, Problem, Reason, Remedy, Rule, Schedule, Unfit, Visit};
use chargehand_types::SCHEMA;
use chargehand_types::id::SheetId;
use chargehand_types::plan::{
    Change, DayPlan, Help, Measure, Minute, Minutes, Missed, Needed, PlannedSheet, PlannedStep, Proof, Stretch, Task,
    Unplanned, Why, Work,
};
use std::collections::BTreeSet;

/// Shorter free times are not worth telling.
const FREE_LEAST: Minutes = Minutes(10);
/// Late sheets for which a remedy is looked for, the latest first.
const REMEDIES: usize = 2;
/// Evaluations each time a remedy is tried.
const REMEDY_EVALUATIONS: u64 = 4000;

/// A plan and what it was made of.
pub(super) struct Told<'a> {
    pub question: &'a Question,
    pub intake: &'a Intake,
    pub reach: &'a Reach,
    pub span: Span,
    pub problem: &'a Problem,
    pub plan: &'a Plan,
}

impl Told<'_> {
    pub fn day_plan(&self, unfit: &[(SheetId, Unfit)], before: Option<&Kept>) -> Result<DayPlan, String> {
        let (schedule, visits) = with_visits(self.problem, self.plan);
        let reasons = dayplan::reasons(self.problem, &self.plan.order).map_err(|e| e.to_string())?;
        let by_list = dayplan::by_rule(self.problem, Rule::DueFirstSameBit).map_err(|e| e.to_string())?;
        let placed = |s: &Schedule, n: usize| s.blocks[n].placed;
        let sheets: Vec<PlannedSheet> = (0..schedule.blocks.len())
            .filter(|n| placed(&schedule, *n))
            .map(|n| self.sheet(&schedule, n, &reasons[n]))
            .collect();
        let last = schedule.blocks.iter().filter(|b| b.placed).map(|b| b.finish).max().unwrap_or(self.problem.now);
        let visits: Vec<Visit> = visits.into_iter().filter(|v| v.to <= last).collect();
        let shown = |windows: &Windows| self.stretches(&windows.within(self.problem.now, day_after(last)));
        Ok(DayPlan {
            schema: SCHEMA,
            at: self.question.now,
            time_zone: self.question.config.hours.time_zone.name().to_owned(),
            until: self.span.instant(self.span.end()),
            supposed: self.question.supposed.asked.clone(),
            proof: match self.plan.proof {
                dayplan::Proof::Best => Proof::Best,
                dayplan::Proof::Searched => Proof::Searched,
                dayplan::Proof::CutShort => Proof::CutShort,
            },
            measure: self.measure(&schedule),
            by_due_date: self.measure(&dayplan::merged(self.problem, &by_list, STAY)),
            needed: self.needed(&schedule, &visits),
            free: self.free(&visits, last),
            presence: shown(&self.reach.presence),
            quiet: shown(&self.reach.quiet),
            unplanned: self.unplanned(&schedule, unfit),
            missed: self.missed(&sheets)?,
            changes: before.map_or_else(Vec::new, |b| changes(b, &sheets)),
            sets: self.intake.sets.clone(),
            stock: self.intake.stock.clone(),
            pace: self.intake.known.pace,
            hands: self.intake.known.hands.clone(),
            changed: None,
            sheets,
        })
    }

    fn measure(&self, schedule: &Schedule) -> Measure {
        let visits = dayplan::visits(schedule, STAY).len();
        Measure {
            weighted_tardiness_min: schedule.objective.weighted_tardiness(),
            finish: (!schedule.blocks.is_empty()).then(|| self.span.instant(schedule.objective.finish)),
            calls: u32::try_from(visits).unwrap_or(u32::MAX),
            bit_changes: schedule.objective.changes,
        }
    }

    fn sheet(&self, schedule: &Schedule, number: usize, reason: &Reason) -> PlannedSheet {
        let block = &schedule.blocks[number];
        let known = self.intake.sheets.iter().find(|s| s.id == block.sheet);
        let start = block.steps.first().map_or(block.finish, |s| s.start);
        let finish = self.span.instant(block.finish);
        let late = known.and_then(|k| k.due).map_or(0, |due| finish.signed_duration_since(due).num_minutes());
        let steps = block.steps.iter().map(|s| PlannedStep {
            work: work(&s.doing),
            from: self.span.instant(s.start),
            to: self.span.instant(s.end),
            person: s.doing.needs_person(),
        });
        PlannedSheet {
            sheet: block.sheet.clone(),
            card: known.map_or_else(|| "".into(), |k| k.card.clone()),
            due: known.and_then(|k| k.due),
            start: self.span.instant(start),
            finish,
            late: Minutes(u32::try_from(late).unwrap_or(0)),
            why: why(reason, known.is_some_and(|k| k.on_machine)),
            steps: steps.collect(),
        }
    }

    fn stretches(&self, windows: &Windows) -> Vec<Stretch> {
        windows.all().iter().map(|w| self.stretch(w.from, w.to)).collect()
    }

    fn stretch(&self, from: Minute, to: Minute) -> Stretch {
        Stretch { from: self.span.instant(from), to: self.span.instant(to) }
    }

    /// The visits, each with the range its start may well fall in: what cuts take more or less adds up, and a wait takes
    /// it back.
    fn needed(&self, schedule: &Schedule, visits: &[Visit]) -> Vec<Needed> {
        let mut needed = Vec::new();
        let (mut early, mut late, mut end) = (0.0, 0.0_f64, self.problem.now);
        let mut next = visits.iter().peekable();
        for (b, block) in schedule.blocks.iter().enumerate() {
            for (s, step) in block.steps.iter().enumerate() {
                let wait = step.start.since(end);
                if wait > Minutes(0) {
                    early = 0.0;
                    late = (late - f64::from(wait.0)).max(0.0);
                }
                if let Some(visit) = next.next_if(|v| v.steps.first() == Some(&(b, s))) {
                    needed.push(self.need(schedule, visit, early, late));
                }
                let spread = self.intake.known.spread(&step.doing);
                let took = f64::from(step.end.since(step.start).0);
                (early, late, end) = (early + spread.early * took, late + spread.late * took, step.end);
            }
        }
        needed
    }

    fn need(&self, schedule: &Schedule, visit: &Visit, early: f64, late: f64) -> Needed {
        let from = Minute(visit.from.0.saturating_sub(whole(early))).max(self.problem.now);
        let tasks = visit.steps.iter().map(|(block, step)| {
            let block = &schedule.blocks[*block];
            Task { sheet: block.sheet.clone(), work: work(&block.steps[*step].doing) }
        });
        Needed {
            from: self.span.instant(visit.from),
            between: self.stretch(from, visit.from.after(Minutes(whole(late)))),
            to: self.span.instant(visit.to),
            minutes: visit.to.since(visit.from),
            tasks: tasks.collect(),
        }
    }

    fn free(&self, visits: &[Visit], last: Minute) -> Vec<Stretch> {
        let needed = Windows::of(visits.iter().map(|v| (v.from, v.to)));
        let there = self.reach.presence.within(self.problem.now, last);
        let free = there.without(&needed);
        let long = free.all().iter().filter(|w| w.to.since(w.from) >= FREE_LEAST);
        long.map(|w| self.stretch(w.from, w.to)).collect()
    }

    fn unplanned(&self, schedule: &Schedule, unfit: &[(SheetId, Unfit)]) -> Vec<Unplanned> {
        let left_out = self.intake.left_out.iter().map(|(sheet, reason)| (sheet.clone(), reason.clone()));
        let unfit = unfit.iter().map(|(sheet, fault)| (sheet.clone(), fault.to_string()));
        let beyond = schedule.blocks.iter().filter(|b| !b.placed).map(|b| {
            let days = self.span.days;
            (b.sheet.clone(), format!("the next {days} days have no room for it"))
        });
        left_out.chain(unfit).chain(beyond).map(|(sheet, reason)| Unplanned { sheet, reason }).collect()
    }

    fn missed(&self, sheets: &[PlannedSheet]) -> Result<Vec<Missed>, String> {
        let mut late: Vec<&PlannedSheet> = sheets.iter().filter(|s| s.late > Minutes(0)).collect();
        late.sort_by_key(|s| std::cmp::Reverse(s.late));
        let mut missed = Vec::new();
        for (number, sheet) in late.into_iter().enumerate() {
            let found = if number < REMEDIES && self.question.effort == Effort::Whole {
                dayplan::remedies(self.problem, &self.plan.order, &sheet.sheet, SEED, REMEDY_EVALUATIONS)
                    .map_err(|e| e.to_string())?
            } else {
                Vec::new()
            };
            let would_help = found.into_iter().map(|r| match r {
                Remedy::Longer { window, by } => Help::Longer { after: self.span.instant(window.to), minutes: by },
                Remedy::Without(sheets) => Help::Without { sheets },
            });
            missed.push(Missed { sheet: sheet.sheet.clone(), late: sheet.late, would_help: would_help.collect() });
        }
        Ok(missed)
    }
}

fn day_after(minute: Minute) -> Minute {
    minute.after(Minutes(24 * 60))
}

fn whole(minutes: f64) -> u32 {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of a plan's minutes")]
    let whole = minutes.clamp(0.0, 1.0e6).round() as u32;
    whole
}

fn work(doing: &Doing) -> Work {
    match doing {
        Doing::Load => Work::Load,
        Doing::BitChange(bit) => Work::BitChange { bit: bit.clone() },
        Doing::Cut { operation, .. } => Work::Cut { operation: operation.clone() },
        Doing::Cleanup => Work::TakeOff,
    }
}

fn why(reason: &Reason, on_machine: bool) -> Why {
    match reason {
        Reason::Kept if on_machine => Why::OnMachine,
        Reason::Kept => Why::AboutToStart,
        Reason::LateOtherwise { before, more } => Why::LateOtherwise { before: before.clone(), weighted_min: *more },
        Reason::LongerOtherwise { before, by } => Why::LongerOtherwise { before: before.clone(), minutes: *by },
        Reason::SameBit { before } => Why::SameBit { before: before.clone() },
        Reason::Either { before } => Why::Either { before: before.clone() },
        Reason::Last => Why::Last,
    }
}

/// What is otherwise than before, by more than a minute.
fn changes(before: &Kept, sheets: &[PlannedSheet]) -> Vec<Change> {
    let mut changes = Vec::new();
    for new in sheets {
        let sheet = new.sheet.clone();
        let Some(old) = before.sheets.iter().find(|s| s.0 == new.sheet) else {
            changes.push(Change::New { sheet });
            continue;
        };
        let by = new.finish.signed_duration_since(old.2).num_minutes();
        let minutes = Minutes(u32::try_from(by.abs()).unwrap_or(u32::MAX));
        match by {
            2.. => changes.push(Change::Later { sheet, minutes }),
            ..=-2 => changes.push(Change::Sooner { sheet, minutes }),
            _ => {}
        }
    }
    let now: BTreeSet<&SheetId> = sheets.iter().map(|s| &s.sheet).collect();
    let gone = before.sheets.iter().filter(|s| !now.contains(&s.0));
    changes.extend(gone.map(|s| Change::Gone { sheet: s.0.clone() }));
    changes
}
