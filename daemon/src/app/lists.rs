//! The list under way: which step is asked, and what an answer to it comes to.

use super::acts::Said;
use super::foreman::{Foreman, Source, refused};
use super::work::{JudgedCard, ListRun};
use crate::findings::Bench;
use crate::floor::sheet::{Change, Held};
use crate::floor::state::{Signed, Spindle, SpindleKind};
use crate::floor::{self, Asked, AtStage, By, Happening, Reading};
use crate::link::wire::TickSource;
use crate::shop::checklist::{AskKind, Expect, Facts, Item, Only};
use chargehand_types::checklist::{Caution, ListForm, ListKind, SignalWord, Step, StepAnswer, Task};
use chargehand_types::event::What;
use chargehand_types::finding::Severity;
use chargehand_types::id::BitName;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, plain};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// An answer that comes sooner than this after the step was put was not read first (norm: 1.5 s).
const READ_FIRST: Duration = Duration::from_millis(1500);
/// How far a bit's reading may lie from the bit that was asked for, in mm.
const BIT_OFF_MM: f64 = 0.2;
/// How far a dial may stand from what was asked for.
const DIAL_OFF: f64 = 0.5;

impl Foreman {
    /// Which list the stage asks for.
    fn list_wanted(&self) -> Option<ListKind> {
        let sheet = self.floor.sheet.as_ref()?;
        match &sheet.at {
            AtStage::Securing => Some(ListKind::Securing),
            AtStage::Tooling => Some(ListKind::Tooling),
            AtStage::Ready if sheet.ready == Signed::No => Some(ListKind::Ready),
            AtStage::Held(Held { by, change, .. })
                if *by == chargehand_types::stage::HeldBy::BitChange
                    && (*change != Change::None || self.floor.machine.tooling == Signed::No) =>
            {
                Some(ListKind::Tooling)
            }
            // hands were at the bit: the router is switched on again before it goes on
            AtStage::Held(Held { .. }) if self.router_is_off() => Some(ListKind::Ready),
            AtStage::TakingOff => Some(ListKind::TakingOff),
            AtStage::Checking { .. } => Some(ListKind::Checking),
            AtStage::Ready | AtStage::Cutting(_) | AtStage::Held(_) | AtStage::Stopped(_) => None,
        }
    }

    fn router_is_off(&self) -> bool {
        let machine = &self.floor.machine;
        machine.setup.spindle == SpindleKind::Manual && machine.spindle != Spindle::MayTurn
    }

    /// Begins the list that the stage asks for, or ends the one that it does not.
    pub(in crate::app) fn keep_list(&mut self) {
        let wanted = self.list_wanted();
        let has = self.work.as_ref().and_then(|w| w.list.as_ref()).map(|l| l.kind);
        if wanted == has {
            return;
        }
        let run = wanted.and_then(|kind| self.list_run(kind));
        if let Some(work) = &mut self.work {
            work.list = run;
        }
    }

    fn list_run(&self, kind: ListKind) -> Option<ListRun> {
        let work = self.work.as_ref()?;
        let list = self.premises.lists.get(&kind)?;
        let facts = self.facts();
        let mut items: Vec<Item> = list.form(work.form).iter().filter(|i| facts.asks(i)).cloned().collect();
        let has_run_down = items.iter().any(|i| i.ask == AskKind::RunDown);
        if floor::asks_run_down(&self.floor, kind) && !has_run_down {
            items.insert(0, run_down_item());
        }
        Some(ListRun {
            kind,
            form: work.form,
            title: list.title.clone(),
            items,
            at: 0,
            note: None,
            put: now(),
        })
    }

