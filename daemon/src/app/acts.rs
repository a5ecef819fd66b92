//! Acts of people: who asks, against what they saw, and what it comes to.

use super::foreman::{Ahead, Foreman, Source};
use super::interrupted;
use super::lists::form_of;
use super::people::at_the_machine;
use super::work::Work;
use crate::api::desk::{Answer, Caller};
use crate::floor::sheet::{Article, Attendance, Findings, OperationFacts, Ops, Origin, SheetFacts};
use crate::floor::state::Slot;
use crate::floor::{Asked, By, Happening, Presence};
use chargehand_types::SCHEMA;
use chargehand_types::act::{Act, ActAnswer, ActRequest, Axis, HAND_STEPS_MM};
use chargehand_types::card::ZZero;
use chargehand_types::checklist::{Ask, StepAnswer};
use chargehand_types::event::{Actor, What};
use chargehand_types::finding::Severity;
use chargehand_types::id::SheetId;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::Length;
use chargehand_types::stage::{Decision, Grade, Role, Stage};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What was done, as a sentence.
pub struct Said(pub String);

impl Said {
    /// From a sentence.
    pub fn of(text: impl Into<String>) -> Self {
        Self(text.into())
    }
}

/// A bit this far down counts as below the face of a sheet.
const BELOW_FACE: Length = Length(-50_000);

pub(super) type Done = Result<Said, Problem>;

impl Foreman {
    /// An act.
    pub(in crate::app) async fn act(&mut self, caller: &Caller, request: ActRequest) -> Answer<ActAnswer> {
        let said = match self.first_answer(&request.command_id) {
            Some(said) => said,
            None => {
                self.review_day().await;
                self.review_list().await;
                let by = self.by(caller);
                if !self.keeps_on(by, &request.act, &request.terminal) {
                    self.against_what_was_seen(&request)?;
                }
                if by != By::Afar {
                    self.stirred();
                }
                let source = self.source(caller, &request);
                let said = self.carry(by, &request.act, &source).await;
                if matches!(by, By::AtMachine(_)) && interrupted::is_of_list(&request.act) {
                    self.attended();
                }
                let said = said?.0;
                self.answer_quiet_calls(by, &request.act, &source).await;
                self.remember_said(request.command_id, said.clone());
                self.review_day().await;
                self.review_bit();
                said
            }
        };
        Ok(ActAnswer { schema: SCHEMA, said, now: self.now_view(caller) })
    }

    /// A confirmation counts only against the state it was made for.
    fn against_what_was_seen(&self, request: &ActRequest) -> Result<(), Problem> {
        let exempt = request.act.always_open()
            || matches!(
                request.act,
                Act::SignIn { .. } | Act::SignOut | Act::AnswerCall { .. } | Act::Note { .. } | Act::StillThere
            );
        if exempt || request.seen == Some(self.version) {
            return Ok(());
        }
        Err(Problem::new(ProblemKind::SeenIsOld, "Things have changed since that was on the screen. Look again."))
    }

    fn local(&self, caller: &Caller) -> bool {
        at_the_machine(&self.premises.config.api, caller)
    }

    /// Who asks, as the floor needs to know it.
    pub(in crate::app) fn by(&self, caller: &Caller) -> By {
        if !self.local(caller) {
            return By::Afar;
        }
        match self.floor.presence.role() {
            Some(role) => By::AtMachine(role),
            None => By::AtMachineNobody,
        }
    }

    fn source(&self, caller: &Caller, request: &ActRequest) -> Source {
        let role = self.floor.presence.role();
        let actor = if self.local(caller) {
            self.shared.fold.read().ok().and_then(|f| {
                f.people().iter().find(|p| Some(p.role) == role).map(|p| Actor { who: p.who.clone(), role: p.role })
            })
        } else {
            None
        };
        Source {
            command: Some(request.command_id.clone()),
            actor,
            terminal: Some(request.terminal.clone()),
            acted: Ahead::of(&request.act, caller),
            proved: caller.proved.clone(),
        }
    }

