//! `chargehand events`: the event stream as JSON Lines, until interrupted.
//!
//! May live here: one line an event, a word on stderr when the stream breaks. May not: positions, which are no events.

use super::end::End;
use super::page::say;
use crate::client::{Api, Heard};
use chargehand_types::id::Seq;

pub(super) async fn run(api: &Api, since: Option<u64>) -> Result<(), End> {
    let mut stream = api.events(since.map(Seq));
    let mut was_open = false;
    loop {
        match stream.next().await {
            Heard::Open => {
                if was_open {
                    eprintln!("The daemon answers again.");
                }
                was_open = true;
            }
            Heard::Event(told) => {
                // one event, one line, whatever the daemon's layout
                let line = told.json.replace('\n', " ");
                say(&format!("{line}\n"))?;
            }
            Heard::Position(_) | Heard::Plan(_) => {}
            Heard::Gap => eprintln!("Events are missing here: the journal does not reach back, or was begun anew."),
            Heard::Lost(fault) if !was_open => return Err(fault.into()),
            Heard::Lost(fault) => eprintln!("{fault}\nTrying again until interrupted."),
        }
    }
}
