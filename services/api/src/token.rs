//! Access tokens (RFC 9068): EdDSA, valid for ten minutes, every claim required. The algorithm is fixed here and never
//! taken from a token (RFC 8725).

use chrono::{DateTime, Duration, Utc};
use clinic::Clock;
use clinic::Credentials;
use ed25519_dalek::SigningKey;
use ed25519_dalek::pkcs8::DecodePrivateKey;
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use quick_cache::sync::Cache;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use wire::ids::{PersonId, SessionId};

/// The lifetime of an access token. Session and account are verified in the database on every request all the same.
pub(crate) const LIFETIME: Duration = Duration::minutes(10);

const AUDIENCE: &str = "stillroom-api";
const TYPE: &str = "at+jwt";

/// How many verified tokens are cached: verifying a signature costs more than most requests.
const CACHE_CAPACITY: usize = 10_000;

/// Why a signing key cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum KeyError {
    /// There is none.
    #[error(
        "No signing key is set. Create one with `stillroom signing-key new PATH` and name its path in STILLROOM_SIGNING_KEYS"
    )]
    None,
    /// It is not an Ed25519 private key in PKCS #8 PEM.
    #[error("A signing key must be an Ed25519 private key in PKCS #8 PEM: {0}")]
    NotAKey(String),
}

struct Key {
    id: String,
    public: [u8; 32],
    encoding: EncodingKey,
    decoding: DecodingKey,
}

/// The keys that access tokens are signed and verified with. To rotate: put a new one first, and take the old one out
/// ten minutes later.
pub struct SigningKeys(Vec<Key>);

impl SigningKeys {
    /// Reads keys from PEM texts; the first signs.
    ///
    /// # Errors
    /// When there is none, or one is not an Ed25519 private key.
    pub fn from_pems<'a>(pems: impl IntoIterator<Item = &'a str>) -> Result<Self, KeyError> {
        let keys = pems.into_iter().map(read).collect::<Result<Vec<_>, _>>()?;
        if keys.is_empty() { Err(KeyError::None) } else { Ok(Self(keys)) }
    }
}

fn read(pem: &str) -> Result<Key, KeyError> {
    let not = |error: String| KeyError::NotAKey(error);
    let key = SigningKey::from_pkcs8_pem(pem).map_err(|error| not(error.to_string()))?;
    let public = key.verifying_key().to_bytes();
    Ok(Key {
        id: hex::encode(Sha256::digest(public).get(..8).unwrap_or_default()),
        public,
        encoding: EncodingKey::from_ed_pem(pem.as_bytes()).map_err(|error| not(error.to_string()))?,
        decoding: DecodingKey::from_ed_der(&public),
    })
}

#[derive(Serialize, Deserialize)]
struct Fields {
    iss: String,
    aud: String,
    sub: PersonId,
    sid: SessionId,
    iat: i64,
    exp: i64,
}

/// A published key (RFC 8037).
#[derive(Serialize)]
pub(crate) struct PublicKey {
    kty: &'static str,
    crv: &'static str,
    alg: &'static str,
    #[serde(rename = "use")]
    use_: &'static str,
    kid: String,
    x: String,
}

/// Issues and reads access tokens.
pub(crate) struct Tokens {
    keys: SigningKeys,
    issuer: String,
    validation: Validation,
    verified: Cache<[u8; 32], (Credentials, i64)>,
}

impl Tokens {
    pub(crate) fn new(keys: SigningKeys, issuer: String) -> Self {
        let mut validation = Validation::new(Algorithm::EdDSA);
        validation.set_required_spec_claims(&["iss", "aud", "sub", "exp"]);
        validation.set_issuer(&[&issuer]);
        validation.set_audience(&[AUDIENCE]);
        // Checked below with the injected clock; the library would read the system's.
        validation.validate_exp = false;
        Self { keys, issuer, validation, verified: Cache::new(CACHE_CAPACITY) }
    }

    /// A token for a session; `None` if it cannot be signed.
    pub(crate) fn issue(&self, person: PersonId, session: SessionId, now: DateTime<Utc>) -> Option<String> {
        let key = self.keys.0.first()?;
        let mut header = Header::new(Algorithm::EdDSA);
        header.typ = Some(TYPE.into());
        header.kid = Some(key.id.clone());
        let fields = Fields {
            iss: self.issuer.clone(),
            aud: AUDIENCE.into(),
            sub: person,
            sid: session,
            iat: now.timestamp(),
            exp: (now + LIFETIME).timestamp(),
        };
        jsonwebtoken::encode(&header, &fields, &key.encoding).ok()
    }

