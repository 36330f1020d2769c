//! How little of a material may be left before it counts as running low.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{material, stock_threshold};
use store::known_as;
use store::{Credentials, Error, NewEvent, Result, Store, Tx, Versioned};
use uuid::Uuid;
use wire::ids::{MaterialId, PersonId};
use wire::stock::{NewThreshold, Threshold};

use crate::amounts;
use crate::kept::THRESHOLD;

/// The threshold of a material. Its version is 0 before one was set.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, and [`Error::NotFound`] if there is no such material or it
/// was merged into another.
pub async fn threshold(
    store: &Store,
    credentials: &Credentials,
    id: MaterialId,
) -> Result<Versioned<Threshold>> {
    store.read(credentials, async |tx| seen(tx, id).await).await
}

type Row = (i64, Option<String>, Uuid, DateTime<Utc>);

async fn seen(tx: &mut Tx<'_>, id: MaterialId) -> Result<Versioned<Threshold>> {
    tx.staff()?;
    let name: Option<String> = material::table
        .find(id.0)
        .filter(material::merged_into.is_null())
        .select(material::name)
        .first(tx.conn())
        .await
        .optional()?;
    let material_name = name.ok_or(Error::NotFound("material"))?;
    let row: Option<Row> = stock_threshold::table
        .find(id.0)
        .select((
            stock_threshold::version,
            stock_threshold::least,
            stock_threshold::set_by,
            stock_threshold::set_at,
        ))
        .first(tx.conn())
        .await
        .optional()?;
    let none =
        Threshold { material: id, material_name, least: None, set_by: None, set_by_name: None, set_at: None };
    let Some((version, least, by, at)) = row else { return Ok(Versioned { version: 0, value: none }) };
    let names = known_as::people(tx, [by]).await?;
    let (set_by, set_by_name) = (Some(PersonId(by)), names.of(by));
    Ok(Versioned { version, value: Threshold { least, set_by, set_by_name, set_at: Some(at), ..none } })
}

/// Sets, changes or takes away the threshold of a material.
///
/// # Errors
/// As [`threshold`]; returns [`Error::PreconditionFailed`] if `version` is not the current one, and [`Error::Invalid`]
/// for a refused amount.
pub async fn threshold_change(
    store: &Store,
    credentials: &Credentials,
    id: MaterialId,
    version: i64,
    request: &NewThreshold,
) -> Result<Versioned<Threshold>> {
    store
        .write(credentials, async |tx| {
            if seen(tx, id).await?.version != version {
                return Err(Error::PreconditionFailed);
            }
            let of = amounts::what(tx, Some(id.0)).await?;
            let rules = policy::rules(tx).await?;
            let least = request.least.as_deref().map(str::trim);
            let grams = least.map(|text| amounts::read(text, &of, rules.customary, false)).transpose();
            let grams = grams.map_err(|cure| Error::field("/least", cure))?.map(|amount| amount.grams);
            let row = (
                stock_threshold::least.eq(least),
                stock_threshold::grams.eq(grams),
                stock_threshold::version.eq(version + 1),
                stock_threshold::set_by.eq(tx.person()?.id.0),
                stock_threshold::set_at.eq(tx.now()),
            );
            // Of two who set it at once, the second finds another version and changes nothing.
            let changed = match version {
                0 => {
                    diesel::insert_into(stock_threshold::table)
                        .values((stock_threshold::material_id.eq(id.0), row))
                        .on_conflict_do_nothing()
                        .execute(tx.conn())
                        .await?
                }
                _ => {
                    diesel::update(stock_threshold::table.find(id.0))
                        .filter(stock_threshold::version.eq(version))
                        .set(row)
                        .execute(tx.conn())
                        .await?
                }
            };
            if changed != 1 {
                return Err(Error::PreconditionFailed);
            }
            let event = NewEvent::new("material", id.0, "threshold_changed");
            tx.record(event.keeps(&THRESHOLD, [id.0]));
            seen(tx, id).await
        })
        .await
}
