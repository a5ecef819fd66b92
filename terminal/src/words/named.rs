//! What has a name of its own: stages, grades, reasons, roles, counted things. One key of the message file each.
//!
//! May live here: from a value to its key. May not: sentences.

use super::table::Words;
use chargehand_types::history::LostTo;
use chargehand_types::stage::{Grade, HeldBy, Reason, Role, Stage};
use chrono::{Datelike, NaiveDate, Weekday};

/// Every reason, in the order screens list them.
pub const REASONS: [Reason; 10] = [
    Reason::TornFace,
    Reason::Fuzzy,
    Reason::BurntEdge,
    Reason::TabScar,
    Reason::CameLoose,
    Reason::SlotTight,
    Reason::SlotLoose,
    Reason::Delaminated,
    Reason::WrongSize,
    Reason::Other,
];

/// A thing that is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Noun {
    /// What a check found.
    Finding,
    /// A note of a check.
    Note,
    /// A sheet.
    Sheet,
    /// A part.
    Part,
    /// A stop.
    Stop,
    /// How often.
    Time,
}

impl Words {
    /// A counted thing: "1 sheet", "3 sheets".
    #[must_use]
    pub fn count(&self, number: u64, noun: Noun) -> String {
        let key = match (noun, number == 1) {
            (Noun::Finding, true) => "count.finding",
            (Noun::Finding, false) => "count.findings",
            (Noun::Note, true) => "count.note",
            (Noun::Note, false) => "count.notes",
            (Noun::Sheet, true) => "count.sheet",
            (Noun::Sheet, false) => "count.sheets",
            (Noun::Part, true) => "count.part",
            (Noun::Part, false) => "count.parts",
            (Noun::Stop, true) => "count.stop",
            (Noun::Stop, false) => "count.stops",
            (Noun::Time, true) => "count.time",
            (Noun::Time, false) => "count.times",
        };
        self.fill(key, &[("n", &number)])
    }

    /// A sheet's stage in a sentence: "is …".
    #[must_use]
    pub fn stage(&self, stage: Stage) -> &str {
        self.text(match stage {
            Stage::Queued => "stage.queued",
            Stage::Securing => "stage.securing",
            Stage::Tooling => "stage.tooling",
            Stage::Ready => "stage.ready",
            Stage::Cutting => "stage.cutting",
            Stage::Held => "stage.held",
            Stage::Stopped => "stage.stopped",
            Stage::SetAside => "stage.set-aside",
            Stage::TakingOff => "stage.taking-off",
            Stage::Checking => "stage.checking",
            Stage::Closed => "stage.closed",
        })
    }

    /// A grade.
    #[must_use]
    pub fn grade(&self, grade: Grade) -> &str {
        self.text(match grade {
            Grade::Good => "grade.good",
            Grade::Rework => "grade.rework",
            Grade::Scrap => "grade.scrap",
        })
    }

    /// Why a part is not good.
    #[must_use]
    pub fn reason(&self, reason: Reason) -> &str {
        self.text(match reason {
            Reason::TornFace => "reason.torn-face",
            Reason::Fuzzy => "reason.fuzzy",
            Reason::BurntEdge => "reason.burnt-edge",
            Reason::TabScar => "reason.tab-scar",
            Reason::CameLoose => "reason.came-loose",
            Reason::SlotTight => "reason.slot-tight",
            Reason::SlotLoose => "reason.slot-loose",
            Reason::Delaminated => "reason.delaminated",
            Reason::WrongSize => "reason.wrong-size",
            Reason::Other => "reason.other",
        })
    }

    /// To what time was lost.
    #[must_use]
    pub fn lost_to(&self, to: LostTo) -> &str {
        self.text(match to {
            LostTo::Securing => "lost.securing",
            LostTo::Tooling => "lost.tooling",
            LostTo::Starting => "lost.starting",
            LostTo::Held => "lost.held",
            LostTo::Stopped => "lost.stopped",
            LostTo::TakingOff => "lost.taking-off",
            LostTo::NothingOn => "lost.nothing-on",
        })
    }

    /// Who held it, and for how long by now.
    #[must_use]
    pub fn held_by(&self, by: HeldBy, time: &str) -> String {
        let key = match by {
            HeldBy::Person => "held.person",
            HeldBy::Lift => "held.lift",
            HeldBy::Prompt => "held.prompt",
            HeldBy::BitChange => "held.bit-change",
            HeldBy::Machine => "held.machine",
            HeldBy::Trouble => "held.trouble",
            HeldBy::NobodyThere => "held.nobody-there",
        };
        self.fill(key, &[("time", &time)])
    }

    /// A day of the week.
    #[must_use]
    pub fn weekday(&self, day: NaiveDate) -> &str {
        self.text(match day.weekday() {
            Weekday::Mon => "weekday.mon",
            Weekday::Tue => "weekday.tue",
            Weekday::Wed => "weekday.wed",
            Weekday::Thu => "weekday.thu",
            Weekday::Fri => "weekday.fri",
            Weekday::Sat => "weekday.sat",
            Weekday::Sun => "weekday.sun",
        })
    }

    /// A month.
    #[must_use]
    pub fn month(&self, day: NaiveDate) -> &str {
        self.text(match day.month() {
            1 => "month.jan",
            2 => "month.feb",
            3 => "month.mar",
            4 => "month.apr",
            5 => "month.may",
            6 => "month.jun",
            7 => "month.jul",
            8 => "month.aug",
            9 => "month.sep",
            10 => "month.oct",
            11 => "month.nov",
            _ => "month.dec",
        })
    }

    /// A role.
    #[must_use]
    pub fn role(&self, role: Role) -> &str {
        self.text(match role {
            Role::Helper => "role.helper",
            Role::Owner => "role.owner",
        })
    }
}
