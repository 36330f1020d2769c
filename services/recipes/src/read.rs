//! Fast path for recipe reads: one query checks session and grant, the cache supplies the rendered bytes. Never serves
//! bytes without that check.

use chrono::{DateTime, Utc};
use formulary::gate;
use release::lookup::{LookedUp, Lookup};
use release::{ForRules, Released, ReleasedRecipe, Sealed};
use store::proof::{ENDED, KEY_NOT_KNOWN, USE_NOTED_EVERY};
use store::{Credentials, Result, Store};
use wire::formulary::RevisionComment;
use wire::ids::RevisionId;
use wire::people::Scope;
use wire::recipe::MakeFor;

use crate::cache::{Names, RecipeCache};
use crate::reader::ReadBatcher;
use crate::work::work_out;

/// The recipe of a revision, scaled to a quantity, for the holder of a `Make` or `Decide` grant.
///
/// Cost of a repeated read without a quantity: a share of one statement, which finds two rows by their keys for each
/// read in the batch. `reader` forms the batches.
///
/// # Errors
/// Returns [`store::Error::GateClosed`] with the outstanding cautions if the caller holds no grant. Returns
/// [`store::Error::Invalid`] if the quantity cannot be met, and the errors of verifying `claim`.
pub async fn recipe(
    store: &Store,
    cache: &RecipeCache,
    reader: &ReadBatcher,
    credentials: &Credentials,
    id: RevisionId,
    ask: &MakeFor,
) -> Result<ReleasedRecipe> {
    if *ask == MakeFor::default()
        && let Some(grant) = to_make(store, reader, credentials, id).await?
        && let Some(known) = cache.recipe(&names(&grant))
    {
        return Ok(grant.open(&known)?.rendered());
    }
    // The first read by each grant is recorded, so that everybody who has a recipe can be notified of a later change.
    // The fast path serves nothing before that.
    store
        .write(credentials, async |tx| {
            tx.require_scope(Scope::RecipesRead)?;
            let passed = gate::open(tx, id).await?;
            gate::record_first_read(tx, &passed).await?;
            let rendered =
                work_out(tx, cache, &passed, ask, "?").await?.map(|worked| worked.recipe).render()?;
            let grant = &passed.grant;
            if *ask == MakeFor::default()
                && let Some(sealed) = Sealed::again(&rendered)
            {
                let policy = policy::rules(tx).await?.version;
                let names = (*grant.digest(), *grant.caution_digest(), grant.set_number(), policy);
                cache.keep_recipe(names, sealed);
            }
            Ok(rendered)
        })
        .await
}

const fn names(grant: &LookedUp) -> Names {
    (*grant.digest(), *grant.caution_digest(), grant.set_number(), grant.policy())
}

/// The caller's `Make` grant. `None` if there is none or the batched lookup failed; the caller must then read on a pool
/// connection, which reports the cause.
async fn to_make(
    store: &Store,
    reader: &ReadBatcher,
    credentials: &Credentials,
    id: RevisionId,
) -> Result<Option<LookedUp>> {
    let Ok(found) = reader.ask(Lookup { credentials: *credentials, revision: id }).await else {
        return Ok(None);
    };
    let found = found.ok_or(match credentials {
        Credentials::Session { .. } => ENDED,
        Credentials::Key(_) => KEY_NOT_KNOWN,
    })?;
    let may_read = |scopes: &str| scopes.split_whitespace().any(|one| one == Scope::RecipesRead.as_str());
    let noted = |used: DateTime<Utc>| store.clock.now() - used <= USE_NOTED_EVERY;
    match &found.scopes {
        // The read on a pool connection reports the missing scope, or records the use of the key.
        Some(scopes) if !may_read(scopes) || !found.last_used_at.is_some_and(noted) => Ok(None),
        _ => Ok(found.grant),
    }
}

/// The comments on the decisions about a revision. Its author reads them without a grant.
///
/// # Errors
/// Returns [`store::Error::NotFound`] if the caller may not see the revision, and [`store::Error::GateClosed`] if the
/// caller is not its author and holds no grant.
pub async fn comments(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
) -> Result<Released<Vec<RevisionComment>>> {
    store
        .read(credentials, async |tx| {
            let facts = formulary::visible(tx, id, false).await?;
            match release::content::comments_for_author(tx, facts.id).await? {
                Some(comments) => Ok(comments),
                None => {
                    let passed = gate::open(tx, id).await?;
                    release::content::comments(tx, &passed.grant).await
                }
            }
        })
        .await
}
