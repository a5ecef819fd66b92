//! The certificate and key that the API shows over a network: read from their files, with what is wrong in plain
//! words, or made for a shop that has none.
//!
//! May live here: the two files. May not: the socket.

use super::validity::validity;
use chrono::{DateTime, Datelike, TimeDelta, Utc};
use rcgen::{CertificateParams, DnType, KeyPair};
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use std::fs::OpenOptions;
use std::io::{self, Read, Write};
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// No certificate or key is larger.
const BYTES_AT_MOST: u64 = 256 * 1024;
/// Days that a certificate made here holds.
const DAYS: i64 = 730;
/// A key is for the daemon's user, and a group that may read keys.
const READ_BY_OTHERS: u32 = 0o007;

/// Why the certificate cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum CertificateFault {
    /// A file is not there.
    #[error(
        "there is no file {path} with the {what}. Make both: chargehand-daemon --config FILE --make-certificate NAME"
    )]
    Missing {
        /// Certificate or key.
        what: &'static str,
        /// Where.
        path: PathBuf,
    },
    /// A file cannot be read.
    #[error("the {what} {path} cannot be read: {error}")]
    Unreadable {
        /// Certificate or key.
        what: &'static str,
        /// Where.
        path: PathBuf,
        /// Why.
        error: io::Error,
    },
    /// Anybody may read the key.
    #[error("the key {path} stands open to every user of this computer (mode {mode:o}): chmod o= {path}")]
    Open {
        /// Where.
        path: PathBuf,
        /// Its mode.
        mode: u32,
    },
    /// Not what it should be.
    #[error("{path} holds no {what} in the PEM form: {why}")]
    Malformed {
        /// Certificate or key.
        what: &'static str,
        /// Where.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// The two do not go together, or the key is of a kind that is not used.
    #[error("the certificate {certificate} and the key {key} cannot be used together: {why}")]
    NoPair {
        /// The certificate.
        certificate: PathBuf,
        /// The key.
        key: PathBuf,
        /// Why.
        why: rustls::Error,
    },
    /// It does not hold now.
    #[error("the certificate {path} holds from {from} to {to}, and it is {now}: make a new one, or look at the clock", from = day(from), to = day(to), now = day(now))]
    NotNow {
        /// Where.
        path: PathBuf,
        /// From then.
        from: DateTime<Utc>,
        /// To then.
        to: DateTime<Utc>,
        /// What the clock shows.
        now: DateTime<Utc>,
    },
    /// A file that would be written is there.
    #[error("{0} is there already and is not written over: move it away first")]
    There(PathBuf),
    /// A file cannot be written.
    #[error("{0} cannot be written: {1}")]
    Write(PathBuf, io::Error),
    /// No certificate for these names.
    #[error("no certificate can be made for {names}: {why}")]
    Names {
        /// As given.
        names: String,
        /// Why.
        why: rcgen::Error,
    },
}

fn day(at: &DateTime<Utc>) -> String {
    at.format("%Y-%m-%d %H:%M UTC").to_string()
}

/// A certificate with its key, ready to be shown.
#[derive(Debug, Clone)]
pub struct Identity {
    /// What TLS needs.
    pub(super) config: Arc<ServerConfig>,
    /// Until when it holds.
    pub ends: DateTime<Utc>,
}

/// Reads both files.
///
/// # Errors
/// What is wrong with them.
pub fn load(certificate: &Path, key: &Path, now: DateTime<Utc>) -> Result<Identity, CertificateFault> {
    let chain_text = read(certificate, "certificate")?;
    let malformed = |what, path: &Path, why: String| CertificateFault::Malformed { what, path: path.to_owned(), why };
    let chain: Vec<CertificateDer<'static>> = CertificateDer::pem_slice_iter(&chain_text)
        .collect::<Result<_, _>>()
        .map_err(|e| malformed("certificate", certificate, e.to_string()))?;
    let first = chain.first().ok_or_else(|| malformed("certificate", certificate, "there is none in it".to_owned()))?;
    let (from, to) = validity(first)
        .ok_or_else(|| malformed("certificate", certificate, "it does not say how long it holds".to_owned()))?;
    if now < from || now >= to {
        return Err(CertificateFault::NotNow { path: certificate.to_owned(), from, to, now });
    }
    let key_text = read(key, "key")?;
    let mode = std::fs::metadata(key).map(|m| m.permissions().mode() & 0o777).unwrap_or_default();
    if mode & READ_BY_OTHERS != 0 {
        return Err(CertificateFault::Open { path: key.to_owned(), mode });
    }
    let private = PrivateKeyDer::from_pem_slice(&key_text).map_err(|e| malformed("key", key, e.to_string()))?;
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map(|b| b.with_no_client_auth())
        .and_then(|b| b.with_single_cert(chain, private));
    let mut config = config.map_err(|why| CertificateFault::NoPair {
        certificate: certificate.to_owned(),
        key: key.to_owned(),
        why,
    })?;
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(Identity { config: Arc::new(config), ends: to })
}

