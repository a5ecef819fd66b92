//! What the screens know, and how each input changes it. Pure: time comes in with the input.
//!
//! May live here: the state and how answers of the daemon enter it. May not: drawing, waiting, keys (`keys`).

use super::hand::Hand;
use super::keys::{self, Press};
use super::settings::Settings;
use crate::client::ClientFault;
use chargehand_types::act::{Act, ActAnswer};
use chargehand_types::check::Drawing;
use chargehand_types::checklist::{Ask, ListForm, ListKind};
use chargehand_types::event::PositionTick;
use chargehand_types::id::{CardName, SheetId, StageVersion};
use chargehand_types::now::{Motion, Now, OfferedAct};
use chargehand_types::quantity::Seconds;
use chargehand_types::queue::{CardList, SheetList};
use chargehand_types::stage::{Grade, Stage};
use std::collections::BTreeMap;

/// Milliseconds since the screens were opened.
pub type Millis = u64;

/// How often things are looked at anew while something moves, and while nothing does.
pub const LOOK_EVERY_MS: [Millis; 2] = [1_000, 5_000];
/// As many names as digits to choose them by.
const NAMES_AT_MOST: usize = 9;
/// A hold that is not confirmed within this is said to be unconfirmed.
pub const HOLD_CONFIRMED_MS: Millis = 1_000;

/// Which screen is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Screen {
    /// The one thing to do.
    Now,
    /// What waits, cards and their findings.
    Sheets,
    /// What the keys do.
    Help,
}

/// Whether the daemon is there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Link {
    /// Not heard of yet.
    Opening,
    /// It answers.
    Up,
    /// It does not.
    Lost {
        /// Since when.
        since: Millis,
    },
}

/// A dialog over the screen.
#[derive(Debug, Clone, PartialEq)]
pub enum Dialog {
    /// One act, shown once more: Enter does it, any other key does not.
    Confirm {
        /// What was chosen.
        act: OfferedAct,
        /// Its sentence.
        text: String,
        /// What the person was looking at.
        seen: StageVersion,
        /// When it was opened.
        opened: Millis,
    },
    /// Everything that may be done, by number.
    Menu,
    /// Who stands at the machine.
    Name {
        /// Typed so far.
        typed: String,
    },
    /// A finding to be signed.
    Sign {
        /// What the person was looking at.
        seen: StageVersion,
        /// When it was opened.
        opened: Millis,
    },
    /// Why a part is not good.
    WhyNot {
        /// The part.
        index: u32,
        /// Its grade.
        grade: Grade,
    },
    /// Something else is wrong with a part: in words.
    PartNote {
        /// The part.
        index: u32,
        /// Its grade.
        grade: Grade,
        /// Typed so far.
        typed: String,
    },
}

/// The step asked, as far as it matters whether it is still the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepName {
    sheet: Option<SheetId>,
    list: ListKind,
    form: ListForm,
    id: String,
    number: u32,
    graded: usize,
    note: Option<String>,
}

/// The step on the screen.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Which.
    pub name: StepName,
    /// Since when it is on the screen.
    pub shown: Millis,
    /// What was typed for it.
    pub entry: String,
    /// An answer is under way.
    pub sent: bool,
}

/// How a word on the bottom line is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// Done.
    Said,
    /// Refused, or failed.
    Refused,
}

/// What comes in.
#[derive(Debug)]
pub enum Input {
    /// A key.
    Key(Press),
    /// Time went by.
    Tick,
    /// The event stream is open.
    Linked,
    /// It is lost.
    LinkLost,
    /// Something happened; look.
    Happened,
    /// Where the machine is.
    Position(PositionTick),
    /// How things stand.
    Now(Box<Result<Now, ClientFault>>),
    /// What an act came to.
    Answered(Act, Box<Result<ActAnswer, ClientFault>>),
    /// What waits.
    Sheets(Box<Result<(SheetList, CardList), ClientFault>>),
    /// A card's picture and the names of its operations, in its order.
    Picture(CardName, Box<Result<(Drawing, Vec<String>), ClientFault>>),
    /// Somebody who may sign in.
    Known(Vec<String>),
    /// A sheet's picture.
    SheetPicture(SheetId, CardName, Box<Result<(Drawing, Vec<String>), ClientFault>>),
}

/// What the loop must do.
#[derive(Debug, Clone, PartialEq)]
pub enum Intent {
    /// Ask for an act, made against what was seen.
    Act(Act, Option<StageVersion>),
    /// Look how things stand.
    LookNow,
    /// Look what waits.
    LookSheets,
    /// Look who signed in before.
    LookNames,
    /// Get a card's picture.
    LookCard(CardName),
    /// Get the picture of the sheet on the machine.
    LookSheet(SheetId, CardName),
    /// Close the screens; say this.
    Leave(String),
}

