//! Who is told what, when: pure, from the rules, the open calls, the clock and what was told already.

use crate::shop::config::Rule;
use chargehand_types::call::CallReason;
use chrono::{DateTime, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;

/// A call that nobody answered yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Open {
    pub reason: CallReason,
    pub since: DateTime<Utc>,
}

/// The rules of a shop that gave none: every way, every call, at once.
pub(super) fn usual(ways: &[String]) -> Vec<Rule> {
    vec![Rule { by: ways.to_vec(), reasons: Vec::new(), lead_min: None, after_min: 0, within: None }]
}

/// Whether a rule tells of an open call now. Out of its hours it waits until they begin.
pub(super) fn tells(rule: &Rule, call: Open, now: DateTime<Utc>, zone: Tz) -> bool {
    let reason = rule.reasons.is_empty() && rule.lead_min.is_none() || rule.reasons.contains(&call.reason);
    let waited = now - call.since >= TimeDelta::minutes(i64::from(rule.after_min));
    reason && waited && hours(rule, now, zone)
}

/// Whether a rule tells now of a time that somebody is needed.
pub(super) fn tells_ahead(rule: &Rule, needed: DateTime<Utc>, now: DateTime<Utc>, zone: Tz) -> bool {
    let Some(lead) = rule.lead_min else { return false };
    let ahead = needed - now;
    ahead >= TimeDelta::zero() && ahead <= TimeDelta::minutes(i64::from(lead)) && hours(rule, now, zone)
}

fn hours(rule: &Rule, now: DateTime<Utc>, zone: Tz) -> bool {
    let within = |(from, to): (NaiveTime, NaiveTime)| {
        let at = now.with_timezone(&zone).time();
        if from <= to { from <= at && at < to } else { at >= from || at < to }
    };
    rule.within.is_none_or(within)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        DateTime::parse_from_rfc3339(text).unwrap().to_utc()
    }

    fn rule() -> Rule {
        usual(&["phone".to_owned()]).remove(0)
    }

    const CALL: CallReason = CallReason::Stopped;

    #[test]
    fn without_rules_every_call_is_told_at_once() {
        let now = at("2026-03-10T09:00:00Z");
        assert!(tells(&rule(), Open { reason: CALL, since: now }, now, Tz::UTC));
        assert!(!tells_ahead(&rule(), now, now, Tz::UTC));
    }

    #[test]
    fn escalation_waits_and_reasons_choose() {
        let since = at("2026-03-10T09:00:00Z");
        let r = Rule { after_min: 5, reasons: vec![CALL], ..rule() };
        let open = |reason| Open { reason, since };
        assert!(!tells(&r, open(CALL), at("2026-03-10T09:04:59Z"), Tz::UTC));
        assert!(tells(&r, open(CALL), at("2026-03-10T09:05:00Z"), Tz::UTC));
        assert!(!tells(&r, open(CallReason::Prompt), at("2026-03-10T10:00:00Z"), Tz::UTC));
    }

    #[test]
    fn hours_are_the_shops_and_may_pass_midnight() {
        let time = |h| NaiveTime::from_hms_opt(h, 0, 0).unwrap();
        let r = Rule { within: Some((time(22), time(6))), ..rule() };
        let told =
            |now: &str| tells(&r, Open { reason: CALL, since: at("2026-01-01T00:00:00Z") }, at(now), Tz::Europe__Oslo);
        // Oslo is an hour ahead of UTC in January
        assert!(!told("2026-01-10T20:59:00Z") && told("2026-01-10T21:00:00Z"));
        assert!(told("2026-01-11T04:59:00Z") && !told("2026-01-11T05:00:00Z"));
    }

    #[test]
    fn a_planned_need_is_told_within_its_lead() {
        let r = Rule { lead_min: Some(10), ..rule() };
        let needed = at("2026-03-10T09:00:00Z");
        for (now, told) in [("08:49:59", false), ("08:50:00", true), ("09:00:00", true), ("09:00:01", false)] {
            assert_eq!(tells_ahead(&r, needed, at(&format!("2026-03-10T{now}Z")), Tz::UTC), told, "{now}");
        }
        // a rule that tells ahead tells of no call unless it names reasons too
        assert!(!tells(&r, Open { reason: CALL, since: needed }, needed, Tz::UTC));
    }
}
