//! The real transition table of the floor among people, timers and a link that keeps the contract, with one thing going
//! wrong at any point. Reports wait before they are heard, so the floor may decide on what is no longer so. Terminals
//! hold nothing: whoever asks may ask anything at any time, so there may be any number of them.

mod people;
mod shop;

use super::Explored;
use super::broken_floor::Break;
use super::contract::{Contract, Task, Word};
use super::world::{Rule, Turns, World, believed};
use chargehand_daemon::floor::State;
use chargehand_daemon::floor::happening::{Asked, By, Happening};
use chargehand_daemon::floor::sheet::Findings;
use chargehand_daemon::floor::state::{Away, DayLists, Presence, Setup, Store};
use stateright::{Model, Property};
use std::collections::VecDeque;

/// What a report carries that knows no epoch.
const NONE: i8 = i8::MAX;
/// Answers to orders that were not taken, beside those reports.
const ANSWERS_BESIDE: usize = 1;

/// What is explored.
#[derive(Debug, Clone)]
pub struct FloorModel {
    /// The machine.
    pub setup: Setup,
    /// Sheets that wait.
    pub sheets: u8,
    /// The bits of a sheet's operations.
    pub bits: Vec<u8>,
    /// Things that may go wrong.
    pub troubles: u8,
    /// Whether programs ask for a person in their middle.
    pub asks: bool,
    /// Whether a helper may be there too.
    pub helper: bool,
    /// Whether the programs may run with nobody there, as far as they go, and it may be allowed.
    pub alone: bool,
    /// Reports that may wait to be heard before the link says more; with none each is heard at once.
    pub waits: usize,
    /// A break of the wrapper.
    pub broken: Option<Break>,
    /// What has happened already when the exploring begins.
    pub before: Vec<Next>,
}

/// What the controller last showed of itself, as the foreman keeps it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Shown {
    /// Nothing since the link was lost.
    Nothing,
    /// It stands still and takes lines.
    Ready,
    /// It moves.
    Moves,
    /// It is held.
    Holds,
    /// It refuses motion.
    Locked,
}

/// A report on its way to the floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Report {
    /// Something happened, in this epoch of the link; of what was not done, the epoch that its permit was made in.
    /// Counted from the one that the floor was last told, each that nothing is of left out; below 0 is any before.
    Word(Word, i8),
    /// What the controller shows of itself.
    State(Shown),
}

/// The shop.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Shop {
    /// The floor.
    pub floor: State,
    /// The link.
    pub link: Contract,
    /// The controller refuses motion.
    pub locked: bool,
    /// Reports on their way.
    pub told: VecDeque<Report>,
    /// The link's epoch, counted in the same way.
    pub epoch: i8,
    /// What was last shown and heard.
    pub shown: Shown,
    /// What was last shown, heard or not.
    pub last_shown: Shown,
    /// A program is being fed.
    pub feeding: bool,
    /// The run-down counts.
    pub run_down: bool,
    /// The gap of a chain counts.
    pub gap: bool,
    /// Sheets that wait.
    pub waiting: u8,
    /// Things that may still go wrong.
    pub troubles: u8,
    /// The shop as it truly is.
    pub world: World,
    /// The rule that the last step broke.
    pub broken: Option<Rule>,
}

/// One thing that may come next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Next {
    /// Somebody does or says something.
    Acts(By, Asked),
    /// Somebody comes or goes.
    Presence(Presence),
    /// A timer is due.
    Due(Happening),
    /// The link says something.
    Says(Word),
    /// The same, and it is trouble.
    Trouble(Word),
    /// The controller shows itself otherwise than before.
    Shows(Shown),
    /// A task of the link ends without a word.
    Quietly,
    /// The link passes on that the spindle is to be switched off.
    SwitchesOff,
    /// A report is heard.
    Heard,
    /// The daemon is killed and comes up again.
    Killed,
    /// The journal cannot be written.
    StoreFails,
    /// The check finds something to sign.
    Finds,
    /// A list of the day becomes due, or is walked.
    Lists(DayLists),
    /// Whether the machine may be left alone is worked out anew.
    Away(Away),
    /// A closing touch is off.
    Doubts,
}

