//! Hand-made states of the shop for tests of the screens and of the command line.

mod lists;

pub use lists::{cards, drawing, looks, record, records, sheets};

use chargehand_types::act::Axis;
use chargehand_types::call::{Call, CallReason};
use chargehand_types::card::BitKind;
use chargehand_types::checklist::{Ask, Caution, Choice, DayListNow, Leg, ListForm, ListKind, SignalWord, Step, Task};
use chargehand_types::event::StopRecord;
use chargehand_types::finding::{Code, Facts, Finding, Severity, Unit};
use chargehand_types::id::{Seq, StageVersion};
use chargehand_types::now::{
    AwayNow, HeldNow, LinkNow, MachineNow, Motion, Now, Offer, OfferedAct, OperationNow, PersonHere, SheetNow,
    StillThereNow, StoppedNow,
};
use chargehand_types::quantity::{Length, Point, Seconds, Spot};
use chargehand_types::stage::{Decision, HeldBy, Role, Stage, StopCause};
use chrono::{DateTime, Utc};

pub fn point(x: i64, y: i64, z: i64) -> Point {
    Point::new(Length::whole_mm(x), Length::whole_mm(y), Length::whole_mm(z))
}

fn spot(x: i64, y: i64) -> Spot {
    Spot { x: Length::whole_mm(x), y: Length::whole_mm(y) }
}

fn at() -> DateTime<Utc> {
    DateTime::from_timestamp(1_772_000_000, 0).unwrap()
}

pub fn offer(act: OfferedAct, text: &str) -> Offer {
    Offer { act, text: text.into(), refused: None }
}

pub fn refused(act: OfferedAct, text: &str, why: &str) -> Offer {
    Offer { act, text: text.into(), refused: Some(why.into()) }
}

/// Nothing on the machine, two sheets waiting.
pub fn idle() -> Now {
    Now {
        schema: 1,
        seq: Seq(40),
        version: StageVersion(7),
        at: at(),
        machine: MachineNow {
            name: "Router 1".into(),
            link: LinkNow::Up,
            practice: true,
            rate: 20.0,
            position_known: true,
            zero_confirmed: true,
            motion: Motion::Still,
            at: Some(point(10, 10, 20)),
            feed: None,
            bit: Some("c635".into()),
            manual_spindle: true,
            run_down_left: None,
            red_button: "front left, on the bench's leg".into(),
            per_cent: None,
            stops_after: None,
        },
        people: vec![PersonHere { who: "Ada".into(), role: Role::Owner }],
        sheet: None,
        headline: "Nothing is on the machine. Take the next sheet.".into(),
        task: None,
        actions: vec![offer(OfferedAct::TakeSheet, "Take sheet B1-1 onto the machine.")],
        waiting: 2,
        next_sheet: Some("B1-1".into()),
        calls: vec![],
        staff: Vec::new(),
        pins: false,
        notices: vec!["Practice machine: nothing real moves, and its clock runs 20 times as fast.".into()],
        lists: Vec::new(),
        away: None,
        to_approve: None,
    }
}

/// A helper came in the morning: the opening list is due.
pub fn morning() -> Now {
    let mut now = idle();
    now.people = vec![PersonHere { who: "Ben".into(), role: Role::Helper }];
    let why =
        "A list of the day is due first: the screen names it. Walk it, or ask the owner, who may begin without it.";
    now.actions = vec![
        offer(OfferedAct::Opening, "Open the shop by its list"),
        refused(OfferedAct::TakeSheet, "Take the next sheet", why),
        offer(OfferedAct::Closing, "Close the shop by its list"),
    ];
    now.lists = vec![DayListNow {
        list: ListKind::Opening,
        title: "Open the shop".into(),
        due: Some(
            "The shop is not opened yet today. A helper begins nothing before this list is done; the owner may, and it \
             is written down."
                .into(),
        ),
        by: Some("Ada".into()),
        at: Some(at()),
        left_off: None,
    }];
    now
}

/// The opening list under way, with no sheet on the machine.
pub fn opening() -> Now {
    let mut now = morning();
    let option = |key: &str, text: &str| Choice { key: key.into(), text: text.into(), then: None };
    let ask = Ask::Choose {
        options: vec![
            option("clean", "Clean and whole"),
            option("fastener", "A fastener is in it"),
            option("burnt", "A dark or burnt spot"),
        ],
    };
    let text = "Sweep the waste board, then look along it with a light: any fastener left, any dark or burnt spot?";
    now.task = Some(Task {
        list: ListKind::Opening,
        form: ListForm::Full,
        title: "Open the shop".into(),
        step: Step { id: "board".into(), text: text.into(), help: None, caution: None, ask, killer: true, spot: None },
        number: 3,
        of: 7,
        note: None,
        to_know: false,
        changed: None,
    });
    now.actions = vec![
        offer(OfferedAct::LeaveList, "Put this list down; its place is kept"),
        offer(OfferedAct::Answer, "Answer the step"),
    ];
    now
}

