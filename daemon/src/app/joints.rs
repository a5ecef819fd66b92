//! The joints of a card, measured on a first sheet: the steps that ask for them, and how a reading is told.
//!
//! May live here: those steps and words. May not: what follows for the sheet; a reading is written down as it is.

use crate::shop::checklist::{Asks, Expect, Reading, Step};
use chargehand_types::card::Fit;
use chargehand_types::history::JointRecord;
use chargehand_types::quantity::{Length, Seconds, plain};

/// More than these make the list longer than people keep to.
const ASKED_AT_MOST: usize = 4;
/// No slot is off by more: whoever reads more read another slot. Common practice, no source.
const READ_WITHIN_MM: f64 = 3.0;
/// What reading one takes: it is looked for among the parts first. Common practice, no source.
const TAKES_S: f64 = 120.0;
/// How the step of a joint is called, before its number.
const STEP: &str = "joint-";

/// One step a joint, in the card's order.
pub fn steps(fits: &[Fit]) -> Vec<Step> {
    (1..).zip(fits.iter().take(ASKED_AT_MOST)).map(|(number, fit)| step(number, fit)).collect()
}

fn step(number: usize, fit: &Fit) -> Step {
    let drawn = fit.width.mm();
    let text = format!(
        "Caliper, inner jaws, across the joint \"{}\" in the middle of its length. Read the width back.",
        fit.name
    );
    let help = format!(
        "Drawn {} mm; {} goes in with {} to {} mm of play. Wipe the dust out first; read where no tab was.",
        plain(drawn),
        fit.mate,
        plain(fit.clearance[0].mm()),
        plain(fit.clearance[1].mm())
    );
    Step {
        id: format!("{STEP}{number}"),
        text,
        help: Some(help),
        caution: None,
        asks: Asks::Value(Reading {
            unit: "mm".to_owned(),
            least: (drawn - READ_WITHIN_MM).max(0.0),
            most: drawn + READ_WITHIN_MM,
            expect: Some(Expect::Number(drawn)),
            within: None,
        }),
        only: None,
        killer: false,
        takes: Seconds::of(TAKES_S),
    }
}

/// The joint that a step asks for, with what was read; none for any other step. `thickness` is the sheet's as read.
pub fn measured(fits: &[Fit], step: &str, value: f64, thickness: Option<Length>) -> Option<JointRecord> {
    let number: usize = step.strip_prefix(STEP)?.parse().ok()?;
    let fit = fits.get(number.checked_sub(1)?)?;
    Some(JointRecord {
        name: fit.name.clone(),
        drawn: fit.width,
        measured: Length::from_mm(value).ok()?,
        mate: thickness,
        clearance: fit.clearance,
    })
}

/// What a reading comes to, and whom to tell.
pub fn told(joint: &JointRecord) -> String {
    let measured = format!("{}: {} mm", joint.name, plain(joint.measured.mm()));
    let hundredths = |length: Length| plain((length.mm().abs() * 100.0).round() / 100.0);
    match (joint.play(), joint.off()) {
        (Some(play), Some(off)) if off == Length::ZERO => {
            format!("{measured}, {} mm of play: it fits.", hundredths(play))
        }
        (Some(_), Some(off)) => {
            let how = if off < Length::ZERO { "tight" } else { "loose" };
            let text = "Written down; tell the owner before the next sheet is laid.";
            format!("{measured}: too {how} by {} mm. {text}", hundredths(off))
        }
        _ => format!("{measured}. Written down; nobody read how thick the sheet is."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::checklist::Facts;
    use chargehand_types::checklist::StepAnswer;

    fn mm(value: f64) -> Length {
        Length::from_mm(value).unwrap()
    }

    fn fit(name: &str) -> Fit {
        Fit { name: name.to_owned(), width: mm(18.2), mate: "shelf".to_owned(), clearance: [mm(0.1), mm(0.3)] }
    }

    #[test]
    fn each_joint_has_a_step_and_a_reading_beyond_reason_is_none() {
        let fits: Vec<Fit> = (0..6).map(|n| fit(&format!("slot {n}"))).collect();
        let steps = steps(&fits);
        assert_eq!(
            steps.iter().map(|s| s.id.as_str()).collect::<Vec<_>>(),
            ["joint-1", "joint-2", "joint-3", "joint-4"]
        );
        let judge = |value| steps[0].judge(&StepAnswer::Value { value }, &Facts::default());
        assert_eq!((judge(18.05), judge(18.9)), (Ok(()), Ok(())), "what was read is written down, right or not");
        assert!(judge(6.35).is_err(), "another slot");
    }

    /// 18.2 drawn for 18 mm board: play is what is read less what goes in.
    #[test]
    fn a_reading_is_told_against_what_goes_in() {
        let read = |value, thickness: Option<f64>| {
            told(&measured(&[fit("shelf slot")], "joint-1", value, thickness.map(mm)).unwrap())
        };
        assert_eq!(read(18.2, Some(18.0)), "shelf slot: 18.2 mm, 0.2 mm of play: it fits.");
        assert!(read(18.02, Some(18.0)).starts_with("shelf slot: 18.02 mm: too tight by 0.08 mm."));
        assert!(read(18.6, Some(18.0)).starts_with("shelf slot: 18.6 mm: too loose by 0.3 mm."));
        assert!(read(18.2, None).contains("nobody read"));
        assert_eq!(measured(&[fit("a")], "joint-2", 18.0, None), None);
        assert_eq!(measured(&[fit("a")], "size", 18.0, None), None);
    }
}
