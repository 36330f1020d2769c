//! A record for the file: with who had the batch, its plans, its photographs, and which jars were filled into others, all as they
//! are at one moment.

use judgement::figures::Detail;
use recipes::RecipeCache;
use release::{ForRules, Released, record};
use store::{Credentials, Result, Store, known_as};
use wire::filed::{Decanting, FiledLookPlan, FiledPhotograph, FiledRecord, Tenure};
use wire::ids::BatchId;
use wire::photographs::Photograph;

use crate::batches::{self, Reading};
use crate::nameless::filed_nameless;
use crate::{decanting, looks, makers, photographed};

/// A record with everything that stands beside it, for the file.
///
/// # Errors
/// As [`batch`](crate::batch()).
pub async fn filed(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: BatchId,
) -> Result<Released<FiledRecord>> {
    store
        .read(credentials, async |tx| {
            let record = batches::access_unnamed(tx, id, false).await?;
            let levels = record::every_level(tx, &record).await?.ok();
            let tenures = makers::tenures(tx, &record).await?;
            let look_plans = looks::of_record(tx, &record).await?;
            let decantings = decanting::of_record(tx, &record).await?;
            let offered = tenures.iter().filter_map(|one| one.offer.as_ref());
            let people = tenures.iter().map(|one| one.maker).chain(offered.map(|offer| offer.by));
            let people = people.chain(look_plans.iter().map(|plan| plan.by));
            let people = people.chain(decantings.iter().map(|one| one.by)).map(|person| person.0);
            let names = known_as::people(tx, people.collect::<Vec<_>>()).await?;
            let named = |tenure: Tenure| Tenure {
                maker_name: names.of(tenure.maker.0),
                offer: tenure
                    .offer
                    .map(|offer| wire::filed::AcceptedOffer { by_name: names.of(offer.by.0), ..offer }),
                ..tenure
            };
            let makers = tenures.into_iter().map(named).collect();
            let look_plans = look_plans
                .into_iter()
                .map(|plan| FiledLookPlan { by_name: names.of(plan.by.0), ..plan })
                .collect();
            let decantings =
                decantings.into_iter().map(|one| Decanting { by_name: names.of(one.by.0), ..one }).collect();
            let photographs = photographed::told(tx, &record).await?.photographs;
            let photographs = photographs.into_iter().map(photograph).collect();
            let reading = Reading::of(tx, &record).await?;
            let shown = reading.shown(tx, cache, &record, levels.as_ref(), Detail::Brief).await?;
            let unnamed = record.candidate().is_some();
            Ok(shown.map(|record| {
                let filed = FiledRecord { record, makers, look_plans, photographs, decantings };
                if unnamed { filed_nameless(filed) } else { filed }
            }))
        })
        .await
}

fn photograph(of: Photograph) -> FiledPhotograph {
    FiledPhotograph {
        id: of.id,
        number: of.number,
        subject: of.subject,
        entry: of.entry,
        sha256: of.picture.sha256,
        withdrawn: of.withdrawn,
        by: of.by,
        by_name: of.by_name,
        at: of.at,
    }
}