impl Model for FloorModel {
    type State = Shop;
    type Action = Next;

    fn init_states(&self) -> Vec<Shop> {
        let morning = Shop {
            floor: State::new(self.setup),
            link: Contract::CLOSED,
            locked: false,
            told: VecDeque::new(),
            epoch: 0,
            shown: Shown::Nothing,
            last_shown: Shown::Nothing,
            feeding: false,
            run_down: false,
            gap: false,
            waiting: self.sheets,
            troubles: self.troubles,
            world: World::MORNING,
            broken: None,
        };
        // heard at once, whoever waits later
        let heard = Self { waits: 0, broken: None, ..self.clone() };
        let happens = |shop: Shop, next: &Next| {
            let after = heard.next_state(&shop, next.clone());
            after.unwrap_or_else(|| panic!("{next:?} changes nothing in {shop:#?}"))
        };
        vec![self.before.iter().fold(morning, happens)]
    }

    fn actions(&self, shop: &Shop, all: &mut Vec<Next>) {
        if shop.broken.is_some() || self.is_over(shop) {
            return;
        }
        all.extend(self.acts(shop).into_iter().map(|(by, what)| Next::Acts(by, what)));
        let others = [Presence::Owner, Presence::Helper, Presence::Nobody].into_iter();
        let others = others.filter(|p| *p != shop.floor.presence && (self.helper || *p != Presence::Helper));
        all.extend(others.map(Next::Presence));
        all.extend(shop.run_down.then_some(Next::Due(Happening::RunDownDue)));
        all.extend(shop.gap.then_some(Next::Due(Happening::ChainGapDue)));
        if self.alone {
            all.push(Next::Away(if shop.world.away { Away::Off } else { Away::Allowed }));
            all.push(Next::Due(Happening::StillThereDue));
        }
        all.extend((!shop.told.is_empty()).then_some(Next::Heard));
        all.extend(shop.link.quietly().map(|_| Next::Quietly));
        all.extend(shop.link.switches_off().map(|_| Next::SwitchesOff));
        if shop.told.len() < self.waits.max(1) {
            all.extend(shop.link.words(self.asks).into_iter().map(Next::Says));
            let shows = shop.shows();
            let anew = shows != shop.last_shown || (shows == Shown::Holds && shop.thinks_it_goes());
            all.extend((anew && shows != Shown::Nothing).then_some(Next::Shows(shows)));
            if shop.troubles > 0 {
                all.extend(shop.link.trouble().into_iter().map(Next::Trouble));
            }
        }
        if shop.troubles > 0 {
            all.extend([Next::Killed, Next::StoreFails, Next::Finds, Next::Lists(DayLists::Due)]);
            all.extend(shop.may_be_touched().then_some(Next::Doubts));
        } else if shop.floor.machine.store == Store::Failed {
            // a disk that was full is seen to, and the daemon started anew
            all.push(Next::Killed);
        }
        all.extend((shop.floor.lists == DayLists::Due).then_some(Next::Lists(DayLists::Done)));
    }