/// Nobody is signed in and the machine does not know where it stands.
pub fn lost_position() -> Now {
    let mut now = idle();
    now.people.clear();
    now.machine.position_known = false;
    now.machine.zero_confirmed = false;
    now.headline = "The machine does not know where it stands.".into();
    let sign_in = "Sign in at the machine first.";
    now.actions = vec![
        offer(OfferedAct::SignIn, "Sign in."),
        refused(OfferedAct::BitFree, "Say that the bit is free and the way is clear.", sign_in),
        refused(OfferedAct::TakeSheet, "Take sheet B1-1 onto the machine.", sign_in),
    ];
    now
}

/// As much may be done as ever, and the machine was just switched on.
pub fn switched_on() -> Now {
    let mut now = lost_position();
    now.people = vec![PersonHere { who: "Ada".into(), role: Role::Owner }];
    let first = "First look, and say that the bit is free and the way is clear.";
    let home = "The machine does not know its position. Find home first.";
    now.actions = vec![
        offer(OfferedAct::Opening, "Open the shop by its list"),
        offer(OfferedAct::BitFree, "The bit is free and the way is clear"),
        refused(OfferedAct::Home, "Find home", first),
        refused(OfferedAct::ConfirmZero, "Set the work zero; I look at it over the mark", home),
        offer(OfferedAct::TakeSheet, "Take the next sheet"),
        offer(OfferedAct::SignOut, "Sign out"),
        offer(OfferedAct::Closing, "Close the shop by its list"),
        offer(OfferedAct::HandOver, "Take the machine over from somebody, by the list"),
        offer(OfferedAct::AfterPowerCut, "After a power cut: the list"),
    ];
    now
}

fn on_machine(stage: Stage) -> Now {
    let mut now = idle();
    now.waiting = 1;
    now.next_sheet = Some("B1-2".into());
    now.sheet = Some(SheetNow {
        id: "B1-1".into(),
        card: "plant-stand-sides".into(),
        revision: "3f2a9c41be".into(),
        title: "Plant stand, pair of sides".into(),
        batch: "B1".into(),
        number: 1,
        of: 2,
        stage,
        first: true,
        operation: Some(OperationNow {
            name: "outlines".into(),
            index: 1,
            of: 2,
            bit: "c635".into(),
            bit_title: "6.35 mm compression, 2 flutes".into(),
            bit_kind: Some(BitKind::Compression),
            chain: vec!["slots".into(), "outlines".into()],
            predicted: Seconds::of(1140.0),
            progress: 0.35,
            left: Seconds::of(741.0),
            lines: 430,
            line: Some(150),
            next_lift: Some(Seconds::of(220.0)),
            prompt: None,
        }),
        done: vec!["slots".into()],
        held: None,
        stopped: None,
        thickness: Some(Length::whole_mm(18)),
        to_sign: vec![],
        graded: vec![],
    });
    now
}

/// A cut under way.
pub fn cutting() -> Now {
    let mut now = on_machine(Stage::Cutting);
    now.machine.motion = Motion::Moving;
    now.machine.at = Some(point(300, 600, -6));
    now.headline = "Cutting the outlines. Next: take the parts off.".into();
    now.actions = vec![
        offer(OfferedAct::Hold, "Hold now."),
        offer(OfferedAct::HoldAtLift, "Hold at the next lift."),
        offer(OfferedAct::Trouble, "Something is wrong."),
        offer(OfferedAct::Stop, "End the motion for good."),
    ];
    now
}

/// The same with nobody signed in: it is asked whether somebody is still there.
pub fn alone() -> Now {
    let mut now = cutting();
    now.people.clear();
    now.away = Some(AwayNow {
        cautions: vec!["WARNING: A cut that nobody watches can start a fire.".into()],
        version: 1,
        signed: true,
        why_not: None,
        asked: Some(StillThereNow { left: Seconds::of(90.0), called: false }),
    });
    let still_there = offer(OfferedAct::StillThere, "Somebody is still there, and looked at the machine.");
    now.actions.insert(0, still_there);
    now
}

