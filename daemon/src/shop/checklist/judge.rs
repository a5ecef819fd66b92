//! Whether an answer lets a list go on.

use super::words::range;
use super::{Asks, Facts, Reading, Step};
use chargehand_types::checklist::{OFF_THE_MARK, StepAnswer};
use chargehand_types::quantity::{Seconds, plain};

/// Room for the last digit of a value written with decimals.
const SLACK: f64 = 1.0e-9;
/// No sheet is held by more fasteners.
const MOST_PLACES: usize = 1000;

impl Step {
    /// Whether an answer lets the list go on.
    ///
    /// # Errors
    /// What is wrong with it and what to do, as a sentence for the person.
    pub fn judge(&self, answer: &StepAnswer, facts: &Facts) -> Result<(), String> {
        match (&self.asks, answer) {
            (Asks::Confirm | Asks::TouchZ | Asks::TouchAgain | Asks::Hover(_) | Asks::Raise, StepAnswer::Done) => {
                Ok(())
            }
            (Asks::Lot { .. }, StepAnswer::Done | StepAnswer::Named { .. }) => Ok(()),
            (Asks::Hover(_), StepAnswer::Choice { key }) if key == OFF_THE_MARK => Ok(()),
            (Asks::Value(reading), StepAnswer::Value { value }) => read_back(reading, *value, facts),
            (Asks::Choose { options, right }, StepAnswer::Choice { key }) => {
                let Some(chosen) = options.iter().find(|o| o.key == *key) else {
                    return Err("That is none of the choices. Choose one of those shown.".to_owned());
                };
                if right.is_empty() || right.contains(key) {
                    return Ok(());
                }
                let otherwise = || "Not like this. Put it right, then choose again.".to_owned();
                Err(chosen.then.clone().unwrap_or_else(otherwise))
            }
            (Asks::Place, StepAnswer::Placed { places }) => match places.len() {
                0 => Err("No place was named. Put the fasteners in, then say where.".to_owned()),
                n if n > MOST_PLACES => Err(format!("{n} places are too many. Say where the fasteners are.")),
                _ => Ok(()),
            },
            (Asks::RunDown, StepAnswer::Still) => run_down(facts.run_down_left),
            (Asks::Parts, StepAnswer::Done) => graded(facts),
            _ => Err("This step asks for another kind of answer. Look at it again.".to_owned()),
        }
    }
}

fn read_back(reading: &Reading, value: f64, facts: &Facts) -> Result<(), String> {
    let (least, most) = range(reading, facts);
    if value.is_finite() && value >= least - SLACK && value <= most + SLACK {
        return Ok(());
    }
    let unit = &reading.unit;
    if reading.expect.is_some_and(super::Expect::is_kept_back) {
        return Err(format!(
            "{} {unit} is not what is known here. Look again; if it stays so, say that something is wrong.",
            plain(value)
        ));
    }
    let wanted = if (most - least).abs() <= SLACK {
        format!("{} {unit}", plain(least))
    } else {
        format!("{} to {} {unit}", plain(least), plain(most))
    };
    Err(format!(
        "{} {unit} is not what is wanted here ({wanted}). Read it again; if it stays so, say that something is wrong.",
        plain(value)
    ))
}

fn run_down(left: Seconds) -> Result<(), String> {
    if left > Seconds::ZERO {
        let left = left.value().ceil();
        return Err(format!("The bit may still turn: wait {} s more, then look at it.", plain(left)));
    }
    Ok(())
}

fn graded(facts: &Facts) -> Result<(), String> {
    let all = u32::try_from(facts.parts.len()).unwrap_or(u32::MAX);
    let left = (0..all).filter(|i| !facts.graded.contains(i)).count();
    match left {
        0 => Ok(()),
        1 => Err("One part is not graded yet.".to_owned()),
        n => Err(format!("{n} parts are not graded yet.")),
    }
}
