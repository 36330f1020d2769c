//! What a page hands to a browser and takes back: signed, so that nobody else can make it, or sealed, so that nobody can
//! read it either. Each use has a key of its own.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chacha20poly1305::aead::{Aead, KeyInit as _, Payload};
use chacha20poly1305::{ChaCha20Poly1305, Key, Nonce};
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use wire::ids::PersonId;

/// What something was signed or sealed for.
#[derive(Clone, Copy, Debug)]
pub(crate) enum For {
    /// The cookie of a known device.
    Device,
    /// A form that a person sent when the session had ended.
    Form(PersonId),
    /// The key of what a person's device keeps while there is no network.
    Unsent(PersonId),
}

fn key(secret: &[u8; 32], what: For) -> [u8; 32] {
    let text = match what {
        For::Device => "stillroom pages device 1".to_owned(),
        For::Form(person) => format!("stillroom pages form 1 {person}"),
        For::Unsent(person) => format!("stillroom pages unsent 1 {person}"),
    };
    // HMAC takes keys of every length, so this cannot fail.
    let Ok(mut mac) = <Hmac<Sha256> as KeyInit>::new_from_slice(secret) else { return [0; 32] };
    mac.update(text.as_bytes());
    mac.finalize().into_bytes().into()
}

/// A key for one purpose, made from the secret of the pages.
pub(crate) fn derived(secret: &[u8; 32], what: For) -> [u8; 32] {
    key(secret, what)
}

/// A text with its signature behind it.
pub(crate) fn sign(secret: &[u8; 32], what: For, text: &str) -> String {
    let Ok(mut mac) = <Hmac<Sha256> as KeyInit>::new_from_slice(&key(secret, what)) else {
        return String::new();
    };
    mac.update(text.as_bytes());
    format!("{text}.{}", URL_SAFE_NO_PAD.encode(mac.finalize().into_bytes()))
}

/// The text, if the signature is ours.
pub(crate) fn signed<'t>(secret: &[u8; 32], what: For, sent: &'t str) -> Option<&'t str> {
    let (text, signature) = sent.rsplit_once('.')?;
    let mut mac = <Hmac<Sha256> as KeyInit>::new_from_slice(&key(secret, what)).ok()?;
    mac.update(text.as_bytes());
    mac.verify_slice(&URL_SAFE_NO_PAD.decode(signature).ok()?).ok()?;
    Some(text)
}

/// A text that only whoever has the key can read. `nonce` is random.
pub(crate) fn seal(secret: &[u8; 32], what: For, nonce: [u8; 12], text: &str) -> Option<String> {
    let cipher = ChaCha20Poly1305::new(&Key::from(key(secret, what)));
    let sealed = cipher.encrypt(&Nonce::from(nonce), Payload::from(text.as_bytes())).ok()?;
    Some(URL_SAFE_NO_PAD.encode([&nonce[..], &sealed].concat()))
}

/// The text, if it was sealed by us for this.
pub(crate) fn open(secret: &[u8; 32], what: For, sealed: &str) -> Option<String> {
    let bytes = URL_SAFE_NO_PAD.decode(sealed).ok()?;
    let (nonce, sealed) = bytes.split_first_chunk::<12>()?;
    let cipher = ChaCha20Poly1305::new(&Key::from(key(secret, what)));
    String::from_utf8(cipher.decrypt(&Nonce::from(*nonce), Payload::from(sealed)).ok()?).ok()
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    #[test]
    fn what_was_signed_or_sealed_for_one_purpose_serves_no_other() {
        let secret = [7; 32];
        let (noor, tomas) = (PersonId(Uuid::from_u128(1)), PersonId(Uuid::from_u128(2)));
        let signed_text = sign(&secret, For::Device, "a.b");
        assert_eq!(signed(&secret, For::Device, &signed_text), Some("a.b"));
        assert_eq!(signed(&[8; 32], For::Device, &signed_text), None);
        assert_eq!(signed(&secret, For::Device, &signed_text.replace("a.b", "a.c")), None);
        let sealed = seal(&secret, For::Form(noor), [1; 12], "311.9 g").unwrap();
        assert_eq!(open(&secret, For::Form(noor), &sealed).as_deref(), Some("311.9 g"));
        assert_eq!(open(&secret, For::Form(tomas), &sealed), None);
        assert_eq!(open(&secret, For::Unsent(noor), &sealed), None);
    }
}
