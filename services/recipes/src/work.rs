//! Scaling of a frozen revision to a requested quantity.
//!
//! The result stays [`Released`]. Never here: a recipe without a passed gate.

use formulary::FrozenRevision;
use formulary::gate::Passed;
use galenics::explain::{Input, Rule};
use galenics::weighing::{SmallLine, small_lines};
use galenics::{
    Balance, Decimal, Evaluation, Ingredient, Mass, ScaleProblem, Target, Worked, WorkedLine, units,
};
use judgement::dating::{Dated, switched_off, use_by};
use judgement::evaluation::{ratios, served};
use judgement::figures::Detail;
use judgement::kinds::is_liquid;
use judgement::{Ingredient as Written, Observed};
use materia::Materia;
use release::{EveryLevel, grants};
use store::{Error, Result, Tx};
use wire::ids::RevisionId;
use wire::recipe::{MakeFor, Recipe, RecipeLine, RecipePhase};
use wire::safety::CautionsInRecipe;

use crate::application;
use crate::face::Face;
use crate::leaves::{self, Leaves};
use crate::made_for::Asked;

/// A recipe as it is shown, and the exact decimals that are shown rounded in it.
pub(crate) struct WorkedOut {
    /// The recipe.
    pub recipe: Recipe,
    /// What is exact in it.
    pub exact: ExactRecipe,
}

/// The exact decimals of a recipe.
#[derive(Clone, Debug, Default)]
pub(crate) struct ExactRecipe {
    /// The mass to weigh in all, in g.
    pub total: Option<Decimal>,
    /// Grams in a millilitre of what is made, where that tells nothing of nested amounts: measured, or worked out of a
    /// formula that nests nothing.
    pub g_per_ml: Option<Decimal>,
    /// Those of the lines, in their order through all phases.
    pub lines: Vec<ExactLine>,
}

/// The exact decimals of a line.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct ExactLine {
    /// What to weigh, in g, before rounding to the balance.
    pub grams: Option<Decimal>,
    /// Grams in a millilitre.
    pub g_per_ml: Option<Decimal>,
}

/// The caller's grants for every level, where the answer depends on what nested preparations are made of. `None` where it
/// does not, or one of them is closed to the caller.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn levels<'g, 't>(
    tx: &mut Tx<'t>,
    asked: &Asked,
    passed: &'g Passed<'t>,
) -> Result<Option<EveryLevel<'g, 't>>> {
    if asked.reaches_leaves() { Ok(grants::every_level(tx, &passed.grant).await?.ok()) } else { Ok(None) }
}

/// Scales released content to the requested quantity. Cost: in proportion to the lines of the formula, whatever is
/// nested in it, since its evaluation was kept. Without a proof for every level, what tells amounts of nested
/// preparations is left out or refused.
///
/// # Errors
/// As [`work_out`].
pub(crate) fn worked_recipe(
    reference: &Materia,
    frozen: &FrozenRevision,
    face: &Face,
    ask: &MakeFor,
    asked: &Asked,
    levels: Option<&EveryLevel<'_, '_>>,
    detail: Detail,
) -> Result<WorkedOut> {
    if levels.is_none() {
        asked.keep_to_own_lines(&frozen.assembled.formula, &frozen.assembled.evaluation)?;
    }
    let evaporated = application::evaporated(frozen, asked)?;
    let (mut recipe, exact) = recipe(frozen, face, ask, asked, &evaporated, detail)?;
    if let Some(application) = asked.application {
        let digest = face.digest()?;
        let brings =
            Leaves::of(digest, || application::figures(reference, frozen, asked, application, detail));
        match levels {
            Some(levels) => recipe.figures.extend(brings.open(levels)?()?),
            None => recipe.figures.push(leaves::closed_application()),
        }
    }
    if let Some(made_on) = ask.made_on {
        let of = Dated {
            made_on,
            evaluation: &evaporated,
            observed: &Observed::as_written(&frozen.written.content),
            lots: Vec::new(),
            switched_off: &switched_off(&face.rules.dating_sets_off),
        };
        let mut dated = use_by(reference, &frozen.written, &frozen.assembled, of, detail)?;
        if !frozen.assembled.nested.is_empty() {
            leaves::close_use_by(&mut dated);
        }
        recipe.use_by = Some(dated);
    }
    Ok(WorkedOut { recipe, exact })
}

