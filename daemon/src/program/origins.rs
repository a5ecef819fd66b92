//! Item 19 of the order of execution: origins, shifts and homes (G10, G28, G30, G92).
//!
//! May live here: what these words do with a block's axis words. May not: the sums of systems and shifts, which are
//! in `frame`.

use super::block::{Broken, Letters};
use super::code::{G, Group};
use super::fault::Rule;
use super::frame::Axis;
use super::interpreter::Interpreter;
use super::motion::{Doing, Move, MoveKind, Pace};
use chargehand_types::quantity::Point;

impl Interpreter {
    /// Item 19: G10, G28, G30, G92.
    #[cold]
    pub(super) fn once_with_axes(&mut self, code: G) -> Result<(), Broken> {
        match code {
            G::G10 => self.set_origin(),
            G::G28 => self.go_home(0),
            G::G30 => self.go_home(1),
            _ => self.shift(),
        }
    }

    fn shift(&mut self) -> Result<(), Broken> {
        for axis in Axis::ALL {
            if let Some(value) = self.block.get(axis.letter()) {
                self.frame.shift_to(axis, value.length(self.modal.inch), self.at, &mut self.parameters);
            }
        }
        self.modal.shift = self.frame.shift();
        Ok(())
    }

    fn set_origin(&mut self) -> Result<(), Broken> {
        let columns = self.block.g_columns(Group::Once);
        let l = self.block.get(b'L').ok_or((Rule::WordMissing("G10", 'L'), columns.clone()))?;
        let p = self.block.get(b'P').ok_or((Rule::WordMissing("G10", 'P'), columns))?;
        let system = p.whole().filter(|n| (1..=9).contains(n)).and_then(|n| u8::try_from(n).ok());
        let range = Rule::OutOfRange { letter: 'P', least: 1, most: 9 };
        let system = system.ok_or((range, self.block.columns(b'P')))?;
        let here = match l.whole() {
            Some(2) => false,
            Some(20) => true,
            _ => return Err((Rule::Stray('L'), self.block.columns(b'L'))),
        };
        for axis in Axis::ALL {
            let Some(value) = self.block.get(axis.letter()) else {
                continue;
            };
            let value = value.length(self.modal.inch);
            if here {
                self.frame.set_origin_here(system, axis, value, self.at, &mut self.parameters);
            } else {
                self.frame.set_origin(system, axis, value, &mut self.parameters);
            }
        }
        Ok(())
    }

    /// G28, G30: by way of the place given, if any, to the stored home, all axes (NISTIR 6556 3.5.7).
    fn go_home(&mut self, which: usize) -> Result<(), Broken> {
        let column = self.block.g_columns(Group::Once).start;
        self.facts.home_assumed.get_or_insert(self.place(column..column + 1));
        if self.block.letters().any(Letters::AXES) {
            let (from, to) = (self.at, self.target()?);
            if from != to {
                self.home_move(to, column);
            }
        }
        let blind = self.unsure != 0;
        let home = self.frame.home(which);
        (self.named, self.unsure) = (7, 0);
        if blind {
            self.at = home;
        } else if self.at != home {
            self.home_move(home, column);
        }
        Ok(())
    }

    fn home_move(&mut self, to: Point, column: usize) {
        let from = std::mem::replace(&mut self.at, to);
        if self.unsure == 0 {
            let made = Move { kind: MoveKind::Rapid, from, to, pace: Pace::Rapid, named: self.named, of_cycle: false };
            self.push(column..column + 1, Doing::Move(made));
        }
    }
}
