//! `chargehand sheet`: sheets listed, shown, decided about.
//!
//! May live here: sending and showing. May not: which decisions are open; the daemon says so.

use super::end::End;
use super::line::{DecisionWord, FixVerb, SheetVerb, YesNo};
use super::page::{cut, fold, json, say, table};
use super::person;
use crate::client::Api;
use crate::{outside, words};
use chargehand_types::act::Act;
use chargehand_types::history::SheetRecord;
use chargehand_types::id::{Seq, SheetId};
use chargehand_types::label::{self, Misread, label};
use chargehand_types::now::{GradedPart, Now};
use chargehand_types::quantity::plain;
use chargehand_types::queue::{MeasureFit, SheetRow};
use chargehand_types::record::{Corrected, Correction, Fix};
use chargehand_types::stage::{Grade, Reason};

pub(super) async fn run(api: &Api, verb: SheetVerb) -> Result<(), End> {
    match verb {
        SheetVerb::List { json: true } => json(&api.sheets().await?),
        SheetVerb::List { json: false } => say(&list(&api.sheets().await?.sheets)),
        SheetVerb::Show { id, json: as_json } => {
            let record = api.sheet(&named(&id)?).await?;
            if as_json {
                json(&Shown { schema: chargehand_types::SCHEMA, record: &record })
            } else {
                say(&show(&record))
            }
        }
        SheetVerb::Fit { id, fit, slot, mate, bit } => {
            let request = MeasureFit { command_id: outside::command_id(), fit, slot, mate, bit: bit.map(Into::into) };
            say(&fold("", &api.measure_fit(&SheetId(id), &request).await?.said, 0))
        }
        SheetVerb::Print { id, output } => super::report::job_card(api, &named(&id)?, &output).await,
        SheetVerb::Correct { id, fix } => {
            let id = named(&id)?;
            let (fix, because) = match fix {
                FixVerb::Part { number, grade, reason, because } => {
                    (Fix::Part { index: number.saturating_sub(1), grade: grade.into(), reason }, because)
                }
                FixVerb::Thickness { readings, because } => (Fix::Thickness { readings }, because),
                FixVerb::Note { number, text, because } => (Fix::Note { number, text }, because),
            };
            person::sign_in(api, because.who).await?;
            say(&fold("", &api.correct_sheet(&id, fix, because.why).await?.said, 0))
        }
        SheetVerb::Lot { id, lot, who } => {
            let id = named(&id)?;
            person::sign_in(api, who).await?;
            say(&fold("", &api.name_lot(&id, lot).await?.said, 0))
        }
        SheetVerb::Approve { id, who } => {
            person::sign_in(api, who).await?;
            let seen = api.now().await?.version;
            say(&fold("", &api.act(Act::ApproveArticle { sheet: named(&id)? }, Some(seen)).await?.said, 0))
        }
        SheetVerb::Decide { id, decision, line, red_button, who } => {
            if line.is_some() && decision != DecisionWord::ReEnter {
                return Err(End::WrongUse("--line goes with re-enter only.".to_owned()));
            }
            person::sign_in(api, who).await?;
            let sheet = named(&id)?;
            let mut now = api.now().await?;
            if let Some(pressed) = red_button_answer(&now, &sheet, red_button)? {
                now = api.act(Act::RedButton { pressed }, Some(now.version)).await?.now;
            }
            let act = Act::Decide { sheet, decision: decision.into(), line };
            say(&fold("", &api.act(act, Some(now.version)).await?.said, 0))
        }
    }
}

/// The sheet of an id or of the code on its label.
///
/// # Errors
/// When the code was misread: it might be another sheet's.
pub(super) fn named(typed: &str) -> Result<SheetId, End> {
    match label::read(typed) {
        Ok(sheet) => Ok(sheet),
        Err(Misread::Form(_)) => Ok(SheetId(typed.to_owned())),
        Err(misread @ Misread::Check(_)) => Err(End::WrongUse(misread.to_string())),
    }
}

