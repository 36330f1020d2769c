//! Releasing what a batch made, or discarding it.
//!
//! Released is what an accepted record made and somebody else than its maker has looked at: every caution of the label by
//! what was weighed is confirmed by its id, and nothing is unknown that decides whether it may be used.

use std::collections::{BTreeSet, HashSet};

use recipes::RecipeCache;
use recipes::label::ForRelease;
use release::{ForRules, Record};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use wire::bench::{BatchState, Disposition, FindingKind};
use wire::ids::{BatchId, PersonId};
use wire::jars::{
    BatchDecisionKind, CautionToConfirm, Jars, NewDiscard, NewRelease, ReleaseBar, ReleaseBarKind,
    ReleaseSheet,
};
use wire::problem::FieldError;
use wire::safety::Caution;

use crate::batches;
use crate::beside::Beside;
use crate::dispositions::{self, Decided};
use crate::findings::{TARGET_PH, findings};
use crate::jars::{by_weighings, keep_label, told};
use crate::kept::LABEL;

/// What is read before a release. For instructors who read every level of the record.
///
/// # Errors
/// As [`batch`](crate::batch()), and [`Error::Forbidden`] unless an instructor is calling.
pub async fn release_sheet(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: BatchId,
) -> Result<ReleaseSheet> {
    store
        .read(credentials, async |tx| {
            let record = batches::access(tx, id, false).await?;
            tx.instructor()?;
            let read = by_weighings(tx, cache, &record).await?;
            let barred = barred(tx, cache, &record, &read).await?;
            let row = record.row();
            Ok(ReleaseSheet {
                batch: id,
                number: row.number.clone(),
                maker: PersonId(row.maker_id),
                own: record.is_made_by_caller(),
                disposition: word(&row.disposition)?,
                label: read.label,
                cautions: read.cautions.iter().map(to_confirm).collect(),
                barred,
            })
        })
        .await
}

/// Releases what a batch made.
///
/// # Errors
/// As [`release_sheet`]. Returns [`Error::Forbidden`] for the maker while the policy demands a second person,
/// [`Error::State`] unless it is in quarantine, [`Error::Conflict`] with everything that keeps it from being released, and
/// [`Error::Invalid`] where a caution was not confirmed or a reason is missing.
pub async fn release(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewRelease,
) -> Result<Jars> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = batches::access(tx, id, true).await?;
                tx.instructor()?;
                let own = record.is_made_by_caller();
                if own && policy::rules(tx).await?.second_person {
                    let cure = "You made this batch. Another instructor releases it.";
                    return Err(Error::Forbidden(cure.into()));
                }
                dispositions::check(word(&record.row().disposition)?, BatchDecisionKind::Released)?;
                let read = by_weighings(tx, cache, &record).await?;
                let bars = barred(tx, cache, &record, &read).await?;
                if !bars.is_empty() {
                    let said: Vec<String> = bars.into_iter().map(|bar| bar.text).collect();
                    return Err(Error::Conflict(format!("It cannot be released. {}", said.join(" "))));
                }
                let reason = reason(request.reason.as_deref(), own)?;
                confirmed(&read, &request.confirmed)?;
                if let Some(kept) = keep_label(tx, id, &read).await? {
                    tx.record(NewEvent::new("batch", id.0, "labelled").keeps(&LABEL, [kept]));
                }
                let decided = Decided {
                    decision: BatchDecisionKind::Released,
                    reason: reason.as_deref(),
                    confirmed: &read.cautions,
                };
                dispositions::decide(tx, id, &decided).await
            },
            async |tx, _| {
                let record = batches::access(tx, id, false).await?;
                told(tx, &record).await
            },
        )
        .await
}

/// Discards what a batch made, whatever became of it before.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::Forbidden`] unless an instructor is calling, [`Error::State`] for what was
/// discarded before, and [`Error::Invalid`] for a refused reason.
pub async fn discard(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewDiscard,
) -> Result<Jars> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                batches::access(tx, id, true).await?;
                tx.instructor()?;
                let reason = reason(Some(&request.reason), true)?;
                let decided = Decided {
                    decision: BatchDecisionKind::Discarded,
                    reason: reason.as_deref(),
                    confirmed: &[],
                };
                dispositions::decide(tx, id, &decided).await
            },
            async |tx, _| {
                let record = batches::access(tx, id, false).await?;
                told(tx, &record).await
            },
        )
        .await
}

/// A reason without the spaces around it.
fn reason(typed: Option<&str>, needed: bool) -> Result<Option<String>> {
    let reason = typed.map(str::trim).filter(|reason| !reason.is_empty());
    let fits = reason.map_or(!needed, |reason| reason.chars().count() <= 1000);
    if fits { Ok(reason.map(str::to_owned)) } else { Err(Error::field("/reason", REASON)) }
}

const REASON: &str = "Enter the reason in 1 to 1000 characters.";

