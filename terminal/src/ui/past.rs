//! What History and Shop hold: records, revisions, bits and the looks at the shop, and which of them is open.
//!
//! May live here: that state, and how a key moves in it. May not: asking the daemon (`round`), drawing.

use super::keys::Press;
use crate::client::ClientFault;
use chargehand_types::history::{BitRow, RevisionRow, SheetRecord};
use chargehand_types::id::CardName;
use chargehand_types::queue::Look;

/// History goes back so many days on the screen; the command line goes further.
pub const DAYS_BACK: i64 = 90;

/// What came of the work of the last days.
#[derive(Debug, Clone, PartialEq)]
pub struct Records {
    /// Sheets, oldest first.
    pub sheets: Vec<SheetRecord>,
    /// Revisions by card, oldest first.
    pub revisions: Vec<RevisionRow>,
    /// Bits by name.
    pub bits: Vec<BitRow>,
}

/// Which of the three pages of History is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// One line a sheet.
    Sheets,
    /// The revisions of one card side by side.
    Revisions,
    /// One line a bit.
    Bits,
}

const VIEWS: [View; 3] = [View::Sheets, View::Revisions, View::Bits];

/// What History and Shop hold.
#[derive(Debug, Clone)]
pub struct Past {
    /// The records, or why there are none; nothing before they were asked for.
    pub records: Option<Result<Records, String>>,
    /// The daemon's looks at the shop, or why there are none.
    pub looks: Option<Result<Vec<Look>, String>>,
    /// The open page of History.
    pub view: View,
    /// The chosen row of it.
    pub row: usize,
    /// Lines of Shop above the first one shown.
    pub above: usize,
}

impl Default for Past {
    fn default() -> Self {
        Self { records: None, looks: None, view: View::Sheets, row: 0, above: 0 }
    }
}

impl Past {
    /// Takes records over. A daemon that is not heard leaves the old ones: the screen says that it is not heard.
    pub fn recorded(&mut self, result: Result<Records, ClientFault>) {
        take(&mut self.records, result);
        self.row = self.row.min(self.rows().saturating_sub(1));
    }

    /// Takes the looks over.
    pub fn looked(&mut self, result: Result<Vec<Look>, ClientFault>) {
        take(&mut self.looks, result);
    }

    /// A key on History: which page, which row. True when it was taken.
    pub fn press(&mut self, press: Press) -> bool {
        let at = VIEWS.iter().position(|v| *v == self.view).unwrap_or(0);
        let view = match press {
            Press::Left => at.saturating_sub(1),
            Press::Right => at + 1,
            Press::Char(c @ '1'..='3') => c.to_digit(10).and_then(|d| usize::try_from(d).ok()).unwrap_or(1) - 1,
            Press::Up | Press::Down => {
                let to = if press == Press::Up { self.row.saturating_sub(1) } else { self.row + 1 };
                self.row = to.min(self.rows().saturating_sub(1));
                return true;
            }
            _ => return false,
        };
        let view = VIEWS.get(view).copied().unwrap_or(View::Bits);
        if view != self.view {
            self.view = view;
            self.row = 0;
        }
        true
    }

    /// A key on Shop: what is below or above. True when it was taken.
    pub fn scroll(&mut self, press: Press) -> bool {
        match press {
            Press::Up => self.above = self.above.saturating_sub(1),
            // the drawing keeps the last line in sight; this keeps the count from running away
            Press::Down => self.above = (self.above + 1).min(200),
            _ => return false,
        }
        true
    }

    /// Cards that have revisions in the records, each once.
    #[must_use]
    pub fn cards(&self) -> Vec<&CardName> {
        let mut cards: Vec<&CardName> = Vec::new();
        if let Some(Ok(records)) = &self.records {
            for row in &records.revisions {
                if !cards.contains(&&row.card) {
                    cards.push(&row.card);
                }
            }
        }
        cards
    }

    fn rows(&self) -> usize {
        match (&self.records, self.view) {
            (Some(Ok(records)), View::Sheets) => records.sheets.len(),
            (Some(Ok(_)), View::Revisions) => self.cards().len(),
            (Some(Ok(records)), View::Bits) => records.bits.len(),
            (Some(Err(_)) | None, _) => 0,
        }
    }
}

fn take<T>(held: &mut Option<Result<T, String>>, result: Result<T, ClientFault>) {
    match result {
        Ok(new) => *held = Some(Ok(new)),
        Err(fault) if fault.is_unreachable() => {}
        Err(fault) => *held = Some(Err(fault.to_string())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pages_and_rows_end_at_both_ends() {
        let mut past = Past::default();
        past.recorded(Ok(crate::ui::samples::records()));
        for _ in 0..9 {
            assert!(past.press(Press::Down));
        }
        assert_eq!(past.row, past.rows() - 1);
        for _ in 0..9 {
            assert!(past.press(Press::Right));
        }
        assert_eq!((past.view, past.row), (View::Bits, 0));
        past.press(Press::Char('2'));
        assert_eq!(past.view, View::Revisions);
        for _ in 0..9 {
            past.press(Press::Left);
        }
        assert_eq!(past.view, View::Sheets);
        assert!(!past.press(Press::Char('4')) && !past.press(Press::Enter));
    }

    #[test]
    fn a_daemon_not_heard_leaves_what_was_known() {
        let mut past = Past::default();
        past.recorded(Ok(crate::ui::samples::records()));
        past.recorded(Err(ClientFault::Garbled { why: "cut short".into() }));
        assert!(matches!(&past.records, Some(Err(why)) if why.contains("cut short")));
        assert_eq!(past.rows(), 0);
    }
}
