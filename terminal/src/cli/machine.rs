//! `chargehand machine`: how it stands, hold, go on.
//!
//! May live here: one act a verb, made against a fresh look. May not: what is allowed; the daemon says so.

use super::end::End;
use super::line::{MachineLine, MachineVerb};
use super::page::{fold, json, say};
use super::person;
use crate::client::Api;
use crate::words;
use chargehand_types::act::Act;
use chargehand_types::now::{LinkNow, MachineNow, Motion, Now, OfferedAct};

pub(super) async fn run(api: &Api, line: MachineLine) -> Result<(), End> {
    match line.verb.unwrap_or(MachineVerb::Status { json: false }) {
        MachineVerb::Status { json: true } => json(&api.now().await?),
        MachineVerb::Status { json: false } => say(&status(&api.now().await?)),
        MachineVerb::Home { way_clear, who } => home(api, way_clear, who).await,
        MachineVerb::Touch { who } => seen(api, who, Act::TouchPlate).await,
        MachineVerb::NewBoard { who } => seen(api, who, Act::BoardRenewed).await,
        MachineVerb::Feed { per_cent, who } => {
            seen(api, who, Act::Override { feed: Some(per_cent), rapid: None }).await
        }
        MachineVerb::Rapid { per_cent, who } => {
            seen(api, who, Act::Override { feed: None, rapid: Some(per_cent) }).await
        }
        MachineVerb::Away { sign, who } => away(api, sign, who).await,
        MachineVerb::Here => at_once(api, Act::StillThere).await,
        MachineVerb::Hold { at_lift: true } => at_once(api, Act::HoldAtLift).await,
        MachineVerb::Hold { at_lift: false } => at_once(api, Act::Hold).await,
        MachineVerb::Stop => at_once(api, Act::Stop).await,
        MachineVerb::Resume { who } => seen(api, who, Act::Resume).await,
        MachineVerb::Raise { who } => seen(api, who, Act::Raise).await,
    }
}

/// The cautions, whether they are signed, and whether the sheet may be left now; or the signature.
async fn away(api: &Api, sign: bool, who: Option<String>) -> Result<(), End> {
    let Some(away) = api.now().await?.away else {
        let text = "Stepping away is not turned on. daemon.toml explains [away]; ask your fire code and insurer first.";
        return Err(End::Refused(text.to_owned()));
    };
    if sign {
        return seen(api, who, Act::SignCautions { version: away.version }).await;
    }
    let mut out = String::new();
    for caution in &away.cautions {
        out.push_str(&fold("", caution, 2));
        out.push('\n');
    }
    let signed = match away.signed {
        true => "The owner signed this wording.",
        false => "Not signed. The owner signs with: chargehand machine away --sign --who NAME",
    };
    out.push_str(&fold("", signed, 0));
    let now = away.why_not.map_or_else(
        || "The sheet on the machine may be left now: sign out, and stay in earshot.".to_owned(),
        |why| format!("Nothing may be left now. {why}"),
    );
    out.push_str(&fold("", &now, 0));
    say(&out)
}

/// Hold and stop wait for no look.
async fn at_once(api: &Api, act: Act) -> Result<(), End> {
    say(&fold("", &api.act(act, None).await?.said, 0))
}

/// What moves the machine is asked against what stands now.
async fn seen(api: &Api, who: Option<String>, act: Act) -> Result<(), End> {
    person::sign_in(api, who).await?;
    let version = api.now().await?.version;
    say(&fold("", &api.act(act, Some(version)).await?.said, 0))
}

async fn home(api: &Api, way_clear: bool, who: Option<String>) -> Result<(), End> {
    person::sign_in(api, who).await?;
    let now = api.now().await?;
    let mut version = now.version;
    if now.actions.iter().any(|o| o.act == OfferedAct::BitFree) {
        let clear = way_clear
            || person::asked(
                "Is the bit free of the wood, and is the way to the corner clear of hands, clamps and tools?",
                "look, then add --way-clear.",
            )?;
        if !clear {
            return Err(End::Refused("Free the bit and clear the way first. Nothing was moved.".to_owned()));
        }
        version = api.act(Act::BitFree, Some(version)).await?.now.version;
    }
    say(&fold("", &api.act(Act::Home, Some(version)).await?.said, 0))
}

