//! Acknowledging a caution set: for oneself, or as the person who answers for another tool.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Text as SqlText, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::{acknowledgement, api_client, door};
use serde_json::json;
use store::{Actor, Claim, Error, NewEvent, Once, Result, Store, Tx, page::Slice, word};
use uuid::Uuid;
use wire::ids::{AcknowledgementId, ApiClientId, HolderId, LibraryId, PersonId, RevisionId};
use wire::page::{Page, PageQuery};
use wire::people::Scope;
use wire::problem::FieldError;
use wire::safety::{Acknowledge, Acknowledgement, CautionLevel, CautionSet, Purpose};

use super::gate::{self, Door};
use super::{countersign, set};
use formulary;
use policy;

/// Acknowledges the current caution set of a revision and opens its door.
///
/// # Errors
/// When the caller may not know of the revision or may not acknowledge for the client; when the set named is not
/// the current one ([`Error::GateClosed`] with the current one); when a contraindication was left out.
pub async fn acknowledge(
    store: &Store,
    claim: &Claim,
    once: &Once,
    id: RevisionId,
    request: &Acknowledge,
) -> Result<Acknowledgement> {
    store
        .create(
            claim,
            once,
            async |tx| {
                tx.require_scope(Scope::Acknowledge)?;
                formulary::hold(tx, id).await?;
                let facts = formulary::visible(tx, id, false).await?;
                formulary::hold_membership(tx, facts.library).await?;
                let (holder, given_by) = parties(tx, request.for_api_client, facts.library).await?;
                let purpose = gate::purpose_for(tx, &facts).await?;
                let (number, digest) = set::gate_for_share(tx, id).await?;
                if request.caution_set != hex::encode(&digest) {
                    let reason =
                        "the caution set you named is not the current one: read this one and acknowledge it";
                    return Err(Error::GateClosed(Box::new(gate::outstanding(tx, id, reason).await?)));
                }
                let set = set::numbered(tx, id, number).await?;
                each_contraindication(&set, request)?;
                let countersign =
                    countersign::is_needed(tx, &set, &request.meant_for).await? && purpose == Purpose::Make;
                let revision_digest =
                    facts.digest.ok_or_else(|| Error::internal("a frozen revision without digest"))?;
                let door = Door {
                    facts,
                    digest: revision_digest,
                    caution_digest: digest
                        .try_into()
                        .map_err(|_| Error::internal("a digest of the wrong length"))?,
                    set_number: number,
                    purpose,
                };
                keep(tx, &door, (holder, given_by), request, countersign).await
            },
            async |tx, made| show(tx, AcknowledgementId(made)).await,
        )
        .await
}

/// For whom the door opens, and who answers for it.
async fn parties(
    tx: &mut Tx<'_>,
    for_client: Option<ApiClientId>,
    library: LibraryId,
) -> Result<(HolderId, PersonId)> {
    match (tx.actor()?.clone(), for_client) {
        (Actor::Person(me), None) => Ok((me.id.into(), me.id)),
        (Actor::Client { id, responsible, .. }, None) => Ok((id.into(), responsible)),
        (Actor::Client { .. }, Some(_)) => {
            Err(Error::field("/for_api_client", "only the responsible person acknowledges for a client"))
        }
        (Actor::Person(me), Some(client)) => {
            let found: Option<Uuid> = api_client::table
                .filter(api_client::id.eq(client.0))
                .filter(api_client::responsible_id.eq(me.id.0))
                .filter(api_client::state.eq("active"))
                .select(api_client::id)
                .first(tx.conn())
                .await
                .optional()?;
            if found.is_none() {
                return Err(Error::field(
                    "/for_api_client",
                    "you answer for no active API client of this id",
                ));
            }
            let shared: Option<Uuid> = schema::library_member::table
                .find((library.0, client.0))
                .select(schema::library_member::holder_id)
                .first(tx.conn())
                .await
                .optional()?;
            if shared.is_none() {
                return Err(Error::field(
                    "/for_api_client",
                    "this client is not a member of the formula's library",
                ));
            }
            Ok((client.into(), me.id))
        }
    }
}

