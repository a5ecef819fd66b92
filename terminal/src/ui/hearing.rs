//! What the daemon says, taken into the model: how things stand, what an act came to, what waits.
//!
//! May live here: each answer of the daemon and what it changes. May not: keys, drawing.

use super::language::in_language;
use super::model::{Asked, Dialog, Intent, Link, Model, Screen, StepName, Tone};
use super::placing::Placing;
use crate::client::ClientFault;
use crate::day;
use crate::words::say;
use chargehand_types::act::{Act, ActAnswer};
use chargehand_types::checklist::Ask;
use chargehand_types::holddown::AirAnswer;
use chargehand_types::now::{Motion, Now};
use chargehand_types::plan::{Change, DayPlan};
use chargehand_types::quantity::Spot;
use chargehand_types::queue::{CardList, SheetList};

/// As many names as digits to choose them by.
const NAMES_AT_MOST: usize = 9;

impl Model {
    pub(super) fn lost(&mut self) {
        if !matches!(self.link, Link::Lost { .. }) {
            self.link = Link::Lost { since: self.clock };
            self.position = None;
            // the short cards need no daemon
            self.dialog = self.dialog.take().filter(|d| matches!(d, Dialog::Trouble { .. }));
        }
    }

    pub(super) fn looked(&mut self, result: Result<Now, ClientFault>, intents: &mut Vec<Intent>) {
        self.looking = false;
        match result {
            Ok(now) => self.stand(now, intents),
            Err(fault) if fault.is_unreachable() => self.lost(),
            Err(fault) => self.say(fault.to_string(), Tone::Refused),
        }
        if std::mem::take(&mut self.look_again) {
            self.look(intents);
        }
    }

    pub(super) fn answered(&mut self, act: &Act, result: Result<ActAnswer, ClientFault>, intents: &mut Vec<Intent>) {
        self.under_way = self.under_way.saturating_sub(1);
        if matches!(act, Act::Override { .. }) && (result.is_err() || self.under_way == 0) {
            // refused, or the last one said: what the controller tells counts again
            self.fed = None;
        }
        if let Some(asked) = &mut self.asked {
            asked.sent = false;
        }
        match result {
            Ok(answer) => {
                if let (Act::Answer { .. }, Some(asked)) = (act, &mut self.asked) {
                    asked.entry.clear();
                }
                self.say(self.settings.words.told(&answer.said), Tone::Said);
                self.stand(answer.now, intents);
            }
            Err(fault) => {
                let unheard = fault.is_unreachable();
                let words = self.settings.words;
                let text = match act {
                    Act::Hold | Act::HoldAtLift | Act::Stop | Act::Trouble if unheard => {
                        self.hold_asked = None;
                        say!(words, "said.hold-not-sent")
                    }
                    _ if unheard => say!(words, "said.not-sent"),
                    _ => words.told(&fault.to_string()),
                };
                self.say(text, Tone::Refused);
                self.look(intents);
            }
        }
    }

    /// The plan came out otherwise: looked at anew where it is on the screen. It is no matter for the other screens.
    pub(super) fn plan_changed(&mut self, changes: &[Change], intents: &mut Vec<Intent>) {
        if self.screen == Screen::Day {
            intents.push(Intent::LookPlan);
            if let Some(told) = day::changed(changes, self.settings.words) {
                self.say(told, Tone::Said);
            }
        }
    }

    /// A plan that cannot be had takes the old one's place: an old plan would be taken for the day's.
    pub(super) fn planned(&mut self, result: Result<DayPlan, ClientFault>) {
        match result {
            Ok(plan) => self.plan = Some(Ok(plan)),
            Err(fault) if fault.is_unreachable() => {}
            Err(fault) => self.plan = Some(Err(fault.to_string())),
        }
    }

    pub(super) fn listed(&mut self, result: Result<(SheetList, CardList), ClientFault>, intents: &mut Vec<Intent>) {
        match result {
            Ok((sheets, cards)) => {
                self.row = self.row.min(sheets.sheets.len().saturating_sub(1));
                self.sheets = Some(sheets);
                self.cards = Some(cards);
                self.look_at_row(intents);
            }
            Err(fault) if fault.is_unreachable() => {}
            Err(fault) => self.say(fault.to_string(), Tone::Refused),
        }
    }

    /// Names to choose from, each once, the first ones first.
    pub(super) fn know(&mut self, names: Vec<String>) {
        for name in names {
            if self.names.len() < NAMES_AT_MOST && !self.names.contains(&name) {
                self.names.push(name);
            }
        }
    }

    /// The picture of the chosen row is fetched once.
    pub fn look_at_row(&mut self, intents: &mut Vec<Intent>) {
        let card = self.sheets.as_ref().and_then(|s| s.sheets.get(self.row)).map(|r| r.card.clone());
        if let Some(card) = card.filter(|c| !self.card_pictures.contains_key(c)) {
            intents.push(Intent::LookCard(card));
        }
    }

