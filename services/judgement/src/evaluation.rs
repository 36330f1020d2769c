//! Evaluation of a formula or a batch in the types of `wire`.
//!
//! Conversion only; the assessment is made in [`assessment`].

use galenics::{Evaluation, LineFigures};
use materia::Materia;
use wire::figure::{Figure, FigureSource};
use wire::recipe::{
    self as travelling, AllergenVerdict, CompositionBasis, Emulsion, LimitOutcome, LimitVerdict, LineTotal,
    PhaseTotal, ThresholdVerdict,
};

use crate::assembled::Assembled;
use crate::assessment;
use crate::composition;
use crate::error::Result;
use crate::figures::{Detail, figure_source};
use crate::limits::{self, LimitAssessment};
use crate::observed::Observed;
use crate::serving;
use crate::thresholds::{self, ThresholdOutcome};
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
    detail: Detail,
) -> Result<travelling::Evaluation> {
    let observed = Observed::as_written(&written.content);
    let evaluation = of(reference, written, whole, &whole.evaluation, &observed, detail)?;
    // Cautions are raised by the formula as written, and so of a batch as made no threshold is told.
    let thresholds = if detail == Detail::Explained {
        let found = thresholds::outcomes(reference, written, whole)?;
        found.iter().map(|it| threshold(it, detail)).collect()
    } else {
        Vec::new()
    };
    Ok(travelling::Evaluation {
        thresholds,
        composition: composition::on_basis(written, whole, &whole.evaluation, basis, detail)?,
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
    detail: Detail,
) -> Result<travelling::Evaluation> {
    let judged = assessment::judge(reference, written, whole, evaluation, observed)?;
    let mut figures = vec![
        detail.figure("product", &evaluation.product),
        detail.figure("volume", &evaluation.volume),
        detail.figure("density", &evaluation.density),
    ];
    figures.extend(ratios(evaluation, detail));
    figures.push(detail.figure("alcohol by mass", &judged.alcohol.by_mass));
    figures.push(detail.figure("alcohol by volume", &judged.alcohol.by_volume));
    figures.push(detail.figure("alcohol of the watery part", &judged.alcohol.of_watery_part));
    figures.extend(judged.groups.iter().map(|of| group(of, detail)));
    figures.extend(served(written, evaluation, detail));
    Ok(travelling::Evaluation {
        thresholds: Vec::new(),
        total: detail.figure("total", &evaluation.charged),
        phases: evaluation
            .phases
            .iter()
            .enumerate()
            .map(|(p, phase)| PhaseTotal {
                name: phase.name.to_string(),
                mass: detail.figure("mass", &phase.mass),
                share: detail.figure("share", &phase.share),
                lines: phase
                    .lines
                    .iter()
                    .enumerate()
                    .map(|(l, line)| line_total(l, line, reading(whole, p, l), detail))
                    .collect(),
            })
            .collect(),
        composition: composition::on_basis(written, whole, evaluation, CompositionBasis::Materials, detail)?,
        composition_basis: CompositionBasis::Materials,
        figures,
        emulsion: judged.emulsion.as_ref().map(|it| emulsion(it, detail)),
        preservation: judged.watery.then(|| detail.figure("preservation", &judged.preservation.figure)),
        limits: judged.limits.iter().map(|it| limit(it, detail)).collect(),
        limits_outcome: outcome(limits::worst(&judged.limits, &judged.groups)),
        allergens: judged.allergens.iter().map(|it| allergen(it, detail)).collect(),
        unknown: evaluation.unknown.iter().map(|missing| format!("unknown: {missing}")).collect(),
    })
}

/// What a serving comes to, where the author stated one.
#[must_use]
pub fn served(written: &Written, evaluation: &Evaluation, detail: Detail) -> Vec<Figure> {
    let family = written.customary.into();
    let serving = written.content.serving.as_ref().and_then(|stated| serving::serving(stated, family).ok());
    let dropper = written.dropper.as_ref();
    serving.map(|served| served.figures(evaluation, dropper, detail)).unwrap_or_default()
}

/// How the amount of a line was read in the formula as written.
fn reading(whole: &Assembled, p: usize, l: usize) -> Option<String> {
    let line = whole.formula.phases.get(p)?.lines.get(l)?;
    let figures = whole.evaluation.phases.get(p)?.lines.get(l)?;
    galenics::read_as(&whole.formula, line, figures).map(|text| text.to_string())
}

fn line_total(l: usize, line: &LineFigures, read_as: Option<String>, detail: Detail) -> LineTotal {
    LineTotal {
        line: l + 1,
        name: line.name.to_string(),
        mass: detail.figure("mass", &line.mass),
        share: detail.figure("share", &line.share),
        read_as,
    }
}

fn emulsion(emulsion: &galenics::emulsion::Emulsion, detail: Detail) -> Emulsion {
    Emulsion {
        likely_type: detail.figure("likely type", &emulsion.report.likely.figure),
        required_hlb: emulsion.required.as_ref().map(|answer| detail.figure("required HLB", &answer.hlb)),
        emulsifier_hlb: emulsion
            .emulsifiers
            .as_ref()
            .map(|answer| detail.figure("HLB of the emulsifiers", &answer.hlb)),
        advice: emulsion
            .report
            .advice
            .iter()
            .map(|advice| detail.figure(advice.remark.as_str(), &advice.figure))
            .collect(),
    }
}

/// An allergen, with its share and whether the label must name it.
#[must_use]
pub fn allergen(allergen: &galenics::limits::Declaration, detail: Detail) -> AllergenVerdict {
    AllergenVerdict {
        label_name: allergen.label_name.to_string(),
        declare: allergen.declare,
        share: detail.figure("share", &allergen.share),
        source: figure_source(&allergen.source),
    }
}

/// A threshold with the amount that was found.
fn threshold(outcome: &ThresholdOutcome<'_>, detail: Detail) -> ThresholdVerdict {
    let threshold = outcome.threshold;
    ThresholdVerdict {
        caution: threshold.caution.clone(),
        subject: outcome.subject.clone(),
        threshold: thresholds::in_words(threshold),
        below: outcome.below,
        share: detail.figure("share", &outcome.share),
        source: FigureSource {
            text: threshold.source.text.clone(),
            status: threshold.status.word().replace('_', " "),
        },
    }
}

/// The used share of a group of limits that restrict the same effect.
#[must_use]
pub fn group(group: &galenics::limits::GroupUse, detail: Detail) -> Figure {
    detail.figure(format!("{} limits together", group.group), &group.used)
}

/// The outcome of a limit check.
#[must_use]
pub const fn outcome(verdict: galenics::limits::Verdict) -> LimitOutcome {
    use galenics::limits::Verdict as V;
    match verdict {
        V::Within => LimitOutcome::Within,
        V::NotCovered => LimitOutcome::NotCovered,
        V::Exceeded => LimitOutcome::Exceeded,
        V::Prohibited => LimitOutcome::Prohibited,
        V::Unknown => LimitOutcome::Unknown,
    }
}

/// A limit with the outcome of its check.
#[must_use]
pub fn limit(judgement: &LimitAssessment, detail: Detail) -> LimitVerdict {
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
            .map(|share| detail.figure(if share.unit() == "ug" { "a day" } else { "share" }, share)),
        of_limit: judgement.of_limit.as_ref().map(|of| detail.figure("of the limit", of)),
        would_pass: judgement.would_pass.iter().map(|most| detail.figure("would pass", most)).collect(),
    }
}

/// The oil, water, emulsifier and yield ratios of an evaluation, and the dried herb behind each gram of product.
#[must_use]
pub fn ratios(evaluation: &Evaluation, detail: Detail) -> Vec<Figure> {
    let mut out = vec![
        detail.figure("oil", &evaluation.oil),
        detail.figure("water", &evaluation.water),
        detail.figure("oil to water", &evaluation.oil_to_water),
        detail.figure("emulsifier to oil", &evaluation.emulsifier_to_oil),
    ];
    out.extend(evaluation.wax_to_oil().map(|wax| detail.figure("wax to oil", &wax)));
    out.extend(evaluation.fat_to_oil().map(|fat| detail.figure("fat to oil", &fat)));
    if let Some(against) = &evaluation.against_stated_yield {
        out.push(detail.figure("against the stated yield", against));
    }
    if let Some(gone) = &evaluation.boiled_off {
        out.push(detail.figure("boiled off", gone));
    }
    if let Some(expected) = &evaluation.expected_yield {
        out.push(detail.figure("expected yield", expected));
    }
    for herb in &evaluation.herbs {
        out.push(detail.figure(format!("dried herb per gram: {}", herb.material.name), &herb.per_gram));
    }
    out
}
