//! What must be so of a store after a daemon on it was killed, read over the API and off the disk.
//!
//! May live here: reading and judging. May not: starting or killing anything.

use crate::client::Client;
use crate::days::rules::Reader;
use crate::load::{Came, Sent, send_again};
use chargehand_daemon::ledger::shelf::sha256_hex;
use chargehand_types::event::{Event, What};
use chargehand_types::id::CommandId;
use chargehand_types::now::Motion;
use chargehand_types::stage::{Stage, StopCause};
use std::collections::{BTreeMap, BTreeSet};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::Path;

/// One who reads the store after each restart and remembers all of it.
#[derive(Default)]
pub struct Watch {
    reader: Reader,
    /// A sum of each event, by its place.
    seen: Vec<u64>,
    /// The event of each command of a desk, and of each call that one answered.
    once: BTreeMap<(CommandId, Option<u64>), u64>,
    desk_commands: BTreeSet<CommandId>,
    programs: BTreeSet<String>,
    unanswered: Vec<Sent>,
    /// Sheets found in the cut, and stopped by the restart.
    pub in_cut: u64,
    /// Times that a sheet came to another stage.
    pub steps: u64,
    /// Commands that were answered, found again.
    pub found: u64,
    /// Commands that were not answered and were in the store all the same.
    pub extra: u64,
}

impl Watch {
    /// Events read so far.
    #[must_use]
    pub fn events(&self) -> u64 {
        self.reader.events
    }

    /// Programs that records name.
    #[must_use]
    pub fn programs(&self) -> usize {
        self.programs.len()
    }

    /// Sheets closed.
    #[must_use]
    pub fn closed(&self) -> usize {
        self.reader.ended(Stage::Closed)
    }

    /// Looks at the store after a restart, before anything else is done to it. `came` is what came of the load that was
    /// on when the daemon before was killed.
    ///
    /// # Errors
    /// The first thing that is not as it must be.
    pub fn look(&mut self, client: &Client, store: &Path, came: Came) -> Result<(), String> {
        if let Some(fault) = came.faults.first() {
            return Err(format!("the daemon failed under load: {fault}"));
        }
        let now = client.now();
        if matches!(now.machine.motion, Motion::Moving | Motion::Homing) {
            return Err("the machine moves after a restart, and nobody asked for it".to_owned());
        }
        if now.sheet.as_ref().is_some_and(|s| s.stage == Stage::Cutting) {
            return Err("a sheet is said to be cutting after a restart".to_owned());
        }
        self.desk_commands.extend(came.answered.iter().cloned());
        self.desk_commands.extend(came.unanswered.iter().map(|s| s.id.clone()));
        self.read_on(client, now.seq.0)?;
        let asked = came.answered.iter().chain(&came.acts);
        if let [first, ..] = self.reader.missing(asked).as_slice() {
            return Err(format!("the command {first} was answered and is not in the store"));
        }
        self.found += (came.answered.len() + came.acts.len()) as u64;
        self.extra += came.unanswered.iter().filter(|s| self.once.keys().any(|(id, _)| *id == s.id)).count() as u64;
        self.unanswered = came.unanswered;
        self.programs_are_whole(store)
    }

    /// Sends what was not answered again, under its own ids; then each is in the store once.
    ///
    /// # Errors
    /// When one is refused, or is there twice.
    pub fn send_unanswered(&mut self, client: &Client) -> Result<(), String> {
        for sent in std::mem::take(&mut self.unanswered) {
            // a cancel of what was meanwhile begun, or a card that is there already, is refused or writes nothing
            let _ = send_again(client, &sent);
        }
        self.read_on(client, client.now().seq.0)
    }

    /// Reads the whole store again: it is what was read piece by piece.
    ///
    /// # Errors
    /// The first event that is another one.
    pub fn read_anew(&self, client: &Client) -> Result<(), String> {
        let events = client.all_events();
        if events.len() < self.seen.len() {
            return Err(format!("{} events were read, {} are left", self.seen.len(), events.len()));
        }
        match events.iter().zip(&self.seen).find(|(event, sum)| sum_of(event) != **sum) {
            Some((event, _)) => Err(format!("event {} is not what it was", event.seq)),
            None => Ok(()),
        }
    }