    async fn carry(&mut self, by: By, act: &Act, source: &Source) -> Done {
        self.while_touching(act)?;
        let asked = |what| Happening::Act { by, what };
        let said = match act {
            Act::SignIn { who, .. } => return self.sign_in(by, who, source).await,
            Act::SignOut => return self.sign_out(source).await,
            Act::TakeSheet { sheet } => return self.take_sheet(by, sheet.clone(), source).await,
            Act::Answer { step, answer } => return self.answer(by, step, answer.clone(), source).await,
            Act::BeginList { list } => return self.begin_list(by, *list, source).await,
            Act::LeaveList => return self.leave_list(),
            Act::GradePart { index, grade, reason, note } => {
                let what = (*index, *grade, *reason, note.clone());
                return self.grade_part(by, what, source).await;
            }
            Act::ApproveArticle { sheet } => return self.approve_article(by, sheet, source).await,
            Act::SignFinding { fingerprint } => return self.sign_finding(by, fingerprint, source).await,
            Act::Override { feed, rapid } => return self.override_to(by, *feed, *rapid, source).await,
            Act::BoardRenewed => return self.board_renewed(by, source).await,
            Act::HandMove { axis, by: far } => return self.hand_move(by, *axis, *far, source).await,
            Act::HandRun { axis, up } => return self.hand_run(by, *axis, *up, source).await,
            Act::OverSpot => return self.over_spot(by, source).await,
            Act::Approach => return self.approach(by, source).await,
            Act::TouchPlate => return self.touch_plate(by, source).await,
            Act::ZeroHere { axis, above } => return self.zero_here(by, *axis, *above, source).await,
            Act::Decide { sheet, decision, line } => {
                return self.decide(by, sheet, *decision, *line, source).await;
            }
            Act::StillThere => return self.still_there(by, source).await,
            Act::SignCautions { version } => return self.sign_cautions(by, *version, source).await,
            Act::AnswerCall { number } => {
                self.tell(vec![What::CallAnswered { number: *number }], source).await?;
                return Ok(Said::of("The call is answered."));
            }
            Act::Note { text } => {
                self.tell(vec![What::SheetNoted { text: text.clone() }], source).await?;
                return Ok(Said::of("Written down."));
            }
            Act::CycleStart => (Asked::CycleStart, "Started."),
            Act::Hold => (Asked::Hold, "Hold is asked for."),
            Act::HoldAtLift => (Asked::HoldAtLift, "It will hold at the next lift."),
            Act::Resume => (Asked::Resume, "It goes on."),
            Act::Raise => (Asked::Raise, "The bit is being raised."),
            Act::Stop => (Asked::Stop, "Stop is asked for. The controller may run out what it holds."),
            Act::Trouble => {
                (Asked::Trouble, "Hold is asked for, and somebody is called. If in doubt, press the red button.")
            }
            Act::RedButton { pressed } => (Asked::RedButton { pressed: *pressed }, "Noted."),
            Act::BitFree => (Asked::BitFree, "Noted: the bit is free and the way is clear."),
            Act::Home => (Asked::Home, "It is finding home. Keep clear."),
            Act::ConfirmZero => (Asked::ConfirmZero, "The work zero is set and confirmed."),
        };
        if matches!(act, Act::CycleStart) {
            self.bit_above_face()?;
            self.open_programs().await?;
            self.as_written();
        }
        if matches!(act, Act::Resume) {
            self.at_speed()?;
        }
        let also = if matches!(act, Act::ConfirmZero) { vec![What::ZeroConfirmed] } else { Vec::new() };
        self.happen(asked(said.0), source.clone(), also).await?;
        if matches!(act, Act::CycleStart) {
            self.pass_over(by, source).await?;
        }
        Ok(Said::of(said.1))
    }

    /// Opens the long programs of the chain, once all of their bytes were looked at.
    async fn open_programs(&mut self) -> Result<(), Problem> {
        self.opened.clear();
        let Some(work) = &self.work else { return Ok(()) };
        let named: BTreeSet<String> =
            self.floor.chain().into_iter().filter_map(|at| Some(work.operation(at)?.program.clone())).collect();
        let judged = Arc::clone(&work.judged);
        let opening = tokio::task::spawn_blocking(move || {
            let open = |name: String| -> Result<Option<_>, Problem> {
                Ok(judged.programs.open(&name)?.map(|file| (name, file)))
            };
            named.into_iter().filter_map(|name| open(name).transpose()).collect::<Result<BTreeMap<_, _>, Problem>>()
        });
        self.opened = opening.await.unwrap_or_else(|e| Err(Problem::new(ProblemKind::OurFault, e.to_string())))?;
        Ok(())
    }

