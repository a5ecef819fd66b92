//! `chargehand trouble`: the short cards behind *something is wrong*, to be read or printed. It asks for nothing.
//!
//! May live here: a card as text. May not: the words of the cards.

use super::end::End;
use super::page::{fold, say};
use crate::trouble::{CARDS, Card, card};
use crate::words::english;

/// Said under every card: reading one holds nothing.
const ASKS_NOTHING: &str =
    "Reading this holds nothing and calls nobody. On the terminal the key w does both; here: chargehand machine hold";

pub(super) fn run(word: Option<&str>) -> Result<(), End> {
    match word {
        None => say(&CARDS.iter().map(|c| format!("{:<8}{}\n", c.word, english().text(c.title))).collect::<String>()),
        Some(word) => match card(word) {
            Some(card) => say(&(told(card) + &fold("", ASKS_NOTHING, 0))),
            None => {
                let words: Vec<&str> = CARDS.iter().map(|c| c.word).collect();
                Err(End::WrongUse(format!("There is no card `{word}`. There are: {}.", words.join(", "))))
            }
        },
    }
}

fn told(card: &Card) -> String {
    let mut out = format!("{}\n", english().text(card.title));
    for key in [card.first, card.then, card.here] {
        out.push_str(&fold("  ", english().text(key), 4));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_card_is_told_in_its_order() {
        let text = told(&CARDS[0]);
        let at = |what: &str| text.find(what).unwrap_or_else(|| panic!("{what} in {text}"));
        assert!(at("RED BUTTON") < at("Pull the plug") && at("Pull the plug") < at("Here: "));
        assert_eq!(run(Some("weather")).unwrap_err().exit(), 2);
    }
}
