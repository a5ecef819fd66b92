//! Is everything in place: config, port, store, clock, disk.

use super::premises::Premises;
use super::wording;
use crate::ledger::Ledger;
use crate::shop::config::Port;
use chargehand_types::SCHEMA;
use chargehand_types::now::{LinkNow, Now};
use chargehand_types::queue::{Doctor, Look, Verdict};

/// Free bytes below which a word is due.
const FREE_BYTES_LEAST: u64 = 200 * 1024 * 1024;

/// Looks at everything.
#[must_use]
pub fn look(premises: &Premises, ledger: &Ledger, now: &Now, most_below: usize) -> Doctor {
    let mut looks = vec![
        config(premises),
        port(premises),
        link(now),
        below(premises, most_below),
        store(premises),
        disk(ledger),
        clock(premises),
    ];
    for notice in &now.notices {
        looks.push(one("bench", Verdict::Word, notice.clone()));
    }
    Doctor { schema: SCHEMA, looks }
}

fn one(what: &str, verdict: Verdict, text: impl Into<String>) -> Look {
    Look { what: what.to_owned(), verdict, text: text.into() }
}

fn config(premises: &Premises) -> Look {
    let s = &premises.stores;
    let text = format!(
        "read without a fault: {} bits, {} materials, {} fasteners, {} people",
        s.bits.len(),
        s.materials.len(),
        s.fasteners.len(),
        premises.config.people.len()
    );
    if premises.config.people.is_empty() {
        one("config", Verdict::Wrong, format!("{text}. Nobody can sign in: add [[people]] to daemon.toml."))
    } else {
        one("config", Verdict::Fine, text)
    }
}

fn port(premises: &Premises) -> Look {
    match &premises.config.machine.port {
        Port::Simulated => one("port", Verdict::Word, wording::PRACTICE),
        Port::Path(path) => one("port", Verdict::Fine, format!("{path} at {} baud", premises.config.machine.baud)),
    }
}

fn link(now: &Now) -> Look {
    match &now.machine.link {
        LinkNow::Up => one("controller", Verdict::Fine, "it answers"),
        LinkNow::Opening => one("controller", Verdict::Word, "the line is being opened"),
        LinkNow::Down { why } => one("controller", Verdict::Wrong, why.clone()),
    }
}

/// What a hold may have had to wait behind.
fn below(premises: &Premises, most: usize) -> Look {
    let baud = f64::from(premises.config.machine.baud.max(1));
    // 8N1: ten bits a byte; practice time runs faster than the wire it stands for
    let ms = most as f64 * 10_000.0 / baud / premises.config.clock_rate();
    one("line", Verdict::Fine, format!("at most {most} bytes waited in the system below us: {ms:.1} ms for a hold"))
}

fn store(premises: &Premises) -> Look {
    one("store", Verdict::Fine, format!("open in {}", premises.store.display()))
}

fn disk(ledger: &Ledger) -> Look {
    match ledger.free_bytes() {
        Ok(free) if free < FREE_BYTES_LEAST => {
            one("disk", Verdict::Wrong, format!("only {} MiB are free. Make room before a batch.", free >> 20))
        }
        Ok(free) => one("disk", Verdict::Fine, format!("{} MiB are free", free >> 20)),
        Err(e) => one("disk", Verdict::Wrong, e.to_string()),
    }
}

fn clock(premises: &Premises) -> Look {
    one("time zone", Verdict::Fine, premises.config.hours.time_zone.name())
}