    /// A program may begin with a sideways rapid: the bit must not stand in the wood when it does.
    fn bit_above_face(&self) -> Result<(), Problem> {
        if self.bit_below_face() {
            let text = "The bit stands below the sheet's face. Raise it by hand first, or touch the zero anew.";
            return Err(Problem::new(ProblemKind::StartCondition, text));
        }
        Ok(())
    }

    /// Whether the bit stands below the face of a sheet whose Z zero is its top.
    pub(in crate::app) fn bit_below_face(&self) -> bool {
        let Some(work) = &self.work else { return false };
        let z = self.controller.and_then(|c| c.work).map(|p| p.z);
        work.judged.card.sheet.z_zero == ZZero::Top && z.is_some_and(|z| z < BELOW_FACE)
    }

    async fn sign_in(&mut self, by: By, who: &chargehand_types::id::Person, source: &Source) -> Done {
        if by == By::Afar {
            return Err(Problem::new(ProblemKind::NotPermitted, "Signing in is for the terminal at the machine."));
        }
        let keeper = &self.shared.keeper;
        let Some(role) = keeper.role_of(who) else {
            let names = keeper.book(|b| b.people().map(|(p, _)| p.to_string()).collect::<Vec<_>>());
            let text = format!("{who} is nobody of this shop. Those who are: {}.", names.join(", "));
            return Err(Problem::new(ProblemKind::NotPermitted, text));
        };
        if keeper.pins() && source.proved.as_ref() != Some(who) {
            return Err(Problem::new(ProblemKind::NotPermitted, "Signing in needs a PIN here."));
        }
        let source = Source { actor: Some(Actor { who: who.clone(), role }), ..source.clone() };
        self.tell(vec![What::PersonCame { who: who.clone(), role }], &source).await?;
        self.presence(&source).await?;
        self.hours_of(who);
        Ok(Said::of(format!("{who} is signed in at the machine.")))
    }

    async fn sign_out(&mut self, source: &Source) -> Done {
        self.day.run = None;
        let people: Vec<_> = self.shared.fold.read().map(|f| f.people().to_vec()).unwrap_or_default();
        let left = people.into_iter().map(|p| What::PersonLeft { who: p.who }).collect();
        self.tell(left, source).await?;
        self.presence(source).await?;
        Ok(Said::of("Nobody is signed in at the machine."))
    }

    /// Who is here, told to the floor.
    pub(in crate::app) async fn presence(&mut self, source: &Source) -> Result<(), Problem> {
        let roles: Vec<Role> =
            self.shared.fold.read().map(|f| f.people().iter().map(|p| p.role).collect()).unwrap_or_default();
        let presence = Presence::of(roles);
        if presence == Presence::Nobody {
            self.review_away(self.chain_left()).await;
        }
        self.happen(Happening::PresenceChanged(presence), source.clone(), Vec::new()).await?;
        Ok(())
    }

    async fn take_sheet(&mut self, by: By, sheet: Option<SheetId>, source: &Source) -> Done {
        let (id, origin, done) = {
            let Ok(fold) = self.shared.fold.read() else {
                return Err(Problem::new(ProblemKind::OurFault, "the state cannot be read"));
            };
            let found = match &sheet {
                Some(id) => fold.sheet(id),
                None => self.shared.next_sheet(&fold).and_then(|next| fold.sheet(&next)),
            };
            let Some(found) = found else {
                let text = sheet.map_or_else(
                    || "No sheet is waiting. Add a batch first.".to_owned(),
                    |s| format!("There is no sheet {s}."),
                );
                return Err(Problem::new(ProblemKind::NotFound, text));
            };
            let origin = match found.stage {
                Stage::Queued if !found.cancelled => Origin::Queued,
                Stage::SetAside => Origin::SetAside,
                other => {
                    let text = format!("The sheet {} is {} and cannot be taken.", found.id, other.word());
                    return Err(Problem::new(ProblemKind::NotNow, text));
                }
            };
            (found.id.clone(), origin, found.finished().map(str::to_owned).collect::<Vec<_>>())
        };
        if self.floor.sheet.is_some() {
            return Err(super::foreman::refused(crate::floor::Refusal::SheetOnMachine));
        }
        self.batch_waits(&id, by)?;
        self.load_work(&id).await?;
        let facts = self.sheet_facts(origin, &done)?;
        let form = form_of(facts.article);
        let taken = self.happen(Happening::Act { by, what: Asked::TakeSheet(facts) }, source.clone(), Vec::new()).await;
        if let Err(problem) = taken {
            self.work = None;
            return Err(problem);
        }
        if let Some(work) = &mut self.work {
            work.form = form;
            work.list = None;
        }
        self.carry_lot(&id).await?;
        self.keep_list();
        self.pass_over(by, source).await?;
        Ok(Said::of(format!("{id} is on the machine. Secure it.")))
    }

