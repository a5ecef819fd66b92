//! Which operation comes after which: faults of `after`, and the order in which a card is cut.

use super::raw::RawOperation;
use crate::shop::check::Check;
use crate::shop::text::Path;
use chargehand_types::card::Card;

/// The order in which a card's operations are cut, as places in its list: the first in the file whose `after` are all
/// done, again and again. Operations that wait for each other, which no checked card has, come last.
#[must_use]
pub fn order(card: &Card) -> Vec<usize> {
    let waits: Vec<(&str, &[String])> = card.operations.iter().map(|o| (o.name.as_str(), o.after.as_slice())).collect();
    let (mut done, rest) = sorted(&waits);
    done.extend(rest);
    done
}

/// What can be brought into order, and what waits for itself.
fn sorted(waits: &[(&str, &[String])]) -> (Vec<usize>, Vec<usize>) {
    let mut done: Vec<usize> = Vec::new();
    let mut rest: Vec<usize> = (0..waits.len()).collect();
    while let Some(at) = rest.iter().position(|&i| is_free(waits, &done, i)) {
        done.push(rest.remove(at));
    }
    (done, rest)
}

fn is_free(waits: &[(&str, &[String])], done: &[usize], i: usize) -> bool {
    let is_done = |name: &String| done.iter().any(|&d| waits.get(d).is_some_and(|(n, _)| n == name));
    waits.get(i).is_some_and(|(_, after)| after.iter().all(is_done))
}

pub(super) fn judge(check: &mut Check<'_, '_>, path: &Path, raw: &[RawOperation]) {
    let mut all_known = true;
    for (i, operation) in raw.iter().enumerate() {
        let list = path.at(i).key("after");
        for (n, name) in operation.after.iter().enumerate() {
            let others = raw.iter().map(|o| &o.name).filter(|other| **other != operation.name);
            if *name == operation.name {
                check.tell(&list.at(n), format!("`{name}` cannot come after itself"), "other operations");
                all_known = false;
            } else if others.clone().all(|other| other != name) {
                check.one_of(&list.at(n), "operation", name, others);
                all_known = false;
            }
        }
        check.once("operation", operation.after.iter().enumerate().map(|(n, a)| (list.at(n), a.as_str())));
    }
    if all_known {
        circles(check, path, raw);
    }
}

fn circles(check: &mut Check<'_, '_>, path: &Path, raw: &[RawOperation]) {
    let waits: Vec<(&str, &[String])> = raw.iter().map(|o| (o.name.as_str(), o.after.as_slice())).collect();
    let (_, rest) = sorted(&waits);
    let Some((&first, circle)) = rest.first().map(|first| (first, circle(&waits, &rest, *first))) else {
        return;
    };
    let in_circle = circle.first().copied().unwrap_or(first);
    let names: Vec<&str> = circle.iter().filter_map(|&i| waits.get(i).map(|(name, _)| *name)).collect();
    let found = format!("these wait for each other: {}", names.join(" after "));
    check.tell(&path.at(in_circle).key("after"), found, "an order in which one can be first");
}

/// From an operation that waits, along the first name it waits for, until one comes up again: that loop, with its first
/// one repeated at the end.
fn circle(waits: &[(&str, &[String])], rest: &[usize], start: usize) -> Vec<usize> {
    let mut way = vec![start];
    let mut here = start;
    loop {
        let after = waits.get(here).map_or(&[][..], |(_, after)| *after);
        let next = rest.iter().copied().find(|&i| waits.get(i).is_some_and(|(n, _)| after.iter().any(|a| a == n)));
        let Some(next) = next else { return way };
        let seen = way.iter().position(|&i| i == next);
        way.push(next);
        if let Some(from) = seen {
            return way.split_off(from);
        }
        here = next;
    }
}
