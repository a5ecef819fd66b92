//! Two programs of one operation side by side.
//!
//! May live here: single comparisons and their sentences. May not: the card around them.

use crate::findings::cutplan::{CutPlan, Entries, Lift};
use chargehand_types::change::ChangeKind;
use chargehand_types::check::{Extents, OperationReport};
use chargehand_types::quantity::{Feed, Length, Metres, Rpm, plain};
use std::collections::BTreeMap;

/// Heights within this (mm) are the same.
const SAME: f64 = 0.02;
/// Places and lengths within this (mm) are the same.
const SAME_PLACE: f64 = 0.005;
/// A difference of way or time below this share is none.
const LEAST_SHARE: f64 = 0.001;
/// More depths than these are told by number and range only.
const DEPTHS_TOLD: usize = 8;
/// More feeds than these, likewise.
const FEEDS_TOLD: usize = 4;

/// One side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Known<'a> {
    pub(super) plan: &'a CutPlan,
    /// Work Z of the sheet's face.
    pub(super) face: f64,
    /// Across the bit, mm.
    pub(super) width: f64,
    pub(super) report: &'a OperationReport,
}

/// Says everything that differs.
pub(super) fn compare(was: &Known<'_>, is: &Known<'_>, say: &mut dyn FnMut(ChangeKind, String)) {
    bits(was, is, say);
    speeds(was, is, say);
    feeds(&was.plan.feeds, &is.plan.feeds, ChangeKind::Feed, "is fed at", say);
    feeds(&was.plan.plunge_feeds, &is.plan.plunge_feeds, ChangeKind::PlungeFeed, "plunges at", say);
    depths(was, is, say);
    entries(was, is, say);
    tabs(was, is, say);
    let moved = place(was, is, say);
    if !moved {
        runs(was, is, say);
    }
    way("cuts", ChangeKind::Way, was.report.cut_m, is.report.cut_m, say);
    way("travels", ChangeKind::Rapids, was.report.rapid_m, is.report.rapid_m, say);
    time(was, is, say);
}

fn bits(was: &Known<'_>, is: &Known<'_>, say: &mut dyn FnMut(ChangeKind, String)) {
    let list = |plan: &CutPlan| -> Vec<String> { plan.tools.iter().map(|(_, t)| format!("T{t}")).collect() };
    let (old, new) = (list(was.plan), list(is.plan));
    if old != new {
        let told = |list: &[String]| if list.is_empty() { "no bit".to_owned() } else { list.join(", then ") };
        say(ChangeKind::Bit, format!("calls {}, before {}", told(&new), told(&old)));
    }
}

fn speeds(was: &Known<'_>, is: &Known<'_>, say: &mut dyn FnMut(ChangeKind, String)) {
    if was.plan.speeds == is.plan.speeds {
        return;
    }
    let told = |speeds: &[Rpm]| match speeds {
        [] => "at no speed it names".to_owned(),
        some => "at ".to_owned() + &some.iter().map(ToString::to_string).collect::<Vec<_>>().join(", then "),
    };
    say(ChangeKind::Speed, format!("turns the spindle {}, before {}", told(&is.plan.speeds), told(&was.plan.speeds)));
}

fn feeds(
    was: &BTreeMap<Feed, f64>,
    is: &BTreeMap<Feed, f64>,
    kind: ChangeKind,
    verb: &str,
    say: &mut dyn FnMut(ChangeKind, String),
) {
    if was.keys().eq(is.keys()) {
        return;
    }
    let told = |feeds: &BTreeMap<Feed, f64>| -> String {
        let numbers: Vec<String> = feeds.keys().map(|f| plain(f.unit())).collect();
        match (numbers.as_slice(), feeds.keys().next(), feeds.keys().next_back()) {
            ([], _, _) => "not at all".to_owned(),
            (many, Some(least), Some(most)) if many.len() > FEEDS_TOLD => {
                format!("{} feeds from {} to {} mm/min", many.len(), plain(least.unit()), plain(most.unit()))
            }
            (some, _, _) => format!("{} mm/min", some.join(" and ")),
        }
    };
    say(kind, format!("{verb} {}, before {}", told(is), told(was)));
}

