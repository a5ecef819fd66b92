//! What would make a due time that the plan misses: somebody there longer, or fewer sheets.

use super::kernel::Kernel;
use super::model::{Hours, Problem, Unfit};
use super::order::Place;
use super::planner::{Evaluations, search};
use super::schedule::schedule;
use crate::calendar::{Window, Windows};
use chargehand_types::id::SheetId;
use chargehand_types::plan::{Minute, Minutes};

/// What would help.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Remedy {
    /// Somebody stays longer at the end of that window.
    Longer {
        /// The window as it is.
        window: Window,
        /// So much longer.
        by: Minutes,
    },
    /// These sheets are left out.
    Without(Vec<SheetId>),
}

/// Stays are tried in steps of ten minutes up to two hours.
const STEP_MIN: u32 = 10;
const STEPS: u32 = 12;
/// Windows looked at, those nearest the due time first.
const WINDOWS: usize = 5;
/// Sheets left out at most.
const SHEETS: usize = 4;

/// What would finish that sheet in time; `order` is the plan that misses it.
///
/// # Errors
/// When the problem contradicts itself, or a step fits no window at all.
pub fn remedies(
    problem: &Problem,
    order: &[Place],
    late: &SheetId,
    seed: u64,
    evaluations: u64,
) -> Result<Vec<Remedy>, Unfit> {
    let search = Search { problem, order, late, seed, evaluations };
    let mut found = Vec::new();
    found.extend(search.longer()?);
    found.extend(search.without()?);
    Ok(found)
}

struct Search<'a> {
    problem: &'a Problem,
    order: &'a [Place],
    late: &'a SheetId,
    seed: u64,
    evaluations: u64,
}

impl Search<'_> {
    /// Is the sheet in time in the best plan found?
    fn makes_it(&self, other: &Problem, from: Option<&[Place]>) -> Result<bool, Unfit> {
        let kernel = Kernel::new(other)?;
        let found = search(other, &kernel, from, self.seed, &mut Evaluations(self.evaluations));
        let schedule = schedule(other, &kernel, &found.order);
        let block = schedule.blocks.iter().find(|b| b.sheet == *self.late);
        Ok(block.is_some_and(|b| b.placed && other.sheets[b.number].due.is_none_or(|due| b.finish <= due)))
    }

    /// The shortest stay that does it, over the windows before the due time.
    fn longer(&self) -> Result<Option<Remedy>, Unfit> {
        let Some(due) = self.problem.sheets.iter().find(|s| s.id == *self.late).and_then(|s| s.due) else {
            return Ok(None);
        };
        let now = self.problem.now;
        let windows = self.problem.hours.hands.all().iter().filter(|w| w.to > now && w.to < due);
        let mut best: Option<(u32, Window)> = None;
        for window in windows.rev().take(WINDOWS) {
            let most = best.map_or(STEPS, |b| b.0 - 1);
            if let Some(steps) = self.shortest(*window, most)? {
                best = Some((steps, *window));
            }
        }
        Ok(best.map(|(steps, window)| Remedy::Longer { window, by: Minutes(steps * STEP_MIN) }))
    }

    /// The fewest steps of staying at the end of a window, by halving; nothing when `most` are too few.
    fn shortest(&self, window: Window, most: u32) -> Result<Option<u32>, Unfit> {
        let does = |steps: u32| self.makes_it(&self.staying(window, Minutes(steps * STEP_MIN)), Some(self.order));
        if most == 0 || !does(most)? {
            return Ok(None);
        }
        let (mut too_few, mut enough) = (0, most);
        while enough - too_few > 1 {
            let middle = u32::midpoint(too_few, enough);
            if does(middle)? {
                enough = middle;
            } else {
                too_few = middle;
            }
        }
        Ok(Some(enough))
    }

    fn staying(&self, window: Window, by: Minutes) -> Problem {
        let stay = Windows::of([(window.to, window.to.after(by))]);
        let hours = &self.problem.hours;
        let hours = Hours {
            hands: hours.hands.and(&stay),
            attended: hours.attended.and(&stay),
            alone: hours.alone.as_ref().map(|w| w.and(&stay)),
        };
        Problem { hours, ..self.problem.clone() }
    }

    /// The fewest sheets whose leaving out does it: those that matter least and are due last go first.
    fn without(&self) -> Result<Option<Remedy>, Unfit> {
        let matters = |sheet: &super::model::Sheet| (sheet.weight, sheet.due.unwrap_or(Minute(u32::MAX)));
        let place = |id: &SheetId| self.order.iter().position(|p| self.problem.sheets[usize::from(p.sheet)].id == *id);
        let own = place(self.late).unwrap_or(usize::MAX);
        let earlier = self.order.iter().take(own).skip(self.problem.frozen);
        let mut others: Vec<_> = earlier.map(|p| &self.problem.sheets[usize::from(p.sheet)]).collect();
        others.sort_by(|a, b| {
            let ((wa, da), (wb, db)) = (matters(a), matters(b));
            wa.total_cmp(&wb).then(db.cmp(&da))
        });
        for number in 1..=SHEETS.min(others.len()) {
            let gone: Vec<SheetId> = others[..number].iter().map(|s| s.id.clone()).collect();
            let mut fewer = self.problem.clone();
            fewer.sheets.retain(|s| !gone.contains(&s.id));
            if self.makes_it(&fewer, None)? {
                return Ok(Some(Remedy::Without(gone)));
            }
        }
        Ok(None)
    }
}
