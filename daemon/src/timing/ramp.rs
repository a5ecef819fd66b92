//! One piece of way under constant acceleration: up to speed, along, down again.
//!
//! May live here: the trapezoid. May not: what limits it.

/// A piece of way with what bounds the speed on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ramp {
    /// In mm.
    pub(super) length: f64,
    /// In mm/s2, never 0.
    pub(super) acceleration: f64,
    /// The square of the top speed, in (mm/s)^2, never 0.
    pub(super) ceiling2: f64,
}

impl Ramp {
    /// How much the square of the speed can change along it: `2 a d`.
    pub(super) fn gain(&self) -> f64 {
        2.0 * self.acceleration * self.length
    }

    /// The square of the highest speed on it: `min(vm^2, (2 a d + v0^2 + v1^2) / 2)`.
    pub(super) fn peak2(&self, in2: f64, out2: f64) -> f64 {
        let free = (self.gain() + in2 + out2) / 2.0;
        free.min(self.ceiling2).max(in2.max(out2))
    }

    /// Seconds from the speed it is entered with to the speed it is left with (both squared).
    ///
    /// `t = (vp - v0)/a + (vp - v1)/a + (d - d_acc - d_dec)/vp`, `d_acc = (vp^2 - v0^2)/2a`, `d_dec` likewise.
    pub(super) fn seconds(&self, in2: f64, out2: f64) -> f64 {
        let peak2 = self.peak2(in2, out2);
        if self.length <= 0.0 || peak2 <= 0.0 {
            return 0.0;
        }
        let (v0, v1, vp) = (in2.sqrt(), out2.sqrt(), peak2.sqrt());
        let ramps = (2.0 * peak2 - in2 - out2) / (2.0 * self.acceleration);
        let even = (self.length - ramps).max(0.0);
        (2.0 * vp - v0 - v1) / self.acceleration + even / vp
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(d: f64, v0: f64, v1: f64, vmax: f64, a: f64, seconds: f64, peak: f64) {
        let ramp = Ramp { length: d, acceleration: a, ceiling2: vmax * vmax };
        let (t, vp) = (ramp.seconds(v0 * v0, v1 * v1), ramp.peak2(v0 * v0, v1 * v1).sqrt());
        assert!((t - seconds).abs() < seconds * 1.0e-4, "{t} s is not {seconds}");
        assert!((vp - peak).abs() < peak * 1.0e-4, "{vp} mm/s is not {peak}");
    }

    #[test]
    fn trapezoids_take_their_time() {
        // trade-facts 2.1, trapezoid_move_time_s (constant acceleration kinematics)
        check(100.0, 0.0, 0.0, 40.0, 500.0, 2.58, 40.0);
        check(2.0, 0.0, 0.0, 100.0, 500.0, 0.12649, 31.623);
        check(30.0, 10.0, 5.0, 40.0, 400.0, 0.81641, 40.0);
        check(0.8, 8.0, 20.0, 50.0, 300.0, 0.051504, 21.726);
    }

    #[test]
    fn exit_speed_follows_length() {
        // trade-facts 2.1, max_exit_speed
        let exit =
            |d: f64, v0: f64, a: f64| (v0 * v0 + Ramp { length: d, acceleration: a, ceiling2: 1.0e12 }.gain()).sqrt();
        assert!((exit(1.5, 0.0, 400.0) - 34.641).abs() < 1.0e-3);
        assert!((exit(0.25, 12.0, 500.0) - 19.849).abs() < 1.0e-3);
    }

    #[test]
    fn no_way_takes_no_time() {
        let ramp = Ramp { length: 0.0, acceleration: 400.0, ceiling2: 100.0 };
        assert_eq!(ramp.seconds(25.0, 25.0), 0.0);
    }
}
