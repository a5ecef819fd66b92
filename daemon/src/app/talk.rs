//! What speaks at a port: every profile that ships is tried at its baud rates, and what is heard is told in plain words.

use crate::link::{asks_for_report, overheard};
use crate::serial::listen;
use crate::shop::profile::{ACKNOWLEDGED_WINDOW, NUMBERED_CHECKSUM, Profile, profile};
use std::fmt::Write as _;
use std::time::Duration;

/// Real time for an answer.
const ANSWER: Duration = Duration::from_millis(1500);
/// A greeting is waited for no longer.
const GREETING_MS: u64 = 3000;

/// The profiles that ship, by name.
fn shipped() -> Vec<(&'static str, Profile)> {
    let texts = [("acknowledged-window", ACKNOWLEDGED_WINDOW), ("numbered-checksum", NUMBERED_CHECKSUM)];
    texts.into_iter().filter_map(|(name, text)| Some((name, profile(name, text).ok()?))).collect()
}

/// Talks to a port and tells what was heard, in lines for people. It asks for reports and moves nothing.
///
/// # Errors
/// When the port cannot be used, as a sentence.
pub fn talk(port: &str) -> Result<String, String> {
    let mut told = String::new();
    let mut best: Option<(usize, &str, u32)> = None;
    for (name, profile) in shipped() {
        for baud in profile.keys.baud_candidates.clone() {
            let greeting = Duration::from_millis(profile.keys.greeting_within_ms.min(GREETING_MS));
            let said = listen(port, baud, &asks_for_report(&profile), greeting, ANSWER)?;
            let lines = overheard(&profile, &said);
            let known = lines.iter().filter(|l| l.means.is_some()).count();
            // writing to a text cannot fail
            let _ = writeln!(told, "{name} at {baud} baud: {known} of {} lines understood", lines.len());
            for line in &lines {
                let means = line.means.as_deref().unwrap_or("not known to this profile");
                let _ = writeln!(told, "    {:<50} {means}", line.line.escape_default().to_string());
            }
            let all = known == lines.len() && lines.iter().any(|line| line.telling);
            if known > best.map_or(0, |(known, ..)| known) {
                best = Some((known, name, baud));
            }
            if all {
                let _ = writeln!(told, "This fits: profile = \"{name}\", baud = {baud}.");
                return Ok(told);
            }
        }
    }
    let _ = match best {
        Some((_, name, baud)) => {
            writeln!(
                told,
                "Nothing fits wholly; nearest is {name} at {baud} baud. Copy its file and change what is not known."
            )
        }
        None => writeln!(told, "It said nothing that any profile knows. Is it switched on? Try another baud rate."),
    };
    Ok(told)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::clock::MachineClock;
    use crate::practice::{Habits, Setup, Wire};
    use crate::simulator::Simulator;
    use std::sync::Arc;

    fn heard_of(wire: Wire) -> String {
        let setup = Setup {
            rates: [133.0, 133.0, 50.0],
            accelerations: [400.0, 400.0, 200.0],
            deviation: 0.02,
            travel: [[0.0, 640.0], [0.0, 1250.0], [-90.0, 0.0]],
            baud: 115_200,
            faults: Vec::new(),
        };
        let folder = tempfile::tempdir().unwrap();
        let habits = Habits { wire, ..Habits::default() };
        let clock = Arc::new(MachineClock::starting(1.0));
        let simulator = Simulator::start_named(setup, habits, clock, folder.path().join("port")).unwrap();
        talk(simulator.path()).unwrap()
    }

    #[test]
    fn the_profile_that_fits_is_named() {
        let told = heard_of(Wire::Window);
        assert!(told.contains("profile = \"acknowledged-window\", baud = 115200"), "{told}");
        assert!(told.contains("it refuses motion until home is found"), "{told}");
    }

    #[test]
    fn numbered_lines_are_known_by_their_answers() {
        let told = heard_of(Wire::Numbered);
        assert!(told.contains("profile = \"numbered-checksum\", baud = 115200"), "{told}");
    }

    #[test]
    fn a_port_that_is_none_is_told() {
        let why = talk("/dev/chargehand-no-such-port").unwrap_err();
        assert!(why.contains("there is no port"), "{why}");
    }
}
