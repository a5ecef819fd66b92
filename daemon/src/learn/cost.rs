//! What good parts cost: machine and hand time, material, bits, and what went into parts that are not good.
//!
//! May live here: that sum. May not: where prices come from.

/// What an hour costs, in the shop's money.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Rates {
    /// Of the machine in motion.
    pub machine_hour: f64,
    /// Of a person.
    pub hand_hour: f64,
}

/// What one sheet took.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Taken {
    /// In motion, dwell or held, s.
    pub machine_s: f64,
    /// A person's time, s.
    pub hand_s: f64,
    /// The sheet's price; none where the shop does not say.
    pub material: Option<f64>,
    /// Wear of its bits: price times way over life.
    pub bits: f64,
    /// Parts graded.
    pub parts: u32,
    /// Of them good.
    pub good: u32,
}

/// A cost, in the shop's money.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sum {
    /// Of the machine.
    pub machine: f64,
    /// Of hands.
    pub hands: f64,
    /// Of sheets; none where any sheet's price is not known.
    pub material: Option<f64>,
    /// Of bits.
    pub bits: f64,
    /// All of it, material where it is known.
    pub total: f64,
    /// Of it, what went into parts that are not good.
    pub scrap: f64,
    /// Of a good part: all of it over the good ones; none where there is none.
    pub each: Option<f64>,
}

/// The sum over some sheets. Parts of a sheet share its cost alike; a sheet without a graded part is all scrap.
#[must_use]
pub fn cost(sheets: &[Taken], rates: Rates) -> Sum {
    let mut sum = Sum { material: Some(0.0), ..Sum::default() };
    let mut good = 0_u32;
    for sheet in sheets {
        let machine = sheet.machine_s / 3600.0 * rates.machine_hour;
        let hands = sheet.hand_s / 3600.0 * rates.hand_hour;
        let whole = machine + hands + sheet.material.unwrap_or(0.0) + sheet.bits;
        sum.machine += machine;
        sum.hands += hands;
        sum.bits += sheet.bits;
        sum.material = sum.material.zip(sheet.material).map(|(sum, more)| sum + more);
        sum.total += whole;
        let bad =
            if sheet.parts == 0 { 1.0 } else { 1.0 - f64::from(sheet.good.min(sheet.parts)) / f64::from(sheet.parts) };
        sum.scrap += whole * bad;
        good = good.saturating_add(sheet.good);
    }
    sum.each = (good > 0).then(|| sum.total / f64::from(good));
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_good_part_carries_the_bad_ones() {
        // worked by hand: 0.5 h at 12, 0.25 h at 24, a sheet for 12, bits for 0.8: 24.8 for four parts, one of them bad
        let sheet = Taken { machine_s: 1800.0, hand_s: 900.0, material: Some(12.0), bits: 0.8, parts: 4, good: 3 };
        let sum = cost(&[sheet], Rates { machine_hour: 12.0, hand_hour: 24.0 });
        assert_eq!((sum.machine, sum.hands, sum.material, sum.bits), (6.0, 6.0, Some(12.0), 0.8));
        assert!((sum.total - 24.8).abs() < 1.0e-12 && (sum.each.unwrap() - 24.8 / 3.0).abs() < 1.0e-12);
        assert!((sum.scrap - 6.2).abs() < 1.0e-12);
        let lost = Taken { parts: 0, good: 0, ..sheet };
        let sum = cost(&[sheet, lost], Rates { machine_hour: 12.0, hand_hour: 24.0 });
        assert!((sum.each.unwrap() - 49.6 / 3.0).abs() < 1.0e-12 && (sum.scrap - 31.0).abs() < 1.0e-12);
    }

    #[test]
    fn an_unknown_price_is_said_and_not_nought() {
        let known = Taken { material: Some(5.0), parts: 1, good: 1, ..Taken::default() };
        let sum = cost(&[known, Taken { material: None, ..known }], Rates::default());
        assert_eq!((sum.material, sum.total, sum.each), (None, 5.0, Some(2.5)));
        assert_eq!(cost(&[], Rates::default()).each, None);
    }
}