fn each_contraindication(set: &CautionSet, request: &Acknowledge) -> Result<()> {
    let wanted: Vec<&str> = set
        .cautions
        .iter()
        .filter(|caution| caution.level >= CautionLevel::Contraindication)
        .map(|caution| caution.key.as_str())
        .collect();
    let mut errors: Vec<FieldError> = wanted
        .iter()
        .filter(|key| !request.contraindications.iter().any(|given| given == *key))
        .map(|key| {
            FieldError::new("/contraindications", format!("{key:?} is acknowledged on its own: add its key"))
        })
        .collect();
    for (i, given) in request.contraindications.iter().enumerate() {
        if !wanted.contains(&given.as_str()) {
            errors.push(FieldError::new(
                format!("/contraindications/{i}"),
                "this is not the key of a contraindication of this set",
            ));
        }
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

async fn keep(
    tx: &mut Tx<'_>,
    door: &Door,
    (holder, given_by): (HolderId, PersonId),
    request: &Acknowledge,
    countersign: bool,
) -> Result<Uuid> {
    let id = tx.new_id();
    let now = tx.now;
    let valid_until = now + policy::rules(tx).await?.acknowledgement;
    diesel::insert_into(acknowledgement::table)
        .values((
            acknowledgement::id.eq(id),
            acknowledgement::holder_id.eq(holder.0),
            acknowledgement::given_by.eq(given_by.0),
            acknowledgement::revision_id.eq(door.facts.id.0),
            acknowledgement::revision_digest.eq(&door.digest[..]),
            acknowledgement::set_number.eq(door.set_number),
            acknowledgement::caution_digest.eq(&door.caution_digest[..]),
            acknowledgement::contraindications.eq(json!(request.contraindications)),
            acknowledgement::language.eq("en"),
            acknowledgement::purpose.eq(door.purpose.as_str()),
            acknowledgement::at.eq(now),
            acknowledgement::valid_until.eq(valid_until),
            acknowledgement::meant_for.eq(json!(request.meant_for)),
            acknowledgement::countersign.eq(countersign),
        ))
        .execute(tx.conn())
        .await?;
    if countersign {
        // Whoever makes it for somebody in particular no longer makes it for just anybody.
        gate::close_for(tx, holder, door.facts.id, "countersignature_awaited").await?;
    } else if door.purpose != Purpose::Record {
        gate::put(tx, holder, door, id, valid_until).await?;
    }
    let detail = json!({
        "acknowledgement": id,
        "holder": holder,
        "given_by": given_by,
        "caution_set": hex::encode(door.caution_digest),
        "purpose": door.purpose,
        "countersign": if countersign { "needed" } else { "not needed" },
    });
    tx.record(NewEvent::new("revision", door.facts.id.0, "acknowledged").after(door.digest).detail(detail));
    Ok(id)
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = acknowledgement, check_for_backend(diesel::pg::Pg))]
pub(super) struct Row {
    pub(super) id: Uuid,
    pub(super) holder_id: Uuid,
    pub(super) given_by: Uuid,
    pub(super) revision_id: Uuid,
    pub(super) revision_digest: Vec<u8>,
    pub(super) set_number: i32,
    pub(super) contraindications: serde_json::Value,
    pub(super) purpose: String,
    pub(super) at: DateTime<Utc>,
    pub(super) valid_until: DateTime<Utc>,
    pub(super) meant_for: serde_json::Value,
    pub(super) countersign: bool,
}

/// An acknowledgement as it is shown.
pub(super) async fn render(tx: &mut Tx<'_>, row: Row) -> Result<Acknowledgement> {
    let now = tx.now;
    let open: Option<Uuid> = release_grant::table
        .filter(release_grant::acknowledgement_id.eq(row.id))
        .filter(release_grant::valid_until.gt(now))
        .select(release_grant::acknowledgement_id)
        .first(tx.conn())
        .await
        .optional()?;
    let countersigned_by = countersign::by(tx, row.id).await?;
    let called: Called = diesel::sql_query(
        "SELECT r.title, COALESCE(p.name, c.name, '') AS holder_name FROM revision r
         LEFT JOIN person p ON p.id = $2 LEFT JOIN api_client c ON c.id = $2 WHERE r.id = $1",
    )
    .bind::<SqlUuid, _>(row.revision_id)
    .bind::<SqlUuid, _>(row.holder_id)
    .get_result(tx.conn())
    .await?;
    Ok(Acknowledgement {
        id: AcknowledgementId(row.id),
        holder: HolderId(row.holder_id),
        holder_name: called.holder_name,
        given_by: PersonId(row.given_by),
        revision: RevisionId(row.revision_id),
        title: called.title,
        revision_digest: hex::encode(&row.revision_digest),
        purpose: word(&row.purpose)?,
        caution_set: set::numbered(tx, RevisionId(row.revision_id), row.set_number).await?,
        contraindications: serde_json::from_value(row.contraindications)?,
        at: row.at,
        valid_until: row.valid_until,
        meant_for: serde_json::from_value(row.meant_for)?,
        needs_countersignature: row.countersign,
        countersigned_by,
        open: open.is_some(),
    })
}

/// What people call a revision and a holder.
#[derive(QueryableByName)]
struct Called {
    #[diesel(sql_type = SqlText)]
    title: String,
    #[diesel(sql_type = SqlText)]
    holder_name: String,
}

async fn show(tx: &mut Tx<'_>, id: AcknowledgementId) -> Result<Acknowledgement> {
    let row: Option<Row> =
        acknowledgement::table.find(id.0).select(Row::as_select()).first(tx.conn()).await.optional()?;
    let row = row.ok_or(Error::NotFound("acknowledgement"))?;
    let me = tx.actor()?.holder().0;
    if row.holder_id != me && row.given_by != me {
        return Err(Error::NotFound("acknowledgement"));
    }
    render(tx, row).await
}

/// One of the caller's acknowledgements, with the texts as they were shown.
///
/// # Errors
/// When it is not the caller's.
pub async fn acknowledgement(
    store: &Store,
    claim: &Claim,
    id: AcknowledgementId,
) -> Result<Acknowledgement> {
    store.read(claim, async |tx| show(tx, id).await).await
}

/// The caller's acknowledgements, oldest first.
///
/// # Errors
/// When the claim does not hold.
pub async fn acknowledgements(
    store: &Store,
    claim: &Claim,
    query: &PageQuery,
) -> Result<Page<Acknowledgement>> {
    let slice = Slice::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(claim, async |tx| {
            let me = tx.actor()?.holder();
            let rows: Vec<Row> = acknowledgement::table
                .filter(acknowledgement::holder_id.eq(me.0))
                .filter(acknowledgement::id.gt(slice.after.unwrap_or_default()))
                .order(acknowledgement::id)
                .limit(slice.fetch())
                .select(Row::as_select())
                .load(tx.conn())
                .await?;
            slice.rendered(rows, |row| row.id, async |row| render(tx, row).await).await
        })
        .await
}
