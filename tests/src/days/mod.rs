//! Whole days in simulated time: the real foreman, desk, store and link with the practice machine in one process, on a
//! clock that is set, from one seed. The same seed lives the same day; a day that breaks a rule is lived again with
//! less and less going wrong, until what is left is what it takes.
//!
//! May live here: people, what goes wrong, the rules looked at. May not: a decision of the shop.

pub mod cable;
pub mod chance;
pub mod day;
pub mod mischief;
pub mod rules;
pub mod shop;

use day::Told;
use mischief::{Mischief, of_day};
use rules::Broken;
use shop::Shop;

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
    match day::live(shop, seed, sheets, &all).await {
        Ok(told) => Ok(told),
        Err(why) => {
            let takes = shrink(shop, seed, sheets, all).await;
            Err(BadDay { seed, why, takes })
        }
    }
}

/// Lives a day, and where it breaks a rule tells all that went wrong in it, without looking for the least.
///
/// # Errors
/// The rule it breaks.
pub async fn live_whole(shop: &Shop, seed: u64, sheets: u32) -> Result<Told, BadDay> {
    let takes = of_day(seed, sheets);
    day::live(shop, seed, sheets, &takes).await.map_err(|why| BadDay { seed, why, takes })
}

/// Leaves out whatever is not needed for a rule to break.
async fn shrink(shop: &Shop, seed: u64, sheets: u32, mut all: Vec<Mischief>) -> Vec<Mischief> {
    let mut at = 0;
    while at < all.len() {
        let mut fewer = all.clone();
        fewer.remove(at);
        if day::live(shop, seed, sheets, &fewer).await.is_err() {
            all = fewer;
        } else {
            at += 1;
        }
    }
    all
}
