//! The closing touch: after the last cut with a bit the Z zero is touched once more where it was touched before. More than
//! a tenth of a millimetre off means that the bit slipped in its collet, or that steps were lost.
//!
//! May live here: what is compared, and what comes of it. May not: setting a zero (see `acts`), and moving down (`plate`).

use super::acts::{Done, Said};
use super::foreman::{Foreman, Source, refused};
use super::lists::Verdict;
use super::numbered::stores_now;
use crate::floor::state::{Motion, Spindle};
use crate::floor::{Asked, By, Happening, Refusal};
use crate::shop::checklist::Asks;
use chargehand_types::checklist::{Ask, ListKind, SAME_PLACE, StepAnswer, Task};
use chargehand_types::event::What;
use chargehand_types::id::{BitName, SheetId};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, Point, Spot, plain};
use chargehand_types::stage::Role;

/// Off by more than this, the cuts are not trusted. Common practice, no source.
const TRUSTED: Length = Length(100_000);

/// Said where the closing touch is passed over.
const NOT_COMPARED: &str =
    "The position was lost, so the bit is not compared with its zero. Look whether it sits in its collet as it did.";

/// Where the Z zero was touched.
#[derive(Debug, Clone)]
pub(in crate::app) struct ZeroTouched {
    sheet: SheetId,
    /// The bit's place then, in machine coordinates.
    machine: Point,
    /// The same in work coordinates.
    at: Spot,
    /// Machine Z of the zero.
    zero: Length,
    /// Something was cut since.
    pub cut: bool,
    /// A first touch that was off by so much: once more, to be sure.
    doubted: Option<Length>,
}

impl Foreman {
    /// The zero was touched here.
    pub(super) fn note_touch(&mut self, machine: Point, above: Length) {
        let work = self.controller.and_then(|c| c.work).map(|p| Spot { x: p.x, y: p.y });
        self.zero_touched = self.work.as_ref().zip(work).map(|(w, at)| ZeroTouched {
            sheet: w.sheet.clone(),
            machine,
            at,
            zero: machine.z - above,
            cut: false,
            doubted: None,
        });
    }

    /// Where it is to be touched once more: on this sheet, with the zero that still counts, after something was cut.
    pub(super) fn touched_at(&self) -> Option<Spot> {
        let touched = self.zero_touched.as_ref()?;
        let counts =
            self.floor.machine.z_zero.is_some() && self.work.as_ref().is_some_and(|w| w.sheet == touched.sheet);
        (counts && touched.cut).then_some(touched.at)
    }

    /// The zero counts no more while its list is walked: there is nothing to compare with, and nobody is asked to. Other
    /// steps follow it in every list.
    pub(super) fn pass_over_touch(&mut self) {
        if self.touched_at().is_some() {
            return;
        }
        let Some(run) = self.work.as_mut().and_then(|w| w.list.as_mut()) else { return };
        let touch = (run.at..run.items.len()).find(|at| run.items[*at].asks == Asks::TouchAgain);
        if let Some(touch) = touch.filter(|at| at + 1 < run.items.len()) {
            run.items.remove(touch);
            (run.note, run.back) = (Some(NOT_COMPARED.to_owned()), true);
            run.put = super::lists::now();
            self.version.0 += 1;
        }
    }

    /// The bit goes over the place: straight up, then sideways, with the router off as for any move by hand.
    pub(super) async fn over_spot(&mut self, by: By, source: &Source) -> Done {
        if !self.task().is_some_and(|t| matches!(t.step.ask, Ask::TouchAgain { .. })) {
            return Err(refused(Refusal::OtherStage));
        }
        let Some(touched) = &self.zero_touched else { return Err(refused(Refusal::OtherStage)) };
        if self.premises.profile.keys.commands.over.is_empty() {
            let text = "This controller's profile has no words for that. Bring the bit over the place by hand.";
            return Err(Problem::new(ProblemKind::NotNow, text));
        }
        let top = self.premises.config.machine.travel.z.most - Length::whole_mm(1);
        self.over = Some(Point { z: top, ..touched.machine });
        let moved = self.happen(Happening::Act { by, what: Asked::HandMove }, source.clone(), Vec::new()).await;
        self.over = None;
        moved?;
        Ok(Said::of("It goes up and over the place. Keep clear."))
    }

