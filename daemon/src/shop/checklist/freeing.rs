//! What the parts still hang on when they come off the machine, in words: how many tabs, which hand tool, where each is.
//!
//! May live here: these words. May not: finding tabs, or what else holds a piece.

use chargehand_types::check::{PieceReport, TabReport};
use chargehand_types::quantity::{Length, Spot, plain};

/// A tab of at most this section is split with a chisel; a larger one is sawn. Common practice, no source.
const CHISEL_AT_MOST_MM2: f64 = 30.0;
/// A piece smaller than this and held by nothing is what fell out of a slot, not a part. Common practice, no source.
const DROP_OUT_MM2: f64 = 1000.0;

/// Tabs whose sizes differ by no more are told as one kind, mm.
const SAME_SIZE_MM: f64 = 0.3;

/// What is to be cut by hand, kind by kind: "8 tabs of 6 x 3 mm with a chisel, the skin of 0.4 mm with a knife".
#[must_use]
pub fn cuts(pieces: &[PieceReport], skin: Option<Length>) -> Option<String> {
    let mut kinds: Vec<(&TabReport, usize)> = Vec::new();
    for tab in pieces.iter().flat_map(|piece| &piece.tabs) {
        match kinds.iter_mut().find(|(known, _)| alike(known, tab)) {
            Some((_, number)) => *number += 1,
            None => kinds.push((tab, 1)),
        }
    }
    let tabs = kinds.into_iter().map(|(tab, number)| match number {
        1 => format!("1 tab {}", size(tab)),
        _ => format!("{number} tabs {}", size(tab)),
    });
    let skin = skin.map(|thick| format!("the skin of {} mm with a knife", tenths(thick)));
    let all: Vec<String> = tabs.chain(skin).collect();
    (!all.is_empty()).then(|| all.join(", "))
}

fn alike(a: &TabReport, b: &TabReport) -> bool {
    let near = |a: Length, b: Length| (a - b).mm().abs() <= SAME_SIZE_MM;
    near(a.width, b.width) && near(a.height, b.height) && tool(a) == tool(b)
}

fn tool(tab: &TabReport) -> &'static str {
    if tab.section_mm2.value() <= CHISEL_AT_MOST_MM2 { "a chisel" } else { "a fine saw" }
}

/// Along the cut at the underside, and above the underside.
fn size(tab: &TabReport) -> String {
    format!("of {} x {} mm with {}", tenths(tab.width), tenths(tab.height), tool(tab))
}

/// Where each piece hangs, from the sheet's left and front edges, and which pieces to hold while they are cut.
#[must_use]
pub fn places(pieces: &[PieceReport], corner: Spot) -> Option<String> {
    let mut told = Vec::new();
    for (number, piece) in (1..).zip(pieces) {
        let name = piece.name.clone().unwrap_or_else(|| format!("piece {number}"));
        let name = format!("{name} at {}", at(piece.centroid, corner));
        match piece.tabs.as_slice() {
            [] if piece.loose_at.is_some() && piece.area_mm2.value() >= DROP_OUT_MM2 => {
                told.push(format!("{name}: loose already."));
            }
            [] => {}
            [one] => {
                let place = at(one.at, corner);
                told.push(format!("{name}: one tab, with {}, {place}. It hangs on it: hold it first.", tool(one)));
            }
            tabs => told.push(format!("{name}: {}.", by_tool(tabs, corner))),
        }
    }
    (!told.is_empty()).then(|| told.join(" "))
}

/// The places of a piece's tabs, each tool named before those it is for, the small ones first.
fn by_tool(tabs: &[TabReport], corner: Spot) -> String {
    let mut tools: Vec<&'static str> = tabs.iter().map(tool).collect();
    tools.sort_unstable();
    tools.dedup();
    let of = |wanted: &&'static str| {
        let places: Vec<String> = tabs.iter().filter(|t| tool(t) == *wanted).map(|t| at(t.at, corner)).collect();
        format!("with {wanted} {}", places.join("; "))
    };
    tools.iter().map(of).collect::<Vec<_>>().join("; ")
}

fn tenths(length: Length) -> String {
    plain((length.mm() * 10.0).round() / 10.0)
}

/// "120 and 35": whole millimetres from the left and from the front edge, as a tape measure is read.
fn at([x, y]: [Length; 2], corner: Spot) -> String {
    format!("{} and {}", plain((x - corner.x).mm().round()), plain((y - corner.y).mm().round()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::check::{LineOf, TabStyle};
    use chargehand_types::quantity::Area;

    fn mm(value: f64) -> Length {
        Length::from_mm(value).unwrap()
    }

    fn tab(x: f64, width: f64, height: f64) -> TabReport {
        TabReport {
            at: [mm(x), mm(40.4)],
            width: mm(width),
            width_top: mm(width),
            height: mm(height),
            section_mm2: Area::of(width * height),
            style: TabStyle::Square,
        }
    }

    fn piece(name: &str, area: f64, tabs: Vec<TabReport>) -> PieceReport {
        let loose_at = tabs.is_empty().then(|| LineOf { operation: "outlines".to_owned(), line: 9 });
        PieceReport {
            name: (!name.is_empty()).then(|| name.to_owned()),
            area_mm2: Area::of(area),
            centroid: [mm(100.0), mm(60.0)],
            loose_at,
            tabs,
        }
    }

    #[test]
    fn cuts_are_told_by_size_and_hand_tool() {
        let pieces = [
            piece("side", 9e4, vec![tab(10.0, 6.0, 3.0), tab(90.0, 6.1, 3.0)]),
            piece("foot", 9e3, vec![tab(200.0, 8.0, 6.0)]),
        ];
        assert_eq!(cuts(&pieces, None).unwrap(), "2 tabs of 6 x 3 mm with a chisel, 1 tab of 8 x 6 mm with a fine saw");
        assert_eq!(cuts(&[], Some(mm(0.4))).unwrap(), "the skin of 0.4 mm with a knife");
        assert_eq!(cuts(&[piece("side", 9e4, vec![])], None), None);
    }

    #[test]
    fn places_are_told_from_the_edges_and_pieces_under_strain_named() {
        let corner = Spot { x: mm(-10.0), y: mm(0.0) };
        let side = piece("side", 9e4, vec![tab(10.0, 6.0, 3.0), tab(90.0, 6.0, 3.0)]);
        assert_eq!(
            places(std::slice::from_ref(&side), corner).unwrap(),
            "side at 110 and 60: with a chisel 20 and 40; 100 and 40."
        );
        let mixed = piece("top", 9e4, vec![tab(10.0, 8.0, 6.0), tab(90.0, 6.0, 3.0)]);
        let told = places(&[mixed], corner).unwrap();
        assert!(told.ends_with("with a chisel 100 and 40; with a fine saw 20 and 40."), "{told}");
        let hanging = piece("", 9e3, vec![tab(200.0, 6.0, 3.0)]);
        let told = places(&[hanging], corner).unwrap();
        assert!(
            told.starts_with("piece 1 at 110 and 60: one tab, with a chisel, 210 and 40.") && told.contains("hold it"),
            "{told}"
        );
        assert!(places(&[piece("top", 9e3, vec![])], corner).unwrap().ends_with("loose already."));
        assert_eq!(places(&[piece("", 200.0, vec![])], corner), None, "what fell out of a slot is no part");
    }
}
