//! The list under way: which step is asked, and what an answer to it comes to.

use super::acts::Said;
use super::behind::behind;
use super::foreman::{Foreman, Source, refused};
use super::interrupted::Attention;
use super::judging::JudgedWith;
use super::numbered::{bits_used, stores_now};
use super::work::{JudgedCard, ListRun};
use super::{cards, joints, wording};
use crate::findings::{self, Bench};
use crate::floor::sheet::{Change, Held, Raise};
use crate::floor::state::{Signed, Spindle, SpindleKind};
use crate::floor::{self, Asked, AtStage, By, Happening, Reading};
use crate::link::wire::TickSource;
use crate::shop::checklist::{Asks, Expect, Only, Over, Step as ListStep, fill};
use chargehand_types::checklist::{ListForm, ListKind, StepAnswer, Task};
use chargehand_types::event::What;
use chargehand_types::finding::Severity;
use chargehand_types::id::{BitName, BitNumber};
use chargehand_types::now::OfferedAct;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, Seconds, Spot, plain};
use chargehand_types::stage::HeldBy;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// The step that says that the spindle has no power.
pub(super) const OFF: &str = "off";
/// The step that reads a physical bit's number.
const NUMBER: &str = "bit-number";
/// The step that says that the router runs.
const ROUTER_ON: &str = "router-on";
/// The step that asks how flat the sheet lies, and the answer that asks for a fastener more.
const BOW: &str = "bow";
const BOWED: &str = "bowed";
/// What the step asks that has the bit brought over the place where a stopped cut goes on.
const ENTRY: Asks = Asks::Hover(Over::Entry);
/// An answer that comes sooner than this after the step was put was not read first (norm: 1.5 s).
const READ_FIRST: Duration = Duration::from_millis(1500);

impl Foreman {
    /// Which list the stage asks for.
    fn list_wanted(&self) -> Option<ListKind> {
        let sheet = self.floor.sheet.as_ref()?;
        match &sheet.at {
            AtStage::Securing => Some(ListKind::Securing),
            AtStage::Tooling => Some(ListKind::Tooling),
            AtStage::Ready if sheet.ready == Signed::No => Some(ListKind::Ready),
            AtStage::Held(Held { by, change, .. })
                if *by == HeldBy::BitChange
                    && (*change != Change::None || self.floor.machine.tooling == Signed::No) =>
            {
                Some(ListKind::Tooling)
            }
            // hands were at the bit, or nobody was there: it is switched on again before it goes on
            AtStage::Held(held) if self.router_is_off() || self.stopped_alone(held) => Some(ListKind::Ready),
            AtStage::TakingOff => Some(ListKind::TakingOff),
            AtStage::Checking { .. } => Some(ListKind::Checking),
            AtStage::Ready | AtStage::Cutting(_) | AtStage::Held(_) | AtStage::Stopped(_) => None,
        }
    }

    /// Its spindle was stopped at the lift for want of anybody.
    fn stopped_alone(&self, held: &Held) -> bool {
        held.by == HeldBy::NobodyThere && held.raise == Raise::Not && self.floor.machine.spindle != Spindle::MayTurn
    }

    fn router_is_off(&self) -> bool {
        let machine = &self.floor.machine;
        machine.setup.spindle == SpindleKind::Manual && machine.spindle != Spindle::MayTurn
    }

    /// Begins the list that the stage asks for, or ends the one that it does not.
    pub(in crate::app) fn keep_list(&mut self) {
        let wanted = self.list_wanted();
        let has = self.work.as_ref().and_then(|w| w.list.as_ref()).map(|l| l.kind);
        if wanted == has && !self.touched_in_vain() {
            return;
        }
        let run = wanted.and_then(|kind| self.list_run(kind));
        if let Some(work) = &mut self.work {
            work.list = run;
        }
    }