    /// The credentials in a token; `None` if the token is invalid or expired. The reason is withheld from the caller.
    pub(crate) fn read(&self, token: &str, clock: &Clock) -> Option<Credentials> {
        let now = clock.now().timestamp();
        let name: [u8; 32] = Sha256::digest(token.as_bytes()).into();
        if let Some((credentials, until)) = self.verified.get(&name) {
            return (until > now).then_some(credentials);
        }
        let (credentials, until) = self.verify(token)?;
        if until <= now {
            return None;
        }
        self.verified.insert(name, (credentials, until));
        Some(credentials)
    }

    fn verify(&self, token: &str) -> Option<(Credentials, i64)> {
        let header = jsonwebtoken::decode_header(token).ok()?;
        // Only a configured key, found by `kid`. `jku`, `jwk` and `x5u` are never read.
        if header.typ.as_deref() != Some(TYPE) || header.alg != Algorithm::EdDSA || header.crit.is_some() {
            return None;
        }
        let id = header.kid?;
        let key = self.keys.0.iter().find(|key| key.id == id)?;
        let fields = jsonwebtoken::decode::<Fields>(token, &key.decoding, &self.validation).ok()?.claims;
        Some((Credentials::Session { session: fields.sid, person: fields.sub }, fields.exp))
    }

    /// The public keys.
    pub(crate) fn published(&self) -> Vec<PublicKey> {
        use base64::Engine;
        self.keys
            .0
            .iter()
            .map(|key| PublicKey {
                kty: "OKP",
                crv: "Ed25519",
                alg: "EdDSA",
                use_: "sig",
                kid: key.id.clone(),
                x: base64::engine::general_purpose::URL_SAFE_NO_PAD.encode(key.public),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ed25519_dalek::pkcs8::EncodePrivateKey;
    use uuid::Uuid;

    fn tokens(seed: u8) -> Tokens {
        let pem = SigningKey::from_bytes(&[seed; 32]).to_pkcs8_pem(Default::default()).unwrap();
        Tokens::new(SigningKeys::from_pems([pem.as_str()]).unwrap(), "https://clinic.example".into())
    }

    fn issue(tokens: &Tokens, clock: &Clock) -> String {
        tokens.issue(PersonId(Uuid::from_u128(1)), SessionId(Uuid::from_u128(2)), clock.now()).unwrap()
    }

    #[test]
    fn a_token_ends_after_ten_minutes_by_our_clock_also_when_cached() {
        let (tokens, clock) = (tokens(1), Clock::manual(DateTime::from_timestamp(1_800_000_000, 0).unwrap()));
        let token = issue(&tokens, &clock);
        assert!(tokens.read(&token, &clock).is_some());
        clock.advance(Duration::seconds(599));
        assert!(tokens.read(&token, &clock).is_some());
        clock.advance(Duration::seconds(1));
        assert!(tokens.read(&token, &clock).is_none());
    }

    #[test]
    fn a_token_of_another_key_or_issuer_is_nobodys() {
        let clock = Clock::manual(DateTime::from_timestamp(1_800_000_000, 0).unwrap());
        assert!(tokens(2).read(&issue(&tokens(1), &clock), &clock).is_none());
        let pem = SigningKey::from_bytes(&[1; 32]).to_pkcs8_pem(Default::default()).unwrap();
        let other =
            Tokens::new(SigningKeys::from_pems([pem.as_str()]).unwrap(), "https://other.example".into());
        assert!(other.read(&issue(&tokens(1), &clock), &clock).is_none());
    }

    #[test]
    fn a_tampered_or_unsigned_token_is_nobodys() {
        use base64::Engine;
        let (tokens, clock) = (tokens(1), Clock::manual(DateTime::from_timestamp(1_800_000_000, 0).unwrap()));
        let token = issue(&tokens, &clock);
        let mut parts: Vec<String> = token.split('.').map(str::to_owned).collect();
        let encode = |text: &str| base64::engine::general_purpose::URL_SAFE_NO_PAD.encode(text);
        parts[1] = encode(r#"{"iss":"https://clinic.example","aud":"stillroom-api","exp":9999999999}"#);
        assert!(tokens.read(&parts.join("."), &clock).is_none());
        for header in [r#"{"alg":"none","typ":"at+jwt"}"#, r#"{"alg":"HS256","typ":"at+jwt","kid":"x"}"#] {
            assert!(tokens.read(&format!("{}.{}.", encode(header), parts[1]), &clock).is_none());
        }
    }
}
