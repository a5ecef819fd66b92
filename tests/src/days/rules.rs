//! What must hold of every day, read off the store and the screens, apart from the rules of the daemon.

use chargehand_daemon::ledger::State as Fold;
use chargehand_types::event::{Event, What};
use chargehand_types::id::CommandId;
use chargehand_types::now::{LinkNow, Now};
use chargehand_types::stage::{Grade, Stage};
use std::collections::{BTreeMap, BTreeSet};

/// A rule that was broken, as a sentence.
pub type Broken = String;

/// When a cut begins, what must be so.
///
/// # Errors
/// The condition that did not hold.
pub fn start_conditions(now: &Now) -> Result<(), Broken> {
    let m = &now.machine;
    let holds = [
        (m.link == LinkNow::Up, "the controller answers"),
        (m.position_known, "the position is known"),
        (m.zero_confirmed, "the work zero is confirmed"),
        (!now.people.is_empty(), "somebody is at the machine"),
        (now.sheet.is_some(), "a sheet is on the machine"),
    ];
    match holds.iter().find(|(so, _)| !so) {
        Some((_, what)) => Err(format!("a cut began although it does not hold that {what}")),
        None => Ok(()),
    }
}

/// Reads the store as it grows.
#[derive(Debug, Default)]
pub struct Reader {
    /// The fold of everything read, made here.
    pub fold: Fold,
    commands: BTreeSet<CommandId>,
    over: BTreeMap<String, Stage>,
    graded: BTreeMap<(String, u32), Grade>,
    closed: BTreeSet<String>,
    /// Good parts counted.
    pub parts: u64,
    finished: BTreeMap<String, BTreeMap<String, u32>>,
    /// Events read.
    pub events: u64,
}

impl Reader {
    /// Reads more events.
    ///
    /// # Errors
    /// The first rule that an event breaks.
    pub fn read(&mut self, events: &[Event]) -> Result<(), Broken> {
        for event in events {
            if event.seq.0 != self.events + 1 {
                return Err(format!("event {} follows event {}", event.seq, self.events));
            }
            self.events = event.seq.0;
            self.commands.extend(event.command_id.clone());
            self.fold.apply(event);
            self.sheet(event)?;
        }
        Ok(())
    }

    fn sheet(&mut self, event: &Event) -> Result<(), Broken> {
        let Some(sheet) = event.sheet.as_ref().map(ToString::to_string) else { return Ok(()) };
        match &event.what {
            What::SheetStage { to, .. } => {
                if let Some(Stage::Closed) = self.over.get(&sheet) {
                    return Err(format!("{sheet} is closed, and came to {to:?} in event {}", event.seq));
                }
                self.over.insert(sheet, *to);
            }
            What::OperationFinished { operation, .. } => {
                let times = self.finished.entry(sheet.clone()).or_default().entry(operation.clone()).or_default();
                *times += 1;
                if *times > 1 {
                    return Err(format!("{operation} of {sheet} was finished {times} times"));
                }
            }
            What::PartChecked { index, grade, .. } => {
                // a grade may be told again before the sheet is closed; after that no more
                if self.closed.contains(&sheet) {
                    return Err(format!("part {index} of {sheet} was graded after it was closed"));
                }
                self.graded.insert((sheet, *index), *grade);
            }
            What::SheetClosed { good, .. } => {
                let counted = self.graded.iter().filter(|((s, _), g)| *s == sheet && **g == Grade::Good).count();
                if *good as usize != counted {
                    return Err(format!("{sheet} was closed with {good} good parts, and {counted} were graded good"));
                }
                if !self.closed.insert(sheet.clone()) {
                    return Err(format!("{sheet} was closed twice"));
                }
                self.parts += u64::from(*good);
            }
            _ => {}
        }
        Ok(())
    }

    /// Commands that were answered and are not in the store.
    pub fn missing<'c>(&self, answered: impl Iterator<Item = &'c CommandId>) -> Vec<&'c CommandId> {
        answered.filter(|c| !self.commands.contains(c)).collect()
    }

    /// How many sheets ended so.
    #[must_use]
    pub fn ended(&self, stage: Stage) -> usize {
        self.over.values().filter(|s| **s == stage).count()
    }

    /// Sheets that are neither closed nor set aside.
    #[must_use]
    pub fn unfinished(&self) -> Vec<&String> {
        self.over
            .iter()
            .filter(|(_, s)| !matches!(s, Stage::Closed | Stage::SetAside | Stage::Queued))
            .map(|(s, _)| s)
            .collect()
    }
}
