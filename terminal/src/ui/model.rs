//! What the screens know, and how each input changes it. Pure: time comes in with the input.
//!
//! May live here: the state and how answers of the daemon enter it. May not: drawing, waiting, keys (`keys`).

use super::guide::Guide;
use super::hand::Hand;
use super::keys::{self, Press};
use super::map::Memory;
use super::past::{DAYS_BACK, Past, Records};
use super::placing::Placing;
use super::settings::Settings;
use crate::client::ClientFault;
use chargehand_types::act::{Act, ActAnswer};
use chargehand_types::check::Drawing;
use chargehand_types::checklist::{Ask, ListForm, ListKind};
use chargehand_types::event::PositionTick;
use chargehand_types::holddown::AirAnswer;
use chargehand_types::id::{CardName, Person, SheetId, StageVersion};
use chargehand_types::now::{Motion, Now, OfferedAct};
use chargehand_types::plan::{Change, DayPlan};
use chargehand_types::quantity::{Seconds, Spot};
use chargehand_types::queue::{CardList, Look, SheetList};
use chargehand_types::secret::Secret;
use chargehand_types::stage::{Grade, Stage};
use chrono::{DateTime, TimeDelta, Utc};
use std::collections::BTreeMap;

/// Milliseconds since the screens were opened.
pub type Millis = u64;

/// How often things are looked at anew while something moves, and while nothing does.
pub const LOOK_EVERY_MS: [Millis; 2] = [1_000, 5_000];
/// A word on the bottom line stays so long.
pub const SAID_MS: Millis = 12_000;
/// A hold that is not confirmed within this is said to be unconfirmed.
pub const HOLD_CONFIRMED_MS: Millis = 1_000;

