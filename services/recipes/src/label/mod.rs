//! Labels: structured facts, each with its origin, of a composition as planned or as made.
//!
//! Anybody who may see a revision, or who may read a batch record, may read its label. A label reveals the names of the
//! ingredients, their order and what the law requires. Never here: a share, an amount or a word of the method in a
//! label.

mod contents;
mod fit;
mod layout;
mod made;
mod parts;
mod printed;
mod room;
mod sheet;
mod warnings;

use canonical::Sha;
use formulary::assemble::{FactsAsOf, with_facts};
use formulary::gate::WITHHELD;
use formulary::withholding::withheld_since;
use formulary::{Facts, clinic_cautions, sets};
use judgement::cautions::cautions;
use judgement::dating::switched_off;
use judgement::{Observed, judge};
use materia::Materia;
use release::{Exit, ForRules, Record};
use store::{Credentials, Error, Result, Store, Tx};
use wire::formulary::RevisionState;
use wire::ids::RevisionId;
use wire::label::{BatchLabelQuery, Label, LabelComposition, LabelOrigin, LabelQuery, LabelWarnings};
use wire::people::Scope;
use wire::safety::Caution;

use crate::as_made;
use crate::by_loss::holds;
use crate::cache::RecipeCache;
use crate::stored::Turn;
use made::WhyPlanned;
use room::Net;
use sheet::Sheet;

pub use fit::ForRelease;
pub use sheet::LabelledBatch;

/// The label of a revision as planned.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the revision, [`Error::State`] if it is a draft, withheld or
/// may no longer be made, and [`Error::Invalid`] for fields of the query that cannot be read.
pub async fn label(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: RevisionId,
    query: &LabelQuery,
) -> Result<Label> {
    store.read(credentials, async |tx| label_in(tx, cache, id, query).await).await
}

/// As [`label()`], within a transaction of the caller.
///
/// # Errors
/// As [`label()`].
pub async fn label_in(
    tx: &mut Tx<'_>,
    cache: &RecipeCache,
    id: RevisionId,
    query: &LabelQuery,
) -> Result<Label> {
    tx.require_scope(Scope::FormulasRead)?;
    let facts = formulary::visible(tx, id).await?;
    let digest = labelled(&facts)?;
    if withheld_since(tx, id).await?.is_some() {
        return Err(Error::state("withheld", WITHHELD));
    }
    let rules = policy::rules(tx).await?;
    let area = room::area(query.area.as_deref());
    let net = room::net(query.net.as_deref(), rules.customary);
    let day = room::day(query.made_on);
    let (area, net, made_on) = room::all(area, net, day)?;
    let frozen = cache.frozen(tx, &facts, &digest).await?.exit(Exit::Label);
    let (written, evaluation) = (&frozen.written, &frozen.assembled.evaluation);
    let whole =
        with_facts(tx, facts.formula, written, frozen.assembled.nested.clone(), FactsAsOf::Now).await?;
    let observed = Observed::as_written(&written.content);
    let judged = judge(tx.reference, written, &whole, evaluation, &observed)?;
    let sheet = Sheet {
        facts: &facts,
        rules: &rules,
        withheld: false,
        written,
        whole: &whole,
        evaluation,
        judged: &judged,
        observed: &observed,
        lots: Vec::new(),
        switched_off: switched_off(&rules.dating_sets_off),
        of: LabelComposition::Planned,
        why_planned: None,
        unchecked: false,
        set: sets::current(tx, id).await?,
        batch: None,
        net,
        made_on,
        today: rules.date(tx.now()),
        room: area,
    };
    printed::label(tx.reference, sheet)
}

/// The digest of a revision that has a label of its own: one that is proposed or approved.
fn labelled(facts: &Facts) -> Result<Sha> {
    let why = match facts.state {
        RevisionState::Draft => "A draft has no label. Propose the draft first.",
        RevisionState::Returned | RevisionState::Superseded | RevisionState::Withdrawn => {
            "This revision may no longer be made. For an existing jar, print the label of its batch."
        }
        RevisionState::Proposed | RevisionState::Approved => {
            return facts.digest.ok_or_else(|| Error::internal("a frozen revision without digest"));
        }
    };
    Err(Error::state(facts.state, why))
}

/// The label of a batch: as made once it is submitted with every line weighed, as planned before that. `record` proves
/// that the caller may read the record of the batch.
///
/// The label as made is for readers who hold a grant for every nested revision: its order, allergens, cautions and date
/// follow from typed weighings and readings, and would tell nested amounts. Others get the label as planned, which says
/// so.
///
/// # Errors
/// Returns [`Error::Invalid`] for fields of the query that cannot be read.
pub async fn label_of_batch<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    batch: &LabelledBatch<'_>,
    query: &BatchLabelQuery,
) -> Result<Label> {
    Ok(for_release(tx, cache, record, batch, query).await?.label)
}

