//! The API over a network, by config: its certificate found, its address taken. What is wrong with either is told, and
//! the machine's own socket is served all the same: an old certificate must not stop a shop.
//!
//! May live here: finding the files, the doctor's word. May not: TLS itself.

use super::premises::Premises;
use crate::api::certificate::{self, Identity};
use crate::api::{CertificateFault, NetworkDoor};
use crate::shop::config::{Network, Port};
use chargehand_types::queue::{Look, Verdict};
use chrono::{DateTime, TimeDelta, Utc};
use std::path::PathBuf;

/// So long before a certificate ends it is worth a word.
const SOON: TimeDelta = TimeDelta::days(30);

fn files(premises: &Premises, network: &Network) -> (PathBuf, PathBuf) {
    (premises.folder.join(&network.certificate), premises.folder.join(&network.key))
}

/// The certificate that config names; none where nobody is to listen.
///
/// # Errors
/// What is wrong with it.
pub fn identity(premises: &Premises, now: DateTime<Utc>) -> Result<Option<Identity>, CertificateFault> {
    let Some(network) = &premises.config.api.network else { return Ok(None) };
    let (certificate, key) = files(premises, network);
    certificate::load(&certificate, &key, now).map(Some)
}

/// The door, or why there is none though config asks for one.
pub(super) fn open(premises: &Premises, now: DateTime<Utc>) -> Result<Option<NetworkDoor>, String> {
    let (Some(network), Some(identity)) =
        (&premises.config.api.network, identity(premises, now).map_err(|e| e.to_string())?)
    else {
        return Ok(None);
    };
    let door = NetworkDoor::open(network.listen, identity).map_err(|e| e.to_string())?;
    tracing::info!("serving on {} with TLS, for whoever shows a token", door.address());
    Ok(Some(door))
}

/// Makes certificate and key where config looks for them, and says where they are.
///
/// # Errors
/// When a file is there already or cannot be written.
pub fn make_certificate(premises: &Premises, names: &[String], now: DateTime<Utc>) -> Result<String, CertificateFault> {
    let usual = || Network {
        listen: ([0, 0, 0, 0], 0).into(),
        certificate: "chargehand.crt".to_owned(),
        key: "chargehand.key".to_owned(),
    };
    let network = premises.config.api.network.clone().unwrap_or_else(usual);
    let (certificate, key) = files(premises, &network);
    let to = certificate::make(names, &certificate, &key, now)?;
    Ok(format!(
        "{} is the certificate for {}, until {}; {} is its key. Give the certificate, never the key, to whoever asks \
         over the network.",
        certificate.display(),
        names.join(", "),
        to.format("%Y-%m-%d"),
        key.display()
    ))
}

/// Whether terminals started from a login over a network are told from others: wherever something real can move.
pub(super) fn tells_remote(premises: &Premises) -> bool {
    let real = match &premises.config.machine.port {
        Port::Path(path) => !crate::serial::is_pseudo_terminal(path),
        Port::Simulated => false,
    };
    real || premises.config.practice.refuse_remote_login
}

/// The doctor's word; none where nobody is to listen.
pub(super) fn look(premises: &Premises, trouble: Option<&String>, tokens: usize, now: DateTime<Utc>) -> Option<Look> {
    let network = premises.config.api.network.as_ref()?;
    let (verdict, text) = match (trouble, identity(premises, now)) {
        (Some(why), _) => {
            (Verdict::Wrong, format!("nobody listens on {}: {why}. Then start the daemon anew.", network.listen))
        }
        (None, Err(why)) => (Verdict::Wrong, format!("{why}. Then start the daemon anew.")),
        (None, Ok(None)) => return None,
        (None, Ok(Some(identity))) => {
            let ends = identity.ends.format("%Y-%m-%d");
            match (identity.ends - now < SOON, tokens) {
                (true, _) => (
                    Verdict::Word,
                    format!("the certificate ends on {ends}: make a new one, then start the daemon anew"),
                ),
                (false, 0) => {
                    (Verdict::Word, "there is no token yet, so nobody is let in: chargehand token add".to_owned())
                }
                (false, _) => (Verdict::Fine, format!("{} with TLS, certificate until {ends}", network.listen)),
            }
        }
    };
    Some(Look { what: "network".to_owned(), verdict, text })
}
