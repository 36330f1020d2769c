//! Fast path for recipe reads: one query checks session and grant, memory supplies the recipe in its own quantity or
//! scales it to another. Never serves a recipe without that check.

use std::sync::Arc;

use formulary::gate::{self, Levels};
use galenics::Customary;
use judgement::figures::Detail;
use release::lookup::{MakeGrant, Names};
use release::{ForRules, Released, ReleasedRecipe, Sealed};
use store::gather::Queue;
use store::{Credentials, Error, Result, Store, Tx, known_as};
use wire::formulary::RevisionComment;
use wire::ids::RevisionId;
use wire::people::Scope;
use wire::recipe::MakeFor;
use wire::safety::Purpose;

use crate::by_loss;
use crate::cache::RecipeCache;
use crate::face::face;
use crate::made_for;
use crate::work::{levels, worked_recipe};

/// The recipe of a revision, scaled to a quantity, for the holder of a `Make` or `Decide` grant.
///
/// Cost of a read once the revision is in memory: a share of one statement, which finds two rows by their keys for each
/// read that it gathers, and scaling the lines in memory where a quantity is asked for.
///
/// # Errors
/// Returns [`store::Error::GateClosed`] with the outstanding cautions if the caller holds no grant. Returns
/// [`store::Error::Invalid`] if the quantity cannot be met, and the errors of verifying `claim`.
pub async fn recipe(
    store: &Store,
    cache: &RecipeCache,
    queue: &Queue<MakeGrant>,
    credentials: &Credentials,
    id: RevisionId,
    ask: &MakeFor,
    detail: Detail,
) -> Result<ReleasedRecipe> {
    let own_quantity = *ask == MakeFor::default() && detail == Detail::Brief;
    let known = queue.ask(credentials, MakeGrant(id)).await?;
    known.actor.require_scope(Scope::RecipesRead)?;
    if let Some(grant) = known.found {
        let names = *grant.names();
        if own_quantity && let Some(known) = cache.recipe(&names) {
            return Ok(grant.open(&known)?.rendered());
        }
        // A class that makes the same asks for the same.
        let quantity = (names, serde_json::to_string(ask)?.into_boxed_str());
        if detail == Detail::Brief
            && let Some(known) = cache.quantity(&quantity)
        {
            return Ok(grant.open(&known)?.rendered());
        }
        if let (Some(face), Some(frozen)) = (cache.face(&names), cache.known(&names.0)) {
            let asked = face.asked(ask, PREFIX)?;
            // What depends on what is nested needs grants that were not looked up.
            if !asked.reaches_leaves() {
                let frozen = grant.open(&frozen)?;
                let reference = &store.reference;
                // No evaporation is asked for here: its loss reaches the leaves.
                let worked =
                    frozen.try_map(|it| worked_recipe(reference, &it, &face, ask, &asked, None, detail))?;
                let rendered = worked.map(|it| it.recipe).render()?;
                if !own_quantity
                    && detail == Detail::Brief
                    && let Some(sealed) = Sealed::again(&rendered)
                {
                    let length = u64::try_from(serde_json::to_string(&rendered)?.len()).unwrap_or(u64::MAX);
                    cache.keep_quantity(quantity, length, sealed);
                }
                return keep(cache, own_quantity.then_some(names), rendered);
            }
        }
    }
    // Everything in the recipe and its names is read in one snapshot, so that no recipe with an old notice is kept under
    // the version of a new policy.
    // Whether it reaches what is nested is so under any policy; what cannot be read is refused below.
    let reaches = made_for::asked(ask, Customary::Us, PREFIX).is_ok_and(|asked| asked.reaches_leaves());
    let reached = if reaches { Levels::WhereOpen } else { Levels::Own };
    let (rendered, names, face) = noted(store, credentials, id, reached, async |tx| {
        let passed = gate::open(tx, id).await?;
        let grant = &passed.grant;
        let face = Arc::new(face(tx, &passed).await?);
        let asked = face.asked(ask, PREFIX)?;
        let levels = levels(tx, &asked, &passed).await?;
        let frozen = cache.frozen(tx, &passed.facts, grant.digest()).await?.open(grant)?;
        let levels = levels.as_ref();
        let by_loss = by_loss::planned(tx, &passed, frozen.content(), &face, &asked, levels).await?;
        let reference = tx.reference;
        let worked = frozen.try_map(|it| {
            let worked = worked_recipe(reference, &it, &face, ask, &asked, levels, detail)?;
            Ok(by_loss.told_in(worked))
        })?;
        // Whatever is refused is refused before: a quantity that cannot be met is no reading.
        if !grant.was_read() || levels.is_some_and(|levels| !levels.was_read()) {
            return Ok(None);
        }
        let names = (*grant.digest(), *grant.caution_digest(), grant.set_number(), face.policy());
        let kept = (grant.purpose() == Purpose::Make).then_some(face);
        Ok(Some((worked.map(|it| it.recipe).render()?, names, kept)))
    })
    .await?;
    if let Some(face) = face {
        cache.keep_face(names, face);
    }
    keep(cache, own_quantity.then_some(names), rendered)
}

/// How often a grant may be renewed while it is read by.
const RENEWED: usize = 3;

/// Reads by a grant in one snapshot. `read` answers `None` before the first read by the grant was recorded. That is done
/// apart, since a snapshot in which it were recorded would lose against everybody who reads the same for the first time.
pub(crate) async fn noted<T>(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
    levels: Levels,
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
        store.write(credentials, async |tx| gate::record_first_read(tx, id, levels).await).await?;
    }
    Err(Error::Contended("the grant was renewed whenever it was read by".into()))
}

/// Where the fields of the request stand: in the query.
const PREFIX: &str = "?";

/// Keeps a rendered recipe under its names, where it has some and a grant to make opened it, and hands it on.
fn keep(cache: &RecipeCache, names: Option<Names>, rendered: ReleasedRecipe) -> Result<ReleasedRecipe> {
    if let (Some(names), Some(sealed)) = (names, Sealed::again(&rendered)) {
        cache.keep_recipe(names, sealed);
    }
    Ok(rendered)
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
            let comments = match release::content::comments_for_author(tx, facts.id).await? {
                Some(comments) => comments,
                None => {
                    let passed = gate::open(tx, id).await?;
                    release::content::comments(tx, &passed.grant).await?
                }
            };
            let people: Vec<_> = comments.content().iter().map(|comment| comment.by.0).collect();
            let names = known_as::people(tx, people).await?;
            comments.try_map(|comments| {
                let named = |comment: RevisionComment| {
                    let by_name = names.of(comment.by.0);
                    RevisionComment { by_name, ..comment }
                };
                Ok(comments.into_iter().map(named).collect())
            })
        })
        .await
}
