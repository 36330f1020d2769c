//! The one statement that writes what a transaction leaves in the journal: heads, events, and the digests of rows.
//!
//! Lists travel as arrays, so that the text is the same however many there are, and is prepared once a connection.

use std::collections::BTreeMap;

use canonical::Form;
use chrono::{DateTime, Utc};
use diesel::QueryableByName;
use diesel::sql_types::{
    Array, BigInt, Binary, Jsonb, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::digests::Vouching;
use super::heads::{Head, Overtaken};
use super::row::EventRow;
use crate::error::{Error, Result, violates};
use crate::prepared::Prepare;
use crate::tx::Tx;

/// Heads are written before anything else, and digests that were there before new ones: the final select asks for them
/// in this order. Under our lock a head is as it was read; any other head is not ours to overwrite. A digest is replaced
/// only while it is the one that was read.
const SQL: &str = "
    WITH head AS (
        INSERT INTO event_head (subject_id, subject_kind, number, hash)
        SELECT * FROM unnest((SELECT $1), (SELECT $2), (SELECT $3), (SELECT $4)) AS n (id, kind, number, hash)
        ORDER BY id
        ON CONFLICT (subject_id) DO UPDATE SET number = excluded.number, hash = excluded.hash
            WHERE event_head.subject_id = ANY ((SELECT $5)::uuid[])
        RETURNING 1),
    written AS (
        INSERT INTO event (id, subject_kind, subject_id, number, action, before_digest, after_digest, detail,
                           previous_hash, hash, form, at, actor_id, on_authority_of)
        SELECT n.*, $17, $18, $19
        FROM unnest((SELECT $6), (SELECT $7), (SELECT $8), (SELECT $9), (SELECT $10), (SELECT $11), (SELECT $12),
                    (SELECT $13), (SELECT $14), (SELECT $15), (SELECT $16)) AS n),
    unnumbered AS (
        INSERT INTO event_unnumbered (event_id) SELECT unnest((SELECT $6))),
    again AS (
        UPDATE row_digest d SET form = $20, salt = n.salt, digest = n.digest, event_id = n.event_id
        FROM unnest((SELECT $21), (SELECT $22), (SELECT $23), (SELECT $24), (SELECT $25), (SELECT $26))
            AS n (table_name, row_key, salt, digest, event_id, was)
        WHERE d.table_name = n.table_name AND d.row_key = n.row_key AND d.event_id = n.was
        RETURNING 1),
    first AS (
        INSERT INTO row_digest (table_name, row_key, salt, digest, event_id, form)
        SELECT n.*, $20
        FROM unnest((SELECT $27), (SELECT $28), (SELECT $29), (SELECT $30), (SELECT $31)) AS n
        ON CONFLICT DO NOTHING
        RETURNING 1)
    SELECT (SELECT count(*) FROM head) AS heads, (SELECT count(*) FROM again) AS again,
           (SELECT count(*) FROM first) AS first";

#[derive(QueryableByName)]
struct Put {
    #[diesel(sql_type = BigInt)]
    heads: i64,
    #[diesel(sql_type = BigInt)]
    again: i64,
    #[diesel(sql_type = BigInt)]
    first: i64,
}

type Ids = Array<SqlUuid>;
type Texts = Array<Text>;
type Bytes = Array<Binary>;

/// What is the same for every event of a transaction.
pub(super) struct Common {
    pub(super) at: DateTime<Utc>,
    pub(super) actor: Option<Uuid>,
    pub(super) on_authority_of: Option<Uuid>,
    pub(super) form: Form,
}

/// Writes it.
///
/// # Errors
/// [`Error::Contended`](crate::Error::Contended) with [`Overtaken`] when another transaction began one of the chains or
/// vouched for one of the rows in the meantime.
pub(super) async fn put(
    tx: &mut Tx<'_>,
    heads: &BTreeMap<Uuid, Head>,
    links: &[EventRow],
    common: &Common,
    (again, first): (Vec<Vouching>, Vec<Vouching>),
) -> Result<()> {
    let written: Put = diesel::sql_query(SQL)
        .bind::<Ids, _>(each(heads, |(id, _)| *id))
        .bind::<Texts, _>(each(heads, |(_, head)| head.kind.as_str()))
        .bind::<Array<BigInt>, _>(each(heads, |(_, head)| head.number))
        .bind::<Bytes, _>(each(heads, |(_, head)| head.hash.as_slice()))
        .bind::<Ids, _>(each(heads.iter().filter(|(_, head)| head.locked), |(id, _)| *id))
        .bind::<Ids, _>(each(links, |of| of.id))
        .bind::<Texts, _>(each(links, |of| of.subject_kind.as_str()))
        .bind::<Ids, _>(each(links, |of| of.subject_id))
        .bind::<Array<BigInt>, _>(each(links, |of| of.number))
        .bind::<Texts, _>(each(links, |of| of.action.as_str()))
        .bind::<Array<Nullable<Binary>>, _>(each(links, |of| of.before_digest.as_deref()))
        .bind::<Array<Nullable<Binary>>, _>(each(links, |of| of.after_digest.as_deref()))
        .bind::<Array<Jsonb>, _>(each(links, |of| &of.detail))
        .bind::<Bytes, _>(each(links, |of| of.previous_hash.as_slice()))
        .bind::<Bytes, _>(each(links, |of| of.hash.as_slice()))
        .bind::<Array<SmallInt>, _>(each(links, |of| of.form))
        .bind::<Timestamptz, _>(common.at)
        .bind::<Nullable<SqlUuid>, _>(common.actor)
        .bind::<Nullable<SqlUuid>, _>(common.on_authority_of)
        .bind::<SmallInt, _>(common.form.number())
        .bind::<Texts, _>(each(&again, |of| of.table))
        .bind::<Texts, _>(each(&again, |of| of.key.as_str()))
        .bind::<Bytes, _>(each(&again, |of| &of.salt[..]))
        .bind::<Bytes, _>(each(&again, |of| &of.digest[..]))
        .bind::<Ids, _>(each(&again, |of| of.event))
        .bind::<Array<Nullable<SqlUuid>>, _>(each(&again, |of| of.before))
        .bind::<Texts, _>(each(&first, |of| of.table))
        .bind::<Texts, _>(each(&first, |of| of.key.as_str()))
        .bind::<Bytes, _>(each(&first, |of| &of.salt[..]))
        .bind::<Bytes, _>(each(&first, |of| &of.digest[..]))
        .bind::<Ids, _>(each(&first, |of| of.event))
        .prepared()
        .get_result(tx.conn())
        .await
        .map_err(|error| match violates(&error, "event_subject_id_number_key") {
            // The other's head was waited for and left alone; its events hold the numbers of ours.
            true => Overtaken("the first event of the same subject").into(),
            false => Error::from(error),
        })?;
    let all = |written: i64, wanted: usize| usize::try_from(written).is_ok_and(|written| written == wanted);
    if !all(written.heads, heads.len()) {
        return Err(Overtaken("the first event of the same subject").into());
    }
    if !all(written.again, again.len()) || !all(written.first, first.len()) {
        return Err(Overtaken("an event that vouches for the same row").into());
    }
    Ok(())
}

fn each<I: IntoIterator, T>(of: I, part: impl FnMut(I::Item) -> T) -> Vec<T> {
    of.into_iter().map(part).collect()
}