/// The first question after a stop, where it is still open for this sheet.
fn red_button_answer(now: &Now, sheet: &SheetId, said: Option<YesNo>) -> Result<Option<bool>, End> {
    let open = now
        .sheet
        .as_ref()
        .is_some_and(|s| s.id == *sheet && s.stopped.as_ref().is_some_and(|stop| stop.red_button.is_none()));
    if !open {
        return Ok(None);
    }
    match said {
        Some(YesNo::Yes) => Ok(Some(true)),
        Some(YesNo::No) => Ok(Some(false)),
        None => person::asked(
            "Was the red button pressed, the power off, or the carriage moved or stalled?",
            "add --red-button yes or --red-button no.",
        )
        .map(Some),
    }
}

/// A record as a document of its own.
#[derive(serde::Serialize)]
struct Shown<'a> {
    schema: u32,
    #[serde(flatten)]
    record: &'a SheetRecord,
}

fn list(sheets: &[SheetRow]) -> String {
    if sheets.is_empty() {
        return "No sheet yet. Add some with: chargehand batch add NAME --sheets N\n".to_owned();
    }
    let mut rows = vec![["sheet", "card", "stands", "operation", "time", "due"].map(str::to_owned).to_vec()];
    for s in sheets {
        let stands = match s.grade {
            Some(grade) => format!("closed, {}", words::grade(grade)),
            None => words::stage(s.stage).to_owned(),
        };
        rows.push(vec![
            s.id.0.clone(),
            cut(&s.card.0, 20),
            stands,
            s.operation.as_deref().map_or_else(String::new, |o| cut(o, 12)),
            words::span(s.predicted),
            s.due.map_or_else(String::new, outside::local_minute),
        ]);
    }
    table(&rows)
}

/// Everything known of a sheet, as a page.
pub(super) fn show(r: &SheetRecord) -> String {
    let on_it = label(&r.sheet).map_or_else(String::new, |code| format!(" (label {code})"));
    let mut out = format!("{}{on_it}   {}, revision {}\n", r.sheet, r.card, words::short(&r.revision.0));
    let stands = match r.grade {
        Some(grade) => format!("closed, {}", words::grade(grade)),
        None => words::stage(r.stage).to_owned(),
    };
    let moment = |at: Option<_>, word: &str| at.map(|a| format!(", {word} {}", outside::local_minute(a)));
    out.push_str(&fold(
        "  ",
        &format!(
            "{stands}{}{}",
            moment(r.begun, "taken").unwrap_or_default(),
            moment(r.closed, "closed").unwrap_or_default()
        ),
        4,
    ));
    let lists = [
        ("by: ", r.operators.iter().map(|a| format!("{} ({})", a.who, words::role(a.role))).collect::<Vec<_>>()),
        ("lot: ", r.lot.iter().cloned().collect()),
        ("thickness: ", r.thickness.iter().map(ToString::to_string).collect()),
        ("fasteners at: ", r.fasteners.iter().map(|s| format!("{}, {}", plain(s.x.mm()), plain(s.y.mm()))).collect()),
        ("bits: ", r.bits.iter().map(|(bit, way)| format!("{bit} {}", words::way(*way))).collect()),
    ];
    for (head, items) in lists {
        if !items.is_empty() {
            out.push_str(&fold(&format!("  {head}"), &items.join("; "), 4));
        }
    }
    out.push_str(&operations(r));
    out.push_str(&changed(r));
    for stop in &r.stops {
        out.push_str(&fold("  stopped: ", &format!("{} ({})", stop.text, words::stop_cause(stop.cause)), 4));
    }
    for t in &r.touched_again {
        let trust = if t.suspect { "not trusted" } else { "fine" };
        out.push_str(&fold("  touched again: ", &format!("{}, {} off, {trust}", t.bit, t.off), 4));
    }
    if !r.parts.is_empty() {
        let parts: Vec<String> = r.parts.iter().map(part).collect();
        out.push_str(&fold("  parts: ", &parts.join("; "), 4));
    }
    for joint in &r.joints {
        let play = joint.play().map_or_else(String::new, |p| format!(", {} mm of play", plain(p.mm())));
        let asked = joint.clearance.map(|c| plain(c.mm())).join(" to ");
        let text = format!("{}: {} (drawn {}){play}; {asked} mm is asked for", joint.name, joint.measured, joint.drawn);
        out.push_str(&fold("  joint: ", &text, 4));
    }
    for (nth, note) in (1..).zip(&r.notes) {
        out.push_str(&fold(&format!("  note {nth}: "), note, 4));
    }
    if let Some(cost) = &r.cost {
        let material = cost.material.map_or_else(|| "material not known".to_owned(), |m| format!("material {m:.2}"));
        let told = format!(
            "{:.2}: machine {:.2}, hands {:.2}, {material}, bits {:.2}",
            cost.total, cost.machine, cost.hands, cost.bits
        );
        out.push_str(&fold("  cost: ", &told, 4));
    }
    if let Some(left) = &r.left {
        let [x, y] = left.size.map(|side| plain(side.mm()));
        let (ax, ay) = (plain(left.at.x.mm()), plain(left.at.y.mm()));
        out.push_str(&fold("  left: ", &format!("{x} x {y} mm, from X {ax}, Y {ay}"), 4));
    }
    for correction in &r.corrections {
        out.push_str(&fold("  corrected: ", &corrected(correction), 4));
    }
    out
}

