//! A controller as small as can be, that speaks the wire of the shipped profile with a window of bytes: it takes lines,
//! runs what it took, answers, and may stumble. How long anything takes is left open.

use std::collections::VecDeque;

/// Motions it holds at most, the one under way with them.
pub const HOLDS: usize = 2;

/// What its axes do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "the words say it")]
pub enum Axes {
    Still,
    Moves,
    Held,
    Homes,
    Locked,
}

/// A line it was sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Line {
    /// The program's, by its number from 1.
    Program(u8),
    /// Finds home.
    Home,
    /// Takes motion again.
    Unlock,
    /// Sets something, and waits until nothing moves.
    Setting,
    /// Moves by hand.
    Hand,
    /// Raises the bit.
    Raise,
}

/// What it says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reply {
    /// A line was taken.
    Ok,
    /// A line was refused.
    Refused,
    /// How it stands, and how far the program is cut.
    State(Axes, u8),
    /// It fell into a fault.
    Alarm(u8),
    /// It starts anew.
    Greeting,
    /// Something damaged on the way.
    Noise,
}

/// A way to stumble.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Stumble {
    /// The next line is refused.
    Refuses,
    /// A switch is hit.
    Alarm,
    /// It starts anew.
    Restarts,
    /// What it says next is damaged, lost or doubled.
    Damaged,
    /// The same.
    Lost,
    /// The same.
    Doubled,
    /// It says nothing any more, until it is heard again.
    Mute,
    /// The cable is out.
    Unplugged,
    /// Its own hold button is pressed.
    Button,
}

/// Every way.
pub const STUMBLES: [Stumble; 9] = [
    Stumble::Refuses,
    Stumble::Alarm,
    Stumble::Restarts,
    Stumble::Damaged,
    Stumble::Lost,
    Stumble::Doubled,
    Stumble::Mute,
    Stumble::Unplugged,
    Stumble::Button,
];

/// The controller.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Machine {
    /// Lines received and not taken, with their bytes.
    pub waits: VecDeque<(Line, u16)>,
    /// Motions taken and not over.
    pub planned: VecDeque<Line>,
    /// Its axes.
    pub axes: Axes,
    /// What it said and nobody heard yet.
    pub said: VecDeque<Reply>,
    /// It says nothing.
    pub mute: bool,
    /// Its own button holds it.
    pub button: bool,
    /// The next line is refused.
    pub refuses: bool,
    /// Lines of the program over, in their order.
    pub cut: u8,
    /// A line was cut out of its order, or twice.
    pub out_of_order: bool,
    /// A line of the program was refused: those that wait behind it are taken all the same, until it is told to hold.
    pub leaves_out: bool,
}

impl Machine {
    /// Switched on.
    pub const NEW: Self = Self {
        waits: VecDeque::new(),
        planned: VecDeque::new(),
        axes: Axes::Still,
        said: VecDeque::new(),
        mute: false,
        button: false,
        refuses: false,
        cut: 0,
        out_of_order: false,
        leaves_out: false,
    };

    fn say(&mut self, reply: Reply) {
        if !self.mute {
            self.said.push_back(reply);
        }
    }

    /// Bytes in its receive buffer.
    #[must_use]
    pub fn bytes_waiting(&self) -> u16 {
        self.waits.iter().map(|(_, bytes)| bytes).sum()
    }

    /// Whether it can take the next line now.
    #[must_use]
    pub fn can_take(&self) -> bool {
        let at_rest = self.planned.is_empty() && self.axes != Axes::Homes;
        match self.waits.front() {
            None => false,
            Some((Line::Program(_) | Line::Hand | Line::Raise, _)) => {
                self.axes != Axes::Homes && self.planned.len() < HOLDS
            }
            Some((Line::Home | Line::Unlock | Line::Setting, _)) => at_rest && self.axes != Axes::Held,
        }
    }

    /// Takes the next line.
    pub fn take(&mut self) {
        let Some((line, _)) = self.waits.pop_front() else { return };
        if std::mem::take(&mut self.refuses) {
            self.leaves_out |= matches!(line, Line::Program(_));
            return self.say(Reply::Refused);
        }
        match line {
            Line::Program(_) | Line::Hand | Line::Raise | Line::Setting if self.axes == Axes::Locked => {
                self.say(Reply::Refused);
            }
            Line::Program(_) | Line::Hand | Line::Raise => {
                self.planned.push_back(line);
                if self.axes == Axes::Still {
                    self.axes = Axes::Moves;
                }
                self.say(Reply::Ok);
            }
            Line::Home => self.axes = Axes::Homes,
            Line::Unlock => {
                self.axes = Axes::Still;
                self.say(Reply::Ok);
            }
            Line::Setting => self.say(Reply::Ok),
        }
    }

