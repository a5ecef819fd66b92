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
