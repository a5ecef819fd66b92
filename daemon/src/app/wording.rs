//! What the Now screen says in sentences. All of it is here, to be read as safety text.
//!
//! What the controller was told is called *commanded*, never *cut*; a stage is told as what a person does or sees.

use chargehand_types::call::CallReason;
use chargehand_types::holddown::PlaceMeasured;
use chargehand_types::now::{LinkNow, MachineNow, Motion, OfferedAct, OperationNow, SheetNow, StoppedNow};
use chargehand_types::quantity::{Length, Seconds, plain};
use chargehand_types::stage::{HeldBy, Stage, StopCause};

/// Said wherever the practice machine is used.
pub const PRACTICE: &str = "Practice machine: nothing real moves.";
/// Said wherever a scripted operator is let in.
pub const SCRIPTED: &str = "A scripted operator is let in at this machine: bench use only.";
/// Said wherever a hold waits behind what the controller already holds.
pub const AFTER_BUFFER: &str =
    "This controller holds only once it has run out what it already has. For trouble: the red button.";
/// Said wherever rapids cannot be slowed.
pub const RAPIDS_STAY: &str = "This controller cannot slow its rapids: they run as written.";
/// Said after a stop until somebody decided.
pub const MAY_RUN_OUT: &str =
    "The controller may still run out moves it already holds. Keep hands away until it stands still.";

/// Said while stepping away is turned on and its cautions are not signed.
pub const CAUTIONS_UNSIGNED: &str =
    "Stepping away is turned on, and its cautions are not signed: chargehand machine away";
/// Which wording of the cautions this is; another wording has to be signed anew.
pub const CAUTIONS_VERSION: u32 = 1;
/// What the owner signs before a sheet may run with nobody signed in.
pub const CAUTIONS: [&str; 4] = [
    "WARNING: A cut that nobody watches can start a fire: a part comes loose, a bit burns, dust glows in the extractor. It \
     can burn down the shop and whoever sleeps above it. Leave it only where your fire code, your insurer and the rules of \
     your workplace allow it, with somebody in earshot who knows where the extinguisher is.",
    "WARNING: With nobody beside the machine nobody is at the red button. Whoever comes in can reach a turning bit, and it \
     cuts to the bone. Close the guard or lock the room, and tell everybody in the house that the machine runs.",
    "WARNING: The question whether somebody is still there is no safety device. It finds out late that nobody is, it holds \
     only at the next lift, and this program can fail like any other. Look at the machine each time before you answer.",
    "CAUTION: Dust can smoulder for the better part of an hour after the last cut and break out when nobody is there. Stay \
     in earshot for as long as daemon.toml says, and look into the collector and the cuts before you go.",
];

/// A span of machine time as people say it.
#[must_use]
pub fn span(seconds: Seconds) -> String {
    let s = seconds.value().max(0.0);
    if s < 55.0 {
        format!("{} s", s.ceil())
    } else if s < 3570.0 {
        format!("{} min", (s / 60.0).round().max(1.0))
    } else {
        let minutes = (s / 60.0).round();
        format!("{} h {} min", (minutes / 60.0).floor(), minutes % 60.0)
    }
}

/// What is happening, in a sentence or two.
#[must_use]
pub fn headline(machine: &MachineNow, sheet: Option<&SheetNow>, waiting: u32) -> String {
    let text = match sheet {
        Some(sheet) => on_machine(machine, sheet),
        None => idle(machine, waiting),
    };
    let at_work = sheet.is_some_and(|s| matches!(s.stage, Stage::Cutting | Stage::Held));
    if machine.motion == Motion::Held && !at_work { format!("{HELD_IDLE} {text}") } else { text }
}

/// Nothing of a program runs, and it is held all the same.
const HELD_IDLE: &str = "The machine is held: close its door, let go at its own button, or stop it here.";

fn idle(machine: &MachineNow, waiting: u32) -> String {
    let first = match &machine.link {
        LinkNow::Opening => format!("Opening the line to {}.", machine.name),
        LinkNow::Down { why } => format!("{} does not answer: {why}", machine.name),
        LinkNow::Up if machine.motion == Motion::Homing => format!("{} is finding its home.", machine.name),
        LinkNow::Up if !machine.position_known => {
            format!("{} does not know where it stands. It has to find its home first.", machine.name)
        }
        LinkNow::Up if !machine.zero_confirmed => {
            "The work zero has to be set, and looked at over the mark, before anything is cut.".to_owned()
        }
        LinkNow::Up => "The machine is free.".to_owned(),
    };
    let second = match waiting {
        0 => "No sheet is waiting.".to_owned(),
        1 => "One sheet is waiting.".to_owned(),
        n => format!("{n} sheets are waiting."),
    };
    format!("{first} {second}")
}