    /// What the floor must know of the sheet in `work`.
    fn sheet_facts(&self, from: Origin, done: &[String]) -> Result<SheetFacts, Problem> {
        let no_work = || Problem::new(ProblemKind::OurFault, "the sheet's card is not loaded");
        let work = self.work.as_ref().ok_or_else(no_work)?;
        let fold = self.shared.fold.read().map_err(|_| no_work())?;
        let judged = &work.judged;
        let slots = judged.slots();
        let slot = |key: &str| slots.iter().position(|s| s == key).and_then(|s| u8::try_from(s).ok()).map(Slot);
        let order = judged.in_order();
        let place = |name: &str| order.iter().position(|o| o.name == name).and_then(|p| u8::try_from(p).ok());
        let operations = order
            .iter()
            .map(|o| OperationFacts {
                bit: slot(&o.bit).unwrap_or(Slot(u8::MAX)),
                attendance: if o.unattended { Attendance::Unattended } else { Attendance::Attended },
                after: Ops::of(o.after.iter().filter_map(|a| place(a))),
            })
            .collect();
        let tried = fold.is_tried(&judged.card.name, judged.revision());
        Ok(SheetFacts {
            from,
            article: if tried { Article::Repeat } else { Article::First },
            z_on: judged.card.sheet.z_zero,
            operations,
            done: Ops::of(done.iter().filter_map(|d| place(d))),
            findings: self.findings_now(),
            approval: super::article::approval(&fold, &judged.card.name, judged.revision()),
            bit_in: fold.fitted().and_then(|f| slot(&f.bit.0)).filter(|_| self.bit_known),
        })
    }

    /// The findings of the sheet at hand, as the floor needs them.
    pub(in crate::app) fn findings_now(&self) -> Findings {
        let Some(work) = &self.work else { return Findings::Clear };
        if work.judged.findings(Severity::Stops).next().is_some() {
            Findings::Stops
        } else if self.to_sign().is_empty() {
            Findings::Clear
        } else {
            Findings::Unsigned
        }
    }

    /// Findings the owner has yet to sign.
    pub(in crate::app) fn to_sign(&self) -> Vec<chargehand_types::finding::Finding> {
        let Some(work) = &self.work else { return Vec::new() };
        let Ok(fold) = self.shared.fold.read() else { return Vec::new() };
        let signed = fold.signed(&work.judged.card.name, work.judged.revision());
        work.judged
            .findings(Severity::Sign)
            .filter(|f| !signed.iter().any(|s| s.fingerprint == f.fingerprint))
            .cloned()
            .collect()
    }

    async fn sign_finding(&mut self, by: By, fingerprint: &str, source: &Source) -> Done {
        if by != By::AtMachine(Role::Owner) {
            return Err(super::foreman::refused(crate::floor::Refusal::OwnerSigns));
        }
        let Some(finding) = self.to_sign().into_iter().find(|f| f.fingerprint == fingerprint) else {
            return Err(Problem::new(ProblemKind::NotFound, "There is no such finding to sign."));
        };
        let Some(work) = &self.work else {
            return Err(super::foreman::refused(crate::floor::Refusal::NoSheet));
        };
        let what = What::FindingSigned {
            card: work.judged.card.name.clone(),
            revision: work.judged.revision().clone(),
            code: finding.code,
            fingerprint: finding.fingerprint,
        };
        self.tell(vec![what], source).await?;
        if self.to_sign().is_empty() {
            self.happen(Happening::Act { by, what: Asked::FindingsSigned }, source.clone(), Vec::new()).await?;
        } else {
            self.version.0 += 1;
        }
        Ok(Said::of("Signed."))
    }

