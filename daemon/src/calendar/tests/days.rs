//! Windows on the days that go wrong. The clocks of Oslo go forward at 02:00 on 28 March 2027 (01:00 UTC) and back at
//! 03:00 on 25 October 2026 (01:00 UTC): last Sundays of March and October, Directive 2000/84/EC.

use super::*;

#[test]
fn an_ordinary_day_is_in_the_shops_zone() {
    assert_eq!(present(&hours("09:00", "12:30"), "2026-11-25T00:00:00Z", 1), [(8 * 60, 11 * 60 + 30)]);
}

#[test]
fn the_day_the_clocks_go_forward_has_an_hour_less() {
    // local midnight is 23:00 UTC the day before
    let zero = "2027-03-27T23:00:00Z";
    assert_eq!(present(&hours("00:30", "09:00"), zero, 1)[0], (30, 8 * 60));
    // a time that is skipped is the first instant after the gap
    assert_eq!(present(&hours("02:30", "04:00"), zero, 1)[0], (120, 180));
    // all of it lies in the gap: nothing
    assert!(present(&hours("02:10", "02:40"), zero, 1).is_empty());
}

#[test]
fn the_day_the_clocks_go_back_has_an_hour_more() {
    // local midnight is 22:00 UTC the day before
    let zero = "2026-10-24T22:00:00Z";
    assert_eq!(present(&hours("01:00", "09:00"), zero, 1)[0], (60, 10 * 60));
    // a time that comes twice: the start takes the first, the end the second
    assert_eq!(present(&hours("02:30", "02:45"), zero, 1)[0], (150, 225));
}

#[test]
fn a_window_may_reach_over_midnight_and_into_the_span() {
    assert_eq!(
        present(&hours("22:00", "02:00"), "2026-11-24T23:00:00Z", 2),
        [(0, 120), (22 * 60, 26 * 60), (46 * 60, 48 * 60)]
    );
}

#[test]
fn a_leap_day_is_a_day() {
    let mut hours = hours("09:00", "10:00");
    hours.presence[0].window.days = vec![Weekday::Tue];
    // 29 February 2028 is a Tuesday
    assert_eq!(present(&hours, "2028-02-28T00:00:00Z", 3), [(24 * 60 + 480, 24 * 60 + 540)]);
}

#[test]
fn an_exception_takes_one_person_off_or_gives_other_hours() {
    let mut hours = hours("09:00", "12:00");
    hours.presence.push(Presence { who: "owner".to_owned(), window: daily("14:00", "16:00") });
    let ill = Exception { date: date("2026-11-25"), who: Some("helper".to_owned()), instead: None };
    hours.exceptions = vec![ill];
    assert_eq!(present(&hours, "2026-11-24T23:00:00Z", 1), [(14 * 60, 16 * 60)]);
    hours.exceptions[0].instead = Some((time("10:00"), time("11:00")));
    assert_eq!(present(&hours, "2026-11-24T23:00:00Z", 1), [(600, 660), (840, 960)]);
    hours.exceptions[0] = Exception { date: date("2026-11-25"), who: None, instead: None };
    assert_eq!(present(&hours, "2026-11-24T23:00:00Z", 2), [(33 * 60, 36 * 60), (38 * 60, 40 * 60)]);
}

#[test]
fn a_closed_day_has_no_earshot_either() {
    let mut hours = hours("09:00", "12:00");
    hours.earshot = vec![daily("08:00", "18:00")];
    let span = Span { zero: utc("2026-11-24T23:00:00Z"), days: 1 };
    assert_eq!(pairs(&reach(&hours, &[], Minutes(45), span).earshot), [(480, 1080 - 45)]);
    hours.exceptions = vec![Exception { date: date("2026-11-25"), who: None, instead: None }];
    assert!(reach(&hours, &[], Minutes(45), span).earshot.is_empty());
}

#[test]
fn quiet_hours_cut_into_cutting_only() {
    let mut hours = hours("09:00", "15:00");
    hours.earshot = vec![daily("08:00", "18:00")];
    hours.quiet = vec![daily("12:00", "13:00")];
    let reach = reach(&hours, &[], Minutes(45), Span { zero: utc("2026-11-24T23:00:00Z"), days: 1 });
    assert_eq!(pairs(&reach.presence), [(540, 900)]);
    assert_eq!(pairs(&reach.attended()), [(540, 720), (780, 900)]);
    assert_eq!(pairs(&reach.alone()), [(480, 720), (780, 1035)]);
}

#[test]
fn nobody_ever_in_is_no_window() {
    let mut hours = hours("09:00", "15:00");
    hours.presence.clear();
    assert!(present(&hours, "2026-11-24T23:00:00Z", 400).is_empty());
}