    /// Takes over how things stand, unless something newer was heard.
    fn stand(&mut self, mut now: Now, intents: &mut Vec<Intent>) {
        if let Some((old, _)) = &self.now
            && now.seq < old.seq
            && now.at < old.at
        {
            return;
        }
        in_language(&mut now, self.settings.words);
        if let Some(guide) = &mut self.guide {
            guide.follow(&now);
        }
        self.link = Link::Up;
        let changed = self.standing().is_none_or(|old| old.version != now.version);
        if changed {
            self.close_outdated(&now);
        }
        self.name_step(&now, intents);
        match now.machine.motion {
            Motion::Held | Motion::Still | Motion::Faulted => self.hold_asked = None,
            Motion::Moving | Motion::HoldAsked | Motion::Homing | Motion::Unknown => {}
        }
        match &now.sheet {
            Some(sheet) => {
                if self.picture.as_ref().is_none_or(|(id, _, _)| *id != sheet.id) {
                    intents.push(Intent::LookSheet(sheet.id.clone(), sheet.card.clone()));
                }
            }
            None => self.picture = None,
        }
        self.now = Some((now, self.clock));
    }

    /// A dialog that was made against what no longer stands is closed, and says so.
    fn close_outdated(&mut self, now: &Now) {
        let outdated = match &self.dialog {
            Some(Dialog::Confirm { seen, .. } | Dialog::Sign { seen, .. }) => *seen != now.version,
            Some(Dialog::WhyNot { .. } | Dialog::PartNote { .. }) => {
                !matches!(now.task.as_ref().map(|t| &t.step.ask), Some(Ask::Parts { .. }))
            }
            Some(Dialog::Lot { .. }) => !matches!(now.task.as_ref().map(|t| &t.step.ask), Some(Ask::Lot { .. })),
            Some(Dialog::Menu | Dialog::Trouble { .. } | Dialog::Name { .. } | Dialog::Pin { .. }) | None => false,
        };
        if outdated {
            self.dialog = None;
            self.say(say!(self.settings.words, "said.changed"), Tone::Refused);
        }
    }

    /// Asks how much air the fastener places have, one question at a time.
    pub(super) fn look_air(&mut self, intents: &mut Vec<Intent>) {
        let Some(placing) = self.placing.as_ref().filter(|_| !self.measuring) else { return };
        if let Some(sheet) = placing.of.sheet.clone() {
            self.measuring = true;
            intents.push(Intent::LookAir(sheet, placing.places.clone()));
        }
    }

    pub(super) fn measured(
        &mut self,
        places: Vec<Spot>,
        result: Result<AirAnswer, ClientFault>,
        intents: &mut Vec<Intent>,
    ) {
        self.measuring = false;
        let Some(placing) = &mut self.placing else { return };
        match result {
            Ok(answer) => {
                let moved = placing.places != places;
                placing.measured = Some((places, answer));
                if moved {
                    self.look_air(intents);
                }
            }
            Err(fault) => self.say(fault.to_string(), Tone::Refused),
        }
    }

    /// The places of a step that asks for some; what was moved stays while the step does.
    fn place_step(&mut self, now: &Now, intents: &mut Vec<Intent>) {
        let asked = self.asked.as_ref().map(|asked| &asked.name);
        match (now.task.as_ref().map(|t| &t.step.ask), asked) {
            (Some(Ask::Place { places, .. }), Some(name)) => {
                if self.placing.as_ref().is_none_or(|placing| !placing.is_of(name)) {
                    self.placing = Some(Placing::new(name.clone(), places, self.settings.units));
                    self.look_air(intents);
                }
            }
            _ => self.placing = None,
        }
    }

    fn name_step(&mut self, now: &Now, intents: &mut Vec<Intent>) {
        let name = now.task.as_ref().map(|task| StepName {
            sheet: now.sheet.as_ref().map(|s| s.id.clone()),
            list: task.list,
            form: task.form,
            id: task.step.id.clone(),
            number: task.number,
            graded: match &task.step.ask {
                Ask::Parts { graded, .. } => graded.len(),
                Ask::Confirm
                | Ask::Value { .. }
                | Ask::Choose { .. }
                | Ask::Place { .. }
                | Ask::RunDown { .. }
                | Ask::TouchZ { .. }
                | Ask::TouchAgain { .. }
                | Ask::Lot { .. } => 0,
                // another question once it is there: the answer to the way is none to the look
                Ask::Hover { there, .. } => usize::from(*there),
                Ask::Raise { clear, .. } => usize::from(*clear),
            },
            note: task.note.clone(),
        });
        match name {
            None => self.asked = None,
            Some(name) if self.asked.as_ref().is_some_and(|a| a.name == name) => {}
            Some(name) => {
                self.asked = Some(Asked { name, shown: self.clock, entry: String::new(), sent: false });
            }
        }
        self.place_step(now, intents);
    }
}
