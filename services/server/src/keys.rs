//! Signing keys in files.

use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use api::{KeyError, SigningKeys};
use clinic::Rng;
use clinic::journal::Statement;
use ed25519_dalek::SigningKey;
use ed25519_dalek::pkcs8::{DecodePrivateKey, EncodePrivateKey};

use crate::settings::Settings;

/// Makes a signing key in a new file that only its owner may read.
///
/// # Errors
/// When the file exists or cannot be written.
pub fn make(path: &Path) -> std::io::Result<()> {
    let pem = new_pem(&Rng::system())?;
    let mut file = std::fs::OpenOptions::new().write(true).create_new(true).mode(0o600).open(path)?;
    file.write_all(pem.as_bytes())?;
    file.sync_all()
}

/// A new signing key in PKCS #8 PEM.
///
/// # Errors
/// When it cannot be encoded.
pub fn new_pem(rng: &Rng) -> std::io::Result<String> {
    SigningKey::from_bytes(&rng.bytes())
        .to_pkcs8_pem(Default::default())
        .map(|pem| pem.to_string())
        .map_err(|error| std::io::Error::other(error.to_string()))
}

/// Reads the signing keys of the configuration.
///
/// # Errors
/// When a file cannot be read or is no key; the path is in the message.
pub fn read<'a>(paths: impl IntoIterator<Item = &'a Path>) -> Result<SigningKeys, KeyError> {
    let pems = paths
        .into_iter()
        .map(|path| {
            std::fs::read_to_string(path)
                .map_err(|error| KeyError::NotAKey(format!("{}: {error}", path.display())))
        })
        .collect::<Result<Vec<_>, _>>()?;
    SigningKeys::from_pems(pems.iter().map(String::as_str))
}

/// The signing key that signs new tokens and statements: the first of the configuration.
///
/// # Errors
/// When there is none, or its file cannot be read or is no key.
pub fn newest(settings: &Settings) -> std::io::Result<SigningKey> {
    let path = settings.signing_keys.first().ok_or_else(|| {
        std::io::Error::other("No signing key is configured. Make one with `stillroom signing-key new FILE`.")
    })?;
    read_one(path)
}

fn read_one(path: &Path) -> std::io::Result<SigningKey> {
    let named = |error: String| std::io::Error::other(format!("{}: {error}", path.display()));
    let pem = std::fs::read_to_string(path).map_err(|error| named(error.to_string()))?;
    parse(&pem).map_err(|error| named(error.to_string()))
}

/// A signing key from PKCS #8 PEM.
///
/// # Errors
/// When it is none.
pub fn parse(pem: &str) -> std::io::Result<SigningKey> {
    SigningKey::from_pkcs8_pem(pem).map_err(|error| std::io::Error::other(error.to_string()))
}

/// Reads a statement of the journal from a file.
///
/// # Errors
/// When the file cannot be read or holds no statement.
pub fn read_statement(path: &Path) -> std::io::Result<Statement> {
    let named = |error: String| std::io::Error::other(format!("{}: {error}", path.display()));
    let text = std::fs::read_to_string(path).map_err(|error| named(error.to_string()))?;
    serde_json::from_str(&text).map_err(|error| named(error.to_string()))
}

/// Whether one of the configured keys signed a statement.
///
/// # Errors
/// When a key file cannot be read.
pub fn is_configured(settings: &Settings, statement: &Statement) -> std::io::Result<bool> {
    for path in &settings.signing_keys {
        if hex::encode(read_one(path)?.verifying_key().as_bytes()) == statement.key {
            return Ok(true);
        }
    }
    Ok(false)
}
