//! Whole days in simulated time. How many, and how fast, is printed; nothing here asserts a duration.

use chargehand_daemon::practice::Fault;
use chargehand_tests::days::crew::{Crew, Who};
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
                let lived = day::live(shop, Crew::OWNER, turn, 1, &one).await;
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
        (
            day::live(shop, Crew::of_seed(seed), seed, sheets, &all).await,
            day::live(shop, Crew::of_seed(seed), seed, sheets, &all).await,
        )
    });
    assert_eq!(first, second);
}

/// Owner and helper at once are late for each other, and a helper cannot do without the owner; some go on with what was
/// stopped, and some raise a bit that is held.
#[test]
fn owner_and_helper_share_days_in_which_much_goes_wrong() {
    with_shop(async |shop| {
        let mut sum = day::Told::default();
        for who in [Who::Both, Who::Helper] {
            let crew = Crew { who, goes_on: true };
            for seed in 1..13 {
                let plain = day::live(shop, crew, seed, 1, &[]).await.unwrap();
                // in the first cut
                let turn = plain.first_begun + 20 + 10 * seed;
                let kind = [Kind::Stop, Kind::Hold, Kind::Kill(1000)][seed as usize % 3];
                let told = day::live(shop, crew, seed, 1, &[Mischief { turn, kind }]).await;
                sum.add(&told.unwrap_or_else(|why| panic!("{who:?}, seed {seed}: {why}")));
            }
        }
        println!("24 days of a sheet: {sum:?}");
        assert_eq!(sum.closed + sum.aside, 24);
        let all = [sum.late, sum.fetched, sum.gone_on, sum.raised];
        assert!(all.iter().all(|n| *n > 0), "late, fetched, gone on, raised: {all:?}");
    });
}

/// Days that did not end: a list of the day took the look at the bit away from the sheet's; what was compared was to be
/// touched once more; a machine was taken over before it was left, by a clock that was set back.
#[test]
fn whoever_comes_after_somebody_else_can_go_on() {
    with_shop(async |shop| {
        let left = [(1417, Kind::Leaves(1793))];
        let back = [(594, Kind::Machine(Fault::DoubleAnswer)), (1409, Kind::Clock(-1076))];
        for (seed, all) in [(4, &left[..]), (275, &back)] {
            let all: Vec<_> = all.iter().map(|(turn, kind)| Mischief { turn: *turn, kind: *kind }).collect();
            let lived = day::live(shop, Crew::of_seed(seed), seed, 8, &all).await;
            let told = lived.unwrap_or_else(|why| panic!("seed {seed}: {why}"));
            assert_eq!(told.closed + told.aside, 8, "seed {seed}: {told:?}");
        }
    });
}

/// A disk that is full anywhere in a day: nothing that was answered is gone, and the day ends once there is room.
#[test]
fn a_disk_that_is_full_costs_nothing_that_was_answered() {
    with_shop(async |shop| {
        let mut full = 0;
        for turn in [5, 40, 90, 140, 200, 260, 320] {
            for ms in [2_000, 300_000] {
                let one = [Mischief { turn, kind: Kind::FullDisk(ms) }];
                let lived = day::live(shop, Crew::OWNER, turn, 1, &one).await;
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
                let lived = day::live(shop, Crew::OWNER, seed, 1, &one).await;
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
            let told =
                day::live(shop, Crew::OWNER, seed, 8, &all).await.unwrap_or_else(|why| panic!("seed {seed}: {why}"));
            assert_eq!(told.closed + told.aside, 8, "seed {seed}: {told:?}");
        }
    });
}
