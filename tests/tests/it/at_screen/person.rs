//! A person who works by what stands on the screen, and by keys alone.
//!
//! They see one thing more: how far the bit is above the wood. May live here: from a screen to a key. May not: the API,
//! but for that height.

use chargehand_tests::at_line::Screen;
use chargehand_tests::client::Client;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// The pace of a person: longer than the time within which Enters count as one key held down. Nothing is waited for by it.
const PACE: Duration = Duration::from_millis(450);
/// Nobody reads a step and does it in less, and an Enter that comes sooner is not taken.
const READS: Duration = Duration::from_millis(1_550);
/// A key that changed nothing on the screen within this was not taken, and is pressed again.
const TAKEN_WITHIN: Duration = Duration::from_secs(2);
const LOOK_EVERY: Duration = Duration::from_millis(20);
/// Far longer than a walk takes on a machine that does much else.
const WALKS_WITHIN: Duration = Duration::from_secs(1_200);
/// Longer than the machine is ever waited for, and than a key is: a screen that stands still so long waits for a key that
/// is not pressed.
const STANDS_STILL: Duration = Duration::from_secs(60);

/// What is chosen where it is offered, the first one first: parts of the sentences.
const CHOSEN: [&str; 8] = [
    "Sign in at the machine",
    "The bit is free",
    "Find home",
    "Set the work zero",
    "Sign what the check found",
    "Take the next sheet",
    "Cycle start",
    "Go on.",
];

/// Works until what stands on the screen is so; every key pressed is told, with its time.
pub fn work(screen: &mut Screen, eyes: &Client, what: &str, so: impl Fn(&str) -> bool) -> Vec<String> {
    let begun = Instant::now();
    let (mut pressed, mut stood) = (Vec::new(), (screen.text(), Instant::now()));
    loop {
        let text = screen.text();
        if so(&text) {
            return pressed;
        }
        if below_bar(&text) != below_bar(&stood.0) {
            stood = (text.clone(), Instant::now());
        }
        let told = || format!("never came: {what}\npressed: {}\n{text}", pressed.join(", "));
        assert!(stood.1.elapsed() < STANDS_STILL, "stands still; {}", told());
        assert!(begun.elapsed() < WALKS_WITHIN, "{}", told());
        if let Some(keys) = next(&text, eyes) {
            if keys == "\r" && stood.1.elapsed() < READS {
                sleep(LOOK_EVERY);
                continue;
            }
            let above = height(eyes);
            screen.press(&keys);
            pressed.push(format!("{:.1} s {keys:?}", begun.elapsed().as_secs_f32()));
            // a move is seen at the bit
            let _ = seen(screen, |now| now != text || (keys == "d" && height(eyes) != above));
        }
        sleep(PACE);
    }
}

/// How far the bit is above the wood, in mm; none while that is not known.
fn height(eyes: &Client) -> Option<f64> {
    eyes.now().machine.at.map(|at| at.z.mm())
}

/// What stands below the first line, which has the time of day.
fn below_bar(text: &str) -> &str {
    text.split_once('\n').map_or(text, |(_, below)| below)
}

/// Whether what stands on the screen came to be so while a key is expected to be taken.
fn seen(screen: &Screen, so: impl Fn(&str) -> bool) -> bool {
    let begun = Instant::now();
    while begun.elapsed() < TAKEN_WITHIN {
        if so(&screen.text()) {
            return true;
        }
        sleep(LOOK_EVERY);
    }
    false
}

/// Types a value until it stands there: keys typed before the step could be read are not taken.
pub fn type_value(screen: &mut Screen, value: &str) {
    let there = format!("You read: {value}_");
    let begun = Instant::now();
    while !screen.text().contains(&there) {
        assert!(begun.elapsed() < WALKS_WITHIN, "it was never typed: {value}\n{}", screen.text());
        let erase = "\u{7f}".repeat(value.len());
        screen.press(&(erase + value));
        let _ = seen(screen, |text| text.contains(&there));
    }
}