    pub(super) fn list_run(&self, kind: ListKind) -> Option<ListRun> {
        let work = self.work.as_ref()?;
        let lists = &self.premises.lists;
        let facts = self.facts();
        let mut steps: Vec<ListStep> = lists.steps(kind, work.form, &facts).into_iter().cloned().collect();
        if kind == ListKind::Ready && matches!(self.floor.at(), Some(AtStage::Held(_))) {
            steps.retain(|s| matches!(s.id.as_str(), "clear" | ROUTER_ON));
        }
        if let Some(at) = steps.iter().position(reads_bit)
            && !steps.iter().any(|s| s.id == NUMBER)
        {
            // a repeat reads the number first too, where physical bits have one
            let first = lists.steps(ListKind::Tooling, ListForm::Full, &facts);
            let first: Vec<ListStep> = first.into_iter().filter(|s| s.id == NUMBER).cloned().collect();
            steps.splice(at..at, first);
        }
        let asks = steps.iter().any(|s| s.asks == Asks::RunDown);
        if kind == ListKind::Tooling && facts.hold(Only::Touched) {
            // what this bit cut is compared before it is taken out
            let closing = lists.steps(ListKind::TakingOff, ListForm::Full, &facts);
            let closing = closing.into_iter().find(|s| s.asks == Asks::TouchAgain).cloned();
            let after = steps.iter().position(|s| s.asks == Asks::RunDown).map_or(0, |at| at + 1);
            steps.splice(after..after, closing);
        }
        self.raise_first(kind, &facts, &mut steps);
        self.ask_lot(kind, &mut steps);
        if floor::asks_run_down(&self.floor, kind) && !asks {
            // hands come near the bit: the two steps of the tooling list that make it safe come first
            let first = lists.steps(ListKind::Tooling, ListForm::Full, &facts);
            let first = first.into_iter().filter(|s| s.id == OFF || s.asks == Asks::RunDown).cloned();
            steps.splice(0..0, first.collect::<Vec<_>>());
        }
        if kind == ListKind::Tooling && work.entry.is_some() && !steps.iter().any(|s| s.asks == ENTRY) {
            let full = lists.steps(kind, ListForm::Full, &facts);
            steps.extend(full.into_iter().filter(|s| s.asks == ENTRY).cloned());
        }
        steps.retain(|s| self.may_hover(s, &facts));
        if kind == ListKind::Checking && work.form == ListForm::Full {
            // before the parts are graded, so that a grade can know of it
            let at = steps.iter().position(|s| s.asks == Asks::Parts).unwrap_or(steps.len());
            steps.splice(at..at, joints::steps(&work.judged.card.fits));
        }
        let changed = (work.form == ListForm::Repeat).then(|| self.since_last(work)).flatten();
        Some(ListRun {
            kind,
            form: work.form,
            word: None,
            changed,
            title: lists.title(kind).to_owned(),
            items: steps,
            at: 0,
            note: None,
            back: false,
            put: now(),
            attention: Attention::now(self.clock.now(), self.ground(kind)),
        })
    }

    /// Seconds of the run-down that are left.
    pub(super) fn run_down_left(&self) -> Seconds {
        match self.floor.machine.spindle {
            Spindle::MayTurn => self.premises.config.machine.spindle.run_down(),
            Spindle::RunningDown => self.run_down_until.map_or(Seconds::ZERO, |t| t.since(self.clock.now())),
            Spindle::Off | Spindle::Still => Seconds::ZERO,
        }
    }

    /// The step asked now, as the screens show it.
    pub(in crate::app) fn task(&self) -> Option<Task> {
        let of_sheet = || self.work.as_ref()?.list.as_ref();
        let list = self.day.run.as_ref().or_else(of_sheet)?;
        let step = self.on_the_way(fill(list.items.get(list.at)?, &self.facts()));
        Some(Task {
            list: list.kind,
            form: list.form,
            title: list.title.clone(),
            step,
            number: u32::try_from(list.at + 1).unwrap_or(u32::MAX),
            of: u32::try_from(list.items.len()).unwrap_or(u32::MAX),
            to_know: list.back || list.note.is_none(),
            note: list.note.clone().or_else(|| self.in_the_wood(list.kind)).or_else(|| self.doubt_note(list.kind)),
            changed: list.changed.clone().filter(|_| list.at == 0),
        })
    }

    /// After a stop in the cut the bit stands in the wood: said before anybody touches a zero there.
    fn in_the_wood(&self, list: ListKind) -> Option<String> {
        let below = list == ListKind::Tooling && self.bit_below_face();
        below.then(|| "The bit stands below the sheet's face. Move it up before you touch the zero.".to_owned())
    }

