//! How a block is written for a controller: adapted to what it understands, and short.
//!
//! May live here: which words of a block are written, in which lines. May not: how words become bytes, the modal
//! bookkeeping, reading.
//!
//! The motion is never altered, merged, rounded or reordered. Beyond the program's own words three things are
//! written, all of them to make sure what the check took for granted: the modes in force, before the first line and
//! after every wait for a person; the motion word, where the controller does not have it from the line before; and
//! M5 before a bit change, since M6 stops the spindle (NISTIR 6556 3.6.3).

use super::draft::{Draft, Writing};
use super::known::Known;
use super::mode_words::{cycle_word, motion_word, plane_word, system_word};
use super::standing::{Lasting, Standing};
use super::{Passage, SentLine, Then};
use crate::program::BlockRead;
use crate::program::block::{Broken, Letters, Word};
use crate::program::code::{G, Group, M, MGroup};
use crate::program::fault::{Foreign, Rule};
use crate::program::frame::Axis;
use crate::program::motion::{Doing, Modal, MotionMode, Move, MoveKind, Step, Turning};
use crate::program::number::Decimal;
use crate::shop::understands::Understands;
use chargehand_types::quantity::{Length, Point};
use std::collections::VecDeque;

/// How things stood before a block.
#[derive(Debug, Clone, Copy)]
pub struct Before {
    /// Every modal group.
    pub modal: Modal,
    /// Where the bit was, in the work frame.
    pub at: Point,
    /// What programmed coordinates counted from, in the work frame.
    pub base: Point,
}

/// Writes blocks.
#[derive(Debug)]
pub struct Writer {
    pub(super) known: Known,
    writing: Writing,
    pub(super) standing: Standing,
    face_z: Length,
    pub(super) window: u64,
    pub(super) begun: bool,
    pub(super) line: u32,
    pub(super) part: u16,
    /// Lines that are ready.
    pub made: VecDeque<SentLine>,
}

impl Writer {
    /// For a controller.
    pub fn new(understands: &Understands, face_z: Length) -> Self {
        Self {
            known: Known::new(understands),
            writing: if understands.shorten { Writing::Short } else { Writing::AsWritten },
            standing: Standing::new(understands.window.into()),
            face_z,
            window: understands.window.into(),
            begun: false,
            line: 0,
            part: 0,
            made: VecDeque::new(),
        }
    }

    /// Writes one block that broke no rule.
    ///
    /// # Errors
    /// What can be neither sent nor adapted.
    pub fn block(&mut self, read: &BlockRead<'_>, before: Before, steps: &[Step]) -> Result<(), Broken> {
        if read.block.is_bare() {
            return Ok(());
        }
        (self.line, self.part) = (read.line, 0);
        if !self.begun {
            self.begun = true;
            self.begin(before);
        }
        if read.block.m(MGroup::BitChange).is_some() {
            self.bit_change(read, before);
        }
        let form = self.form(read);
        match form {
            Form::AsIs => self.as_is(read, before, steps)?,
            Form::Home => self.home(read, steps)?,
            Form::Cycle => self.cycle(read, steps)?,
        }
        if form != Form::AsIs {
            self.end(read)?;
        }
        for step in steps {
            if let Doing::Prompt { text, .. } = &step.doing {
                self.wait(
                    Then::Asks { text: text.clone() },
                    Before { modal: read.modal, at: read.at, base: read.base },
                );
            }
        }
        Ok(())
    }

    pub(super) fn draft(&self) -> Draft {
        Draft::new(self.writing)
    }

    /// A draft becomes a line, if anything is in it.
    pub(super) fn finish(&mut self, draft: Draft, passage: Passage, then: Then) -> Result<(), Broken> {
        if draft.is_empty() {
            return Ok(());
        }
        let (bytes, limit) = (draft.len(), self.known.line_limit);
        if bytes > limit {
            return Err((Rule::Foreign(Foreign::LineTooLong { bytes, limit }), 0..1));
        }
        let bytes = draft.finish(&mut self.standing);
        self.make(bytes, passage, then);
        Ok(())
    }

