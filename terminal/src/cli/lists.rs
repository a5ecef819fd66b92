//! `chargehand lists`: how the lists of the day stand, and one walked step by step on the command line.
//!
//! May live here: a step on the tty and the line typed for it. May not: what an answer comes to; the daemon says so.

use super::end::End;
use super::line::ListsVerb;
use super::page::{fold, json, say};
use super::person;
use crate::client::Api;
use crate::outside;
use chargehand_types::act::Act;
use chargehand_types::checklist::{Ask, DayListNow, ListKind, StepAnswer, Task};
use chargehand_types::now::Now;
use chargehand_types::problem::ProblemKind;
use chargehand_types::quantity::plain;
use std::io::{BufRead, Write};
use std::time::Duration;

/// A run-down is looked at so often while it counts.
const COUNT_EVERY: Duration = Duration::from_millis(500);

pub(super) async fn run(api: &Api, verb: Option<ListsVerb>, as_json: bool) -> Result<(), End> {
    match verb {
        None if as_json => json(&Standing { schema: chargehand_types::SCHEMA, lists: &api.now().await?.lists }),
        None => say(&standing(&api.now().await?.lists)),
        Some(ListsVerb::Walk { list, who }) => {
            person::sign_in(api, who).await?;
            walk(api, list.into(), &mut std::io::stdin().lock()).await
        }
    }
}

#[derive(serde::Serialize)]
struct Standing<'a> {
    schema: u32,
    lists: &'a [DayListNow],
}

/// Each list: who did it last, what is due and who may begin without it.
fn standing(lists: &[DayListNow]) -> String {
    let mut out = String::new();
    for list in lists {
        let last = match (&list.by, list.at) {
            (Some(who), Some(at)) => format!("last done by {who}, {}", outside::local_minute(at)),
            (None, Some(at)) => format!("last done {}", outside::local_minute(at)),
            (_, None) => "never done".to_owned(),
        };
        let left = list.left_off.map_or_else(String::new, |[at, of]| format!("; put down after step {at} of {of}"));
        out.push_str(&fold("", &format!("{} ({}): {last}{left}.", list.title, list.list.word()), 4));
        if let Some(due) = &list.due {
            out.push_str(&fold("    DUE: ", due, 9));
        }
    }
    out
}

/// Walks a list to its end, or until the input ends; its place is kept then.
async fn walk(api: &Api, list: ListKind, input: &mut impl BufRead) -> Result<(), End> {
    let mut now = api.now().await?;
    now = api.act(Act::BeginList { list }, Some(now.version)).await?.now;
    let mut shown = None;
    loop {
        let Some(task) = now.task.clone().filter(|t| t.list == list) else { return Ok(()) };
        if shown.as_ref() != Some(&task.step.id) {
            say(&told(&task))?;
            shown = Some(task.step.id.clone());
        }
        if let Ask::RunDown { .. } = task.step.ask {
            now = counted(api, now).await?;
        }
        let Some(line) = typed(input, &prompt(&task.step.ask))? else {
            let said = api.act(Act::LeaveList, Some(now.version)).await?.said;
            return Err(End::Refused(said));
        };
        if line == "?" {
            say(&fold("  ", task.step.help.as_deref().unwrap_or("The list has no more to say about this step."), 2))?;
            continue;
        }
        let Some(answer) = answer(&task.step.ask, &line) else {
            say(&fold("", &asked(&task.step.ask), 2))?;
            continue;
        };
        match api.act(Act::Answer { step: task.step.id.clone(), answer }, Some(now.version)).await {
            Ok(answered) => {
                say(&fold("  ", &answered.said, 2))?;
                now = answered.now;
            }
            // read too quickly, or things moved on: said, and asked once more
            Err(fault)
                if fault.problem().is_some_and(|p| matches!(p.kind, ProblemKind::NotNow | ProblemKind::SeenIsOld)) =>
            {
                say(&fold("  ", &fault.to_string(), 2))?;
                now = api.now().await?;
            }
            Err(fault) => return Err(fault.into()),
        }
    }
}

/// The run-down, waited for.
async fn counted(api: &Api, mut now: Now) -> Result<Now, End> {
    while let Some(Ask::RunDown { left, .. }) = now.task.as_ref().map(|t| &t.step.ask)
        && *left > 0.0
    {
        eprint!("\rKeep your hands away: {} s more  ", left.ceil());
        tokio::time::sleep(COUNT_EVERY).await;
        now = api.now().await?;
    }
    Ok(now)
}