    /// Old holes are forgotten on the owner's word alone: a screw in an old hole holds next to nothing.
    async fn board_renewed(&mut self, by: By, source: &Source) -> Done {
        if by != By::AtMachine(Role::Owner) {
            let text = "Only the owner, signed in at the machine, says that the waste board was surfaced or changed.";
            return Err(Problem::new(ProblemKind::NotPermitted, text));
        }
        let with_it = self.premises.config.upkeep.iter().filter(|of| of.with_board);
        let done = with_it.map(|of| What::UpkeepDone { name: of.name.clone() });
        let told = [What::BoardRenewed].into_iter().chain(done).collect();
        self.tell(told, source).await?;
        self.version.0 += 1;
        Ok(Said::of("The holes in the waste board are forgotten. The next sheet's places are chosen without them."))
    }

    async fn hand_move(&mut self, by: By, axis: Axis, far: Length, source: &Source) -> Done {
        let known = HAND_STEPS_MM.iter().any(|s| (far.mm().abs() - s).abs() < 1.0e-9);
        if !known {
            let text = format!("A hand move is one of {HAND_STEPS_MM:?} mm.");
            return Err(Problem::new(ProblemKind::BadRequest, text));
        }
        self.within_travel(axis, far)?;
        self.hand = Some((axis, far));
        self.happen(Happening::Act { by, what: Asked::HandMove }, source.clone(), Vec::new()).await?;
        Ok(Said::of("It moves."))
    }

    pub(super) fn within_travel(&self, axis: Axis, far: Length) -> Result<(), Problem> {
        let Some(at) = self.controller.and_then(|c| c.machine) else { return Ok(()) };
        let travel = self.premises.config.machine.travel;
        let (here, reach) = match axis {
            Axis::X => (at.x, travel.x),
            Axis::Y => (at.y, travel.y),
            Axis::Z => (at.z, travel.z),
        };
        if reach.holds(here + far) {
            return Ok(());
        }
        let text = format!("That would leave the machine's travel on {}. Take a smaller step.", axis.letter());
        Err(Problem::new(ProblemKind::StartCondition, text))
    }

    pub(in crate::app) async fn zero_here(&mut self, by: By, axis: Axis, above: Length, source: &Source) -> Done {
        if axis != Axis::Z {
            let text = "The zero sideways is where the stops are: it is set in config and confirmed over the mark.";
            return Err(Problem::new(ProblemKind::NotNow, text));
        }
        if above < Length::ZERO || above > Length::whole_mm(60) {
            return Err(Problem::new(ProblemKind::BadRequest, "What lies between bit and sheet is 0 to 60 mm thick."));
        }
        let Some(task) = self.task().filter(|t| matches!(t.step.ask, Ask::TouchZ { .. })) else {
            return self.touched_again(by, above, source).await;
        };
        let Some(at) = self.controller.and_then(|c| c.machine) else {
            return Err(super::foreman::refused(crate::floor::Refusal::NoLink));
        };
        self.over_what_is_zero()?;
        let mut bench = self.bench.clone();
        bench.work_zero.z = at.z - above;
        let thickness = self.work.as_ref().and_then(|w| w.thickness);
        let judged = self.judged_anew(thickness, bench.clone()).await?;
        if let Some(f) = judged.findings(Severity::Stops).next() {
            let text = format!("With the zero here the program cannot run: {}. Touch it at the right place.", f.means);
            return Err(Problem::new(ProblemKind::StartCondition, text));
        }
        self.hand = Some((Axis::Z, above));
        let also = vec![What::ZeroSet { machine_z: Some(bench.work_zero.z) }];
        self.happen(Happening::Act { by, what: Asked::ZZeroed }, source.clone(), also).await?;
        self.bench = bench;
        self.note_touch(at, above);
        self.taken(by, &task, StepAnswer::Done, Vec::new(), source).await?;
        Ok(Said::of("The zero is taken here."))
    }

