//! The guide through a first sheet in the practice shop: what a person does at a real machine, and what to press here.
//!
//! May live here: which hint stands beside which step. May not: its words (the message file), anything on a real machine.

use super::answering;
use super::model::Model;
use crate::words::say;
use chargehand_types::checklist::{Ask, Task};
use chargehand_types::id::SheetId;
use chargehand_types::now::{Now, OfferedAct};
use chargehand_types::quantity::plain;
use chargehand_types::stage::{Role, Stage};

/// Nearer than this the bit pinches a sheet of paper, in mm.
const PAPER_MM: f64 = 0.1;

/// How far the guide has come.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Guide {
    first: Option<SheetId>,
    over: bool,
}

impl Guide {
    /// Follows how things stand: the first sheet is over when it has left the machine.
    pub fn follow(&mut self, now: &Now) {
        let on = now.sheet.as_ref().map(|s| &s.id);
        match (&self.first, on) {
            (None, Some(id)) => self.first = Some(id.clone()),
            (Some(first), on) if on != Some(first) => self.over = true,
            (None, None) | (Some(_), _) => {}
        }
    }

    /// Whether the first sheet is done.
    #[must_use]
    pub const fn is_over(&self) -> bool {
        self.over
    }
}

/// What the guide says now; none without a guide, away from the practice machine, and once it has said its last word.
#[must_use]
pub fn hint(model: &Model) -> Option<String> {
    let now = model.standing().filter(|now| now.machine.practice && !model.is_old())?;
    let guide = model.guide.as_ref()?;
    let words = model.settings.words;
    if guide.is_over() {
        return now.sheet.is_none().then(|| say!(words, "guide.done"));
    }
    let open = |act| now.actions.iter().any(|o| o.act == act && o.refused.is_none());
    if open(OfferedAct::SignIn) {
        return Some(say!(words, "guide.sign-in"));
    }
    match now.sheet.as_ref().map(|s| s.stage) {
        Some(Stage::Cutting) => return Some(say!(words, "guide.cutting")),
        Some(Stage::Held) => return Some(say!(words, "guide.held")),
        Some(Stage::Stopped) => return Some(say!(words, "guide.stopped")),
        _ => {}
    }
    // a helper begins nothing before a list that is due; the owner may
    let due = now.task.is_none() && now.lists.iter().any(|l| l.due.is_some());
    if due && !now.people.iter().any(|p| p.role == Role::Owner) {
        return Some(say!(words, "guide.list"));
    }
    if [OfferedAct::BitFree, OfferedAct::Home, OfferedAct::ConfirmZero].into_iter().any(open) {
        return Some(say!(words, "guide.way"));
    }
    if open(OfferedAct::SignFinding) {
        return Some(say!(words, "guide.sign"));
    }
    if open(OfferedAct::CycleStart) {
        return Some(say!(words, "guide.start"));
    }
    match &now.task {
        Some(task) => Some(of_step(model, now, task)),
        None if due => Some(say!(words, "guide.list")),
        None => open(OfferedAct::TakeSheet).then(|| say!(words, "guide.take")),
    }
}

fn of_step(model: &Model, now: &Now, task: &Task) -> String {
    let words = model.settings.words;
    match &task.step.ask {
        Ask::Confirm => say!(words, "guide.confirm"),
        Ask::Value { expect: Some(value), .. } => say!(words, "guide.value-known", value = plain(*value)),
        Ask::Value { least, most, .. } => say!(words, "guide.value", least = plain(*least), most = plain(*most)),
        Ask::Choose { .. } => say!(words, "guide.choose"),
        Ask::Place { .. } => say!(words, "guide.place"),
        Ask::RunDown { .. } => say!(words, "guide.run-down"),
        Ask::TouchAgain { at } if answering::stands_beside(model, *at) => say!(words, "guide.over-place"),
        Ask::TouchZ { leg: Some(_) } => say!(words, "guide.to-place"),
        Ask::TouchZ { .. } | Ask::TouchAgain { .. } => match now.machine.at.map(|at| at.z.mm()) {
            Some(above) if above > PAPER_MM + 1.0e-6 => {
                say!(words, "guide.touch", above = plain((above * 100.0).round() / 100.0))
            }
            _ => say!(words, "guide.touched"),
        },
        Ask::Hover { there: false, .. } => say!(words, "guide.hover"),
        Ask::Hover { there: true, .. } => say!(words, "guide.over-it"),
        Ask::Lot { carried: false, .. } => say!(words, "guide.lot"),
        Ask::Lot { carried: true, .. } => say!(words, "guide.confirm"),
        Ask::Raise { clear: false, .. } => say!(words, "guide.raise"),
        Ask::Raise { clear: true, .. } => say!(words, "guide.raised"),
        Ask::Parts { names, graded } if answering::next_part(names, graded).is_some() => say!(words, "guide.part"),
        Ask::Parts { .. } => say!(words, "guide.confirm"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ui::tests::picture::heard;
    use crate::ui::{Symbols, samples};

    #[test]
    fn a_helper_opens_the_shop_first_and_the_owner_may_go_on() {
        let told = |role| {
            let mut now = samples::morning();
            now.machine.practice = true;
            now.people.iter_mut().for_each(|p| p.role = role);
            now.actions.push(samples::offer(OfferedAct::BitFree, "The bit is free and the way is clear"));
            let mut model = heard(now, Symbols::Braille);
            model.guide = Some(Guide::default());
            hint(&model).unwrap()
        };
        let words = crate::words::english();
        assert_eq!(told(Role::Helper), words.text("guide.list"));
        assert_eq!(told(Role::Owner), words.text("guide.way"));
    }

    #[test]
    fn the_guide_is_over_when_its_first_sheet_is_gone() {
        let mut guide = Guide::default();
        guide.follow(&samples::idle());
        assert!(!guide.is_over());
        guide.follow(&samples::value());
        guide.follow(&samples::parts());
        assert!(!guide.is_over());
        guide.follow(&samples::idle());
        assert!(guide.is_over());
    }
}