/// How deep each level pass goes; the tops of tabs are no passes.
fn pass_depths(of: &Known<'_>) -> Vec<f64> {
    let tops: Vec<f64> = of.plan.tabs(of.face).map(|l| l.top).collect();
    let passes = of.plan.passes(of.face).into_iter().map(Length::mm);
    passes.filter(|z| tops.iter().all(|top| (top - z).abs() > SAME)).map(|z| of.face - z).collect()
}

fn depths(was: &Known<'_>, is: &Known<'_>, say: &mut dyn FnMut(ChangeKind, String)) {
    let (old, new) = (pass_depths(was), pass_depths(is));
    let same = |a: &[f64], b: &[f64]| a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() <= SAME_PLACE);
    let told = |depths: &[f64]| match depths {
        [] => "no level pass".to_owned(),
        [first, .., last] if depths.len() > DEPTHS_TOLD => {
            format!("{} depths from {} to {} mm", depths.len(), plain(*first), plain(*last))
        }
        some => format!("{} mm", some.iter().map(|d| plain(*d)).collect::<Vec<_>>().join(", ")),
    };
    if !same(&old, &new) {
        say(
            ChangeKind::Depths,
            format!("cuts in {} ({}), before in {} ({})", passes(&new), told(&new), passes(&old), told(&old)),
        );
        return;
    }
    let deepest = |of: &Known<'_>| of.plan.lowest().map_or(0.0, |low| of.face - low);
    let (old, new) = (deepest(was), deepest(is));
    if (old - new).abs() > SAME_PLACE {
        say(ChangeKind::Depths, format!("goes {} mm deep, before {} mm", plain(new), plain(old)));
    }
}

fn passes(depths: &[f64]) -> String {
    match depths.len() {
        1 => "1 pass".to_owned(),
        n => format!("{n} passes"),
    }
}

fn entries(was: &Known<'_>, is: &Known<'_>, say: &mut dyn FnMut(ChangeKind, String)) {
    let told = |e: &Entries| {
        let all = [(e.plunges, "plunge"), (e.ramps, "ramp"), (e.helices, "helix")];
        let some: Vec<String> = all.iter().filter(|(n, _)| *n > 0).map(|(n, what)| counted(*n, what)).collect();
        let steep = if e.ramps + e.helices > 0 {
            format!(", {} deg at most", plain((e.steepest * 10.0).round() / 10.0))
        } else {
            String::new()
        };
        if some.is_empty() { "from the air".to_owned() } else { format!("by {}{steep}", some.join(" and ")) }
    };
    let (old, new) = (told(&was.plan.entries), told(&is.plan.entries));
    if old != new {
        say(ChangeKind::Entry, format!("goes down into the wood {new}, before {old}"));
    }
}

fn counted(n: u32, what: &str) -> String {
    match (n, what) {
        (1, _) => format!("1 {what}"),
        (_, "helix") => format!("{n} helices"),
        _ => format!("{n} {what}s"),
    }
}

fn tabs(was: &Known<'_>, is: &Known<'_>, say: &mut dyn FnMut(ChangeKind, String)) {
    let told = |of: &Known<'_>| {
        let tabs: Vec<&Lift> = of.plan.tabs(of.face).collect();
        let least = |value: fn(&Lift) -> f64| tabs.iter().map(|l| value(l)).reduce(f64::min);
        match (tabs.len(), least(Lift::height), least(|l| l.way_at_top)) {
            (n, Some(height), Some(way)) => {
                let width = plain((way - of.width).max(0.0));
                format!(
                    "{} ({} mm high, {width} mm wide on top, or more)",
                    counted(u32::try_from(n).unwrap_or(u32::MAX), "tab"),
                    plain(height)
                )
            }
            _ => "no tab".to_owned(),
        }
    };
    let (old, new) = (told(was), told(is));
    if old != new {
        say(ChangeKind::Tabs, format!("leaves {new}, before {old}"));
    }
}

