//! The whole table as stored text: every scene with every happening. `UPDATE=1` writes it anew.

use super::scenes::{ROUTER, by_owner, scenes};
use crate::floor::happening::{Asked, By, Happening};
use crate::floor::outcome::Outcome;
use crate::floor::permit::Epoch;
use crate::floor::refusal::Refusal;
use crate::floor::state::State;
use crate::floor::table::step;
use chargehand_types::stage::{Role, Stage};
use std::fmt::Write as _;

const STORED: &str = include_str!("../table.txt");

#[test]
#[allow(clippy::disallowed_methods, reason = "the stored text is written anew when asked")]
fn table_is_as_stored() {
    let now = table();
    if std::env::var("UPDATE").is_ok() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/floor/table.txt");
        std::fs::write(path, &now).unwrap();
        return;
    }
    for (line, (is, was)) in now.lines().zip(STORED.lines()).enumerate() {
        assert_eq!(is, was, "line {} of table.txt; UPDATE=1 writes it anew", line + 1);
    }
    assert_eq!(now.lines().count(), STORED.lines().count());
}

#[test]
fn every_stage_is_in_the_table() {
    let seen: Vec<_> = scenes(ROUTER).iter().filter_map(|(_, s)| s.stage()).collect();
    let never_on_the_machine = [Stage::Queued, Stage::SetAside, Stage::Closed];
    for stage in Stage::ALL {
        assert_eq!(seen.contains(&stage), !never_on_the_machine.contains(&stage), "{stage:?}");
    }
}

fn table() -> String {
    let mut text = String::from(
        "Every scene of the floor with every happening (acts by the owner, a router switched by hand).\n\
         Rows: happening -> stage; what changed; deeds; permit. Happenings that change nothing are left out.\n",
    );
    for (name, state) in scenes(ROUTER) {
        writeln!(text, "\n# {name}").unwrap();
        let mut refused = Vec::new();
        for happening in by_owner(ROUTER) {
            let result = step(&state, &happening, Epoch::default());
            match row(&state, &result) {
                Row::Nothing => {}
                Row::Refused(why) => refused.push((why, told(&happening))),
                Row::Follows(what) => writeln!(text, "{} -> {what}", told(&happening)).unwrap(),
            }
        }
        for (why, what) in refused {
            writeln!(text, "{what} -- {why:?}").unwrap();
        }
    }
    text
}

enum Row {
    Nothing,
    Refused(Refusal),
    Follows(String),
}

fn row(before: &State, result: &Result<Outcome, Refusal>) -> Row {
    match result {
        Err(why) => Row::Refused(*why),
        Ok(o) if o.state == *before && o.deeds.is_empty() => Row::Nothing,
        Ok(o) => {
            let stage = o.state.stage().map_or("no sheet", Stage::word);
            let mut what = format!("{stage}; {}", changes(before, &o.state));
            for deed in &o.deeds {
                write!(what, "; {deed:?}").unwrap();
            }
            if let Some(permit) = &o.permit {
                write!(what, "; permit {:?}", permit.class()).unwrap();
            }
            Row::Follows(what)
        }
    }
}

/// Which facts differ, by the lines of their debug form.
fn changes(before: &State, after: &State) -> String {
    let of = |s: &State| {
        let m = &s.machine;
        let mut facts = vec![
            format!("link {:?}", m.link),
            format!("position {:?}", m.position),
            format!("zero {:?}", m.zero),
            format!("way {:?}", m.way),
            format!("spindle {:?}", m.spindle),
            format!("bit {:?}", m.bit.map(|s| s.0)),
            format!("z {:?}", m.z_zero),
            format!("tooling {:?}", m.tooling),
            format!("motion {:?}", m.motion),
            format!("away {:?}", m.away),
            format!("store {:?}", m.store),
            format!("presence {:?}", s.presence),
            format!("lists {:?}", s.lists),
        ];
        if let Some(sheet) = &s.sheet {
            facts.push(format!("at {:?}", sheet.at));
            facts.push(format!("operation {}", sheet.operation));
            facts.push(format!("done {:b}", sheet.done.0));
            facts.push(format!("securing {:?}", sheet.securing));
            facts.push(format!("ready {:?}", sheet.ready));
            facts.push(format!("thickness {:?}", sheet.thickness));
            facts.push(format!("findings {:?}", sheet.findings));
            facts.push(format!("approval {:?}", sheet.approval));
        }
        facts
    };
    let old = of(before);
    let new: Vec<_> = of(after).into_iter().filter(|f| !old.contains(f)).collect();
    if new.is_empty() { "same".to_owned() } else { new.join(", ") }
}

fn told(happening: &Happening) -> String {
    match happening {
        Happening::Act { by: By::AtMachine(Role::Owner), what: Asked::TakeSheet(_) } => "TakeSheet".to_owned(),
        Happening::Act { by: _, what } => format!("{what:?}"),
        other => format!("{other:?}"),
    }
}
