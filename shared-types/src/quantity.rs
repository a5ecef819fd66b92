//! Quantities with units. Lengths are whole nanometres, so 0.0001 inch and 0.001 mm are exact; feeds are whole
//! nanometres a minute. What is measured or computed (forces, areas, seconds) is a finite `f64` behind a type.
//!
//! May live here: a newtype for each quantity, its text and its serde form. May not: formulas of a room.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;
use std::ops::{Add, AddAssign, Neg, Sub};

/// Nanometres in a millimetre.
pub const NM_PER_MM: i64 = 1_000_000;
/// Nanometres in an inch (1 in = 25.4 mm exactly).
pub const NM_PER_INCH: i64 = 25_400_000;

/// A number that is no quantity: infinite, not a number, or too large for the type.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{0} is no usable number here")]
pub struct NotAQuantity(pub f64);

macro_rules! whole {
    ($(#[$doc:meta])* $name:ident, $scale:expr, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
        pub struct $name(pub i64);

        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0);

            /// From the unit that files use, rounded to the nearest whole step.
            ///
            /// # Errors
            /// When the number is not finite or beyond about a ninth of the type's range.
            pub fn from_unit(value: f64) -> Result<Self, NotAQuantity> {
                let scaled = value * $scale as f64;
                if scaled.is_finite() && scaled.abs() < 1.0e18 {
                    #[allow(clippy::cast_possible_truncation)]
                    Ok(Self(scaled.round() as i64))
                } else {
                    Err(NotAQuantity(value))
                }
            }

            /// In the unit that files use.
            #[must_use]
            pub fn unit(self) -> f64 {
                self.0 as f64 / $scale as f64
            }

            /// Its size without its sign.
            #[must_use]
            pub fn abs(self) -> Self {
                Self(self.0.saturating_abs())
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self { Self(self.0.saturating_add(other.0)) }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) { *self = *self + other; }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self { Self(self.0.saturating_sub(other.0)) }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self { Self(self.0.saturating_neg()) }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{} {}", plain(self.unit()), $unit)
            }
        }
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.serialize_f64(self.unit())
            }
        }
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let value = f64::deserialize(d)?;
                Self::from_unit(value).map_err(serde::de::Error::custom)
            }
        }
    };
}

macro_rules! measured {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);

            /// A finite value.
            ///
            /// # Errors
            /// When the number is infinite or not a number.
            pub fn new(value: f64) -> Result<Self, NotAQuantity> {
                if value.is_finite() { Ok(Self(value)) } else { Err(NotAQuantity(value)) }
            }

            /// A finite value; what is not finite becomes nothing. For sums of values already finite.
            #[must_use]
            pub fn of(value: f64) -> Self {
                Self::new(value).unwrap_or_default()
            }

            /// The bare number, in this type's unit.
            #[must_use]
            pub fn value(self) -> f64 {
                self.0
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self { Self::of(self.0 + other.0) }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) { *self = *self + other; }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self { Self::of(self.0 - other.0) }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{} {}", plain(self.0), $unit)
            }
        }
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let value = f64::deserialize(d)?;
                Self::new(value).map_err(serde::de::Error::custom)
            }
        }
    };
}

whole!(
    /// A length or a coordinate, whole nanometres; millimetres in files and JSON.
    Length, NM_PER_MM, "mm"
);
whole!(
    /// A feed, whole nanometres a minute; mm/min in files and JSON.
    Feed, NM_PER_MM, "mm/min"
);
whole!(
    /// A spindle speed, thousandths of a revolution a minute; rpm in files and JSON.
    Rpm, 1000, "rpm"
);
measured!(
    /// An angle in degrees.
    Angle, "deg"
);
measured!(
    /// A force in newtons.
    Force, "N"
);
measured!(
    /// An area in mm2.
    Area, "mm2"
);
measured!(
    /// What one tooth takes, in millimetres.
    ChipLoad, "mm/tooth"
);
measured!(
    /// A span of machine time in seconds.
    Seconds, "s"
);
measured!(
    /// A way travelled in metres.
    Metres, "m"
);
measured!(
    /// An acceleration in mm/s2.
    Acceleration, "mm/s2"
);
measured!(
    /// A stress in N/mm2.
    Stress, "N/mm2"
);

impl Length {
    /// From millimetres, rounded to the nanometre; see [`Length::from_unit`].
    ///
    /// # Errors
    /// When the number is not finite or absurdly large.
    pub fn from_mm(mm: f64) -> Result<Self, NotAQuantity> {
        Self::from_unit(mm)
    }

    /// From whole millimetres.
    #[must_use]
    pub const fn whole_mm(mm: i64) -> Self {
        Self(mm.saturating_mul(NM_PER_MM))
    }

