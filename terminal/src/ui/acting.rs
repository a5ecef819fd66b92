//! From an offer on the list to the act that is sent, and what is said before it is.
//!
//! May live here: that table and its words. May not: whether it is allowed; the daemon's list says so.

use super::model::{Dialog, Intent, Model, Tone};
use crate::words::{Words, say};
use chargehand_types::act::Act;
use chargehand_types::checklist::ListKind;
use chargehand_types::now::{Now, Offer, OfferedAct};
use chargehand_types::stage::Decision;

/// What the numbered list shows: everything offered that has no place of its own on the screen. An answer has the
/// step; hold, hold at the lift and trouble have their keys.
#[must_use]
pub fn listed(now: &Now, words: &Words) -> Vec<Offer> {
    let mut offers: Vec<Offer> = now.actions.iter().filter(|o| has_no_place(o.act)).cloned().collect();
    if !now.people.is_empty() && !offers.iter().any(|o| o.act == OfferedAct::SignOut) {
        let names: Vec<&str> = now.people.iter().map(|p| p.who.0.as_str()).collect();
        let text = say!(words, "offer.sign-out", names = names.join(", "));
        offers.push(Offer { act: OfferedAct::SignOut, text, refused: None });
    }
    offers
}

/// An offer as a sentence, with why not now where it is refused.
#[must_use]
pub fn told(offer: &Offer, words: &Words) -> String {
    let end = if offer.text.ends_with(['.', '?', '!']) { "" } else { "." };
    match &offer.refused {
        None => format!("{}{end}", offer.text),
        Some(why) => format!("{}{end} {}", offer.text, say!(words, "offer.not-now", why = why)),
    }
}

const fn has_no_place(act: OfferedAct) -> bool {
    match act {
        OfferedAct::Answer | OfferedAct::Hold | OfferedAct::HoldAtLift | OfferedAct::Trouble => false,
        OfferedAct::SignIn
        | OfferedAct::SignOut
        | OfferedAct::TakeSheet
        | OfferedAct::SignFinding
        | OfferedAct::CycleStart
        | OfferedAct::Resume
        | OfferedAct::Raise
        | OfferedAct::Stop
        | OfferedAct::RedButtonYes
        | OfferedAct::RedButtonNo
        | OfferedAct::BitFree
        | OfferedAct::Home
        | OfferedAct::ConfirmZero
        | OfferedAct::ReEnter
        | OfferedAct::Restart
        | OfferedAct::Next
        | OfferedAct::SetAside
        | OfferedAct::End
        | OfferedAct::AnswerCall
        | OfferedAct::Opening
        | OfferedAct::Closing
        | OfferedAct::HandOver
        | OfferedAct::AfterPowerCut
        | OfferedAct::LeaveList
        | OfferedAct::StillThere
        | OfferedAct::ApproveArticle => true,
    }
}

/// What Enter would do, said before it is done; none for what harms nobody and is undone with a key.
#[must_use]
pub fn asks_first(act: OfferedAct, words: &Words) -> Option<String> {
    Some(match act {
        OfferedAct::SignIn
        | OfferedAct::SignOut
        | OfferedAct::TakeSheet
        | OfferedAct::AnswerCall
        | OfferedAct::Opening
        | OfferedAct::Closing
        | OfferedAct::HandOver
        | OfferedAct::AfterPowerCut
        | OfferedAct::LeaveList
        | OfferedAct::SignFinding
        | OfferedAct::Answer
        | OfferedAct::Hold
        | OfferedAct::HoldAtLift
        | OfferedAct::Trouble => return None,
        OfferedAct::StillThere => say!(words, "first.still-there"),
        OfferedAct::CycleStart => say!(words, "first.cycle-start"),
        OfferedAct::Resume => say!(words, "first.resume"),
        OfferedAct::Raise => say!(words, "first.raise"),
        OfferedAct::Stop => say!(words, "first.stop"),
        OfferedAct::RedButtonYes => say!(words, "first.button-yes"),
        OfferedAct::RedButtonNo => say!(words, "first.button-no"),
        OfferedAct::BitFree => say!(words, "first.bit-free"),
        OfferedAct::Home => say!(words, "first.home"),
        OfferedAct::ConfirmZero => say!(words, "first.confirm-zero"),
        OfferedAct::ReEnter => say!(words, "first.re-enter"),
        OfferedAct::Restart => say!(words, "first.restart"),
        OfferedAct::Next => say!(words, "first.next"),
        OfferedAct::SetAside => say!(words, "first.set-aside"),
        OfferedAct::End => say!(words, "first.end"),
        OfferedAct::ApproveArticle => say!(words, "first.approve"),
    })
}