fn recipe(
    frozen: &FrozenRevision,
    face: &Face,
    ask: &MakeFor,
    asked: &Asked,
    evaporated: &Evaluation,
    detail: Detail,
) -> Result<(Recipe, ExactRecipe)> {
    let facts = &face.facts;
    let digest = face.digest()?;
    let evaluation = &frozen.assembled.evaluation;
    let content = &frozen.written.content;
    let Parts { total, lines, mut figures, mut exact } = match &asked.target {
        None if asked.balance.is_none() => own_quantity(frozen, detail)?,
        Some(_) | None => worked(frozen, asked, detail)?,
    };
    // Ratios of the whole reveal amounts of nested revisions. Of a formula that nests some, only the evaluation shows
    // them, because it requires a grant for each. So one recipe serves every reader.
    if frozen.assembled.nested.is_empty() {
        figures.extend(ratios(evaporated, detail));
        figures.extend(served(&frozen.written, &asked.measured(evaporated), detail));
    }
    if frozen.assembled.nested.is_empty() || asked.density.is_some() {
        let measured = asked.measured(evaporated);
        exact.g_per_ml = measured.density.value();
        if is_liquid(evaluation.preparation) {
            figures.push(detail.figure("density", &measured.density));
        }
    }
    let mut lines = lines.into_iter();
    let phases = content
        .phases
        .iter()
        .map(|phase| RecipePhase {
            name: phase.name.clone(),
            lines: lines.by_ref().take(phase.lines.len()).collect(),
        })
        .collect();
    let recipe = Recipe {
        revision: facts.id,
        formula: facts.formula,
        number: facts.number.unsigned_abs(),
        state: facts.state,
        digest: hex::encode(digest),
        title: facts.title.clone(),
        preparation: facts.preparation.clone(),
        route: facts.route.clone(),
        regime: facts.regime,
        site: content.site.clone(),
        youngest: content.youngest.clone(),
        target_ph: content.target_ph.clone(),
        serving: content.serving.clone().map(Into::into),
        yield_: content.yield_.clone(),
        used_daily: content.used_daily.clone(),
        stability: content.stability.clone().map(Into::into),
        water_activity: content.water_activity.clone().map(Into::into),
        approval_note: facts.approval_note(),
        caution_set: CautionsInRecipe::from(&face.cautions),
        made_for: asked.words.clone(),
        asked: ask.clone(),
        total,
        phases,
        method: content.method.iter().cloned().map(Into::into).collect(),
        label: content.label.clone().into(),
        figures,
        use_by: None,
        unknown: evaluation.unknown.iter().map(|missing| format!("unknown: {missing}")).collect(),
    };
    Ok((recipe, exact))
}

struct Parts {
    total: wire::figure::Figure,
    lines: Vec<RecipeLine>,
    figures: Vec<wire::figure::Figure>,
    exact: ExactRecipe,
}

/// The formula in its own quantity. Nothing is scaled, so unknown masses are permitted.
fn own_quantity(frozen: &FrozenRevision, detail: Detail) -> Result<Parts> {
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
            out.weigh = detail.figure("weigh", &figures.mass);
            out.measure = figures.volume.as_ref().map(|volume| detail.figure("measure", volume));
            let density = density(&line.ingredient, &figures.mass, figures.volume.as_ref());
            out.g_per_ml = density.as_ref().map(|density| detail.figure("density", density));
            Ok((
                out,
                ExactLine {
                    grams: figures.mass.value(),
                    g_per_ml: density.as_ref().and_then(galenics::Figure::value),
                },
            ))
        })
        .collect::<Result<Vec<_>>>()?;
    let (lines, exact_lines) = lines.into_iter().unzip();
    Ok(Parts {
        total: detail.figure("total", &evaluation.charged),
        lines,
        figures: vec![detail.figure("product", &evaluation.product)],
        exact: ExactRecipe { total: evaluation.charged.value(), g_per_ml: None, lines: exact_lines },
    })
}

