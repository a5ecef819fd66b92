//! Figures of time use as ISO 22400-2 has them: availability, effectiveness, quality, and their product.
//!
//! May live here: those formulas. May not: which time counts as what.

/// Time and quantity elements of ISO 22400-2:2014, as far as the figures need them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Elements {
    /// Planned busy time (PBT), minutes; none where no hours were planned for.
    pub planned_busy: Option<f64>,
    /// Actual production time (APT), minutes: in motion or dwell.
    pub production: f64,
    /// Planned run time of everything produced (PRI x PQ), minutes.
    pub planned_run: f64,
    /// Produced quantity (PQ).
    pub produced: u32,
    /// Good quantity (GQ).
    pub good: u32,
}

/// The figures; each none where it is divided by nothing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Figures {
    /// APT / PBT.
    pub availability: Option<f64>,
    /// PRI x PQ / APT. Above 1 the planned run time is wrong; it is told as it is.
    pub effectiveness: Option<f64>,
    /// GQ / PQ.
    pub quality: Option<f64>,
    /// The product of the three.
    pub oee: Option<f64>,
}

/// The figures of some elements: ISO 22400-2:2014, as cited by OPC UA for Machine Tools v1.01, annex C.2.4.
#[must_use]
pub fn figures(of: &Elements) -> Figures {
    let share = |part: f64, whole: f64| (whole > 0.0 && part.is_finite()).then(|| part / whole);
    let availability = of.planned_busy.and_then(|planned| share(of.production, planned));
    let effectiveness = share(of.planned_run, of.production);
    let quality = share(f64::from(of.good), f64::from(of.produced));
    let oee = availability.zip(effectiveness).zip(quality).map(|((a, e), q)| a * e * q);
    Figures { availability, effectiveness, quality, oee }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: Option<f64>, known: f64) {
        assert!((found.unwrap() - known).abs() < 5.0e-6, "{found:?} {known}");
    }

    #[test]
    fn a_worked_example() {
        // PBT 480, APT 336, PRI 20, PQ 15, GQ 14 (worked by hand with the formulas of ISO 22400-2:2014)
        let of = Elements { planned_busy: Some(480.0), production: 336.0, planned_run: 300.0, produced: 15, good: 14 };
        let f = figures(&of);
        near(f.availability, 0.7);
        near(f.effectiveness, 0.892_857);
        near(f.quality, 0.933_333);
        near(f.oee, 0.583_333);
        // the product is PRI x GQ / PBT
        near(f.oee, 20.0 * 14.0 / 480.0);
        // PBT 420, APT 300, PRI 24, PQ 11, GQ 10
        let of = Elements { planned_busy: Some(420.0), production: 300.0, planned_run: 264.0, produced: 11, good: 10 };
        near(figures(&of).oee, 0.571_429);
    }

    #[test]
    fn a_textbook_example() {
        // an example that textbooks on overall equipment effectiveness give, from memory: 480 min of a shift, 60 of
        // breaks, 47 of standing still; 19,271 pieces at 1 s each, 423 of them bad: 88.81 %, 86.11 %, 97.80 %, 74.79 %
        let run = 19_271.0 / 60.0;
        let of = Elements {
            planned_busy: Some(420.0),
            production: 373.0,
            planned_run: run,
            produced: 19_271,
            good: 19_271 - 423,
        };
        let f = figures(&of);
        let share = |found: Option<f64>| (found.unwrap() * 10_000.0).round() / 100.0;
        assert_eq!([f.availability, f.effectiveness, f.quality, f.oee].map(share), [88.81, 86.11, 97.8, 74.79]);
    }

    #[test]
    fn nothing_is_divided_by_nothing() {
        assert_eq!(figures(&Elements::default()), Figures::default());
        let idle = figures(&Elements { planned_busy: Some(480.0), ..Elements::default() });
        assert_eq!((idle.availability, idle.effectiveness, idle.oee), (Some(0.0), None, None));
    }
}
