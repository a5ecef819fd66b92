//! What a fastener holds in this waste board under this sheet, and what the cut asks for.
//!
//! May live here: sums of forces. May not: where the fasteners stand.

use super::strength::{lateral_group, nail_lateral, nail_withdrawal, screw_in_board, screw_in_wood, screw_lateral};
use chargehand_types::card::{Bit, BitKind, Fastener, FastenerKind};
use chargehand_types::quantity::{Angle, ChipLoad, Length, Stress};

/// What fasteners go into.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Board {
    /// Oven dry, of the waste board's material.
    pub gravity: f64,
    /// How thick it is.
    pub thickness: Length,
}

/// Forces in newtons: against lifting the sheet, and against pushing it sideways.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Hold {
    /// Up.
    pub lift: f64,
    /// Sideways.
    pub side: f64,
}

/// What one bit does to the sheet at its hardest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pull<'a> {
    /// The bit.
    pub bit: &'a Bit,
    /// What a tooth takes.
    pub chip_load: ChipLoad,
    /// Depth of the pass.
    pub depth: Length,
}

/// Wood on wood, and a clamp's foot on wood (common practice, no source).
const FRICTION: f64 = 0.3;
/// Of an up-cut bit whose helix nobody told, degrees (common practice, no source).
const USUAL_HELIX: f64 = 30.0;
/// Beech along the grain, N/mm2 (Wood Handbook table 5-3a: American beech 13.9): what a pin is sheared at, across it is
/// more.
const BEECH_SHEAR: f64 = 13.9;
/// Shanks of thread that a screw needs for its whole sideways load (Wood Handbook ch. 8, from memory).
const WHOLE_LATERAL: f64 = 7.0;

impl Hold {
    /// The sum of two.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self { lift: self.lift + other.lift, side: self.side + other.side }
    }

    /// This many times as much.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self { lift: self.lift * factor, side: self.side * factor }
    }

    /// What holds and what is needed in the direction that is worse off, in newtons.
    #[must_use]
    pub fn weaker(self, need: Self) -> (f64, f64) {
        let short = |holds: f64, needs: f64| if needs > 0.0 { holds / needs } else { f64::INFINITY };
        if short(self.lift, need.lift) < short(self.side, need.side) {
            (self.lift, need.lift)
        } else {
            (self.side, need.side)
        }
    }

    /// Whether it is enough in both directions.
    #[must_use]
    pub fn enough(self, need: Self) -> bool {
        self.lift >= need.lift && self.side >= need.side
    }
}

/// How far a fastener goes into the waste board through a sheet; and how far it would come out below.
#[must_use]
pub fn penetration(fastener: &Fastener, sheet: Length, board: Length) -> (Length, Length) {
    let whole = fastener.penetration.or(fastener.length.map(|l| l - sheet)).unwrap_or_default().max(Length::ZERO);
    (whole.min(board), (whole - board).max(Length::ZERO))
}

/// What one fastener holds before it or the wood gives way.
///
/// A waste board is a board as often as wood, and holds less then: the lesser of both formulas counts. None where the shop
/// does not say what a clamp is rated for, or how large a strip of tape or a vacuum zone is.
#[must_use]
pub fn held(fastener: &Fastener, sheet: Length, board: &Board) -> Option<Hold> {
    let (thread, _) = penetration(fastener, sheet, board.thickness);
    let (thread, shank) = (thread.mm(), fastener.diameter.unwrap_or_default().mm());
    let area = fastener.footprint.map(|[x, y]| x.mm() * y.mm());
    let pressed = fastener.force.map(|f| f.value());
    let share = |whole: f64| if shank > 0.0 { (thread / (whole * shank)).min(1.0) } else { 0.0 };
    Some(match fastener.kind {
        FastenerKind::Screw => Hold {
            lift: screw_in_wood(board.gravity, shank, thread).min(screw_in_board(board.gravity, shank, thread)),
            side: screw_lateral(lateral_group(board.gravity), shank) * share(WHOLE_LATERAL),
        },
        FastenerKind::Nail => Hold {
            lift: nail_withdrawal(board.gravity, shank, thread),
            // a nail needs about ten shanks (Wood Handbook ch. 8, from memory)
            side: nail_lateral(shank) * share(10.0),
        },
        FastenerKind::Pin => {
            Hold { lift: 0.0, side: BEECH_SHEAR * std::f64::consts::FRAC_PI_4 * shank * shank * share(1.0) }
        }
        FastenerKind::Clamp => Hold { lift: pressed?, side: FRICTION * pressed? },
        FastenerKind::Wedge => Hold { lift: FRICTION * pressed?, side: pressed? },
        FastenerKind::Tape => {
            let strength = fastener.strength?.value() * area?;
            Hold { lift: strength, side: strength }
        }
        FastenerKind::Vacuum => {
            // 1 kPa is 0.001 N/mm2
            let pressed = fastener.pressure_kpa? / 1000.0 * area?;
            Hold { lift: pressed, side: FRICTION * pressed }
        }
    })
}

