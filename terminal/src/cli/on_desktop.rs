//! `chargehand notices desktop`: calls as messages on the desktop of whoever runs it (freedesktop.org, Desktop Notifications
//! Specification), by the desktop's own program, until interrupted. The daemon is a service and has no desktop.
//!
//! May live here: which message is shown, and the program that shows it. May not: who is told by other ways.

use super::end::End;
use super::page::say;
use crate::client::{Api, Heard};
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

/// What is shown of one machine.
struct Desktop {
    machine: String,
    /// The highest number of a call that was shown.
    shown: u64,
}

impl Desktop {
    fn message(&self, urgency: Urgency, what: &str, text: String) -> Message {
        Message { urgency, title: format!("{}: {what}", self.machine), text }
    }

    /// Shows what was not shown yet: a call that stood at the beginning may come once more as an event.
    async fn calls(&mut self, calls: Vec<Call>) {
        for call in calls.into_iter().filter(|call| call.number > self.shown).collect::<Vec<_>>() {
            self.shown = call.number;
            self.tell(Urgency::Critical, "somebody is called", call.text).await;
        }
    }

    /// Shows a message. Whoever counts on this is not left without the next one because of this one.
    async fn tell(&self, urgency: Urgency, what: &str, text: String) {
        let message = self.message(urgency, what, text);
        let words = format!("{}: {}", message.title, message.text);
        if let Err(end) = show(message).await {
            eprintln!("{end}\nNot shown: {words}");
        }
    }
}

pub(super) async fn run(api: &Api) -> Result<(), End> {
    let now = api.now().await?;
    let mut desktop = Desktop { machine: now.machine.name, shown: 0 };
    // a desktop that shows nothing is told at once, and not at the first call
    show(desktop.message(Urgency::Low, "Chargehand", "Its calls are shown here.".to_owned())).await?;
    say(&format!("The calls of {} are shown on this desktop until this is interrupted.\n", desktop.machine))?;
    desktop.calls(now.calls).await;
    let mut stream = api.events(Some(now.seq));
    let mut lost = false;
    loop {
        match stream.next().await {
            Heard::Open if std::mem::take(&mut lost) => {
                desktop.tell(Urgency::Low, "Chargehand", "The daemon answers again.".to_owned()).await;
            }
            Heard::Lost(fault) => {
                lost = true;
                let fault = fault.to_string();
                // the rest of it says how a daemon is started. Without one nobody is called: that is worth a look too
                let why = fault.lines().next().unwrap_or_default();
                let text = format!("{why} Look at the machine.");
                desktop.tell(Urgency::Critical, "nothing is heard of it", text).await;
            }
            Heard::Event(event) => match event.event().map(|e| e.what) {
                Ok(What::CallRaised { number, reason, text }) => {
                    desktop.calls(vec![Call { number, reason, text }]).await;
                }
                Ok(_) => {}
                Err(fault) => eprintln!("{fault}"),
            },
            // of a journal that was begun anew the calls count from one again
            Heard::Gap => match api.now().await {
                Ok(now) => {
                    desktop.shown = 0;
                    desktop.calls(now.calls).await;
                }
                Err(fault) => eprintln!("{fault}"),
            },
            Heard::Open | Heard::Position(_) | Heard::Plan(_) => {}
        }
    }
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
