//! The label of a batch, for users who may read its record and for API clients that may read labels.

use chrono::NaiveDate;
use recipes::RecipeCache;
use recipes::label::{ForRelease, LabelledBatch, for_release};
use release::{ForRules, Record};
use store::{Credentials, Error, Result, Store, Tx, word};
use wire::bench::BatchState;
use wire::ids::BatchId;
use wire::label::{BatchLabelQuery, Label};

use crate::{batches, last_day};

/// The label for the jars of a batch: as made once it is submitted with every line weighed, as planned before that and
/// for readers to whom a nested formula is closed. An API client needs the scope `labels:read`; the label as made it gets
/// with grants for the batch's revision and every nested one.
///
/// # Errors
/// As [`batch`](crate::batch()), [`Error::State`] if the batch was abandoned, and [`Error::Invalid`] for fields of the
/// query that cannot be read.
pub async fn label(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: BatchId,
    query: &BatchLabelQuery,
) -> Result<Label> {
    store
        .read(credentials, async |tx| {
            let record = batches::access_for_label(tx, id).await?;
            let row = record.row();
            if word::<BatchState>(&row.state)? == BatchState::Abandoned {
                return Err(Error::state(
                    word::<BatchState>(&row.state)?,
                    "This batch was abandoned, so there are no jars to label.",
                ));
            }
            Ok(labelled(tx, cache, &record, query).await?.label)
        })
        .await
}

/// The label of a batch, with the cautions that stand on it and what keeps it from being released by what was weighed.
///
/// # Errors
/// As [`label`].
pub(crate) async fn labelled<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    query: &BatchLabelQuery,
) -> Result<ForRelease> {
    labelled_as(tx, cache, record, query, Jar::default()).await
}

/// What a label says of a jar and not of its whole batch.
#[derive(Clone, Debug, Default)]
pub(crate) struct Jar {
    /// A last day that somebody chose for it, and why.
    pub(crate) no_later: Option<(NaiveDate, String)>,
    /// Whether it is kept as a sample.
    pub(crate) sample: bool,
}

/// As [`labelled`], of jars that were filled alike. No label says a later day than the batch was brought forward to.
///
/// # Errors
/// As [`label`].
pub(crate) async fn labelled_as<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    query: &BatchLabelQuery,
    jar: Jar,
) -> Result<ForRelease> {
    let row = record.row();
    let shortened = last_day::shortened(tx, record.batch()).await?;
    let no_later = last_day::earlier(shortened, jar.no_later);
    let within = batches::contents(tx, record).await?;
    let within = within.content();
    let rules = policy::rules_of(tx, row.policy_version).await?;
    let labelled = LabelledBatch {
        id: record.batch(),
        number: &row.number,
        disposition: word(&row.disposition)?,
        made_on: batches::made_on(row, &within.recipe, &rules),
        asked: &within.recipe,
        entries: &within.entries,
        rules: &rules,
        no_later,
        sample: jar.sample,
    };
    for_release(tx, cache, record, &labelled, query).await
}
