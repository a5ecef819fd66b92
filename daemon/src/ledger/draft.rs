//! An event before it has its place in the journal.
//!
//! May live here: the draft and how it becomes an event. May not: a clock; `at` and `tick` come from the caller.

use chargehand_types::event::{Actor, EVENT_VERSION, Event, What};
use chargehand_types::id::{CommandId, Seq, SheetId, TerminalId};
use chargehand_types::quantity::Tick;
use chrono::{DateTime, Utc};

/// The envelope without what the journal gives: `seq`, `id`, `v`.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// The command that caused it, if one did.
    pub command_id: Option<CommandId>,
    /// Wall time.
    pub at: DateTime<Utc>,
    /// Machine time.
    pub tick: Tick,
    /// Who did it, if a person did.
    pub actor: Option<Actor>,
    /// From which terminal.
    pub terminal: Option<TerminalId>,
    /// The sheet it concerns.
    pub sheet: Option<SheetId>,
    /// What happened.
    pub what: What,
}

impl Draft {
    /// Something that happened by itself: no command, no person, no sheet.
    #[must_use]
    pub const fn new(at: DateTime<Utc>, tick: Tick, what: What) -> Self {
        Self { command_id: None, at, tick, actor: None, terminal: None, sheet: None, what }
    }

    /// Concerning a sheet.
    #[must_use]
    pub fn on(mut self, sheet: SheetId) -> Self {
        self.sheet = Some(sheet);
        self
    }

    /// Done by a person.
    #[must_use]
    pub fn by(mut self, actor: Actor) -> Self {
        self.actor = Some(actor);
        self
    }

    /// Caused by a command from a terminal.
    #[must_use]
    pub fn from_command(mut self, command: CommandId, terminal: Option<TerminalId>) -> Self {
        self.command_id = Some(command);
        self.terminal = terminal;
        self
    }

    /// The event it becomes at its place in a journal.
    #[must_use]
    pub fn at_place(self, seq: Seq, journal: &str) -> Event {
        Event {
            v: EVENT_VERSION,
            seq,
            id: format!("{journal}-{seq}"),
            command_id: self.command_id,
            at: self.at,
            tick: self.tick,
            actor: self.actor,
            terminal: self.terminal,
            sheet: self.sheet,
            what: self.what,
        }
    }
}