/// A hold with the bit in the cut.
pub fn held() -> Now {
    let mut now = on_machine(Stage::Held);
    now.machine.motion = Motion::Held;
    now.headline = "Held. The bit stands in the cut.".into();
    if let Some(sheet) = &mut now.sheet {
        sheet.held = Some(HeldNow { by: HeldBy::Person, seconds: Seconds::of(12.0), bit_in_cut: true, raised: false });
    }
    now.actions = vec![
        offer(OfferedAct::Resume, "Go on cutting."),
        offer(OfferedAct::Raise, "Raise the bit; its place is kept."),
        offer(OfferedAct::Trouble, "Something is wrong."),
        offer(OfferedAct::Stop, "End the motion for good."),
    ];
    now
}

/// Stopped where it can go on at a line; the questions are answered.
pub fn may_go_on() -> Now {
    let mut now = stopped();
    if let Some(stopped) = now.sheet.as_mut().and_then(|s| s.stopped.as_mut()) {
        (stopped.enter_line, stopped.enter_at) = (Some(142), Some(point(60, 640, 0)));
        (stopped.red_button, stopped.bit_free) = (Some(false), true);
        stopped.choices.insert(0, Decision::ReEnter);
    }
    now.calls.clear();
    now.actions = vec![
        offer(OfferedAct::ReEnter, "Go on at a line"),
        offer(OfferedAct::Restart, "Cut the operation again from its start"),
        offer(OfferedAct::SetAside, "Set the sheet aside"),
        offer(OfferedAct::End, "End the sheet; good parts count"),
    ];
    now
}

/// Stopped where it had run to its end already; the questions are answered.
pub fn ran_out() -> Now {
    let mut now = may_go_on();
    let text = "The operation ran to its end before the stop reached it, and counts as done.";
    if let Some(stopped) = now.sheet.as_mut().and_then(|s| s.stopped.as_mut()) {
        stopped.record = StopRecord { cause: StopCause::Person, text: text.into(), ..stopped.record.clone() };
        (stopped.enter_line, stopped.enter_at) = (None, None);
        stopped.choices = vec![Decision::Next, Decision::SetAside, Decision::End];
    }
    now.machine.motion = Motion::Still;
    now.headline = format!("Stopped. {text}");
    now.actions = vec![
        offer(OfferedAct::Next, "It ran to its end: go on to what comes next"),
        offer(OfferedAct::SetAside, "Set the sheet aside"),
        offer(OfferedAct::End, "End the sheet; good parts count"),
    ];
    now
}

/// Stopped by a restart of the daemon, the first question open.
pub fn stopped() -> Now {
    let mut now = on_machine(Stage::Stopped);
    now.machine.motion = Motion::Unknown;
    now.headline = "Sheet B1-1 is stopped. Somebody has to decide about it.".into();
    if let Some(sheet) = &mut now.sheet {
        sheet.stopped = Some(StoppedNow {
            record: StopRecord {
                cause: StopCause::DaemonRestarted,
                text: "The daemon was restarted while the outlines were being cut.".into(),
                last_line_done: Some(150),
                last_line_sent: Some(163),
                position_known: true,
                bit_in_cut: true,
            },
            enter_line: None,
            enter_at: None,
            red_button: None,
            bit_free: false,
            choices: vec![Decision::Restart, Decision::SetAside, Decision::End],
        });
    }
    now.calls = vec![Call {
        number: 3,
        reason: CallReason::Stopped,
        text: "Sheet B1-1 stopped. Look at the machine, then answer the question on the screen.".into(),
    }];
    now.actions = vec![
        offer(OfferedAct::RedButtonYes, "Yes: pressed, off, moved or stalled."),
        offer(OfferedAct::RedButtonNo, "No, none of it."),
    ];
    now
}

fn asked(stage: Stage, list: ListKind, title: &str, id: &str, text: &str, ask: Ask) -> Now {
    let mut now = on_machine(stage);
    if let Some(sheet) = &mut now.sheet {
        sheet.done.clear();
        if let Some(operation) = &mut sheet.operation {
            operation.name = "slots".into();
            operation.index = 0;
            operation.line = None;
        }
    }
    now.headline = format!("{title}: Plant stand, pair of sides.");
    now.task = Some(Task {
        list,
        form: ListForm::Full,
        title: title.into(),
        step: Step { id: id.into(), text: text.into(), help: None, caution: None, ask, killer: false, spot: None },
        number: 3,
        of: 7,
        note: None,
        to_know: false,
        changed: None,
    });
    now.actions = vec![
        offer(OfferedAct::Answer, "Answer the step."),
        offer(OfferedAct::SetAside, "Set the sheet aside."),
        offer(OfferedAct::End, "End the sheet."),
    ];
    now
}

