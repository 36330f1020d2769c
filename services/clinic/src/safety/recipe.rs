//! Working a frozen revision out for a quantity, and what else is read through a door.

use std::sync::Arc;

use galenics::{Balance, Evaluation, Ingredient, LineFigures, Mass, WorkedLine};
use wire::formulary::RevisionComment;
use wire::ids::{PersonId, RevisionId};
use wire::people::Scope;
use wire::recipe::{self as travelling, Component, MakeFor, PhaseTotal, Recipe, RecipeLine, RecipePhase};
use wire::safety::CautionSet;

use super::frozen::FrozenRevision;
use super::made_for::{self, Asked};
use super::{Door, Released, assemble, gate, set, store};
use crate::error::{Error, Result};
use crate::figures::figure;
use crate::formulary::Ingredient as Written;
use crate::policy;
use crate::tx::{Claim, Clinic, Tx};

/// The frozen revision behind a door, from memory if it has been read before.
pub(super) async fn frozen(tx: &mut Tx<'_>, door: &Door) -> Result<Arc<FrozenRevision>> {
    if let Some(known) = tx.frozen.revision(&door.digest) {
        return Ok(known);
    }
    let written = store::written(tx, door.facts.id).await?;
    let assembled = assemble::assemble(tx, door.facts.formula, &written).await?;
    let frozen = Arc::new(FrozenRevision { written, assembled });
    tx.frozen.keep_revision(door.digest, Arc::clone(&frozen));
    Ok(frozen)
}

/// Works a revision out for whoever's door is open.
pub(super) async fn work_out(
    tx: &mut Tx<'_>,
    door: &Door,
    ask: &MakeFor,
    prefix: &'static str,
) -> Result<Recipe> {
    let frozen = frozen(tx, door).await?;
    let customary = policy::rules(tx).await?.customary;
    let asked = made_for::asked(ask, customary, prefix)?;
    let cautions = set::current(tx, door.facts.id).await?;
    recipe(&frozen, door, cautions, &asked)
}

/// Works a revision out for a batch that is being opened.
pub(crate) async fn work_out_for(tx: &mut Tx<'_>, door: &Door, ask: &MakeFor) -> Result<Released<Recipe>> {
    Ok(Released::new(work_out(tx, door, ask, "/make_for/").await?))
}

fn recipe(frozen: &FrozenRevision, door: &Door, caution_set: CautionSet, asked: &Asked) -> Result<Recipe> {
    let facts = &door.facts;
    let evaluation = &frozen.assembled.evaluation;
    let content = &frozen.written.content;
    let (total, lines, mut figures) = match &asked.target {
        None => own_quantity(frozen, asked)?,
        Some(_) => worked(frozen, asked)?,
    };
    figures.extend(ratios(evaluation));
    let mut lines = lines.into_iter();
    let phases = content
        .phases
        .iter()
        .map(|phase| RecipePhase {
            name: phase.name.clone(),
            lines: lines.by_ref().take(phase.lines.len()).collect(),
        })
        .collect();
    Ok(Recipe {
        revision: facts.id,
        formula: facts.formula,
        number: facts.number.unsigned_abs(),
        state: facts.state,
        digest: hex::encode(door.digest),
        title: facts.title.clone(),
        preparation: facts.preparation.clone(),
        route: facts.route.clone(),
        regime: facts.regime,
        approval_note: facts.approval_note(),
        caution_set,
        made_for: asked.words.clone(),
        total,
        phases,
        method: content.method.clone(),
        label: content.label.clone(),
        figures,
        unknown: evaluation.unknown.iter().map(|missing| format!("unknown: {missing}")).collect(),
    })
}

type Parts = (wire::figure::Figure, Vec<RecipeLine>, Vec<wire::figure::Figure>);

/// The formula in its own quantity: nothing is scaled, so nothing has to be known.
fn own_quantity(frozen: &FrozenRevision, asked: &Asked) -> Result<Parts> {
    let evaluation = &frozen.assembled.evaluation;
    let formula = &frozen.assembled.formula;
    let lines = formula
        .phases
        .iter()
        .zip(&evaluation.phases)
        .enumerate()
        .flat_map(|(p, (phase, of))| {
            phase
                .lines
                .iter()
                .zip(&of.lines)
                .enumerate()
                .map(move |(l, (line, figures))| (p, l, line, figures))
        })
        .map(|(p, l, line, figures)| {
            let mut out = bare(frozen, p, l)?;
            out.weigh = figure("weigh", &figures.mass);
            if let (Some(balance), Some(mass)) = (asked.balance, figures.mass.value()) {
                let rounded =
                    balance.round(mass).ok_or_else(|| Error::internal("a mass that cannot be rounded"))?;
                if rounded.too_small {
                    out.weighing_note = Some(too_small(&balance));
                }
            }
            out.measure = figures.volume.as_ref().map(|volume| figure("measure", volume));
            out.g_per_ml = density(&line.ingredient, &figures.mass, figures.volume.as_ref());
            Ok(out)
        })
        .collect::<Result<Vec<_>>>()?;
    let product = figure("product", &evaluation.product);
    Ok((figure("total", &evaluation.charged), lines, vec![product]))
}

