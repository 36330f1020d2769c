//! Signing keys in files.

use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use api::{KeyError, SigningKeys};
use clinic::Rng;
use ed25519_dalek::SigningKey;
use ed25519_dalek::pkcs8::EncodePrivateKey;

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
