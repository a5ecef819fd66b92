//! Touching a plate: down until it is met, off it, and once more slowly; what the second touch told is what counts.

use super::conversation::{Link, Task};
use super::talk;
use super::wire::{NotDone, Report, StateWord, Touch, Wanted};
use crate::floor::permit::{Class, Permit};
use chargehand_types::act::Axis;
use chargehand_types::quantity::{Feed, Length};
use std::sync::Arc;

/// How much farther than it was raised the second touch may go.
const BEYOND: Length = Length(1_000_000);
/// Two touches of one plate that differ by more did not meet one plate. Common practice, no source.
const AGREE: Length = Length(500_000);

/// A touch under way.
#[derive(Debug, Clone, Copy)]
pub(in crate::link) struct Touching {
    how: Touch,
    leg: Leg,
    /// Machine Z at which this leg met something.
    met: Option<Length>,
    /// Where the quick leg met it.
    first: Length,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Leg {
    /// Down until it is met.
    Quick,
    /// Off it.
    Off,
    /// Down again.
    Slow,
    /// Up, out of the way.
    Up,
}

impl Link {
    /// Begins a touch, unless the plate is met already.
    pub(in crate::link) fn touch(&mut self, permit: Permit, how: Touch) -> Result<(), NotDone> {
        self.free()?;
        let keys = &self.profile.keys;
        if keys.commands.touch.is_empty() || keys.pins.probe.is_empty() {
            return Err(NotDone::Cannot("touch a plate and tell of its wire"));
        }
        let Some(state) = self.state.filter(|s| s.word == StateWord::Ready) else {
            return Err(NotDone::Busy("it does not stand still"));
        };
        if state.pins.probe {
            return Err(NotDone::Busy("the plate's wire is closed already"));
        }
        permit.used(Class::Hand, self.epoch)?;
        self.touching = Some(Touching { how, leg: Leg::Quick, met: None, first: Length::ZERO });
        self.down(how.reach, how.quick);
        Ok(())
    }

    fn down(&mut self, by: Length, feed: Feed) {
        self.start_task(Task::Touch, talk::touch(&Arc::clone(&self.profile), -by, feed));
    }

    fn up(&mut self, by: Length) {
        let p = Arc::clone(&self.profile);
        self.start_task(Task::Touch, talk::hand_move(&p, Axis::Z, by, p.keys.hand_feed));
    }

    /// It told where a probing move met something, if it did.
    pub(in crate::link) const fn met(&mut self, machine_z: Option<Length>) {
        if let Some(touching) = &mut self.touching {
            touching.met = machine_z;
        }
    }

    /// One leg has run out.
    pub(in crate::link) fn leg_done(&mut self) {
        let Some(touching) = self.touching.take() else { return };
        let closed = self.state.is_some_and(|s| s.pins.probe);
        if let Err(why) = self.next_leg(touching, closed) {
            self.report(Report::NotDone {
                what: Wanted::Touch,
                of: Some(self.epoch),
                why: NotDone::Refused(why.to_owned()),
            });
        }
    }

    fn next_leg(&mut self, mut touching: Touching, closed: bool) -> Result<(), &'static str> {
        let how = touching.how;
        match touching.leg {
            Leg::Quick => {
                touching.first = touching.met.take().ok_or("it stands still and told of no touch")?;
                if !closed {
                    return Err("it stopped, but the plate's wire is open: look at clip and wire");
                }
                touching.leg = Leg::Off;
                self.up(how.off);
            }
            Leg::Off if closed => return Err("the plate's wire stays closed though the bit was raised off it"),
            Leg::Off => {
                touching.leg = Leg::Slow;
                self.down(how.off + BEYOND, how.slow);
            }
            Leg::Slow => {
                let met = touching.met.ok_or("it stands still and told of no second touch")?;
                if (met - touching.first).abs() > AGREE {
                    return Err("the two touches differ by more than 0.5 mm: did the plate move?");
                }
                touching.leg = Leg::Up;
                self.up(how.up);
            }
            Leg::Up => {
                if closed {
                    return Err("the plate's wire stays closed though the bit was raised off it");
                }
                let machine_z = touching.met.ok_or("it told of no touch")?;
                self.report(Report::Touched { machine_z });
                return Ok(());
            }
        }
        self.touching = Some(touching);
        Ok(())
    }
}
