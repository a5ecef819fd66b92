//! Where on the sheet the Z zero is touched, in words: uncut, and how far from a fastener.
//!
//! May live here: these words. May not: the search for the spot, which is the hold-down's.

use chargehand_types::holddown::HoldDownReport;
use chargehand_types::quantity::{Spot, plain};

/// Where a zero that counts from the waste board is touched.
pub const ON_THE_BOARD: &str = "on the waste board beside the sheet, where nothing was cut";

/// The middle of the largest place that no cut comes near, from the sheet's left and front edges.
#[must_use]
pub fn spot(holddown: &HoldDownReport, corner: Spot) -> Option<String> {
    let free = holddown.largest_free?;
    let (x, y) = ((free.at.x - corner.x).mm(), (free.at.y - corner.y).mm());
    let whole = |mm: f64| plain(mm.round());
    // down, never up: what is told free is free
    let round = plain(free.radius.mm().floor());
    let told = format!("at {} and {} mm from left and front, where {round} mm round stays uncut", whole(x), whole(y));
    Some(match nearest(free.at, &holddown.places) {
        Some((number, far)) => format!("{told} (fastener {number} is {} mm off)", whole(far)),
        None => told,
    })
}

/// A place from the sheet's left and front edges, and from the fastener that is nearest to it.
#[must_use]
pub fn from_edges(at: Spot, corner: Spot, places: &[Spot]) -> String {
    let whole = |mm: f64| plain(mm.round());
    let edges =
        format!("at {} and {} mm from left and front", whole((at.x - corner.x).mm()), whole((at.y - corner.y).mm()));
    match nearest(at, places) {
        Some((number, far)) => format!("{edges}, {} mm from fastener {number}", whole(far)),
        None => edges,
    }
}

/// The number of the fastener that is nearest to a place, and how far off it is, in mm.
fn nearest(at: Spot, places: &[Spot]) -> Option<(u32, f64)> {
    let far = |place: &Spot| (place.x - at.x).mm().hypot((place.y - at.y).mm());
    (1..).zip(places).map(|(number, place)| (number, far(place))).min_by(|a, b| a.1.total_cmp(&b.1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::holddown::FreeCircle;
    use chargehand_types::quantity::Length;

    fn at(x: f64, y: f64) -> Spot {
        Spot { x: Length::from_mm(x).unwrap(), y: Length::from_mm(y).unwrap() }
    }

    #[test]
    fn the_spot_is_told_from_the_edges_with_its_nearest_fastener() {
        let radius = Length::from_mm(22.9).unwrap();
        let mut holddown = HoldDownReport {
            places: vec![at(0.0, 0.0), at(130.0, 240.0)],
            largest_free: Some(FreeCircle { at: at(100.0, 200.0), radius }),
            holds_n: None,
            needs_n: None,
        };
        assert_eq!(
            spot(&holddown, at(-10.0, 0.0)).unwrap(),
            "at 110 and 200 mm from left and front, where 22 mm round stays uncut (fastener 2 is 50 mm off)"
        );
        holddown.places.clear();
        assert!(spot(&holddown, at(0.0, 0.0)).unwrap().ends_with("stays uncut"));
        holddown.largest_free = None;
        assert_eq!(spot(&holddown, at(0.0, 0.0)), None);
    }

    #[test]
    fn a_touched_place_is_told_by_edges_and_fastener() {
        let places = [at(0.0, 0.0), at(130.0, 240.0)];
        let said = from_edges(at(100.0, 200.0), at(-10.0, 0.0), &places);
        assert_eq!(said, "at 110 and 200 mm from left and front, 50 mm from fastener 2");
        assert_eq!(from_edges(at(100.0, 200.0), at(0.0, 0.0), &[]), "at 100 and 200 mm from left and front");
    }
}
