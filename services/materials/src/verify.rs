//! Check that the facts of each version match the digest stored beside them.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::material_version;
use store::Tx;
use store::journal::{Breaks, Check, Checking};
use uuid::Uuid;

use crate::facts::digest_of;

/// Recomputes the digest of the facts of every version. They have always used form 1.
pub static FACTS: Check = Check { name: "digests of facts", run: facts };

/// How many versions are read in one statement.
const STRIDE: i64 = 100;

fn facts<'a>(tx: &'a mut Tx<'_>, breaks: &'a mut Breaks) -> Checking<'a> {
    Box::pin(async move {
        let (mut verified, mut after) = (0, (Uuid::nil(), 0));
        loop {
            let rows: Vec<(Uuid, i32, serde_json::Value, Vec<u8>)> =
                material_version::table
                    .filter(material_version::material_id.gt(after.0).or(
                        material_version::material_id.eq(after.0).and(material_version::version.gt(after.1)),
                    ))
                    .order((material_version::material_id, material_version::version))
                    .limit(STRIDE)
                    .select((
                        material_version::material_id,
                        material_version::version,
                        material_version::facts,
                        material_version::digest,
                    ))
                    .load(tx.conn())
                    .await?;
            let Some((id, version, ..)) = rows.last() else { return Ok(verified) };
            after = (*id, *version);
            for (id, version, facts, digest) in rows {
                verified += 1;
                if digest_of(&facts)[..] != digest[..] {
                    breaks.push(format!(
                        "material {id}, version {version}: its facts do not match their digest"
                    ));
                }
            }
        }
    })
}
