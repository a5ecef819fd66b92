//! Programs that show the places on the sheet itself: one that marks them with a shallow dimple, one that only hovers.
//!
//! Plain RS-274 (NISTIR 6556) in millimetres, to be judged like any other program.
//!
//! May live here: the two programs. May not: where the places are.

use chargehand_types::quantity::{Feed, Length, Rpm, Spot, plain};
use std::fmt::Write as _;

/// How the machine may move over this sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Over {
    /// Work Z of the sheet's face.
    pub face: Length,
    /// Above the face, clear of everything that stands on the sheet.
    pub safe: Length,
}

/// How a dimple is cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dimple {
    /// Below the face.
    pub depth: Length,
    /// Straight down.
    pub feed: Feed,
    /// Of the spindle.
    pub speed: Rpm,
}

/// A dimple at each place, in the given order: clamps hold the sheet meanwhile, and screws go exactly there.
#[must_use]
pub fn mark(places: &[Spot], over: Over, dimple: Dimple) -> String {
    let mut out = head("marks the places of the fasteners", over);
    // writing to a String cannot fail
    let _ = writeln!(out, "S{} M3\nG4 P3", plain(dimple.speed.unit()));
    let bottom = plain((over.face - dimple.depth).mm());
    let safe = plain((over.face + over.safe).mm());
    let feed = plain(dimple.feed.unit());
    for (number, at) in (1..).zip(places) {
        let _ = writeln!(out, "(place {number})\nG0 {}\nG1 Z{bottom} F{feed}\nG0 Z{safe}", xy(*at));
    }
    out.push_str("M5\nM2\n");
    out
}

/// Over each place and two points of the sheet's edge at a safe height, router off, waiting for a person at each.
#[must_use]
pub fn hover(places: &[Spot], edges: [Spot; 2], over: Over) -> String {
    let mut out = head("hovers over the fasteners: router off", over);
    out.push_str("M5\n");
    for (number, at) in (1..).zip(places) {
        let _ = writeln!(out, "G0 {}\nM0 (Place {number}: does the bit hang over it?)", xy(*at));
    }
    for at in edges {
        let _ = writeln!(out, "G0 {}\nM0 (Does the bit hang over the sheet's edge?)", xy(at));
    }
    out.push_str("M2\n");
    out
}

fn head(what: &str, over: Over) -> String {
    let safe = plain((over.face + over.safe).mm());
    format!("({what})\nG21 G90 G17 G94 G54\nG0 Z{safe}\n")
}

fn xy(at: Spot) -> String {
    format!("X{} Y{}", plain(at.x.mm()), plain(at.y.mm()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::program::motion::{Doing, MoveKind, Start, Step, Turning};
    use crate::program::steps;
    use chargehand_types::quantity::Point;

    fn mm(v: f64) -> Length {
        Length::from_mm(v).unwrap()
    }

    fn spot(x: f64, y: f64) -> Spot {
        Spot { x: mm(x), y: mm(y) }
    }

    /// Read back by the strict reader; nothing of it may be a fault.
    fn read(text: &str) -> Vec<Step> {
        let at = Point::new(Length::ZERO, Length::ZERO, mm(60.0));
        let mut reader = steps(text.as_bytes(), Start { at, work_zero: Point::default(), arc_tolerance: mm(0.013) });
        let all: Vec<Step> = reader.by_ref().collect();
        assert_eq!(reader.faults(), [], "{text}");
        assert!(matches!(all.last().unwrap().doing, Doing::End));
        all
    }

    const OVER: Over = Over { face: Length::whole_mm(9), safe: Length::whole_mm(10) };

    #[test]
    fn a_mark_is_a_dimple_at_each_place() {
        let dimple =
            Dimple { depth: mm(1.5), feed: Feed::from_unit(300.0).unwrap(), speed: Rpm::from_unit(16000.0).unwrap() };
        let places = [spot(15.0, 15.0), spot(594.5, 1205.0)];
        let steps = read(&mark(&places, OVER, dimple));
        let mut dimples = Vec::new();
        for step in &steps {
            let Doing::Move(mv) = &step.doing else { continue };
            match mv.kind {
                MoveKind::Feed => {
                    // straight down, with the spindle on
                    assert_eq!((mv.from.x, mv.from.y), (mv.to.x, mv.to.y));
                    assert_eq!((mv.to.z, step.modal.turning), (mm(7.5), Turning::Clockwise));
                    dimples.push(Spot { x: mv.to.x, y: mv.to.y });
                }
                // sideways only at the safe height
                _ => assert!(mv.from.z.max(mv.to.z) >= mm(19.0) && (mv.to.z >= mm(19.0)), "{mv:?}"),
            }
        }
        assert_eq!(dimples, places);
    }

    #[test]
    fn a_hover_never_comes_down_nor_turns() {
        let steps = read(&hover(&[spot(15.0, 15.0)], [spot(0.0, 600.0), spot(300.0, 0.0)], OVER));
        let mut asked = Vec::new();
        let mut at = Point::default();
        for step in &steps {
            assert_eq!(step.modal.turning, Turning::Off);
            match &step.doing {
                Doing::Move(mv) => {
                    assert_eq!(mv.to.z, mm(19.0));
                    at = mv.to;
                }
                Doing::Prompt { text: Some(_), .. } => asked.push(Spot { x: at.x, y: at.y }),
                _ => {}
            }
        }
        assert_eq!(asked, [spot(15.0, 15.0), spot(0.0, 600.0), spot(300.0, 0.0)]);
    }
}