/// Presses Enter at a person's pace until what stands on the screen is so.
pub fn enter_until(screen: &mut Screen, what: &str) {
    let begun = Instant::now();
    while !screen.text().contains(what) {
        assert!(begun.elapsed() < WALKS_WITHIN, "never came: {what}\n{}", screen.text());
        screen.press("\r");
        let _ = seen(screen, |text| text.contains(what));
        sleep(PACE);
    }
}

/// The keys that what stands on the screen asks for; none while it says to wait.
pub fn next(text: &str, eyes: &Client) -> Option<String> {
    let has = |what: &str| text.contains(what);
    let key = |keys: &str| Some(keys.to_owned());
    if has("Enter does it.") || has("has it cut all the same") {
        return key("\r");
    }
    if has("Who stands at the machine?") {
        return key("Solveig\r");
    }
    // the count, and not the caution that says so too
    if has("Keep your hands away: ") || has("on its way") {
        return None;
    }
    if let Some(number) = CHOSEN.iter().find_map(|wanted| offered(text, wanted)) {
        return Some(number.to_string());
    }
    if has("Which lot is the sheet of?") {
        return key("W-2611\r");
    }
    if has("L: type what") {
        return key(if has("If no lot is marked") { "l" } else { "\r" });
    }
    if has("You read:") {
        return Some(typed(text, "You read: ", &after(text, "Expected ").or_else(|| after(text, "Possible: "))?));
    }
    if has("Type its number:") {
        return Some(typed(text, "Type its number: ", "1"));
    }
    if has("1 good   2 rework") {
        return key("1\r");
    }
    if has("Hands off, then press G") {
        return key("g");
    }
    if has("Enter: it stands over it.") {
        return key("\r");
    }
    if has("One press moves") {
        return touch(text, eyes);
    }
    let asks = ["then press Enter", "When all are seated", "Look: is it still?", "Every part is graded"];
    asks.iter().any(|asked| has(asked)).then(|| "\r".to_owned())
}

/// Types a value; and Enter once it stands there, and nothing else: not every key that is pressed early is taken.
fn typed(text: &str, field: &str, value: &str) -> String {
    let there = text.split_once(field).and_then(|(_, rest)| rest.split_once('_')).map(|(there, _)| there);
    match there {
        Some(there) if there == value => "\r".to_owned(),
        Some(there) => "\u{7f}".repeat(there.len()) + value,
        None => value.to_owned(),
    }
}

/// The number in front of an action that is not refused.
fn offered(text: &str, wanted: &str) -> Option<char> {
    text.lines().find_map(|line| {
        let (number, sentence) = line.trim_start().split_once("  ")?;
        let number = number.parse::<u32>().ok().and_then(|n| char::from_digit(n, 10))?;
        (sentence.starts_with(wanted) && !sentence.contains("Not now")).then_some(number)
    })
}

/// The number that follows a text.
fn after(text: &str, what: &str) -> Option<String> {
    let rest = text.split_once(what)?.1;
    let number: String = rest.chars().take_while(|c| c.is_ascii_digit() || *c == '.').collect();
    let number = number.trim_end_matches('.');
    (!number.is_empty()).then(|| number.to_owned())
}

/// Down onto the wood: ten, one, a tenth of a millimetre at a time, with nothing between.
fn touch(text: &str, eyes: &Client) -> Option<String> {
    let above = height(eyes)?;
    let pace: f64 = after(text, "One press moves ")?.parse().ok()?;
    let wanted = [10.0, 1.0, 0.1].into_iter().find(|p| *p <= above + 1.0e-6);
    Some(
        match wanted {
            _ if text.contains("face: paper") => "p",
            None => "\r",
            Some(wanted) if pace > wanted + 1.0e-6 => "-",
            Some(wanted) if pace < wanted - 1.0e-6 => "+",
            Some(_) => "d",
        }
        .to_owned(),
    )
}