/// What the screens know.
#[derive(Debug)]
pub struct Model {
    /// How it is drawn.
    pub settings: Settings,
    /// The clock of the last input.
    pub clock: Millis,
    /// The daemon.
    pub link: Link,
    /// How things stand, and when that was heard.
    pub now: Option<(Now, Millis)>,
    /// Where the machine is, and when that was heard.
    pub position: Option<(PositionTick, Millis)>,
    /// The picture of the sheet on the machine, and its operations' names.
    pub picture: Option<(SheetId, Drawing, Vec<String>)>,
    /// What waits.
    pub sheets: Option<SheetList>,
    /// Cards.
    pub cards: Option<CardList>,
    /// Pictures of cards looked at.
    pub card_pictures: BTreeMap<CardName, Drawing>,
    /// The open screen.
    pub screen: Screen,
    /// The chosen row of Sheets.
    pub row: usize,
    /// The open dialog.
    pub dialog: Option<Dialog>,
    /// The step on the screen.
    pub asked: Option<Asked>,
    /// Hand moves.
    pub hand: Hand,
    /// The bottom line, and since when.
    pub said: Option<(String, Tone, Millis)>,
    /// A hold was asked for here and is not confirmed yet.
    pub hold_asked: Option<Millis>,
    /// The last hold key, so that a held-down key sends a few and not hundreds.
    pub last_hold: Option<Millis>,
    /// The last Enter, so that a held-down key completes nothing.
    pub last_enter: Option<Millis>,
    /// Acts under way.
    pub under_way: usize,
    /// People who signed in before, to be chosen from.
    pub names: Vec<String>,
    looking: bool,
    look_again: bool,
    last_look: Millis,
}