    async fn decide(
        &mut self,
        by: By,
        sheet: &SheetId,
        decision: Decision,
        line: Option<u32>,
        source: &Source,
    ) -> Done {
        let on_machine = self.work.as_ref().is_some_and(|w| w.sheet == *sheet);
        if !on_machine {
            return self.decide_set_aside(by, sheet, decision, source).await;
        }
        let re_enter = match decision {
            Decision::ReEnter => Some(self.re_entry(line).await?),
            Decision::Restart | Decision::Next | Decision::SetAside | Decision::End => None,
        };
        let line = re_enter.map(|(_, line)| line);
        let also = vec![What::SheetDecided { decision, line }];
        // known before the lists begin anew: one of them has the bit brought there
        let entry = self.entry_place(re_enter).await;
        let work = |foreman: &mut Self, entry, re_enter| {
            if let Some(work) = &mut foreman.work {
                (work.entry, work.re_enter) = (entry, re_enter);
            }
        };
        let before = self.work.as_ref().map(|w| (w.entry, w.re_enter)).unwrap_or_default();
        work(self, entry, re_enter);
        if let Err(problem) =
            self.happen(Happening::Act { by, what: Asked::Decide(decision) }, source.clone(), also).await
        {
            work(self, before.0, before.1);
            return Err(problem);
        }
        Ok(match line {
            Some(line) => Said::of(format!("It goes on at line {line} once the lists are done and it is started.")),
            None => Said::of(match decision {
                Decision::ReEnter | Decision::Restart => "The operation is cut again from its start.",
                Decision::Next => "The operation counts as done. What comes next is on the screen.",
                Decision::SetAside => "The sheet is set aside. Take it off the machine.",
                Decision::End => "The sheet is ended. Take the parts off; good ones still count.",
            }),
        })
    }

    /// A sheet that was set aside can only be ended from here; taking it up again puts it on the machine.
    async fn decide_set_aside(&mut self, by: By, sheet: &SheetId, decision: Decision, source: &Source) -> Done {
        let stage = self.shared.fold.read().ok().and_then(|f| f.sheet(sheet).map(|s| s.stage));
        match (stage, decision) {
            (None, _) => Err(Problem::new(ProblemKind::NotFound, format!("There is no sheet {sheet}."))),
            (Some(Stage::SetAside), Decision::End) if matches!(by, By::AtMachine(_)) => {
                let of = 0;
                let closed = What::SheetClosed { grade: Grade::Scrap, good: 0, of };
                self.tell_of(sheet, vec![What::SheetDecided { decision, line: None }, closed], source).await?;
                Ok(Said::of("The sheet is ended."))
            }
            (Some(Stage::SetAside), Decision::End) => Err(super::foreman::refused(crate::floor::Refusal::NobodyHere)),
            (Some(stage), _) => {
                let text = format!(
                    "The sheet {sheet} is {} and not stopped on the machine: there is nothing to decide.",
                    stage.word()
                );
                Err(Problem::new(ProblemKind::NotNow, text))
            }
        }
    }

    /// Loads the card of a sheet into `work`.
    pub(in crate::app) async fn load_work(&mut self, sheet: &SheetId) -> Result<(), Problem> {
        let judged = super::cards::load(&self.premises, &self.bench, &self.ledger, &self.shared, sheet).await?;
        let (thickness, fasteners, kept) = self
            .shared
            .fold
            .read()
            .ok()
            .and_then(|f| {
                let s = f.sheet(sheet)?;
                let kept = u8::try_from(s.operation).ok().zip(s.re_enter);
                Some((s.thickness.iter().max().copied(), s.fasteners.len(), kept))
            })
            .unwrap_or_default();
        self.search_window(&judged);
        self.work = Some(Work {
            sheet: sheet.clone(),
            judged,
            thickness,
            form: chargehand_types::checklist::ListForm::Full,
            list: None,
            stop: None,
            prompt: None,
            wanted_tool: None,
            bow: None,
            made: None,
            fasteners_in: u32::try_from(fasteners).ok().filter(|n| *n > 0),
            readings: Vec::new(),
            bit_number: None,
            held_since: None,
            re_enter: None,
            entry: None,
            proposed: None,
        });
        let entry = self.entry_place(kept).await;
        if let Some(work) = &mut self.work {
            (work.entry, work.re_enter) = (entry, kept);
        }
        Ok(())
    }
}
