//! What leaves the shop: starts the tasks that tell people and other programs, by config.

use super::desk::FrontDesk;
use super::premises::Premises;
use super::running::RunFault;
use super::{awake, service};
use crate::notices::{
    BrokerKeys, Patience, Teller, Unheard, keep_standing, publish_to_broker, receivers, serve_adapter, tell_calls,
};
use crate::shop::config::Port;
use chargehand_types::queue::{Look, Verdict};
use chrono::{DateTime, Utc};
use std::sync::Arc;
use tokio::sync::watch;
use tokio::task::JoinSet;

/// The store's file of what did not get through.
const UNHEARD: &str = "not-through.json";

#[allow(clippy::disallowed_methods, reason = "the wall clock of calls")]
fn clock() -> DateTime<Utc> {
    Utc::now()
}

/// The receivers of config, with their keys read.
pub(super) fn teller(premises: &Premises) -> Result<Teller, RunFault> {
    Ok(Teller {
        receivers: receivers(&premises.config.outward.ways, &premises.folder)?,
        unheard: Unheard::open(premises.store.join(UNHEARD)),
        patience: Patience::default(),
        clock,
    })
}

/// Starts what config asks for. The tasks end when what is given back is dropped.
pub(super) fn start(desk: &Arc<FrontDesk>) -> JoinSet<()> {
    let mut tasks = JoinSet::new();
    tasks.spawn(service::watch(Arc::clone(desk)));
    let outward = desk.premises.config.outward.clone();
    let real = desk.premises.config.machine.port != Port::Simulated;
    if outward.ways.is_empty() && outward.broker.is_none() && outward.adapter.is_none() && !real {
        return tasks;
    }
    let (told, standing) = watch::channel(None);
    tasks.spawn(keep_standing(Arc::clone(desk), told));
    if real {
        tasks.spawn(awake::keep(standing.clone(), awake::INHIBITOR));
    }
    if !outward.ways.is_empty() {
        let zone = desk.premises.config.hours.time_zone;
        tasks.spawn(tell_calls(Arc::clone(desk), standing.clone(), desk.teller.clone(), outward.rules, zone));
    }
    if let Some(address) = outward.adapter {
        let standing = standing.clone();
        tasks.spawn(async move {
            if let Err(e) = serve_adapter(address, standing, clock).await {
                tracing::error!("readers of machine states cannot connect to {address}: {e}");
            }
        });
    }
    if let Some(broker) = outward.broker {
        match BrokerKeys::read(&broker, &desk.premises.folder) {
            Ok(keys) => {
                tasks.spawn(publish_to_broker(Arc::clone(desk), standing, broker, keys));
            }
            Err(e) => tracing::error!("the message broker is not used: {e}"),
        }
    }
    tasks
}

/// What `doctor` says of it.
pub(super) fn looks(teller: &Teller) -> Vec<Look> {
    let one = |verdict, text| Look { what: "notices".to_owned(), verdict, text };
    let failed = teller.unheard.all();
    if let Some(last) = failed.last() {
        let text = format!(
            "{} did not get through, the last by `{}`: {} ({}). See \"chargehand notices\"; try it with \"chargehand notices test\".",
            failed.len(),
            last.way,
            last.text,
            last.why
        );
        return vec![one(Verdict::Wrong, text)];
    }
    let text = match teller.receivers.len() {
        0 => "nobody is told outside the shop: daemon.toml has no [[notices.webhook]] or [[notices.mail]]".to_owned(),
        n => format!("{n} ways to tell somebody, and nothing that did not get through"),
    };
    vec![one(Verdict::Fine, text)]
}
