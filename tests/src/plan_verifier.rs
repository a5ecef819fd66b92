//! A second judge of schedules, written from the instances' README alone: it shares no code with the planner.

use crate::instance::{Instance, Measured, Written};
use std::collections::{BTreeMap, BTreeSet};

/// Judges a schedule against every rule and measures it anew.
///
/// # Errors
/// With the first rule broken, as a sentence.
pub fn verify(instance: &Instance, schedule: &[Written]) -> Result<Measured, String> {
    let known: BTreeMap<_, _> = instance.sheets.iter().map(|s| (s.id.as_str(), s)).collect();
    let mut seen = BTreeSet::new();
    let mut free_from = instance.now;
    let mut spindle = instance.bit_on_machine.clone();
    let mut measured = Measured { weighted_tardiness: 0.0, last_finish: instance.now, bit_changes: 0 };
    let inside =
        |from: u32, to: u32, windows: &[[u32; 2]]| windows.iter().any(|w| w[0] <= from && to <= w[1] || from == to);
    for block in schedule {
        let id = block.sheet.as_str();
        let sheet = known.get(id).ok_or(format!("{id} is not in the instance"))?;
        if !seen.insert(id) {
            return Err(format!("{id} is cut twice"));
        }
        let mut done: BTreeSet<&str> = BTreeSet::new();
        let mut changed_for: Option<&str> = None;
        for (number, step) in block.steps.iter().enumerate() {
            let told = format!("{id} step {number} ({})", step.what);
            if step.start < free_from {
                return Err(format!("{told} starts before the one before has ended"));
            }
            free_from = step.end;
            let minutes = step.end.checked_sub(step.start).ok_or(format!("{told} ends before it starts"))?;
            let (wanted, with_person) = match step.what.as_str() {
                "load" if number == 0 => (sheet.load, true),
                "cleanup" if number == block.steps.len() - 1 => (sheet.cleanup, true),
                "bit" if changed_for.is_none() => {
                    let bit = step.bit.as_deref().ok_or(format!("{told} names no bit"))?;
                    changed_for = Some(bit);
                    measured.bit_changes += 1;
                    (instance.bit_change_minutes, true)
                }
                "op" => {
                    let name = step.operation.as_deref().ok_or(format!("{told} names no operation"))?;
                    let operation =
                        sheet.operations.iter().find(|o| o.name == name).ok_or(format!("{told}: no {name}"))?;
                    if let Some(missing) = operation.after.iter().find(|a| !done.contains(a.as_str())) {
                        return Err(format!("{told}: {name} before {missing}"));
                    }
                    if let Some(bit) = changed_for.take() {
                        spindle = bit.to_owned();
                    }
                    if spindle != operation.bit {
                        return Err(format!("{told}: {spindle} is in, {} is needed", operation.bit));
                    }
                    if !done.insert(operation.name.as_str()) {
                        return Err(format!("{told}: {name} twice"));
                    }
                    (operation.minutes, !operation.unattended)
                }
                _ => return Err(format!("{told} stands in the wrong place")),
            };
            if minutes != wanted {
                return Err(format!("{told} takes {minutes} in place of {wanted}"));
            }
            let alone_ok = instance.alone.as_deref().is_none_or(|w| inside(step.start, step.end, w));
            if if with_person { !inside(step.start, step.end, &instance.presence) } else { !alone_ok } {
                return Err(format!("{told} from {} to {} lies in no window", step.start, step.end));
            }
        }
        let loaded = sheet.load == 0 || block.steps.first().is_some_and(|s| s.what == "load");
        let cleaned = sheet.cleanup == 0 || block.steps.last().is_some_and(|s| s.what == "cleanup");
        if done.len() != sheet.operations.len() || changed_for.is_some() || !loaded || !cleaned {
            return Err(format!("{id} is not finished"));
        }
        measured.weighted_tardiness += sheet.weight * f64::from(free_from.saturating_sub(sheet.due));
        measured.last_finish = free_from;
    }
    if seen.len() != known.len() {
        return Err(format!("{} of {} sheets are cut", seen.len(), known.len()));
    }
    Ok(measured)
}