fn worked(frozen: &FrozenRevision, asked: &Asked) -> Result<Parts> {
    let evaluation = &frozen.assembled.evaluation;
    let formula = &frozen.assembled.formula;
    let Some(target) = &asked.target else { return Err(Error::internal("nothing to scale to")) };
    let finest = Mass::grams(FINEST)
        .and_then(|step| Balance::reading(step).map_err(|_| galenics::MeasureError::Negative("readability")));
    let balance = match asked.balance {
        Some(balance) => balance,
        None => finest.map_err(|_| Error::internal("the finest balance"))?,
    };
    let worked = galenics::scale(formula, evaluation, target, &asked.losses, &balance)
        .map_err(|problem| asked.refused(&problem))?;
    let mut lines = Vec::new();
    for (p, phase) in worked.phases.iter().enumerate() {
        for (l, line) in phase.lines.iter().enumerate() {
            let ingredient =
                formula.phases.get(p).and_then(|phase| phase.lines.get(l)).map(|line| &line.ingredient);
            lines.push(scaled(bare(frozen, p, l)?, ingredient, line, &balance));
        }
    }
    let figures = vec![
        figure("net", &worked.net),
        figure("loss", &worked.loss),
        figure("to weigh in all", &worked.gross),
        figure("factor", &worked.factor),
    ];
    Ok((figure("total", &worked.total), lines, figures))
}

/// Without a stated balance nothing is rounded that anybody could weigh.
const FINEST: galenics::Decimal = galenics::Decimal::from_parts(1, 0, 0, false, 6);

fn scaled(
    mut out: RecipeLine,
    ingredient: Option<&Ingredient>,
    line: &WorkedLine,
    balance: &Balance,
) -> RecipeLine {
    out.weigh = figure("weigh", &line.weigh);
    // To the last digit that the balance shows: 75.0, not 75.
    if let Some(mut shown) = line.weigh.value() {
        shown.rescale(balance.readability().g().normalize().scale());
        out.weigh.value = Some(shown.to_string());
    }
    out.rounding = Some(figure("rounding", &line.error));
    out.measure = line.in_written_unit.as_ref().or(line.volume.as_ref()).map(|it| figure("measure", it));
    out.g_per_ml = ingredient.and_then(|it| density(it, &line.exact, line.volume.as_ref()));
    out.weighing_note = if line.too_small {
        Some(too_small(balance))
    } else if line.over_capacity {
        Some("more than the balance takes at once: weigh it in parts".into())
    } else {
        None
    };
    out
}

fn too_small(balance: &Balance) -> String {
    let least = balance.least().map(|least| least.normalize().to_string()).unwrap_or_default();
    format!(
        "below {least} g this balance is off by more than {} %: weigh more and take a part of it, or use a finer balance",
        (balance.tolerance().get() * galenics::Decimal::ONE_HUNDRED).normalize()
    )
}

/// A line with what was written of it and nothing worked out yet.
fn bare(frozen: &FrozenRevision, p: usize, l: usize) -> Result<RecipeLine> {
    let missing = || Error::internal("a line without its ingredient");
    let line =
        frozen.written.content.phases.get(p).and_then(|phase| phase.lines.get(l)).ok_or_else(missing)?;
    let ingredient = frozen.written.ingredients.get(p).and_then(|of| of.get(l)).ok_or_else(missing)?;
    Ok(RecipeLine {
        line: format!("{}.{}", p + 1, l + 1),
        name: ingredient.name().to_owned(),
        nested_revision: match ingredient {
            Written::Revision { id, .. } => Some(*id),
            Written::Material { .. } => None,
        },
        function: line.function.clone(),
        as_written: line.amount.clone(),
        weigh: wire::figure::Figure {
            name: "weigh".into(),
            value: None,
            unit: "g".into(),
            unknown: None,
            rule: String::new(),
            sentence: String::new(),
            source: None,
            inputs: Vec::new(),
        },
        measure: None,
        rounding: None,
        weighing_note: None,
        g_per_ml: None,
    })
}