    /// It touches here now, with so much between.
    pub(super) async fn touched_again(&mut self, by: By, above: Length, source: &Source) -> Done {
        let Some(task) = self.task().filter(|t| matches!(t.step.ask, Ask::TouchAgain { .. })) else {
            return Err(refused(Refusal::OtherStage));
        };
        match by {
            By::AtMachine(_) => {}
            By::AtMachineNobody => return Err(refused(Refusal::NobodyHere)),
            By::Afar => return Err(refused(Refusal::FromAfar)),
        }
        let machine = &self.floor.machine;
        if machine.spindle != Spindle::Still {
            return Err(refused(Refusal::NobodyLooked));
        }
        if !matches!(machine.motion, Motion::Still | Motion::Held) {
            return Err(refused(Refusal::Moving));
        }
        let at = self.controller.and_then(|c| c.machine);
        let Some((at, touched)) = at.zip(self.zero_touched.as_mut()) else { return Err(refused(Refusal::NoLink)) };
        let aside = (at.x - touched.machine.x).mm().hypot((at.y - touched.machine.y).mm());
        if aside > SAME_PLACE.mm() {
            let text =
                format!("The bit stands {aside:.0} mm from where the zero was touched. Bring it over that place.");
            return Err(Problem::new(ProblemKind::StartCondition, text));
        }
        let off = (at.z - above) - touched.zero;
        let answer = StepAnswer::Measured { values: vec![off] };
        let before = touched.doubted.replace(off);
        let owner = by == By::AtMachine(Role::Owner);
        match judged(off, before, self.slips_at_most(), owner) {
            Touch::Same => self.compared(by, &task, off, false, source).await,
            Touch::Believed => self.compared(by, &task, off, true, source).await,
            Touch::NotTaken(text) => self.wrong(&task, answer, text, source).await,
        }
    }

    /// The bit in the collet, by its key.
    fn bit_in(&self) -> Option<String> {
        let slot = self.floor.machine.bit.map(|s| usize::from(s.0))?;
        self.work.as_ref()?.judged.slots().get(slot).cloned()
    }

    /// No closing touch is off by more: a bit cannot slide into its collet by more than stands out of it, and one that came
    /// out by more than the sheet is thick has cut through the waste board. None where neither is known.
    fn slips_at_most(&self) -> Option<Length> {
        let work = self.work.as_ref()?;
        let thickness = work.thickness.unwrap_or(work.judged.card.sheet.thickness);
        let fold = self.shared.fold.read().ok()?;
        let stores = stores_now(&self.premises.stores, &fold);
        let bit = self.bit_in().and_then(|key| stores.bits.get(&key).cloned());
        let out = bit.map(|bit| bit.measured.stick_out.unwrap_or(bit.cutting_length)).unwrap_or_default();
        Some(out.max(thickness))
    }

    async fn compared(&mut self, by: By, task: &Task, off: Length, suspect: bool, source: &Source) -> Done {
        let bit = self.bit_in().unwrap_or_default();
        let what = What::TouchedAgain { bit: BitName(bit), off, suspect };
        let answer = StepAnswer::Measured { values: vec![off] };
        if !suspect {
            if let Some(touched) = &mut self.zero_touched {
                touched.cut = false;
            }
            self.taken(by, task, answer, vec![what], source).await?;
            return Ok(Said::of(format!(
                "It touches where it did, within {TRUSTED}: the bit sat fast and no step was lost."
            )));
        }
        self.zero_touched = None;
        self.bit_known = false;
        self.happen(Happening::BitDoubted, source.clone(), vec![what]).await?;
        self.taken(by, task, answer, Vec::new(), source).await?;
        Ok(Said::of(doubt(off)))
    }

    /// What a suspect closing touch means for whoever takes off, checks, or fits the next bit.
    pub(super) fn doubt_note(&self, list: ListKind) -> Option<String> {
        // once another bit is in, it is told no more
        let follows = matches!(list, ListKind::TakingOff | ListKind::Checking)
            || (list == ListKind::Tooling && self.floor.machine.bit.is_none());
        let work = self.work.as_ref().filter(|_| follows)?;
        let fold = self.shared.fold.read().ok()?;
        let last = fold.sheet(&work.sheet)?.touched_again.iter().rev().find(|t| t.suspect)?;
        Some(doubt(last.off))
    }

    /// Whether the next sheet of a batch waits for the owner: the last closing touch in it was off.
    pub(super) fn batch_waits(&self, sheet: &SheetId, by: By) -> Result<(), Problem> {
        let fold = self.shared.fold.read().ok();
        let doubt = fold.as_ref().and_then(|f| f.batch(&f.sheet(sheet)?.batch)?.doubt.clone());
        match doubt {
            Some((of, off)) if by != By::AtMachine(Role::Owner) && of != *sheet => {
                let text = format!(
                    "The closing touch of {of} was {} mm off: this batch waits for the owner, who looks at its parts and takes the next sheet.",
                    plain(off.abs().mm())
                );
                Err(Problem::new(ProblemKind::NotPermitted, text))
            }
            _ => Ok(()),
        }
    }

