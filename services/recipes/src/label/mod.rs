//! What stands on a label: open to whoever may know of a revision, and to whoever may read a batch record.
//!
//! For: the facts of a label as structured data, each with where it comes from, worked out from the composition as
//! planned or as made. What never happens here: a share, an amount or a word of the method getting out. Of the
//! composition a label tells the names and their order, and what the law has it declare.

mod contents;
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
use release::{Exit, ForRules, Record};
use store::{Claim, Error, Result, Store, Tx};
use wire::formulary::RevisionState;
use wire::ids::RevisionId;
use wire::label::{BatchLabelQuery, Label, LabelComposition, LabelOrigin, LabelQuery};
use wire::people::Scope;

use crate::as_made;
use crate::cache::RecipeCache;
use room::Net;
use sheet::Sheet;

pub use sheet::LabelledBatch;

/// The label of a revision as it is planned.
///
/// # Errors
/// When there is no such revision for the caller, it is a draft or may not be made any more, or a field of the query
/// cannot be read.
pub async fn label(
    store: &Store,
    cache: &RecipeCache,
    claim: &Claim,
    id: RevisionId,
    query: &LabelQuery,
) -> Result<Label> {
    store
        .read(claim, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let facts = formulary::visible(tx, id, false).await?;
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
                with_facts(tx, facts.formula, written, frozen.assembled.nested.clone(), FactsAsOf::Now)
                    .await?;
            let observed = Observed::by_method(&written.content.method);
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
                set: sets::current(tx, id).await?,
                batch: None,
                net,
                made_on,
                today: rules.date(tx.now),
                room: area,
            };
            printed::label(tx.reference, sheet)
        })
        .await
}

/// The digest of a revision that has a label: neither a draft nor something that may not be made any more.
fn labelled(facts: &Facts) -> Result<Sha> {
    let why = match facts.state {
        RevisionState::Draft => "a draft has no label until it is proposed",
        RevisionState::Returned | RevisionState::Superseded | RevisionState::Withdrawn => {
            "this revision may not be made any more; a jar that was made by it has the label of its batch"
        }
        RevisionState::Proposed | RevisionState::Approved => {
            return facts.digest.ok_or_else(|| Error::internal("a frozen revision without digest"));
        }
    };
    Err(Error::state(facts.state, why))
}

/// The label of a batch: of what was weighed once every line was, of what was planned until then.
/// `record` proves that the caller may read its record.
///
/// # Errors
/// When a field of the query cannot be read.
pub async fn label_of_batch(
    tx: &mut Tx<'_>,
    cache: &RecipeCache,
    record: &Record<'_>,
    batch: &LabelledBatch<'_>,
    query: &BatchLabelQuery,
) -> Result<Label> {
    let facts = formulary::facts(tx, record.revision(), false).await?;
    let rules = policy::rules(tx).await?;
    let net = room::net(query.net.as_deref(), rules.customary);
    // The day of making is the batch's own.
    let (area, net, _) = room::all(room::area(query.area.as_deref()), net, room::day(None))?;
    let filled = || batch.asked.asked.fill.as_ref();
    let net = net.or_else(|| filled().map(|fill| Net { text: fill.clone(), from: LabelOrigin::Batch }));
    let frozen = cache.frozen(tx, &facts, record.digest()).await?.open(record)?;
    let frozen = frozen.content();
    let made = as_made::worked_out(frozen, batch.asked, batch.entries, batch.rules)?;
    let written = &frozen.written;
    let whole =
        with_facts(tx, facts.formula, written, frozen.assembled.nested.clone(), FactsAsOf::Now).await?;
    let (evaluation, of, why_planned) = match &made {
        Some(made) if made.missing.is_empty() => (&made.evaluation, LabelComposition::Made, None),
        found => (&frozen.assembled.evaluation, LabelComposition::Planned, Some(why_planned(found.as_ref()))),
    };
    // Of a batch that is half weighed a pH says nothing of what it will be: until then it is what was planned.
    let observed = match of {
        LabelComposition::Made => as_made::observed(batch.asked, batch.entries),
        LabelComposition::Planned => Observed::by_method(&written.content.method),
    };
    let judged = judge(tx.reference, written, &whole, evaluation, &observed)?;
    let mut set = sets::current(tx, facts.id).await?;
    if of == LabelComposition::Made {
        // What the calculations raise is raised by what was made: it may be past a limit that was planned to be kept, or
        // preserved where nobody had measured yet.
        let made = cautions(tx.reference, written, &whole, &judged, &clinic_cautions::read(tx).await?);
        set.cautions.retain(|caution| !warnings::is_calculated(caution));
        let made = made.into_iter().map(|counted| counted.caution);
        set.cautions.extend(made.filter(warnings::is_calculated));
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
        set,
        batch: Some(batch),
        net,
        made_on: Some(batch.made_on),
        today: rules.date(tx.now),
        room: area,
    };
    printed::label(tx.reference, sheet)
}

/// Why a batch's label tells of what was planned.
fn why_planned(made: Option<&galenics::as_made::AsMade>) -> String {
    match made {
        None => "What was weighed cannot be worked out yet.".into(),
        Some(made) => {
            let lines: Vec<String> =
                made.missing.iter().map(|(phase, line)| format!("{}.{}", phase + 1, line + 1)).collect();
            format!("Nothing was weighed yet of {}.", lines.join(", "))
        }
    }
}
