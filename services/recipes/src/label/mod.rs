//! What stands on a label: open to whoever may know of a revision, and to whoever may read a batch record.
//!
//! For: the facts of a label as structured data, each with where it comes from, worked out from the composition as
//! planned or as made. What never happens here: a share, an amount or a word of the method getting out. Of the
//! composition a label tells the names and their order, and what the law has it declare.

mod contents;
mod printed;
mod room;
mod warnings;

use chrono::NaiveDate;
use galenics::use_by::DatedPart;
use galenics::{Evaluation, Text};
use store::{Claim, Error, Result, Store, Tx};
use wire::bench::{Disposition, Entry};
use wire::formulary::RevisionState;
use wire::ids::{BatchId, RevisionId};
use wire::label::{BatchLabelQuery, Label, LabelComposition, LabelOrigin, LabelQuery};
use wire::people::Scope;
use wire::recipe::Recipe;
use wire::safety::CautionSet;

use super::assemble::{Assembled, FactsAsOf, with_facts};
use super::judged::{self, Judged, Observed};
use super::own::own;
use super::{as_made, cautions, recipe, renew, set};
use canonical::Sha;
use formulary::{self, Facts, Written};
use policy::{self, Rules};

/// A batch whose label is asked for.
pub(crate) struct LabelledBatch<'a> {
    pub(crate) id: BatchId,
    pub(crate) number: &'a str,
    pub(crate) disposition: Disposition,
    /// The digest of the revision it was opened with.
    pub(crate) digest: Sha,
    /// The day of making.
    pub(crate) made_on: NaiveDate,
    /// What it asked for.
    pub(crate) asked: &'a Recipe,
    /// What was written into its record.
    pub(crate) entries: &'a [Entry],
    /// The rules it was made under.
    pub(crate) rules: &'a Rules,
}

/// How much is in the container, and who says so.
struct Net {
    text: String,
    from: LabelOrigin,
}

/// Everything that a label is put together from.
struct Sheet<'a> {
    facts: &'a Facts,
    /// Whether a stop that it gained holds it back.
    withheld: bool,
    /// The rules in force: a label printed today bears the clinic's name and notice of today.
    rules: &'a Rules,
    written: &'a Written,
    /// With the facts of its materials as they are known now: it is a jar of today that bears their names and warnings.
    whole: &'a Assembled,
    /// Of what was planned, as it was approved and is weighed, or of what was made.
    evaluation: &'a Evaluation,
    judged: &'a Judged,
    /// What was measured of it, or what its method asks for.
    observed: &'a Observed,
    /// The lots it was made from, with their own dates.
    lots: Vec<DatedPart>,
    /// The dating rules that the clinic has switched off.
    switched_off: Vec<(Text, Text)>,
    of: LabelComposition,
    why_planned: Option<String>,
    set: CautionSet,
    batch: Option<&'a LabelledBatch<'a>>,
    net: Option<Net>,
    made_on: Option<NaiveDate>,
    /// The clinic's today: how a preparation is kept can be said before anybody knows when it will be made.
    today: NaiveDate,
    room: Option<room::Area>,
}

/// The label of a revision as it is planned.
///
/// # Errors
/// When there is no such revision for the caller, it is a draft or may not be made any more, or a field of the query
/// cannot be read.
pub async fn label(store: &Store, claim: &Claim, id: RevisionId, query: &LabelQuery) -> Result<Label> {
    store
        .read(claim, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let facts = formulary::visible(tx, id, false).await?;
            let digest = labelled(&facts)?;
            if renew::withheld_since(tx, id).await?.is_some() {
                return Err(Error::state("withheld", WITHHELD));
            }
            let rules = policy::rules(tx).await?;
            let area = room::area(query.area.as_deref());
            let net = room::net(query.net.as_deref(), rules.customary);
            let day = room::day(query.made_on);
            let (area, net, made_on) = room::all(area, net, day)?;
            let frozen = recipe::frozen_by_digest(tx, &facts, digest).await?;
            let (written, evaluation) = (&frozen.written, &frozen.assembled.evaluation);
            let whole = with_facts(tx, facts.formula, written, FactsAsOf::Now).await?;
            let observed = Observed::by_method(&written.content.method);
            let judged = judged::judge(tx.reference, written, &whole, evaluation, &observed)?;
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
                switched_off: judged::switched_off(&rules),
                of: LabelComposition::Planned,
                why_planned: None,
                set: set::current(tx, id).await?,
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

const WITHHELD: &str =
    "this revision is withheld: it has gained a stop, and an instructor decides what follows";

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
/// `_shown` says that the caller may read its record.
///
/// # Errors
/// When a field of the query cannot be read.
pub(crate) async fn label_of_batch(
    tx: &mut Tx<'_>,
    batch: &LabelledBatch<'_>,
    query: &BatchLabelQuery,
    _shown: &crate::bench::MayRead,
) -> Result<Label> {
    let facts = formulary::facts(tx, batch.asked.revision, false).await?;
    let rules = policy::rules(tx).await?;
    let net = room::net(query.net.as_deref(), rules.customary);
    // The day of making is the batch's own.
    let (area, net, _) = room::all(room::area(query.area.as_deref()), net, room::day(None))?;
    let filled = || batch.asked.asked.fill.as_ref();
    let net = net.or_else(|| filled().map(|fill| Net { text: fill.clone(), from: LabelOrigin::Batch }));
    let frozen = recipe::frozen_by_digest(tx, &facts, batch.digest).await?;
    let made = as_made::worked_out(&frozen, batch.asked, batch.entries, batch.rules)?;
    let written = &frozen.written;
    let whole = with_facts(tx, facts.formula, written, FactsAsOf::Now).await?;
    let (evaluation, of, why_planned) = match &made {
        Some(made) if made.missing.is_empty() => (&made.evaluation, LabelComposition::Made, None),
        found => (&frozen.assembled.evaluation, LabelComposition::Planned, Some(why_planned(found.as_ref()))),
    };
    // Of a batch that is half weighed a pH says nothing of what it will be: until then it is what was planned.
    let observed = match of {
        LabelComposition::Made => as_made::observed(batch.asked, batch.entries),
        LabelComposition::Planned => Observed::by_method(&written.content.method),
    };
    let judged = judged::judge(tx.reference, written, &whole, evaluation, &observed)?;
    let mut set = set::current(tx, facts.id).await?;
    if of == LabelComposition::Made {
        // What the calculations raise is raised by what was made: it may be past a limit that was planned to be kept, or
        // preserved where nobody had measured yet.
        let made = cautions::cautions(tx.reference, written, &whole, &judged, &own(tx).await?);
        set.cautions.retain(|caution| !warnings::is_calculated(caution));
        let made = made.into_iter().map(|counted| counted.caution);
        set.cautions.extend(made.filter(warnings::is_calculated));
    }
    let sheet = Sheet {
        facts: &facts,
        rules: &rules,
        withheld: renew::withheld_since(tx, facts.id).await?.is_some(),
        written,
        whole: &whole,
        evaluation,
        judged: &judged,
        observed: &observed,
        lots: as_made::lots(batch.asked, batch.entries),
        switched_off: judged::switched_off(batch.rules),
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
