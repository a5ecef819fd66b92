//! Upkeep: what is due, asked in the opening list, told by the doctor, and written down when it is done.
//!
//! May live here: those. May not: how far the machine has run; that is the ledger's.

use super::desk::FrontDesk;
use crate::api::Answer;
use crate::api::desk::Caller;
use crate::ledger::State as Fold;
use crate::shop::config::Upkeep;
use chargehand_types::SCHEMA;
use chargehand_types::event::What;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::queue::{Done, Look, Verdict};
use chargehand_types::upkeep::{UpkeepDone, UpkeepList, UpkeepRow};
use chrono::{DateTime, Utc};

/// The step of the opening list that asks whether what is due was done, and its answer.
pub const STEP: &str = "upkeep-due";
pub const STEP_DONE: &str = "done";

/// Everything to be kept up, in the order of config.
#[must_use]
pub fn rows(all: &[Upkeep], fold: &Fold, now: DateTime<Utc>) -> Vec<UpkeepRow> {
    let state = fold.upkeep();
    let row = |of: &Upkeep| {
        let (ran, cut, passed) = state.since(&of.name, now);
        let beside = |since: f64, every: Option<f64>| every.map(|every| [since, every]);
        let hours = beside(ran.value() / 3600.0, of.every_hours);
        let metres = beside(cut.value(), of.every_metres);
        let days = beside(passed, of.every_days);
        let due = [hours, metres, days].into_iter().flatten().any(|[since, every]| since >= every);
        let done = state.done.get(&of.name).map(|done| (done.by.clone(), done.at));
        UpkeepRow { name: of.name.clone(), what: of.what.clone(), hours, metres, days, due, done }
    };
    all.iter().map(row).collect()
}

/// How far past something is, as words.
fn since(row: &UpkeepRow) -> String {
    let units = [(row.hours, "h in motion"), (row.metres, "m of cut"), (row.days, "days")];
    let told = units.into_iter().filter_map(|(of, unit)| {
        let [since, every] = of?;
        (since >= every).then(|| format!("{since:.0} {unit} of {every:.0}"))
    });
    told.collect::<Vec<_>>().join(", ")
}

/// What is due, one sentence each.
#[must_use]
pub fn due(rows: &[UpkeepRow]) -> Vec<String> {
    rows.iter().filter(|row| row.due).map(|row| format!("{} ({})", row.what, since(row))).collect()
}

/// What the doctor says of it; nothing where the shop names none.
#[must_use]
pub fn looks(rows: &[UpkeepRow]) -> Vec<Look> {
    let look = |verdict, text: String| Look { what: "upkeep".to_owned(), verdict, text };
    let due: Vec<Look> = rows
        .iter()
        .filter(|row| row.due)
        .map(|row| {
            let text = format!("{}: {}. Once it is done: chargehand upkeep done {}", row.what, since(row), row.name);
            look(Verdict::Word, text)
        })
        .collect();
    match (rows.len(), due.is_empty()) {
        (0, _) => Vec::new(),
        (n, true) => vec![look(Verdict::Fine, format!("nothing is due of {n} things that are kept up"))],
        (_, false) => due,
    }
}

impl FrontDesk {
    /// Everything to be kept up.
    ///
    /// # Errors
    /// When the state cannot be read.
    pub(super) fn upkeep_now(&self) -> Answer<UpkeepList> {
        let (all, now) = (&self.premises.config.upkeep, self.wall());
        Ok(UpkeepList { schema: SCHEMA, upkeep: self.fold(|f| rows(all, f, now))? })
    }

    /// Writes down that something was done.
    ///
    /// # Errors
    /// When the shop has no such upkeep, or nobody is known who did it.
    pub(super) async fn upkeep_was_done(&self, caller: Caller, name: String, request: UpkeepDone) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let all = &self.premises.config.upkeep;
        if !all.iter().any(|of| of.name == name) {
            let known: Vec<&str> = all.iter().map(|of| of.name.as_str()).collect();
            let known = if known.is_empty() { "daemon.toml has no [[upkeep]]".to_owned() } else { known.join(", ") };
            let text = format!("There is no upkeep `{}`; there is: {known}.", name.escape_debug());
            return Err(Problem::new(ProblemKind::NotFound, text));
        }
        let by = self.sayer(&caller)?;
        let said = format!("{name} is done, by {}; it counts from here.", by.who);
        let done =
            Done { schema: SCHEMA, said, id: Some(name.clone()), revision: None, findings: Vec::new(), changes: None };
        let draft = self.draft(&request.command_id, What::UpkeepDone { name }).by(by);
        self.record(draft, request.command_id, done).await
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_over_is_told_and_nothing_else() {
        let row = |hours, days| UpkeepRow {
            name: "drive".into(),
            what: "Rails wiped".into(),
            hours,
            metres: None,
            days,
            due: true,
            done: None,
        };
        let told = due(&[row(Some([41.2, 40.0]), Some([3.0, 90.0]))]);
        assert_eq!(told, ["Rails wiped (41 h in motion of 40)"]);
        let looks = looks(&[UpkeepRow { due: false, ..row(Some([1.0, 40.0]), None) }]);
        assert_eq!((looks.len(), looks[0].verdict), (1, Verdict::Fine));
    }
}
