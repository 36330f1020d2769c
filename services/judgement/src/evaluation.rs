//! Evaluation of a formula or a batch in the types of `wire`.
//!
//! Conversion only; the assessment is made in [`assessment`].

use galenics::{Evaluation, LineFigures};
use materia::Materia;
use wire::figure::{Figure, FigureSource};
use wire::recipe::{
    self as travelling, AllergenVerdict, CompositionBasis, Emulsion, LimitOutcome, LimitVerdict, LineTotal,
    PhaseTotal,
};

use crate::assembled::Assembled;
use crate::assessment;
use crate::composition;
use crate::error::Result;
use crate::figures::{figure, figure_source};
use crate::limits::LimitAssessment;
use crate::observed::Observed;
use crate::serving;
use crate::written::Written;

/// The evaluation of a formula as written.
///
/// # Errors
/// As [`of`].
pub fn of_formula(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    basis: CompositionBasis,
) -> Result<travelling::Evaluation> {
    let observed = Observed::by_method(&written.content.method);
    let evaluation = of(reference, written, whole, &whole.evaluation, &observed)?;
    Ok(travelling::Evaluation {
        composition: composition::on_basis(written, whole, &whole.evaluation, basis)?,
        composition_basis: basis,
        ..evaluation
    })
}

/// An evaluation with its assessment: of a formula as written, or of a batch as made with its measurements.
///
/// # Errors
/// Returns [`Error::Internal`](crate::Error::Internal) if `whole` lacks the facts of a material.
pub fn of(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    evaluation: &Evaluation,
    observed: &Observed,
) -> Result<travelling::Evaluation> {
    let judged = assessment::judge(reference, written, whole, evaluation, observed)?;
    let mut figures = vec![
        figure("product", &evaluation.product),
        figure("volume", &evaluation.volume),
        figure("density", &evaluation.density),
    ];
    figures.extend(ratios(evaluation));
    figures.push(figure("alcohol by mass", &judged.alcohol.by_mass));
    figures.push(figure("alcohol by volume", &judged.alcohol.by_volume));
    figures.push(figure("alcohol of the watery part", &judged.alcohol.of_watery_part));
    figures.extend(judged.groups.iter().map(group));
    figures.extend(served(written, evaluation));
    Ok(travelling::Evaluation {
        total: figure("total", &evaluation.charged),
        phases: evaluation
            .phases
            .iter()
            .enumerate()
            .map(|(p, phase)| PhaseTotal {
                name: phase.name.to_string(),
                mass: figure("mass", &phase.mass),
                share: figure("share", &phase.share),
                lines: phase
                    .lines
                    .iter()
                    .enumerate()
                    .map(|(l, line)| line_total(l, line, reading(whole, p, l)))
                    .collect(),
            })
            .collect(),
        composition: composition::on_basis(written, whole, evaluation, CompositionBasis::Materials)?,
        composition_basis: CompositionBasis::Materials,
        figures,
        emulsion: judged.emulsion.as_ref().map(emulsion),
        preservation: judged.watery.then(|| figure("preservation", &judged.preservation.figure)),
        limits: judged.limits.iter().map(limit).collect(),
        allergens: judged.allergens.iter().map(allergen).collect(),
        unknown: evaluation.unknown.iter().map(|missing| format!("unknown: {missing}")).collect(),
    })
}

/// What a serving comes to, where the author stated one.
#[must_use]
pub fn served(written: &Written, evaluation: &Evaluation) -> Vec<Figure> {
    let serving = written.content.serving.as_ref().and_then(|stated| serving::serving(stated).ok());
    serving.map(|served| served.figures(evaluation)).unwrap_or_default()
}

/// How the amount of a line was read in the formula as written.
fn reading(whole: &Assembled, p: usize, l: usize) -> Option<String> {
    let line = whole.formula.phases.get(p)?.lines.get(l)?;
    let figures = whole.evaluation.phases.get(p)?.lines.get(l)?;
    galenics::read_as(&whole.formula, line, figures).map(|text| text.to_string())
}

fn line_total(l: usize, line: &LineFigures, read_as: Option<String>) -> LineTotal {
    LineTotal {
        line: l + 1,
        name: line.name.to_string(),
        mass: figure("mass", &line.mass),
        share: figure("share", &line.share),
        read_as,
    }
}

fn emulsion(emulsion: &galenics::emulsion::Emulsion) -> Emulsion {
    Emulsion {
        likely_type: figure("likely type", &emulsion.report.likely.figure),
        required_hlb: emulsion.required.as_ref().map(|answer| figure("required HLB", &answer.hlb)),
        emulsifier_hlb: emulsion
            .emulsifiers
            .as_ref()
            .map(|answer| figure("HLB of the emulsifiers", &answer.hlb)),
        advice: emulsion
            .report
            .advice
            .iter()
            .map(|advice| figure(advice.remark.as_str(), &advice.figure))
            .collect(),
    }
}

/// An allergen, with its share and whether the label must name it.
#[must_use]
pub fn allergen(allergen: &galenics::limits::Declaration) -> AllergenVerdict {
    AllergenVerdict {
        label_name: allergen.label_name.to_string(),
        declare: allergen.declare,
        share: figure("share", &allergen.share),
        source: figure_source(&allergen.source),
    }
}

/// The used share of a group of limits that restrict the same effect.
#[must_use]
pub fn group(group: &galenics::limits::GroupUse) -> Figure {
    figure(format!("{} limits together", group.group), &group.used)
}

/// The outcome of a limit check.
#[must_use]
pub const fn outcome(verdict: galenics::limits::Verdict) -> LimitOutcome {
    use galenics::limits::Verdict as V;
    match verdict {
        V::Within => LimitOutcome::Within,
        V::Exceeded => LimitOutcome::Exceeded,
        V::Prohibited => LimitOutcome::Prohibited,
        V::Unknown => LimitOutcome::Unknown,
    }
}

/// A limit with the outcome of its check.
#[must_use]
pub fn limit(judgement: &LimitAssessment) -> LimitVerdict {
    LimitVerdict {
        subject: judgement.subject.clone(),
        bound: judgement.bound.clone(),
        outcome: outcome(judgement.verdict),
        jurisdiction: judgement.jurisdiction.clone(),
        force: judgement.force.to_owned(),
        source: FigureSource { text: judgement.source.clone(), status: judgement.status.replace('_', " ") },
        share: judgement
            .share
            .as_ref()
            .map(|share| figure(if share.unit() == "ug" { "a day" } else { "share" }, share)),
        of_limit: judgement.of_limit.as_ref().map(|of| figure("of the limit", of)),
        would_pass: judgement.would_pass.iter().map(|most| figure("would pass", most)).collect(),
    }
}

/// The oil, water, emulsifier and yield ratios of an evaluation, and the dried herb behind each gram of product.
#[must_use]
pub fn ratios(evaluation: &Evaluation) -> Vec<Figure> {
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
