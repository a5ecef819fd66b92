//! The G and M words of the language and the modal groups they belong to (NISTIR 6556 Tables 4, 5 and 7).
//!
//! May live here: the codes, their numbers, groups and names. May not: what they do.

use super::number::{BILLION, Decimal};
use std::fmt;

/// Modal groups of G words. Numbers are the standard's; arc centres (G90.1, G91.1) are an extension of their own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Group {
    /// Group 0: this line only.
    Once,
    /// Group 1.
    Motion,
    /// Group 2.
    Plane,
    /// Group 3.
    Distance,
    /// G90.1, G91.1.
    Centres,
    /// Group 5.
    FeedMode,
    /// Group 6.
    Units,
    /// Group 7.
    CutterRadius,
    /// Group 8.
    ToolLength,
    /// Group 10.
    CycleReturn,
    /// Group 12.
    System,
    /// Group 13.
    Path,
}

/// How many groups of G words there are.
pub const GROUPS: usize = 12;

/// Modal groups of M words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum MGroup {
    /// Group 4.
    Stopping,
    /// Group 6.
    BitChange,
    /// Group 7.
    Spindle,
    /// Group 8.
    Coolant,
    /// Group 9.
    Overrides,
}

/// How many groups of M words there are.
pub const M_GROUPS: usize = 5;

impl fmt::Display for Group {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Once => "one-line words",
            Self::Motion => "motion words",
            Self::Plane => "plane words",
            Self::Distance => "distance words",
            Self::Centres => "arc centre words",
            Self::FeedMode => "feed mode words",
            Self::Units => "unit words",
            Self::CutterRadius => "cutter radius words",
            Self::ToolLength => "tool length words",
            Self::CycleReturn => "cycle return words",
            Self::System => "work system words",
            Self::Path => "path words",
        })
    }
}

impl fmt::Display for MGroup {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Stopping => "stop words",
            Self::BitChange => "bit change words",
            Self::Spindle => "spindle words",
            Self::Coolant => "coolant words",
            Self::Overrides => "override words",
        })
    }
}

macro_rules! codes {
    ($(#[$doc:meta])* $name:ident $group:ident $letter:literal: $($code:ident $tenths:literal $of:ident,)*) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        #[repr(u8)]
        #[allow(missing_docs, reason = "each is the word of its name")]
        pub enum $name { $($code,)* }

        impl $name {
            /// By ten times its number.
            #[must_use]
            pub const fn from_tenths(tenths: i64) -> Option<Self> {
                match tenths { $($tenths => Some(Self::$code),)* _ => None }
            }
            /// Ten times its number.
            #[must_use]
            pub fn tenths(self) -> u16 {
                match self { $(Self::$code => $tenths,)* }
            }
            /// The modal group it belongs to.
            #[must_use]
            #[inline]
            pub const fn group(self) -> $group {
                match self { $(Self::$code => $group::$of,)* }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let tenths = self.tenths();
                write!(f, "{}{}", $letter, tenths / 10)?;
                if tenths % 10 == 0 { Ok(()) } else { write!(f, ".{}", tenths % 10) }
            }
        }
    };
}

codes! {
    /// G words (Table 5), with the arc centre modes many controllers have beside them.
    G Group "G":
    G0 0 Motion, G1 10 Motion, G2 20 Motion, G3 30 Motion, G4 40 Once, G10 100 Once,
    G17 170 Plane, G18 180 Plane, G19 190 Plane, G20 200 Units, G21 210 Units,
    G28 280 Once, G30 300 Once, G38_2 382 Motion, G40 400 CutterRadius, G41 410 CutterRadius,
    G42 420 CutterRadius, G43 430 ToolLength, G49 490 ToolLength, G53 530 Once,
    G54 540 System, G55 550 System, G56 560 System, G57 570 System, G58 580 System,
    G59 590 System, G59_1 591 System, G59_2 592 System, G59_3 593 System,
    G61 610 Path, G61_1 611 Path, G64 640 Path, G80 800 Motion, G81 810 Motion,
    G82 820 Motion, G83 830 Motion, G84 840 Motion, G85 850 Motion, G86 860 Motion,
    G87 870 Motion, G88 880 Motion, G89 890 Motion, G90 900 Distance, G90_1 901 Centres,
    G91 910 Distance, G91_1 911 Centres, G92 920 Once, G92_1 921 Once, G92_2 922 Once,
    G92_3 923 Once, G93 930 FeedMode, G94 940 FeedMode, G98 980 CycleReturn, G99 990 CycleReturn,
}

codes! {
    /// M words (Table 7).
    M MGroup "M":
    M0 0 Stopping, M1 10 Stopping, M2 20 Stopping, M3 30 Spindle, M4 40 Spindle, M5 50 Spindle,
    M6 60 BitChange, M7 70 Coolant, M8 80 Coolant, M9 90 Coolant, M30 300 Stopping,
    M48 480 Overrides, M49 490 Overrides, M60 600 Stopping,
}

/// G words by ten times their number, for reading fast.
static BY_TENTHS: [Option<G>; 1000] = by_tenths();

const fn by_tenths() -> [Option<G>; 1000] {
    let mut table = [None; 1000];
    let mut n = 0;
    while n < table.len() {
        table[n] = G::from_tenths(n as i64);
        n += 1;
    }
    table
}

impl G {
    /// By its number, which may be off by 0.0001 in ten times its value (NISTIR 6556 3.3.2).
    #[must_use]
    #[inline]
    pub fn from_number(number: Decimal) -> Option<Self> {
        let tenths = (number.0 + BILLION / 20) / (BILLION / 10);
        let off = (number.0 - tenths * (BILLION / 10)).abs();
        if off > BILLION / 100_000 || number.0 < 0 {
            return None;
        }
        usize::try_from(tenths).ok().and_then(|n| BY_TENTHS.get(n).copied().flatten())
    }

    /// Which work system it picks, 1 to 9.
    #[must_use]
    pub fn system(self) -> Option<u8> {
        Some(match self {
            Self::G54 => 1,
            Self::G55 => 2,
            Self::G56 => 3,
            Self::G57 => 4,
            Self::G58 => 5,
            Self::G59 => 6,
            Self::G59_1 => 7,
            Self::G59_2 => 8,
            Self::G59_3 => 9,
            _ => return None,
        })
    }

    /// Of the one-line words, those that take axis words for themselves.
    #[must_use]
    pub fn takes_axes(self) -> bool {
        matches!(self, Self::G10 | Self::G28 | Self::G30 | Self::G92)
    }
}

impl M {
    /// By its number.
    #[must_use]
    pub fn from_number(number: Decimal) -> Option<Self> {
        Self::from_tenths(number.whole()?.checked_mul(10)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_numbers_agree() {
        // NISTIR 6556 Table 5
        for (number, name) in [(38.2, "G38.2"), (59.3, "G59.3"), (1.0, "G1"), (92.1, "G92.1")] {
            let g = Decimal::from_f64(number).and_then(G::from_number).unwrap();
            assert_eq!(g.to_string(), name);
        }
        assert_eq!(Decimal::from_f64(5.0).and_then(G::from_number), None);
        assert_eq!(Decimal::from_f64(-1.0).and_then(G::from_number), None);
        assert_eq!(Decimal::from_f64(1.02).and_then(G::from_number), None);
        assert_eq!(Decimal::from_f64(30.0).and_then(M::from_number), Some(M::M30));
    }
}