fn on_machine(machine: &MachineNow, sheet: &SheetNow) -> String {
    let operation = sheet.operation.as_ref();
    let name = operation.map_or("the program", |o| o.name.as_str());
    match sheet.stage {
        Stage::Securing => format!("Secure the sheet for {}.", sheet.title),
        Stage::Tooling => match operation {
            Some(o) => format!("Fit the bit for {name}: {}.", o.bit_title),
            None => "Fit the bit.".to_owned(),
        },
        Stage::Ready => ready(operation),
        Stage::Cutting => cutting(machine, operation),
        Stage::Held => held(sheet),
        Stage::Stopped => sheet.stopped.as_ref().map_or_else(|| "Stopped.".to_owned(), stopped),
        Stage::TakingOff => format!("All cuts are done. Take the parts off: {}.", sheet.title),
        Stage::Checking => "Check the parts, one by one.".to_owned(),
        Stage::Queued | Stage::SetAside | Stage::Closed => "The machine is free.".to_owned(),
    }
}

fn ready(operation: Option<&OperationNow>) -> String {
    match operation {
        Some(o) => format!("Ready to cut {}, about {}.", o.chain.join(", then "), span(o.predicted)),
        None => "Ready to cut.".to_owned(),
    }
}

fn cutting(machine: &MachineNow, operation: Option<&OperationNow>) -> String {
    let Some(o) = operation else { return "Cutting.".to_owned() };
    let next = match o.chain.iter().skip_while(|n| **n != o.name).nth(1) {
        Some(then) => format!("Next: {then}, by itself."),
        None if o.index + 1 == o.of => "Next: take the parts off.".to_owned(),
        None => "Next: somebody is needed here.".to_owned(),
    };
    let hold = match (machine.motion, machine.stops_after) {
        (Motion::HoldAsked, Some(after)) => format!(" A hold is asked for: it stops after about {}.", span(after)),
        (Motion::HoldAsked, None) => " A hold is asked for and not yet confirmed.".to_owned(),
        _ => String::new(),
    };
    format!("Cutting the {}. About {}. {next}{hold}", o.name, span(o.left))
}

fn held(sheet: &SheetNow) -> String {
    let Some(h) = &sheet.held else { return "Held.".to_owned() };
    let why = match h.by {
        HeldBy::Person => "Held. The feed is stopped; the bit may still turn.".to_owned(),
        HeldBy::Lift => "Held at the lift, with the bit out of the wood.".to_owned(),
        HeldBy::Prompt => match sheet.operation.as_ref().and_then(|o| o.prompt.as_ref()) {
            Some(text) => format!("The program asks: {text}"),
            None => "The program asks for a person here.".to_owned(),
        },
        HeldBy::BitChange => "The program needs another bit from here on.".to_owned(),
        HeldBy::Machine => "Held by the machine's own button or door.".to_owned(),
        HeldBy::NobodyThere => {
            "Held at the lift, and the spindle was told to stop: nobody was there who answered, or the time for running alone is over.".to_owned()
        }
        HeldBy::Trouble => "Held: something is wrong. If in doubt, press the red button.".to_owned(),
    };
    if h.raised {
        format!("{why} The bit is raised; its place is kept.")
    } else if h.bit_in_cut {
        format!("{why} The bit stands in the cut since {}: it burns the wood. Raise it.", span(h.seconds))
    } else {
        why
    }
}

fn stopped(s: &StoppedNow) -> String {
    let cause = match s.record.cause {
        StopCause::RefusedLine => "Stopped: the controller refused a line.",
        StopCause::Fault => "Stopped: the controller reported a fault.",
        StopCause::LinkLost => "Stopped: the controller does not answer.",
        StopCause::ControllerRestarted => "Stopped: the controller started anew in the middle of work.",
        StopCause::DaemonRestarted => "Stopped: this program was restarted in the middle of a cut.",
        StopCause::Person => "Stopped.",
        StopCause::StoreFailed => "Stopped: what happens can no longer be written down.",
    };
    let text = if s.record.text.is_empty() { String::new() } else { format!(" {}", s.record.text) };
    let spindle = " The spindle may still be on.";
    format!("{cause}{text} {MAY_RUN_OUT}{spindle}")
}

/// In a stop's record, where the operation was over before the stop reached it.
pub const RAN_OUT: &str = "The operation ran to its end before the stop reached it, and counts as done.";

/// Something was asked of the machine and it did not do it.
#[must_use]
pub fn undone(why: &str) -> String {
    let why = why.trim_end_matches('.');
    format!("The last move or setting was not done: {why}. If that comes again, switch the controller off and on.")
}

