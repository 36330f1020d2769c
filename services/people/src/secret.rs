//! Secrets that are shown once: refresh tokens, one-time codes and API keys.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use store::Tx;

/// A new secret: a prefix that names its kind, and 256 random bits in base64url. Only its digest may be stored.
#[must_use]
pub fn new_secret(tx: &Tx<'_>, prefix: &str) -> String {
    format!("{prefix}_{}", URL_SAFE_NO_PAD.encode(tx.rng.bytes::<32>()))
}