    /// An answer to the step asked now.
    ///
    /// # Errors
    /// When another step is asked, it came too soon, or the floor refuses.
    pub(in crate::app) async fn answer(
        &mut self,
        by: By,
        step: &str,
        answer: StepAnswer,
        source: &Source,
    ) -> Result<Said, Problem> {
        let Some(task) = self.task() else {
            return Err(Problem::new(ProblemKind::NotNow, "No list is being asked now. Look at the screen again."));
        };
        if task.step.id != step {
            return Err(Problem::new(
                ProblemKind::SeenIsOld,
                format!("The step asked now is `{}`, not `{step}`. Look at the screen again.", task.step.id),
            ));
        }
        if let Some(run) = &self.day.run {
            self.read_first(run.put, &answer)?;
            return self.answer_of_day(by, answer, source).await;
        }
        // whose answer it is belongs into the record
        let offered = floor::offers(&self.floor, by).into_iter().find(|(act, _)| *act == OfferedAct::Answer);
        if let Some((_, Some(refusal))) = offered {
            return Err(refused(refusal));
        }
        let Some((item, put)) = self
            .work
            .as_ref()
            .and_then(|w| w.list.as_ref())
            .and_then(|l| l.items.get(l.at).map(|i| (i.clone(), l.put)))
        else {
            return Err(Problem::new(ProblemKind::NotNow, "No list is being asked now."));
        };
        self.read_first(put, &answer)?;
        match self.judge(by, &item, &answer, source).await? {
            Verdict::Taken { also } => self.taken(by, &task, answer, also, source).await,
            Verdict::Wrong(note) => self.wrong(&task, answer, note, source).await,
        }
    }

    /// A confirmation that came sooner than the step can be read was not read.
    fn read_first(&self, put: Instant, answer: &StepAnswer) -> Result<(), Problem> {
        let scripted = self.premises.config.bench.scripted_operator;
        if *answer == StepAnswer::Done && !scripted && put.elapsed() < READ_FIRST {
            let text = "That was quicker than it can be read. Read the step, look, then answer.";
            return Err(Problem::new(ProblemKind::NotNow, text));
        }
        Ok(())
    }

    async fn judge(
        &mut self,
        by: By,
        item: &ListStep,
        answer: &StepAnswer,
        source: &Source,
    ) -> Result<Verdict, Problem> {
        let ask = |what| Happening::Act { by, what };
        if let Err(note) = item.judge(answer, &self.facts()) {
            return Ok(Verdict::Wrong(note));
        }
        match (&item.asks, answer) {
            (Asks::Confirm, _) if item.id == ROUTER_ON => {
                self.happen(ask(Asked::SpindleSwitchedOn), source.clone(), Vec::new()).await?;
            }
            (Asks::Confirm, _) if item.id == OFF => {
                self.happen(ask(Asked::SpindleSwitchedOff), source.clone(), Vec::new()).await?;
            }
            (Asks::Value(_), StepAnswer::Value { value }) if self.joint(item, *value).is_some() => {
                let joint = self.joint(item, *value);
                if let Some(list) = self.work.as_mut().and_then(|w| w.list.as_mut()) {
                    list.word = joint.as_ref().map(joints::told);
                }
                return Ok(Verdict::Taken {
                    also: joint.map(|joint| What::JointMeasured { joint }).into_iter().collect(),
                });
            }
            (Asks::Value(reading), StepAnswer::Value { value }) => match reading.expect {
                Some(Expect::Thickness) => return self.thickness(by, *value, source).await,
                Some(Expect::BitDiameter) => return self.bit_read(by, *value, source).await,
                Some(Expect::BitNumber) => return Ok(self.bit_numbered(*value)),
                Some(Expect::Dial | Expect::Fasteners | Expect::SheetNumber | Expect::Calls | Expect::Number(_))
                | None => {}
            },
            (Asks::Choose { .. }, StepAnswer::Choice { key }) if item.id == BOW => {
                return self.bow(key == BOWED).await;
            }
            (Asks::Place, StepAnswer::Placed { places }) => {
                if let Some(note) = self.in_the_way(places).await? {
                    return Ok(Verdict::Wrong(note));
                }
                if let Some(work) = &mut self.work {
                    work.fasteners_in = u32::try_from(places.len()).ok();
                    work.made = Some(places.clone());
                }
                let holes = self.holes(places)?;
                return Ok(Verdict::Taken { also: vec![What::SheetFastened { places: places.clone(), holes }] });
            }
            (Asks::RunDown, _) => {
                self.happen(ask(Asked::SpindleStill), source.clone(), Vec::new()).await?;
            }
            (Asks::Hover(_), StepAnswer::Choice { .. }) => return self.off_the_mark(by, source).await,
            (Asks::Hover(_), _) if !self.hovers() => {
                return Ok(Verdict::Wrong("The bit is not over it yet. Bring it there, then look.".to_owned()));
            }
            (Asks::TouchZ, _) => {
                return Ok(Verdict::Wrong("Move the bit down until it touches, and take the zero there.".to_owned()));
            }
            (Asks::TouchAgain, _) => return Ok(Self::asks_for_a_touch()),
            (Asks::Raise, _) => return Ok(self.raised()),
            (Asks::Lot { before, carried }, _) => {
                return Ok(Self::lot_answered(before.as_ref(), *carried, answer));
            }
            // the last grade closes the sheet, but for one that a killed daemon got no further with
            (Asks::Parts, _) => self.parts_graded(by, source).await?,
            _ => {}
        }
        Ok(Verdict::taken())
    }

