//! Which list of the day is due, and where one that was put down goes on. Pure: the state of the shop and the time come
//! in, words and places go out.
//!
//! May live here: those two rules and their words. May not: who may begin without a list; that is `floor`.

use super::interrupted::{ANEW_AFTER, ONCE_MORE_AFTER};
use crate::ledger::State as Fold;
use chargehand_types::checklist::ListKind;
use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;

/// Who may begin without a list that is due.
const WHO_MAY: &str = "A helper begins nothing before this list is done; the owner may, and it is written down.";

/// The lists that are due now, in the order in which they are to be done.
pub fn due(fold: &Fold, zone: Tz, now: DateTime<Utc>) -> Vec<ListKind> {
    let mut due = Vec::new();
    if fold.day().went_down {
        due.push(ListKind::AfterPowerCut);
    }
    if !is_open(fold, zone, now) {
        due.push(ListKind::Opening);
    }
    if is_anothers(fold) {
        due.push(ListKind::HandOver);
    }
    due
}

/// Opened today, and not closed since.
fn is_open(fold: &Fold, zone: Tz, now: DateTime<Utc>) -> bool {
    let Some(opened) = fold.day().signed(ListKind::Opening) else { return false };
    let day = |at: DateTime<Utc>| at.with_timezone(&zone).date_naive();
    day(opened) == day(now) && !fold.day().closed
}

/// Somebody signed lists of the sheet on the machine, nobody of those is here, and nobody here took it over since.
fn is_anothers(fold: &Fold) -> bool {
    let Some(sheet) = fold.on_machine() else { return false };
    let here = fold.people();
    let is_here = |who: &chargehand_types::id::Person| here.iter().any(|p| p.who == *who);
    let signers: Vec<_> = sheet.lists.iter().filter_map(|l| l.by.as_ref()).collect();
    if here.is_empty() || signers.is_empty() || signers.iter().any(|by| is_here(&by.who)) {
        return false;
    }
    !fold.day().taken_over.as_ref().is_some_and(is_here)
}

/// Why a list is due, and who may begin without it.
pub fn told(list: ListKind) -> String {
    let why = match list {
        ListKind::Opening => "The shop is not opened yet today.",
        ListKind::HandOver => "Somebody else worked on this sheet: take the machine over from them first.",
        ListKind::AfterPowerCut => "This program went down in the middle of a cut, and perhaps the power with it.",
        ListKind::Closing
        | ListKind::Securing
        | ListKind::Tooling
        | ListKind::Ready
        | ListKind::TakingOff
        | ListKind::Checking => "",
    };
    format!("{why} {WHO_MAY}")
}

/// The step at which a list goes on that was put down `gap` ago: none when it is begun anew, because too much time went
/// by, somebody else goes on with it, or the list is another by now.
pub fn goes_on_at(answered: &[String], steps: &[&str], gap: TimeDelta, same_person: bool) -> Option<usize> {
    let begun = !answered.is_empty() && answered.len() < steps.len();
    let fits = answered.iter().zip(steps).all(|(a, s)| a == s);
    let soon = (TimeDelta::zero()..=ANEW_AFTER).contains(&gap);
    let back = usize::from(gap > ONCE_MORE_AFTER);
    (begun && fits && soon && same_person).then(|| answered.len() - back)
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEPS: [&str; 4] = ["red-button", "off", "board", "fire"];

    fn at(answered: usize, seconds: i64, same: bool) -> Option<usize> {
        let answered: Vec<String> = STEPS.iter().take(answered).map(|s| (*s).to_owned()).collect();
        goes_on_at(&answered, &STEPS, TimeDelta::seconds(seconds), same)
    }

    #[test]
    fn a_list_put_down_goes_on_where_it_was() {
        assert_eq!(at(2, 20, true), Some(2));
        assert_eq!(at(2, 60, true), Some(2));
    }

    #[test]
    fn after_a_gap_the_last_step_is_asked_once_more() {
        assert_eq!(at(2, 61, true), Some(1));
        assert_eq!(at(1, 600, true), Some(0));
    }

    #[test]
    fn it_begins_anew_after_long_or_by_somebody_else_or_changed() {
        assert_eq!(at(2, 601, true), None);
        assert_eq!(at(2, -5, true), None, "a clock that was set back proves nothing");
        assert_eq!(at(2, 20, false), None);
        assert_eq!(at(0, 20, true), None);
        let other = ["red-button".to_owned(), "door".to_owned()];
        assert_eq!(goes_on_at(&other, &STEPS, TimeDelta::zero(), true), None);
    }
}
