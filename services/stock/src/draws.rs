//! Drawing from a lot for an entry of a batch, in the transaction that writes the entry.
//!
//! [`take`] comes before the entry: it locks the lots, gives back what a corrected entry had drawn, and answers what the
//! entry is to say of its lot. [`put`] comes after it. Locks: the batch is held already, lots come after it.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{Bool, SmallInt, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use galenics::Decimal;
use locks::{Locks, lock};
use schema::{lot, material, revision};
use store::{Error, NewEvent, Result, Tx, word};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::{BatchId, EntryId, LotId, RevisionId};
use wire::stock::LotState;

use crate::amounts::{self, plain};
use crate::keeping::{self, Keeping};
use crate::ledger::{self, Moves};
use crate::lots::{Row, stored};
use crate::reservations;
use crate::usable::{self, For};

/// What an entry draws, and instead of what.
#[derive(Clone, Copy, Debug)]
pub struct Draw<'d> {
    /// The lot that it is weighed from.
    pub lot: Option<LotId>,
    /// The entry that it corrects.
    pub corrects: Option<EntryId>,
    /// The batch.
    pub batch: BatchId,
    /// The revision that the batch makes.
    pub revision: RevisionId,
    /// The line.
    pub line: &'d str,
    /// What was weighed, in g.
    pub grams: Decimal,
    /// What the line asks for, in g. What is left of a lot is told only where it is less than that, since anything else
    /// would tell what other batches drew.
    pub target: Option<Decimal>,
    /// Today in the clinic.
    pub today: NaiveDate,
    /// The currency of the batch. The price of a lot in another is left out.
    pub currency: &'d str,
}

/// A lot that an entry is drawn from: what the entry says of it.
#[derive(Clone, Debug)]
pub struct Taken {
    /// The lot.
    pub lot: LotId,
    /// Its number and the supplier's.
    pub text: String,
    /// The last day on which it may be used.
    pub expires: NaiveDate,
    /// Its assay.
    pub assay: Option<String>,
    /// Its price, in the currency of the batch.
    pub price: Option<String>,
    movement: i32,
}

/// Prepares a draw: everything about it that can be refused is refused here.
///
/// # Errors
/// Returns [`Error::Invalid`] at `/lot_id` with the cure, if the lot is of another material or revision, in quarantine,
/// discarded or expired, or holds less than was weighed.
pub async fn take(tx: &mut Tx<'_>, draw: &Draw<'_>) -> Result<Option<Taken>> {
    let before = match draw.corrects {
        Some(entry) => holding(tx, draw.batch, entry).await?,
        None => None,
    };
    let wanted: Vec<Uuid> = before.into_iter().chain(draw.lot).map(|lot| lot.0).collect();
    if wanted.is_empty() {
        return Ok(None);
    }
    lock(tx, Locks::new().lots(wanted.iter().copied())).await?;
    reservations::expire(tx, wanted).await?;
    if let (Some(before), Some(entry)) = (before, draw.corrects) {
        let last = stored(tx, before).await?.last_movement;
        let event = NewEvent::new("lot", before.0, "returned");
        ledger::write(tx, before, last + 1, Moves::Returned(draw.batch, entry), event).await?;
    }
    let Some(id) = draw.lot else { return Ok(None) };
    let found = match stored(tx, id).await {
        Err(Error::NotFound(_)) => return refused(tx, draw, "No lot has this ID.").await,
        other => other?,
    };
    if !fits(tx, draw, id).await? {
        let said = match found.row.material_id {
            Some(of) => {
                let of: String = material::table.find(of).select(material::name).first(tx.conn()).await?;
                format!("{} is of {of}, which line {} does not ask for.", found.row.number, draw.line)
            }
            // By which formula is for members of its library.
            None => format!(
                "{} was not made by the revision that line {} asks for. Another revision is another composition.",
                found.row.number, draw.line
            ),
        };
        return refused(tx, draw, &said).await;
    }
    // Correcting what was weighed from it uses it for nothing new.
    if before != Some(id)
        && let Some(said) = unusable(tx, &found.row, draw.today).await?
    {
        return refused(tx, draw, &said).await;
    }
    let place = usable::place(draw.line).unwrap_or_default();
    let free = reservations::free(tx, id, draw.batch, place).await?;
    if free < draw.grams {
        let number = &found.row.number;
        let said = match draw.target {
            Some(target) if free < target && free < found.on_hand => {
                let free = plain(free);
                format!("Of {number}, {free} g is not reserved for others, which is less than this weighing.")
            }
            Some(target) if free < target => {
                format!("{number} holds {} g, less than this weighing.", plain(free))
            }
            _ => format!(
                "{number} holds less than this weighing, though not less than line {} asks for. Check the weighing.",
                draw.line
            ),
        };
        return refused(tx, draw, &said).await;
    }
    let expires = opened(tx, &found.row, draw.today).await?;
    let row = found.row;
    Ok(Some(Taken {
        lot: id,
        text: format!("{} ({})", row.number, row.supplier_lot),
        expires,
        assay: row.assay,
        price: row.price.filter(|_| row.currency.as_deref() == Some(draw.currency)),
        movement: found.last_movement + 1,
    }))
}