    pub(super) fn make(&mut self, bytes: Vec<u8>, passage: Passage, then: Then) {
        let (source_line, part) = (self.line, self.part);
        self.part = part.saturating_add(1);
        self.made.push_back(SentLine { bytes: bytes.into(), source_line, part, passage, then });
    }

    /// What the reader takes for granted is written: the controller may stand otherwise from work before.
    pub(super) fn begin(&mut self, before: Before) {
        let mut draft = self.draft();
        for code in [G::G40, G::G49, G::G92_1] {
            if self.known.g(code) {
                draft.g(code, &self.standing);
            }
        }
        self.modes(draft, before);
    }

    /// Every mode in force but the motion, and the feed.
    pub(super) fn modes(&mut self, mut draft: Draft, now: Before) {
        let modal = now.modal;
        let centres = if modal.absolute_centres { G::G90_1 } else { G::G91_1 };
        let codes = [
            plane_word(modal.plane),
            if modal.inch { G::G20 } else { G::G21 },
            if modal.incremental { G::G91 } else { G::G90 },
            if modal.inverse_time { G::G93 } else { G::G94 },
            if self.known.g(centres) { centres } else { G::G91_1 },
            system_word(modal.system),
            if modal.exact { G::G61 } else { G::G64 },
        ];
        for code in codes.into_iter().filter(|code| self.known.g(*code)) {
            draft.g(code, &self.standing);
        }
        if let Some(feed) = modal.feed.filter(|_| !modal.inverse_time) {
            let value = Decimal::of_length(Length(feed.0), modal.inch);
            draft.lasting(Lasting::Feed, b'F', value, None, &self.standing);
        }
        // some twelve short words: within any controller's line
        let bytes = draft.finish(&mut self.standing);
        if !bytes.is_empty() {
            self.make(bytes, Passage::Still, Then::Goes);
        }
    }

    /// A person is waited for; what comes in between may leave any mode behind.
    fn wait(&mut self, then: Then, now: Before) {
        self.make(Vec::new(), Passage::Still, then);
        self.standing.forget_all();
        let draft = self.draft();
        self.modes(draft, now);
    }

    /// M6 comes before all else that moves on its line (NISTIR 6556 Table 8), and the spindle stands still after it.
    fn bit_change(&mut self, read: &BlockRead<'_>, before: Before) {
        let modal = Modal { turning: Turning::Off, tool: read.modal.tool, ..before.modal };
        if before.modal.turning != Turning::Off {
            let mut draft = self.draft();
            draft.m(M::M5);
            let bytes = draft.finish(&mut self.standing);
            self.make(bytes, Passage::Still, Then::Goes);
        }
        self.wait(Then::ChangesBit { tool: read.modal.tool }, Before { modal, ..before });
    }

    fn form(&self, read: &BlockRead<'_>) -> Form {
        match read.block.g(Group::Once) {
            // the controller's own homes are not known; the check took one, and that is written
            Some(G::G28 | G::G30) => return Form::Home,
            Some(code) if code.takes_axes() => return Form::AsIs,
            _ => {}
        }
        match cycle_word(read.modal.motion) {
            Some(code) if read.block.letters().any(Letters::AXES) && !self.known.g(code) => Form::Cycle,
            _ => Form::AsIs,
        }
    }

    fn as_is(&mut self, read: &BlockRead<'_>, before: Before, steps: &[Step]) -> Result<(), Broken> {
        if read.block.g(Group::Once) == Some(G::G92_3) && !self.known.g(G::G92_3) {
            self.shift_again(read, before)?;
        }
        let mut draft = self.draft();
        self.add_motion_word(&mut draft, read);
        let arc = self.arc_to_adapt(read, steps);
        let spare = self.spare_axes(read, before);
        for word in read.block.words() {
            match word.letter {
                b'X' | b'Y' | b'Z' if spare & axis_bit(word.letter) != 0 => {}
                b'X' | b'Y' | b'Z' => write(&mut draft, word, read),
                b'I' | b'J' | b'K' | b'R' if arc.is_some() => {}
                _ => self.write_word(&mut draft, word, read)?,
            }
        }
        if let Some((made, circle)) = arc {
            write_centre(&mut draft, &made, circle, read.modal.inch);
        }
        self.note_axes(&mut draft, read, before, spare);
        let then = self.lifts(steps);
        self.finish(draft, Passage::of(steps), then)
    }