    /// What is filled into the lists.
    fn facts(&self) -> Facts {
        let config = &self.premises.config;
        let mut facts = Facts { run_down: self.run_down(), ..Facts::default() };
        let manual = self.floor.machine.setup.spindle == SpindleKind::Manual;
        facts.holds.push(if manual { Only::ManualSpindle } else { Only::ControlledSpindle });
        facts.words.insert("red", config.machine.red_button.clone());
        let Some(work) = &self.work else { return facts };
        let card = &work.judged.card;
        let nominal = work.thickness.unwrap_or(card.sheet.thickness);
        facts.thickness = Some(nominal.mm());
        facts.words.insert("thickness", nominal.to_string());
        facts.words.insert("card", card.title.clone());
        facts.words.insert("face", card.sheet.face.clone().unwrap_or_else(|| "either side up".to_owned()));
        facts.words.insert("grain", card.sheet.grain.clone().unwrap_or_else(|| "either way".to_owned()));
        if card.sheet.face.is_some() || card.sheet.grain.is_some() {
            facts.holds.push(Only::FaceOrGrain);
        }
        let fastener = self.premises.stores.fasteners.get(&card.holddown.fastener);
        facts.fastener = fastener.map(|f| f.title.clone()).unwrap_or_default();
        facts.places = card.holddown.places.iter().map(|p| p.at).collect();
        facts.words.insert("places", facts.places.len().to_string());
        facts.words.insert("fasteners", facts.fastener.clone());
        facts.fasteners_in = work.fasteners_in;
        if let Some((_, bit)) = self.wanted_bit() {
            facts.bit_diameter = Some(bit.diameter.mm());
            facts.words.insert("bit", bit.title.clone());
        } else {
            facts.words.insert("bit", format!("the bit that the program calls T{}", work.wanted_tool.unwrap_or(0)));
        }
        if let Some(rpm) = self.rpm() {
            facts.words.insert("rpm", rpm.to_string());
            facts.dial = config.machine.spindle.dial_for(rpm);
        }
        if let Some(sheet) = &self.floor.sheet
            && let Some(op) = work.operation(sheet.operation)
        {
            facts.words.insert("operation", op.name.clone());
        }
        facts.parts = work.judged.part_names();
        if let Ok(fold) = self.shared.fold.read()
            && let Some(sheet) = fold.sheet(&work.sheet)
        {
            facts.graded = sheet.parts.iter().map(|p| p.index).collect();
        }
        facts
    }

    /// Seconds of the run-down in all, and left.
    fn run_down(&self) -> [f64; 2] {
        let all = self.premises.config.machine.spindle.run_down().value();
        let left = match self.floor.machine.spindle {
            Spindle::MayTurn => all,
            Spindle::RunningDown => self.run_down_until.map_or(all, |t| t.since(self.clock.now()).value()),
            Spindle::Off | Spindle::Still => 0.0,
        };
        [all, left]
    }

    /// The step asked now, as the screens show it.
    pub(in crate::app) fn task(&self) -> Option<Task> {
        let list = self.work.as_ref()?.list.as_ref()?;
        let item = list.items.get(list.at)?;
        let step: Step = self.facts().fill(item);
        Some(Task {
            list: list.kind,
            form: list.form,
            title: list.title.clone(),
            step,
            number: u32::try_from(list.at + 1).unwrap_or(u32::MAX),
            of: u32::try_from(list.items.len()).unwrap_or(u32::MAX),
            note: list.note.clone(),
        })
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
        let Some((item, put)) = self.work.as_ref().and_then(|w| w.list.as_ref()).and_then(|l| {
            l.items.get(l.at).map(|i| (i.clone(), l.put))
        }) else {
            return Err(Problem::new(ProblemKind::NotNow, "No list is being asked now."));
        };
        let scripted = self.premises.config.bench.scripted_operator;
        if answer == StepAnswer::Done && !scripted && put.elapsed() < READ_FIRST {
            return Err(Problem::new(ProblemKind::NotNow, "That was quicker than it can be read. Read the step, look, then answer."));
        }
        match self.judge(by, &item, &task, &answer, source).await? {
            Verdict::Taken { also } => self.taken(by, &task, answer, also, source).await,
            Verdict::Wait(said) => Ok(Said::of(said)),
            Verdict::Wrong(note) => self.wrong(&task, answer, note, source).await,
        }
    }

