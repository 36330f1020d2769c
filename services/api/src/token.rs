//! Access tokens (RFC 9068): EdDSA, valid for ten minutes, every claim required. The algorithm is fixed here and never
//! taken from a token (RFC 8725).

use chrono::{DateTime, Duration, Utc};
use clinic::Clock;
use clinic::Credentials;
use clinic::people::KnownDevice;
use ed25519_dalek::SigningKey;
use ed25519_dalek::pkcs8::DecodePrivateKey;
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use quick_cache::sync::Cache;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use uuid::Uuid;
use wire::ids::{PersonId, SessionId};
use wire::teaching::CredentialFacts;

use crate::badge;

/// The lifetime of an access token. Session and account are verified in the database on every request all the same.
pub(crate) const LIFETIME: Duration = Duration::minutes(10);

const AUDIENCE: &str = "stillroom-api";
const TYPE: &str = "at+jwt";

/// For how long a device is known after the last sign-in on it.
const DEVICE_LIFETIME: Duration = Duration::days(180);
/// Type and audience of their own, so that neither kind of token can pass for the other.
const DEVICE_AUDIENCE: &str = "stillroom-device";
const DEVICE_TYPE: &str = "device+jwt";

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
    /// A secret of its own for keyed digests, made from the signing key.
    digest_key: [u8; 32],
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

    /// A key for keyed digests, made from the key that signs: whoever has only the database cannot make them.
    #[must_use]
    pub fn digest_key(&self) -> [u8; 32] {
        self.0.first().map(|key| key.digest_key).unwrap_or_default()
    }
}