    /// The motion word, where the block means the one in force and the controller has it not from before.
    fn add_motion_word(&self, draft: &mut Draft, read: &BlockRead<'_>) {
        let once = read.block.g(Group::Once).is_some_and(G::takes_axes);
        let moves = read.block.letters().any(Letters::AXES) && !once;
        let Some(code) = motion_word(read.modal.motion) else { return };
        if moves
            && read.block.g(Group::Motion).is_none()
            && !self.standing.is(Lasting::Of(Group::Motion), i64::from(code.tenths()))
        {
            draft.g(code, &self.standing);
        }
    }

    /// An arc that has to be written another way: by radius, or with an absolute centre.
    fn arc_to_adapt(&self, read: &BlockRead<'_>, steps: &[Step]) -> Option<(Move, crate::program::motion::Arc)> {
        let radius = read.block.has(b'R') && !self.known.radius_arcs;
        let absolute = read.modal.absolute_centres && !self.known.g(G::G90_1);
        let arc = |step: &Step| match step.doing {
            Doing::Move(made @ Move { kind: MoveKind::Arc(arc), .. }) => Some((made, arc)),
            _ => None,
        };
        if radius || absolute { steps.iter().find_map(arc) } else { None }
    }

    /// Axis words of a straight move in G90 that name where the axis stands already, and whose line was answered.
    fn spare_axes(&self, read: &BlockRead<'_>, before: Before) -> u8 {
        let straight = matches!(read.modal.motion, MotionMode::G0 | MotionMode::G1);
        let shortens = self.writing == Writing::Short;
        if !shortens || !straight || read.modal.incremental || read.block.g(Group::Once).is_some() {
            return 0;
        }
        let named = Axis::ALL.into_iter().filter(|a| read.block.has(a.letter()));
        let stands = |a: &Axis| a.of(&before.at) == a.of(&read.at) && self.standing.axis_holds(*a);
        let (mut spare, mut all) = (0, 0);
        for axis in named {
            all |= axis.bit();
            spare |= if stands(&axis) { axis.bit() } else { 0 };
        }
        // a move names at least one axis
        if spare == all { spare & (spare.wrapping_sub(1)) } else { spare }
    }

    fn note_axes(&mut self, draft: &mut Draft, read: &BlockRead<'_>, before: Before, spare: u8) {
        let straight = matches!(read.modal.motion, MotionMode::G0 | MotionMode::G1 | MotionMode::G2 | MotionMode::G3);
        let once = read.block.g(Group::Once).is_some_and(|code| code != G::G4);
        if once || !straight || read.block.g(Group::System).is_some() {
            self.standing.forget_axes();
            return;
        }
        for axis in Axis::ALL {
            if read.block.has(axis.letter()) && spare & axis.bit() == 0 {
                draft.names(axis, axis.of(&before.at) != axis.of(&read.at));
            }
        }
    }

    /// Writes a word that is no axis word, unless it is left out or may not be sent.
    pub(super) fn write_word(&self, draft: &mut Draft, word: &Word, read: &BlockRead<'_>) -> Result<(), Broken> {
        match word.letter {
            b'G' => {
                if let Some(code) = G::from_number(word.value) {
                    return self.write_g(draft, code, word);
                }
            }
            b'M' => {
                if let Some(code) = M::from_number(word.value) {
                    return self.write_m(draft, code, word);
                }
            }
            b'F' if read.modal.inverse_time => draft.once(Lasting::Feed, b'F', word.value, source(word, read)),
            b'F' if self.changes_units(read) => draft.anew(Lasting::Feed, b'F', word.value, source(word, read)),
            b'F' => draft.lasting(Lasting::Feed, b'F', word.value, source(word, read), &self.standing),
            b'S' => draft.lasting(Lasting::Speed, b'S', word.value, source(word, read), &self.standing),
            b'T' | b'H' | b'D' => {}
            _ => write(draft, word, read),
        }
        Ok(())
    }

