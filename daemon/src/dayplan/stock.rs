//! Stock: how many panels a batch needs, and whether the pieces sawn from them are as large as the card wants.

use chargehand_types::quantity::Length;

/// A full panel and how it is sawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Panel {
    /// Its two sides.
    pub size: [Length; 2],
    /// What a saw cut takes away.
    pub kerf: Length,
    /// Pieces along each side: `[2, 2]` for quarters.
    pub pieces: [u32; 2],
    /// Of one, in the shop's money.
    pub price: f64,
}

/// What a batch needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stock {
    /// Sheets to cut, the spare ones among them.
    pub sheets: u32,
    /// Sheets that are spare, as some come out scrap.
    pub spare: u32,
    /// Panels to have.
    pub panels: u32,
    /// Pieces left over.
    pub left: u32,
    /// What the panels cost.
    pub cost: f64,
    /// The two sides of a piece after the cuts.
    pub piece: [Length; 2],
}

/// Why no stock can be reckoned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StockFault {
    /// The pieces are smaller than the card's sheet.
    #[error("a piece sawn from the panel is {got}, and the card wants {wanted}: {short} too short")]
    TooSmall {
        /// The side after the cuts.
        got: Length,
        /// The card's.
        wanted: Length,
        /// What is missing.
        short: Length,
    },
    /// The saw cuts take the whole panel, or there are no pieces.
    #[error("no piece is left of that panel")]
    NoPiece,
    /// A share of scrap that no batch can have.
    #[error("a share of scrap of {0} is not from 0 up to 0.9")]
    Scrap(f64),
}

/// One side of a piece when a side is sawn into so many equal ones: `(L - (n - 1) k) / n`.
///
/// # Errors
/// When nothing is left of it.
pub fn piece(side: Length, kerf: Length, pieces: u32) -> Result<Length, StockFault> {
    let (number, cuts) = (i64::from(pieces), i64::from(pieces) - 1);
    if pieces == 0 || kerf < Length::ZERO {
        return Err(StockFault::NoPiece);
    }
    let left = side.0 - cuts.saturating_mul(kerf.0);
    if left < number { Err(StockFault::NoPiece) } else { Ok(Length(left / number)) }
}

/// How many strips of a width come out of a side, and what is left: `n = floor((W + k) / (w + k))`. Less than nothing
/// left means that the last strip needs no cut.
///
/// # Errors
/// When the strips have no width.
pub fn strips(side: Length, strip: Length, kerf: Length) -> Result<(u32, Length), StockFault> {
    if strip <= Length::ZERO || kerf < Length::ZERO || side < Length::ZERO {
        return Err(StockFault::NoPiece);
    }
    let number = (side.0 + kerf.0) / (strip.0 + kerf.0);
    let left = Length(side.0 - number * (strip.0 + kerf.0));
    Ok((u32::try_from(number).unwrap_or(u32::MAX), left))
}

/// What so many good sheets of a size need, when a share of them comes out scrap (0 to 0.9, from history). A piece may
/// lie either way round.
///
/// # Errors
/// When the pieces are too small for the sheet, or the numbers make no sense.
pub fn stock(good: u32, wanted: [Length; 2], scrap: f64, panel: &Panel) -> Result<Stock, StockFault> {
    if !(0.0..=0.9).contains(&scrap) {
        return Err(StockFault::Scrap(scrap));
    }
    let [along, across] = panel.pieces;
    let got = [piece(panel.size[0], panel.kerf, along)?, piece(panel.size[1], panel.kerf, across)?];
    fits(got, wanted).or_else(|fault| fits([got[1], got[0]], wanted).map_err(|_| fault))?;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most ten times a u32, saturating")]
    let sheets = (f64::from(good) / (1.0 - scrap) - 1.0e-9).ceil() as u32;
    let each = along.saturating_mul(across).max(1);
    let panels = sheets.div_ceil(each);
    Ok(Stock {
        sheets,
        spare: sheets - good.min(sheets),
        panels,
        left: panels.saturating_mul(each) - sheets,
        cost: f64::from(panels) * panel.price,
        piece: got,
    })
}

fn fits(got: [Length; 2], wanted: [Length; 2]) -> Result<(), StockFault> {
    let small = got.into_iter().zip(wanted).find(|(got, wanted)| got < wanted);
    small.map_or(Ok(()), |(got, wanted)| Err(StockFault::TooSmall { got, wanted, short: wanted - got }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_unit(value).unwrap()
    }

    fn quarters(long: f64, wide: f64, kerf: f64) -> Panel {
        Panel { size: [mm(long), mm(wide)], kerf: mm(kerf), pieces: [2, 2], price: 60.0 }
    }

    #[test]
    fn two_centre_cuts_take_half_a_kerf_from_each_side() {
        // (L - k) / 2 by (W - k) / 2, worked by hand for three panels
        for (long, wide, kerf, l, w) in [
            (2440.0, 1220.0, 3.2, 1218.4, 608.4),
            (2438.4, 1219.2, 3.175, 1217.6125, 608.0125),
            (2436.8, 1217.6, 3.2, 1216.8, 607.2),
        ] {
            assert_eq!(piece(mm(long), mm(kerf), 2).unwrap(), mm(l));
            assert_eq!(piece(mm(wide), mm(kerf), 2).unwrap(), mm(w));
        }
    }

    #[test]
    fn a_full_quarter_does_not_come_out_of_a_full_panel() {
        let told = stock(4, [mm(1220.0), mm(610.0)], 0.0, &quarters(2440.0, 1220.0, 3.2)).unwrap_err();
        assert_eq!(told, StockFault::TooSmall { got: mm(1218.4), wanted: mm(1220.0), short: mm(1.6) });
        let fits = stock(4, [mm(600.0), mm(1210.0)], 0.0, &quarters(2440.0, 1220.0, 3.2)).unwrap();
        assert_eq!((fits.panels, fits.left, fits.cost), (1, 0, 60.0));
    }

    #[test]
    fn strips_are_counted_with_their_cuts() {
        // n = floor((W + k) / (w + k)), worked by hand
        assert_eq!(strips(mm(1220.0), mm(300.0), mm(3.2)).unwrap(), (4, mm(7.2)));
        assert_eq!(strips(mm(1220.0), mm(400.0), mm(3.2)).unwrap(), (3, mm(10.4)));
        assert_eq!(strips(mm(1218.0), mm(406.0), mm(0.0)).unwrap(), (3, mm(0.0)));
        assert_eq!(strips(mm(100.0), mm(0.0), mm(3.2)), Err(StockFault::NoPiece));
    }

    #[test]
    fn scrap_asks_for_spare_sheets() {
        let panel = quarters(2440.0, 1220.0, 3.2);
        let size = [mm(600.0), mm(1210.0)];
        let tenth = stock(18, size, 0.1, &panel).unwrap();
        assert_eq!((tenth.sheets, tenth.spare, tenth.panels, tenth.left), (20, 2, 5, 0));
        assert_eq!(stock(0, size, 0.1, &panel).unwrap().panels, 0);
        assert_eq!(stock(1, size, 1.0, &panel), Err(StockFault::Scrap(1.0)));
        assert!(stock(1, size, f64::NAN, &panel).is_err());
    }

    #[test]
    fn a_saw_can_eat_a_panel() {
        assert_eq!(piece(mm(6.0), mm(3.2), 3), Err(StockFault::NoPiece));
        assert_eq!(piece(mm(100.0), mm(3.2), 0), Err(StockFault::NoPiece));
    }
}
