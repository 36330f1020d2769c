//! Suitability of a revision for a group of people, by its recorded cautions.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::audience::{self, Asked};
use materia::Audience;
use schema::{formula, gate, library_member};
use store::{Credentials, Result, Store};
use uuid::Uuid;
use wire::ids::RevisionId;
use wire::people::Scope;
use wire::safety::{AudienceAnswer, AudienceSuits, Caution, CautionSet};

use crate::cautions;
use crate::facts::visible;
use crate::sets::{self, SetKey};

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

/// How many revisions are answered for at once.
const MOST: i64 = 100;

/// The answers for several groups of people that the current caution sets of several revisions give, in the order of the
/// groups: as [`suitability`] gives them one by one. What the caller may not see is left out. Four statements, however many
/// there are.
///
/// # Errors
/// Returns [`store::Error::Invalid`] at `?audience` for a group that cannot be read, and the errors of verifying the
/// credentials.
pub async fn suiting(
    store: &Store,
    credentials: &Credentials,
    revisions: &[RevisionId],
    groups: &[String],
) -> Result<Vec<(RevisionId, Vec<AudienceSuits>)>> {
    store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let reference = tx.reference;
            let groups = groups.iter().map(|group| Asked::parse(reference, group.trim(), "?audience"));
            let groups = groups.collect::<judgement::Result<Vec<Asked>>>()?;
            let ids: Vec<Uuid> = revisions.iter().map(|id| id.0).collect();
            // Whoever is a member reads the cautions of what was approved.
            let keys: Vec<(Uuid, i32)> = gate::table
                .inner_join(formula::table.on(formula::approved_revision_id.eq(gate::revision_id.nullable())))
                .inner_join(library_member::table.on(library_member::library_id.eq(formula::library_id)))
                .filter(library_member::holder_id.eq(tx.person()?.id.0))
                .filter(gate::revision_id.eq_any(&ids))
                .select((gate::revision_id, gate::set_number))
                .limit(MOST)
                .load(tx.conn())
                .await?;
            let keys: Vec<SetKey> = keys.into_iter().map(|(id, number)| (RevisionId(id), number)).collect();
            let sets = sets::all_numbered(tx, &keys).await?;
            let of_each = |set: &CautionSet| {
                groups.iter().map(|group| audience::answer(group, set).answer).collect::<Vec<_>>()
            };
            Ok(sets.into_iter().map(|((id, _), set)| (id, of_each(&set))).collect())
        })
        .await
}
