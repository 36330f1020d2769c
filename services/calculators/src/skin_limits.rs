//! Limits for a composition on the skin, and the allergens to declare.

use galenics::limits::{DailyExposure, Exposure, Holder, Use, check_daily};
use galenics::{Decimal, Mass, Preparation, Sourced, Text};
use materia::{Bound, Materia, Subject};
use store::{Credentials, Result, Store};
use wire::calculations::skin_limits::{Assay, SkinLimitsAnswer, SkinLimitsQuestion};
use wire::recipe::{LimitOutcome, LimitVerdict};

use super::composition::{Composition, composed};
use super::form::{Form, Read, all};
use judgement::allergens;
use judgement::evaluation::{allergen, group, limit, outcome};
use judgement::figures::Detail;
use judgement::limits::{self, LimitAssessment};
use judgement::meant;
use judgement::parts::Part;

/// The most assays in a question.
const MOST: usize = 50;

/// Checks a composition against the limits that apply to its use, and lists the allergens to declare.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every field that cannot be read or met, and the errors of verifying `claim`.
pub async fn skin_limits(
    store: &Store,
    credentials: &Credentials,
    question: &SkinLimitsQuestion,
) -> Result<SkinLimitsAnswer> {
    store
        .read(credentials, async |tx| {
            let form = Form::of(tx).await?;
            // The lines describe the finished product, so a kind without straining is used.
            let composition = composed(tx, &form, &question.lines, Preparation::Cream, None).await?;
            Ok(answer(tx.reference, &form, question, composition)?)
        })
        .await
}

fn answer(
    reference: &Materia,
    form: &Form,
    asked: &SkinLimitsQuestion,
    composition: Read<Composition>,
) -> Read<SkinLimitsAnswer> {
    let (composition, exposure, site, youngest, used) = all((
        composition,
        form.word::<Exposure>("exposure", &asked.exposure),
        form.optional(asked.site.as_ref(), site),
        form.optional(asked.youngest.as_ref(), age),
        form.optional(asked.used_daily.as_ref(), |form, text| form.mass("used_daily", text)),
    ))?;
    let parts = composition.parts();
    let assays = assays(reference, form, &asked.assays, &parts)?;
    let of = Use {
        regime: asked.regime.as_str().into(),
        exposure,
        site,
        youngest_months: youngest,
        preservatives: limits::preservatives(&parts),
    };
    let found = limits::judge(reference, &of, &composition.evaluation, &parts, &composition.known());
    let mut said: Vec<LimitVerdict> = found
        .judgements
        .iter()
        .map(|judgement| {
            daily(reference, judgement, &parts, &assays, used)
                .unwrap_or_else(|| limit(judgement, Detail::Explained))
        })
        .collect();
    said.sort_by_key(|verdict| std::cmp::Reverse(verdict.outcome));
    let outcomes = said.iter().map(|verdict| verdict.outcome);
    let together = found.groups.iter().map(|group| outcome(group.verdict));
    Ok(SkinLimitsAnswer {
        outcome: outcomes.chain(together).max().unwrap_or(LimitOutcome::NotCovered),
        figures: found.groups.iter().map(|of| group(of, Detail::Explained)).collect(),
        allergens: allergens::allergens(
            reference,
            &of,
            &composition.evaluation,
            &parts,
            &composition.known(),
        )
        .iter()
        .map(|it| allergen(it, Detail::Explained))
        .collect(),
        limits: said,
    })
}

fn site(form: &Form, text: &str) -> Read<Text> {
    meant::site(text).map(|site| site.word().into()).map_err(|cure| form.refuse("site", cure))
}

fn age(form: &Form, text: &str) -> Read<u32> {
    meant::months(text).map_err(|cure| form.refuse("youngest", cure))
}

/// A parsed assay.
struct Found {
    material: Text,
    substance: String,
    micrograms_per_gram: Decimal,
}

fn assays(reference: &Materia, form: &Form, asked: &[Assay], parts: &[Part<'_>]) -> Read<Vec<Found>> {
    if asked.is_empty() {
        return Ok(Vec::new());
    }
    form.each("assays", asked, MOST, |form, assay| {
        let part = parts.iter().find(|part| part.material.is_called(&assay.material));
        let wanted = assay.substance.trim();
        let substance = reference
            .substances
            .iter()
            .find(|known| known.key == wanted || known.name.eq_ignore_ascii_case(wanted));
        let (material, substance, micrograms_per_gram) = all((
            part.map(|part| part.leaf.material.id.clone())
                .ok_or_else(|| form.refuse("material", "Name a material of one of the lines.")),
            substance.map(|known| known.key.clone()).ok_or_else(|| {
                form.refuse(
                    "substance",
                    "Unknown substance. Enter a restricted substance, such as pyrrolizidine-alkaloids.",
                )
            }),
            form.number("micrograms_per_gram", &assay.micrograms_per_gram),
        ))?;
        Ok(Found { material, substance, micrograms_per_gram })
    })
}

/// Checks a limit on a daily amount with the assays of the lots and the mass used in a day. An untested lot leaves it
/// unknown.
fn daily(
    reference: &Materia,
    judgement: &LimitAssessment,
    parts: &[Part<'_>],
    assays: &[Found],
    used: Option<Mass>,
) -> Option<LimitVerdict> {
    let row = reference.limits.iter().find(|row| row.key == judgement.key)?;
    let (Bound::MaximumDaily { micrograms }, Subject::Substance(substance)) = (&row.bound, &row.subject)
    else {
        return None;
    };
    let exposure = exposure(substance, parts, assays, used?)?;
    let bound = Sourced::new(*micrograms, judgement::facts::source(&row.source.text, row.status));
    let check = check_daily(&judgement.subject, &exposure, &bound);
    Some(LimitVerdict {
        outcome: outcome(check.verdict),
        share: Some(Detail::Explained.figure("a day", &check.amount)),
        would_pass: vec![Detail::Explained.figure("largest daily use", &check.largest_use)],
        ..limit(judgement, Detail::Explained)
    })
}

/// The exposure to a substance from every material that may hold it, each with its assay if there is one.
fn exposure(substance: &str, parts: &[Part<'_>], assays: &[Found], used: Mass) -> Option<DailyExposure> {
    let holds = |part: &&Part<'_>| part.material.constituents.iter().any(|held| held.substance == substance);
    let holders: Vec<Holder> = parts
        .iter()
        .filter(holds)
        .map(|part| Holder {
            name: part.leaf.material.name.clone(),
            share: part.leaf.share.clone(),
            assay: assays
                .iter()
                .find(|assay| assay.material == part.leaf.material.id && assay.substance == substance)
                .map(|assay| Sourced::entered(assay.micrograms_per_gram)),
        })
        .collect();
    DailyExposure::together(&holders, used)
}
