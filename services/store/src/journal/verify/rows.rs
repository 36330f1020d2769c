//! The rows that events vouch for, and the digests whose rows are gone.

use diesel::sql_types::Text;

use super::Verdict;
use crate::error::Result;
use crate::journal::breaks::Breaks;
use crate::journal::kept::Kept;
use crate::journal::stream::stream;
use crate::journal::vouched::Vouched;
use crate::tx::Tx;

/// Reads every row, table by table in the order of keys, and recomputes its digest.
pub(super) async fn verify(tx: &mut Tx<'_>, kept: &[&'static Kept], verdict: &mut Verdict) -> Result<()> {
    for of in kept {
        let mut count = 0;
        stream(tx, &of.every_row(), |row: Vouched| {
            count += 1;
            check(of, row, &mut verdict.breaks);
            Ok(())
        })
        .await?;
        verdict.rows.insert(of.table, count);
        stream(tx, &of.gone_rows(), |row: Vouched| {
            verdict.removed += 1;
            check(of, row, &mut verdict.breaks);
            Ok(())
        })
        .await?;
    }
    unknown(tx, kept, &mut verdict.breaks).await
}

fn check(of: &Kept, row: Vouched, breaks: &mut Breaks) {
    if let Some(reason) = row.fault() {
        breaks.push(row.into_fault(of.table, reason));
    }
}

#[derive(diesel::QueryableByName)]
struct Digest {
    #[diesel(sql_type = Text)]
    table_name: String,
    #[diesel(sql_type = Text)]
    row_key: String,
}

/// Digests of tables that no crate declares.
async fn unknown(tx: &mut Tx<'_>, kept: &[&'static Kept], breaks: &mut Breaks) -> Result<()> {
    let known: Vec<String> = kept.iter().map(|of| format!("'{}'", of.table)).collect();
    let statement = format!(
        "SELECT table_name, row_key FROM row_digest WHERE table_name <> ALL (ARRAY[{}]::text[])
         ORDER BY table_name, row_key",
        known.join(", ")
    );
    stream(tx, &statement, |Digest { table_name, row_key }| {
        breaks.push(format!(
            "{table_name} {row_key}: a digest is kept for a table that the journal does not know"
        ));
        Ok(())
    })
    .await
}