/// Draws what the entry weighed, which has been written since [`take`].
///
/// # Errors
/// As the ledger.
pub async fn put(tx: &mut Tx<'_>, taken: &Taken, batch: BatchId, entry: EntryId) -> Result<()> {
    let event = NewEvent::new("lot", taken.lot.0, "used");
    ledger::write(tx, taken.lot, taken.movement, Moves::Used(batch, entry), event).await
}

/// Why a lot may not be used today.
async fn unusable(tx: &mut Tx<'_>, row: &Row, today: NaiveDate) -> Result<Option<String>> {
    let number = &row.number;
    if let Some(of) = row.revision_id {
        let state: String = revision::table.find(of).select(revision::state).first(tx.conn()).await?;
        if word::<RevisionState>(&state)? == RevisionState::Withdrawn {
            return Ok(Some(format!("{number} was made by a formula that has been withdrawn since.")));
        }
    }
    Ok(match row.state()? {
        LotState::Quarantine => {
            let who =
                if row.batch_id.is_some() { "An instructor who did not make it" } else { "An instructor" };
            Some(format!("{number} is in quarantine. {who} can confirm its identity."))
        }
        LotState::Discarded => Some(format!("{number} was discarded.")),
        LotState::Recalled => Some(format!("{number} was recalled. Put it apart and tell an instructor.")),
        LotState::Usable if row.keeps_until < today => {
            Some(format!("{number} may be used until {} only, and that day has passed.", row.keeps_until))
        }
        LotState::Usable => None,
    })
}

/// Opens a lot with its first weighing; answers until when it keeps.
async fn opened(tx: &mut Tx<'_>, row: &Row, today: NaiveDate) -> Result<NaiveDate> {
    if row.opened_on.is_some() {
        return Ok(row.keeps_until);
    }
    let of = amounts::what(tx, row.material_id).await?;
    let before = Keeping { until: row.keeps_until, rule: row.keeps_rule.clone() };
    // What the clinic made is dated by its batch, open or not.
    let keeping = match of.material() {
        Some(of) => keeping::opened(of, before, today),
        None => before,
    };
    let until = keeping.until;
    diesel::update(lot::table.find(row.id))
        .set((
            lot::opened_on.eq(today.max(row.received_on)),
            lot::keeps_until.eq(until),
            lot::keeps_rule.eq(keeping.rule),
        ))
        .execute(tx.conn())
        .await?;
    Ok(until)
}