/// Where it cuts; a program that is the same size elsewhere was moved.
fn place(was: &Known<'_>, is: &Known<'_>, say: &mut dyn FnMut(ChangeKind, String)) -> bool {
    let (Some([ax, ay]), Some([bx, by])) = (spans(&was.report.cut_extents), spans(&is.report.cut_extents)) else {
        return false;
    };
    let near = |a: f64, b: f64| (a - b).abs() <= SAME_PLACE;
    if [ax, ay].iter().zip([bx, by]).all(|(a, b)| near(a[0], b[0]) && near(a[1], b[1])) {
        return false;
    }
    let (dx, dy) = (bx[0] - ax[0], by[0] - ay[0]);
    if near(ax[1] + dx, bx[1]) && near(ay[1] + dy, by[1]) {
        say(
            ChangeKind::Place,
            format!("is cut {} mm along X and {} mm along Y from where it was", signed(dx), signed(dy)),
        );
    } else {
        let told = |[x, y]: [[f64; 2]; 2]| {
            format!("X {} to {}, Y {} to {}", plain(x[0]), plain(x[1]), plain(y[0]), plain(y[1]))
        };
        say(ChangeKind::Place, format!("cuts within {}, before within {}", told([bx, by]), told([ax, ay])));
    }
    true
}

fn spans(extents: &Extents) -> Option<[[f64; 2]; 2]> {
    Some([extents.x?.map(Length::mm), extents.y?.map(Length::mm)])
}

fn signed(value: f64) -> String {
    if value > 0.0 { format!("+{}", plain(value)) } else { plain(value) }
}

fn runs(was: &Known<'_>, is: &Known<'_>, say: &mut dyn FnMut(ChangeKind, String)) {
    let (old, new) = (&was.plan.runs, &is.plan.runs);
    if old == new {
        return;
    }
    let sorted = |runs: &[[Length; 2]]| {
        let mut runs = runs.to_vec();
        runs.sort_unstable();
        runs
    };
    if sorted(old) == sorted(new) {
        say(ChangeKind::Runs, "makes the same runs in another order".to_owned());
    } else if old.len() == new.len() {
        let moved = sorted(old).iter().zip(sorted(new)).filter(|(a, b)| **a != *b).count();
        say(ChangeKind::Runs, format!("begins {moved} of its {} runs elsewhere", new.len()));
    } else {
        say(ChangeKind::Runs, format!("cuts in {} runs, before in {}", new.len(), old.len()));
    }
}

fn way(verb: &str, kind: ChangeKind, was: Metres, is: Metres, say: &mut dyn FnMut(ChangeKind, String)) {
    let (old, new) = (was.value(), is.value());
    if (new - old).abs() > LEAST_SHARE * old.max(new) {
        say(kind, format!("{verb} {} m, before {} m{}", rounded(new), rounded(old), share(old, new)));
    }
}

fn time(was: &Known<'_>, is: &Known<'_>, say: &mut dyn FnMut(ChangeKind, String)) {
    let (old, new) = (was.report.seconds.value(), is.report.seconds.value());
    if (new - old).abs() > LEAST_SHARE * old.max(new) {
        say(ChangeKind::Time, format!("takes {:.0} s, before {:.0} s{}", new, old, share(old, new)));
    }
}

fn rounded(metres: f64) -> String {
    plain((metres * 100.0).round() / 100.0)
}

fn share(old: f64, new: f64) -> String {
    if old <= 0.0 { String::new() } else { format!(" ({:+.1} %)", (new / old - 1.0) * 100.0) }
}
