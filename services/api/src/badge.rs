//! Credentials of sign-offs: Open Badges 3.0 (1EdTech), which are Verifiable Credentials 2.0 (W3C), secured as a JWT
//! (RFC 7519) with the keys that are published under `/.well-known/jwks.json`. Whoever has the keys verifies one without
//! asking anybody; whether it was taken back is looked up.
//!
//! The shapes are from memory of the two specifications. Their terms were read in a copy of the published contexts 3.0.3 and
//! of the extensions (secondary, 30 November 2026).

use chrono::{DateTime, SecondsFormat, Utc};
use serde_json::{Value, json};
use wire::ids::SignOffId;
use wire::teaching::CredentialFacts;

/// The media type of a credential that is secured as a JWT (W3C, securing with JOSE and COSE).
pub(crate) const MEDIA_TYPE: &str = "application/vc+jwt";

/// The same as the type in the header of the JWT.
pub(crate) const TYPE: &str = "vc+jwt";

const VC: &str = "https://www.w3.org/ns/credentials/v2";
const OPEN_BADGES: &str = "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json";
/// It has the list of what was revoked.
const EXTENSIONS: &str = "https://purl.imsglobal.org/spec/ob/v3p0/extensions.json";

/// Where the list of what was taken back is.
pub(crate) const REVOKED: &str = "/v1/credentials/revoked";

/// The credentials that were taken back before their time was over, as the specification of badges lists them.
pub(crate) fn revoked(ids: &[SignOffId], issuer: &str) -> Value {
    let one = |id: &SignOffId| json!({ "id": format!("urn:uuid:{id}"), "revoked": true });
    json!({ "id": format!("{issuer}{REVOKED}"), "issuer": issuer, "revokedCredential": ids.iter().map(one).collect::<Vec<_>>() })
}

fn time(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// A credential as it is signed. Of the holder it says the sign-in name, and the name where the holder asks for it.
pub(crate) fn document(of: &CredentialFacts, issuer: &str) -> Value {
    let identity = |kind: &str, value: &str| json!({ "type": "IdentityObject", "hashed": false, "identityHash": value, "identityType": kind });
    let mut identifier = vec![identity("userName", &of.sign_in_name)];
    identifier.extend(of.holder_name.as_ref().map(|name| identity("name", name)));
    json!({
        "@context": [VC, OPEN_BADGES, EXTENSIONS],
        "id": format!("urn:uuid:{}", of.id),
        "type": ["VerifiableCredential", "OpenBadgeCredential"],
        "name": of.name,
        "issuer": { "id": issuer, "type": ["Profile"], "name": of.clinic },
        "validFrom": time(of.at),
        "validUntil": time(of.ends_at),
        "credentialSubject": {
            "type": ["AchievementSubject"],
            "identifier": identifier,
            "achievement": {
                "id": format!("urn:uuid:{}", of.competency),
                "type": ["Achievement"],
                "achievementType": "Competency",
                "name": of.name,
                "description": of.says,
                "criteria": { "narrative": of.criteria },
            },
        },
        "credentialStatus": { "id": format!("{issuer}{REVOKED}"), "type": "1EdTechRevocationList" },
        // What a JWT says by its own names as well.
        "iss": issuer,
        "jti": format!("urn:uuid:{}", of.id),
        "nbf": of.at.timestamp(),
        "exp": of.ends_at.timestamp(),
    })
}
