//! The public order of events.
//!
//! Neither an event's id nor its time is in the order of commits: a transaction that began earlier may end later. One
//! relay therefore gives committed events their places, 1, 2, 3 and so on, and a place never changes. Whoever follows
//! the journal by place misses no event. What never happens here: numbering in the transaction that writes an event,
//! which would make every writer wait for every other.

use diesel::sql_types::{BigInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::breaks::Breaks;
use super::stream::stream;
use crate::error::Result;
use crate::store::Store;
use crate::tx::Tx;

/// How many events get their places in one transaction.
const BATCH: usize = 1000;

/// The lock that lets one relay work at a time: the letters "order" as a number.
const RELAY: i64 = 0x6f_72_64_65_72;

/// Gives every committed event that has none its place in the public order. Any number of relays may run: they follow
/// each other batch by batch. Within a batch the order is by time, then id.
///
/// Answers how many events got a place.
///
/// # Errors
/// When the database cannot be reached, or another relay holds the lock for longer than a lock may be waited for.
pub async fn number_events(store: &Store) -> Result<u64> {
    let mut numbered = 0;
    loop {
        let some = store.run_unauthenticated(number_some).await?;
        numbered += u64::try_from(some).unwrap_or(u64::MAX);
        if some < BATCH {
            return Ok(numbered);
        }
    }
}

/// One batch, in one transaction.
async fn number_some(tx: &mut Tx<'_>) -> Result<usize> {
    // A statement of its own: the next one then sees what the relay before has committed.
    diesel::sql_query("SELECT pg_advisory_xact_lock($1)").bind::<BigInt, _>(RELAY).execute(tx.conn()).await?;
    // The batch is taken by id, which the index answers at once however many wait.
    let places = diesel::sql_query(format!(
        "WITH taken AS (
             DELETE FROM event_unnumbered
             WHERE event_id IN (SELECT event_id FROM event_unnumbered ORDER BY event_id LIMIT {BATCH})
             RETURNING event_id
         )
         INSERT INTO event_order (position, event_id)
         SELECT (SELECT coalesce(max(position), 0) FROM event_order) + row_number() OVER (ORDER BY e.at, e.id), e.id
         FROM taken JOIN event e ON e.id = taken.event_id"
    ))
    .execute(tx.conn())
    .await?;
    Ok(places)
}

#[derive(diesel::QueryableByName)]
struct Found {
    #[diesel(sql_type = BigInt)]
    position: i64,
    #[diesel(sql_type = SqlUuid)]
    event_id: Uuid,
    #[diesel(sql_type = Text)]
    what: String,
}

#[derive(diesel::QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

/// Whether every event has exactly one place or waits for one, and the places are 1, 2, 3 and so on. Answers how many
/// places there are. The database's constraints say most of this, and its owner can take them away.
pub(super) async fn verify(tx: &mut Tx<'_>, breaks: &mut Breaks) -> Result<u64> {
    // After a gap everything is out of place: the first says it.
    let gap = "(SELECT position, event_id, 'gap ' || place AS what
          FROM (SELECT position, event_id, row_number() OVER (ORDER BY position) AS place FROM event_order) o
          WHERE position <> place ORDER BY position LIMIT 1)";
    let twice = "SELECT max(position) AS position, event_id, 'twice' AS what FROM event_order
          GROUP BY event_id HAVING count(*) > 1";
    let no_event = "SELECT position, event_id, 'no event' AS what FROM event_order o
          WHERE NOT EXISTS (SELECT FROM event e WHERE e.id = o.event_id)";
    let both = "SELECT o.position, o.event_id, 'both' AS what FROM event_order o
          WHERE EXISTS (SELECT FROM event_unnumbered u WHERE u.event_id = o.event_id)";
    let nowhere = "SELECT 0::bigint AS position, e.id AS event_id, 'nowhere' AS what FROM event e
          WHERE NOT EXISTS (SELECT FROM event_order o WHERE o.event_id = e.id)
              AND NOT EXISTS (SELECT FROM event_unnumbered u WHERE u.event_id = e.id)";
    let every = [gap, twice, no_event, both, nowhere].join(" UNION ALL ");
    stream(tx, &every, |Found { position, event_id, what }| {
        breaks.push(match (what.as_str(), what.strip_prefix("gap ")) {
            (_, Some(place)) => {
                format!("the public order: place {place} is missing before place {position}")
            }
            ("twice", _) => {
                format!("the public order: event {event_id} has several places, {position} the last")
            }
            ("no event", _) => {
                format!("the public order: place {position} names event {event_id}, which does not exist")
            }
            ("both", _) => {
                format!("the public order: event {event_id} has place {position} and still waits for one")
            }
            _ => format!("the public order: event {event_id} has no place and waits for none"),
        });
        Ok(())
    })
    .await?;
    let count: Count =
        diesel::sql_query("SELECT count(*) AS count FROM event_order").get_result(tx.conn()).await?;
    Ok(count.count.unsigned_abs())
}