    /// The joint that a step asks for, with what was read.
    fn joint(&self, item: &ListStep, value: f64) -> Option<chargehand_types::history::JointRecord> {
        let work = self.work.as_ref().filter(|w| w.list.as_ref().is_some_and(|l| l.kind == ListKind::Checking))?;
        joints::measured(&work.judged.card.fits, &item.id, value, work.thickness)
    }

    /// What is not as it was on the last sheet that was cut.
    fn since_last(&self, work: &super::work::Work) -> Option<String> {
        let fold = self.shared.fold.read().ok()?;
        super::since::told(&fold, &self.premises.stores, &work.judged.card, work.judged.revision())
    }

    /// Holes that fasteners at these places make in the waste board, in machine coordinates.
    fn holes(&self, places: &[Spot]) -> Result<Vec<Spot>, Problem> {
        let Some(work) = &self.work else { return Ok(Vec::new()) };
        let (stores, zero) = (&self.premises.stores, self.bench.work_zero);
        findings::holes(&work.judged.card, stores, zero, places)
            .map_err(|e| Problem::new(ProblemKind::Malformed, e.to_string()))
    }

    /// What is wrong with places that a person put fasteners at; none where every one is out of the bit's way.
    async fn in_the_way(&self, places: &[Spot]) -> Result<Option<String>, Problem> {
        let Some(work) = &self.work else { return Ok(None) };
        let measured = cards::measure(
            &self.premises,
            &self.bench,
            work.judged.card.clone(),
            work.judged.programs.all()?.into_owned(),
            work.thickness,
            places.to_vec(),
        );
        Ok(wording::places(&measured.await?, work.judged.card.holddown.margin))
    }

    /// The sheet's thickness: judged anew, and inside the working window only if nothing changes.
    async fn thickness(&mut self, by: By, value: f64, source: &Source) -> Result<Verdict, Problem> {
        let Ok(read) = Length::from_mm(value) else { return Ok(Verdict::Wrong("That is no thickness.".to_owned())) };
        let mut readings = self.work.as_ref().map(|w| w.readings.clone()).unwrap_or_default();
        // one a corner: one that is read once more counts in place of what was read there before
        readings.truncate(self.work.as_ref().and_then(|w| w.list.as_ref()).map_or(0, corners_read));
        readings.push(read);
        // the thickest corner decides whether a cut goes through
        let read = readings.iter().max().copied().unwrap_or(read);
        let judged = self.judged_anew(Some(read), self.bench.clone()).await?;
        let inside = self.nothing_new(&judged);
        if let Some(work) = &mut self.work {
            work.thickness = Some(read);
            work.readings.clone_from(&readings);
            if inside {
                work.judged = Arc::clone(&judged);
            }
        }
        let reading = if inside { Reading::Inside } else { Reading::Outside };
        let also = vec![What::SheetMeasured { thickness: readings }];
        self.happen(Happening::Act { by, what: Asked::Thickness(reading) }, source.clone(), also).await?;
        if inside {
            return Ok(Verdict::taken());
        }
        let what = judged.judged.report.findings.iter().find(|f| f.severity != Severity::Tells);
        let what = what.map(|f| f.means.clone()).unwrap_or_default();
        Ok(Verdict::Wrong(format!(
            "At {read} something changes: {what}. Measure again; if it stays so, set this sheet aside and take the next one."
        )))
    }