    /// A closing touch cannot be answered but by touching.
    pub(super) fn asks_for_a_touch() -> Verdict {
        Verdict::Wrong("Bring the bit over the place, lower it until it touches, and press Enter there.".to_owned())
    }
}

/// What a touch comes to.
#[derive(Debug, PartialEq, Eq)]
enum Touch {
    /// It is where it was.
    Same,
    /// It is not, and it was seen twice.
    Believed,
    /// It does not count yet; what is off and what to do.
    NotTaken(String),
}

/// One touch that is off is none: two that agree are believed. What no slip explains nobody but the owner may say so twice:
/// the bit stood in the air, or on something else.
fn judged(off: Length, before: Option<Length>, slips: Option<Length>, owner: bool) -> Touch {
    if off.abs() <= TRUSTED {
        return Touch::Same;
    }
    let again = before.is_some_and(|before| (before - off).abs() <= TRUSTED);
    let slips = slips.filter(|slips| off.abs() > *slips);
    match slips {
        None if again => Touch::Believed,
        Some(_) if again && owner => Touch::Believed,
        None => Touch::NotTaken(format!(
            "{} To be sure: wipe the bit and the place, lay the same paper or plate, and touch once more.",
            differs(off)
        )),
        Some(slips) => {
            let most = plain(slips.mm());
            let why = if off > Length::ZERO {
                "Look between bit and wood: is there air, or does something lie there? Lower the bit until it just touches, \
                 with the same paper or plate."
            } else {
                "Look at the place: is it the same, and is the bit in its collet? Lay the same paper or plate, and touch it \
                 there."
            };
            Touch::NotTaken(format!(
                "{} No bit slips farther than {most} mm here. {why} If it is so all the same, only the owner may say so, by \
                 touching once more.",
                differs(off)
            ))
        }
    }
}

fn differs(off: Length) -> String {
    let mm = plain(off.abs().mm());
    if off > Length::ZERO {
        format!("It touches {mm} mm higher than before.")
    } else {
        format!("It touches {mm} mm lower than before.")
    }
}

/// What it means, and what to do.
fn doubt(off: Length) -> String {
    let what = if off > Length::ZERO {
        "the bit came out of its collet, or steps were lost, and what was cut since the zero may be too deep by as much. \
         Measure the depth of the slots, and look at the waste board."
    } else {
        "the bit slid into its collet, or steps were lost, and what was cut since the zero may not be deep enough. \
         Look whether every part is cut through before you lever at it, and measure the slots."
    };
    let differs = differs(off);
    format!(
        "{}: {what} Clean collet and shank, fit the bit anew, and touch the zero again. The next sheet waits for the owner.",
        differs.trim_end_matches('.')
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_touch_that_is_off_is_none_and_two_that_agree_are_believed() {
        let mm = |value: f64| Length::from_mm(value).unwrap();
        let judged = |off: f64, before: Option<f64>| judged(mm(off), before.map(mm), Some(mm(25.0)), false);
        assert_eq!(judged(0.1, None), Touch::Same);
        assert!(matches!(judged(0.3, None), Touch::NotTaken(text) if text.contains("once more")));
        assert!(matches!(judged(0.3, Some(0.5)), Touch::NotTaken(_)), "they do not agree");
        assert_eq!([judged(0.3, Some(0.35)), judged(-25.0, Some(-25.0))], [Touch::Believed, Touch::Believed]);
    }

    #[test]
    fn what_no_slip_explains_is_believed_of_the_owner_alone() {
        let mm = |value: f64| Length::from_mm(value).unwrap();
        let judged = |off: f64, before: Option<f64>, owner| judged(mm(off), before.map(mm), Some(mm(25.0)), owner);
        for (off, what) in [(39.0, "39 mm higher"), (-25.1, "25.1 mm lower")] {
            for (before, owner) in [(None, false), (Some(off), false), (None, true), (Some(0.4), true)] {
                let Touch::NotTaken(text) = judged(off, before, owner) else { panic!("{off} {before:?} {owner}") };
                assert!(text.contains(what) && text.contains("25 mm here") && text.contains("owner"), "{text}");
            }
            assert_eq!(judged(off, Some(off), true), Touch::Believed);
        }
    }

    #[test]
    fn a_doubt_says_which_way_and_what_to_do() {
        let higher = doubt(Length(320_000));
        assert!(higher.starts_with("It touches 0.32 mm higher") && higher.contains("too deep"), "{higher}");
        let lower = doubt(Length(-150_000));
        assert!(lower.starts_with("It touches 0.15 mm lower") && lower.contains("cut through"), "{lower}");
        assert!([higher, lower].iter().all(|t| t.contains("collet") && t.contains("waits for the owner")));
    }
}