    fn read_on(&mut self, client: &Client, last: u64) -> Result<(), String> {
        // the last few are read again, to be the same
        let from = self.reader.events.saturating_sub(20);
        let mut stream = client.events(Some(from));
        let mut events: Vec<Event> = Vec::new();
        while events.last().map_or(from, |e| e.seq.0) < last {
            events.push(stream.next_event());
        }
        let again = usize::try_from(self.reader.events - from).unwrap_or(0);
        if events.len() < again {
            return Err(format!("{} events were read, the last is {last} now", self.reader.events));
        }
        let new = events.split_off(again);
        for event in &events {
            let at = usize::try_from(event.seq.0 - 1).unwrap_or(usize::MAX);
            if self.seen.get(at) != Some(&sum_of(event)) {
                return Err(format!("event {} is not what it was", event.seq));
            }
        }
        self.reader.read(&new)?;
        new.iter().try_for_each(|event| self.note(event))?;
        let started = new.iter().rposition(|e| matches!(e.what, What::DaemonStarted { .. }));
        let uninvited = |e: &Event| matches!(e.what, What::OperationStarted { .. });
        if started.is_some_and(|at| new.iter().skip(at).any(uninvited)) {
            return Err("an operation was begun after the restart, and nobody asked for it".to_owned());
        }
        Ok(())
    }

    fn note(&mut self, event: &Event) -> Result<(), String> {
        self.seen.push(sum_of(event));
        if let Some(id) = event.command_id.as_ref().filter(|id| self.desk_commands.contains(id)) {
            // what is done at the machine answers the calls that only wanted somebody there: one event for each call
            let done = match &event.what {
                What::CallAnswered { number } => (id.clone(), Some(*number)),
                _ => (id.clone(), None),
            };
            if let Some(before) = self.once.insert(done, event.seq.0) {
                let (seq, what) = (event.seq, &event.what);
                return Err(format!("the command {id} was done as event {before} and again as event {seq}: {what:?}"));
            }
        }
        self.steps += u64::from(matches!(event.what, What::SheetStage { .. }));
        match &event.what {
            What::CardAdded { programs, .. } => self.programs.extend(programs.iter().map(|p| p.sha256.clone())),
            What::SheetStage { from: Stage::Cutting | Stage::Held, stopped: Some(record), .. }
                if record.cause == StopCause::DaemonRestarted =>
            {
                self.in_cut += 1
            }
            _ => {}
        }
        Ok(())
    }

    /// Every program under its name is whole, and every one that a record names is there.
    fn programs_are_whole(&self, store: &Path) -> Result<(), String> {
        let shelf = store.join("programs");
        let mut there = BTreeSet::new();
        for sub in listed(&shelf)? {
            for name in listed(&shelf.join(&sub))? {
                // what was being written when it was killed has no name yet
                if name.starts_with('.') {
                    continue;
                }
                let path = shelf.join(&sub).join(&name);
                let bytes = std::fs::read(&path).map_err(|e| format!("{}: {e}", path.display()))?;
                let named = format!("{sub}{name}");
                if sha256_hex(&bytes) != named {
                    return Err(format!("the program {named} is half stored"));
                }
                there.insert(named);
            }
        }
        match self.programs.difference(&there).next() {
            Some(missing) => Err(format!("the program {missing} is named by a record and is not there")),
            None => Ok(()),
        }
    }
}

fn listed(folder: &Path) -> Result<Vec<String>, String> {
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(e) => return Err(format!("{}: {e}", folder.display())),
    };
    Ok(entries.filter_map(|e| e.ok()?.file_name().into_string().ok()).collect())
}

fn sum_of(event: &Event) -> u64 {
    let mut hasher = DefaultHasher::new();
    serde_json::to_string(event).unwrap_or_default().hash(&mut hasher);
    hasher.finish()
}
