//! `chargehand plan`: the order of work, and when somebody is needed; or what it would be, were something otherwise.
//!
//! May live here: asking and showing. May not: planning; that is the daemon's.

use super::end::End;
use super::line::PlanLine;
use super::page::{json, say};
use crate::client::Api;
use crate::{day, outside};

pub(super) async fn run(api: &Api, line: PlanLine) -> Result<(), End> {
    let wanted = |key: &str| {
        let all: Vec<&str> = line.what_if.iter().filter(|w| w.0 == key).map(|w| w.1.as_str()).collect();
        (!all.is_empty()).then(|| all.join(","))
    };
    let plan = api.plan(wanted("presence").as_deref(), wanted("sheets").as_deref()).await?;
    if line.json {
        json(&plan)
    } else if line.ics {
        say(&day::calendar(&plan))
    } else {
        say(&day::page(&plan, &outside::wall))
    }
}
