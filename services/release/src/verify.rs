//! Verifying what a digest over a row does not say: that frozen content is what its revision's digest names.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::revision;
use store::Tx;
use store::journal::{Breaks, Check, Checking};
use uuid::Uuid;

use crate::content::digest_of;
use crate::gated::revision_content;

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
            for (id, digest) in frozen {
                let content: Option<(String, Option<Vec<u8>>, i16)> = revision_content::table
                    .find(id)
                    .select((revision_content::content, revision_content::salt, revision_content::form))
                    .first(tx.conn())
                    .await
                    .optional()?;
                verified += 1;
                let holds = match (content, digest) {
                    (Some((text, Some(salt), form)), Some(digest)) => {
                        digest_of(&text, &salt, form).is_ok_and(|found| found[..] == digest[..])
                    }
                    _ => false,
                };
                if !holds {
                    breaks.push(format!("revision {id}: its content does not match its digest"));
                }
            }
        }
    })
}