impl Model {
    /// Knows nothing yet.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        Self {
            settings,
            clock: 0,
            link: Link::Opening,
            now: None,
            position: None,
            picture: None,
            sheets: None,
            cards: None,
            card_pictures: BTreeMap::new(),
            screen: Screen::Now,
            row: 0,
            dialog: None,
            asked: None,
            hand: Hand::default(),
            said: None,
            hold_asked: None,
            last_hold: None,
            last_enter: None,
            under_way: 0,
            names: Vec::new(),
            looking: false,
            look_again: false,
            last_look: 0,
        }
    }

    /// Takes one input at a time of the clock, and answers what must be done.
    #[must_use]
    pub fn take(&mut self, input: Input, clock: Millis) -> Vec<Intent> {
        self.clock = self.clock.max(clock);
        let mut intents = Vec::new();
        match input {
            Input::Key(press) => keys::press(self, press, &mut intents),
            Input::Tick => self.tick(&mut intents),
            Input::Linked => {
                self.link = Link::Up;
                self.look(&mut intents);
                intents.extend([Intent::LookSheets, Intent::LookNames]);
            }
            Input::LinkLost => self.lost(),
            Input::Happened => {
                self.look(&mut intents);
                if self.screen == Screen::Sheets {
                    intents.push(Intent::LookSheets);
                }
            }
            Input::Position(tick) => self.position = Some((tick, self.clock)),
            Input::Now(result) => self.looked(*result, &mut intents),
            Input::Answered(act, result) => self.answered(&act, *result, &mut intents),
            Input::Sheets(result) => self.listed(*result, &mut intents),
            Input::Picture(card, result) => {
                if let Ok((drawing, _)) = *result {
                    self.card_pictures.insert(card, drawing);
                }
            }
            Input::Known(names) => self.know(names),
            Input::SheetPicture(sheet, card, result) => {
                if let Ok((drawing, names)) = *result {
                    self.card_pictures.insert(card, drawing.clone());
                    self.picture = Some((sheet, drawing, names));
                }
            }
        }
        intents
    }

    /// How things stand, as last heard.
    #[must_use]
    pub fn standing(&self) -> Option<&Now> {
        self.now.as_ref().map(|(now, _)| now)
    }

    /// The daemon cannot be heard: what is shown is old.
    #[must_use]
    pub fn is_old(&self) -> bool {
        self.link != Link::Up
    }

    /// Milliseconds since how things stand was heard.
    #[must_use]
    pub fn age(&self) -> Millis {
        self.now.as_ref().map_or(0, |(_, heard)| self.clock.saturating_sub(*heard))
    }

    /// Machine seconds that went by since how things stand was heard; none while the daemon is not heard.
    #[must_use]
    pub fn since_heard(&self) -> Seconds {
        let rate = self.standing().map_or(1.0, |n| n.machine.rate);
        if self.is_old() { Seconds::ZERO } else { Seconds::of(self.age() as f64 / 1000.0 * rate) }
    }

    /// Machine seconds until the bit may be looked at, for a step that waits for run-down.
    #[must_use]
    pub fn run_down_left(&self) -> Option<Seconds> {
        let now = self.standing()?;
        let Some(Ask::RunDown { seconds, left }) = now.task.as_ref().map(|t| &t.step.ask) else { return None };
        let counting = now.machine.run_down_left.map(Seconds::value).or_else(|| (left < seconds).then_some(*left));
        let left = counting.map_or(*left, |l| l - self.since_heard().value());
        Some(Seconds::of(left.max(0.0)))
    }

    /// Whether something moves or may.
    #[must_use]
    pub fn may_move(&self) -> bool {
        let Some(now) = self.standing() else { return false };
        match now.machine.motion {
            Motion::Still | Motion::Held | Motion::Faulted => {
                now.sheet.as_ref().is_some_and(|s| s.stage == Stage::Cutting)
            }
            Motion::Moving | Motion::HoldAsked | Motion::Homing | Motion::Unknown => true,
        }
    }

    /// Whether the machine moves by our command.
    #[must_use]
    pub fn at_work(&self) -> bool {
        self.standing().is_some_and(|now| {
            matches!(now.machine.motion, Motion::Moving | Motion::Homing)
                || now.sheet.as_ref().is_some_and(|s| s.stage == Stage::Cutting)
        })
    }

    /// Says something on the bottom line.
    pub fn say(&mut self, text: impl Into<String>, tone: Tone) {
        self.said = Some((text.into(), tone, self.clock));
    }

    /// Asks for an act.
    pub fn ask(&mut self, act: Act, seen: Option<StageVersion>, intents: &mut Vec<Intent>) {
        self.under_way += 1;
        intents.push(Intent::Act(act, seen));
    }

    /// Asks for a look, one at a time.
    pub fn look(&mut self, intents: &mut Vec<Intent>) {
        if self.looking {
            self.look_again = true;
        } else {
            self.looking = true;
            self.last_look = self.clock;
            intents.push(Intent::LookNow);
        }
    }

    fn tick(&mut self, intents: &mut Vec<Intent>) {
        let [moving, still] = LOOK_EVERY_MS;
        let counting = self.run_down_left().is_some() || self.hold_asked.is_some();
        let every = if self.may_move() || counting || self.now.is_none() { moving } else { still };
        if self.link == Link::Up && self.clock.saturating_sub(self.last_look) >= every {
            self.look(intents);
        }
    }

    fn lost(&mut self) {
        if !matches!(self.link, Link::Lost { .. }) {
            self.link = Link::Lost { since: self.clock };
            self.position = None;
            self.dialog = None;
        }
    }

    fn looked(&mut self, result: Result<Now, ClientFault>, intents: &mut Vec<Intent>) {
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

    fn answered(&mut self, act: &Act, result: Result<ActAnswer, ClientFault>, intents: &mut Vec<Intent>) {
        self.under_way = self.under_way.saturating_sub(1);
        if let Some(asked) = &mut self.asked {
            asked.sent = false;
        }
        match result {
            Ok(answer) => {
                self.say(answer.said, Tone::Said);
                self.stand(answer.now, intents);
            }
            Err(fault) => {
                let unheard = fault.is_unreachable();
                let text = match act {
                    Act::Hold | Act::HoldAtLift | Act::Stop | Act::Trouble if unheard => {
                        self.hold_asked = None;
                        "NOT SENT: the daemon cannot be reached, so nothing was held. Press the red button.".to_owned()
                    }
                    _ if unheard => "Not sent: the daemon cannot be reached.".to_owned(),
                    _ => fault.to_string(),
                };
                self.say(text, Tone::Refused);
                self.look(intents);
            }
        }
    }

    fn listed(&mut self, result: Result<(SheetList, CardList), ClientFault>, intents: &mut Vec<Intent>) {
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
    fn know(&mut self, names: Vec<String>) {
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
    fn stand(&mut self, now: Now, intents: &mut Vec<Intent>) {
        if let Some((old, _)) = &self.now
            && now.seq < old.seq
            && now.at < old.at
        {
            return;
        }
        self.link = Link::Up;
        let changed = self.standing().is_none_or(|old| old.version != now.version);
        if changed {
            self.close_outdated(&now);
        }
        self.name_step(&now);
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
            Some(Dialog::Menu | Dialog::Name { .. }) | None => false,
        };
        if outdated {
            self.dialog = None;
            self.say("Things have changed. Look again.", Tone::Refused);
        }
    }

    fn name_step(&mut self, now: &Now) {
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
                | Ask::TouchZ => 0,
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
    }
}