/// Refuses a lot, and names the others.
async fn refused<T>(tx: &mut Tx<'_>, draw: &Draw<'_>, said: &str) -> Result<T> {
    let of = For { batch: draw.batch, revision: draw.revision, today: draw.today, now: tx.now() };
    let others = usable::for_lines(tx, &of, Some(draw.line)).await?;
    let others: Vec<String> = others
        .iter()
        .filter(|other| Some(other.id) != draw.lot)
        .take(5)
        .map(|other| format!("{} (until {})", other.number, other.keeps_until))
        .collect();
    let cure = match others.as_slice() {
        [] => format!("No other lot for line {} can be used. Ask an instructor.", draw.line),
        some => format!("Choose another lot: {}.", some.join(", ")),
    };
    Err(Error::field("/lot_id", format!("{said} {cure}")))
}

#[derive(QueryableByName)]
struct Fits {
    #[diesel(sql_type = Bool)]
    fits: bool,
}

/// Whether a lot is of the material that the line asks for, or of one that was merged with it; or was made by the very
/// revision that the line nests.
async fn fits(tx: &mut Tx<'_>, draw: &Draw<'_>, id: LotId) -> Result<bool> {
    let Some((phase, line)) = usable::place(draw.line) else { return Ok(false) };
    let found: Fits = diesel::sql_query(
        "SELECT EXISTS (
             SELECT FROM revision_ingredient i JOIN lot l ON l.id = $4
             LEFT JOIN material m ON m.id = i.material_id LEFT JOIN material s ON s.id = l.material_id
             WHERE i.revision_id = $1 AND i.phase = $2 AND i.line = $3
                 AND (coalesce(s.merged_into, s.id) = coalesce(m.merged_into, m.id)
                     OR l.revision_id = i.nested_revision_id)) AS fits",
    )
    .bind::<SqlUuid, _>(draw.revision.0)
    .bind::<SmallInt, _>(phase)
    .bind::<SmallInt, _>(line)
    .bind::<SqlUuid, _>(id.0)
    .get_result(tx.conn())
    .await?;
    Ok(found.fits)
}

/// The lot that an entry drew from.
#[derive(Clone, Copy, Debug)]
pub struct Drawn {
    /// The entry.
    pub entry: EntryId,
    /// The lot.
    pub lot: LotId,
}

#[derive(QueryableByName)]
struct DrawnRow {
    #[diesel(sql_type = SqlUuid)]
    entry_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    lot_id: Uuid,
}

/// The lots that the entries of a batch drew from, corrected entries too. Cost: one statement.
///
/// # Errors
/// Returns the errors of the database.
pub async fn drawn_by(tx: &mut Tx<'_>, batch: BatchId) -> Result<Vec<Drawn>> {
    let rows: Vec<DrawnRow> =
        diesel::sql_query("SELECT entry_id, lot_id FROM lot_movement WHERE batch_id = $1 AND kind = 'used'")
            .bind::<SqlUuid, _>(batch.0)
            .load(tx.conn())
            .await?;
    Ok(rows.into_iter().map(DrawnRow::drawn).collect())
}

impl DrawnRow {
    const fn drawn(self) -> Drawn {
        Drawn { entry: EntryId(self.entry_id), lot: LotId(self.lot_id) }
    }
}

/// The lot that an entry of this batch drew from and has not given back. An entry that was corrected before gave it back
/// then; whoever writes the second correction is refused with the entry.
async fn holding(tx: &mut Tx<'_>, batch: BatchId, entry: EntryId) -> Result<Option<LotId>> {
    let rows: Vec<DrawnRow> = diesel::sql_query(
        "SELECT m.entry_id, m.lot_id FROM lot_movement m
         WHERE m.entry_id = $1 AND m.batch_id = $2 AND m.kind = 'used'
             AND NOT EXISTS (SELECT FROM lot_movement r WHERE r.entry_id = m.entry_id AND r.kind = 'returned')",
    )
    .bind::<SqlUuid, _>(entry.0)
    .bind::<SqlUuid, _>(batch.0)
    .load(tx.conn())
    .await?;
    Ok(rows.into_iter().next().map(|row| LotId(row.lot_id)))
}
