//! The shape a bit sweeps.
//!
//! May live here: the profile of a bit's end. May not: what it does to a sheet.

use chargehand_types::card::{Bit, BitKind};

/// A bit as a body of revolution: its edge at a distance from the axis lies so high above its tip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cutter {
    /// Half the cutting diameter, mm.
    radius: f64,
    end: End,
}

/// The form of the end.
#[derive(Debug, Clone, Copy, PartialEq)]
enum End {
    Flat,
    Ball,
    /// Height gained for each mm away from the axis: 1 / tan(half the included angle).
    V(f64),
}

/// Included angle of a V bit that does not say its own, degrees (common practice, no source).
const USUAL_V: f64 = 90.0;

impl Cutter {
    /// The shape of a bit; up-cut, down-cut, compression and straight bits end flat.
    #[must_use]
    pub fn of(bit: &Bit) -> Self {
        let end = match bit.kind {
            BitKind::Ball => End::Ball,
            BitKind::V => {
                let whole = bit.angle.map_or(USUAL_V, |angle| angle.value());
                End::V(1.0 / (whole / 2.0).to_radians().tan().max(1.0e-6))
            }
            BitKind::UpCut | BitKind::DownCut | BitKind::Compression | BitKind::Straight => End::Flat,
        };
        Self { radius: bit.diameter.mm() / 2.0, end }
    }

    /// Half the cutting diameter, mm.
    pub(crate) fn radius(&self) -> f64 {
        self.radius
    }

    /// Whether the whole diameter cuts as deep as the tip.
    pub(crate) fn is_flat(&self) -> bool {
        self.end == End::Flat
    }

    /// How far from the axis the bit still cuts at this height above its tip, mm; 0 below the tip.
    pub(crate) fn reach(&self, height: f64) -> f64 {
        if height < 0.0 {
            return 0.0;
        }
        match self.end {
            End::Flat => self.radius,
            End::Ball if height >= self.radius => self.radius,
            End::Ball => (height * (2.0 * self.radius - height)).max(0.0).sqrt(),
            End::V(slope) => (height / slope).min(self.radius),
        }
    }

    /// How high above the tip the edge lies at this distance from the axis, mm; none beyond the radius.
    pub(crate) fn rise(&self, away: f64) -> Option<f64> {
        if away > self.radius {
            return None;
        }
        Some(match self.end {
            End::Flat => 0.0,
            End::Ball => self.radius - (self.radius * self.radius - away * away).max(0.0).sqrt(),
            End::V(slope) => away * slope,
        })
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use chargehand_types::quantity::{Angle, Length};

    pub(crate) fn bit(kind: BitKind, diameter: f64) -> Bit {
        Bit {
            title: "a bit".to_owned(),
            kind,
            diameter: Length::from_mm(diameter).unwrap(),
            flutes: 2,
            cutting_length: Length::from_mm(25.0).unwrap(),
            upcut_length: None,
            angle: None,
            life: None,
            price: None,
            tool: None,
        }
    }

    #[test]
    fn a_flat_end_cuts_over_its_whole_width() {
        let c = Cutter::of(&bit(BitKind::Compression, 6.0));
        assert_eq!(c.rise(3.0), Some(0.0));
        assert_eq!(c.rise(3.1), None);
        assert_eq!(c.reach(0.0), 3.0);
        assert_eq!(c.reach(-0.1), 0.0);
    }

    #[test]
    fn a_ball_is_a_sphere() {
        // a sphere of radius 5 met 3 away from its axis lies 5 - 4 above its lowest point
        let c = Cutter::of(&bit(BitKind::Ball, 10.0));
        assert!((c.rise(3.0).unwrap() - 1.0).abs() < 1.0e-12);
        assert!((c.reach(1.0) - 3.0).abs() < 1.0e-12);
        assert_eq!(c.reach(7.0), 5.0);
    }

    #[test]
    fn a_v_opens_by_its_angle() {
        let c = Cutter::of(&Bit { angle: Some(Angle::new(60.0).unwrap()), ..bit(BitKind::V, 12.0) });
        // half of 60 degrees: one away is 1/tan 30 = sqrt 3 up
        assert!((c.rise(1.0).unwrap() - 3.0_f64.sqrt()).abs() < 1.0e-12);
        assert!((c.reach(3.0_f64.sqrt()) - 1.0).abs() < 1.0e-12);
    }
}
