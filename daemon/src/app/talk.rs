//! What speaks at a port: the shop's own profiles and those that ship are tried at their baud rates, and what is heard
//! is told in plain words.

use super::premises::{PremisesFault, own_controllers};
use crate::link::{asks_for_report, overheard};
use crate::serial::listen;
use crate::shop::fault;
use crate::shop::profile::{ACKNOWLEDGED_WINDOW, NUMBERED_CHECKSUM, Profile, profile};
use crate::shop::shelf::Page;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::time::Duration;

/// Real time for an answer.
const ANSWER: Duration = Duration::from_millis(1500);
/// A greeting is waited for no longer.
const GREETING_MS: u64 = 3000;
/// Tried where a profile names no rate.
const USUAL_BAUD: u32 = 115_200;

/// A profile to try.
struct Candidate {
    name: String,
    /// The shop's own file, where it is one.
    file: Option<String>,
    profile: Profile,
}

/// The profiles of a shop's folder `controllers/`, by name.
pub type Own = BTreeMap<String, Page>;

/// The shop's own profiles, for [`talk`]: those beside this `daemon.toml`, which itself is not read.
///
/// # Errors
/// When the folder is there and cannot be read.
pub fn own_profiles(config: &Path) -> Result<Own, PremisesFault> {
    own_controllers(config)
}

/// The shop's own first: a file of a shipped one's name stands for it. What cannot be read is told.
fn candidates(own: &Own, told: &mut String) -> Vec<Candidate> {
    let mut all = Vec::new();
    for (name, page) in own {
        match profile(&page.file, &page.text) {
            Ok(profile) => all.push(Candidate { name: name.clone(), file: Some(page.file.clone()), profile }),
            Err(faults) => {
                // writing to a text cannot fail
                let _ = writeln!(told, "{} is not tried, it is malformed:\n{}", page.file, fault::told(&faults));
            }
        }
    }
    for (name, text) in [("acknowledged-window", ACKNOWLEDGED_WINDOW), ("numbered-checksum", NUMBERED_CHECKSUM)] {
        if let Ok(profile) = profile(name, text)
            && !own.contains_key(name)
        {
            all.push(Candidate { name: name.to_owned(), file: None, profile });
        }
    }
    all
}

/// Talks to a port and tells what was heard, in lines for people. It asks for reports and moves nothing.
///
/// # Errors
/// When the port cannot be used, as a sentence.
pub fn talk(port: &str, own: &Own) -> Result<String, String> {
    let mut told = String::new();
    let mut best: Option<(usize, String, u32)> = None;
    for candidate in candidates(own, &mut told) {
        let Candidate { name, profile, .. } = &candidate;
        let mut bauds = profile.keys.baud_candidates.clone();
        if bauds.is_empty() {
            bauds.push(USUAL_BAUD);
        }
        for baud in bauds {
            let greeting = Duration::from_millis(profile.keys.greeting_within_ms.min(GREETING_MS));
            let said = listen(port, baud, &asks_for_report(profile), greeting, ANSWER)?;
            let lines = overheard(profile, &said);
            let known = lines.iter().filter(|l| l.means.is_some()).count();
            // writing to a text cannot fail
            let _ = writeln!(told, "{name} at {baud} baud: {known} of {} lines understood", lines.len());
            for line in &lines {
                let means = line.means.as_deref().unwrap_or("not known to this profile");
                let _ = writeln!(told, "    {:<50} {means}", line.line.escape_default().to_string());
            }
            let all = known == lines.len() && lines.iter().any(|line| line.telling);
            if known > best.as_ref().map_or(0, |(known, ..)| *known) {
                best = Some((known, name.clone(), baud));
            }
            if all {
                let whose = candidate.file.as_ref().map_or_else(String::new, |file| format!(" It is your own {file}."));
                let _ = writeln!(told, "This fits: profile = \"{name}\", baud = {baud}.{whose}");
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

    fn heard_of(wire: Wire, own: &Own) -> String {
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
        talk(simulator.path(), own).unwrap()
    }

    #[test]
    fn the_profile_that_fits_is_named() {
        let told = heard_of(Wire::Window, &Own::new());
        assert!(told.contains("profile = \"acknowledged-window\", baud = 115200"), "{told}");
        assert!(told.contains("it refuses motion until home is found"), "{told}");
    }

    #[test]
    fn numbered_lines_are_known_by_their_answers() {
        let told = heard_of(Wire::Numbered, &Own::new());
        assert!(told.contains("profile = \"numbered-checksum\", baud = 115200"), "{told}");
    }

    #[test]
    fn the_shops_own_profile_comes_first_and_a_malformed_one_is_told() {
        let page = |name: &str, text: String| (name.to_owned(), Page::new(format!("controllers/{name}.toml"), text));
        let own = Own::from([
            page("broken", ACKNOWLEDGED_WINDOW.replace("greeting = '^", "greeting = '^(")),
            page("our-router", ACKNOWLEDGED_WINDOW.replace("[115200, 250000, 1000000]", "[]")),
        ]);
        let told = heard_of(Wire::Window, &own);
        assert!(told.contains("controllers/broken.toml is not tried, it is malformed"), "{told}");
        let fits = "This fits: profile = \"our-router\", baud = 115200. It is your own controllers/our-router.toml.";
        assert!(told.contains(fits), "{told}");
    }

    #[test]
    fn a_port_that_is_none_is_told() {
        let why = talk("/dev/chargehand-no-such-port", &Own::new()).unwrap_err();
        assert!(why.contains("there is no port"), "{why}");
    }
}