    /// The card judged anew, off the foreman's own thread.
    pub(in crate::app) async fn judged_anew(
        &self,
        thickness: Option<Length>,
        bench: Bench,
    ) -> Result<Arc<JudgedCard>, Problem> {
        let Some(work) = &self.work else {
            return Err(Problem::new(ProblemKind::NotNow, "No sheet is on the machine."));
        };
        let old = Arc::clone(&work.judged);
        let premises = Arc::clone(&self.premises);
        let used = self.shared.fold.read().map(|f| bits_used(&f)).unwrap_or_default();
        let old_holes = self.shared.fold.read().map(|f| f.holes(Some(&work.sheet))).unwrap_or_default();
        let bench = Bench { old_holes, ..bench };
        let stores = self.shared.fold.read().map(|f| stores_now(&premises.stores, &f));
        let stores = stores.map_err(|_| Problem::new(ProblemKind::OurFault, "the state cannot be read"))?;
        let with = JudgedWith::to(&old.card, bench, thickness, used, stores);
        if old.with == with {
            return Ok(old);
        }
        let judged = behind(move || {
            let texts = old.programs.all()?.into_owned();
            JudgedCard::of(old.card.clone(), texts, with, &premises)
                .map(|judged| JudgedCard::beside(judged, &old))
                .map_err(|e| Problem::new(ProblemKind::Malformed, e.to_string()))
        });
        judged.await.unwrap_or_else(|e| Err(Problem::new(ProblemKind::OurFault, e.to_string())))
    }

    /// Whether nothing was found that was not there, or not signed, before.
    pub(in crate::app) fn nothing_new(&self, judged: &JudgedCard) -> bool {
        let Some(work) = &self.work else { return false };
        let before: Vec<_> = work.judged.judged.report.findings.iter().map(|f| (f.code, f.operation.clone())).collect();
        let grave = judged.judged.report.findings.iter().filter(|f| f.severity != Severity::Tells);
        grave.into_iter().all(|f| f.severity == Severity::Sign && before.contains(&(f.code, f.operation.clone())))
    }

    async fn bit_read(&mut self, by: By, value: f64, source: &Source) -> Result<Verdict, Problem> {
        let Some((key, _)) = self.wanted_bit() else { return Ok(Verdict::taken()) };
        let slot = self.work.as_ref().and_then(|w| w.judged.slots().iter().position(|s| *s == key));
        let slot = crate::floor::state::Slot(slot.and_then(|s| u8::try_from(s).ok()).unwrap_or(u8::MAX));
        let number = self.work.as_ref().and_then(|w| w.bit_number);
        let also = vec![What::BitFitted { bit: BitName(key), diameter: Length::from_mm(value).ok(), number }];
        self.happen(Happening::Act { by, what: Asked::BitFitted(slot) }, source.clone(), also).await?;
        self.bit_known = true;
        if let Some(work) = &mut self.work {
            work.bit_number = None;
        }
        Ok(Verdict::taken())
    }

    /// The number read off a physical bit: it must be one of the wanted kind that is in use.
    fn bit_numbered(&mut self, value: f64) -> Verdict {
        let Some((key, _)) = self.wanted_bit() else { return Verdict::taken() };
        let kind = BitName(key);
        let known: Vec<BitNumber> = match self.shared.fold.read() {
            Ok(fold) => fold.bits_in_use(&kind).map(|bit| bit.number).collect(),
            Err(_) => Vec::new(),
        };
        let Some(number) = known.iter().copied().find(|number| (f64::from(number.0) - value).abs() < 1.0e-9) else {
            let known = known.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
            return Verdict::Wrong(format!(
                "No {kind} in use has the number {}; {known} have. Read it again. A new bit gets its number by: chargehand bit new {kind}.",
                plain(value)
            ));
        };
        if let Some(work) = &mut self.work {
            work.bit_number = Some(number);
        }
        Verdict::taken()
    }

