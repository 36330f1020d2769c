//! Argon2id hashing on blocking threads, at most half of the cores (rounded up), so that sign-ins never starve reads.
//!
//! Verification takes the same time for an unknown account. Never here: a password that is stored or logged.

use std::sync::Arc;

use argon2::{Algorithm, Argon2, Params, PasswordHasher, PasswordVerifier, Version};
use store::{Error, Result, Rng};
use tokio::sync::Semaphore;

/// 46 MiB, one pass, one lane: OWASP ASVS 5.0, appendix C, for Argon2id (verified there; algorithm: RFC 9106).
const MEMORY_KIB: u32 = 46 * 1024;

/// A password that can be found in fewer guesses is refused. An attacker with 100 guesses an hour would need more than
/// a year for this many.
const FEWEST_GUESSES: u64 = 1_000_000;

/// The hasher, with a dummy hash for unknown accounts.
pub struct Passwords {
    argon: Argon2<'static>,
    at_once: Arc<Semaphore>,
    dummy_hash: Arc<str>,
}

impl Passwords {
    /// Creates the hasher; `rng` supplies the dummy hash.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the hashing parameters are invalid.
    pub fn new(rng: &Rng) -> Result<Self> {
        let params =
            Params::new(MEMORY_KIB, 1, 1, None).map_err(|error| Error::internal(error.to_string()))?;
        let argon = Argon2::new(Algorithm::Argon2id, Version::V0x13, params);
        let dummy_hash = dummy_hash(rng).into();
        let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        Ok(Self { argon, at_once: Arc::new(Semaphore::new(cores.div_ceil(2))), dummy_hash })
    }

    /// Hashes a password into the PHC string format.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if hashing fails or its thread panics.
    pub async fn hash(&self, password: String, rng: &Rng) -> Result<String> {
        let salt: [u8; 16] = rng.bytes();
        let argon = self.argon.clone();
        self.blocking(move || hash_now(&argon, &password, &salt)).await?
    }

    /// Verifies a password. Without a hash, the work is the same and the result is `false`.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the hashing thread panics.
    pub async fn verify(&self, password: String, hash: Option<String>) -> Result<bool> {
        let argon = self.argon.clone();
        let dummy_hash = Arc::clone(&self.dummy_hash);
        self.blocking(move || {
            let known = hash.is_some();
            let hash = hash.as_deref().unwrap_or(&dummy_hash);
            let right = PasswordVerifier::<str>::verify_password(&argon, password.as_bytes(), hash).is_ok();
            right && known
        })
        .await
    }

    /// Checks a new password: 12 to 128 characters of any kind, not easy to guess, and not based on the words in `own`,
    /// such as the sign-in name. A long password takes a while to judge, so that happens beside the executor too.
    ///
    /// # Errors
    /// Returns [`Error::Invalid`] at `pointer`.
    pub(crate) async fn acceptable(&self, password: &str, own: &[&str], pointer: &str) -> Result<()> {
        length_acceptable(password, pointer)?;
        let password = password.to_owned();
        let own: Vec<String> = own.iter().map(|&word| word.to_owned()).collect();
        let strong = self.blocking(move || is_strong(&password, &own)).await?;
        if strong {
            return Ok(());
        }
        Err(Error::field(
            pointer,
            "This password is too easy to guess. Choose a longer phrase that only you know.",
        ))
    }

    async fn blocking<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T> {
        let permit =
            Arc::clone(&self.at_once).acquire_owned().await.map_err(|error| Error::Internal(error.into()))?;
        let span = tracing::Span::current();
        tokio::task::spawn_blocking(move || {
            let _permit = permit;
            span.in_scope(work)
        })
        .await
        .map_err(|error| Error::Internal(error.into()))
    }
}

/// A hash of no password: random salt and random output, which cost as much to verify as a real hash. It is not
/// computed, because the memory that hashing takes would stay allocated from the start of the process.
fn dummy_hash(rng: &Rng) -> String {
    use base64::Engine;
    use base64::engine::general_purpose::STANDARD_NO_PAD;
    let (salt, output): ([u8; 16], [u8; 32]) = (rng.bytes(), rng.bytes());
    format!(
        "$argon2id$v=19$m={MEMORY_KIB},t=1,p=1${}${}",
        STANDARD_NO_PAD.encode(salt),
        STANDARD_NO_PAD.encode(output)
    )
}

fn hash_now(argon: &Argon2<'_>, password: &str, salt: &[u8; 16]) -> Result<String> {
    argon
        .hash_password_with_salt(password.as_bytes(), salt)
        .map(|hash| hash.to_string())
        .map_err(|error| Error::internal(error.to_string()))
}

fn length_acceptable(password: &str, pointer: &str) -> Result<()> {
    let length = password.chars().count();
    if (12..=128).contains(&length) {
        return Ok(());
    }
    Err(Error::field(pointer, format!("Enter a password of 12 to 128 characters. This one has {length}.")))
}

fn is_strong(password: &str, own: &[String]) -> bool {
    let own: Vec<&str> = own.iter().map(String::as_str).collect();
    zxcvbn::zxcvbn(password, &own).guesses() >= FEWEST_GUESSES
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_commonest_passwords_are_refused_and_phrases_accepted() {
        for common in ["password1234", "123456789012", "qwertyuiop12", "aaaaaaaaaaaaaaaa", "ilse.brandt2"] {
            assert!(!is_strong(common, &["ilse.brandt".to_owned()]), "{common}");
        }
        for fine in ["marigold petals in warm oil", "    spaces count as characters    ", "žluťoučký kůň pěl"]
        {
            assert!(is_strong(fine, &[]), "{fine}");
        }
    }

    #[tokio::test]
    async fn the_dummy_hash_has_real_parameters_and_never_matches() {
        use argon2::password_hash::phc::PasswordHash;
        let source = Rng::seeded(1);
        let passwords = Passwords::new(&source).unwrap();
        let hash = passwords.hash("marigold petals in warm oil".into(), &source).await.unwrap();
        let (ours, dummy) =
            (PasswordHash::new(&hash).unwrap(), PasswordHash::new(&passwords.dummy_hash).unwrap());
        assert_eq!(ours.algorithm, dummy.algorithm);
        assert_eq!(ours.version, dummy.version);
        assert_eq!(ours.params, dummy.params);
        let length = |hash: &PasswordHash| hash.hash.as_ref().map(|output| output.as_bytes().len());
        assert_eq!(length(&ours), length(&dummy));
        assert!(passwords.verify("marigold petals in warm oil".into(), Some(hash)).await.unwrap());
        assert!(!passwords.verify("marigold petals in warm oil".into(), None).await.unwrap());
    }

    #[test]
    fn length_is_counted_in_characters() {
        assert!(length_acceptable("short", "/password").is_err());
        assert!(length_acceptable(&"long phrase ".repeat(11), "/password").is_err());
    }
}
