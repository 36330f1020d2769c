//! Reading a lot.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use materia::Material;
use rust_decimal::Decimal;
use schema::{lot, lot_balance, lot_decision};
use store::actor::Actor;
use store::known_as::{self, Names};
use store::{Credentials, Error, Result, Store, Tx, Versioned, word};
use uuid::Uuid;
use wire::figure::FigureSource;
use wire::ids::{BatchId, LotDecisionId, LotId, MaterialId, PersonId, RevisionId};
use wire::people::{Role, Scope};
use wire::stock::{Lot, LotDecision, LotLookAlike, LotMade, LotState, LotSummary};

use crate::amounts::{self, plain};
use crate::made_by;
use crate::reservations;

/// A lot as it is stored.
#[derive(Queryable, Selectable)]
#[diesel(table_name = lot, check_for_backend(diesel::pg::Pg))]
pub(crate) struct Row {
    pub(crate) id: Uuid,
    pub(crate) number: String,
    pub(crate) material_id: Option<Uuid>,
    pub(crate) state: String,
    pub(crate) supplier: String,
    pub(crate) supplier_lot: String,
    pub(crate) received_on: NaiveDate,
    pub(crate) expires: Option<String>,
    pub(crate) opened_on: Option<NaiveDate>,
    pub(crate) keeps_until: NaiveDate,
    pub(crate) keeps_rule: String,
    pub(crate) amount: String,
    pub(crate) converted_by: Option<String>,
    pub(crate) price: Option<String>,
    pub(crate) currency: Option<String>,
    pub(crate) assay: Option<String>,
    pub(crate) certificate: Option<String>,
    pub(crate) collector: Option<String>,
    pub(crate) site: Option<String>,
    pub(crate) collected_on: Option<NaiveDate>,
    pub(crate) version: i64,
    pub(crate) last_decision: i32,
    pub(crate) received_by: Uuid,
    pub(crate) received_at: DateTime<Utc>,
    pub(crate) batch_id: Option<Uuid>,
    pub(crate) revision_id: Option<Uuid>,
}

impl Row {
    /// Its state.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the database holds another word.
    pub(crate) fn state(&self) -> Result<LotState> {
        word(&self.state)
    }
}

/// A lot with what is left of it, and the number of its last movement.
pub(crate) struct Stored {
    pub(crate) row: Row,
    pub(crate) on_hand: Decimal,
    pub(crate) last_movement: i32,
}

/// A lot, as this transaction sees it.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such lot.
pub(crate) async fn stored(tx: &mut Tx<'_>, id: LotId) -> Result<Stored> {
    let found: Option<(Row, Decimal, i32)> = lot::table
        .inner_join(lot_balance::table.on(lot_balance::lot_id.eq(lot::id)))
        .filter(lot::id.eq(id.0))
        .select((Row::as_select(), lot_balance::on_hand, lot_balance::last_movement))
        .first(tx.conn())
        .await
        .optional()?;
    let (row, on_hand, last_movement) = found.ok_or(Error::NotFound("lot"))?;
    Ok(Stored { row, on_hand, last_movement })
}

/// Whether the caller keeps the stock, and so counts it: instructors and administrators. The balance of a lot is the sum
/// of what all batches drew, so nobody else is told it.
///
/// # Errors
/// Returns [`Error::Forbidden`] for an API client without the scope for lots.
pub(crate) fn keeps_stock(tx: &Tx<'_>) -> Result<bool> {
    tx.require_scope(Scope::LotsRead)?;
    Ok(match tx.actor()? {
        Actor::Person(person) => matches!(person.role, Role::Instructor | Role::Administrator),
        Actor::Client { .. } => false,
    })
}

/// Today in the clinic.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn today(tx: &mut Tx<'_>) -> Result<NaiveDate> {
    let rules = policy::rules(tx).await?;
    Ok(rules.date(tx.now()))
}

/// One lot.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such lot, and [`Error::Forbidden`] for an API client without the scope.
pub async fn lot(store: &Store, credentials: &Credentials, id: LotId) -> Result<Versioned<Lot>> {
    store.read(credentials, async |tx| seen(tx, id).await).await
}