/// What an offered act does, as a sentence.
#[must_use]
pub const fn offer(act: OfferedAct) -> &'static str {
    match act {
        OfferedAct::SignIn => "Sign in at the machine",
        OfferedAct::SignOut => "Sign out",
        OfferedAct::TakeSheet => "Take the next sheet",
        OfferedAct::Answer => "Answer the step",
        OfferedAct::SignFinding => "Sign what the check found (owner)",
        OfferedAct::CycleStart => "Cycle start",
        OfferedAct::Hold => "Hold now (the bit keeps turning)",
        OfferedAct::HoldAtLift => "Hold at the next lift",
        OfferedAct::Resume => "Go on",
        OfferedAct::Raise => "Raise the bit",
        OfferedAct::Stop => "Stop for good, then decide",
        OfferedAct::Trouble => "Something is wrong",
        OfferedAct::RedButtonYes => "Yes: button, power off, or carriage moved or stalled",
        OfferedAct::RedButtonNo => "No: none of that",
        OfferedAct::BitFree => "The bit is free and the way is clear",
        OfferedAct::Home => "Find home",
        OfferedAct::ConfirmZero => "Set the work zero; I look at it over the mark",
        OfferedAct::ReEnter => "Go on at a line",
        OfferedAct::Restart => "Cut the operation again from its start",
        OfferedAct::Next => "It ran to its end: go on to what comes next",
        OfferedAct::SetAside => "Set the sheet aside",
        OfferedAct::End => "End the sheet; good parts count",
        OfferedAct::AnswerCall => "Answer the call; I see to it",
        OfferedAct::Opening => "Open the shop by its list",
        OfferedAct::Closing => "Close the shop by its list",
        OfferedAct::HandOver => "Take the machine over from somebody, by the list",
        OfferedAct::AfterPowerCut => "After a power cut: the list",
        OfferedAct::StillThere => "Somebody is still there, and looked at the machine",
        OfferedAct::ApproveArticle => "Approve the first article (owner)",
        OfferedAct::LeaveList => "Put this list down; its place is kept",
    }
}

/// What is wrong with places that a person put fasteners at; none where nothing is.
#[must_use]
pub fn places(places: &[PlaceMeasured], margin: Length) -> Option<String> {
    let (number, bad) = (1..).zip(places).find(|(_, place)| !place.ok)?;
    let at = format!("Place {number} (X {} Y {})", plain(bad.at.x.mm()), plain(bad.at.y.mm()));
    if !bad.on_sheet {
        return Some(format!("{at} is no place on this sheet. Measure again, and say where the fastener is."));
    }
    let air = bad
        .clearance_mm
        .map_or_else(String::new, |air| format!(" {} mm from its middle", plain((air * 100.0).round() / 100.0)));
    let whence = match (&bad.operation, bad.line) {
        (Some(operation), Some(line)) => format!(" in {operation}, line {line}"),
        _ => String::new(),
    };
    Some(format!(
        "{at} would be hit: the bit's edge passes{air}{whence}, and half the head and {margin} of air must stay free. Take that fastener out, put it elsewhere, and say where."
    ))
}

/// What a call says.
#[must_use]
pub const fn call(reason: CallReason) -> &'static str {
    match reason {
        CallReason::Trouble => {
            "Something is wrong at the machine. Go there now; the red button is nearer than this program."
        }
        CallReason::Stopped => "The sheet is stopped. Go to the machine and decide how it goes on.",
        CallReason::LinkLost => "The controller does not answer. See to its power and its cable.",
        CallReason::Prompt => "The program asks for somebody at the machine.",
        CallReason::OperationDone => "An operation is finished. Somebody is needed at the machine.",
        CallReason::StillThere => {
            "Nobody answers whether somebody is still there. Go to the machine and say so, or it holds at its next lift."
        }
        CallReason::Suspect => {
            "A closing touch was off: the last cuts may be too deep or not deep enough. The owner looks at the parts and takes the next sheet."
        }
        CallReason::HeldFromAfar => "The cut is held at the next lift. Somebody is needed at the machine.",
        CallReason::Store => {
            "What happens can no longer be written down. See to the disk, then start the daemon again."
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_in_the_way_are_told_with_their_cut() {
        let mm = |v| Length::from_mm(v).unwrap();
        let at = |x: f64| chargehand_types::quantity::Spot { x: mm(x), y: mm(40.0) };
        let good = PlaceMeasured {
            at: at(20.0),
            clearance_mm: Some(30.0),
            on_sheet: true,
            ok: true,
            operation: Some("slots".into()),
            line: Some(12),
            notes: vec![],
        };
        assert_eq!(places(std::slice::from_ref(&good), mm(4.0)), None);
        let hit = PlaceMeasured { at: at(50.0), clearance_mm: Some(3.25), ok: false, ..good.clone() };
        let told = places(&[good.clone(), hit], mm(4.0)).unwrap();
        assert!(told.starts_with("Place 2 (X 50 Y 40) would be hit: the bit's edge passes 3.25 mm"), "{told}");
        assert!(told.contains("in slots, line 12"), "{told}");
        let off = PlaceMeasured { at: at(-50.0), on_sheet: false, ok: false, ..good };
        assert!(places(&[off], mm(4.0)).unwrap().contains("no place on this sheet"));
    }

    /// What is offered is something one does; what came of it is said afterwards.
    #[test]
    fn a_call_is_offered_to_be_answered() {
        assert!(offer(OfferedAct::AnswerCall).starts_with("Answer the call"));
    }

    #[test]
    fn spans_are_told_as_people_say_them() {
        assert_eq!(span(Seconds::of(12.1)), "13 s");
        assert_eq!(span(Seconds::of(730.0)), "12 min");
        assert_eq!(span(Seconds::of(5400.0)), "1 h 30 min");
    }
}
