//! What is needed to speak to a daemon over a network: whose certificate is trusted, and the token that is shown.
//!
//! May live here: reading both. May not: sending.

use super::ClientFault;
use crate::outside;
use chargehand_types::problem::{Problem, ProblemKind};
use reqwest::header::{AUTHORIZATION, HeaderMap, HeaderValue};
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};
use std::path::Path;
use std::sync::Arc;

/// The variable that names the certificate's file.
pub(super) const CERTIFICATE: &str = "CHARGEHAND_CERTIFICATE";

fn missing(text: String) -> ClientFault {
    ClientFault::Problem(Problem::new(ProblemKind::Malformed, text))
}

/// TLS that trusts the certificate of a file, and nobody where there is none.
pub(super) fn trusting(certificate: Option<&Path>) -> Result<ClientConfig, ClientFault> {
    let mut roots = RootCertStore::empty();
    if let Some(path) = certificate {
        let told = |why: String| missing(format!("The certificate {} cannot be used: {why}.", path.display()));
        let text = outside::file(path).map_err(|e| told(e.to_string()))?;
        for one in CertificateDer::pem_slice_iter(&text) {
            roots.add(one.map_err(|e| told(e.to_string()))?).map_err(|e| told(e.to_string()))?;
        }
        if roots.is_empty() {
            return Err(told("there is none in it".to_owned()));
        }
    }
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let built = ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions();
    let built = built.map_err(|e| missing(format!("TLS cannot be used: {e}.")))?;
    Ok(built.with_root_certificates(roots).with_no_client_auth())
}

/// The certificate's file must be named before anything is sent over a network.
pub(super) fn must_be_named(certificate: Option<&Path>) -> Result<(), ClientFault> {
    match certificate {
        Some(_) => Ok(()),
        None => Err(missing(format!(
            "Whose certificate is trusted is not said: {CERTIFICATE} names the file chargehand.crt of the daemon's computer."
        ))),
    }
}

/// The token of a file as it is shown with every request; marked so that no log shows it.
pub(super) fn token(file: Option<&Path>) -> Result<HeaderMap, ClientFault> {
    let path = file.ok_or_else(|| {
        missing(
            "A daemon on a network wants a token: CHARGEHAND_TOKEN_FILE names its file. An owner makes one at the machine: chargehand token add."
                .to_owned(),
        )
    })?;
    let told = |why: &str| missing(format!("The token file {} cannot be used: {why}.", path.display()));
    let bytes = outside::file(path).map_err(|e| told(&e.to_string()))?;
    let text = String::from_utf8_lossy(&bytes);
    let mut value = HeaderValue::from_str(&format!("Bearer {}", text.trim())).map_err(|_| told("it holds no token"))?;
    value.set_sensitive(true);
    Ok(HeaderMap::from_iter([(AUTHORIZATION, value)]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_missing_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x");
        let told = |fault: ClientFault| fault.to_string();
        assert!(told(must_be_named(None).unwrap_err()).contains(CERTIFICATE));
        assert!(told(trusting(Some(&path)).unwrap_err()).contains("cannot be used"));
        outside::write_file(&path, b"nothing\n\x01").unwrap();
        assert!(told(trusting(Some(&path)).unwrap_err()).contains("there is none in it"));
        assert!(told(token(Some(&path)).unwrap_err()).contains("holds no token"));
        assert!(told(token(None).unwrap_err()).contains("chargehand token add"));
        assert!(trusting(None).is_ok(), "over a socket nobody need be trusted");
    }

    #[test]
    fn a_token_is_shown_to_nobody_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x");
        outside::write_file(&path, b"chargehand-00ff\n").unwrap();
        let headers = token(Some(&path)).unwrap();
        assert_eq!(headers[AUTHORIZATION], "Bearer chargehand-00ff");
        assert!(!format!("{headers:?}").contains("00ff"), "{headers:?}");
    }
}