/// A lot as the caller sees it.
///
/// # Errors
/// As [`lot()`].
pub async fn seen(tx: &mut Tx<'_>, id: LotId) -> Result<Versioned<Lot>> {
    let counts = keeps_stock(tx)?;
    let Stored { row, on_hand, .. } = stored(tx, id).await?;
    let made = made_by::of(tx, row.batch_id).await?;
    let Called { name: material_name, member } = called(tx, &row).await?;
    // Of what the clinic made, the title is for members of its library and for who keeps the stock.
    if made.is_some() && !member && !counts {
        return Err(Error::NotFound("lot"));
    }
    let reserved_for = match counts {
        true => Some(reservations::of_lot(tx, id).await?),
        false => None,
    };
    let today = today(tx).await?;
    let of = amounts::what(tx, row.material_id).await?;
    let decisions: Vec<DecisionRow> = lot_decision::table
        .filter(lot_decision::lot_id.eq(id.0))
        .order(lot_decision::number.desc())
        .limit(20)
        .select(DecisionRow::as_select())
        .load(tx.conn())
        .await?;
    let people = decisions.iter().map(|decision| decision.by_id).chain([row.received_by]);
    let people = people.chain(made.as_ref().map(|made| made.maker));
    let names = known_as::people(tx, people.collect::<Vec<_>>()).await?;
    let version = row.version;
    let summary = LotSummary {
        id,
        number: row.number.clone(),
        material: row.material_id.map(MaterialId),
        revision: row.revision_id.map(RevisionId),
        material_name,
        state: row.state()?,
        supplier: row.supplier,
        supplier_lot: row.supplier_lot,
        keeps_until: row.keeps_until,
        expired: row.keeps_until < today,
        opened: row.opened_on,
        used_up: on_hand.is_zero(),
        on_hand_grams: counts.then(|| plain(on_hand)),
    };
    let value = Lot {
        summary,
        version: version.unsigned_abs(),
        received: row.received_on,
        expires: row.expires,
        keeps_rule: row.keeps_rule,
        amount: Some(row.amount).filter(|_| made.is_none() || counts),
        made: made.map(|made| LotMade {
            batch: Some(BatchId(made.batch)).filter(|_| member),
            maker: PersonId(made.maker),
            maker_name: names.of(made.maker),
        }),
        converted_by: row.converted_by,
        price: row.price,
        currency: row.currency,
        assay: row.assay,
        certificate: row.certificate,
        collector: row.collector,
        site: row.site,
        collected: row.collected_on,
        received_by: PersonId(row.received_by),
        received_by_name: names.of(row.received_by),
        received_at: row.received_at,
        decisions: decisions.into_iter().map(|decision| decision.shown(&names)).collect::<Result<_>>()?,
        reserved_for,
        known_look_alikes: of.material().map(look_alikes).unwrap_or_default(),
    };
    Ok(Versioned { version, value })
}

#[derive(QueryableByName)]
struct Called {
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Bool)]
    member: bool,
}

/// The name of a material, or the title of the formula that a lot was made by; and whether the caller is a member of that
/// formula's library.
async fn called(tx: &mut Tx<'_>, row: &Row) -> Result<Called> {
    let me = tx.actor()?.holder();
    Ok(diesel::sql_query(
        "SELECT coalesce(m.name, r.title) AS name, b.holder_id IS NOT NULL AS member
         FROM lot l LEFT JOIN material m ON m.id = l.material_id
         LEFT JOIN revision r ON r.id = l.revision_id LEFT JOIN formula f ON f.id = r.formula_id
         LEFT JOIN library_member b ON b.library_id = f.library_id AND b.holder_id = $2
         WHERE l.id = $1",
    )
    .bind::<SqlUuid, _>(row.id)
    .bind::<SqlUuid, _>(me.0)
    .get_result(tx.conn())
    .await?)
}

/// The plants that are mistaken for the plant of a material.
pub(crate) fn look_alikes(of: &Material) -> Vec<LotLookAlike> {
    let known = of.botanical.iter().flat_map(|botanical| &botanical.species.look_alikes);
    known
        .map(|one| LotLookAlike {
            name: one.name.clone(),
            poisonous: one.poisonous,
            text: one.text.clone(),
            source: FigureSource {
                text: one.source.text.clone(),
                status: one.status.word().replace('_', " "),
            },
        })
        .collect()
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = lot_decision, check_for_backend(diesel::pg::Pg))]
struct DecisionRow {
    id: Uuid,
    decision: String,
    species: Option<String>,
    part: Option<String>,
    condition: Option<String>,
    organoleptic: Option<String>,
    look_alikes: Option<String>,
    foreign_matter: Option<String>,
    loss_on_drying: Option<String>,
    reason: Option<String>,
    own_decision: Option<bool>,
    by_id: Uuid,
    at: DateTime<Utc>,
}

impl DecisionRow {
    fn shown(self, names: &Names) -> Result<LotDecision> {
        Ok(LotDecision {
            id: LotDecisionId(self.id),
            decision: word(&self.decision)?,
            species: self.species,
            part: self.part,
            condition: self.condition,
            organoleptic: self.organoleptic,
            look_alikes: self.look_alikes,
            foreign_matter: self.foreign_matter,
            loss_on_drying: self.loss_on_drying,
            reason: self.reason,
            note: self.own_decision.map(|_| "let in by its maker".to_owned()),
            by: PersonId(self.by_id),
            by_name: names.of(self.by_id),
            at: self.at,
        })
    }
}

#[derive(QueryableByName)]
struct There {
    #[diesel(sql_type = Bool)]
    there: bool,
}

/// Whether the caller may read the events of this subject: those of lots and of thresholds are for who keeps the stock.
///
/// # Errors
/// Returns the errors of the database.
pub async fn may_read_events(tx: &mut Tx<'_>, subject: Uuid) -> Result<bool> {
    if !keeps_stock(tx)? {
        return Ok(false);
    }
    let found: There = diesel::sql_query("SELECT EXISTS (SELECT FROM lot WHERE id = $1) AS there")
        .bind::<SqlUuid, _>(subject)
        .get_result(tx.conn())
        .await?;
    Ok(found.there)
}
