//! What happens in the practice shop as one line an event, and the summary at its end.
//!
//! May live here: these lines. May not: choosing what is told.

use crate::words;
use chargehand_types::event::{Event, RightsChange, What};
use chargehand_types::history::SheetRecord;
use chargehand_types::quantity::{Metres, Seconds, plain};
use chargehand_types::stage::Grade;

/// An event as a line: its number, the machine's clock, its kind, the sheet, and what there is to say. None for a
/// fact that changed within a stage, such as every hand move's start and end.
#[must_use]
pub fn event_line(event: &Event) -> Option<String> {
    if let What::SheetStage { from, to, .. } = &event.what
        && from == to
    {
        return None;
    }
    let clock = words::span(Seconds::of(event.tick.0 as f64 / 1.0e6));
    let sheet = event.sheet.as_ref().map_or("", |s| s.0.as_str());
    let kind = kind(&event.what);
    let line = format!("{:>4}  {clock:>12}  {kind:<19} {sheet:<6} {}", event.seq.0, detail(&event.what));
    Some(line.trim_end().to_owned())
}

/// The name of the event, as the stream has it.
fn kind(what: &What) -> String {
    match serde_json::to_value(what) {
        Ok(value) => value.get("kind").and_then(|k| k.as_str()).unwrap_or("?").to_owned(),
        Err(_) => "?".to_owned(),
    }
}

fn detail(what: &What) -> String {
    match what {
        What::DaemonStarted { version } => format!("version {version}"),
        What::CardAdded { name, revision, .. } => format!("{name}, revision {}", words::short(&revision.0)),
        What::BatchAdded { batch, card, sheets, .. } => {
            format!("{batch}: {} of {card}", words::count(sheets.len() as u64, "sheet"))
        }
        What::BatchCancelled { batch } => batch.to_string(),
        What::Overridden { feed, rapid } => {
            let of = |what: &str, per_cent: &Option<u16>| per_cent.map(|p| format!("{what} at {p} %"));
            [of("feeds", feed), of("rapids", rapid)].into_iter().flatten().collect::<Vec<_>>().join(", ")
        }
        What::StockCounted { stock, sheets } => format!("{stock}: {}", words::count(u64::from(*sheets), "sheet")),
        What::PeopleChanged { change, name, role } => {
            let change = match change {
                RightsChange::Added => "added",
                RightsChange::PinSet => "PIN set",
                RightsChange::Removed => "removed",
                RightsChange::TokenMade => "token made",
                RightsChange::TokenRevoked => "token taken back",
            };
            format!("{name} ({}): {change}", words::role(*role))
        }
        What::SheetStage { from, to, .. } => format!("{}, then {}", words::stage(*from), words::stage(*to)),
        What::StepAnswered { list, step, taken, .. } => {
            format!("{}: {step}{}", list.word(), if *taken { "" } else { ", not taken" })
        }
        What::DayBegun { list } | What::DaySigned { list } => list.word().to_owned(),
        What::DayPassedOver { lists } => lists.iter().map(|l| l.word()).collect::<Vec<_>>().join(", "),
        What::ArticleApproved { card, .. } => card.to_string(),
        What::JointMeasured { joint } => format!("{}: {}", joint.name, joint.measured),
        What::SheetSigned { list, operation, .. } => match operation {
            Some(operation) => format!("{} for {operation}", list.word()),
            None => list.word().to_owned(),
        },
        What::FindingSigned { code, card, .. } => format!("{code} of {card}"),
        What::SheetMeasured { thickness } => thickness.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
        What::SheetFastened { places, .. } => words::count(places.len() as u64, "fastener"),
        What::BitFitted { bit, number: None, .. } => bit.to_string(),
        What::BitFitted { bit, number: Some(number), .. } | What::BitBegan { bit, number, .. } => {
            format!("{bit}, number {number}")
        }
        What::BitMeasured { number, reground, .. } => {
            format!("number {number}{}", if *reground { ", ground anew" } else { "" })
        }
        What::BitScrapped { number, why } => format!("number {number}: {why}"),
        What::SheetLot { lot } => lot.clone(),
        What::SheetRemains { left: None, .. } => "nothing large enough to keep".to_owned(),
        What::SheetRemains { left: Some(left), .. } => {
            let [x, y] = left.size;
            format!("{} x {} mm left", plain(x.mm()), plain(y.mm()))
        }
        What::LeftGone { why } => why.clone(),
        What::SheetBrought { sheet, row } => format!("{sheet}, {}, {}", row.card, words::grade(row.grade)),
        What::UpkeepDone { name } => name.clone(),
        What::ZeroSet { machine_z } => machine_z.map_or_else(String::new, |z| format!("at {z} of the machine")),
        What::OperationStarted { operation, predicted, .. } => {
            format!("{operation}, {}", words::span(*predicted))
        }
        What::OperationFinished { operation, predicted, real, cut, .. } => format!(
            "{operation}: foretold {}, took {}, cut {}",
            words::span(*predicted),
            words::span(*real),
            words::way(*cut)
        ),
        What::PartChecked { index, name, grade, .. } => format!("{} {name}: {}", index + 1, words::grade(*grade)),
        What::SheetDecided { decision, .. } => words::decision(*decision).to_owned(),
        What::SheetClosed { grade, good, of } => format!("{}, {good} of {of} parts good", words::grade(*grade)),
        What::LinkUp { note } => note.clone(),
        What::LinkDown { why } | What::PositionLost { why } => why.clone(),
        What::PersonCame { who, role } => format!("{who}, {}", words::role(*role)),
        What::PersonLeft { who } => who.to_string(),
        What::CallRaised { number, text, .. } => format!("{number}: {text}"),
        What::CallAnswered { number } => number.to_string(),
        What::SheetNoted { text } => text.clone(),
        What::RecordCorrected { note, .. } => note.clone(),
        What::TouchedAgain { bit, off, suspect } => {
            format!("{bit}: {off} off{}", if *suspect { ", not trusted" } else { "" })
        }
        What::CautionsSigned { version } => format!("wording {version}"),
        What::StillThereAsked { answer_within } => format!("answer within {}", words::span(*answer_within)),
        What::MachineHomed | What::ZeroConfirmed | What::BoardRenewed | What::StillThereAnswered => String::new(),
    }
}

