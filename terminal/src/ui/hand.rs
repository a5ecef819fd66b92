//! Hand moves: which key moves which axis which way, by which of the named distances.
//!
//! May live here: that table. May not: whether a move is allowed; the daemon says so.

use super::keys::Press;
use chargehand_types::act::{Act, Axis, HAND_STEPS_MM};
use chargehand_types::quantity::Length;

/// The thickness of ordinary paper, in mm: 80 g/m2 office paper is about 0.1 mm (common practice, no source).
const PAPER_MM: f64 = 0.1;

/// What lies between the bit and the face when it touches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// A sheet of paper, 0.1 mm.
    Paper,
    /// Nothing.
    Nothing,
}

/// How hand moves are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hand {
    step: usize,
    /// What lies between.
    pub between: Between,
}

impl Default for Hand {
    fn default() -> Self {
        // 1 mm: neither a crash nor a hundred key presses
        Self { step: 2, between: Between::Paper }
    }
}

impl Hand {
    /// The chosen distance, in mm; none where it moves for as long as a key is held down.
    #[must_use]
    pub fn step_mm(self) -> Option<f64> {
        HAND_STEPS_MM.get(self.step).copied()
    }

    /// What lies between, as a length.
    #[must_use]
    pub fn above(self) -> Length {
        match self.between {
            Between::Paper => Length::from_mm(PAPER_MM).unwrap_or_default(),
            Between::Nothing => Length::ZERO,
        }
    }

    /// What a key means here: a move, or another way of moving; none when it means neither.
    pub fn press(&mut self, press: Press) -> Option<HandKey> {
        let by = self.step_mm().and_then(|mm| Length::from_mm(mm).ok());
        let go = |axis, up| {
            Some(match by {
                Some(by) => HandKey::Move(Act::HandMove { axis, by: if up { by } else { -by } }),
                None => HandKey::Run(Act::HandRun { axis, up }),
            })
        };
        match press {
            Press::Left | Press::Char('l') => go(Axis::X, false),
            Press::Right | Press::Char('r') => go(Axis::X, true),
            Press::Down | Press::Char('t') => go(Axis::Y, false),
            Press::Up | Press::Char('a') => go(Axis::Y, true),
            Press::PageDown | Press::Char('d') => go(Axis::Z, false),
            Press::PageUp | Press::Char('u') => go(Axis::Z, true),
            Press::Char('+') => {
                // past the longest distance it moves while the key is held down
                self.step = (self.step + 1).min(HAND_STEPS_MM.len());
                Some(HandKey::Chosen)
            }
            Press::Char('-') => {
                self.step = self.step.saturating_sub(1);
                Some(HandKey::Chosen)
            }
            Press::Char('p') => {
                self.between = match self.between {
                    Between::Paper => Between::Nothing,
                    Between::Nothing => Between::Paper,
                };
                Some(HandKey::Chosen)
            }
            Press::Char('z') => Some(HandKey::Move(Act::TouchPlate)),
            // the point too, which a number pad has
            Press::Char('g' | '.') => Some(HandKey::Move(Act::Approach)),
            Press::Char(_) | Press::Enter | Press::Back | Press::Escape | Press::Leave => None,
        }
    }
}

/// What a key meant.
#[derive(Debug, Clone, PartialEq)]
pub enum HandKey {
    /// A move.
    Move(Act),
    /// A move for as long as the key is held down.
    Run(Act),
    /// Another distance, or another thing between.
    Chosen,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moved(hand: &mut Hand, press: Press) -> (Axis, f64) {
        match hand.press(press) {
            Some(HandKey::Move(Act::HandMove { axis, by })) => (axis, by.mm()),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn arrows_and_letters_agree() {
        let mut hand = Hand::default();
        for (arrow, letter, axis, by) in [
            (Press::Left, 'l', Axis::X, -1.0),
            (Press::Right, 'r', Axis::X, 1.0),
            (Press::Down, 't', Axis::Y, -1.0),
            (Press::Up, 'a', Axis::Y, 1.0),
            (Press::PageDown, 'd', Axis::Z, -1.0),
            (Press::PageUp, 'u', Axis::Z, 1.0),
        ] {
            assert_eq!(moved(&mut hand, arrow), (axis, by));
            assert_eq!(moved(&mut hand, Press::Char(letter)), (axis, by));
        }
    }

    #[test]
    fn steps_end_at_both_ends() {
        let mut hand = Hand::default();
        for _ in 0..9 {
            hand.press(Press::Char('+'));
        }
        assert_eq!(hand.step_mm(), None, "past the longest it moves while the key is held down");
        let run = Act::HandRun { axis: Axis::Y, up: true };
        assert_eq!(hand.press(Press::Up), Some(HandKey::Run(run)));
        hand.press(Press::Char('-'));
        assert_eq!(hand.step_mm(), Some(50.0));
        for _ in 0..9 {
            hand.press(Press::Char('-'));
        }
        assert_eq!(hand.step_mm(), Some(0.02));
    }

    #[test]
    fn the_plate_has_a_key() {
        assert_eq!(Hand::default().press(Press::Char('z')), Some(HandKey::Move(Act::TouchPlate)));
    }

    #[test]
    fn the_way_over_a_place_has_a_key_on_both_blocks() {
        for key in ['g', '.'] {
            assert_eq!(Hand::default().press(Press::Char(key)), Some(HandKey::Move(Act::Approach)));
        }
    }

    #[test]
    fn paper_counts() {
        let mut hand = Hand::default();
        assert_eq!(hand.above().mm(), 0.1);
        hand.press(Press::Char('p'));
        assert_eq!(hand.above(), Length::ZERO);
    }
}
