//! What History and Shop hold: records, revisions, bits and the looks at the shop, and which of them is open.
//!
//! May live here: that state, and how a key moves in it. May not: asking the daemon (`round`), drawing.

use super::keys::Press;
use crate::client::ClientFault;
use chargehand_types::history::{BitRow, DaySum, RevisionRow, SheetRecord};
use chargehand_types::id::CardName;
use chargehand_types::queue::Look;
use chargehand_types::stage::{Grade, Reason};

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
    /// What each day took and gave, oldest first.
    pub days: Vec<DaySum>,
}

/// Parts that were not good for one reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotGood {
    /// The reason; none where nobody gave one.
    pub reason: Option<Reason>,
    /// To rework, and scrap.
    pub parts: [u32; 2],
    /// On sheets of which cards, and how many, the most first.
    pub cards: Vec<(CardName, u32)>,
}

impl NotGood {
    /// How many in all.
    #[must_use]
    pub const fn all(&self) -> u32 {
        self.parts[0].saturating_add(self.parts[1])
    }
}

impl Records {
    /// Parts graded good, to rework, scrap.
    #[must_use]
    pub fn graded(&self) -> [u32; 3] {
        let mut counts = [0_u32; 3];
        for part in self.sheets.iter().flat_map(|s| &s.parts) {
            let nth = match part.grade {
                Grade::Good => 0,
                Grade::Rework => 1,
                Grade::Scrap => 2,
            };
            counts[nth] = counts[nth].saturating_add(1);
        }
        counts
    }

    /// Why parts were not good, the most first.
    #[must_use]
    pub fn not_good(&self) -> Vec<NotGood> {
        let mut found: Vec<NotGood> = Vec::new();
        for (sheet, part) in self.sheets.iter().flat_map(|s| s.parts.iter().map(move |p| (s, p))) {
            let nth = match part.grade {
                Grade::Good => continue,
                Grade::Rework => 0,
                Grade::Scrap => 1,
            };
            let at = found.iter().position(|row| row.reason == part.reason).unwrap_or_else(|| {
                found.push(NotGood { reason: part.reason, parts: [0, 0], cards: Vec::new() });
                found.len() - 1
            });
            let Some(row) = found.get_mut(at) else { continue };
            row.parts[nth] = row.parts[nth].saturating_add(1);
            match row.cards.iter_mut().find(|(card, _)| *card == sheet.card) {
                Some((_, count)) => *count = count.saturating_add(1),
                None => row.cards.push((sheet.card.clone(), 1)),
            }
        }
        for row in &mut found {
            row.cards.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        }
        found.sort_by_key(|row| std::cmp::Reverse(row.all()));
        found
    }
}

/// Which of the five pages of History is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// One line a sheet.
    Sheets,
    /// The revisions of one card side by side.
    Revisions,
    /// One line a bit.
    Bits,
    /// Where the time went, in all and by day.
    Time,
    /// Why parts were not good, one line a reason.
    Reasons,
}

const VIEWS: [View; 5] = [View::Sheets, View::Revisions, View::Bits, View::Time, View::Reasons];

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
            Press::Char(c @ '1'..='5') => c.to_digit(10).and_then(|d| usize::try_from(d).ok()).unwrap_or(1) - 1,
            Press::Up | Press::Down => {
                let to = if press == Press::Up { self.row.saturating_sub(1) } else { self.row + 1 };
                self.row = to.min(self.rows().saturating_sub(1));
                return true;
            }
            _ => return false,
        };
        let view = VIEWS.get(view).copied().unwrap_or(View::Reasons);
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
            (Some(Ok(records)), View::Time) => records.days.len(),
            (Some(Ok(records)), View::Reasons) => records.not_good().len(),
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
        assert_eq!((past.view, past.row), (View::Reasons, 0));
        past.press(Press::Char('3'));
        assert_eq!(past.view, View::Bits);
        past.press(Press::Char('2'));
        assert_eq!(past.view, View::Revisions);
        for _ in 0..9 {
            past.press(Press::Left);
        }
        assert_eq!(past.view, View::Sheets);
        assert!(!past.press(Press::Char('6')) && !past.press(Press::Enter));
    }

    #[test]
    fn reasons_are_counted_the_most_first() {
        let records = crate::ui::samples::records();
        let rows = records.not_good();
        let told: Vec<_> = rows.iter().map(|r| (r.reason, r.parts)).collect();
        // as the samples have them: three torn faces on two cards, a slot, and one nobody gave a reason for
        assert_eq!(
            told,
            [(Some(Reason::TornFace), [2, 1]), (Some(Reason::SlotTight), [1, 0]), (None, [0, 1])],
            "{rows:?}"
        );
        assert_eq!(rows[0].cards, [("plant-stand-sides".into(), 2), ("seed-tray".into(), 1)]);
        let [good, rework, scrap] = records.graded();
        let all: usize = records.sheets.iter().map(|s| s.parts.len()).sum();
        assert_eq!((rework, scrap, good as usize), (3, 2, all - 5));
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
