//! Suitability of a revision for a group of people, by its recorded cautions.

use judgement::audience::{self, Asked};
use materia::Audience;
use store::{Credentials, Result, Store};
use wire::ids::RevisionId;
use wire::people::Scope;
use wire::safety::{AudienceAnswer, Caution};

use crate::cautions;
use crate::facts::visible;

/// The suitability of a revision for one audience, with the cautions it follows from.
///
/// # Errors
/// Returns [`store::Error::NotFound`] if the caller may not see the revision, and [`store::Error::Invalid`] if
/// `asked_for` is none.
pub async fn suitability(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
    asked_for: &str,
) -> Result<AudienceAnswer> {
    store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let facts = visible(tx, id).await?;
            let asked = Asked::parse(tx.reference, asked_for.trim(), "?audience")?;
            let set = cautions::of(tx, &facts).await?;
            let audience::Answered { answer, missing } = audience::answer(&asked, &set);
            let not_raised =
                set.not_raised.into_iter().filter(|one| asked.is_among(&one.audiences)).collect();
            // A caution for both everyone and this audience is listed under this audience.
            let (meant_for_it, others): (Vec<Caution>, Vec<Caution>) =
                set.cautions.into_iter().partition(|caution| asked.is_meant(caution));
            let everyone = Audience::Everyone.to_string();
            let meant_for_everyone =
                others.into_iter().filter(|caution| caution.audiences.contains(&everyone)).collect();
            Ok(AudienceAnswer {
                audience: asked_for.trim().to_owned(),
                answer,
                suitability: audience::by_level(meant_for_it.iter().map(|caution| caution.level).max()),
                sentence: audience::sentence(answer).to_owned(),
                missing,
                looked_at: set.looked_at.map(|looked_at| looked_at.judged).unwrap_or_default(),
                not_raised,
                meant_for_it,
                meant_for_everyone,
                notice: set.notice,
            })
        })
        .await
}
