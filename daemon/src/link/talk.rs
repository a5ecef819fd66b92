//! What the link writes: commands of the profile with their values filled in.

use super::wire::Override;
use crate::shop::profile::Profile;
use chargehand_types::act::Axis;
use chargehand_types::quantity::{Feed, Length, Point, Rpm};

/// A length as it is written to a controller: at most four decimals.
fn mm(l: Length) -> String {
    let text = format!("{:.4}", l.mm());
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

fn lines(command: &str) -> Vec<String> {
    command.split('|').filter(|c| !c.is_empty()).map(str::to_owned).collect()
}

/// Find home.
pub(in crate::link) fn home(p: &Profile) -> Vec<String> {
    lines(&p.keys.commands.home)
}

/// Take motion again.
pub(in crate::link) fn unlock(p: &Profile) -> Vec<String> {
    lines(&p.keys.commands.unlock)
}

/// G54 to these machine coordinates.
pub(in crate::link) fn set_work_zero(p: &Profile, at: Point) -> Vec<String> {
    let c = &p.keys.commands.set_work_zero;
    lines(&c.replace("{x}", &mm(at.x)).replace("{y}", &mm(at.y)).replace("{z}", &mm(at.z)))
}

/// The bit's place on this axis reads a value.
pub(in crate::link) fn zero_here(p: &Profile, axis: Axis, value: Length) -> Vec<String> {
    let c = &p.keys.commands.zero_here;
    lines(&c.replace("{axis}", &axis.letter().to_string()).replace("{value}", &mm(value)))
}

/// One axis by hand.
pub(in crate::link) fn hand_move(p: &Profile, axis: Axis, by: Length, feed: Feed) -> Vec<String> {
    let c = &p.keys.commands.hand_move;
    lines(
        &c.replace("{axis}", &axis.letter().to_string())
            .replace("{by}", &mm(by))
            .replace("{feed}", &mm(Length(feed.0))),
    )
}

/// The line that ends a command and says nothing of what was to be done: it undoes what its first lines set, and is
/// written though one of them was refused.
pub(in crate::link) fn closing(command: &str) -> Option<&str> {
    command.rsplit_once('|').map(|(_, last)| last).filter(|last| !last.contains('{'))
}

/// A step of an axis that runs by hand: in words that can be broken off, where there are any.
pub(in crate::link) fn run_step(p: &Profile, axis: Axis, by: Length, feed: Feed) -> Vec<String> {
    let c = &p.keys.commands.run;
    if c.is_empty() || p.keys.at_once.end_run.is_empty() {
        return hand_move(p, axis, by, feed);
    }
    let axis = axis.letter().to_string();
    lines(&c.replace("{axis}", &axis).replace("{by}", &mm(by)).replace("{feed}", &mm(Length(feed.0))))
}

/// Straight up, then sideways to a place of the machine.
pub(in crate::link) fn over(p: &Profile, at: Point) -> Vec<String> {
    lines(&p.keys.commands.over.replace("{x}", &mm(at.x)).replace("{y}", &mm(at.y)).replace("{z}", &mm(at.z)))
}

/// Down along Z until something is met.
pub(in crate::link) fn touch(p: &Profile, by: Length, feed: Feed) -> Vec<String> {
    lines(&p.keys.commands.touch.replace("{by}", &mm(by)).replace("{feed}", &mm(Length(feed.0))))
}

/// Bit up, spindle off.
pub(in crate::link) fn raise(p: &Profile, machine_z: Length) -> Vec<String> {
    let mut all = lines(&p.keys.commands.raise.replace("{z}", &mm(machine_z)));
    all.extend(lines(&p.keys.commands.spindle_off));
    all
}

/// Spindle on at a speed, or off.
pub(in crate::link) fn spindle(p: &Profile, speed: Option<Rpm>) -> Vec<String> {
    match speed {
        Some(rpm) => lines(&p.keys.commands.spindle_on.replace("{rpm}", &mm(Length(rpm.0 * 1000)))),
        None => lines(&p.keys.commands.spindle_off),
    }
}

/// The lines that set feeds and rapids to so much per cent; none where this controller has none for one that is wanted.
pub(in crate::link) fn override_lines(profile: &Profile, wanted: Override) -> Option<Vec<String>> {
    let commands = &profile.keys.commands;
    let mut all = Vec::new();
    for (per_cent, command) in [(wanted.feed, &commands.feed_override), (wanted.rapid, &commands.rapid_override)] {
        match per_cent {
            Some(0) => return None,
            Some(_) if command.is_empty() => return None,
            Some(per_cent) => all.extend(lines(&command.replace("{per_cent}", &per_cent.to_string()))),
            None => {}
        }
    }
    (!all.is_empty()).then_some(all)
}

/// The bytes that set feeds and rapids to so much per cent, whatever they were set to before; none where this controller
/// has none for it.
pub(in crate::link) fn per_cent(profile: &Profile, wanted: Override) -> Option<String> {
    let keys = &profile.keys.at_once;
    let mut bytes = String::new();
    if let Some(feed) = wanted.feed {
        let (steps, key) =
            if feed >= 100 { (feed - 100, &keys.feed_plus_10) } else { (100 - feed, &keys.feed_minus_10) };
        if keys.feed_whole.is_empty() || key.is_empty() || steps % 10 != 0 || feed == 0 {
            return None;
        }
        bytes.push_str(&keys.feed_whole);
        bytes.push_str(&key.repeat(usize::from(steps / 10)));
    }
    if let Some(rapid) = wanted.rapid {
        let key = match rapid {
            100 => &keys.rapid_whole,
            50 => &keys.rapid_half,
            25 => &keys.rapid_quarter,
            _ => return None,
        };
        if key.is_empty() {
            return None;
        }
        bytes.push_str(key);
    }
    Some(bytes)
}