    /// In millimetres.
    #[must_use]
    pub fn mm(self) -> f64 {
        self.unit()
    }
}

/// A point of the work frame (G54 with every other shift taken out), or a displacement in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, PartialOrd, Ord)]
pub struct Point {
    /// Left and right.
    pub x: Length,
    /// Towards you and away.
    pub y: Length,
    /// Down and up.
    pub z: Length,
}

impl Point {
    /// From three lengths.
    #[must_use]
    pub const fn new(x: Length, y: Length, z: Length) -> Self {
        Self { x, y, z }
    }

    /// The straight distance to another point.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        let (dx, dy, dz) = ((other.x - self.x).mm(), (other.y - self.y).mm(), (other.z - self.z).mm());
        (dx * dx + dy * dy + dz * dz).sqrt()
    }
}

impl Add for Point {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self::new(self.x + o.x, self.y + o.y, self.z + o.z)
    }
}
impl Sub for Point {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self::new(self.x - o.x, self.y - o.y, self.z - o.z)
    }
}
impl Serialize for Point {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        [self.x, self.y, self.z].serialize(s)
    }
}
impl<'de> Deserialize<'de> for Point {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let [x, y, z] = <[Length; 3]>::deserialize(d)?;
        Ok(Self { x, y, z })
    }
}

/// A place on the sheet, seen from above, in work coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, PartialOrd, Ord)]
pub struct Spot {
    /// Left and right.
    pub x: Length,
    /// Towards you and away.
    pub y: Length,
}

impl Serialize for Spot {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        [self.x, self.y].serialize(s)
    }
}
impl<'de> Deserialize<'de> for Spot {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let [x, y] = <[Length; 2]>::deserialize(d)?;
        Ok(Self { x, y })
    }
}

/// Machine time: microseconds counted by `app`, at a rate of its own (1 on a real port, 20 in practice).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Tick(pub u64);

impl Tick {
    /// This many microseconds later; stays at the end of time instead of wrapping.
    #[must_use]
    pub const fn after_us(self, us: u64) -> Self {
        Self(self.0.saturating_add(us))
    }

    /// This many milliseconds later.
    #[must_use]
    pub const fn after_ms(self, ms: u64) -> Self {
        self.after_us(ms.saturating_mul(1000))
    }

    /// Microseconds since an earlier tick; 0 when it is not earlier.
    #[must_use]
    pub const fn us_since(self, earlier: Self) -> u64 {
        self.0.saturating_sub(earlier.0)
    }

    /// Seconds since an earlier tick.
    #[must_use]
    pub fn since(self, earlier: Self) -> Seconds {
        Seconds::of(self.us_since(earlier) as f64 / 1.0e6)
    }
}

/// Whole numbers below this are written as such; every one of them is exact.
const WHOLE: f64 = 1.0e15;

/// A number as people write it: at most three decimals, no trailing zeros.
#[must_use]
pub fn plain(value: f64) -> String {
    if value.fract() == 0.0 && value.abs() < WHOLE {
        // most of what is written is whole, and writing decimals of it only to drop them takes many times longer
        #[allow(clippy::cast_possible_truncation, reason = "whole, and less than an i64 holds")]
        return (value as i64).to_string();
    }
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inch_ten_thousandths_are_exact() {
        assert_eq!(NM_PER_INCH / 10_000, 2540);
    }

    #[test]
    fn whole_numbers_are_written_as_their_decimals_would_be() {
        let decimals = |value: f64| {
            let text = format!("{value:.3}");
            let text = text.trim_end_matches('0').trim_end_matches('.').to_owned();
            if text == "-0" { "0".to_owned() } else { text }
        };
        for value in [0.0, -0.0, 1.0, -1.0, 10.0, 100.0, -1200.0, 12.0001, 0.9999, -0.0001, 1.5, 999_999_999_999_999.0]
        {
            assert_eq!(plain(value), decimals(value), "{value}");
        }
        for value in [1.0e15, -1.0e15, 1.0e16, 1.0e300, f64::INFINITY, f64::NAN] {
            assert_eq!(plain(value), decimals(value), "{value}");
        }
    }

    #[test]
    fn millimetres_survive_json() {
        let l: Length = serde_json::from_str("18.2").unwrap();
        assert_eq!(l, Length(18_200_000));
        assert_eq!(serde_json::to_string(&l).unwrap(), "18.2");
        assert_eq!(l.to_string(), "18.2 mm");
    }

    #[test]
    fn infinity_is_no_length() {
        assert!(Length::from_mm(f64::INFINITY).is_err());
        assert!(Length::from_mm(f64::NAN).is_err());
        assert!(Seconds::new(f64::NAN).is_err());
    }
}
