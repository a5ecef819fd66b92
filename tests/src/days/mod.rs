//! Whole days in simulated time: the real foreman, desk, store and link with the practice machine in one process, on a
//! clock that is set, from one seed. The same seed lives the same day; a day that breaks a rule is lived again with
//! less and less going wrong, until what is left is what it takes.
//!
//! May live here: people, what goes wrong, the rules looked at. May not: a decision of the shop.

pub mod cable;
pub mod chance;
pub mod crew;
pub mod day;
mod looking;
pub mod mischief;
pub mod rules;
pub mod shop;

use crew::Crew;
use day::Told;
use mischief::{Mischief, of_day};
use rules::Broken;
use shop::Shop;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// A day that broke a rule.
#[derive(Debug, Clone)]
pub struct BadDay {
    /// Its seed.
    pub seed: u64,
    /// The rule.
    pub why: Broken,
    /// What has to go wrong for it, and no less.
    pub takes: Vec<Mischief>,
}

/// Lives a day.
///
/// # Errors
/// The rule it breaks, and the least that has to go wrong for it.
pub async fn live(shop: &Shop, seed: u64, sheets: u32) -> Result<Told, BadDay> {
    let all = of_day(seed, sheets);
    match day::live(shop, Crew::of_seed(seed), seed, sheets, &all).await {
        Ok(told) => Ok(told),
        Err(why) => {
            let takes = shrink(shop, seed, sheets, all).await;
            Err(BadDay { seed, why, takes })
        }
    }
}

/// Lives the days of these seeds, two side by side for each core, since a day waits for its ledger about half of the time;
/// tells each as it ends.
///
/// # Errors
/// The first day found to break a rule; with `whole`, without looking for the least that has to go wrong for it.
pub fn live_all(
    seeds: std::ops::Range<u64>,
    sheets: u32,
    whole: bool,
    watch_from: Option<u64>,
    told: impl Fn(u64, &Told) + Sync,
) -> Result<Told, BadDay> {
    let next = AtomicU64::new(seeds.start);
    let sum = Mutex::new(Ok(Told::default()));
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..2 * cores {
            scope.spawn(|| {
                // a shop of its own, whose store is emptied for each day
                let mut shop = None;
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= seeds.end {
                        return;
                    }
                    let lived = one_of_many(&mut shop, seed, sheets, whole, watch_from);
                    let Ok(mut sum) = sum.lock() else { return };
                    match (lived, sum.as_mut()) {
                        (Ok(day), Ok(all)) => {
                            told(seed, &day);
                            all.add(&day);
                        }
                        (Err(bad), Ok(_)) => *sum = Err(bad),
                        (_, Err(_)) => return,
                    }
                }
            });
        }
    });
    sum.into_inner().unwrap_or_else(|broken| broken.into_inner())
}

/// One day in a runtime of its own, and in the shop of the day before where there was one.
fn one_of_many(
    shop: &mut Option<Shop>,
    seed: u64,
    sheets: u32,
    whole: bool,
    watch_from: Option<u64>,
) -> Result<Told, BadDay> {
    let bad = |why: String| BadDay { seed, why, takes: Vec::new() };
    let shop = match shop {
        Some(shop) => shop,
        None => shop.insert(Shop::new().map_err(bad)?),
    };
    shop.watch_from = watch_from;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(|e| bad(e.to_string()))?;
    runtime.block_on(async {
        match whole {
            true => live_whole(shop, seed, sheets).await,
            false => live(shop, seed, sheets).await,
        }
    })
}

/// Lives a day, and where it breaks a rule tells all that went wrong in it, without looking for the least.
///
/// # Errors
/// The rule it breaks.
pub async fn live_whole(shop: &Shop, seed: u64, sheets: u32) -> Result<Told, BadDay> {
    let takes = of_day(seed, sheets);
    day::live(shop, Crew::of_seed(seed), seed, sheets, &takes).await.map_err(|why| BadDay { seed, why, takes })
}

/// Leaves out whatever is not needed for a rule to break.
async fn shrink(shop: &Shop, seed: u64, sheets: u32, mut all: Vec<Mischief>) -> Vec<Mischief> {
    let mut at = 0;
    while at < all.len() {
        let mut fewer = all.clone();
        fewer.remove(at);
        if day::live(shop, Crew::of_seed(seed), seed, sheets, &fewer).await.is_err() {
            all = fewer;
        } else {
            at += 1;
        }
    }
    all
}
