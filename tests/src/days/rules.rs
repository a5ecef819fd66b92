//! What must hold of every day, read off the store and the screens, apart from the rules of the daemon.

use chargehand_daemon::ledger::State as Fold;
use chargehand_types::act::Act;
use chargehand_types::event::{Actor, Event, What};
use chargehand_types::id::{CommandId, Person};
use chargehand_types::now::{LinkNow, Now};
use chargehand_types::stage::{Grade, Role, Stage, StopCause};
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

/// An act that was done was asked for against how things stood when it was. And nobody but an owner begins anything before a
/// list of the day that is due.
///
/// # Errors
/// What was otherwise.
pub fn acted_on_what_is(seen: &Now, stood: &Now, act: &Act) -> Result<(), Broken> {
    let comes_or_goes = matches!(act, Act::SignIn { .. } | Act::SignOut | Act::StillThere);
    if seen.version != stood.version && !comes_or_goes && !act.always_open() {
        return Err(format!("{act:?} was done on an old screen: {:?}, at {:?}", seen.version, stood.version));
    }
    let begins = matches!(act, Act::CycleStart | Act::TakeSheet { .. });
    let owner = stood.people.iter().any(|p| p.role == Role::Owner);
    match stood.lists.iter().find(|l| l.due.is_some()) {
        Some(list) if begins && !owner => Err(format!("{act:?} was done without an owner, and {} is due", list.title)),
        _ => Ok(()),
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
    /// Who is signed in.
    here: BTreeMap<Person, Role>,
    /// By which command each last left: what it brings with it is still theirs.
    left_by: BTreeMap<Person, Option<CommandId>>,
    /// Sheets whose last stop a helper may leave: a person made it, and the position was known.
    helpers_stop: BTreeMap<String, bool>,
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
            self.people(event)?;
            self.sheet(event)?;
        }
        Ok(())
    }

    /// Whoever is told to have done something was signed in; what is the owner's was done with an owner there.
    fn people(&mut self, event: &Event) -> Result<(), Broken> {
        if let What::PersonCame { who, role } = &event.what {
            self.here.insert(who.clone(), *role);
        }
        if let Some(actor) = event.actor.as_ref().filter(|a| self.is_absent(a, event)) {
            return Err(format!("event {} is told to be {}'s, who was not signed in", event.seq, actor.who));
        }
        let owner = self.here.values().any(|role| *role == Role::Owner);
        let sheet = event.sheet.as_ref().map(ToString::to_string).unwrap_or_default();
        match &event.what {
            What::FindingSigned { .. } | What::ArticleApproved { .. } if !owner => {
                return Err(format!("event {} is an owner's, and none was there", event.seq));
            }
            What::SheetStage { from: Stage::Stopped, to, .. } if *to != Stage::Stopped => {
                let helpers = self.helpers_stop.get(&sheet) == Some(&true);
                if !owner && (self.here.is_empty() || !helpers) {
                    return Err(format!("{sheet} left a stop for {to:?} in event {}, with no owner there", event.seq));
                }
            }
            What::PersonLeft { who } => {
                self.here.remove(who);
                self.left_by.insert(who.clone(), event.command_id.clone());
            }
            _ => {}
        }
        if let What::SheetStage { stopped: Some(record), to: Stage::Stopped, .. } = &event.what {
            self.helpers_stop.insert(sheet, record.cause == StopCause::Person && record.position_known);
        }
        Ok(())
    }

    fn is_absent(&self, actor: &Actor, event: &Event) -> bool {
        let leaving = event.command_id.is_some() && self.left_by.get(&actor.who) == Some(&event.command_id);
        self.here.get(&actor.who) != Some(&actor.role) && !leaving
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
