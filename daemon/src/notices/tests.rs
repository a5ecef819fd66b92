//! Tests of the room with real receivers in this process, and a real broker where one is installed.

mod brokers;
mod calls;
mod encrypted;
mod letters;
mod monitors;

use chargehand_types::call::{Call, CallReason};
use chargehand_types::now::{LinkNow, Now};
use std::path::Path;

/// A shop at rest whose controller answers.
fn still() -> Now {
    let mut now = crate::api::tests::desk::now();
    now.machine.link = LinkNow::Up;
    now
}

fn called(number: u64) -> Now {
    let call = Call { number, reason: CallReason::Stopped, text: "The sheet stopped: look at it | now.".to_owned() };
    Now { calls: vec![call], ..still() }
}

fn unheard(folder: &Path) -> super::Unheard {
    super::Unheard::open(folder.join("not-through.json"))
}
