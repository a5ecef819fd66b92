//! The plan as an iCalendar file (RFC 5545): one event for each time somebody is needed.

use crate::plan::DayPlan;
use chrono::{DateTime, Utc};

/// The longest content line, in octets, without its line break (RFC 5545, 3.1).
const OCTETS: usize = 75;

/// The file's text. An event's UID is made of its day and its first task, so that a newer plan moves it.
#[must_use]
pub fn calendar(plan: &DayPlan) -> String {
    let mut out = String::new();
    for line in ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Chargehand//Day plan//EN", "METHOD:PUBLISH"] {
        put(&mut out, line);
    }
    // RFC 7986, 5.7: how often whoever subscribes may look again
    put(&mut out, "REFRESH-INTERVAL;VALUE=DURATION:PT5M");
    for needed in &plan.needed {
        let tasks: Vec<String> = needed.tasks.iter().map(ToString::to_string).collect();
        let first = tasks.first().map_or("needed", String::as_str);
        let uid: String = first.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
        put(&mut out, "BEGIN:VEVENT");
        put(&mut out, &format!("UID:{uid}@chargehand"));
        put(&mut out, &format!("DTSTAMP:{}", utc(plan.at)));
        put(&mut out, &format!("DTSTART:{}", utc(needed.from)));
        put(&mut out, &format!("DTEND:{}", utc(needed.to)));
        put(&mut out, &format!("SUMMARY:{}", text(&format!("Router: {first}"))));
        put(&mut out, &format!("DESCRIPTION:{}", text(&tasks.join("\n"))));
        // a forecast that takes nobody's time away
        put(&mut out, "STATUS:TENTATIVE");
        put(&mut out, "TRANSP:TRANSPARENT");
        put(&mut out, "END:VEVENT");
    }
    put(&mut out, "END:VCALENDAR");
    out
}

fn utc(at: DateTime<Utc>) -> String {
    at.format("%Y%m%dT%H%M%SZ").to_string()
}

/// A TEXT value (RFC 5545, 3.3.11).
fn text(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// A content line, folded so that no line has more than 75 octets and no character is cut in two.
fn put(out: &mut String, line: &str) {
    let mut used = 0;
    for c in line.chars() {
        if used + c.len_utf8() > OCTETS {
            out.push_str("\r\n ");
            used = 1;
        }
        out.push(c);
        used += c.len_utf8();
    }
    out.push_str("\r\n");
}