fn to_confirm(caution: &Caution) -> CautionToConfirm {
    CautionToConfirm {
        id: id_of(caution),
        level: caution.level,
        text: caution.text.clone(),
        audiences: caution.audiences.clone(),
    }
}

/// What names a caution as it was read: another text, level or audience has another name.
fn id_of(caution: &Caution) -> String {
    let mut parts = vec![
        caution.key.clone(),
        caution.text_version.to_string(),
        caution.level.as_str().to_owned(),
        caution.text.clone(),
    ];
    parts.extend(caution.audiences.iter().cloned());
    let framed: Vec<Vec<u8>> = parts
        .iter()
        .map(|part| [&u64::try_from(part.len()).unwrap_or(u64::MAX).to_be_bytes(), part.as_bytes()].concat())
        .collect();
    let digest = canonical::digest(framed.iter().map(Vec::as_slice));
    hex::encode(digest.first_chunk::<16>().copied().unwrap_or_default())
}

/// Refuses a release that does not name every caution of the label as it stands.
fn confirmed(read: &ForRelease, ids: &[String]) -> Result<()> {
    let given: HashSet<&str> = ids.iter().map(|id| id.trim()).collect();
    let wanted: Vec<(String, &Caution)> = read.cautions.iter().map(|one| (id_of(one), one)).collect();
    let mut errors = Vec::new();
    let missing: BTreeSet<&str> = wanted
        .iter()
        .filter(|(id, _)| !given.contains(id.as_str()))
        .map(|(_, caution)| caution.text.as_str())
        .collect();
    if !missing.is_empty() {
        let texts: Vec<String> = missing.iter().map(|text| format!("“{text}”")).collect();
        errors.push(FieldError::new(
            "/confirmed",
            format!("Confirm every caution of the label. Not confirmed: {}", texts.join(" ")),
        ));
    }
    if given.iter().any(|id| wanted.iter().all(|(known, _)| known != id)) {
        errors.push(FieldError::new(
            "/confirmed",
            "The cautions of the label have changed since you read them. Read the label again.",
        ));
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

/// Everything that keeps a batch from being released.
async fn barred<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    read: &ForRelease,
) -> Result<Vec<ReleaseBar>> {
    let row = record.row();
    let bar = |kind, text: String| ReleaseBar { kind, text };
    let mut out = Vec::new();
    let state: BatchState = word(&row.state)?;
    if state != BatchState::Accepted {
        out.push(bar(ReleaseBarKind::Record, format!("Its record is {state}. It is accepted first.")));
    }
    let disposition: Disposition = word(&row.disposition)?;
    if let Err(Error::State { detail, .. }) = dispositions::check(disposition, BatchDecisionKind::Released) {
        out.push(bar(ReleaseBarKind::Disposition, detail));
    }
    let contents = batches::contents(tx, record).await?;
    let within = contents.content();
    let rules = policy::rules_of(tx, row.policy_version).await?;
    let made_on = batches::made_on(row, &within.recipe, &rules);
    let marc = recipes::marc(tx, cache, record).await?;
    let beside = Beside::of(tx, record).await?;
    let found = findings(&within.recipe, &within.entries, &rules, made_on, (&marc, &beside));
    out.extend(found.into_iter().filter_map(|finding| match finding.kind {
        FindingKind::Hold => Some(bar(ReleaseBarKind::Hold, finding.sentence)),
        FindingKind::Ph => Some(bar(ReleaseBarKind::Ph, finding.sentence)),
        FindingKind::Missing if finding.rule == TARGET_PH => Some(bar(ReleaseBarKind::Ph, finding.sentence)),
        _ => None,
    }));
    out.extend(read.barred.iter().cloned());
    Ok(out)
}

#[cfg(test)]
mod tests {
    use wire::safety::{CautionGroup, CautionLevel, CautionStage};

    use super::*;

    #[test]
    fn a_caution_has_another_name_when_anything_of_it_changes() {
        let caution = Caution {
            key: "daisy".into(),
            text_version: 1,
            level: CautionLevel::Caution,
            group: CautionGroup::AskFirst,
            stage: CautionStage::Use,
            language: "en".into(),
            text: "Not if allergic.".into(),
            label: None,
            audiences: vec!["everyone".into()],
            source: String::new(),
            status: String::new(),
            origins: Vec::new(),
            changed: None,
        };
        let id = id_of(&caution);
        assert_eq!(id.len(), 32);
        assert_eq!(id, id_of(&Caution { source: "another".into(), ..caution.clone() }));
        for other in [
            Caution { text_version: 2, ..caution.clone() },
            Caution { level: CautionLevel::Contraindication, ..caution.clone() },
            Caution { text: "Not if allergic. ".into(), ..caution.clone() },
            Caution { audiences: vec!["pregnant".into()], ..caution.clone() },
        ] {
            assert_ne!(id, id_of(&other));
        }
    }
}
