//! Countersigning: for some audiences a recipe is released only when an instructor has signed too.

use diesel::prelude::*;
use diesel::sql_types::{BigInt, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::{acknowledgement, countersignature, library_member};
use serde_json::json;
use store::{Claim, Error, NewEvent, Once, Result, Store, Tx, page::Slice, violates};
use uuid::Uuid;
use wire::ids::{AcknowledgementId, HolderId, PersonId, RevisionId};
use wire::page::{Page, PageQuery};
use wire::safety::{Acknowledgement, CautionLevel, CautionSet, Purpose};

use super::acknowledge::{Row, render};
use super::audience::Asked;
use super::gate::{self, Door};
use super::set;
use formulary;
use policy;

/// Whether an acknowledgement for these people needs a countersignature: when the policy names one of them, or when a
/// contraindication of the set is meant for one.
///
/// # Errors
/// When one of them is not an audience.
pub(super) async fn is_needed(tx: &mut Tx<'_>, set: &CautionSet, meant_for: &[String]) -> Result<bool> {
    let named = policy::rules(tx).await?.countersign_audiences;
    let mut needed = false;
    for (i, text) in meant_for.iter().enumerate() {
        let asked = Asked::parse(tx.reference, text.trim(), &format!("/meant_for/{i}"))?;
        let mut against = set.cautions.iter().filter(|it| it.level >= CautionLevel::Contraindication);
        needed |= asked.is_among(&named) || against.any(|caution| asked.is_meant(caution));
    }
    Ok(needed)
}

/// Who countersigned an acknowledgement.
pub(super) async fn by(tx: &mut Tx<'_>, id: Uuid) -> Result<Option<PersonId>> {
    let by: Option<Uuid> =
        countersignature::table.find(id).select(countersignature::by_id).first(tx.conn()).await.optional()?;
    Ok(by.map(PersonId))
}

async fn found(tx: &mut Tx<'_>, id: Uuid) -> Result<Row> {
    acknowledgement::table
        .find(id)
        .select(Row::as_select())
        .first(tx.conn())
        .await
        .optional()?
        .ok_or(Error::NotFound("acknowledgement"))
}

/// Countersigns an acknowledgement, which opens its door then.
///
/// # Errors
/// When the caller is not an instructor of the library whose own door to the revision is open, gave or holds the
/// acknowledgement, or it needs no countersignature, has one, or has ended.
pub async fn countersign(
    store: &Store,
    claim: &Claim,
    once: &Once,
    id: AcknowledgementId,
) -> Result<Acknowledgement> {
    store
        .create(
            claim,
            once,
            async |tx| {
                let row = found(tx, id.0).await?;
                let revision = RevisionId(row.revision_id);
                formulary::hold(tx, revision).await?;
                let hidden = |error| match error {
                    Error::NotFound(_) => Error::NotFound("acknowledgement"),
                    other => other,
                };
                formulary::visible(tx, revision, false).await.map_err(hidden)?;
                let me = tx.instructor()?.id;
                if row.holder_id == me.0 || row.given_by == me.0 {
                    return Err(Error::Forbidden(
                        "nobody countersigns their own acknowledgement: ask another instructor".into(),
                    ));
                }
                // Whoever signs has been shown the same cautions, and they stay the current ones meanwhile.
                let (number, _) = set::gate_for_share(tx, revision).await?;
                let mine = gate::open(tx, revision).await?;
                formulary::hold_membership(tx, mine.facts.library).await?;
                still_holds(tx, &row, &mine, number).await?;
                gate::may_be_made(tx, &mine.facts).await?;
                let now = tx.now;
                diesel::insert_into(countersignature::table)
                    .values((
                        countersignature::acknowledgement_id.eq(row.id),
                        countersignature::by_id.eq(me.0),
                        countersignature::at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await
                    .map_err(|error| {
                        if violates(&error, "countersignature_pkey") { signed() } else { error.into() }
                    })?;
                let door = Door { purpose: Purpose::Make, set_number: number, ..mine };
                gate::put(tx, HolderId(row.holder_id), &door, row.id, row.valid_until).await?;
                let detail = json!({ "acknowledgement": row.id, "holder": row.holder_id });
                tx.record(NewEvent::new("revision", row.revision_id, "countersigned").detail(detail));
                Ok(row.id)
            },
            async |tx, id| {
                let row = found(tx, id).await?;
                render(tx, row).await
            },
        )
        .await
}

fn signed() -> Error {
    Error::state("countersigned", "this acknowledgement has been countersigned already")
}

/// Refuses what needs no signature, has one, or is no longer what was acknowledged.
async fn still_holds(tx: &mut Tx<'_>, row: &Row, mine: &Door, set_number: i32) -> Result<()> {
    if !row.countersign {
        return Err(Error::state("open", "this acknowledgement needs no countersignature"));
    }
    if by(tx, row.id).await?.is_some() {
        return Err(signed());
    }
    let newer: Option<Uuid> = acknowledgement::table
        .filter(acknowledgement::holder_id.eq(row.holder_id))
        .filter(acknowledgement::revision_id.eq(row.revision_id))
        .filter(acknowledgement::id.gt(row.id))
        .select(acknowledgement::id)
        .first(tx.conn())
        .await
        .optional()?;
    // Whoever left the library and came back acknowledges anew.
    let member: Option<Uuid> = library_member::table
        .find((mine.facts.library.0, row.holder_id))
        .filter(library_member::added_at.le(row.at))
        .select(library_member::holder_id)
        .first(tx.conn())
        .await
        .optional()?;
    let same = row.revision_digest == mine.digest
        && row.set_number == set_number
        && row.purpose == Purpose::Make.as_str();
    if newer.is_some() || member.is_none() || !same || row.valid_until <= tx.now {
        return Err(Error::state(
            "ended",
            "this acknowledgement has ended: its cautions, its membership or its time are no longer what they were",
        ));
    }
    Ok(())
}

/// Acknowledgements that wait for an instructor's countersignature in the libraries shared with the caller, oldest
/// first.
///
/// # Errors
/// When the caller is not an instructor.
pub async fn awaited(store: &Store, claim: &Claim, query: &PageQuery) -> Result<Page<Acknowledgement>> {
    let slice = Slice::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(claim, async |tx| {
            let me = tx.instructor()?.id;
            let now = tx.now;
            let waiting: Vec<Waiting> = diesel::sql_query(
                "SELECT a.id FROM acknowledgement a
                 JOIN gate g ON g.revision_id = a.revision_id AND g.set_number = a.set_number
                 JOIN revision r ON r.id = a.revision_id JOIN formula f ON f.id = r.formula_id
                 JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
                 WHERE a.countersign AND a.valid_until > $2 AND a.id > $3
                   AND NOT EXISTS (SELECT FROM countersignature c WHERE c.acknowledgement_id = a.id)
                   AND NOT EXISTS (SELECT FROM acknowledgement later WHERE later.holder_id = a.holder_id
                     AND later.revision_id = a.revision_id AND later.purpose = a.purpose AND later.id > a.id)
                 ORDER BY a.id LIMIT $4",
            )
            .bind::<SqlUuid, _>(me.0)
            .bind::<Timestamptz, _>(now)
            .bind::<SqlUuid, _>(slice.after.unwrap_or_default())
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let ids: Vec<Uuid> = waiting.iter().map(|row| row.id).collect();
            let rows: Vec<Row> = acknowledgement::table
                .filter(acknowledgement::id.eq_any(ids))
                .order(acknowledgement::id)
                .select(Row::as_select())
                .load(tx.conn())
                .await?;
            slice.rendered(rows, |row| row.id, async |row| render(tx, row).await).await
        })
        .await
}

/// The holder's acknowledgement of a revision that would open its door if an instructor signed it.
pub(super) async fn waiting(tx: &mut Tx<'_>, holder: HolderId, id: RevisionId) -> Result<Option<Uuid>> {
    let now = tx.now;
    let found: Option<Waiting> = diesel::sql_query(
        "SELECT a.id FROM acknowledgement a
         JOIN gate g ON g.revision_id = a.revision_id AND g.set_number = a.set_number
         JOIN revision r ON r.id = a.revision_id JOIN formula f ON f.id = r.formula_id
         JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = a.holder_id AND m.added_at <= a.at
         WHERE a.holder_id = $1 AND a.revision_id = $2 AND a.countersign AND a.valid_until > $3
           AND NOT EXISTS (SELECT FROM countersignature c WHERE c.acknowledgement_id = a.id)
           AND NOT EXISTS (SELECT FROM acknowledgement later WHERE later.holder_id = a.holder_id
             AND later.revision_id = a.revision_id AND later.id > a.id)",
    )
    .bind::<SqlUuid, _>(holder.0)
    .bind::<SqlUuid, _>(id.0)
    .bind::<Timestamptz, _>(now)
    .get_result(tx.conn())
    .await
    .optional()?;
    Ok(found.map(|row| row.id))
}

#[derive(QueryableByName)]
struct Waiting {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}