    /// Whether a motion can end now.
    #[must_use]
    pub fn can_end(&self) -> bool {
        self.axes == Axes::Homes || (self.axes == Axes::Moves && !self.planned.is_empty())
    }

    /// The motion under way is over.
    pub fn end(&mut self) {
        if self.axes == Axes::Homes {
            self.axes = Axes::Still;
            return self.say(Reply::Ok);
        }
        if let Some(Line::Program(number)) = self.planned.pop_front() {
            self.out_of_order |= number != self.cut + 1 && !(self.leaves_out && number > self.cut);
            self.cut = number;
        }
        if self.planned.is_empty() {
            self.axes = Axes::Still;
        }
    }

    /// A byte that acts at once.
    pub fn at_once(&mut self, byte: u8) {
        match byte {
            b'?' => self.say(Reply::State(self.axes, self.cut)),
            b'!' if self.axes == Axes::Moves => self.axes = Axes::Held,
            b'~' if self.axes == Axes::Held && !self.button => self.goes_on(),
            0x18 => self.reset(),
            _ => {}
        }
    }

    fn goes_on(&mut self) {
        self.axes = if self.planned.is_empty() { Axes::Still } else { Axes::Moves };
    }

    fn reset(&mut self) {
        let moved = matches!(self.axes, Axes::Moves | Axes::Homes);
        self.forget();
        if moved {
            self.axes = Axes::Locked;
            self.say(Reply::Alarm(3));
        } else if self.axes != Axes::Locked {
            self.axes = Axes::Still;
        }
        self.say(Reply::Greeting);
    }

    fn forget(&mut self) {
        self.waits.clear();
        self.planned.clear();
        self.button = false;
    }

    /// Whether it can stumble so now.
    #[must_use]
    pub fn can(&self, stumble: Stumble) -> bool {
        match stumble {
            Stumble::Refuses => self.can_take(),
            Stumble::Damaged | Stumble::Lost | Stumble::Doubled => !self.said.is_empty(),
            Stumble::Alarm => self.axes != Axes::Locked,
            Stumble::Button => self.axes == Axes::Moves,
            Stumble::Restarts | Stumble::Mute | Stumble::Unplugged => true,
        }
    }

    /// Stumbles; the cable is somebody else's.
    pub fn stumbles(&mut self, stumble: Stumble) {
        match stumble {
            Stumble::Refuses => self.refuses = true,
            Stumble::Alarm => {
                self.forget();
                self.axes = Axes::Locked;
                self.say(Reply::Alarm(1));
            }
            Stumble::Restarts => {
                self.forget();
                self.axes = Axes::Still;
                self.said.clear();
                self.say(Reply::Greeting);
            }
            Stumble::Damaged => {
                if let Some(first) = self.said.front_mut() {
                    *first = Reply::Noise;
                }
            }
            Stumble::Lost => drop(self.said.pop_front()),
            Stumble::Doubled => {
                if let Some(first) = self.said.front().copied() {
                    self.said.push_front(first);
                }
            }
            Stumble::Mute => {
                self.said.clear();
                self.mute = true;
            }
            Stumble::Unplugged => self.said.clear(),
            Stumble::Button => {
                self.axes = Axes::Held;
                self.button = true;
            }
        }
    }

    /// Its own button is let go: it goes on by itself.
    pub fn let_go(&mut self) {
        self.button = false;
        if self.axes == Axes::Held {
            self.goes_on();
        }
    }
}

impl Reply {
    /// As it is said on the wire.
    #[must_use]
    pub fn bytes(self) -> String {
        match self {
            Self::Ok => "ok\n".to_owned(),
            Self::Refused => "error:20\n".to_owned(),
            Self::Alarm(number) => format!("ALARM:{number}\n"),
            Self::Greeting => "Small 1.0 ['$' for help]\n".to_owned(),
            Self::Noise => "o%k\n".to_owned(),
            Self::State(axes, cut) => {
                let word = match axes {
                    Axes::Still => "Idle",
                    Axes::Moves => "Run",
                    Axes::Held => "Hold:0",
                    Axes::Homes => "Home",
                    Axes::Locked => "Alarm",
                };
                format!("<{word}|MPos:{cut}.000,0.000,0.000|WCO:0.000,0.000,0.000>\n")
            }
        }
    }
}
