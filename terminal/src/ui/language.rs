//! How things stand, with what the daemon says of them in the language of the screens.
//!
//! May live here: which of it is a sentence. May not: the sentences (`words`).

use crate::words::Words;
use chargehand_types::checklist::{Ask, Task};
use chargehand_types::now::{LinkNow, Now};

/// Every sentence of the daemon in the language, as far as it is known; names and numbers stay.
pub fn in_language(now: &mut Now, words: &Words) {
    let told = |text: &mut String| *text = words.told(text);
    let perhaps = |text: &mut Option<String>| {
        if let Some(text) = text {
            *text = words.told(text);
        }
    };
    if !words.tells() {
        return;
    }
    told(&mut now.headline);
    now.notices.iter_mut().for_each(told);
    now.calls.iter_mut().for_each(|call| call.text = words.told(&call.text));
    for offer in &mut now.actions {
        told(&mut offer.text);
        perhaps(&mut offer.refused);
    }
    for list in &mut now.lists {
        told(&mut list.title);
        perhaps(&mut list.due);
    }
    if let LinkNow::Down { why } = &mut now.machine.link {
        told(why);
    }
    if let Some(stopped) = now.sheet.as_mut().and_then(|s| s.stopped.as_mut()) {
        told(&mut stopped.record.text);
    }
    for finding in now.sheet.iter_mut().flat_map(|s| &mut s.to_sign) {
        told(&mut finding.means);
        told(&mut finding.remedy);
    }
    if let Some(task) = &mut now.task {
        of_task(task, words);
    }
}

fn of_task(task: &mut Task, words: &Words) {
    let step = &mut task.step;
    for text in [Some(&mut task.title), Some(&mut step.text), step.help.as_mut(), task.note.as_mut()]
        .into_iter()
        .chain([task.changed.as_mut()])
        .flatten()
    {
        *text = words.told(text);
    }
    if let Some(caution) = &mut step.caution {
        for text in [&mut caution.hazard, &mut caution.consequence, &mut caution.avoid] {
            *text = words.told(text);
        }
    }
    match &mut step.ask {
        Ask::Choose { options } => {
            for option in options {
                option.text = words.told(&option.text);
            }
        }
        // "mm" stays: what is typed is judged by it
        Ask::Value { unit, .. } if unit != super::units::MM => *unit = words.told(unit),
        Ask::Place { fastener, .. } => *fastener = words.told(fastener),
        Ask::Value { .. }
        | Ask::Confirm
        | Ask::RunDown { .. }
        | Ask::TouchZ { .. }
        | Ask::TouchAgain { .. }
        | Ask::Hover { .. }
        | Ask::Raise { .. }
        | Ask::Lot { .. }
        | Ask::Parts { .. } => {}
    }
}
