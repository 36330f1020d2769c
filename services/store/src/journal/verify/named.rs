//! The rows that events name: each has its digest, and its events form one chain that ends at that digest's event.

use diesel::sql_types::{BigInt, Text, Uuid as SqlUuid};
use uuid::Uuid;

use crate::error::Result;
use crate::journal::breaks::Breaks;
use crate::journal::stream::stream;
use crate::journal::vouched::{DIGESTS, FOLLOWS};
use crate::tx::Tx;

/// A row that an event names.
#[derive(diesel::QueryableByName)]
struct Named {
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = SqlUuid)]
    subject_id: Uuid,
    #[diesel(sql_type = BigInt)]
    number: i64,
}

impl Named {
    /// The sentence's beginning, "batch_entry 0190...", as where rows are verified.
    fn row(&self) -> String {
        self.name.replacen('/', " ", 1)
    }
}

/// Compares what events name with the digests that are kept.
pub(super) async fn verify(tx: &mut Tx<'_>, breaks: &mut Breaks) -> Result<()> {
    let named = format!(
        "WITH named AS (
             SELECT e.id, e.subject_id, e.number, r.name, e.detail -> '{FOLLOWS}' ->> r.name AS follows
             FROM event e CROSS JOIN LATERAL jsonb_object_keys(
                 CASE WHEN jsonb_typeof(e.detail -> '{DIGESTS}') = 'object' THEN e.detail -> '{DIGESTS}'
                      ELSE '{{}}' END
             ) AS r (name)
         )"
    );
    // The digest was taken away, and with it the row or its proof.
    let without = format!(
        "{named} SELECT DISTINCT ON (n.name) n.name, n.subject_id, n.number FROM named n
         WHERE NOT EXISTS (SELECT FROM row_digest d WHERE d.table_name || '/' || d.row_key = n.name)
         ORDER BY n.name, n.number DESC"
    );
    stream(tx, &without, |found: Named| {
        let (row, subject, number) = (found.row(), found.subject_id, found.number);
        breaks.push(format!("{row}: the digest that event {number} of {subject} vouches for was removed"));
        Ok(())
    })
    .await?;
    // The row was put back to an earlier state with the digest of that time.
    let left_behind = format!(
        "{named} SELECT n.name, n.subject_id, n.number FROM named n
         JOIN row_digest d ON d.table_name || '/' || d.row_key = n.name AND d.event_id::text = n.follows
         ORDER BY n.name, n.number"
    );
    stream(tx, &left_behind, |found: Named| {
        let (row, subject, number) = (found.row(), found.subject_id, found.number);
        breaks.push(format!("{row}: the row was put back to what it was before event {number} of {subject}"));
        Ok(())
    })
    .await?;
    // Such a row was changed again later, by the service: two events follow the same one, or none.
    let forked = format!(
        "{named} SELECT name, (array_agg(subject_id ORDER BY number DESC))[1] AS subject_id, max(number) AS number
         FROM named GROUP BY name, follows HAVING count(*) > 1 ORDER BY name"
    );
    stream(tx, &forked, |found: Named| {
        let (row, subject, number) = (found.row(), found.subject_id, found.number);
        breaks.push(format!(
            "{row}: event {number} of {subject} is not the only one that vouches for the row next, so the row was once \
             put back"
        ));
        Ok(())
    })
    .await?;
    let dangling = format!(
        "{named} SELECT n.name, n.subject_id, n.number FROM named n
         WHERE n.follows IS NOT NULL AND NOT EXISTS (
             SELECT FROM named before WHERE before.name = n.name AND before.id::text = n.follows)
         ORDER BY n.name, n.number"
    );
    stream(tx, &dangling, |found: Named| {
        let (row, subject, number) = (found.row(), found.subject_id, found.number);
        breaks.push(format!(
            "{row}: event {number} of {subject} follows an event that does not vouch for the row"
        ));
        Ok(())
    })
    .await
}