/// Grams in a millilitre: the material's own density, else from the line's mass and volume.
fn density(
    ingredient: &Ingredient,
    mass: &galenics::Figure,
    volume: Option<&galenics::Figure>,
) -> Option<String> {
    let own = match ingredient {
        Ingredient::Material(material) => material.density.as_ref().map(|density| density.value.g_per_ml()),
        Ingredient::Nested(_) => None,
    };
    own.or_else(|| mass.value()?.checked_div(volume?.value()?).map(|density| density.round_dp(4)))
        .map(|density| density.normalize().to_string())
}

fn ratios(evaluation: &Evaluation) -> Vec<wire::figure::Figure> {
    let mut out = vec![
        figure("oil", &evaluation.oil),
        figure("water", &evaluation.water),
        figure("oil to water", &evaluation.oil_to_water),
        figure("emulsifier to oil", &evaluation.emulsifier_to_oil),
    ];
    if let Some(against) = &evaluation.against_stated_yield {
        out.push(figure("against the stated yield", against));
    }
    for herb in &evaluation.herbs {
        out.push(figure(format!("dried herb per gram: {}", herb.material.name), &herb.per_gram));
    }
    out
}

/// An evaluation as it travels.
pub(super) fn evaluation_of(evaluation: &Evaluation) -> travelling::Evaluation {
    let mut composition: Vec<&galenics::Leaf> = evaluation.composition.iter().collect();
    composition.sort_by_key(|leaf| std::cmp::Reverse(leaf.share.value()));
    travelling::Evaluation {
        total: figure("total", &evaluation.charged),
        phases: evaluation
            .phases
            .iter()
            .map(|phase| PhaseTotal {
                name: phase.name.to_string(),
                mass: figure("mass", &phase.mass),
                share: figure("share", &phase.share),
                lines: phase.lines.iter().enumerate().map(|(l, line)| line_total(l, line)).collect(),
            })
            .collect(),
        composition: composition
            .into_iter()
            .map(|leaf| Component {
                name: leaf.material.name.to_string(),
                share: figure("share", &leaf.share),
            })
            .collect(),
        figures: std::iter::once(figure("product", &evaluation.product))
            .chain([figure("volume", &evaluation.volume), figure("density", &evaluation.density)])
            .chain(ratios(evaluation))
            .collect(),
        unknown: evaluation.unknown.iter().map(|missing| format!("unknown: {missing}")).collect(),
    }
}

fn line_total(l: usize, line: &LineFigures) -> travelling::LineTotal {
    travelling::LineTotal {
        line: l + 1,
        name: line.name.to_string(),
        mass: figure("mass", &line.mass),
        share: figure("share", &line.share),
    }
}

/// How a frozen revision comes out, leaf by leaf. Needs the door of every revision nested in it, since the leaves tell
/// their amounts too.
///
/// # Errors
/// When a door is closed.
pub async fn evaluation(
    clinic: &Clinic,
    claim: &Claim,
    id: RevisionId,
) -> Result<Released<travelling::Evaluation>> {
    clinic
        .read(claim, async |tx| {
            tx.require_scope(Scope::RecipesRead)?;
            let door = gate::open(tx, id).await?;
            let frozen = frozen(tx, &door).await?;
            for nested in frozen.assembled.nested.keys() {
                gate::open(tx, RevisionId(*nested)).await?;
            }
            Ok(Released::new(evaluation_of(&frozen.assembled.evaluation)))
        })
        .await
}

/// The comments given with decisions about a revision.
///
/// # Errors
/// When the door is closed; the author of a revision reads the comments on it.
pub async fn comments(
    clinic: &Clinic,
    claim: &Claim,
    id: RevisionId,
) -> Result<Released<Vec<RevisionComment>>> {
    clinic
        .read(claim, async |tx| {
            let facts = crate::formulary::visible(tx, id, false).await?;
            if tx.person()?.id != facts.author {
                gate::open(tx, id).await?;
            }
            Ok(Released::new(store::comments(tx, id).await?))
        })
        .await
}

/// Keeps a comment given with a decision.
pub(crate) async fn comment(
    tx: &mut Tx<'_>,
    id: RevisionId,
    by: PersonId,
    decision: &str,
    comment: &str,
) -> Result<()> {
    store::comment_insert(tx, id, by, decision, comment).await
}
