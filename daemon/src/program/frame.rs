//! Work systems, shifts and homes: from a programmed coordinate to the work frame and back.
//!
//! May live here: origins of G54 to G59.3, the G92 shift, the homes of G28 and G30. May not: motion.

use super::parameters::{Parameters, SYSTEM};
use chargehand_types::quantity::{Length, Point};

/// One of X, Y, Z.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "each is the axis of its name")]
pub enum Axis {
    X,
    Y,
    Z,
}

impl Axis {
    /// All three.
    pub const ALL: [Self; 3] = [Self::X, Self::Y, Self::Z];

    /// Its letter.
    #[must_use]
    pub const fn letter(self) -> u8 {
        match self {
            Self::X => b'X',
            Self::Y => b'Y',
            Self::Z => b'Z',
        }
    }

    /// Its bit in a set of axes: 1, 2, 4.
    #[must_use]
    pub const fn bit(self) -> u8 {
        match self {
            Self::X => 1,
            Self::Y => 2,
            Self::Z => 4,
        }
    }

    /// A point's coordinate along it.
    #[must_use]
    #[inline]
    pub const fn of(self, point: &Point) -> Length {
        match self {
            Self::X => point.x,
            Self::Y => point.y,
            Self::Z => point.z,
        }
    }

    /// That coordinate, to be set.
    #[inline]
    pub const fn of_mut(self, point: &mut Point) -> &mut Length {
        match self {
            Self::X => &mut point.x,
            Self::Y => &mut point.y,
            Self::Z => &mut point.z,
        }
    }
}

/// How programmed coordinates lie in the work frame (which is G54 as it was at the start).
#[derive(Debug, Clone)]
pub struct Frame {
    work_zero: Point,
    /// Origins of the nine systems, in the work frame.
    origins: [Point; 9],
    /// Which of them this program, or the shop (G54), has set.
    known: u16,
    system: u8,
    /// The G92 offset as NISTIR 6556 3.5.18 keeps it: added to a programmed coordinate.
    offset: Point,
    saved: Point,
    homes: [Point; 2],
    base: Point,
}

impl Frame {
    /// At the start: G54 is the frame itself; the other origins and the homes are the machine's zero.
    #[must_use]
    pub fn new(work_zero: Point, parameters: &mut Parameters) -> Self {
        let machine = Point::default() - work_zero;
        let mut origins = [machine; 9];
        origins[0] = Point::default();
        if work_zero != Point::default() {
            parameters.set_point(5221, work_zero);
        }
        parameters.set(SYSTEM, 1.0);
        Self {
            work_zero,
            origins,
            known: 1,
            system: 1,
            offset: Point::default(),
            saved: Point::default(),
            homes: [machine; 2],
            base: Point::default(),
        }
    }

    /// What is added to a programmed coordinate to get the work frame's.
    #[must_use]
    #[inline]
    pub fn base(&self) -> Point {
        self.base
    }

    /// The G92 shift in force: taken from a programmed coordinate it gives the system's.
    #[must_use]
    pub fn shift(&self) -> Point {
        Point::default() - self.offset
    }

    /// Whether the origin of the system in force is known rather than assumed.
    #[must_use]
    #[inline]
    pub fn is_known(&self) -> bool {
        self.known & (1 << (self.system - 1)) != 0
    }

    /// Whether the program has set no origin: those in force are the shop's.
    #[must_use]
    pub fn is_the_shops(&self) -> bool {
        self.known == 1 && self.origins.first() == Some(&Point::default())
    }

    /// A machine coordinate in the work frame.
    #[must_use]
    pub fn from_machine(&self, axis: Axis, value: Length) -> Length {
        value - axis.of(&self.work_zero)
    }

    /// A place of the work frame in machine coordinates.
    #[must_use]
    pub fn to_machine(&self, at: Point) -> Point {
        at + self.work_zero
    }

    /// The home of G28 (0) or G30 (1).
    #[must_use]
    pub fn home(&self, which: usize) -> Point {
        self.homes.get(which).copied().unwrap_or_default()
    }

    /// G54 to G59.3, 1 to 9.
    pub fn pick(&mut self, system: u8, parameters: &mut Parameters) {
        self.system = system.clamp(1, 9);
        parameters.set(SYSTEM, self.system.into());
        self.rebase();
    }

    /// G10 L2: an origin's coordinate, in machine coordinates.
    pub fn set_origin(&mut self, system: u8, axis: Axis, machine: Length, parameters: &mut Parameters) {
        let value = self.from_machine(axis, machine);
        if let Some(origin) = self.origins.get_mut(usize::from(system.clamp(1, 9)) - 1) {
            *axis.of_mut(origin) = value;
            self.known |= 1 << (system.clamp(1, 9) - 1);
            let first = 5221 + 20 * (u16::from(system.clamp(1, 9)) - 1);
            parameters.set_point(first, *origin + self.work_zero);
        }
        self.rebase();
    }

    /// G10 L20: the origin's coordinate that makes this place read `value`.
    pub fn set_origin_here(&mut self, system: u8, axis: Axis, value: Length, at: Point, parameters: &mut Parameters) {
        let origin = axis.of(&at) - axis.of(&self.offset) - value;
        self.set_origin(system, axis, origin + axis.of(&self.work_zero), parameters);
    }

    /// G92: this place reads `value` (NISTIR 6556 3.5.18: new offset = old + current - given).
    pub fn shift_to(&mut self, axis: Axis, value: Length, at: Point, parameters: &mut Parameters) {
        let current = axis.of(&at) - axis.of(&self.base);
        let offset = axis.of_mut(&mut self.offset);
        *offset = *offset + current - value;
        self.saved = self.offset;
        parameters.set_point(5211, self.saved);
        self.rebase();
    }

    /// G92.1: no shift, and none kept.
    pub fn forget_shift(&mut self, parameters: &mut Parameters) {
        self.saved = Point::default();
        parameters.set_point(5211, self.saved);
        self.suspend_shift();
    }

    /// G92.2, M2, M30: no shift for now.
    pub fn suspend_shift(&mut self) {
        self.offset = Point::default();
        self.rebase();
    }

    /// G92.3: the shift kept.
    pub fn restore_shift(&mut self) {
        self.offset = self.saved;
        self.rebase();
    }

    fn rebase(&mut self) {
        let origin = self.origins.get(usize::from(self.system) - 1).copied().unwrap_or_default();
        self.base = origin + self.offset;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shifts_add_up_as_in_the_standard() {
        // NISTIR 6556 3.5.18: at X4 with no offset G92 X7 gives -3, then G92 X9 gives -5
        let mut parameters = Parameters::default();
        let mut frame = Frame::new(Point::default(), &mut parameters);
        let at = Point::new(Length::whole_mm(4), Length::ZERO, Length::ZERO);
        frame.shift_to(Axis::X, Length::whole_mm(7), at, &mut parameters);
        assert_eq!(frame.base().x, Length::whole_mm(-3));
        frame.shift_to(Axis::X, Length::whole_mm(9), at, &mut parameters);
        assert_eq!(frame.base().x, Length::whole_mm(-5));
        assert_eq!(frame.shift().x, Length::whole_mm(5));
        assert_eq!(parameters.get(5211).unwrap(), -5.0);
    }
}
