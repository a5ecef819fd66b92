//! A whole check measured: reading, timing, sheet map, findings and hold-down of a relief, without the search for its
//! working window.

use super::sheet;
use chargehand_daemon::findings::{Bench, Case, check};
use chargehand_daemon::shop::{card, config, profile, stores};
use chargehand_types::card::Stores;
use std::collections::BTreeMap;
use std::time::Instant;

const CARD: &str = r#"
[card]
name = "relief"
title = "Carved panel"
parts = 1
[sheet]
material = "pine-panel"
size = [610.0, 1220.0]
thickness = 18.0
z_zero = "top"
corner = [0.0, 0.0]
max_bed_bite = 0.5
[holddown]
fastener = "screw-4x30"
places = [[20.0, 20.0], [590.0, 20.0], [20.0, 1200.0], [590.0, 1200.0]]
margin = 4.0
[[operation]]
name = "surface"
program = "surface.nc"
bit = "b6"
"#;

/// The shortest of three checks of so many moves: how many there were, seconds on the wall, findings.
///
/// # Errors
/// When the shop of the cases no longer fits the card.
#[allow(clippy::disallowed_methods, reason = "a benchmark reads the clock")]
pub fn relief(moves: u32, pool: &rayon::ThreadPool) -> std::io::Result<(u64, f64, usize)> {
    let wrong = |e: &dyn std::fmt::Debug| std::io::Error::other(format!("{e:?}"));
    let stores = Stores {
        bits: stores::bits("bits.toml", include_str!("../../../cases/bits.toml")).map_err(|e| wrong(&e))?,
        materials: stores::materials("materials.toml", include_str!("../../../cases/materials.toml"))
            .map_err(|e| wrong(&e))?,
        fasteners: stores::fasteners("fasteners.toml", include_str!("../../../cases/fasteners.toml"))
            .map_err(|e| wrong(&e))?,
    };
    let config = config::read("daemon.toml", include_str!("../../../cases/daemon.toml")).map_err(|e| wrong(&e))?;
    let profile = profile::profile("window", profile::ACKNOWLEDGED_WINDOW).map_err(|e| wrong(&e))?;
    let bench = Bench::of(&config.machine, &config.limits, &profile.keys);
    let card = card::read("relief.card.toml", CARD, &stores).map_err(|e| wrong(&e))?;
    let programs = BTreeMap::from([("surface.nc".to_owned(), sheet::relief(moves).into_bytes())]);
    let (stores, bench, used) = (&stores, &bench, BTreeMap::new());
    let (card, programs, bit_used) = (&card, &programs, &used);
    let case = Case { card, programs, stores, bench, thickness: None, bit_used, pool, window: false };
    let (mut best, mut seen) = (f64::INFINITY, (0, 0));
    for _ in 0..3 {
        let begun = Instant::now();
        let report = check(&case).map_err(|e| wrong(&e))?.report;
        best = best.min(begun.elapsed().as_secs_f64());
        seen = (report.operations.iter().map(|o| o.moves).sum(), report.findings.len());
    }
    Ok((seen.0, best, seen.1))
}
