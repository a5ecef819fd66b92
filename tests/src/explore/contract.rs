//! What the floor may count on of the link, and the link of the floor: a few states, what an order does to them, and
//! which word may come in which. Both rooms are explored against it, so that what holds of one holds of the other.

use chargehand_daemon::floor::Tried;
use chargehand_daemon::floor::permit::Class;

/// What the link is told, without figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "each is the command of the same name")]
pub enum Order {
    Home,
    Unlock,
    HandMove,
    /// [`Tried::SetWorkZero`] or [`Tried::SetZZero`].
    Setting(Tried),
    Begin,
    Resume,
    Raise,
    Spindle(bool),
    Hold,
    HoldAtLift,
    Stop,
}

impl Order {
    /// The class of the permit it needs, if it moves anything.
    #[must_use]
    pub const fn class(self) -> Option<Class> {
        match self {
            Self::Home => Some(Class::Home),
            Self::Unlock => Some(Class::Unlock),
            Self::HandMove => Some(Class::Hand),
            Self::Begin => Some(Class::Cut),
            Self::Resume => Some(Class::Resume),
            Self::Raise => Some(Class::Raise),
            Self::Setting(_) | Self::Spindle(_) | Self::Hold | Self::HoldAtLift | Self::Stop => None,
        }
    }

    /// The deed it is given for.
    #[must_use]
    pub const fn tried(self) -> Tried {
        match self {
            Self::Home => Tried::HomeLink,
            Self::Unlock => Tried::UnlockLink,
            Self::HandMove => Tried::HandMoveLink,
            Self::Setting(tried) => tried,
            Self::Begin => Tried::Begin,
            Self::Resume => Tried::ResumeLink,
            Self::Raise => Tried::RaiseLink,
            Self::Spindle(_) => Tried::Spindle,
            Self::Hold => Tried::Hold,
            Self::HoldAtLift => Tried::HoldAtLift,
            Self::Stop => Tried::StopLink,
        }
    }
}

/// What the link says, without figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "each is the report of the same name")]
pub enum Word {
    Up,
    Down,
    Held {
        asked: bool,
    },
    HoldUnconfirmed,
    HeldAtLift,
    AtPrompt,
    Finished,
    Refused,
    Fault {
        lost: bool,
    },
    Restarted,
    Stopped {
        kept: bool,
    },
    Homed,
    /// A hand move, or a setting that was taken.
    HandDone,
    Raised,
    NotDone(Tried),
}

/// A program under way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Stretch {
    None,
    Runs,
    HoldAsked,
    Held,
    LiftWanted,
    AtLift,
    Asking,
}

/// Something short under way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Task {
    /// Nothing.
    None,
    /// It looks for home.
    Home,
    /// A hand move.
    Hand,
    /// A setting: [`Tried::SetWorkZero`] or [`Tried::SetZZero`].
    Setting(Tried),
    /// Making it take motion again: ends without a word.
    Unlock,
    /// Raising the bit.
    Raising,
    /// Carrying out a stop.
    Stopping,
    /// Giving up what it holds after something went wrong: may end without a word.
    GivingUp,
}

impl Task {
    /// The deed it came from, where it may still come to nothing.
    #[must_use]
    pub const fn tried(self) -> Option<Tried> {
        match self {
            Self::Home => Some(Tried::HomeLink),
            Self::Hand => Some(Tried::HandMoveLink),
            Self::Setting(tried) => Some(tried),
            Self::Unlock => Some(Tried::UnlockLink),
            Self::None | Self::Raising | Self::Stopping | Self::GivingUp => None,
        }
    }
}

/// Where the link is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Contract {
    /// It answers.
    pub open: bool,
    /// The program.
    pub stretch: Stretch,
    /// Something short.
    pub task: Task,
    /// The spindle is to be switched off, behind what is short and under way or beside it.
    pub off_wanted: bool,
    /// It is being switched: ends without a word, and everything else may begin meanwhile.
    pub switching: bool,
}

impl Contract {
    /// Nothing is known of the controller.
    pub const CLOSED: Self =
        Self { open: false, stretch: Stretch::None, task: Task::None, off_wanted: false, switching: false };
    /// It answers, and nothing is under way.
    pub const IDLE: Self = Self { open: true, ..Self::CLOSED };

