//! Connections to receivers, in the plain or by TLS 1.2 and 1.3 (RFC 5246, RFC 8446): one provider of ciphers, trust in
//! the authorities that this computer trusts or in one file that the shop names.
//!
//! May live here: opening a connection and saying in a sentence why it is none. May not: what is said over it.

use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, ServerName};
use rustls::{CertificateError, ClientConfig, RootCertStore};
use std::io;
use std::path::Path;
use std::sync::Arc;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;

/// A file of authorities is no longer than this.
const AUTHORITIES_MOST: u64 = 1 << 20;

/// A connection, whatever it is made of.
pub(super) trait Wire: AsyncRead + AsyncWrite + Unpin + Send {}

impl<T: AsyncRead + AsyncWrite + Unpin + Send> Wire for T {}

/// Whose certificates are taken.
#[derive(Debug, Clone)]
pub struct Trust(Arc<ClientConfig>);

impl Trust {
    /// The authorities of a file (PEM) and no others; without one, those that this computer trusts.
    ///
    /// # Errors
    /// With what cannot be read, or that nobody is trusted.
    pub fn of(file: Option<&Path>) -> Result<Self, String> {
        let mut roots = RootCertStore::empty();
        match file {
            Some(file) => own(&mut roots, file)?,
            None => {
                let known = rustls_native_certs::load_native_certs();
                roots.add_parsable_certificates(known.certs);
            }
        }
        if roots.is_empty() {
            return Err(
                "this computer trusts no authority: install the package ca-certificates, or name ca_file".to_owned()
            );
        }
        // named here, so that nothing hangs on what another part of the program made the usual one
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .map_err(|e| e.to_string())?
            .with_root_certificates(roots)
            .with_no_client_auth();
        Ok(Self(Arc::new(config)))
    }

    /// The same for a library that makes its connections itself.
    pub(super) fn config(&self) -> Arc<ClientConfig> {
        Arc::clone(&self.0)
    }

    /// Goes on encrypted, with whoever proves to be this host.
    pub(super) async fn wrap(&self, plain: Box<dyn Wire>, host: &str) -> Result<Box<dyn Wire>, String> {
        let name = ServerName::try_from(host.to_owned()).map_err(|_| format!("{host} is no name of a host"))?;
        let wrapped = TlsConnector::from(self.config()).connect(name, plain).await;
        Ok(Box::new(wrapped.map_err(|e| refused(host, &e))?))
    }
}

fn own(roots: &mut RootCertStore, file: &Path) -> Result<(), String> {
    let told = |why: String| format!("{}: {why}", file.display());
    #[allow(clippy::disallowed_methods, reason = "the authorities' file")]
    let length = std::fs::metadata(file).map_err(|e| told(e.to_string()))?.len();
    if length > AUTHORITIES_MOST {
        return Err(told("this is too long for certificates".to_owned()));
    }
    for certificate in CertificateDer::pem_file_iter(file).map_err(|e| told(e.to_string()))? {
        let certificate = certificate.map_err(|e| told(format!("no certificate in PEM: {e}")))?;
        roots.add(certificate).map_err(|e| told(format!("a certificate that cannot be used: {e}")))?;
    }
    if roots.is_empty() { Err(told("there is no certificate in it (PEM)".to_owned())) } else { Ok(()) }
}

/// Opens a connection; encrypted from its start where there is whom to trust.
pub(super) async fn connect(host: &str, port: u16, trust: Option<&Trust>) -> Result<Box<dyn Wire>, String> {
    // an IPv6 address stands in brackets where a port follows (RFC 3986, 3.2.2)
    let host = host.trim_start_matches('[').trim_end_matches(']');
    let plain = TcpStream::connect((host, port)).await.map_err(|e| format!("{host}:{port} does not answer: {e}"))?;
    match trust {
        Some(trust) => trust.wrap(Box::new(plain), host).await,
        None => Ok(Box::new(plain)),
    }
}

/// Why a host is not believed, and what to do.
fn refused(host: &str, why: &io::Error) -> String {
    let told = |sentence: String| format!("{host} {sentence} Nothing was sent.");
    let Some(why) = why.get_ref().and_then(|e| e.downcast_ref::<rustls::Error>()) else {
        return format!("{host} does not go on encrypted: {why}. Is its port one that speaks TLS?");
    };
    match why {
        rustls::Error::InvalidCertificate(
            CertificateError::UnknownIssuer | CertificateError::BadSignature | CertificateError::InvalidPurpose,
        ) => told(
            "shows a certificate that nobody trusted here has signed. If it is the shop's own, name its file in `ca_file`."
                .to_owned(),
        ),
        rustls::Error::InvalidCertificate(
            CertificateError::NotValidForName | CertificateError::NotValidForNameContext { .. },
        ) => told("shows a certificate made out for another name. Write the name that it is for.".to_owned()),
        rustls::Error::InvalidCertificate(CertificateError::Expired | CertificateError::ExpiredContext { .. }) => {
            told("shows a certificate whose time is over. Whoever runs it has to renew it.".to_owned())
        }
        rustls::Error::InvalidCertificate(CertificateError::NotValidYet | CertificateError::NotValidYetContext { .. }) => {
            told("shows a certificate whose time has not come yet. Is this computer's clock right?".to_owned())
        }
        rustls::Error::InvalidCertificate(other) => told(format!("shows a certificate that is not taken: {other}.")),
        other => format!("{host} does not go on encrypted: {other}. Is its port one that speaks TLS?"),
    }
}
