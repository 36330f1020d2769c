//! Verifying what a digest over a row does not say: that frozen content is what its revision's digest names.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::revision;
use store::Tx;
use store::journal::{Breaks, Check, Checking};
use uuid::Uuid;

use crate::content::stored;

/// The digests of frozen revisions, each recomputed by its own form from the stored text and its salt.
pub static REVISIONS: Check = Check { name: "digests of revisions", run: revisions };

/// How many revisions are read at a time.
const STRIDE: i64 = 100;

fn revisions<'a>(tx: &'a mut Tx<'_>, breaks: &'a mut Breaks) -> Checking<'a> {
    Box::pin(async move {
        let (mut verified, mut after) = (0, Uuid::nil());
        loop {
            let frozen: Vec<(Uuid, Option<Vec<u8>>)> = revision::table
                .filter(revision::digest.is_not_null())
                .filter(revision::id.gt(after))
                .order(revision::id)
                .limit(STRIDE)
                .select((revision::id, revision::digest))
                .load(tx.conn())
                .await?;
            let Some((last, _)) = frozen.last() else { return Ok(verified) };
            after = *last;
            let ids: Vec<Uuid> = frozen.iter().map(|(id, _)| *id).collect();
            let contents = stored(tx, &ids).await?;
            for (id, digest) in frozen {
                verified += 1;
                let content = contents.iter().find(|content| content.revision_id == id);
                let found = content.and_then(|content| content.digest().ok());
                if found.map(|found| found.to_vec()) != digest {
                    breaks.push(format!("revision {id}: its content does not match its digest"));
                }
            }
        }
    })
}
