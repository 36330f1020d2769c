//! Fast path for recipe reads: one query checks session and grant, the cache supplies the rendered bytes. Never serves
//! bytes without that check.

use chrono::{DateTime, Utc};
use formulary::gate;
use release::lookup::{LookedUp, Lookup};
use release::{Released, ReleasedRecipe, Sealed};
use store::proof::{ENDED, KEY_NOT_KNOWN, USE_NOTED_EVERY};
use store::{Claim, Result, Store};
use wire::formulary::RevisionComment;
use wire::ids::RevisionId;
use wire::people::Scope;
use wire::recipe::MakeFor;

use crate::cache::{Names, RecipeCache};
use crate::reader::Reader;
use crate::work::work_out;

/// The recipe of a revision, worked out for a quantity: by a grant to make, or one to decide.
///
/// Cost when the recipe was read before and no quantity is asked: a share of one statement, which finds two rows by
/// their keys for each of the readings that go together in it. `reader` gathers them.
///
/// # Errors
/// [`store::Error::GateClosed`] with the outstanding cautions; what the quantity asked for cannot be; and what proving
/// the claim answers.
pub async fn recipe(
    store: &Store,
    cache: &RecipeCache,
    reader: &Reader,
    claim: &Claim,
    id: RevisionId,
    ask: &MakeFor,
) -> Result<ReleasedRecipe> {
    if *ask == MakeFor::default()
        && let Some(grant) = to_make(store, reader, claim, id).await?
        && let Some(known) = cache.recipe(&names(&grant))
    {
        return Ok(grant.open(&known)?.rendered());
    }
    // The first reading by a grant is recorded, so that everybody who has a recipe can be found when it turns out that
    // they should be told something; until it is, the fast path answers nothing.
    store
        .write(claim, async |tx| {
            tx.require_scope(Scope::RecipesRead)?;
            let passed = gate::open(tx, id).await?;
            gate::record_first_read(tx, &passed).await?;
            let rendered = work_out(tx, cache, &passed, ask, "?").await?.render()?;
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

/// The caller's grant to make. None when there is none, or when the batched lookup failed: the read on a connection of
/// the pool finds out what is wrong.
async fn to_make(store: &Store, reader: &Reader, claim: &Claim, id: RevisionId) -> Result<Option<LookedUp>> {
    let Ok(found) = reader.ask(Lookup { claim: *claim, revision: id }).await else { return Ok(None) };
    let found = found.ok_or(match claim {
        Claim::Session { .. } => ENDED,
        Claim::Key(_) => KEY_NOT_KNOWN,
    })?;
    let may_read = |scopes: &str| scopes.split_whitespace().any(|one| one == Scope::RecipesRead.as_str());
    let noted = |used: DateTime<Utc>| store.clock.now() - used <= USE_NOTED_EVERY;
    match &found.scopes {
        // The read on a connection of the pool says what is missing, and notes the use.
        Some(scopes) if !may_read(scopes) || !found.last_used_at.is_some_and(noted) => Ok(None),
        _ => Ok(found.grant),
    }
}

/// The comments given with decisions about a revision.
///
/// # Errors
/// When the caller holds no grant; the author of a revision reads the comments on it.
pub async fn comments(
    store: &Store,
    claim: &Claim,
    id: RevisionId,
) -> Result<Released<Vec<RevisionComment>>> {
    store
        .read(claim, async |tx| {
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