/// The formula scaled to the requested quantity, or in its own quantity if none was requested.
fn scale(frozen: &FrozenRevision, asked: &Asked) -> Result<(Worked, Balance)> {
    let evaluation = &frozen.assembled.evaluation;
    let target = asked.target.as_ref().unwrap_or(&Target::AsWritten);
    let balance = match asked.balance {
        Some(balance) => balance,
        None => Mass::grams(FINEST)
            .ok()
            .and_then(|step| Balance::reading(step).ok())
            .ok_or_else(|| Error::internal("the finest balance"))?,
    };
    let measured = asked.measured(evaluation);
    let worked = galenics::scale(&frozen.assembled.formula, &measured, target, &asked.losses, &balance)
        .map_err(|problem| match problem {
            ScaleProblem::NoSuchLine { phase, line } => {
                let wanted = format!("{}.{}", phase + 1, line + 1);
                let lines = frozen.assembled.formula.lines();
                let lines: Vec<String> = lines.map(|(p, l, _)| format!("{}.{}", p + 1, l + 1)).collect();
                asked.refuse(
                    "line",
                    format!("The recipe has no line {wanted}. Its lines are {}.", lines.join(", ")),
                )
            }
            other => asked.refused(&other),
        })?;
    Ok((worked, balance))
}

fn worked(frozen: &FrozenRevision, asked: &Asked, detail: Detail) -> Result<Parts> {
    let formula = &frozen.assembled.formula;
    let (worked, balance) = scale(frozen, asked)?;
    let small = small_lines(formula, &worked, &balance);
    let (mut lines, mut exact_lines) = (Vec::new(), Vec::new());
    for (p, phase) in worked.phases.iter().enumerate() {
        for (l, line) in phase.lines.iter().enumerate() {
            let ingredient =
                formula.phases.get(p).and_then(|phase| phase.lines.get(l)).map(|line| &line.ingredient);
            let density = ingredient.and_then(|it| density(it, &line.exact, line.volume.as_ref()));
            exact_lines.push(ExactLine {
                grams: line.exact.value(),
                g_per_ml: density.as_ref().and_then(galenics::Figure::value),
            });
            let mut out = scaled(bare(frozen, p, l)?, line, asked.balance.as_ref(), detail);
            out.g_per_ml = density.as_ref().map(|density| detail.figure("density", density));
            let small = small.iter().find(|small| (small.phase, small.line) == (p, l));
            out.aliquot = small.map(|small| aliquot(small, detail)).unwrap_or_default();
            if line.too_small {
                out.weighing_note = Some(too_small(&balance, small.is_some()));
            }
            lines.push(out);
        }
    }
    // Where a marc is left behind, more is weighed than comes out before losses.
    let mut lines_of = frozen.assembled.evaluation.phases.iter().flat_map(|phase| &phase.lines);
    let strained = lines_of.any(|line| !line.stays);
    let mut figures = Vec::with_capacity(5);
    match &asked.target {
        None => figures.push(detail.figure("product", &worked.gross)),
        Some(_) => {
            figures.push(detail.figure("net", &worked.net));
            figures.push(detail.figure("loss", &worked.loss));
            if strained {
                figures.push(detail.figure("made before losses", &worked.gross));
                figures.push(detail.figure("to weigh in all", &worked.total));
            } else {
                figures.push(detail.figure("to weigh in all", &worked.gross));
            }
            figures.push(detail.figure("factor", &worked.factor));
        }
    }
    let exact = ExactRecipe { total: worked.total.value(), g_per_ml: None, lines: exact_lines };
    Ok(Parts { total: detail.figure("total", &worked.total), lines, figures, exact })
}

fn aliquot(small: &SmallLine, detail: Detail) -> Vec<wire::figure::Figure> {
    let way = &small.aliquot;
    vec![
        detail.figure("weigh of it", &way.weigh),
        detail.figure("dissolve it", &way.diluent),
        detail.figure("mixture", &way.mixture),
        detail.figure("take of the mixture", &way.aliquot),
        detail.figure(format!("leave out of {}", small.diluent), &small.leave_out),
    ]
}

/// Readability, in g, that is assumed if none is given. No balance of a clinic is finer, so nothing is rounded visibly.
const FINEST: Decimal = Decimal::from_parts(1, 0, 0, false, 6);

