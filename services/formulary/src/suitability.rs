//! For whom a revision is suitable, by what its cautions record.

use judgement::audience::{Asked, suitability as judged};
use materia::Audience;
use store::{Claim, Result, Store};
use wire::ids::RevisionId;
use wire::people::Scope;
use wire::safety::{AudienceAnswer, Caution};

use crate::cautions;
use crate::facts::visible;

/// What the recorded cautions of a revision come to for one audience.
///
/// # Errors
/// When there is no such revision for the caller, or the audience is not one.
pub async fn suitability(
    store: &Store,
    claim: &Claim,
    id: RevisionId,
    audience: &str,
) -> Result<AudienceAnswer> {
    store
        .read(claim, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let facts = visible(tx, id, false).await?;
            let asked = Asked::parse(tx.reference, audience.trim(), "?audience")?;
            let set = cautions::of(tx, &facts).await?;
            // What is meant for everyone and for whoever asks in particular counts for whoever asks.
            let (meant_for_it, others): (Vec<Caution>, Vec<Caution>) =
                set.cautions.into_iter().partition(|caution| asked.is_meant(caution));
            let everyone = Audience::Everyone.to_string();
            let meant_for_everyone =
                others.into_iter().filter(|caution| caution.audiences.contains(&everyone)).collect();
            let (suitability, sentence) = judged(meant_for_it.iter().map(|caution| caution.level).max());
            Ok(AudienceAnswer {
                audience: audience.trim().to_owned(),
                suitability,
                sentence: sentence.to_owned(),
                meant_for_it,
                meant_for_everyone,
                notice: set.notice,
            })
        })
        .await
}
