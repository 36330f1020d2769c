//! What changed in a caution set since its reader acknowledged one of the same revision, so that only that is asked again.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::acknowledgement;
use store::{Credentials, Error, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{AcknowledgementId, HolderId, RevisionId};
use wire::people::Scope;
use wire::safety::{CautionChanges, CautionLevel, CautionSet, ChangedCaution};

use crate::facts::visible;
use crate::{cautions, sets};

/// The set that a holder acknowledged last of this revision, if its time still runs and another set is current. What ended
/// for another reason than a change, such as a membership, is read as a whole.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn earlier(
    tx: &mut Tx<'_>,
    holder: HolderId,
    id: RevisionId,
    current: &str,
) -> Result<Option<(AcknowledgementId, CautionSet)>> {
    let last: Option<(Uuid, i32)> = acknowledgement::table
        .filter(acknowledgement::holder_id.eq(holder.0))
        .filter(acknowledgement::revision_id.eq(id.0))
        .filter(acknowledgement::valid_until.gt(tx.now()))
        .order(acknowledgement::id.desc())
        .select((acknowledgement::id, acknowledgement::set_number))
        .first(tx.conn())
        .await
        .optional()?;
    let Some((given, number)) = last else { return Ok(None) };
    let set = sets::numbered(tx, id, number).await?;
    Ok((set.digest != current).then_some((AcknowledgementId(given), set)))
}

/// The contraindications of a set that were acknowledged individually with an earlier one and stand unchanged.
pub(crate) fn acknowledged_before(set: &CautionSet, earlier: Option<&CautionSet>) -> Vec<String> {
    let Some(earlier) = earlier else { return Vec::new() };
    let alone = set.cautions.iter().filter(|caution| caution.level >= CautionLevel::Contraindication);
    alone.filter(|caution| earlier.covers(caution)).map(|caution| caution.key.clone()).collect()
}

/// What changed in the current caution set of a revision since the caller acknowledged one of it.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the revision, and [`Error::Forbidden`] if an API client lacks the
/// scope.
pub async fn changes(store: &Store, credentials: &Credentials, id: RevisionId) -> Result<CautionChanges> {
    store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let facts = visible(tx, id).await?;
            if facts.digest.is_none() {
                return Err(Error::State {
                    state: facts.state.to_string(),
                    detail: "A draft has no caution set to acknowledge. Propose it first.".into(),
                });
            }
            let set = cautions::of(tx, &facts).await?;
            let holder = tx.actor()?.holder();
            Ok(compared(earlier(tx, holder, id, &set.digest).await?, set))
        })
        .await
}

fn compared(earlier: Option<(AcknowledgementId, CautionSet)>, set: CautionSet) -> CautionChanges {
    let (since, before) = earlier.unzip();
    let (mut new, mut changed, mut unchanged) = (Vec::new(), Vec::new(), 0);
    for now in set.cautions {
        let known = before.as_ref().and_then(|set| set.cautions.iter().find(|known| known.key == now.key));
        match known {
            Some(known) if now.was_read_as(known) => unchanged += 1,
            Some(known) => changed.push(ChangedCaution { before: known.clone(), now }),
            None => new.push(now),
        }
    }
    let sentence =
        format!("{} new, {} stronger or reworded, {unchanged} unchanged.", new.len(), changed.len());
    CautionChanges { caution_set: set.digest, since, sentence, new, changed, unchanged }
}
