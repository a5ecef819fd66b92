//! What the screens are told once: how the sheet is drawn, and whether colours are used.
//!
//! May live here: reading that from option, environment and locale. May not: the colours themselves.

use super::units::Units;
use crate::outside;
use crate::words::{self, Words};
use chrono::{DateTime, NaiveDateTime, Utc};

/// How the sheet is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Symbols {
    /// Dots of Braille: two by four a cell.
    Braille,
    /// Half blocks: one by two a cell; the font of a text console has them.
    Block,
    /// Plain ASCII: one a cell.
    Ascii,
}

/// Whether colours are used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colours {
    /// The 16 named ones, as the terminal's theme has them.
    Named,
    /// None: bold and reverse remain.
    None,
}

/// Whose clock the times on the screens are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zone {
    /// This place's.
    Local,
    /// Universal time, so that a stored picture is the same everywhere.
    Universal,
}

impl Zone {
    /// The time of day.
    #[must_use]
    pub fn time(self, at: DateTime<Utc>) -> String {
        match self {
            Self::Local => outside::local_time(at),
            Self::Universal => at.format("%H:%M").to_string(),
        }
    }

    /// Day and time.
    #[must_use]
    pub fn wall(self, at: DateTime<Utc>) -> NaiveDateTime {
        match self {
            Self::Local => outside::wall(at),
            Self::Universal => at.naive_utc(),
        }
    }

    /// Day and time, to the minute.
    #[must_use]
    pub fn minute(self, at: DateTime<Utc>) -> String {
        match self {
            Self::Local => outside::local_minute(at),
            Self::Universal => at.format("%Y-%m-%d %H:%M").to_string(),
        }
    }
}

/// What the screens are told once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Settings {
    /// How the sheet is drawn.
    pub symbols: Symbols,
    /// Whether colours are used.
    pub colours: Colours,
    /// Whose clock is shown.
    pub zone: Zone,
    /// The unit in which wood is read.
    pub units: Units,
    /// The texts, in the language of whoever stands there.
    pub words: &'static Words,
}

impl Settings {
    /// From the environment; wanted symbols, units and texts win over it.
    #[must_use]
    pub fn of_environment(wanted: Option<Symbols>, units: Option<Units>, words: Option<&'static Words>) -> Self {
        let first = |names: [&str; 3]| names.iter().find_map(|v| outside::variable_text(v));
        let locale = first(["LC_ALL", "LC_CTYPE", "LANG"]);
        let speech = first(["LC_ALL", "LC_MESSAGES", "LANG"]);
        let term = outside::variable_text("TERM");
        let said = outside::variable_text("CHARGEHAND_SYMBOLS");
        Self {
            symbols: wanted.unwrap_or_else(|| symbols(said.as_deref(), locale.as_deref(), term.as_deref())),
            colours: colours(outside::variable("NO_COLOR").is_some(), term.as_deref()),
            zone: Zone::Local,
            units: units.or_else(said_units).unwrap_or(Units::Millimetres),
            words: words.or_else(|| speech.and_then(|s| words::shipped(&s))).unwrap_or_else(words::english),
        }
    }
}

fn said_units() -> Option<Units> {
    outside::variable_text("CHARGEHAND_UNITS").and_then(|name| Units::named(&name))
}

fn symbols(said: Option<&str>, locale: Option<&str>, term: Option<&str>) -> Symbols {
    match said {
        Some("braille") => return Symbols::Braille,
        Some("block") => return Symbols::Block,
        Some("ascii") => return Symbols::Ascii,
        Some(_) | None => {}
    }
    let utf8 = locale.is_some_and(|l| {
        let l = l.to_ascii_lowercase();
        l.contains("utf-8") || l.contains("utf8")
    });
    match (utf8, term) {
        (false, _) => Symbols::Ascii,
        // the console's font has blocks but no Braille
        (true, Some("linux")) => Symbols::Block,
        (true, _) => Symbols::Braille,
    }
}

fn colours(no_color: bool, term: Option<&str>) -> Colours {
    if no_color || term == Some("dumb") { Colours::None } else { Colours::Named }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_locale_chooses_the_symbols() {
        assert_eq!(symbols(None, Some("en_GB.UTF-8"), Some("xterm")), Symbols::Braille);
        assert_eq!(symbols(None, Some("en_GB.utf8"), Some("linux")), Symbols::Block);
        assert_eq!(symbols(None, Some("C"), Some("xterm")), Symbols::Ascii);
        assert_eq!(symbols(None, None, None), Symbols::Ascii);
        assert_eq!(symbols(Some("block"), Some("C"), None), Symbols::Block);
    }

    #[test]
    fn no_color_and_dumb_take_colours_away() {
        assert_eq!(colours(true, Some("xterm")), Colours::None);
        assert_eq!(colours(false, Some("dumb")), Colours::None);
        assert_eq!(colours(false, Some("xterm")), Colours::Named);
    }
}