fn told(task: &Task) -> String {
    let mut out = fold(&format!("{}, step {} of {}: ", task.title, task.number, task.of), &task.step.text, 4);
    if let Some(note) = &task.note {
        out.push_str(&fold("  ", note, 2));
    }
    if let Some(c) = &task.step.caution {
        let text = format!("{} {} {}", c.hazard, c.consequence, c.avoid);
        out.push_str(&fold(&format!("  {}: ", c.word.word()), &text, 4));
    }
    if let Ask::Choose { options } = &task.step.ask {
        for (number, option) in (1..).zip(options) {
            out.push_str(&fold(&format!("  {number}  "), &option.text, 5));
        }
    }
    out
}

fn prompt(ask: &Ask) -> String {
    match ask {
        Ask::Choose { .. } => "number (? for more): ".to_owned(),
        Ask::Value { unit, .. } => format!("you read, {unit} (? for more): "),
        _ => "done it and looked? Enter (? for more): ".to_owned(),
    }
}

/// What a line must be.
fn asked(ask: &Ask) -> String {
    match ask {
        Ask::Choose { options } => format!("Type a number from 1 to {}.", options.len()),
        Ask::Value { least, most, .. } => format!("Type a number from {} to {}.", plain(*least), plain(*most)),
        _ => "Press Enter alone, or ? for more.".to_owned(),
    }
}

/// The answer a line gives; none when it gives none.
fn answer(ask: &Ask, line: &str) -> Option<StepAnswer> {
    match ask {
        Ask::Confirm => line.is_empty().then_some(StepAnswer::Done),
        Ask::RunDown { .. } => line.is_empty().then_some(StepAnswer::Still),
        Ask::Value { .. } => Some(StepAnswer::Value { value: line.replace(',', ".").parse().ok()? }),
        Ask::Choose { options } => {
            let number: usize = line.parse().ok()?;
            Some(StepAnswer::Choice { key: options.get(number.checked_sub(1)?)?.key.clone() })
        }
        Ask::Place { .. }
        | Ask::TouchZ { .. }
        | Ask::TouchAgain { .. }
        | Ask::Hover { .. }
        | Ask::Raise { .. }
        | Ask::Lot { .. }
        | Ask::Parts { .. } => None,
    }
}

/// A line, without its end; none when the input is over.
fn typed(input: &mut impl BufRead, prompt: &str) -> Result<Option<String>, End> {
    eprint!("{prompt}");
    // a prompt that cannot be shown is no reason to stop
    let _ = std::io::stderr().flush();
    let mut line = String::new();
    let read = input.read_line(&mut line).map_err(|e| End::Missing(format!("The answer cannot be read: {e}.")))?;
    Ok((read > 0).then(|| line.trim().to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::client::fake::{Fake, Reply};
    use crate::ui::samples;
    use chargehand_types::act::ActAnswer;

    #[test]
    fn what_is_due_is_told_with_who_may_begin_without() {
        let text = standing(&samples::morning().lists);
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        assert!(
            text.contains("last done by Ada") && text.contains("DUE: ") && text.contains("the owner may"),
            "{text}"
        );
    }

    #[test]
    fn a_line_is_an_answer_or_none() {
        let options = samples::opening().task.unwrap().step.ask;
        assert_eq!(answer(&options, "2"), Some(StepAnswer::Choice { key: "fastener".into() }));
        assert_eq!((answer(&options, "4"), answer(&options, "0"), answer(&options, "")), (None, None, None));
        assert_eq!(answer(&Ask::Confirm, ""), Some(StepAnswer::Done));
        assert_eq!(answer(&Ask::Confirm, "y"), None);
    }

    #[tokio::test]
    async fn a_list_is_put_down_where_the_input_ends() {
        let fake = Fake::start(|request| {
            if request.line.starts_with("GET") {
                Reply::ok(&samples::opening())
            } else {
                Reply::ok(&ActAnswer { schema: 1, said: "Put down.".into(), now: samples::opening() })
            }
        });
        let end = walk(&fake.api(), ListKind::Opening, &mut &b"9\n1\n"[..]).await.unwrap_err();
        assert_eq!(end.exit(), 4);
        let acts: Vec<Act> = fake.acts().into_iter().map(|a| a.act).collect();
        let taken = Act::Answer { step: "board".into(), answer: StepAnswer::Choice { key: "clean".into() } };
        assert_eq!(acts, [Act::BeginList { list: ListKind::Opening }, taken, Act::LeaveList]);
    }
}
