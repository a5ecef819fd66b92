//! `chargehand notices desktop`: calls as messages on the desktop of whoever runs it (freedesktop.org, Desktop Notifications
//! Specification), by the desktop's own program, until interrupted. The daemon is a service and has no desktop.
//!
//! May live here: which message is shown, and the program that shows it. May not: who is told by other ways.

use super::end::End;
use super::page::say;
use crate::client::{Api, ClientFault, Heard};
use chargehand_types::call::Call;
use chargehand_types::event::What;
use std::process::{Command, Stdio};

/// The desktop's program (package libnotify-bin in Debian).
const PROGRAM: &str = "notify-send";

/// How much a message presses; a critical one stays until it is closed (the specification's urgency levels).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Urgency {
    Low,
    Critical,
}

/// A message for the desktop.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Message {
    urgency: Urgency,
    title: String,
    text: String,
}

pub(super) async fn run(api: &Api) -> Result<(), End> {
    let now = api.now().await?;
    let machine = now.machine.name;
    let title = |what: &str| format!("{machine}: {what}");
    let begun = "Its calls are shown here.".to_owned();
    show(Message { urgency: Urgency::Low, title: title("Chargehand"), text: begun }).await?;
    say(&format!("The calls of {machine} are shown on this desktop until this is interrupted.\n"))?;
    let mut told = 0;
    let mut calls = now.calls;
    let mut stream = api.events(Some(now.seq));
    let mut lost = false;
    loop {
        for call in calls.drain(..) {
            // what stood at the beginning may come once more as an event
            if call.number > told {
                told = call.number;
                show(Message { urgency: Urgency::Critical, title: title("somebody is called"), text: call.text })
                    .await?;
            }
        }
        match stream.next().await {
            Heard::Open if std::mem::take(&mut lost) => {
                let text = "The daemon answers again.".to_owned();
                show(Message { urgency: Urgency::Low, title: title("Chargehand"), text }).await?;
            }
            Heard::Lost(fault) => {
                lost = true;
                show(silent(&title("nothing is heard of it"), &fault)).await?;
            }
            Heard::Event(event) => {
                if let What::CallRaised { number, reason, text } = event.event()?.what {
                    calls.push(Call { number, reason, text });
                }
            }
            Heard::Gap => calls = api.now().await?.calls,
            Heard::Open | Heard::Position(_) | Heard::Plan(_) => {}
        }
    }
}

/// Without the daemon nobody is called: that is worth a look too.
fn silent(title: &str, fault: &ClientFault) -> Message {
    let fault = fault.to_string();
    // the rest of it says how a daemon is started
    let why = fault.lines().next().unwrap_or_default();
    Message { urgency: Urgency::Critical, title: title.to_owned(), text: format!("{why} Look at the machine.") }
}

/// The words after the program's name, as its manual has them. What begins with a dash is no option behind `--`; the
/// body may hold markup, so that what would be taken for it is written out.
fn arguments(message: &Message) -> Vec<String> {
    let urgency = match message.urgency {
        Urgency::Low => "low",
        Urgency::Critical => "critical",
    };
    let body = message.text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
    ["--app-name=Chargehand".to_owned(), format!("--urgency={urgency}"), "--".to_owned(), message.title.clone(), body]
        .into()
}

async fn show(message: Message) -> Result<(), End> {
    let told = tokio::task::spawn_blocking(move || {
        Command::new(PROGRAM).args(arguments(&message)).stdin(Stdio::null()).stdout(Stdio::null()).output()
    });
    let missing = |why: String| {
        End::Missing(format!(
            "Nothing can be shown on this desktop: {PROGRAM} {why}. Install it (in Debian: apt install libnotify-bin), and \
             run this within a desktop session."
        ))
    };
    match told.await {
        Ok(Ok(done)) if done.status.success() => Ok(()),
        Ok(Ok(done)) => {
            let said = String::from_utf8_lossy(&done.stderr);
            Err(missing(format!("ended with {}: {}", done.status, said.trim())))
        }
        Ok(Err(e)) => Err(missing(format!("cannot be started: {e}"))),
        Err(e) => Err(missing(format!("cannot be started: {e}"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_is_no_option_and_no_markup() {
        let message = Message {
            urgency: Urgency::Critical,
            title: "Router 1: somebody is called".to_owned(),
            text: "-v <b>3 & 4".to_owned(),
        };
        assert_eq!(
            arguments(&message),
            [
                "--app-name=Chargehand",
                "--urgency=critical",
                "--",
                "Router 1: somebody is called",
                "-v &lt;b&gt;3 &amp; 4"
            ]
        );
    }
}
