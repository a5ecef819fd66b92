//! Joints: how a slot as cut takes its mate, how much of what is off is the bit's, and what to do about it.
//!
//! A program is drawn for the nominal bit: one that measures less leaves a slot that much narrower, whether the slot is
//! cut in one run or along both sides. Programs are never altered for it; the drawing is, or another bit is fitted.
//!
//! May live here: that reckoning and its sentence. May not: where measures come from.

use chargehand_types::card::Fit;
use chargehand_types::quantity::{Length, plain};

/// What was measured of one joint.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measured {
    /// The slot as cut.
    pub slot: Length,
    /// The thickness of what goes in.
    pub mate: Length,
}

/// A bit by which a slot was, or could be, cut.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cutter {
    /// What to call it.
    pub name: String,
    /// As the program was drawn for.
    pub nominal: Length,
    /// As read back; as nominal where nobody did.
    pub measured: Length,
}

/// How a joint came out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judged {
    /// The air between slot and mate; below nothing it does not go in.
    pub clearance: Length,
    /// How far that is from the card's range: below nothing is tight, above is loose, nothing is right.
    pub off: Length,
    /// Of it, what the bit explains, in the same direction.
    pub of_bit: Length,
    /// Bits with which the same program would give a right slot.
    pub instead: Vec<String>,
}

/// Holds a measured joint against its card.
#[must_use]
pub fn judge_fit(fit: &Fit, measured: Measured, with: &Cutter, others: &[Cutter]) -> Judged {
    let [least, most] = fit.clearance;
    let off = |clearance: Length| {
        if clearance < least {
            clearance - least
        } else if clearance > most {
            clearance - most
        } else {
            Length::ZERO
        }
    };
    let clearance = measured.slot - measured.mate;
    let wide = with.measured - with.nominal;
    let now = off(clearance);
    let of_bit = if now < Length::ZERO { wide.min(Length::ZERO).max(now) } else { wide.max(Length::ZERO).min(now) };
    let right = |other: &&Cutter| {
        other.name != with.name
            && other.nominal == with.nominal
            && off(clearance + other.measured - with.measured) == Length::ZERO
    };
    let instead = match now {
        Length::ZERO => Vec::new(),
        _ => others.iter().filter(right).map(|other| other.name.clone()).collect(),
    };
    Judged { clearance, off: now, of_bit, instead }
}

/// The same as a sentence.
#[must_use]
pub fn told_fit(fit: &Fit, judged: &Judged) -> String {
    let mm = |length: Length| plain(length.abs().mm());
    let [least, most] = fit.clearance;
    let air = format!("{} has {} mm of air", fit.name, plain(judged.clearance.mm()));
    if judged.off == Length::ZERO {
        return format!("{air}: right, {} to {} is wanted.", plain(least.mm()), plain(most.mm()));
    }
    let tight = judged.off < Length::ZERO;
    let (word, change) = if tight { ("tight", "open") } else { ("loose", "close") };
    let bit = match judged.of_bit {
        Length::ZERO => String::new(),
        of_bit => format!(", of which {} is the bit", mm(of_bit)),
    };
    let span = most - least;
    let far = judged.off.abs() + span;
    let by = if span == Length::ZERO { mm(judged.off) } else { format!("{} to {}", mm(judged.off), mm(far)) };
    let instead = match judged.instead.as_slice() {
        [] => String::new(),
        bits => format!(", or use bit {}", bits.join(" or ")),
    };
    format!("{air}: {} {word}{bit}. {} the slot by {by} mm in the drawing{instead}.", mm(judged.off), capital(change))
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_mm(value).unwrap()
    }

    fn fit() -> Fit {
        Fit { name: "shelf slot".into(), width: mm(18.2), mate: "shelf".into(), clearance: [mm(0.1), mm(0.3)] }
    }

    fn cutter(name: &str, measured: f64) -> Cutter {
        Cutter { name: name.into(), nominal: mm(6.35), measured: mm(measured) }
    }

    #[test]
    fn what_the_bit_explains_is_told_apart() {
        // worked by hand: 18.02 - 18.10 = -0.08 of air; 0.1 is wanted, so 0.18 tight; the bit is 0.15 under its size
        let measured = Measured { slot: mm(18.02), mate: mm(18.1) };
        let others = [cutter("2", 6.22), cutter("3", 6.4), cutter("4", 6.3)];
        let judged = judge_fit(&fit(), measured, &cutter("1", 6.2), &others);
        assert_eq!((judged.clearance, judged.off, judged.of_bit), (mm(-0.08), mm(-0.18), mm(-0.15)));
        // with 3 the slot is 0.2 wider: 0.12 of air; with 2 only 0.02 wider, with 4 0.1: too tight still
        assert_eq!(judged.instead, ["3"]);
        assert_eq!(
            told_fit(&fit(), &judged),
            "shelf slot has -0.08 mm of air: 0.18 tight, of which 0.15 is the bit. Open the slot by 0.18 to 0.38 mm in the drawing, or use bit 3."
        );
    }

    #[test]
    fn a_bit_explains_no_more_than_there_is_and_nothing_of_the_contrary() {
        let tight = Measured { slot: mm(18.15), mate: mm(18.1) };
        let judged = judge_fit(&fit(), tight, &cutter("1", 6.2), &[]);
        assert_eq!((judged.off, judged.of_bit), (mm(-0.05), mm(-0.05)));
        let judged = judge_fit(&fit(), tight, &cutter("1", 6.5), &[]);
        assert_eq!((judged.off, judged.of_bit), (mm(-0.05), Length::ZERO));
        let loose = Measured { slot: mm(18.6), mate: mm(18.1) };
        let judged = judge_fit(&fit(), loose, &cutter("1", 6.5), &[cutter("2", 6.25)]);
        assert_eq!((judged.off, judged.of_bit, judged.instead.len()), (mm(0.2), mm(0.15), 1));
        assert!(
            told_fit(&fit(), &judged).contains("0.2 loose, of which 0.15 is the bit. Close the slot by 0.2 to 0.4")
        );
    }

    #[test]
    fn a_right_joint_asks_for_nothing() {
        let judged =
            judge_fit(&fit(), Measured { slot: mm(18.3), mate: mm(18.1) }, &cutter("1", 6.2), &[cutter("2", 6.4)]);
        assert_eq!((judged.off, judged.of_bit, judged.instead.len()), (Length::ZERO, Length::ZERO, 0));
        assert_eq!(told_fit(&fit(), &judged), "shelf slot has 0.2 mm of air: right, 0.1 to 0.3 is wanted.");
    }
}
