//! Signatures of requests, as the Standard Webhooks 1.0.0 specification gives them: HMAC-SHA256 over
//! `id.timestamp.body`, written `v1,BASE64`; the key is written `whsec_BASE64`.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

/// Bytes of a block of SHA-256 (FIPS 180-4).
const BLOCK: usize = 64;
/// A key has at least so many bytes (Standard Webhooks, "Signature scheme").
const KEY_LEAST: usize = 24;

/// A key that requests are signed with.
#[derive(Clone, PartialEq, Eq)]
pub(super) struct Key(Vec<u8>);

impl std::fmt::Debug for Key {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Key(…)")
    }
}

impl Key {
    /// Reads `whsec_BASE64`.
    pub fn read(text: &str) -> Result<Self, String> {
        let written = text.trim().strip_prefix("whsec_").ok_or("a key begins with whsec_")?;
        let bytes = STANDARD.decode(written).map_err(|_| "what follows whsec_ is no base64")?;
        if bytes.len() < KEY_LEAST {
            return Err(format!("a key has at least {KEY_LEAST} bytes; this one has {}", bytes.len()));
        }
        Ok(Self(bytes))
    }

    /// The header `webhook-signature`.
    pub fn signature(&self, id: &str, timestamp: i64, body: &[u8]) -> String {
        let mut text = format!("{id}.{timestamp}.").into_bytes();
        text.extend_from_slice(body);
        format!("v1,{}", STANDARD.encode(hmac(&self.0, &text)))
    }
}

/// HMAC (RFC 2104) with SHA-256.
fn hmac(key: &[u8], text: &[u8]) -> [u8; 32] {
    let mut block = [0_u8; BLOCK];
    if key.len() > BLOCK {
        for (b, k) in block.iter_mut().zip(Sha256::digest(key)) {
            *b = k;
        }
    } else {
        for (b, k) in block.iter_mut().zip(key) {
            *b = *k;
        }
    }
    let inner = Sha256::new().chain_update(block.map(|b| b ^ 0x36)).chain_update(text).finalize();
    Sha256::new().chain_update(block.map(|b| b ^ 0x5c)).chain_update(inner).finalize().into()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hex(bytes: &[u8]) -> String {
        bytes.iter().map(|b| format!("{b:02x}")).collect()
    }

    // RFC 4231, test cases 1, 2 and 6 (from memory of the RFC; Python's hmac module gives the same)
    #[test]
    fn hmac_agrees_with_the_standards_cases() {
        assert_eq!(
            hex(&hmac(&[0x0b; 20], b"Hi There")),
            "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"
        );
        assert_eq!(
            hex(&hmac(b"Jefe", b"what do ya want for nothing?")),
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
        );
        assert_eq!(
            hex(&hmac(&[0xaa; 131], b"Test Using Larger Than Block-Size Key - Hash Key First")),
            "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54"
        );
    }

    // reckoned outside of this program, with Python's hmac and base64
    #[test]
    fn a_known_request_has_its_known_signature() {
        let key = Key::read("whsec_MDEyMzQ1Njc4OWFiY2RlZjAxMjM0NTY3\n").unwrap();
        let body = br#"{"type":"job.finished","timestamp":"2025-01-02T03:04:05Z","data":{"job_id":"J-0042"}}"#;
        let signature = key.signature("msg_0001", 1_735_787_045, body);
        assert_eq!(signature, "v1,ABNI2x5dKzv9vJTImdq5H6KUKnLMUO07rOedx1FXOpM=");
    }

    #[test]
    fn a_key_that_is_none_is_refused() {
        for text in ["", "abc", "whsec_!!", "whsec_c2hvcnQ="] {
            assert!(Key::read(text).is_err(), "{text}");
        }
    }
}