    /// Nothing else is under way: at a prompt or a bit change hands may be at the bit.
    const fn is_free(self) -> bool {
        matches!(self.stretch, Stretch::None | Stretch::Asking) && matches!(self.task, Task::None)
    }

    /// Whether an order is taken; else it is answered with [`Word::NotDone`] of its deed. `permitted` says whether it came with a
    /// permit of its class that is not void; of a setting, whether nothing stopped since it was asked for.
    #[must_use]
    pub const fn takes(self, order: Order, permitted: bool) -> bool {
        match order {
            Order::Hold | Order::HoldAtLift | Order::Stop => true,
            Order::Spindle(_) => self.open,
            Order::Home | Order::Unlock | Order::HandMove | Order::Setting(_) => {
                self.open && self.is_free() && permitted
            }
            Order::Begin => self.open && self.is_free() && matches!(self.stretch, Stretch::None) && permitted,
            Order::Resume => {
                self.open && !matches!(self.stretch, Stretch::None) && matches!(self.task, Task::None) && permitted
            }
            Order::Raise => {
                let held = matches!(self.stretch, Stretch::Held | Stretch::AtLift | Stretch::Asking);
                self.open && held && matches!(self.task, Task::None) && permitted
            }
        }
    }

    /// Whether the floor gives such an order now; one that it does not give needs no promise.
    #[must_use]
    pub const fn expects(self, order: Order) -> bool {
        let waits = matches!(self.stretch, Stretch::Held | Stretch::AtLift | Stretch::Asking);
        match order {
            Order::Resume | Order::Raise => waits,
            _ => true,
        }
    }

    /// Whether an order voids every permit made before it.
    #[must_use]
    pub const fn voids(self, order: Order) -> bool {
        matches!(order, Order::Stop) && self.open
    }

    /// What an order that is taken comes to.
    #[must_use]
    pub const fn after(self, order: Order) -> Self {
        let task = match order {
            Order::Home => Task::Home,
            Order::Unlock => Task::Unlock,
            Order::HandMove => Task::Hand,
            Order::Setting(tried) => Task::Setting(tried),
            Order::Raise => Task::Raising,
            Order::Stop if self.open => Task::Stopping,
            Order::Begin
            | Order::Resume
            | Order::Hold
            | Order::HoldAtLift
            | Order::Stop
            // that it is switched off waits, and is passed on by [`Contract::switches_off`]
            | Order::Spindle(_) => self.task,
        };
        let stretch = match (order, self.stretch) {
            (Order::Begin | Order::Resume, _) => Stretch::Runs,
            (Order::Hold, Stretch::Runs | Stretch::LiftWanted) if self.open => Stretch::HoldAsked,
            (Order::HoldAtLift, Stretch::Runs) => Stretch::LiftWanted,
            (Order::Stop, Stretch::None) => Stretch::None,
            (Order::Stop, _) if self.open => Stretch::Held,
            (_, as_it_was) => as_it_was,
        };
        let off_wanted = match order {
            Order::Spindle(on) => !on,
            _ => self.off_wanted,
        };
        let on = matches!(order, Order::Spindle(true)) && matches!(self.task, Task::None);
        Self { open: self.open, stretch, task, off_wanted, switching: self.switching || on }
    }

    /// Where it is once a spindle that was to be switched off is being switched off.
    #[must_use]
    pub const fn switches_off(self) -> Option<Self> {
        if self.off_wanted { Some(Self { off_wanted: false, switching: true, ..self }) } else { None }
    }