    async fn judge(
        &mut self,
        by: By,
        item: &Item,
        task: &Task,
        answer: &StepAnswer,
        source: &Source,
    ) -> Result<Verdict, Problem> {
        let ask = |what| Happening::Act { by, what };
        match (&item.ask, answer) {
            (AskKind::Confirm, StepAnswer::Done) => {
                if item.id == "router-on" {
                    self.happen(ask(Asked::SpindleSwitchedOn), source.clone(), Vec::new()).await?;
                }
                Ok(Verdict::taken())
            }
            (AskKind::Value { range, expect, unit }, StepAnswer::Value { value }) => {
                self.value(by, *range, *expect, unit, *value, task, source).await
            }
            (AskKind::Choose(options), StepAnswer::Choice { key }) => {
                if !options.iter().any(|o| o.key == *key) {
                    return Ok(Verdict::Wrong("That is none of the answers.".to_owned()));
                }
                if key == "warm" {
                    self.happen(ask(Asked::Trouble), source.clone(), Vec::new()).await?;
                }
                Ok(Verdict::taken())
            }
            (AskKind::Place, StepAnswer::Done) => {
                let places = self.facts().places;
                Ok(self.placed(places))
            }
            (AskKind::Place, StepAnswer::Placed { places }) => Ok(self.placed(places.clone())),
            (AskKind::RunDown, StepAnswer::Done) => {
                self.happen(ask(Asked::SpindleSwitchedOff), source.clone(), Vec::new()).await?;
                Ok(Verdict::Wait("The run-down is being counted. Then look: is the bit still?".to_owned()))
            }
            (AskKind::RunDown, StepAnswer::Still) => {
                self.happen(ask(Asked::SpindleStill), source.clone(), Vec::new()).await?;
                Ok(Verdict::taken())
            }
            (AskKind::TouchZ, _) => Ok(Verdict::Wrong("Move the bit down until it touches, and take the zero there.".to_owned())),
            (AskKind::Parts, _) => Ok(Verdict::Wrong("Say of each part how it came out.".to_owned())),
            _ => Ok(Verdict::Wrong("That is no answer to this step.".to_owned())),
        }
    }

    fn placed(&mut self, places: Vec<chargehand_types::quantity::Spot>) -> Verdict {
        if let Some(work) = &mut self.work {
            work.fasteners_in = Some(places.len() as f64);
        }
        Verdict::Taken { also: vec![What::SheetFastened { places }] }
    }

    #[allow(clippy::too_many_arguments, reason = "a value, what it is measured against, and who read it")]
    async fn value(
        &mut self,
        by: By,
        range: [f64; 2],
        expect: Option<Expect>,
        unit: &str,
        value: f64,
        task: &Task,
        source: &Source,
    ) -> Result<Verdict, Problem> {
        let [least, most] = range;
        if !value.is_finite() || value < least || value > most {
            let note = format!("{} {unit} cannot be: it lies between {} and {}. Read it again.", plain(value), plain(least), plain(most));
            return Ok(Verdict::Wrong(note));
        }
        match expect {
            None => Ok(Verdict::taken()),
            Some(Expect::Thickness) => self.thickness(by, value, source).await,
            Some(Expect::BitDiameter) => self.bit_read(by, value, source).await,
            Some(Expect::Dial) => Ok(off(value, expected(task), DIAL_OFF, "The dial stands at another number. Set it, then read it again.")),
            Some(Expect::Fasteners) => {
                let note = "That is not the number that was put in. One left in the sheet breaks a saw; one left under it breaks a bit. Look for it.";
                Ok(off(value, expected(task), 0.0, note))
            }
        }
    }

    /// The sheet's thickness: judged anew, and inside the working window only if nothing changes.
    async fn thickness(&mut self, by: By, value: f64, source: &Source) -> Result<Verdict, Problem> {
        let Ok(read) = Length::from_mm(value) else { return Ok(Verdict::Wrong("That is no thickness.".to_owned())) };
        let judged = self.judged_anew(Some(read), self.bench.clone()).await?;
        let inside = self.nothing_new(&judged);
        if let Some(work) = &mut self.work {
            work.thickness = Some(read);
            if inside {
                work.judged = Arc::clone(&judged);
            }
        }
        let reading = if inside { Reading::Inside } else { Reading::Outside };
        let also = vec![What::SheetMeasured { thickness: vec![read] }];
        self.happen(Happening::Act { by, what: Asked::Thickness(reading) }, source.clone(), also).await?;
        if inside {
            return Ok(Verdict::taken());
        }
        let what = judged.judged.report.findings.iter().find(|f| f.severity != Severity::Tells);
        let what = what.map(|f| f.means.clone()).unwrap_or_default();
        Ok(Verdict::Wrong(format!("At {read} something changes: {what}. Measure again; if it stays so, set this sheet aside and take the next one.")))
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
        let (card, programs) = (work.judged.card.clone(), work.judged.programs.clone());
        let premises = Arc::clone(&self.premises);
        let used = self.shared.fold.read().map(|f| super::cards::bits_used(&f)).unwrap_or_default();
        let judged = tokio::task::spawn_blocking(move || {
            JudgedCard::of(card, programs, &premises.stores, &bench, thickness, &used)
        });
        match judged.await {
            Ok(Ok(judged)) => Ok(Arc::new(judged)),
            Ok(Err(e)) => Err(Problem::new(ProblemKind::Malformed, e.to_string())),
            Err(e) => Err(Problem::new(ProblemKind::OurFault, e.to_string())),
        }
    }

