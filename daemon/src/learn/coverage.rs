//! Whether intervals hold as often as they say: simulated histories of a known machine and a known shop, 1,000 seeds
//! each. Only counts are asserted, against the coverage that the binomial distribution gives them exactly.

use super::chance::Chance;
use super::*;
use chargehand_types::quantity::Seconds;

const SEEDS: u64 = 1_000;

/// Within four standard deviations of what was expected: a chance of 6 in 100,000 of a false alarm, with fixed seeds.
fn near(what: &str, hits: u64, expected: f64) {
    let n = SEEDS as f64;
    let deviation = (n * expected * (1.0 - expected)).sqrt();
    println!("{what}: holds {hits} times of {SEEDS}, expected {:.1} give or take {deviation:.1}", n * expected);
    assert!((hits as f64 - n * expected).abs() <= 4.0 * deviation, "{what}: {hits}");
}

/// A machine that takes `factor` times what was reckoned: skewed noise, and one cut in ten slowed down for a while or
/// sped up, by much.
fn history(chance: &mut Chance, factor: f64, rows: usize) -> Vec<Cut> {
    let mut all = Vec::new();
    for _ in 0..rows {
        let predicted = 120.0 + 1500.0 * chance.even();
        let noise = (0.06 * chance.normal()).exp();
        // as many too long as too short: the middle stays where it is
        let wild = match chance.even() {
            p if p < 0.05 => 2.5,
            p if p < 0.1 => 0.6,
            _ => 1.0,
        };
        all.push(Cut { predicted: Seconds::of(predicted), real: Seconds::of(predicted * factor * noise * wild) });
    }
    all
}

#[test]
fn a_known_factor_is_found_as_often_as_told() {
    // scipy 1.17.1: exact coverage of the order statistics' interval: 1 - 2 P(B < k), B binomial with 1/2
    for (rows, level, exact) in
        [(6, 0.95, 0.96875), (20, 0.95, 0.958_610_534_667_968_8), (50, 0.8, 0.881_079_547_440_563_7)]
    {
        let level = Level::new(level).unwrap();
        let mut hits = 0;
        let mut told = 0.0;
        for seed in 0..SEEDS {
            let found = time_factor(&history(&mut Chance::new(seed), 1.17, rows), level);
            let interval = found.interval.unwrap();
            told = interval.holds.value();
            hits += u64::from(interval.low <= 1.17 && 1.17 <= interval.high);
        }
        assert!((told - exact).abs() < 1.0e-6, "{rows} rows: {told}");
        near(&format!("factor from {rows} rows at {}", level.value()), hits, exact);
    }
}

#[test]
fn the_factor_itself_comes_near() {
    let mut worst: f64 = 0.0;
    let mut inside = 0;
    for seed in 0..SEEDS {
        let found = time_factor(&history(&mut Chance::new(seed), 1.17, 50), Level::USUAL).factor;
        let off = (found / 1.17 - 1.0).abs();
        worst = worst.max(off);
        inside += u64::from(off < 0.03);
    }
    println!("from 50 rows: within 3 % {inside} times of {SEEDS}, worst {:.2} %", worst * 100.0);
    assert!(inside >= 970, "{inside}");
}

#[test]
fn the_next_cut_lies_where_it_is_told() {
    let mut hits = 0;
    let mut told = 0.0;
    for seed in 0..SEEDS {
        let mut chance = Chance::new(seed);
        let past = time_factor(&history(&mut chance, 1.17, 59), Level::USUAL);
        let next = history(&mut chance, 1.17, 1)[0];
        let ratio = next.real.value() / next.predicted.value();
        let interval = past.next.unwrap();
        told = interval.holds.value();
        hits += u64::from(interval.low <= ratio && ratio <= interval.high);
    }
    // of 60 equally likely gaps the two outermost are left out
    assert!((told - 58.0 / 60.0).abs() < 1.0e-12, "{told}");
    near("next cut after 59", hits, told);
}

#[test]
fn scrap_rates_hold_as_often_as_they_should() {
    // exact coverage of Wilson's interval, summed with scipy 1.17.1 over all outcomes
    for (sheets, bad, exact) in [
        (40, 0.05, 0.951_971_739_745_784_3),
        (20, 0.1, 0.956_825_504_715_536_5),
        (100, 0.03, 0.968_772_490_568_644_8),
        (60, 0.2, 0.965_825_379_210_898_8),
    ] {
        let mut hits = 0;
        for seed in 0..SEEDS {
            let mut chance = Chance::new(seed);
            let count = (0..sheets).filter(|_| chance.happens(bad)).count();
            let [low, high] = scrap_rate(u32::try_from(count).unwrap(), sheets, Level::USUAL).interval;
            hits += u64::from(low.value() <= bad && bad <= high.value());
        }
        near(&format!("scrap {bad} from {sheets} sheets"), hits, exact);
    }
}

#[test]
fn planned_spares_are_enough_as_often_as_told() {
    let (wanted, bad) = (20_u32, Share::new(0.1).unwrap());
    let spares = spare_sheets(wanted, bad, Level::new(0.9).unwrap()).unwrap();
    let mut enough = 0;
    let mut one_less = 0;
    for seed in 0..SEEDS {
        let mut chance = Chance::new(seed);
        let good = |sheets: u32, chance: &mut Chance| (0..sheets).filter(|_| !chance.happens(bad.value())).count();
        enough += u64::from(good(wanted + spares, &mut chance) >= wanted as usize);
        one_less += u64::from(good(wanted + spares - 1, &mut chance) >= wanted as usize);
    }
    println!("{spares} spares are enough {enough} times, one less {one_less} times of {SEEDS}");
    // scipy 1.17.1: nbinom.cdf(4, 20, 0.9) and nbinom.cdf(3, 20, 0.9)
    assert_eq!(spares, 4);
    near("4 spares", enough, 0.914_925_114_121_329_3);
    near("3 spares", one_less, 0.807_268_986_481_380_2);
}

#[test]
fn the_fair_test_raises_few_false_alarms() {
    // two alike: the exact test may call one in twenty different, and being exact for small numbers, fewer
    let mut alarms = 0;
    let mut found = 0;
    for seed in 0..SEEDS {
        let mut chance = Chance::new(seed);
        let batch = |bad: f64, chance: &mut Chance| {
            let count = u32::try_from((0..30).filter(|_| chance.happens(bad)).count()).unwrap();
            Outcomes { good: 30 - count, bad: count }
        };
        let (a, b, worse) = (batch(0.2, &mut chance), batch(0.2, &mut chance), batch(0.7, &mut chance));
        alarms += u64::from(fisher(a, b).value() < 0.05);
        found += u64::from(fisher(a, worse).value() < 0.05);
    }
    println!("of {SEEDS}: {alarms} false alarms, {found} true ones");
    assert!(alarms <= 50 + 28, "{alarms}");
    assert!(found >= 900, "{found}");
}