/// How the sheets came out: times foretold and real, grades, the way each bit cut.
#[must_use]
pub fn summary(records: &[SheetRecord]) -> String {
    let mut out = String::new();
    for r in records {
        let predicted = r.operations.iter().fold(Seconds::ZERO, |sum, o| sum + o.predicted);
        let real = r.operations.iter().filter_map(|o| o.real).fold(Seconds::ZERO, |sum, s| sum + s);
        let grade = r.grade.map_or("not graded", words::grade);
        out.push_str(&format!(
            "{}  {}: {grade}. Foretold {}, took {}.\n",
            r.sheet,
            r.card,
            words::span(predicted),
            words::span(real)
        ));
        let of = |grade| r.parts.iter().filter(|p| p.grade == grade).count();
        let (good, rework, scrap) = (of(Grade::Good), of(Grade::Rework), of(Grade::Scrap));
        out.push_str(&format!("      Parts: {good} good, {rework} rework, {scrap} scrap.\n"));
        let bits: Vec<String> =
            r.bits.iter().map(|(bit, way): &(_, Metres)| format!("{bit} {}", words::way(*way))).collect();
        out.push_str(&format!("      Bits: {}.\n", bits.join(", ")));
    }
    out.push_str(&format!("{} closed.\n", words::count(records.len() as u64, "sheet")));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ui::samples;
    use chargehand_types::event::EVENT_VERSION;
    use chargehand_types::id::Seq;
    use chargehand_types::quantity::Tick;

    #[test]
    fn an_event_is_one_line() {
        let event = Event {
            v: EVENT_VERSION,
            seq: Seq(12),
            id: "e12".into(),
            command_id: None,
            at: crate::outside::utc_now(),
            tick: Tick(95_000_000),
            actor: None,
            terminal: None,
            sheet: Some("B1-1".into()),
            what: What::OperationFinished {
                operation: "slots".into(),
                bit: "c635".into(),
                predicted: Seconds::of(700.0),
                real: Seconds::of(722.0),
                held: Seconds::ZERO,
                cut: Metres::of(8.44),
                number: None,
            },
        };
        assert_eq!(
            event_line(&event).unwrap(),
            "  12    1 min 35 s  operation.finished  B1-1   slots: foretold 11 min, took 12 min, cut 8.4 m"
        );
    }

    #[test]
    fn a_summary_tells_times_grades_and_bits() {
        let text = summary(&[samples::record()]);
        for part in ["foretold 11 min", "took 12 min", "1 good", "c635 8.4 m", "1 sheet closed"] {
            assert!(text.to_lowercase().contains(part), "{part} in\n{text}");
        }
    }
}