    /// Whether nothing was found that was not there, or not signed, before.
    pub(in crate::app) fn nothing_new(&self, judged: &JudgedCard) -> bool {
        let Some(work) = &self.work else { return false };
        let before: Vec<_> = work.judged.judged.report.findings.iter().map(|f| (f.code, f.operation.clone())).collect();
        let grave = judged.judged.report.findings.iter().filter(|f| f.severity != Severity::Tells);
        grave.into_iter().all(|f| f.severity == Severity::Sign && before.contains(&(f.code, f.operation.clone())))
    }

    async fn bit_read(&mut self, by: By, value: f64, source: &Source) -> Result<Verdict, Problem> {
        let Some((key, bit)) = self.wanted_bit() else { return Ok(Verdict::taken()) };
        if (value - bit.diameter.mm()).abs() > BIT_OFF_MM {
            return Ok(Verdict::Wrong(format!(
                "{} mm is not {} ({} mm). Measure across the cutting edges again, or fit the right bit.",
                plain(value),
                bit.title,
                plain(bit.diameter.mm())
            )));
        }
        let slot = self.work.as_ref().and_then(|w| w.judged.slots().iter().position(|s| *s == key));
        let slot = crate::floor::state::Slot(slot.and_then(|s| u8::try_from(s).ok()).unwrap_or(u8::MAX));
        let also = vec![What::BitFitted { bit: BitName(key), diameter: Length::from_mm(value).ok() }];
        self.happen(Happening::Act { by, what: Asked::BitFitted(slot) }, source.clone(), also).await?;
        Ok(Verdict::taken())
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
        let last = {
            let Some(list) = self.work.as_mut().and_then(|w| w.list.as_mut()) else {
                return Err(Problem::new(ProblemKind::NotNow, "No list is being asked now."));
            };
            list.note = None;
            list.at + 1 >= list.items.len()
        };
        if !last {
            self.tell(also, source).await?;
            self.version.0 += 1;
            if let Some(list) = self.work.as_mut().and_then(|w| w.list.as_mut()) {
                list.at += 1;
                list.put = now();
            }
            return Ok(Said::of("Taken."));
        }
        if matches!(self.floor.at(), Some(AtStage::Held(_))) && task.list == ListKind::Ready {
            self.tell(also, source).await?;
            self.version.0 += 1;
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

    async fn wrong(&mut self, task: &Task, answer: StepAnswer, note: String, source: &Source) -> Result<Said, Problem> {
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
            list.note = Some(note.clone());
        }
        Ok(Said::of(note))
    }
}

enum Verdict {
    Taken { also: Vec<What> },
    /// Something was set going; the step is still asked.
    Wait(String),
    Wrong(String),
}

impl Verdict {
    const fn taken() -> Self {
        Self::Taken { also: Vec::new() }
    }
}

fn expected(task: &Task) -> Option<f64> {
    match &task.step.ask {
        chargehand_types::checklist::Ask::Value { expect, .. } => *expect,
        _ => None,
    }
}

fn off(value: f64, expect: Option<f64>, by: f64, note: &str) -> Verdict {
    match expect {
        Some(expect) if (value - expect).abs() > by + 1.0e-9 => {
            Verdict::Wrong(format!("{} was expected. {note}", plain(expect)))
        }
        _ => Verdict::taken(),
    }
}

#[allow(clippy::disallowed_methods, reason = "how long a step stood before it was answered is real time")]
fn now() -> Instant {
    Instant::now()
}

/// Asked wherever hands come near a bit that may turn, in lists that do not ask for it themselves.
fn run_down_item() -> Item {
    Item {
        id: "bit-still".to_owned(),
        text: "Switch the router off and pull its plug. Wait for the run-down and look: is the bit still?".to_owned(),
        help: None,
        caution: Some(Caution {
            word: SignalWord::Danger,
            hazard: "A bit turns on for seconds after it is switched off.".to_owned(),
            consequence: "It cuts fingers off.".to_owned(),
            avoid: "Keep hands away until you see it stand still.".to_owned(),
        }),
        ask: AskKind::RunDown,
        only: None,
        killer: true,
    }
}

/// The form for an article.
#[must_use]
pub const fn form_of(article: crate::floor::sheet::Article) -> ListForm {
    match article {
        crate::floor::sheet::Article::First => ListForm::Full,
        crate::floor::sheet::Article::Repeat => ListForm::Repeat,
    }
}
