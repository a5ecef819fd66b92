//! The real daemon under load, killed at random moments of one seed, and started again.
//!
//! May live here: when it is killed, and how often. May not: what must be so afterwards (`watch`).

use crate::client::files;
use crate::days::chance::Chance;
use crate::load::{Came, Load, Pace};
use crate::watch::Watch;
use crate::workshop::Workshop;
use std::thread::sleep;
use std::time::Duration;

/// Machine seconds to a real one: a sheet is cut within seconds.
const RATE: f64 = 60.0;
/// Desks that write at once.
const DESKS: u64 = 2;
/// Under load it is killed within this.
const LOAD_MS: u64 = 3_000;
/// One kill of so many comes while it is still starting.
const STARTING_ONE_IN: u64 = 8;
const STARTING_MS: u64 = 400;

/// A sheet that an operator walks is at another stage after so many kills, or there is no way out of the one it is at.
const NO_WAY_OUT: u64 = 80;

/// What came of a run.
#[derive(Debug, Default)]
pub struct Told {
    /// Kills survived.
    pub kills: u64,
    /// Of these, while it was starting.
    pub starting: u64,
    /// Of these, in the middle of a cut.
    pub in_cut: u64,
    /// Answered commands found again.
    pub found: u64,
    /// Unanswered ones that were done all the same.
    pub extra: u64,
    /// Events at the end.
    pub events: u64,
    /// Programs stored.
    pub programs: u64,
    /// Sheets closed.
    pub closed: u64,
}

/// Kills a daemon so many times.
///
/// # Errors
/// The first thing that is not as it must be, with the kill it came after.
pub fn run(kills: u64, seed: u64, mut tell: impl FnMut(&Told)) -> Result<Told, String> {
    let mut chance = Chance::of(seed);
    let mut shop = Workshop::new(RATE);
    let card = files(&shop.card());
    let (mut watch, mut told, mut came) = (Watch::default(), Told::default(), Came::default());
    let client = shop.start();
    client.add_card(&shop.card()).map_err(|p| p.to_string())?;
    client.add_batch(crate::workshop::CARD, 8).map_err(|p| p.to_string())?;
    shop.kill();
    let mut moved = (0, 0);
    for kill in 1..=kills {
        if chance.below(STARTING_ONE_IN) == 0 {
            shop.begin(&[]);
            sleep(Duration::from_millis(chance.below(STARTING_MS)));
            shop.kill();
            told.starting += 1;
        } else {
            let client = shop.start();
            let after = |why: String| format!("seed {seed}, before kill {kill}: {why}\n{}", shop.log());
            watch.look(&client, &shop.path("store"), std::mem::take(&mut came)).map_err(after)?;
            watch.send_unanswered(&client).map_err(after)?;
            let load = Load::begin(&client, &card, chance.next(), DESKS, Pace::Burst);
            sleep(Duration::from_millis(1 + chance.below(LOAD_MS)));
            shop.kill();
            came = load.ended();
        }
        if watch.steps > moved.0 {
            moved = (watch.steps, kill);
        }
        if kill - moved.1 > NO_WAY_OUT {
            return Err(format!("seed {seed}, kill {kill}: no sheet came to another stage since kill {}", moved.1));
        }
        told.kills = kill;
        told.see(&watch);
        tell(&told);
    }
    let client = shop.start();
    let last = |why: String| format!("seed {seed}, after the last kill: {why}\n{}", shop.log());
    watch.look(&client, &shop.path("store"), came).map_err(last)?;
    watch.send_unanswered(&client).map_err(last)?;
    watch.read_anew(&client).map_err(last)?;
    told.see(&watch);
    Ok(told)
}

impl Told {
    fn see(&mut self, watch: &Watch) {
        (self.in_cut, self.found, self.extra) = (watch.in_cut, watch.found, watch.extra);
        (self.events, self.programs, self.closed) = (watch.events(), watch.programs() as u64, watch.closed() as u64);
    }
}