fn status(now: &Now) -> String {
    let mut out = fold("", &now.headline, 0);
    out.push('\n');
    for line in machine(&now.machine) {
        out.push_str(&fold("  ", &line, 4));
    }
    match now.people.as_slice() {
        [] => out.push_str("  Nobody is signed in at the machine.\n"),
        people => {
            let names: Vec<String> = people.iter().map(|p| format!("{} ({})", p.who, words::role(p.role))).collect();
            out.push_str(&fold("  At the machine: ", &format!("{}.", names.join(", ")), 4));
        }
    }
    if let Some(sheet) = &now.sheet {
        let text = format!(
            "Sheet {} ({}), {} of {} in batch {}: {}.",
            sheet.id,
            sheet.title,
            sheet.number,
            sheet.of,
            sheet.batch,
            words::stage(sheet.stage)
        );
        out.push_str(&fold("  ", &text, 4));
    }
    out.push_str(&format!("  {} in the queue.\n", words::count(now.waiting.into(), "sheet")));
    for call in &now.calls {
        out.push_str(&fold(&format!("  Call {}: ", call.number), &call.text, 4));
    }
    if let Some(asked) = now.away.as_ref().and_then(|a| a.asked) {
        let left = words::span(asked.left);
        let text = format!("Is somebody still there? Say so within {left}: chargehand machine here");
        out.push_str(&fold("  ", &text, 4));
    }
    for notice in &now.notices {
        out.push_str(&fold("  ", notice, 4));
    }
    out
}

fn machine(m: &MachineNow) -> Vec<String> {
    let mut lines = Vec::new();
    lines.push(match &m.link {
        LinkNow::Up => format!("{}: {}.", m.name, motion(m.motion)),
        LinkNow::Opening => format!("{}: waiting for the controller to answer.", m.name),
        LinkNow::Down { why } => format!("{}: the controller does not answer. {why}", m.name),
    });
    lines.push(match (m.position_known, m.zero_confirmed) {
        (true, true) => "Its position is known and its work zero confirmed.".to_owned(),
        (true, false) => "Its position is known; its work zero is yet to be looked at over the mark.".to_owned(),
        (false, _) => "It does not know where it stands: find home first.".to_owned(),
    });
    lines.push(m.bit.as_ref().map_or_else(
        || "Which bit is in the spindle is not known.".to_owned(),
        |bit| format!("Bit {bit} is in the spindle."),
    ));
    lines.push(format!("The red button: {}.", m.red_button.trim_end_matches('.')));
    lines
}

/// What the machine does, as far as it was told.
const fn motion(motion: Motion) -> &'static str {
    match motion {
        Motion::Still => "nothing moves",
        Motion::Moving => "it is moving",
        Motion::HoldAsked => "hold was asked for and is not confirmed yet",
        Motion::Held => "the controller reports the axes held",
        Motion::Homing => "it is finding home",
        Motion::Faulted => "the controller refuses motion until somebody sees to it",
        Motion::Unknown => "what it does is not known",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::client::fake::{Fake, Reply};
    use crate::ui::samples;
    use chargehand_types::act::ActAnswer;

    #[test]
    fn a_status_reads_in_sentences() {
        let text = status(&samples::cutting());
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
        assert!(text.contains("The red button: front left"), "{text}");
    }

    fn answering() -> Fake {
        Fake::start(|request| {
            if request.line.starts_with("GET") {
                Reply::ok(&samples::lost_position())
            } else {
                Reply::ok(&ActAnswer { schema: 1, said: "Done.".into(), now: samples::lost_position() })
            }
        })
    }

    #[tokio::test]
    async fn hold_needs_no_look() {
        let fake = answering();
        at_once(&fake.api(), Act::Hold).await.unwrap();
        assert_eq!(fake.acts()[0].seen, None);
        assert_eq!(fake.seen.lock().unwrap().len(), 1);
    }

    #[tokio::test]
    async fn home_needs_a_word_about_the_way() {
        let fake = answering();
        let api = fake.api();
        home(&api, true, Some("Ada".into())).await.unwrap();
        let acts: Vec<Act> = fake.acts().into_iter().map(|a| a.act).collect();
        assert_eq!(acts, [Act::SignIn { who: "Ada".into(), pin: None }, Act::BitFree, Act::Home]);
        assert!(fake.acts().iter().all(|a| a.seen.is_some()));
    }
}
