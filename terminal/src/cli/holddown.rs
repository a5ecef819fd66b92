//! `chargehand holddown`: where the fasteners of a card go, worked out by the daemon; and the drawing of it.
//!
//! May live here: sending and showing. May not: any distance or force.

use super::end::End;
use super::files;
use super::line::{HolddownLine, PaperWord, TapeWord};
use super::page::{fold, json, say, table};
use crate::client::Api;
use crate::{outside, words};
use chargehand_types::holddown::{HoldDownAnswer, HoldDownRequest, Paper, PaperSize, PlaceMeasured, Tape};
use chargehand_types::quantity::plain;

pub(super) async fn run(api: &Api, line: HolddownLine) -> Result<(), End> {
    let drawing = line.output.is_some().then_some(Paper {
        size: match line.paper {
            PaperWord::A4 => PaperSize::A4,
            PaperWord::Letter => PaperSize::Letter,
        },
        tape: match line.tape {
            TapeWord::Mm => Tape::Mm,
            TapeWord::Inch => Tape::Inch,
        },
    });
    let request = HoldDownRequest {
        files: files::read(&line.card)?,
        thickness: line.thickness,
        fastener: line.fastener,
        at: line.at,
        bowed: line.bowed,
        programs: line.mark.is_some() || line.hover.is_some(),
        drawing,
    };
    let mut answer = api.hold_down(&request).await?;
    if let Some(path) = &line.output {
        let svg = answer.svg.take().unwrap_or_default();
        let cannot = |e| End::Missing(format!("{}: the drawing cannot be written: {e}.", path.display()));
        outside::write_file(path, svg.as_bytes()).map_err(cannot)?;
        eprintln!("The drawing is in {}. Print it at full size.", path.display());
    }
    if let Some(programs) = answer.programs.take() {
        for (path, text, what) in [(&line.mark, programs.mark, "marks"), (&line.hover, programs.hover, "hovers over")] {
            let Some(path) = path else { continue };
            let cannot = |e| End::Missing(format!("{}: the program cannot be written: {e}.", path.display()));
            outside::write_file(path, text.as_bytes()).map_err(cannot)?;
            eprintln!("{} {what} the places. Put it on a card as an operation to have it checked.", path.display());
        }
    }
    for left in &answer.left_out {
        eprintln!("Not in this picture: {left}.");
    }
    match (line.json, answer.asked.is_empty()) {
        (true, true) => json(&answer)?,
        (true, false) => json(&answer.asked)?,
        (false, true) => say(&planned(&answer))?,
        (false, false) => say(&measured(&answer.asked))?,
    }
    let good = if answer.asked.is_empty() {
        answer.troubles.is_empty() && !answer.places.is_empty()
    } else {
        answer.asked.iter().all(|place| place.ok)
    };
    if good { Ok(()) } else { Err(End::No) }
}

fn air(clearance: Option<f64>) -> String {
    clearance.map_or_else(|| "nothing near".to_owned(), |mm| format!("{} mm", plain((mm * 100.0).round() / 100.0)))
}

/// Places asked for, one a line.
fn measured(places: &[PlaceMeasured]) -> String {
    let mut out = String::new();
    for place in places {
        let word = if place.ok { "safe" } else { "NOT SAFE" };
        let at = format!("X {} Y {}: {word}, ", plain(place.at.x.mm()), plain(place.at.y.mm()));
        let mut told = format!("the bit's edge comes within {}", air(place.clearance_mm));
        if place.clearance_mm.is_none() {
            "nothing is cut".clone_into(&mut told);
        }
        if let (Some(operation), Some(line)) = (&place.operation, place.line) {
            told.push_str(&format!(" in {operation}, line {line}"));
        }
        for note in &place.notes {
            told.push_str("; ");
            told.push_str(note);
        }
        out.push_str(&fold(&at, &told, 4));
    }
    out
}

/// The whole plan as a page.
fn planned(answer: &HoldDownAnswer) -> String {
    let mut out = format!(
        "{}   sheet {}   revision {}\n  {}, {}\n\n",
        answer.card,
        answer.thickness,
        words::short(&answer.revision.0),
        answer.fastener,
        if answer.given { "at the places the card gives" } else { "proposed" },
    );
    let heading = ["place", "from the left", "from the front", "air", ""].map(str::to_owned).to_vec();
    let mut rows = vec![heading];
    for place in &answer.places {
        rows.push(vec![
            place.number.to_string(),
            place.tape[0].to_string(),
            place.tape[1].to_string(),
            air(place.clearance_mm),
            if place.hit { "WOULD BE HIT".to_owned() } else { String::new() },
        ]);
    }
    if answer.places.is_empty() {
        out.push_str("  No place can be given.\n");
    } else {
        out.extend(table(&rows).lines().map(|l| format!("  {l}\n")));
        out.push('\n');
        for place in answer.places.iter().filter(|_| !answer.given) {
            out.push_str(&fold(&format!("  {}  ", place.number), &place.why, 5));
        }
    }
    if let (Some(holds), Some(needs)) = (answer.holds_n, answer.needs_n) {
        let told = format!("They hold {:.0} N; {:.0} N are needed, safety included.", holds.value(), needs.value());
        out.push_str(&fold("", &told, 2));
    }
    for trouble in &answer.troubles {
        out.push_str(&fold("! ", trouble, 2));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::holddown::PlacePlanned;
    use chargehand_types::quantity::{Force, Length, Spot};

    fn spot(x: i64, y: i64) -> Spot {
        Spot { x: Length::whole_mm(x), y: Length::whole_mm(y) }
    }

    #[test]
    fn a_plan_fits_eighty_columns() {
        let place = |number, x, y, hit| PlacePlanned {
            number,
            at: spot(x, y),
            tape: [Length::whole_mm(x), Length::whole_mm(y)],
            clearance_mm: Some(32.456),
            hit,
            why: "for the near left corner, which has no room: the nearest safe place along its edges".to_owned(),
        };
        let text = planned(&HoldDownAnswer {
            schema: 1,
            card: "herb-crate".into(),
            revision: "3f2a9c41be0011".into(),
            thickness: Length::whole_mm(12),
            fastener: "4.0 x 30 countersunk wood screw".into(),
            asked: vec![],
            given: false,
            places: vec![place(1, 15, 15, false), place(2, 595, 1205, true)],
            troubles: vec!["the far left corner has no room, nor have its edges: move the parts in from there".into()],
            largest_free: None,
            holds_n: Some(Force::of(812.4)),
            needs_n: Some(Force::of(130.2)),
            left_out: vec![],
            programs: None,
            svg: None,
        });
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        assert!(text.contains("595 mm") && text.contains("32.46 mm  WOULD BE HIT"), "{text}");
        assert!(text.contains("They hold 812 N; 130 N are needed"), "{text}");
    }

    #[test]
    fn a_place_is_told_in_words() {
        let mut place = PlaceMeasured {
            at: spot(20, 590),
            clearance_mm: Some(3.0),
            on_sheet: false,
            ok: false,
            operation: Some("outlines".into()),
            line: Some(79),
            notes: vec!["it lies outside the sheet".into()],
        };
        let told = measured(&[place.clone()]);
        assert!(
            told.starts_with("X 20 Y 590: NOT SAFE, the bit's edge comes within 3 mm in outlines, line 79"),
            "{told}"
        );
        assert!(told.contains("outside the sheet"), "{told}");
        (place.clearance_mm, place.ok, place.operation) = (None, true, None);
        assert!(measured(&[place]).contains("safe, nothing is cut"));
    }
}
