//! The orders in which the operations of one sheet may be cut.

use super::model::{Sheet, Unfit};
use std::collections::BTreeSet;

/// No sheet gets more routes than this; beyond it the first ones in written order stand.
const ROUTES_AT_MOST: usize = 64;

/// Every order of a sheet's operations that honours what must come before, written order first, up to a limit.
///
/// # Errors
/// When two operations bear one name, or some wait for one another.
pub fn of(sheet: &Sheet) -> Result<Vec<Vec<u8>>, Unfit> {
    let mut names = BTreeSet::new();
    for operation in &sheet.operations {
        if !names.insert(&operation.name) {
            return Err(Unfit::SameName { sheet: sheet.id.clone(), operation: operation.name.clone() });
        }
    }
    let number = |name: &String| sheet.operations.iter().position(|o| o.name == *name);
    let before: Vec<Vec<usize>> =
        sheet.operations.iter().map(|o| o.after.iter().filter_map(number).collect()).collect();
    let mut search = Search { before, done: vec![false; sheet.operations.len()], order: Vec::new(), found: Vec::new() };
    refuse_circles(sheet, &search.before)?;
    search.go_on();
    Ok(search.found)
}

/// Takes operations off one by one as those before them are gone; what stays waits in a circle.
fn refuse_circles(sheet: &Sheet, before: &[Vec<usize>]) -> Result<(), Unfit> {
    let mut done = vec![false; before.len()];
    while let Some(next) = (0..before.len()).find(|i| !done[*i] && before[*i].iter().all(|b| done[*b])) {
        done[next] = true;
    }
    match done.iter().position(|d| !d) {
        Some(stuck) => Err(Unfit::Circle { sheet: sheet.id.clone(), operation: sheet.operations[stuck].name.clone() }),
        None => Ok(()),
    }
}

struct Search {
    before: Vec<Vec<usize>>,
    done: Vec<bool>,
    order: Vec<u8>,
    found: Vec<Vec<u8>>,
}

impl Search {
    fn go_on(&mut self) {
        if self.found.len() >= ROUTES_AT_MOST {
            return;
        }
        if self.order.len() == self.before.len() {
            self.found.push(self.order.clone());
            return;
        }
        for next in 0..self.before.len() {
            if self.done[next] || self.before[next].iter().any(|b| !self.done[*b]) {
                continue;
            }
            let Ok(number) = u8::try_from(next) else { return };
            self.done[next] = true;
            self.order.push(number);
            self.go_on();
            self.order.pop();
            self.done[next] = false;
        }
    }
}
