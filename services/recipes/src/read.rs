//! Fast path for recipe reads: one query checks session and grant, the cache supplies the rendered bytes. Never serves
//! bytes without that check.

use chrono::{DateTime, Utc};
use formulary::gate;
use release::lookup::{LookedUp, Lookup};
use release::{ForRules, Released, ReleasedRecipe, Sealed};
use store::proof::{ENDED, KEY_NOT_KNOWN, USE_NOTED_EVERY};
use store::{Credentials, Error, Result, Store, Tx};
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
    // Everything in the recipe and its names is read in one snapshot, so that no recipe with an old notice is kept under
    // the version of a new policy.
    let (rendered, names) = noted(store, credentials, id, false, async |tx| {
        let passed = gate::open(tx, id).await?;
        if !passed.grant.was_read() {
            return Ok(None);
        }
        let policy = policy::rules(tx).await?.version;
        let rendered = work_out(tx, cache, &passed, ask, "?").await?.map(|worked| worked.recipe).render()?;
        let grant = &passed.grant;
        Ok(Some((rendered, (*grant.digest(), *grant.caution_digest(), grant.set_number(), policy))))
    })
    .await?;
    if *ask == MakeFor::default()
        && let Some(sealed) = Sealed::again(&rendered)
    {
        cache.keep_recipe(names, sealed);
    }
    Ok(rendered)
}

/// How often a grant may be renewed while it is read by.
const RENEWED: usize = 3;

/// Reads by a grant in one snapshot. `read` answers `None` before the first read by the grant was recorded. That is done
/// apart, since a snapshot in which it were recorded would lose against everybody who reads the same for the first time.
pub(crate) async fn noted<T>(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
    every_level: bool,
    read: impl AsyncFn(&mut Tx<'_>) -> Result<Option<T>>,
) -> Result<T> {
    for _ in 0..RENEWED {
        let answer = store.read(credentials, async |tx| {
            tx.require_scope(Scope::RecipesRead)?;
            read(tx).await
        });
        if let Some(answer) = answer.await? {
            return Ok(answer);
        }
        store.write(credentials, async |tx| gate::record_first_read(tx, id, every_level).await).await?;
    }
    Err(Error::Contended("the grant was renewed whenever it was read by".into()))
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
            let facts = formulary::visible(tx, id).await?;
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
