//! `chargehand notices`: what could not be told outside the shop, and a try of every way.
//!
//! May live here: asking and showing. May not: telling anybody.

use super::end::End;
use super::line::NoticesVerb;
use super::page::{fold, json, say};
use crate::client::Api;
use chargehand_types::notice::{NotThrough, NoticesTest};

pub(super) async fn run(api: &Api, verb: Option<NoticesVerb>, as_json: bool) -> Result<(), End> {
    match verb {
        Some(NoticesVerb::Test) => {
            let test = api.try_notices().await?;
            if as_json {
                json(&test)?;
            } else {
                say(&tried(&test))?;
            }
            if test.ways.iter().all(|w| w.taken) { Ok(()) } else { Err(End::No) }
        }
        Some(NoticesVerb::Desktop) => super::on_desktop::run(api).await,
        None => {
            let notices = api.notices().await?;
            if as_json {
                return json(&notices);
            }
            if notices.ways.is_empty() {
                return say(
                    "Nobody is told outside the shop: daemon.toml has no [[notices.webhook]] or [[notices.mail]].\n",
                );
            }
            if notices.not_through.is_empty() {
                return say("Everything got through.\n");
            }
            say(&notices.not_through.iter().map(failed).collect::<String>())
        }
    }
}

fn tried(test: &NoticesTest) -> String {
    if test.ways.is_empty() {
        return "There is no way to try: daemon.toml has no [[notices.webhook]] or [[notices.mail]].\n".to_owned();
    }
    let row = |taken: bool| if taken { "in order" } else { "WRONG   " };
    test.ways.iter().map(|w| fold(&format!("{}  {}: ", row(w.taken), w.name), &w.text, 10)).collect()
}

fn failed(what: &NotThrough) -> String {
    let end = if what.given_up { "given up" } else { "still tried" };
    let at = what.at.format("%Y-%m-%d %H:%M UTC");
    fold(&format!("{at}  {}: ", what.way), &format!("{} ({} tries, {end}: {})", what.text, what.tries, what.why), 2)
}