/// Overrides, re-entries and tabs.
fn changed(r: &SheetRecord) -> String {
    let mut out = String::new();
    let set: Vec<String> = r
        .overrides
        .iter()
        .map(|[feed, rapid]| {
            let told = |what: &str, value: &Option<u16>| value.map(|v| format!("{what} {v} %"));
            [told("feed", feed), told("rapids", rapid)].into_iter().flatten().collect::<Vec<_>>().join(" and ")
        })
        .collect();
    if !set.is_empty() {
        out.push_str(&fold("  set while it ran: ", &set.join("; "), 4));
    }
    for entry in &r.re_entries {
        let where_to =
            entry.line.map_or_else(|| "cut again from its start".to_owned(), |line| format!("went on at line {line}"));
        let by = entry.by.as_ref().map_or_else(String::new, |by| format!(", by {}", by.who));
        out.push_str(&fold("  after a stop: ", &format!("operation {} {where_to}{by}", entry.operation + 1), 4));
    }
    if let Some(tabs) = r.tabs.filter(|tabs| *tabs > 0) {
        out.push_str(&fold("  held by: ", &words::count(tabs.into(), "tab"), 4));
    }
    out
}

/// A correction as one sentence: what holds, what was said, who says so, when and why.
pub(crate) fn corrected(of: &Correction) -> String {
    let by = of.by.as_ref().map_or_else(String::new, |by| format!(" by {} ({})", by.who, words::role(by.role)));
    format!("{}. {}{by}: {}", correction(&of.what, of.record), outside::local_minute(of.at), of.why)
}

/// What holds now, and what was said first.
pub(crate) fn correction(what: &Corrected, record: Seq) -> String {
    let came = |(grade, reason): &(Grade, Option<Reason>)| {
        let why = reason.map_or_else(String::new, |reason| format!(" ({})", words::reason(reason)));
        format!("{}{why}", words::grade(*grade))
    };
    let thick =
        |all: &[chargehand_types::quantity::Length]| all.iter().map(|t| plain(t.mm())).collect::<Vec<_>>().join(", ");
    match what {
        Corrected::Part { index, name, was, now } => {
            format!("part {} {name} is {}, was {}", index + 1, came(now), came(was))
        }
        Corrected::Thickness { was, now } => format!("thickness is {} mm, was {}", thick(now), thick(was)),
        Corrected::Note { number, was, .. } => format!("note {number} read: {was}"),
        Corrected::Outcome { was, now } => format!("the sheet is {}, was {}", words::grade(*now), words::grade(*was)),
        Corrected::Other => format!("record {record}"),
    }
}