fn read(path: &Path, what: &'static str) -> Result<Vec<u8>, CertificateFault> {
    let opened = OpenOptions::new().read(true).open(path);
    let mut bytes = Vec::new();
    let read = opened.and_then(|file| file.take(BYTES_AT_MOST + 1).read_to_end(&mut bytes));
    match read {
        Ok(n) if n as u64 > BYTES_AT_MOST => {
            let why = format!("it is larger than {BYTES_AT_MOST} bytes");
            Err(CertificateFault::Malformed { what, path: path.to_owned(), why })
        }
        Ok(_) => Ok(bytes),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Err(CertificateFault::Missing { what, path: path.to_owned() }),
        Err(error) => Err(CertificateFault::Unreadable { what, path: path.to_owned(), error }),
    }
}

/// Makes a key and a certificate signed with it, for these names and addresses, and writes both. Whoever asks over the
/// network has to be given the certificate's file: nobody else vouches for it. Answers until when it holds.
///
/// # Errors
/// When a file is there already or cannot be written, or a name is none.
pub fn make(
    names: &[String],
    certificate: &Path,
    key: &Path,
    now: DateTime<Utc>,
) -> Result<DateTime<Utc>, CertificateFault> {
    for path in [certificate, key] {
        if path.symlink_metadata().is_ok() {
            return Err(CertificateFault::There(path.to_owned()));
        }
    }
    let faulty = |why| CertificateFault::Names { names: names.join(", "), why };
    let mut params = CertificateParams::new(names.to_vec()).map_err(faulty)?;
    if let Some(first) = names.first() {
        params.distinguished_name.push(DnType::CommonName, first.as_str());
    }
    let of = |at: DateTime<Utc>| {
        let part = |n: u32| u8::try_from(n).unwrap_or(1);
        rcgen::date_time_ymd(at.year(), part(at.month()), part(at.day()))
    };
    let to = now + TimeDelta::days(DAYS);
    // from yesterday on, for clocks that are a little late
    (params.not_before, params.not_after) = (of(now - TimeDelta::days(1)), of(to));
    let pair = KeyPair::generate().map_err(faulty)?;
    let signed = params.self_signed(&pair).map_err(faulty)?;
    write(key, pair.serialize_pem().as_bytes(), 0o600)?;
    write(certificate, signed.pem().as_bytes(), 0o644)?;
    Ok(validity(signed.der()).map_or(to, |(_, to)| to))
}

fn write(path: &Path, bytes: &[u8], mode: u32) -> Result<(), CertificateFault> {
    let file = OpenOptions::new().write(true).create_new(true).mode(mode).open(path);
    file.and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_all()
    })
    .map_err(|e| CertificateFault::Write(path.to_owned(), e))
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "the tests of an I/O room use the real thing")]
mod tests {
    use super::*;
    use std::fs::Permissions;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    /// Two files, made on that day.
    fn made(name: &str) -> (tempfile::TempDir, PathBuf, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let (certificate, key) = (folder.path().join("c.crt"), folder.path().join("c.key"));
        let names = [name.to_owned(), "192.0.2.7".to_owned()];
        make(&names, &certificate, &key, at("2026-11-29T10:00:00Z")).unwrap();
        (folder, certificate, key)
    }

    #[test]
    fn what_is_made_can_be_used_and_is_not_written_over() {
        let (_folder, certificate, key) = made("router.shop.example");
        let identity = load(&certificate, &key, at("2026-11-29T10:00:00Z")).unwrap();
        assert_eq!(identity.ends, at("2028-11-28T00:00:00Z"));
        assert_eq!(std::fs::metadata(&key).unwrap().permissions().mode() & 0o777, 0o600);
        let again = make(&["x".to_owned()], &certificate, &key, at("2026-11-29T10:00:00Z"));
        assert!(matches!(again, Err(CertificateFault::There(_))));
    }

    #[test]
    fn each_fault_says_which_file_and_what_to_do() {
        let (folder, certificate, key) = made("a.example");
        let now = at("2026-11-29T10:00:00Z");
        let told = |c: &Path, k: &Path, now| load(c, k, now).unwrap_err().to_string();
        let none = folder.path().join("none");
        assert!(told(&none, &key, now).contains("--make-certificate"));
        assert!(told(&certificate, &none, now).contains("no file"));
        assert!(told(folder.path(), &key, now).contains("cannot be read"));
        assert!(told(&key, &key, now).contains("holds no certificate"));
        assert!(told(&certificate, &certificate, now).contains("stands open"));
        let late = told(&certificate, &key, at("2030-01-01T00:00:00Z"));
        assert!(
            late.contains("holds from 2026-11-28 00:00 UTC to 2028-11-28") && late.contains("2030-01-01"),
            "{late}"
        );
        assert!(told(&certificate, &key, at("2020-01-01T00:00:00Z")).contains("look at the clock"));
        let (_other, _, other_key) = made("b.example");
        assert!(told(&certificate, &other_key, now).contains("cannot be used together"));
        std::fs::set_permissions(&key, Permissions::from_mode(0o644)).unwrap();
        assert!(told(&certificate, &key, now).contains("chmod o="));
        std::fs::write(&none, vec![b'x'; 300_000]).unwrap();
        assert!(told(&none, &key, now).contains("larger"));
    }
}