fn scaled(mut out: RecipeLine, line: &WorkedLine, balance: Option<&Balance>, detail: Detail) -> RecipeLine {
    match (balance, line.weigh.value()) {
        (Some(balance), Some(weigh)) => {
            out.weigh = detail.figure("weigh", &line.weigh);
            let rounded = line.error.value().is_some_and(|error| !error.is_zero());
            out.rounding = rounded.then(|| detail.figure("rounding", &line.error));
            if !line.too_small {
                // To the last digit that the balance shows, which is exact: 75.0, not 75.
                out.weigh.value = Some(balance.shows(weigh).to_string());
                out.weigh.exact = None;
            }
        }
        // Without a balance nothing is rounded but for show.
        (None, Some(_)) => out.weigh = detail.figure("weigh", &line.exact),
        (_, None) => out.weigh = detail.figure("weigh", &line.weigh),
    }
    // A line written in grams needs no second figure, because `weigh` shows its grams.
    let measured = line.in_written_unit.as_ref().or(line.volume.as_ref());
    out.measure = measured.filter(|it| it.unit() != "g").map(|it| detail.figure("measure", it));
    out.weighing_note = line
        .over_capacity
        .then(|| "The mass exceeds the capacity of the balance. Weigh it in portions.".into());
    out
}

fn too_small(balance: &Balance, by_aliquot: bool) -> String {
    let least = balance.least().map(|least| least.normalize().to_string()).unwrap_or_default();
    format!(
        "Below {least} g the weighing error exceeds {} %: {}",
        (balance.tolerance().get() * Decimal::ONE_HUNDRED).normalize(),
        if by_aliquot {
            "weigh by aliquot, as shown below, or use a finer balance."
        } else {
            "use a finer balance, or make more."
        },
    )
}

/// A line as written, before its masses are calculated.
fn bare(frozen: &FrozenRevision, p: usize, l: usize) -> Result<RecipeLine> {
    let missing = || Error::internal("a line without its ingredient");
    let line =
        frozen.written.content.phases.get(p).and_then(|phase| phase.lines.get(l)).ok_or_else(missing)?;
    let ingredient = frozen.written.ingredients.get(p).and_then(|of| of.get(l)).ok_or_else(missing)?;
    let (formula, evaluation) = (&frozen.assembled.formula, &frozen.assembled.evaluation);
    let of = formula.phases.get(p).and_then(|phase| phase.lines.get(l)).ok_or_else(missing)?;
    let figures = evaluation.phases.get(p).and_then(|phase| phase.lines.get(l)).ok_or_else(missing)?;
    Ok(RecipeLine {
        line: format!("{}.{}", p + 1, l + 1),
        name: ingredient.name().to_owned(),
        nested_revision: match ingredient {
            Written::Revision { id, .. } => Some(RevisionId(*id)),
            Written::Material { .. } => None,
        },
        function: line.function.clone(),
        as_written: line.amount.clone(),
        read_as: galenics::read_as(formula, of, figures).map(|text| text.to_string()),
        weigh: wire::figure::Figure { name: "weigh".into(), unit: "g".into(), ..Default::default() },
        measure: None,
        rounding: None,
        weighing_note: None,
        aliquot: Vec::new(),
        g_per_ml: None,
        drops_per_ml: figures.drops_per_ml(of).map(|drops| drops.normalize().to_string()),
    })
}

static DERIVED_DENSITY: Rule = Rule::definition("line_density", "{mass} measures {volume}: {=}");
static KNOWN_DENSITY: Rule = Rule::definition("material_density", "density of {material}: {density}");

/// The density of a line in g/mL: that of the material, otherwise the line's mass divided by its volume.
fn density(
    ingredient: &Ingredient,
    mass: &galenics::Figure,
    volume: Option<&galenics::Figure>,
) -> Option<galenics::Figure> {
    if let Ingredient::Material(material) = ingredient
        && let Some(known) = &material.density
    {
        let density = known.value.g_per_ml();
        let inputs = vec![
            Input::words("material", material.name.clone()),
            Input::constant("density", density, units::GRAM_PER_ML, known.source.clone()),
        ];
        return Some(galenics::Figure::number(density, units::GRAM_PER_ML, &KNOWN_DENSITY, inputs));
    }
    let volume = volume?;
    let derived = mass.value()?.checked_div(volume.value()?)?;
    let inputs = vec![Input::figure("mass", mass), Input::figure("volume", volume)];
    Some(galenics::Figure::number(derived, units::GRAM_PER_ML, &DERIVED_DENSITY, inputs))
}