    /// Whether the block asks for other units than the controller was told: a number then means another length.
    fn changes_units(&self, read: &BlockRead<'_>) -> bool {
        let units = read.block.g(Group::Units);
        units.is_some_and(|code| !self.standing.is(Lasting::Of(Group::Units), code.tenths().into()))
    }

    fn write_g(&self, draft: &mut Draft, code: G, word: &Word) -> Result<(), Broken> {
        match code {
            // lengths count as nothing: the shop touches Z anew after each bit change
            G::G43 => {}
            // the controller need not keep it: G92.3 is written as the G92 that brings it back
            G::G92_2 if !self.known.g(code) && self.known.g(G::G92_1) => draft.g(G::G92_1, &self.standing),
            // its arcs are written with centres from the start; its shift on a line of its own
            G::G90_1 | G::G91_1 | G::G92_3 if !self.known.g(code) => {}
            // without cycles the level to return to says nothing, nor does their end
            G::G80 | G::G98 | G::G99 if !self.known.g(code) => {}
            _ if self.known.g(code) => draft.g(code, &self.standing),
            _ if self.known.may_leave_out(code) => {}
            _ => return Err(unknown(word, code.to_string())),
        }
        Ok(())
    }

    fn write_m(&self, draft: &mut Draft, code: M, word: &Word) -> Result<(), Broken> {
        match code {
            M::M0 | M::M1 | M::M60 | M::M6 => {}
            // overrides are on unless M49 was sent
            M::M48 if !self.known.m(M::M49) => {}
            M::M2 if !self.known.m(code) && self.known.m(M::M30) => draft.m(M::M30),
            M::M30 if !self.known.m(code) && self.known.m(M::M2) => draft.m(M::M2),
            _ if self.known.m(code) => draft.m(code),
            _ => return Err(unknown(word, code.to_string())),
        }
        Ok(())
    }

    /// Whether a rapid of these raises the bit out of the material.
    pub(super) fn lifts(&self, steps: &[Step]) -> Then {
        let rises = |step: &Step| match step.doing {
            Doing::Move(m) => m.kind == MoveKind::Rapid && m.from.z <= self.face_z && m.to.z > self.face_z,
            _ => false,
        };
        if steps.iter().any(rises) { Then::Lifted } else { Then::Goes }
    }
}

/// How a block is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    /// Its own words.
    AsIs,
    /// As rapids in place of G28 or G30.
    Home,
    /// As the moves a cycle unfolds to.
    Cycle,
}

fn unknown(word: &Word, name: String) -> Broken {
    (Rule::Foreign(Foreign::Word(name.into())), word.start.into()..word.end.into())
}

fn source<'a>(word: &Word, read: &BlockRead<'a>) -> Option<&'a [u8]> {
    read.text.get(word.start.into()..word.end.into())
}

fn write(draft: &mut Draft, word: &Word, read: &BlockRead<'_>) {
    draft.word(word.letter, word.value, source(word, read));
}

fn write_centre(draft: &mut Draft, made: &Move, circle: crate::program::motion::Arc, inch: bool) {
    let scale = if inch { 25.4 } else { 1.0 };
    let [u, v, _] = circle.plane.axes();
    for (axis, centre) in [u, v].into_iter().zip(circle.centre) {
        let letter = match axis {
            Axis::X => b'I',
            Axis::Y => b'J',
            Axis::Z => b'K',
        };
        let offset = (centre - axis.of(&made.from).mm()) / scale;
        draft.word(letter, Decimal::from_f64(offset).unwrap_or_default(), None);
    }
}

const fn axis_bit(letter: u8) -> u8 {
    match letter {
        b'X' => 1,
        b'Y' => 2,
        _ => 4,
    }
}
