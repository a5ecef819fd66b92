//! Listening to whatever is at a port, without a conversation.

use super::bell::timespec;
use super::port::{Port, Read};
use rustix::event::{PollFd, PollFlags, poll};
use std::time::{Duration, Instant};

/// Bytes kept at most.
const MOST: usize = 64 * 1024;

/// Opens a port, waits for a greeting, asks, and gives everything that was said. Nothing but `ask` is written.
///
/// # Errors
/// When the port cannot be opened or is lost, as a sentence.
pub fn listen(path: &str, baud: u32, ask: &[u8], greeting: Duration, answer: Duration) -> Result<Vec<u8>, String> {
    let port = Port::open(path, baud)?;
    let mut said = hear(&port, greeting)?;
    if port.write(ask)? < ask.len() {
        return Err(format!("{path} takes no bytes"));
    }
    said.extend(hear(&port, answer)?);
    Ok(said)
}

fn hear(port: &Port, most: Duration) -> Result<Vec<u8>, String> {
    #[allow(clippy::disallowed_methods, reason = "this room waits in real time")]
    let begun = Instant::now();
    let (mut said, mut buffer) = (Vec::new(), [0_u8; 1024]);
    while let Some(left) = most.checked_sub(begun.elapsed()).filter(|l| !l.is_zero()) {
        let mut fds = [PollFd::from_borrowed_fd(port.descriptor(), PollFlags::IN)];
        // an interrupted wait is a wait that ended early
        let _ = poll(&mut fds, Some(&timespec(left)));
        let hung_up = fds[0].revents().contains(PollFlags::HUP);
        match port.read(&mut buffer, hung_up) {
            Read::Bytes(n) if said.len() < MOST => said.extend(buffer.iter().take(n)),
            Read::Bytes(_) | Read::Nothing => {}
            Read::Gone(why) => return Err(why.to_owned()),
        }
    }
    Ok(said)
}
