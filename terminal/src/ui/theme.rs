//! Styles by meaning, from the 16 named colours only; without colours bold and reverse carry on.
//!
//! Colours repeat what word and place say (IEC 60073 indicator meanings: red danger, yellow abnormal, blue a person
//! is needed, white no special meaning). May live here: one style a meaning. May not: what has which meaning.

use super::settings::Colours;
use chargehand_types::checklist::SignalWord;
use ratatui::style::{Color, Modifier, Style};

/// What something on the screen means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning {
    /// Ordinary text.
    Plain,
    /// Text that counts more.
    Strong,
    /// Text that counts less, or is old.
    Faint,
    /// The bar at the top.
    Bar,
    /// What every screen must say.
    Notice,
    /// A person is asked for something.
    Needed,
    /// Something is abnormal: held, refused.
    Abnormal,
    /// A fault: act now.
    Fault,
    /// A signal word.
    Signal(SignalWord),
    /// A cut yet to come.
    CutToCome,
    /// A cut that was commanded already.
    CutDone,
    /// A fastener.
    Fastener,
    /// The bit now.
    Bit,
}

/// The style of a meaning.
#[must_use]
pub fn style(meaning: Meaning, colours: Colours) -> Style {
    let (fore, back, modifier) = parts(meaning);
    let style = Style::reset().add_modifier(modifier);
    match colours {
        Colours::Named => style.fg(fore).bg(back),
        Colours::None => style,
    }
}

/// Fore and back are chosen so that their contrast is at least 4.5 to 1 in the standard palette; without colours the
/// modifier alone must do, so whatever has a background of its own is reversed there too.
fn parts(meaning: Meaning) -> (Color, Color, Modifier) {
    use Color::{Black, Cyan, Gray, LightCyan, LightGreen, LightRed, LightYellow, Reset, White};
    let none = Modifier::empty();
    let reversed = Modifier::REVERSED | Modifier::BOLD;
    match meaning {
        Meaning::Plain => (Reset, Reset, none),
        Meaning::Strong => (Reset, Reset, Modifier::BOLD),
        Meaning::Faint => (Gray, Reset, none),
        Meaning::Bar => (Reset, Reset, Modifier::REVERSED),
        Meaning::Notice => (LightCyan, Reset, none),
        Meaning::Needed => (LightCyan, Reset, Modifier::BOLD),
        Meaning::Abnormal => (LightYellow, Reset, Modifier::BOLD),
        Meaning::Fault | Meaning::Signal(SignalWord::Danger) => (LightRed, Black, reversed),
        Meaning::Signal(SignalWord::Warning | SignalWord::Caution) => (LightYellow, Black, reversed),
        Meaning::Signal(SignalWord::Notice) => (LightCyan, Black, reversed),
        Meaning::CutToCome => (Gray, Reset, none),
        Meaning::CutDone => (LightGreen, Reset, Modifier::BOLD),
        Meaning::Fastener => (Cyan, Black, reversed),
        Meaning::Bit => (White, Black, reversed),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Meaning; 16] = [
        Meaning::Plain,
        Meaning::Strong,
        Meaning::Faint,
        Meaning::Bar,
        Meaning::Notice,
        Meaning::Needed,
        Meaning::Abnormal,
        Meaning::Fault,
        Meaning::Signal(SignalWord::Danger),
        Meaning::Signal(SignalWord::Warning),
        Meaning::Signal(SignalWord::Caution),
        Meaning::Signal(SignalWord::Notice),
        Meaning::CutToCome,
        Meaning::CutDone,
        Meaning::Fastener,
        Meaning::Bit,
    ];

    #[test]
    fn without_colours_no_colour_is_left() {
        for meaning in ALL {
            let style = style(meaning, Colours::None);
            assert_eq!((style.fg, style.bg), (Some(Color::Reset), Some(Color::Reset)), "{meaning:?}");
        }
    }

    #[test]
    fn a_fault_stands_out_without_colours() {
        for meaning in [Meaning::Fault, Meaning::Signal(SignalWord::Warning), Meaning::Bit] {
            assert!(style(meaning, Colours::None).add_modifier.contains(Modifier::REVERSED), "{meaning:?}");
        }
    }

    /// The standard palette of the Linux console and of most emulators (VGA), as 8-bit sRGB.
    fn rgb(colour: Color) -> [f64; 3] {
        let [r, g, b]: [u8; 3] = match colour {
            Color::Black | Color::Reset => [0, 0, 0],
            Color::Cyan => [0, 170, 170],
            Color::Gray => [170, 170, 170],
            Color::LightCyan => [85, 255, 255],
            Color::LightGreen => [85, 255, 85],
            Color::LightRed => [255, 85, 85],
            Color::LightYellow => [255, 255, 85],
            Color::White => [255, 255, 255],
            other => panic!("{other:?} is not in the palette"),
        };
        [r, g, b].map(|c| f64::from(c) / 255.0)
    }

    /// Relative luminance, WCAG 2.2, section "relative luminance".
    fn luminance(colour: [f64; 3]) -> f64 {
        let [r, g, b] = colour.map(|c| if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) });
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    /// Contrast of at least 4.5 to 1 (WCAG 2.2, success criterion 1.4.3) on a black ground.
    #[test]
    fn every_colour_can_be_read() {
        for meaning in ALL {
            let style = style(meaning, Colours::Named);
            let fore = match style.fg {
                None | Some(Color::Reset) => [0.667; 3],
                Some(colour) => rgb(colour),
            };
            let back = luminance(rgb(style.bg.unwrap_or(Color::Reset)));
            let (a, b) = (luminance(fore).max(back), luminance(fore).min(back));
            assert!((a + 0.05) / (b + 0.05) >= 4.5, "{meaning:?}");
        }
    }
}