fn read(pem: &str) -> Result<Key, KeyError> {
    let not = |error: String| KeyError::NotAKey(error);
    let key = SigningKey::from_pkcs8_pem(pem).map_err(|error| not(error.to_string()))?;
    let public = key.verifying_key().to_bytes();
    let digest_key = Sha256::new().chain_update(b"stillroom digest key 1").chain_update(key.to_bytes());
    Ok(Key {
        digest_key: digest_key.finalize().into(),
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

#[derive(Serialize, Deserialize)]
struct DeviceFields {
    iss: String,
    aud: String,
    sub: PersonId,
    jti: Uuid,
    iat: i64,
    exp: i64,
}

/// What a bearer token turned out to be.
pub(crate) enum Read {
    /// Good, with the credentials in it.
    Good(Credentials),
    /// Signed by us, and past its time: what every client sends now and then.
    Expired,
    /// Not one of ours.
    Invalid,
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
    device_validation: Validation,
    verified: Cache<[u8; 32], (Credentials, i64)>,
}

impl Tokens {
    pub(crate) fn new(keys: SigningKeys, issuer: String) -> Self {
        let (validation, device_validation) =
            (validation(&issuer, AUDIENCE), validation(&issuer, DEVICE_AUDIENCE));
        Self { keys, issuer, validation, device_validation, verified: Cache::new(CACHE_CAPACITY) }
    }

    /// A token for a session; `None` if it cannot be signed.
    pub(crate) fn issue(&self, person: PersonId, session: SessionId, now: DateTime<Utc>) -> Option<String> {
        let fields = Fields {
            iss: self.issuer.clone(),
            aud: AUDIENCE.into(),
            sub: person,
            sid: session,
            iat: now.timestamp(),
            exp: (now + LIFETIME).timestamp(),
        };
        self.sign(TYPE, &fields)
    }

    /// A token by which a device is known again; `None` if it cannot be signed.
    pub(crate) fn issue_device(&self, device: KnownDevice, now: DateTime<Utc>) -> Option<String> {
        let fields = DeviceFields {
            iss: self.issuer.clone(),
            aud: DEVICE_AUDIENCE.into(),
            sub: device.person,
            jti: device.id,
            iat: now.timestamp(),
            exp: (now + DEVICE_LIFETIME).timestamp(),
        };
        self.sign(DEVICE_TYPE, &fields)
    }

    /// A credential, signed; `None` if it cannot be signed.
    pub(crate) fn credential(&self, of: &CredentialFacts) -> Option<String> {
        self.sign(badge::TYPE, &badge::document(of, &self.issuer))
    }

    /// The address that the service is known by.
    pub(crate) fn issuer(&self) -> &str {
        &self.issuer
    }

    fn sign(&self, kind: &str, fields: &impl Serialize) -> Option<String> {
        let key = self.keys.0.first()?;
        let mut header = Header::new(Algorithm::EdDSA);
        header.typ = Some(kind.into());
        header.kid = Some(key.id.clone());
        jsonwebtoken::encode(&header, fields, &key.encoding).ok()
    }

    /// The credentials in a token. The reason for which it is not good is withheld from the caller.
    pub(crate) fn read(&self, token: &str, clock: &Clock) -> Read {
        let now = clock.now().timestamp();
        let name: [u8; 32] = Sha256::digest(token.as_bytes()).into();
        let known = self.verified.get(&name);
        let Some((credentials, until)) = known.or_else(|| self.verify(token)) else { return Read::Invalid };
        if until <= now {
            return Read::Expired;
        }
        if known.is_none() {
            self.verified.insert(name, (credentials, until));
        }
        Read::Good(credentials)
    }

    /// The device in a device token; `None` if the token is invalid or expired.
    pub(crate) fn read_device(&self, token: &str, clock: &Clock) -> Option<KnownDevice> {
        let fields: DeviceFields = self.decode(token, DEVICE_TYPE, &self.device_validation)?;
        let device = KnownDevice { id: fields.jti, person: fields.sub };
        (fields.exp > clock.now().timestamp()).then_some(device)
    }

    fn verify(&self, token: &str) -> Option<(Credentials, i64)> {
        let fields: Fields = self.decode(token, TYPE, &self.validation)?;
        Some((Credentials::Session { session: fields.sid, person: fields.sub }, fields.exp))
    }

    fn decode<T: DeserializeOwned>(&self, token: &str, kind: &str, validation: &Validation) -> Option<T> {
        let header = jsonwebtoken::decode_header(token).ok()?;
        // Only a configured key, found by `kid`. `jku`, `jwk` and `x5u` are never read.
        if header.typ.as_deref() != Some(kind) || header.alg != Algorithm::EdDSA || header.crit.is_some() {
            return None;
        }
        let id = header.kid?;
        let key = self.keys.0.iter().find(|key| key.id == id)?;
        Some(jsonwebtoken::decode::<T>(token, &key.decoding, validation).ok()?.claims)
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

fn validation(issuer: &str, audience: &str) -> Validation {
    let mut validation = Validation::new(Algorithm::EdDSA);
    validation.set_required_spec_claims(&["iss", "aud", "sub", "exp"]);
    validation.set_issuer(&[issuer]);
    validation.set_audience(&[audience]);
    // Checked with the injected clock; the library would read the system's.
    validation.validate_exp = false;
    validation
}

#[cfg(test)]
mod tests {
    use super::*;
    use ed25519_dalek::pkcs8::EncodePrivateKey;

    fn tokens(seed: u8) -> Tokens {
        let pem = SigningKey::from_bytes(&[seed; 32]).to_pkcs8_pem(Default::default()).unwrap();
        Tokens::new(SigningKeys::from_pems([pem.as_str()]).unwrap(), "https://clinic.example".into())
    }

    fn good(tokens: &Tokens, token: &str, clock: &Clock) -> bool {
        matches!(tokens.read(token, clock), Read::Good(_))
    }

    fn issue(tokens: &Tokens, clock: &Clock) -> String {
        tokens.issue(PersonId(Uuid::from_u128(1)), SessionId(Uuid::from_u128(2)), clock.now()).unwrap()
    }

    #[test]
    fn a_token_ends_after_ten_minutes_by_our_clock_also_when_cached() {
        let (tokens, clock) = (tokens(1), Clock::manual(DateTime::from_timestamp(1_800_000_000, 0).unwrap()));
        let token = issue(&tokens, &clock);
        assert!(good(&tokens, &token, &clock));
        clock.advance(Duration::seconds(599));
        assert!(good(&tokens, &token, &clock));
        clock.advance(Duration::seconds(1));
        assert!(matches!(tokens.read(&token, &clock), Read::Expired));
    }

    #[test]
    fn a_device_token_and_an_access_token_do_not_pass_for_each_other() {
        let (tokens, clock) = (tokens(1), Clock::manual(DateTime::from_timestamp(1_800_000_000, 0).unwrap()));
        let device = KnownDevice { id: Uuid::from_u128(3), person: PersonId(Uuid::from_u128(1)) };
        let known = tokens.issue_device(device, clock.now()).unwrap();
        assert_eq!(tokens.read_device(&known, &clock), Some(device));
        assert!(!good(&tokens, &known, &clock));
        assert!(tokens.read_device(&issue(&tokens, &clock), &clock).is_none());
        clock.advance(Duration::days(180));
        assert!(tokens.read_device(&known, &clock).is_none());
    }

    #[test]
    fn a_token_of_another_key_or_issuer_is_nobodys() {
        let clock = Clock::manual(DateTime::from_timestamp(1_800_000_000, 0).unwrap());
        assert!(!good(&tokens(2), &issue(&tokens(1), &clock), &clock));
        let pem = SigningKey::from_bytes(&[1; 32]).to_pkcs8_pem(Default::default()).unwrap();
        let other =
            Tokens::new(SigningKeys::from_pems([pem.as_str()]).unwrap(), "https://other.example".into());
        assert!(!good(&other, &issue(&tokens(1), &clock), &clock));
    }

    #[test]
    fn a_tampered_or_unsigned_token_is_nobodys() {
        use base64::Engine;
        let (tokens, clock) = (tokens(1), Clock::manual(DateTime::from_timestamp(1_800_000_000, 0).unwrap()));
        let token = issue(&tokens, &clock);
        let mut parts: Vec<String> = token.split('.').map(str::to_owned).collect();
        let encode = |text: &str| base64::engine::general_purpose::URL_SAFE_NO_PAD.encode(text);
        parts[1] = encode(r#"{"iss":"https://clinic.example","aud":"stillroom-api","exp":9999999999}"#);
        assert!(!good(&tokens, &parts.join("."), &clock));
        for header in [r#"{"alg":"none","typ":"at+jwt"}"#, r#"{"alg":"HS256","typ":"at+jwt","kid":"x"}"#] {
            assert!(!good(&tokens, &format!("{}.{}.", encode(header), parts[1]), &clock));
        }
    }
}