/// Which screen is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Screen {
    /// The one thing to do.
    Now,
    /// What waits, cards and their findings.
    Sheets,
    /// What is planned, and when somebody is needed.
    Day,
    /// What came of the work.
    History,
    /// Machine, link, people, bits, and whether everything is in place.
    Shop,
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
    /// Something is wrong: the short cards by number, or one of them.
    Trouble {
        /// The card's place among them.
        card: Option<usize>,
    },
    /// Who stands at the machine.
    Name {
        /// Typed so far.
        typed: String,
    },
    /// Their PIN.
    Pin {
        /// Who says that they stand there.
        who: Person,
        /// Typed so far; never shown.
        typed: Secret,
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
    /// The lot of a sheet, as it is marked.
    Lot {
        /// Typed so far.
        typed: String,
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
    pub(super) sheet: Option<SheetId>,
    pub(super) list: ListKind,
    pub(super) form: ListForm,
    pub(super) id: String,
    pub(super) number: u32,
    pub(super) graded: usize,
    pub(super) note: Option<String>,
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
    /// The plan of the day came out otherwise.
    PlanChanged(Vec<Change>),
    /// The plan of the day.
    Plan(Box<Result<DayPlan, ClientFault>>),
    /// What came of the work.
    Records(Box<Result<Records, ClientFault>>),
    /// Whether everything is in place.
    Looks(Box<Result<Vec<Look>, ClientFault>>),
    /// A card's picture and the names of its operations, in its order.
    Picture(CardName, Box<Result<(Drawing, Vec<String>), ClientFault>>),
    /// Somebody who may sign in.
    Known(Vec<String>),
    /// How much air the places have that were asked about.
    Air(Vec<Spot>, Box<Result<AirAnswer, ClientFault>>),
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
    /// Look at the plan of the day.
    LookPlan,
    /// Look what came of the work since then.
    LookRecords(Option<DateTime<Utc>>),
    /// Look whether everything is in place.
    LookShop,
    /// Look who signed in before.
    LookNames,
    /// Ask how much air fasteners at these places of a sheet have.
    LookAir(SheetId, Vec<Spot>),
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
    /// The dots of that picture, and of the card's on Sheets.
    pub traced: Memory,
    /// Likewise.
    pub traced_card: Memory,
    /// What waits.
    pub sheets: Option<SheetList>,
    /// Cards.
    pub cards: Option<CardList>,
    /// The plan of the day, or why there is none.
    pub plan: Option<Result<DayPlan, String>>,
    /// What History and Shop hold.
    pub past: Past,
    /// Pictures of cards looked at.
    pub card_pictures: BTreeMap<CardName, Drawing>,
    /// The open screen.
    pub screen: Screen,
    /// The screen that help tells about, and goes back to.
    pub help_of: Screen,
    /// The chosen row of Sheets.
    pub row: usize,
    /// The open dialog.
    pub dialog: Option<Dialog>,
    /// The step on the screen.
    pub asked: Option<Asked>,
    /// Fastener places of the step on the screen.
    pub placing: Option<Placing>,
    /// A question about them is under way.
    pub(super) measuring: bool,
    /// Per cent asked for that the controller has not confirmed yet.
    pub(super) fed: Option<[u16; 2]>,
    /// Hand moves.
    pub hand: Hand,
    /// The guide of the practice shop.
    pub guide: Option<Guide>,
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
    /// The move that the key pressed last asks for while it is held down, and when it was pressed.
    pub run_key: Option<(Act, Millis)>,
    /// People who signed in before, to be chosen from.
    pub names: Vec<String>,
    pub(super) looking: bool,
    pub(super) look_again: bool,
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
            traced: Memory::default(),
            traced_card: Memory::default(),
            sheets: None,
            cards: None,
            plan: None,
            past: Past::default(),
            card_pictures: BTreeMap::new(),
            screen: Screen::Now,
            help_of: Screen::Now,
            row: 0,
            dialog: None,
            asked: None,
            placing: None,
            measuring: false,
            fed: None,
            hand: Hand::default(),
            guide: None,
            said: None,
            hold_asked: None,
            last_hold: None,
            last_enter: None,
            under_way: 0,
            run_key: None,
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
                if self.screen == Screen::Day {
                    intents.push(Intent::LookPlan);
                }
            }
            Input::Position(tick) => self.position = Some((tick, self.clock)),
            Input::Now(result) => self.looked(*result, &mut intents),
            Input::Answered(act, result) => self.answered(&act, *result, &mut intents),
            Input::Sheets(result) => self.listed(*result, &mut intents),
            Input::PlanChanged(changes) => self.plan_changed(&changes, &mut intents),
            Input::Plan(result) => self.planned(*result),
            Input::Records(result) => self.past.recorded(*result),
            Input::Looks(result) => self.past.looked(*result),
            Input::Picture(card, result) => {
                if let Ok((drawing, _)) = *result {
                    self.traced_card.forget();
                    self.card_pictures.insert(card, drawing);
                }
            }
            Input::Air(places, result) => self.measured(places, *result, &mut intents),
            Input::Known(names) => self.know(names),
            Input::SheetPicture(sheet, card, result) => {
                if let Ok((drawing, names)) = *result {
                    self.traced_card.forget();
                    self.card_pictures.insert(card, drawing.clone());
                    self.traced.forget();
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

    /// Whether something on the screen changes as time goes by: a count, an age, a word that will go.
    #[must_use]
    pub fn counts(&self) -> bool {
        let held = self.standing().and_then(|n| n.sheet.as_ref()).is_some_and(|s| s.held.is_some());
        self.link != Link::Up
            || self.said.is_some()
            || self.hold_asked.is_some()
            || self.run_down_left().is_some()
            || held
            || self.may_move()
            || self.screen == Screen::Shop
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

    /// Asks anew for what the open screen shows beside how things stand.
    pub fn look_at_screen(&self, intents: &mut Vec<Intent>) {
        let since = self.standing().map(|now| now.at - TimeDelta::days(DAYS_BACK));
        match self.screen {
            Screen::Sheets => intents.push(Intent::LookSheets),
            Screen::Day => intents.push(Intent::LookPlan),
            Screen::History => intents.push(Intent::LookRecords(since)),
            Screen::Shop => intents.extend([Intent::LookShop, Intent::LookRecords(since)]),
            Screen::Now | Screen::Help => {}
        }
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
        if self.said.as_ref().is_some_and(|(_, _, at)| self.clock.saturating_sub(*at) > SAID_MS * 2) {
            self.said = None;
        }
        let counting = self.run_down_left().is_some() || self.hold_asked.is_some();
        let every = if self.may_move() || counting || self.now.is_none() { moving } else { still };
        if self.link == Link::Up && self.clock.saturating_sub(self.last_look) >= every {
            self.look(intents);
        }
    }
}