/// As [`label_of_batch`], with the cautions that stand on it and what keeps the batch from being released by what was
/// weighed. Whoever releases reads every level: for others the composition is not known.
///
/// # Errors
/// As [`label_of_batch`].
pub async fn for_release<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    batch: &LabelledBatch<'_>,
    query: &BatchLabelQuery,
) -> Result<ForRelease> {
    let facts = formulary::facts(tx, record.revision()).await?;
    let rules = policy::rules(tx).await?;
    let net = room::net(query.net.as_deref(), rules.customary);
    // The day of making is the batch's own.
    let (area, net, _) = room::all(room::area(query.area.as_deref()), net, room::day(None))?;
    let filled = || batch.asked.asked.fill.as_ref();
    let net = net.or_else(|| filled().map(|fill| Net { text: fill.clone(), from: LabelOrigin::Batch }));
    let frozen = cache.frozen(tx, &facts, record.digest()).await?.open(record)?;
    let frozen = frozen.content();
    let written = &frozen.written;
    let whole =
        with_facts(tx, facts.formula, written, frozen.assembled.nested.clone(), FactsAsOf::Now).await?;
    let found = made::composition(tx, record, frozen, batch).await?;
    let (evaluation, of, why_planned) = match &found {
        Ok(made) => (&made.evaluation, LabelComposition::Made, None),
        Err(why) => (&frozen.assembled.evaluation, LabelComposition::Planned, Some(why.to_string())),
    };
    // Measurements of an unfinished batch do not describe its product, so the values of the method apply.
    let observed = match of {
        LabelComposition::Made => as_made::observed(&written.content, batch.entries),
        LabelComposition::Planned => Observed::as_written(&written.content),
    };
    let judged = judge(tx.reference, written, &whole, evaluation, &observed)?;
    let mut set = sets::current(tx, facts.id).await?;
    if of == LabelComposition::Made {
        // Calculated cautions must fit the batch as made: it can exceed a limit that the plan kept, or be preserved
        // although the plan was not. A threshold that it passes raises its caution; none is silenced by what was weighed.
        let own = clinic_cautions::read(tx).await?;
        let as_made = whole.evaluated_as(evaluation.clone());
        let made = cautions(tx.reference, written, &as_made, &judged, &own)?.cautions;
        set.cautions.retain(|caution| !warnings::is_calculated(caution));
        let made = made.into_iter().map(|counted| counted.caution);
        let new = |caution: &Caution| warnings::is_calculated(caution) || !holds(&set.cautions, caution);
        let new: Vec<Caution> = made.filter(new).collect();
        set.cautions.extend(new);
    } else {
        // What the planned evaporation raises is said before it is known how much really left.
        let by_loss: Vec<Caution> = batch.asked.by_loss.clone().turn();
        let new: Vec<Caution> = by_loss.into_iter().filter(|new| !holds(&set.cautions, new)).collect();
        set.cautions.extend(new);
    }
    let sheet = Sheet {
        facts: &facts,
        rules: &rules,
        withheld: withheld_since(tx, facts.id).await?.is_some(),
        written,
        whole: &whole,
        evaluation,
        judged: &judged,
        observed: &observed,
        lots: as_made::lots(batch.asked, batch.entries),
        switched_off: switched_off(&batch.rules.dating_sets_off),
        of,
        why_planned,
        unchecked: matches!(found, Err(WhyPlanned::NestedClosed)),
        set,
        batch: Some(batch),
        net,
        made_on: Some(batch.made_on),
        today: rules.date(tx.now()),
        room: area,
    };
    let (cautions, mut barred) = (fit::for_the_jar(&sheet.set.cautions), fit::barred(&sheet));
    let today = sheet.today;
    let label = printed::label(tx.reference, sheet)?;
    barred.extend(fit::by_date(&label, today));
    Ok(ForRelease { label, cautions, barred })
}

/// Warnings, patch test and longest use, as a label of a caution set says them.
pub struct Said {
    /// For whom it is not, or not without asking.
    pub warnings: Vec<LabelWarnings>,
    /// Trying it on a small spot first.
    pub patch_test: Option<String>,
    /// For how long at most.
    pub longest_use: Vec<String>,
}

/// What a label says of cautions that stand on it, together with those of the current set of its revision that were added
/// since. What the calculations raise follows the batch, so that of the set is left out.
#[must_use]
pub fn said(reference: &Materia, stood: &[Caution], now: &[Caution]) -> Said {
    let new = now.iter().filter(|one| !warnings::is_calculated(one) && !holds(stood, one));
    let all: Vec<Caution> = stood.iter().chain(new).cloned().collect();
    let sorted = warnings::sorted(reference, &all);
    Said {
        warnings: sorted.warnings,
        patch_test: sorted.patch_test.map(|fact| fact.text),
        longest_use: sorted.longest_use.into_iter().map(|fact| fact.text).collect(),
    }
}