fn part(p: &GradedPart) -> String {
    let why = p.reason.map_or_else(String::new, |reason| format!(" ({})", words::reason(reason)));
    format!("{} {}: {}{why}", p.index + 1, p.name, words::grade(p.grade))
}

fn operations(r: &SheetRecord) -> String {
    if r.operations.is_empty() {
        return String::new();
    }
    let mut rows = vec![["operation", "bit", "foretold", "took", "held", "cut"].map(str::to_owned).to_vec()];
    for o in &r.operations {
        rows.push(vec![
            o.name.clone(),
            match (&o.bit, o.number) {
                (Some(bit), Some(number)) => format!("{bit} no. {number}"),
                (Some(bit), None) => bit.0.clone(),
                (None, _) => String::new(),
            },
            words::span(o.predicted),
            o.real.map_or_else(|| "unfinished".to_owned(), words::span),
            words::span(o.held),
            words::way(o.cut),
        ]);
    }
    let mut out: String = table(&rows).lines().map(|l| format!("  {l}\n")).collect();
    let waited = r.operations.iter().filter(|o| o.waiting.value() > 0.0).map(|o| {
        let planned = o.waiting_predicted.map_or_else(String::new, |p| format!(" ({} planned)", words::span(p)));
        format!("{} {}{planned}", o.name, words::span(o.waiting))
    });
    let waited: Vec<String> = waited.collect();
    if !waited.is_empty() {
        out.push_str(&fold("  lists and waiting before: ", &waited.join("; "), 4));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::client::fake::{Fake, Reply};
    use crate::ui::samples;
    use chargehand_types::act::ActAnswer;
    use chargehand_types::stage::Decision;

    #[test]
    fn a_list_fits_eighty_columns() {
        let text = list(&samples::sheets().sheets);
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        assert!(text.contains("B1-1"), "{text}");
    }

    #[test]
    fn a_record_tells_all() {
        let text = show(&samples::record());
        for part in ["B1-1", "foretold", "slots", "12 min", "c635 8.4 m", "Ada (owner)", "side: good"] {
            assert!(text.contains(part), "{part} in\n{text}");
        }
    }

    #[test]
    fn a_label_names_its_sheet_and_a_misread_one_none() {
        assert_eq!(named("b1n1 i").unwrap(), SheetId::from("B1-1"));
        assert_eq!(named("B1-1").unwrap(), SheetId::from("B1-1"));
        let end = named("B1N2-I").unwrap_err();
        assert_eq!(end.exit(), 2);
        assert!(end.message().unwrap().contains("misread"), "{end}");
        assert!(show(&samples::record()).contains("(label B1N1-I)"));
    }

    #[tokio::test]
    async fn the_red_button_question_comes_first() {
        let fake = Fake::start(|request| {
            if request.line.starts_with("GET") {
                Reply::ok(&samples::stopped())
            } else {
                Reply::ok(&ActAnswer { schema: 1, said: "Done.".into(), now: samples::stopped() })
            }
        });
        let verb = |red_button| SheetVerb::Decide {
            id: "B1-1".into(),
            decision: DecisionWord::Restart,
            line: None,
            red_button,
            who: None,
        };
        run(&fake.api(), verb(Some(YesNo::Yes))).await.unwrap();
        let acts: Vec<Act> = fake.acts().into_iter().map(|a| a.act).collect();
        let decide = Act::Decide { sheet: "B1-1".into(), decision: Decision::Restart, line: None };
        assert_eq!(acts, [Act::RedButton { pressed: true }, decide]);
    }

    #[tokio::test]
    async fn a_line_goes_with_re_entry_only() {
        let fake = Fake::start(|_| Reply::ok(&samples::stopped()));
        let verb = SheetVerb::Decide {
            id: "B1-1".into(),
            decision: DecisionWord::End,
            line: Some(4),
            red_button: None,
            who: None,
        };
        assert_eq!(run(&fake.api(), verb).await.unwrap_err().exit(), 2);
    }
}
