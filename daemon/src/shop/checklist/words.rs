//! Filling a step in: `{thickness}` and the like become what is known of the sheet.

use super::spot::from_edges;
use super::{Asks, Facts, HandOn, Reading, Step};
use chargehand_types::checklist::{Ask, Caution, Step as ShownStep};
use chargehand_types::quantity::{Spot, plain};

/// Everything a text may name between braces.
pub(super) const PLACEHOLDERS: [&str; 23] = [
    "bit",
    "button",
    "card",
    "chain",
    "cuts",
    "dial",
    "face",
    "fastener",
    "fasteners",
    "grain",
    "hangs",
    "label",
    "mark",
    "minutes",
    "numbers",
    "off",
    "on",
    "operation",
    "rpm",
    "spot",
    "thickness",
    "touched",
    "upkeep",
];

/// A step as the terminal shows it, with what is known of the sheet filled in.
#[must_use]
pub fn fill(step: &Step, facts: &Facts) -> ShownStep {
    ShownStep {
        id: step.id.clone(),
        text: filled(&step.text, facts),
        help: step.help.as_ref().map(|help| filled(help, facts)),
        caution: step.caution.as_ref().map(|c| caution(c, facts)),
        ask: ask(&step.asks, facts),
        killer: step.killer,
        spot: match &step.asks {
            Asks::TouchZ => facts.spot_at,
            Asks::Hover(over) => facts.over(*over),
            _ => None,
        },
    }
}

fn caution(caution: &Caution, facts: &Facts) -> Caution {
    Caution {
        word: caution.word,
        hazard: filled(&caution.hazard, facts),
        consequence: filled(&caution.consequence, facts),
        avoid: filled(&caution.avoid, facts),
    }
}

fn ask(asks: &Asks, facts: &Facts) -> Ask {
    match asks {
        Asks::Confirm => Ask::Confirm,
        Asks::Value(reading) => {
            let shown = reading.expect.filter(|e| !e.is_kept_back());
            let (least, most) =
                if reading.expect == shown { range(reading, facts) } else { (reading.least, reading.most) };
            let expect = shown.and_then(|e| facts.expected(e));
            Ask::Value { unit: reading.unit.clone(), expect, least, most }
        }
        Asks::Choose { options, .. } => Ask::Choose { options: options.clone() },
        Asks::Place => Ask::Place { places: facts.places.clone(), fastener: value("fastener", facts) },
        Asks::RunDown => Ask::RunDown { seconds: facts.run_down.value(), left: facts.run_down_left.value() },
        Asks::TouchZ => Ask::TouchZ { leg: None },
        Asks::TouchAgain => Ask::TouchAgain { at: facts.touched_at.unwrap_or_default() },
        // where the bit stands is told by whoever knows the machine
        Asks::Hover(over) => Ask::Hover { at: facts.over(*over).unwrap_or_default(), leg: None, there: false },
        Asks::Lot { before, carried } => Ask::Lot { before: before.clone(), carried: *carried },
        Asks::Raise => Ask::Raise { leg: None, clear: false },
        Asks::Parts => Ask::Parts { names: facts.parts.clone(), graded: facts.graded.clone() },
    }
}

/// Least and most that is taken without a second look.
pub(super) fn range(reading: &Reading, facts: &Facts) -> (f64, f64) {
    let expected = reading.expect.and_then(|e| facts.expected(e));
    match (expected, reading.within) {
        (Some(expected), Some(within)) => (expected - within, expected + within),
        _ => (reading.least, reading.most),
    }
}

/// Every name between braces of a text.
pub(super) fn named(text: &str) -> impl Iterator<Item = &str> {
    text.split('{').skip(1).map(|rest| rest.split_once('}').map_or(rest, |(name, _)| name))
}

/// The text with every name between braces replaced, beginning with a capital letter.
fn filled(text: &str, facts: &Facts) -> String {
    let mut parts = text.split('{');
    let mut done = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        match part.split_once('}') {
            Some((name, rest)) => {
                done.push_str(&value(name, facts));
                done.push_str(rest);
            }
            None => done.push_str(part),
        }
    }
    let mut letters = done.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => done,
    }
}

fn value(name: &str, facts: &Facts) -> String {
    let or = |known: &Option<String>, general: &str| known.clone().unwrap_or_else(|| general.to_owned());
    match name {
        "bit" => or(&facts.bit, "the bit of the job card"),
        "button" => or(&facts.button, "on the machine"),
        "card" => or(&facts.card, "the job card"),
        "chain" if facts.chain.is_empty() => or(&facts.operation, "the cut"),
        "chain" => facts.chain.join(", then "),
        "cuts" => or(&facts.cuts, "small tabs with a chisel, large ones with a fine saw, a skin with a knife"),
        "dial" => facts.dial.map_or_else(|| "the mark for the speed".to_owned(), plain),
        "face" => or(&facts.face, "either face up"),
        "fastener" => or(&facts.fastener, "fastener"),
        "fasteners" => match facts.fasteners {
            Some(number) => number.to_string(),
            None if facts.places.is_empty() => "all".to_owned(),
            None => facts.places.len().to_string(),
        },
        "grain" => facts.grain.as_ref().map_or_else(|| "either way".to_owned(), Clone::clone),
        "hangs" => match &facts.hangs {
            Some(places) => format!("From left and front, mm: {places}"),
            None => "Look along every cut for what still holds.".to_owned(),
        },
        "label" => or(&facts.label, "of this sheet"),
        "mark" => facts.mark.map_or_else(|| "the mark on the waste board".to_owned(), place),
        "minutes" => facts.minutes.map_or_else(|| "some".to_owned(), |m| m.to_string()),
        "numbers" => match facts.bit_numbers.as_slice() {
            [] => "its number".to_owned(),
            numbers => numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
        },
        "off" => switched_off(facts.spindle).to_owned(),
        "on" => switched_on(facts.spindle).to_owned(),
        "operation" => or(&facts.operation, "the cut"),
        "rpm" => facts.rpm.map_or_else(|| "the speed of the job card".to_owned(), |rpm| rpm.to_string()),
        "spot" => or(&facts.spot, "on a flat place of the sheet that stays uncut"),
        "thickness" => match (facts.thickness, facts.thickness_window) {
            (None, _) => "as on the card".to_owned(),
            (Some(nominal), None) => nominal.to_string(),
            (Some(nominal), Some([least, most])) => format!("{nominal}; from {} to {most} will do", plain(least.mm())),
        },
        "touched" => match (facts.touched_at, facts.corner) {
            (Some(at), Some(corner)) => from_edges(at, corner, &facts.places),
            (Some(spot), None) => at(spot),
            (None, _) => "the same place".to_owned(),
        },
        "upkeep" if facts.upkeep.is_empty() => "nothing".to_owned(),
        "upkeep" => facts.upkeep.join("; "),
        _ => String::new(),
    }
}

const fn switched_off(spindle: HandOn) -> &'static str {
    match spindle {
        HandOn::Manual => "switch the router off at its own switch and pull its plug",
        HandOn::Controlled => "switch the spindle's own supply off",
    }
}

const fn switched_on(spindle: HandOn) -> &'static str {
    match spindle {
        HandOn::Manual => "put the router's plug in and switch it on",
        HandOn::Controlled => "switch the spindle's own supply on",
    }
}

fn at(spot: Spot) -> String {
    format!("at X {}, Y {}", plain(spot.x.mm().round()), plain(spot.y.mm().round()))
}

fn place(spot: Spot) -> String {
    format!("the mark at X {}, Y {}", plain(spot.x.mm()), plain(spot.y.mm()))
}