/// What a cut asks of the fasteners, before any safety.
///
/// Sideways: the material's cutting force on the chip that one tooth takes over the depth of the pass, for each tooth that
/// cuts at once in a slot. Up: the helix turns as much of it upwards as its flutes lean, over the length that cuts up.
#[must_use]
pub fn needed(pull: &Pull<'_>, cutting_force: Stress) -> Hold {
    let (bit, depth) = (pull.bit, pull.depth.mm().max(0.0));
    let teeth = f64::from(bit.flutes.div_ceil(2).max(1));
    let of_depth = |depth: f64| cutting_force.value() * pull.chip_load.value() * depth * teeth;
    let up = match bit.kind {
        BitKind::UpCut | BitKind::Ball => depth,
        BitKind::Compression => depth.min(bit.tip().unwrap_or_default().mm()),
        BitKind::DownCut | BitKind::Straight | BitKind::V => 0.0,
    };
    let helix = bit.helix.map_or(USUAL_HELIX, Angle::value);
    Hold { lift: of_depth(up) * helix.to_radians().tan(), side: of_depth(depth) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::quantity::Force;

    fn mm(v: f64) -> Length {
        Length::from_mm(v).unwrap()
    }

    pub(crate) fn fastener(kind: FastenerKind) -> Fastener {
        Fastener {
            title: "a fastener".to_owned(),
            kind,
            diameter: Some(mm(4.0)),
            length: Some(mm(30.0)),
            penetration: None,
            head_diameter: Some(mm(8.0)),
            head_height: Length::ZERO,
            force: Some(Force::of(400.0)),
            footprint: Some([mm(40.0), mm(25.0)]),
            thickness: None,
            strength: Some(Stress::of(0.03)),
            pressure_kpa: Some(60.0),
        }
    }

    fn board() -> Board {
        Board { gravity: 0.72, thickness: mm(18.0) }
    }

    #[test]
    fn a_thicker_sheet_leaves_less_thread() {
        let screw = fastener(FastenerKind::Screw);
        assert_eq!(penetration(&screw, mm(18.0), mm(18.0)), (mm(12.0), Length::ZERO));
        assert_eq!(penetration(&screw, mm(9.0), mm(18.0)), (mm(18.0), mm(3.0)));
        assert_eq!(penetration(&screw, mm(40.0), mm(18.0)), (Length::ZERO, Length::ZERO));
        let hold = |sheet: f64| held(&screw, mm(sheet), &board()).unwrap();
        assert!(hold(12.0).lift > hold(18.0).lift && hold(18.0).lift > 0.0);
        assert_eq!(hold(40.0), Hold::default());
    }

    #[test]
    fn the_lesser_formula_counts() {
        // board form: 41.1 x 2 x (12 - 4/3)^1.25 x 0.72^2 = 821.5; the wood's would be 2694
        let hold = held(&fastener(FastenerKind::Screw), mm(18.0), &board()).unwrap();
        assert!((hold.lift - 821.5).abs() < 1.0, "{hold:?}");
        // 36.4 x 16 over 12 of 28 mm
        assert!((hold.side - 36.40 * 16.0 * 12.0 / 28.0).abs() < 1.0e-9, "{hold:?}");
    }

    #[test]
    fn pressing_holds_sideways_by_friction() {
        let held = |fastener: &Fastener| held(fastener, mm(18.0), &board());
        let clamp = held(&fastener(FastenerKind::Clamp)).unwrap();
        assert!((clamp.lift - 400.0).abs() < 1.0e-9 && (clamp.side - 120.0).abs() < 1.0e-9);
        let tape = held(&fastener(FastenerKind::Tape)).unwrap();
        assert!((tape.lift - 30.0).abs() < 1.0e-9);
        let air = held(&fastener(FastenerKind::Vacuum)).unwrap();
        assert!((air.lift - 60.0).abs() < 1.0e-9 && (air.side - 18.0).abs() < 1.0e-9);
        assert_eq!(held(&fastener(FastenerKind::Pin)).unwrap().lift, 0.0);
        assert_eq!(held(&Fastener { force: None, ..fastener(FastenerKind::Clamp) }), None);
        assert_eq!(held(&Fastener { footprint: None, ..fastener(FastenerKind::Tape) }), None);
    }

    #[test]
    fn only_flutes_that_lean_up_lift() {
        let bit = |kind| Bit {
            title: "a bit".to_owned(),
            kind,
            diameter: mm(6.0),
            flutes: 2,
            cutting_length: mm(25.0),
            upcut_length: Some(mm(5.0)),
            angle: None,
            helix: None,
            life: None,
            price: None,
            tool: None,
            measured: chargehand_types::bits::BitFigures::default(),
        };
        let need = |kind| {
            let pull = Pull { bit: &bit(kind), chip_load: ChipLoad::of(0.2), depth: mm(10.0) };
            needed(&pull, Stress::of(18.0))
        };
        // 18 N/mm2 x 0.2 x 10 = 36 N; tan 30 = 0.57735
        let up = need(BitKind::UpCut);
        assert!((up.side - 36.0).abs() < 1.0e-9 && (up.lift - 20.785).abs() < 1.0e-3, "{up:?}");
        assert!((need(BitKind::Compression).lift - 10.392).abs() < 1.0e-3);
        assert_eq!(need(BitKind::DownCut).lift, 0.0);
        // told to be 45 degrees it lifts as hard as it pushes
        let steep = Bit { helix: Some(Angle::new(45.0).unwrap()), ..bit(BitKind::UpCut) };
        let steep = needed(&Pull { bit: &steep, chip_load: ChipLoad::of(0.2), depth: mm(10.0) }, Stress::of(18.0));
        assert!((steep.lift - 36.0).abs() < 1.0e-9, "{steep:?}");
        assert!(Hold { lift: 10.0, side: 36.0 }.weaker(up) == (10.0, up.lift));
        assert!(!Hold { lift: 10.0, side: 36.0 }.enough(up) && up.enough(up));
    }
}
