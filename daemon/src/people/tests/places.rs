//! Rates, refusals, and where somebody sits.

use crate::people::{Addresses, Allowance, Bucket, Process, REFUSALS_KEPT, Refusals, remote};
use chargehand_types::people::{RefusalKind, Refused};
use chargehand_types::quantity::Tick;
use std::net::{IpAddr, Ipv4Addr};

#[test]
fn a_bucket_empties_and_fills_again_but_not_over() {
    let allowance = Allowance { burst: 3, every_ms: 1000 };
    let mut bucket = Bucket::full(allowance, Tick(0));
    let mut taken = |at: u64| bucket.take(allowance, Tick(at));
    assert_eq!([taken(0), taken(0), taken(0), taken(0)], [true, true, true, false]);
    assert_eq!([taken(999_999), taken(1_000_000), taken(1_000_001)], [false, true, false]);
    let later: Vec<bool> = (0..5).map(|_| taken(1_000_000_000)).collect();
    assert_eq!(later, [true, true, true, false, false]);
}

#[test]
fn an_address_that_guesses_is_shut_out_and_the_list_stays_small() {
    let mut addresses = Addresses::default();
    let ip = |n: u32| IpAddr::V4(Ipv4Addr::from_bits(n));
    for _ in 0..2 {
        addresses.was_wrong(ip(1), Tick(0));
    }
    assert_eq!(addresses.shut_for(ip(1), Tick(0)), None);
    addresses.was_wrong(ip(1), Tick(0));
    assert_eq!(addresses.shut_for(ip(1), Tick(1)), Some(30));
    assert_eq!(addresses.shut_for(ip(2), Tick(1)), None, "others are not");
    assert_eq!(addresses.shut_for(ip(1), Tick(30_000_000)), None);
    for n in 2..10_000 {
        addresses.was_wrong(ip(n), Tick(u64::from(n)));
    }
    assert!(format!("{addresses:?}").matches("times").count() <= 256);
    addresses.was_right(ip(9_999));
    assert_eq!(addresses.shut_for(ip(9_999), Tick(0)), None);
}

fn refused(kind: RefusalKind, asked: &str) -> Refused {
    Refused {
        at: "2026-11-29T10:00:00Z".parse().unwrap(),
        kind,
        who: None,
        from: "198.51.100.7".into(),
        asked: asked.into(),
        left_out: 0,
    }
}

#[test]
fn a_flood_of_one_kind_neither_fills_the_disk_nor_hides_another() {
    let mut refusals = Refusals::default();
    let written = (0..10_000).filter(|_| refusals.note(refused(RefusalKind::BadToken, "GET /"), Tick(0)).is_some());
    assert_eq!(written.count(), 30);
    assert!(refusals.note(refused(RefusalKind::WrongPin, "sign-in"), Tick(0)).is_some());
    let later = refusals.note(refused(RefusalKind::BadToken, "GET /"), Tick(10_000_000)).unwrap();
    assert_eq!(later.left_out, 9970, "how many there was no room for is told");
    assert_eq!(Refusals::read(&refusals.text()).all(), refusals.all());
}

#[test]
fn the_list_is_bounded_and_a_torn_line_costs_only_itself() {
    let mut refusals = Refusals::default();
    for n in 0..REFUSALS_KEPT as u64 + 50 {
        let long = format!("{n}\n{}", "x".repeat(100_000));
        refusals.note(refused(RefusalKind::Role, &long), Tick(n * 10_000_000));
    }
    assert_eq!(refusals.all().len(), REFUSALS_KEPT);
    let text = refusals.text();
    assert_eq!(text.lines().count(), REFUSALS_KEPT, "a line break in what was asked makes no line");
    assert!(text.len() < 200_000, "{}", text.len());
    let torn = &text[..text.len() - 20];
    assert_eq!(Refusals::read(torn).all().len(), REFUSALS_KEPT - 1);
}

fn line(names: &[&str]) -> Vec<Process> {
    names.iter().map(|n| Process { name: (*n).to_owned(), session: None }).collect()
}

#[test]
fn a_login_over_a_network_is_told_by_what_started_the_program() {
    assert_eq!(remote(&line(&["chargehand", "bash", "login", "systemd"])), None);
    assert!(
        remote(&line(&["chargehand", "bash", "sshd-session", "sshd", "systemd"])).unwrap().contains("sshd-session")
    );
    assert!(remote(&line(&["chargehand", "sh", "dropbear"])).is_some());
    assert_eq!(remote(&line(&["sshd-like", "notsshd"])), None, "a name that only begins so is another program");
    assert_eq!(remote(&[]), None, "nothing told is nothing known");
}

#[test]
fn a_login_over_a_network_is_told_by_its_session() {
    let with = |record: &str| vec![Process { name: "chargehand".into(), session: Some(record.into()) }];
    let afar = "# a record\nUID=1000\nREMOTE=1\nREMOTE_HOST=198.51.100.7\nTTY=pts/1\n";
    assert_eq!(remote(&with(afar)).unwrap(), "its login session came from 198.51.100.7");
    assert!(remote(&with("REMOTE=1\n")).is_some());
    assert_eq!(remote(&with("UID=1000\nREMOTE=0\nSEAT=seat0\n")), None);
    assert_eq!(remote(&with("REMOTE_HOST=x\n")), None);
}