/// A numbered action was chosen.
pub fn choose(model: &mut Model, offer: &Offer, intents: &mut Vec<Intent>) {
    let Some(seen) = model.standing().map(|n| n.version) else { return };
    model.dialog = None;
    if let Some(why) = &offer.refused {
        model.say(why.clone(), Tone::Refused);
        return;
    }
    let opened = model.clock;
    match offer.act {
        // free text is asked only while no motion is permitted
        OfferedAct::SignIn if model.at_work() => {
            model.say(say!(model.settings.words, "said.sign-in-later"), Tone::Refused);
        }
        OfferedAct::SignIn => model.dialog = Some(Dialog::Name { typed: String::new() }),
        OfferedAct::SignFinding => model.dialog = Some(Dialog::Sign { seen, opened }),
        act if asks_first(act, model.settings.words).is_some() => {
            model.dialog = Some(Dialog::Confirm { act, text: offer.text.clone(), seen, opened });
        }
        act => {
            if let Some(act) = model.standing().and_then(|now| act_of(act, now)) {
                model.ask(act, Some(seen), intents);
            }
        }
    }
}

/// The act behind an offer; none where it needs more than a choice.
#[must_use]
pub fn act_of(offered: OfferedAct, now: &Now) -> Option<Act> {
    let decide = |decision| {
        let sheet = now.sheet.as_ref()?.id.clone();
        Some(Act::Decide { sheet, decision, line: None })
    };
    match offered {
        OfferedAct::SignIn | OfferedAct::Answer | OfferedAct::SignFinding => None,
        OfferedAct::SignOut => Some(Act::SignOut),
        OfferedAct::TakeSheet => Some(Act::TakeSheet { sheet: now.next_sheet.clone() }),
        OfferedAct::CycleStart => Some(Act::CycleStart),
        OfferedAct::Hold => Some(Act::Hold),
        OfferedAct::HoldAtLift => Some(Act::HoldAtLift),
        OfferedAct::Resume => Some(Act::Resume),
        OfferedAct::Raise => Some(Act::Raise),
        OfferedAct::Stop => Some(Act::Stop),
        OfferedAct::Trouble => Some(Act::Trouble),
        OfferedAct::RedButtonYes => Some(Act::RedButton { pressed: true }),
        OfferedAct::RedButtonNo => Some(Act::RedButton { pressed: false }),
        OfferedAct::BitFree => Some(Act::BitFree),
        OfferedAct::Home => Some(Act::Home),
        OfferedAct::ConfirmZero => Some(Act::ConfirmZero),
        OfferedAct::ReEnter => decide(Decision::ReEnter),
        OfferedAct::Restart => decide(Decision::Restart),
        OfferedAct::Next => decide(Decision::Next),
        OfferedAct::SetAside => decide(Decision::SetAside),
        OfferedAct::End => decide(Decision::End),
        OfferedAct::AnswerCall => now.calls.first().map(|c| Act::AnswerCall { number: c.number }),
        OfferedAct::Opening => Some(Act::BeginList { list: ListKind::Opening }),
        OfferedAct::Closing => Some(Act::BeginList { list: ListKind::Closing }),
        OfferedAct::HandOver => Some(Act::BeginList { list: ListKind::HandOver }),
        OfferedAct::AfterPowerCut => Some(Act::BeginList { list: ListKind::AfterPowerCut }),
        OfferedAct::LeaveList => Some(Act::LeaveList),
        OfferedAct::StillThere => Some(Act::StillThere),
        OfferedAct::ApproveArticle => {
            now.to_approve.as_ref().map(|first| Act::ApproveArticle { sheet: first.sheet.clone() })
        }
    }
}
