//! The shape a bit sweeps.
//!
//! May live here: the profile of a bit's end. May not: what it does to a sheet.

use super::shape::larger;
use chargehand_types::card::{Bit, BitKind};
use chargehand_types::quantity::Length;

/// A bit as a body of revolution: its edge at a distance from the axis lies so high above its tip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cutter {
    /// Half the cutting diameter, mm.
    radius: f64,
    end: End,
    /// The most it is meant to take at once, mm.
    deep: f64,
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
        Self { radius: bit.cuts().mm() / 2.0, end, deep: f64::INFINITY }
    }

    /// The same bit, meant to take no more than this at once.
    #[must_use]
    pub fn taking(self, most: Length) -> Self {
        Self { deep: most.mm(), ..self }
    }

    /// The most it is meant to take at once, mm.
    pub(super) fn deep(&self) -> f64 {
        self.deep
    }

    /// Half the cutting diameter, mm.
    pub(crate) fn radius(&self) -> f64 {
        self.radius
    }

    /// Whether the whole diameter cuts as deep as the tip.
    pub(crate) fn is_flat(&self) -> bool {
        self.end == End::Flat
    }

    /// How high above the tip the edge lies at this distance from the axis, mm; none beyond the radius.
    #[cfg(test)]
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

/// Where a sloping way is lowest over a place: so far behind it, in shares of the half width of the bit there and of
/// the place's distance from the way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lean {
    pub(super) width: f64,
    pub(super) aside: f64,
}

impl Cutter {
    /// For a way that gains this height per mm seen from above.
    pub(super) fn lean(&self, slope: f64) -> Lean {
        match self.end {
            // all of the bit is as low as its tip: the lower end of what covers the place
            End::Flat if slope == 0.0 => Lean { width: 0.0, aside: 0.0 },
            End::Flat => Lean { width: slope.signum(), aside: 0.0 },
            // a sphere touches the envelope of its way at right angles to the way
            End::Ball => Lean { width: slope / slope.hypot(1.0), aside: 0.0 },
            // a cone touches it along a line, unless the way is steeper than the cone
            End::V(cone) if slope.abs() < cone => {
                Lean { width: 0.0, aside: slope / (cone * cone - slope * slope).sqrt() }
            }
            End::V(_) => Lean { width: slope.signum(), aside: 0.0 },
        }
    }

    /// Hands the height of the edge above the tip, by the squared distance from the axis, to the inner loop: one loop
    /// for each form of end.
    pub(super) fn with_rise<R: WithRise>(&self, run: R) {
        match self.end {
            End::Flat => run.run(|_| 0.0),
            End::Ball => {
                let radius = self.radius as f32;
                run.run(move |away| radius - larger(radius * radius - away, 0.0).sqrt());
            }
            End::V(slope) => {
                let slope = slope as f32;
                run.run(move |away| slope * away.sqrt());
            }
        }
    }
}

/// An inner loop that wants a bit's end.
pub(super) trait WithRise {
    /// Runs it.
    fn run(self, rise: impl Fn(f32) -> f32);
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use chargehand_types::quantity::Angle;

    pub(crate) fn bit(kind: BitKind, diameter: f64) -> Bit {
        Bit {
            title: "a bit".to_owned(),
            kind,
            diameter: Length::from_mm(diameter).unwrap(),
            flutes: 2,
            cutting_length: Length::from_mm(25.0).unwrap(),
            upcut_length: None,
            angle: None,
            helix: None,
            life: None,
            price: None,
            tool: None,
            measured: chargehand_types::bits::BitFigures::default(),
        }
    }

    #[test]
    fn a_flat_end_cuts_over_its_whole_width() {
        let c = Cutter::of(&bit(BitKind::Compression, 6.0));
        assert_eq!(c.rise(3.0), Some(0.0));
        assert_eq!(c.rise(3.1), None);
    }

    #[test]
    fn a_ball_is_a_sphere() {
        // a sphere of radius 5 met 3 away from its axis lies 5 - 4 above its lowest point
        let c = Cutter::of(&bit(BitKind::Ball, 10.0));
        assert!((c.rise(3.0).unwrap() - 1.0).abs() < 1.0e-12);
    }

    #[test]
    fn a_v_opens_by_its_angle() {
        let c = Cutter::of(&Bit { angle: Some(Angle::new(60.0).unwrap()), ..bit(BitKind::V, 12.0) });
        // half of 60 degrees: one away is 1/tan 30 = sqrt 3 up
        assert!((c.rise(1.0).unwrap() - 3.0_f64.sqrt()).abs() < 1.0e-12);
    }
}