    /// The step is done: written down, and the next one is put, or the list is signed.
    pub(in crate::app) async fn taken(
        &mut self,
        by: By,
        task: &Task,
        answer: StepAnswer,
        mut also: Vec<What>,
        source: &Source,
    ) -> Result<Said, Problem> {
        also.push(What::StepAnswered {
            list: task.list,
            form: task.form,
            step: task.step.id.clone(),
            answer,
            expected: expected(task),
            taken: true,
        });
        let (last, word) = {
            let Some(list) = self.work.as_mut().and_then(|w| w.list.as_mut()) else {
                return Err(Problem::new(ProblemKind::NotNow, "No list is being asked now."));
            };
            (list.note, list.back) = (None, false);
            (list.at + 1 >= list.items.len(), list.word.take())
        };
        if !last {
            self.tell(also, source).await?;
            self.version.0 += 1;
            if let Some(list) = self.work.as_mut().and_then(|w| w.list.as_mut()) {
                list.at += 1;
                list.put = now();
            }
            self.pass_raised();
            self.attended();
            return Ok(Said::of(word.unwrap_or_else(|| "Taken.".to_owned())));
        }
        if matches!(self.floor.at(), Some(AtStage::Held(_))) && task.list == ListKind::Ready {
            self.tell(also, source).await?;
            self.version.0 += 1;
            if self.floor.machine.setup.spindle == SpindleKind::Controlled {
                self.start_spindle_again(by, source).await?;
            }
            if let Some(work) = &mut self.work {
                work.list = None;
            }
            self.keep_list();
            return Ok(Said::of(format!("{} is complete.", task.title)));
        }
        let operation = self.floor.sheet.as_ref().map(|s| s.operation);
        let operation = operation.and_then(|at| Some(self.work.as_ref()?.operation(at)?.name.clone()));
        let for_operation = matches!(task.list, ListKind::Tooling | ListKind::Ready);
        also.push(What::SheetSigned {
            list: task.list,
            form: task.form,
            operation: operation.filter(|_| for_operation),
        });
        // a list is asked anew when the floor does not take its signature
        let signed = Happening::Act { by, what: Asked::ListSigned(task.list) };
        if let Err(problem) = floor::step(&self.floor, &signed, self.epoch).map_err(refused) {
            if let Some(work) = &mut self.work {
                work.list = None;
            }
            self.keep_list();
            self.version.0 += 1;
            return Err(problem);
        }
        if let Some(work) = &mut self.work {
            work.list = None;
        }
        self.happen(signed, source.clone(), also).await?;
        Ok(Said::of(format!("{} is complete.", task.title)))
    }

    pub(super) async fn wrong(
        &mut self,
        task: &Task,
        answer: StepAnswer,
        note: String,
        source: &Source,
    ) -> Result<Said, Problem> {
        let what = What::StepAnswered {
            list: task.list,
            form: task.form,
            step: task.step.id.clone(),
            answer,
            expected: expected(task),
            taken: false,
        };
        self.tell(vec![what], source).await?;
        self.version.0 += 1;
        if let Some(list) = self.work.as_mut().and_then(|w| w.list.as_mut()) {
            (list.note, list.back) = (Some(note.clone()), false);
        }
        Ok(Said::of(note))
    }
}

pub(super) enum Verdict {
    Taken { also: Vec<What> },
    Wrong(String),
}

impl Verdict {
    pub(super) const fn taken() -> Self {
        Self::Taken { also: Vec::new() }
    }
}

/// How many corners were read before the step that is asked.
fn corners_read(list: &ListRun) -> usize {
    let reads =
        |step: &&ListStep| matches!(&step.asks, Asks::Value(reading) if reading.expect == Some(Expect::Thickness));
    list.items.iter().take(list.at).filter(reads).count()
}

/// Whether a step reads the bit's diameter back.
fn reads_bit(step: &ListStep) -> bool {
    matches!(&step.asks, Asks::Value(reading) if reading.expect == Some(Expect::BitDiameter))
}

fn expected(task: &Task) -> Option<f64> {
    match &task.step.ask {
        chargehand_types::checklist::Ask::Value { expect, .. } => *expect,
        _ => None,
    }
}

#[allow(clippy::disallowed_methods, reason = "how long a step stood before it was answered is real time")]
pub(super) fn now() -> Instant {
    Instant::now()
}

/// The form for an article.
#[must_use]
pub const fn form_of(article: crate::floor::sheet::Article) -> ListForm {
    match article {
        crate::floor::sheet::Article::First => ListForm::Full,
        crate::floor::sheet::Article::Repeat => ListForm::Repeat,
    }
}
