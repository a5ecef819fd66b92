//! Whole days in simulated time. How many, and how fast, is printed; nothing here asserts a duration.

use chargehand_daemon::practice::Fault;
use chargehand_tests::days::mischief::{Kind, Mischief, of_day};
use chargehand_tests::days::{self, day, shop::Shop};

/// Days of a run of the tests; `run-days` lives as many as wanted.
const DAYS: u64 = 24;
/// Sheets a day.
const SHEETS: u32 = 2;

fn with_shop<T>(live: impl AsyncFnOnce(&Shop) -> T) -> T {
    let shop = Shop::new().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(live(&shop))
}

#[test]
fn days_keep_every_rule_whatever_goes_wrong() {
    let sum = match days::live_all(1..DAYS + 1, SHEETS, false, None, |_, _| {}) {
        Ok(sum) => sum,
        Err(bad) => panic!("the day of seed {}: {}\nit takes: {:#?}", bad.seed, bad.why, bad.takes),
    };
    println!("{DAYS} days of {SHEETS} sheets: {sum:?}");
    assert_eq!(sum.closed + sum.aside, DAYS * u64::from(SHEETS));
    assert!(sum.mischief > 0 && sum.kills > 0, "too little went wrong: {sum:?}");
}

/// What only hands at the machine can set right: its power, its door, its buttons.
#[test]
fn what_takes_hands_at_the_machine_is_set_right_and_the_day_ends() {
    let faults = [Fault::Silence, Fault::Stuck, Fault::DrivesOff, Fault::DoorOpens, Fault::HoldButton];
    with_shop(async |shop| {
        for fault in faults {
            for turn in [60, 300] {
                let one = [Mischief { turn, kind: Kind::Machine(fault) }];
                let lived = day::live(shop, turn, 1, &one).await;
                let told = lived.unwrap_or_else(|why| panic!("{fault:?} at turn {turn}: {why}"));
                assert_eq!(told.closed + told.aside, 1, "{fault:?} at turn {turn}: {told:?}");
            }
        }
    });
}

#[test]
fn a_seed_lives_the_same_day_again() {
    let (seed, sheets) = (3, 1);
    let (first, second) = with_shop(async |shop| {
        let all = of_day(seed, sheets);
        (day::live(shop, seed, sheets, &all).await, day::live(shop, seed, sheets, &all).await)
    });
    assert_eq!(first, second);
}

/// A disk that is full anywhere in a day: nothing that was answered is gone, and the day ends once there is room.
#[test]
fn a_disk_that_is_full_costs_nothing_that_was_answered() {
    with_shop(async |shop| {
        let mut full = 0;
        for turn in [5, 40, 90, 140, 200, 260, 320] {
            for ms in [2_000, 300_000] {
                let one = [Mischief { turn, kind: Kind::FullDisk(ms) }];
                let lived = day::live(shop, turn, 1, &one).await;
                let told = lived.unwrap_or_else(|why| panic!("full at turn {turn} for {ms} ms: {why}"));
                assert_eq!((told.closed + told.aside, told.kills), (1, told.full), "at turn {turn}: {told:?}");
                full += told.full;
            }
        }
        // such a disk takes root and the right to mount
        println!("the disk was full in {full} of 14 days");
        assert!(full == 0 || full == 14);
    });
}

/// Somebody stops as the operation ends, and the stop is heard of first: what was cut counts, and is not cut again.
#[test]
fn what_ran_out_before_a_stop_reached_it_is_not_cut_again() {
    with_shop(async |shop| {
        let mut begun = 0;
        for seed in 1..9 {
            for turn in [0, 200] {
                let one = [Mischief { turn, kind: Kind::LateStop }];
                let lived = day::live(shop, seed, 1, &one).await;
                let told = lived.unwrap_or_else(|why| panic!("seed {seed}, from turn {turn}: {why}"));
                assert_eq!(told.closed + told.aside, 1, "seed {seed}, from turn {turn}: {told:?}");
                assert!(told.begun <= 2, "seed {seed}, from turn {turn}: two operations, begun {} times", told.begun);
                begun += told.begun;
            }
        }
        assert!(begun > 16, "the second operation is cut after the first was stopped late: {begun}");
    });
}

/// The closing touch of a sheet: a fault that kept the position is left by ending the sheet, and where the position was lost
/// nothing is compared. Both were days that did not end.
#[test]
fn a_closing_touch_that_cannot_be_made_holds_no_sheet_up() {
    let lost = [(562, Kind::Stop), (1430, Kind::Dawdles(1640)), (1957, Kind::Cable(2521))];
    let faulted = [(559, Kind::Machine(Fault::LoseAnswer))];
    with_shop(async |shop| {
        for (seed, all) in [(106, &lost[..]), (110, &faulted)] {
            let all: Vec<_> = all.iter().map(|(turn, kind)| Mischief { turn: *turn, kind: *kind }).collect();
            let told = day::live(shop, seed, 8, &all).await.unwrap_or_else(|why| panic!("seed {seed}: {why}"));
            assert_eq!(told.closed + told.aside, 8, "seed {seed}: {told:?}");
        }
    });
}
