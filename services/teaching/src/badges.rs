//! Credentials of sign-offs: what they say, and whether they hold.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{competency, person, sign_off, sign_off_revocation};
use store::{Credentials, Error, Result, Store};
use wire::ids::{CompetencyId, SignOffId};
use wire::teaching::{CredentialFacts, CredentialStatus, SignOffState};

use crate::competencies::Row;
use crate::sign_offs;

/// What the credential of the caller's own sign-off is made of. It says the sign-in name, and the name where the caller asks
/// for it.
///
/// # Errors
/// Returns [`Error::NotFound`] unless it is the caller's own, and [`Error::State`] where it does not hold.
pub async fn credential(
    store: &Store,
    credentials: &Credentials,
    id: SignOffId,
    with_name: bool,
) -> Result<CredentialFacts> {
    store
        .read(credentials, async |tx| {
            let me = tx.person()?.id;
            let found = sign_offs::found(tx, id).await?;
            if found.person_id != me.0 {
                return Err(Error::NotFound("sign-off"));
            }
            let state = found.state(tx.now());
            if state != SignOffState::Valid {
                let detail = "This sign-off does not hold any more, so there is no credential of it.";
                return Err(Error::state(state, detail));
            }
            let row: Row =
                competency::table.find(found.competency_id).select(Row::as_select()).first(tx.conn()).await?;
            let (sign_in_name, name): (String, String) = person::table
                .find(me.0)
                .select((person::sign_in_name, person::name))
                .first(tx.conn())
                .await?;
            let clinic = policy::rules(tx).await?.clinic_name;
            Ok(CredentialFacts {
                id,
                competency: CompetencyId(row.id),
                name: row.name.clone(),
                says: row.says.clone(),
                criteria: in_words(&row)?,
                sign_in_name,
                holder_name: with_name.then_some(name),
                clinic,
                at: found.at,
                ends_at: found.ends_at,
            })
        })
        .await
}

/// What a rule asks for, in words.
fn in_words(row: &Row) -> Result<String> {
    let rule = row.clone().shown()?.rule;
    let mut parts = Vec::new();
    if let Some(accepted) = rule.accepted {
        let of = accepted.preparation.map(|kind| format!(" of the kind {kind}")).unwrap_or_default();
        parts.push(format!("Accepted works{of}: at least {}.", accepted.works));
    }
    if let Some(criterion) = rule.criterion {
        parts.push(format!(
            "Works at the highest level of {}: at least {}.",
            criterion.title, criterion.works
        ));
    }
    if let Some(answers) = rule.answers {
        let of = answers.kind.map(|kind| format!(" of the kind {kind}")).unwrap_or_default();
        parts.push(format!(
            "Questions{of} answered rightly at the first attempt: at least {}.",
            answers.right
        ));
    }
    parts.push("An instructor's signature.".to_owned());
    Ok(parts.join(" "))
}

/// Whether a credential holds, for anybody who has its number. It tells nothing of anybody.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is none.
pub async fn credential_status(store: &Store, id: SignOffId) -> Result<CredentialStatus> {
    store
        .run_unauthenticated(async |tx| {
            let found = sign_offs::found(tx, id).await.map_err(|error| match error {
                Error::NotFound(_) => Error::NotFound("credential"),
                other => other,
            })?;
            Ok(CredentialStatus {
                credential: id,
                state: found.state(tx.now()),
                ends_at: found.ends_at,
                revoked_at: found.revoked_at,
            })
        })
        .await
}

/// The most credentials that are listed as taken back: far more than a clinic signs.
const MOST_REVOKED: i64 = 10_000;

/// The credentials that were taken back and whose time is not over, for anybody; the newest first. It tells nothing of anybody.
///
/// # Errors
/// Returns the errors of the database.
pub async fn credentials_revoked(store: &Store) -> Result<Vec<SignOffId>> {
    store
        .run_unauthenticated(async |tx| {
            let now = tx.now();
            let ids: Vec<uuid::Uuid> = sign_off_revocation::table
                .inner_join(sign_off::table)
                .filter(sign_off::ends_at.gt(now))
                .order((sign_off_revocation::at.desc(), sign_off_revocation::sign_off_id.desc()))
                .select(sign_off_revocation::sign_off_id)
                .limit(MOST_REVOKED)
                .load(tx.conn())
                .await?;
            Ok(ids.into_iter().map(SignOffId).collect())
        })
        .await
}