    fn next_state(&self, before: &Shop, next: Next) -> Option<Shop> {
        let mut shop = before.clone();
        match next {
            Next::Acts(by, what) => {
                let ahead = shop.acts_first(by, &what);
                shop.follows(self, Happening::Act { by, what }, ahead);
            }
            Next::Presence(presence) => {
                if presence != Presence::Nobody {
                    shop.world.unanswered = 0;
                }
                shop.happens(self, Happening::PresenceChanged(presence));
            }
            Next::Away(away) => {
                shop.world.away = away == Away::Allowed;
                shop.happens(self, Happening::AwayChanged(away));
            }
            Next::Doubts => {
                shop.troubles -= 1;
                shop.world.doubt_the_bit();
                shop.happens(self, Happening::BitDoubted);
            }
            Next::Due(happening) => {
                match happening {
                    Happening::RunDownDue => {
                        shop.run_down = false;
                        if shop.world.turns == Turns::RunsDown {
                            shop.world.turns = Turns::No;
                        }
                    }
                    Happening::StillThereDue => shop.world.nobody_answers(&shop.floor),
                    _ => shop.gap = false,
                }
                shop.happens(self, happening);
            }
            Next::Says(word) => shop.says(word, self.setup)?,
            Next::Trouble(word) => {
                shop.troubles -= 1;
                shop.says(word, self.setup)?;
            }
            Next::Shows(shown) => {
                shop.last_shown = shown;
                shop.told.push_back(Report::State(shown));
            }
            Next::SwitchesOff => {
                shop.link = shop.link.switches_off()?;
                shop.world.switched_off();
            }
            Next::Quietly => {
                if shop.link.task == Task::Unlock {
                    shop.locked = false;
                }
                shop.link = shop.link.quietly()?;
            }
            Next::Heard => {
                let report = shop.told.pop_front()?;
                shop.hears(self, report);
            }
            Next::Killed => shop.is_killed(self),
            Next::StoreFails => {
                shop.troubles -= 1;
                shop.happens(self, Happening::StoreFailed);
            }
            Next::Lists(lists) => {
                shop.troubles -= u8::from(lists == DayLists::Due);
                shop.world.list_due = lists == DayLists::Due;
                shop.happens(self, Happening::ListsChanged(lists));
            }
            Next::Finds => {
                shop.troubles -= 1;
                shop.happens(self, Happening::FindingsChanged(Findings::Unsigned));
            }
        }
        while self.waits == 0
            && let Some(report) = shop.told.pop_front()
        {
            shop.hears(self, report);
        }
        if shop.told.len() > self.waits + ANSWERS_BESIDE {
            return None;
        }
        if !matches!(shop.link.task, Task::Setting(_)) {
            shop.world.setting = None;
        }
        if shop.told.is_empty() && shop.broken.is_none() {
            shop.broken = believed(&shop.floor, &shop.world);
        }
        (shop != *before).then_some(shop)
    }

    fn properties(&self) -> Vec<Property<Self>> {
        vec![
            Property::always("no motion without a permit", |_, s: &Shop| s.broken != Some(Rule::Permit)),
            Property::always("no motion uninvited", |_, s: &Shop| s.broken != Some(Rule::Uninvited)),
            Property::always("no start condition skipped", |_, s: &Shop| s.broken != Some(Rule::StartCondition)),
            Property::always("held stays held", |_, s: &Shop| s.broken != Some(Rule::HeldStaysHeld)),
            Property::always("each sheet ends in exactly one way", |_, s: &Shop| s.broken != Some(Rule::EndsOnce)),
            Property::always("no operation is done twice", |_, s: &Shop| s.broken != Some(Rule::CutOnce)),
            Property::always("hands only near a bit that stands", |_, s: &Shop| s.broken != Some(Rule::Hands)),
            Property::always("a stop stops", |_, s: &Shop| s.broken != Some(Rule::StopStops)),
            Property::always("a hold reaches the link", |_, s: &Shop| s.broken != Some(Rule::HoldHolds)),
            Property::always("no position believed that is lost", |_, s: &Shop| s.broken != Some(Rule::Position)),
            Property::always("no bit believed still that turns", |_, s: &Shop| s.broken != Some(Rule::Stillness)),
            Property::always("nothing runs on with nobody there who may leave it", |_, s: &Shop| {
                s.broken != Some(Rule::Watched)
            }),
            Property::always("no order that the contract knows nothing of", |_, s: &Shop| {
                s.broken != Some(Rule::Contract)
            }),
            Property::sometimes("a sheet is cut", |m: &Self, s: &Shop| {
                s.world.cut.iter().zip(&m.bits).all(|(cut, _)| *cut)
            }),
        ]
    }
}

impl Explored for FloorModel {
    fn is_over(&self, shop: &Shop) -> bool {
        shop.waiting == 0 && shop.floor.sheet.is_none() && !shop.world.sheet
    }
}