/// A value is asked, and the last one was not taken.
pub fn value() -> Now {
    let ask = Ask::Value { unit: "mm".into(), expect: Some(18.0), least: 12.0, most: 24.0 };
    let text = "Read the sheet's thickness at the corner near the stop.";
    let mut now = asked(Stage::Securing, ListKind::Securing, "Securing the sheet", "thickness-1", text, ask);
    if let Some(task) = &mut now.task {
        task.note = Some("16.9 mm is outside the working window of 17.8 to 18.2 mm. Measure again.".into());
    }
    now
}

/// A step with a warning.
pub fn warning() -> Now {
    let text = "Switch the router off at its own switch.";
    let mut now = asked(Stage::Tooling, ListKind::Tooling, "Bit and zero", "router-off", text, Ask::Confirm);
    if let Some(task) = &mut now.task {
        task.step.help = Some("The switch is on the router's head, on the left. Feel that it clicks.".into());
        task.step.killer = true;
        task.step.caution = Some(Caution {
            word: SignalWord::Warning,
            hazard: "The bit may still turn after a pause.".into(),
            consequence: "It can cut fingers to the bone.".into(),
            avoid: "Switch the spindle off at its own switch and wait until it stands still.".into(),
        });
    }
    now
}

/// Fasteners are to be put in.
pub fn place() -> Now {
    let places = vec![spot(20, 20), spot(590, 20), spot(20, 610), spot(590, 1200)];
    let ask = Ask::Place { places, fastener: "4.0 x 30 countersunk wood screw".into() };
    asked(
        Stage::Securing,
        ListKind::Securing,
        "Securing the sheet",
        "fasteners",
        "Screw the sheet down at these places.",
        ask,
    )
}

/// A choice.
pub fn choose() -> Now {
    let option = |key: &str, text: &str| Choice { key: key.into(), text: text.into(), then: None };
    let options = vec![option("up", "The good side is up."), option("down", "The good side is down.")];
    let text = "Which side is up?";
    asked(Stage::Securing, ListKind::Securing, "Securing the sheet", "face", text, Ask::Choose { options })
}

/// The bit runs down.
pub fn run_down() -> Now {
    let ask = Ask::RunDown { seconds: 12.0, left: 9.0 };
    let text = "Wait until the bit stands still.";
    let mut now = asked(Stage::TakingOff, ListKind::TakingOff, "Taking off", "still", text, ask);
    now.machine.run_down_left = Some(Seconds::of(9.0));
    now.machine.rate = 1.0;
    now
}

/// The bit is fitted and read back.
pub fn fit_bit() -> Now {
    let ask = Ask::Value { unit: "mm".into(), expect: Some(6.35), least: 6.2, most: 6.5 };
    let text = "Caliper across the bit's cutting edge. Read the diameter back.";
    asked(Stage::Tooling, ListKind::Tooling, "Bit and zero", "bit-diameter", text, ask)
}

/// The Z zero is touched.
pub fn touch() -> Now {
    let text = "Bring the bit down onto the paper beside fastener 2.";
    let mut now = asked(Stage::Tooling, ListKind::Tooling, "Bit and zero", "touch", text, Ask::TouchZ { leg: None });
    if let Some(task) = &mut now.task {
        task.step.spot = Some(spot(300, 200));
    }
    now
}

/// The lot of a sheet is asked; one was named before, or none.
pub fn lot(before: Option<&str>) -> Now {
    let text = "Look for the lot: on the sheet's edge, its sticker, or the stack it came from.";
    let ask = Ask::Lot { before: before.map(str::to_owned), carried: false };
    asked(Stage::Securing, ListKind::Securing, "Securing the sheet", "lot", text, ask)
}

/// A later sheet of the batch is laid: it counts as of the lot of the one before, or of none.
pub fn lot_carried(before: Option<&str>) -> Now {
    let text = "Lay the sheet with the good face up, the grain along X. Push it against the stops and touch each stop: no \
                gap, no chip.";
    let ask = Ask::Lot { before: before.map(str::to_owned), carried: true };
    asked(Stage::Securing, ListKind::Securing, "Securing the sheet", "at-stop", text, ask)
}

