//! The short cards behind *something is wrong*: what to do first, what then, and what can be done here afterwards. They
//! are part of this program, so that they can be read with no daemon to ask.
//!
//! May live here: which cards there are; their words, to be read as safety text, are in the message file. May not:
//! asking for a hold or a call; the key that opens them does that.

/// One card, by the keys of its texts. It has at most six lines on the smallest screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Card {
    /// As it is typed on the command line.
    pub word: &'static str,
    /// What somebody sees, hears or smells.
    pub title: &'static str,
    /// At the machine, before anything else.
    pub first: &'static str,
    /// At the machine, once it stands.
    pub then: &'static str,
    /// What this program can do afterwards.
    pub here: &'static str,
}

/// Every card, by the number that opens it.
pub const CARDS: [Card; 8] = [
    Card {
        word: "smoke",
        title: "trouble.smoke",
        first: "trouble.smoke-first",
        then: "trouble.smoke-then",
        here: "trouble.smoke-here",
    },
    Card {
        word: "loose",
        title: "trouble.loose",
        first: "trouble.loose-first",
        then: "trouble.loose-then",
        here: "trouble.loose-here",
    },
    Card {
        word: "broken",
        title: "trouble.broken",
        first: "trouble.broken-first",
        then: "trouble.broken-then",
        here: "trouble.broken-here",
    },
    Card {
        word: "noise",
        title: "trouble.noise",
        first: "trouble.noise-first",
        then: "trouble.noise-then",
        here: "trouble.noise-here",
    },
    Card {
        word: "moved",
        title: "trouble.moved",
        first: "trouble.moved-first",
        then: "trouble.moved-then",
        here: "trouble.moved-here",
    },
    Card {
        word: "silent",
        title: "trouble.silent",
        first: "trouble.silent-first",
        then: "trouble.silent-then",
        here: "trouble.silent-here",
    },
    Card {
        word: "cable",
        title: "trouble.cable",
        first: "trouble.cable-first",
        then: "trouble.cable-then",
        here: "trouble.cable-here",
    },
    Card {
        word: "lost",
        title: "trouble.lost",
        first: "trouble.lost-first",
        then: "trouble.lost-then",
        here: "trouble.lost-here",
    },
];

/// The card of that word.
#[must_use]
pub fn card(word: &str) -> Option<&'static Card> {
    CARDS.iter().find(|c| c.word == word)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ui::fold;
    use crate::words::shipped;

    /// The width of a dialog on the smallest screen.
    const NARROW: usize = 54;

    /// The red button comes first, at the machine and never here; six lines at most, so that a card is read at a glance.
    #[test]
    fn every_card_begins_at_the_red_button_and_is_short() {
        for (language, button, here) in
            [("en", "Press the RED BUTTON", "Here: "), ("es", "Pulse el BOTÓN ROJO", "Aquí: ")]
        {
            let words = shipped(language).unwrap();
            for card in CARDS {
                assert!(words.text(card.first).starts_with(button), "{language}: {}", card.word);
                assert!(words.text(card.here).starts_with(here), "{language}: {}", card.word);
                let texts = [card.first, card.then, card.here].map(|key| words.text(key));
                let lines: usize = texts.iter().map(|text| fold(text, NARROW).len()).sum();
                assert!(lines <= 6, "{language}: {} has {lines} lines", card.word);
                // the screen can do nothing before the machine stands
                for key in ["space bar", "barra", "screen", "pantalla"] {
                    assert!(!texts[..2].iter().any(|text| text.contains(key)), "{language}: {}", card.word);
                }
            }
        }
    }

    #[test]
    fn words_and_titles_are_each_their_own() {
        for (i, card) in CARDS.iter().enumerate() {
            assert!(CARDS[i + 1..].iter().all(|c| c.word != card.word && c.title != card.title));
            assert_eq!(super::card(card.word), Some(card));
        }
        assert_eq!(card("weather"), None);
    }
}