    /// Where it is after a word; none when that word may not come now.
    #[must_use]
    pub fn says(self, word: Word) -> Option<Self> {
        let (stretch, task) = (self.stretch, self.task);
        let idle = Self { open: self.open, ..Self::CLOSED };
        let over_with = Self { off_wanted: self.off_wanted, switching: self.switching, ..idle };
        let given_up = Self { task: Task::GivingUp, off_wanted: self.off_wanted, ..idle };
        let runs = matches!(stretch, Stretch::Runs | Stretch::LiftWanted);
        let over = matches!(task, Task::Stopping | Task::GivingUp);
        let (may, after) = match word {
            // half a line may be left in it from before
            Word::Up => (!self.open, Self { task: Task::GivingUp, ..Self::IDLE }),
            Word::Down => (true, Self::CLOSED),
            Word::Restarted => (self.open, Self::CLOSED),
            Word::Held { asked } => {
                let fits = if asked {
                    stretch == Stretch::HoldAsked
                } else {
                    // of what has run out nothing is left to be held: it waits for what it waited for
                    runs
                };
                // held while it raises the bit, it gives that up, and says so as of a fault
                (fits && !over && task != Task::Raising, Self { stretch: Stretch::Held, ..self })
            }
            Word::HoldUnconfirmed => (stretch == Stretch::HoldAsked, self),
            Word::HeldAtLift => (stretch == Stretch::LiftWanted, Self { stretch: Stretch::AtLift, ..self }),
            Word::AtPrompt => (runs, Self { stretch: Stretch::Asking, ..self }),
            Word::Finished => (runs || stretch == Stretch::HoldAsked, Self { stretch: Stretch::None, ..self }),
            Word::Refused => (stretch != Stretch::None && !over, given_up),
            // lines that it has not read are thrown away
            Word::Fault { .. } => (self.open, given_up),
            Word::Stopped { .. } => (task == Task::Stopping, over_with),
            Word::Homed => (task == Task::Home, Self { task: Task::None, ..self }),
            Word::HandDone => (matches!(task, Task::Hand | Task::Setting(_)), Self { task: Task::None, ..self }),
            Word::Raised => (task == Task::Raising, over_with),
            // beside something else its line alone was refused
            Word::NotDone(Tried::Spindle) => {
                let alone = matches!((stretch, task), (Stretch::None, Task::None));
                let task = if alone { Task::GivingUp } else { task };
                (self.switching, Self { switching: false, task, ..self })
            }
            // what it holds of it may have to be given up
            Word::NotDone(tried) => (task.tried() == Some(tried), Self { task: Task::GivingUp, ..self }),
        };
        let may = may && (self.open || matches!(word, Word::Up | Word::Down));
        may.then_some(after)
    }

    /// Where it is once a task that ends without a word has ended.
    #[must_use]
    pub const fn quietly(self) -> Option<Self> {
        match self.task {
            Task::Unlock | Task::GivingUp => Some(Self { task: Task::None, ..self }),
            _ if self.switching => Some(Self { switching: false, ..self }),
            Task::None | Task::Home | Task::Hand | Task::Setting(_) | Task::Raising | Task::Stopping => None,
        }
    }

    /// Whether a word moves the link's epoch on, so that every permit made before is void.
    #[must_use]
    pub const fn word_voids(word: Word) -> bool {
        matches!(word, Word::Down | Word::Refused | Word::Fault { .. } | Word::Restarted)
    }

    /// Whether a word tells the floor the link's epoch.
    #[must_use]
    pub const fn tells_epoch(word: Word) -> bool {
        matches!(
            word,
            Word::Up | Word::Down | Word::Refused | Word::Fault { .. } | Word::Restarted | Word::Stopped { .. }
        )
    }

    /// The words that come when nothing goes wrong.
    #[must_use]
    pub fn words(self, asks: bool) -> Vec<Word> {
        let mut words = vec![
            Word::Up,
            Word::HeldAtLift,
            Word::Finished,
            Word::Stopped { kept: true },
            Word::Homed,
            Word::HandDone,
            Word::Raised,
        ];
        words.extend((self.stretch == Stretch::HoldAsked).then_some(Word::Held { asked: true }));
        // it had to be told to give up while it moved
        words.extend((self.task == Task::GivingUp).then_some(Word::Fault { lost: true }));
        words.extend(asks.then_some(Word::AtPrompt));
        words.retain(|word| self.says(*word).is_some());
        words
    }

    /// The words that come when something does.
    #[must_use]
    pub fn trouble(self) -> Vec<Word> {
        let mut words = vec![
            Word::Down,
            Word::Restarted,
            Word::Held { asked: false },
            Word::HoldUnconfirmed,
            Word::Refused,
            Word::Fault { lost: true },
            Word::Fault { lost: false },
            Word::Stopped { kept: false },
        ];
        words.extend(self.task.tried().map(Word::NotDone));
        words.extend(self.switching.then_some(Word::NotDone(Tried::Spindle)));
        words.retain(|word| self.says(*word).is_some());
        words
    }
}