/// The bit is not over the place yet.
pub fn touch_far() -> Now {
    let mut now = touch_spot();
    if let Some(task) = &mut now.task {
        task.step.ask = Ask::TouchZ { leg: Some(Leg { axis: Axis::X, by: Length::from_mm(312.4).unwrap() }) };
    }
    now
}

/// The same with the words of the daemon, which need all of a small screen.
pub fn touch_spot() -> Now {
    let mut now = touch();
    if let Some(task) = &mut now.task {
        task.step.text = "Touch the Z zero at 300 and 200 mm from left and front, where 22 mm round stays uncut (fastener 2 is 341 mm off).".into();
        task.step.help = None;
    }
    now
}

/// The bit is brought over the mark: the way, and there.
pub fn hover(there: bool) -> Now {
    let leg = (!there).then(|| Leg { axis: Axis::X, by: Length::from_mm(-412.4).unwrap() });
    let text = "Bring the bit over the mark at X 5, Y 5. Look straight down along it, from the front and from the side: does its middle stand over the mark?";
    let mut now = asked(
        Stage::Tooling,
        ListKind::Tooling,
        "Bit and zero",
        "mark",
        text,
        Ask::Hover { at: spot(5, 5), leg, there },
    );
    if let Some(task) = &mut now.task {
        task.step.spot = Some(spot(5, 5));
    }
    now
}

/// The bit is raised before it is taken out: low, and high enough.
pub fn raise(clear: bool) -> Now {
    let leg = (!clear).then(|| Leg { axis: Axis::Z, by: Length::from_mm(58.94).unwrap() });
    let text = "Raise the bit clear of the wood, before you take it out.";
    let mut now = asked(Stage::Tooling, ListKind::Tooling, "Bit and zero", "raised", text, Ask::Raise { leg, clear });
    if let Some(task) = now.task.as_mut().filter(|_| !clear) {
        task.note = Some("The bit stands 0.1 mm above the wood. Raise it to 20 mm or more, then look.".into());
    }
    now
}

/// The zero is touched once more.
pub fn touch_again() -> Now {
    let text = "Touch once more where the Z zero was touched (at 120 and 200 mm from left and front, 206 mm from fastener 1), with the same paper or plate.";
    let ask = Ask::TouchAgain { at: spot(120, 200) };
    let mut now = asked(Stage::TakingOff, ListKind::TakingOff, "Taking off", "closing-touch", text, ask);
    now.machine.at = Some(point(120, 200, 0));
    if let Some(task) = &mut now.task {
        task.note = Some("It touches 0.32 mm higher than before. To be sure: touch once more.".into());
    }
    now
}

/// The same while the bit stands where the cut ended.
pub fn touch_again_beside() -> Now {
    let mut now = touch_again();
    now.machine.at = Some(point(420, 310, 30));
    if let Some(task) = &mut now.task {
        task.note = None;
    }
    now
}

/// Parts are graded.
pub fn parts() -> Now {
    let ask = Ask::Parts { names: vec!["side".into(), "side".into(), "shelf".into()], graded: vec![0] };
    asked(Stage::Checking, ListKind::Checking, "Checking the parts", "parts", "Look at each part.", ask)
}

/// A finding waits for the owner.
pub fn to_sign() -> Now {
    let mut now = warning();
    if let Some(sheet) = &mut now.sheet {
        sheet.to_sign = vec![plunge()];
    }
    now.actions.insert(0, offer(OfferedAct::SignFinding, "Sign the finding of this card."));
    now
}

pub fn plunge() -> Finding {
    Finding {
        code: Code::PlungeEntry,
        severity: Severity::Sign,
        operation: Some("outlines".into()),
        line: Some(31),
        column: Some(4),
        lines: None,
        count: 1,
        fingerprint: "f-plunge".into(),
        place: None,
        measured: Some(6.0),
        limit: None,
        unit: Some(Unit::Mm),
        facts: Facts {
            bit: Some("c635".into()),
            excerpt: Some("31 | G1 Z-6.0 F400\n   |    ^^^^^".into()),
            ..Facts::default()
        },
        means: String::new(),
        remedy: String::new(),
    }
    .told()
}

/// A ready list that is signed.
pub fn ready() -> Now {
    let mut now = on_machine(Stage::Ready);
    now.headline = "Ready: slots, then outlines, 31 min in all.".into();
    now.actions = vec![
        offer(OfferedAct::CycleStart, "Cycle start: slots, then outlines, 31 min."),
        offer(OfferedAct::SetAside, "Set the sheet aside."),
        offer(OfferedAct::End, "End the sheet."),
    ];
    now
}
