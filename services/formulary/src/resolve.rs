//! Resolution of an author's content: names of materials, nested formulas, kinds of preparation and routes become keys
//! and IDs.

use std::collections::HashMap;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::maxima::LINES;
use judgement::written::{Content, Dropper, Line};
use judgement::{Ingredient, Written, meant, stability};
use store::{Error, Result, Tx, names};
use uuid::Uuid;
use wire::formulary::FormulaContent;
use wire::ids::RevisionId;
use wire::problem::FieldError;

use crate::gate;

/// Resolves the content of a formula, with every text in Unicode normalisation form C.
///
/// # Errors
/// Returns [`Error::Invalid`] with every refused field, and [`Error::GateClosed`] if the author holds no grant for a
/// nested revision.
pub(crate) async fn resolve(tx: &mut Tx<'_>, content: &FormulaContent) -> Result<Written> {
    resolved(tx, content, Nests::Approved).await
}

/// As [`resolve`], of a formula that is evaluated and not kept: a line may also nest a draft of the caller's own.
///
/// # Errors
/// As [`resolve`].
pub(crate) async fn resolve_trial(tx: &mut Tx<'_>, content: &FormulaContent) -> Result<Written> {
    resolved(tx, content, Nests::OwnDraftsToo).await
}

/// What a line may nest.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Nests {
    Approved,
    OwnDraftsToo,
}

async fn resolved(tx: &mut Tx<'_>, content: &FormulaContent, nests: Nests) -> Result<Written> {
    let content = Content::from(content);
    let mut errors = form(&content);
    let preparation = match tx.reference.preparation(&content.preparation) {
        Some(known) => known.key.clone(),
        None => {
            errors.push(unknown(
                "/content/preparation",
                &content.preparation,
                tx.reference.preparations.iter().map(|known| known.name.as_str()),
            ));
            String::new()
        }
    };
    let route = match tx.reference.route(&content.route) {
        Some(known) => known.key.clone(),
        None => {
            errors.push(unknown(
                "/content/route",
                &content.route,
                tx.reference.routes.iter().map(|known| known.name.as_str()),
            ));
            String::new()
        }
    };
    let names: Vec<&str> = content
        .phases
        .iter()
        .flat_map(|phase| &phase.lines)
        .filter_map(|line| line.material.as_deref())
        .collect();
    let found = materials::resolve(tx, &names).await?;
    let lost: Vec<&str> =
        names.iter().zip(&found).filter(|(_, found)| found.is_none()).map(|(name, _)| *name).collect();
    let mut nowhere = materials::nowhere(tx, &lost).await?.into_iter();
    let mut materials = found.into_iter();
    // What several lines nest is looked up once.
    let mut nested_by_name: HashMap<&str, Ingredient> = HashMap::new();
    let mut ingredients = Vec::with_capacity(content.phases.len());
    for (p, phase) in content.phases.iter().enumerate() {
        let mut of_phase = Vec::with_capacity(phase.lines.len());
        for (l, line) in phase.lines.iter().enumerate() {
            let pointer = format!("/content/phases/{p}/lines/{l}");
            match (&line.material, &line.formula) {
                (Some(_), None) => match materials.next().flatten() {
                    Some(found) => of_phase.push(Ingredient::Material {
                        id: found.id.0,
                        version: found.version,
                        name: found.name,
                    }),
                    None => {
                        let unnamed = nowhere.next().unwrap_or_default();
                        let refused = FieldError::new(format!("{pointer}/material"), unnamed.said);
                        errors.push(refused.or(unnamed.near));
                    }
                },
                (None, Some(text)) if nested_by_name.contains_key(text.as_str()) => {
                    of_phase.extend(nested_by_name.get(text.as_str()).cloned());
                }
                (None, Some(text)) => match nested(tx, text, nests).await {
                    Ok(found) => {
                        nested_by_name.insert(text, found.clone());
                        of_phase.push(found);
                    }
                    Err(Error::Invalid(found)) => errors.extend(
                        found
                            .into_iter()
                            .map(|error| FieldError::new(format!("{pointer}/formula"), error.detail)),
                    ),
                    Err(other) => return Err(other),
                },
                (both, _) => {
                    if both.is_some() && materials.next().flatten().is_none() {
                        nowhere.next();
                    }
                    errors
                        .push(FieldError::new(pointer, "Name either a material or a formula in this line."));
                }
            }
        }
        ingredients.push(of_phase);
    }
    if !errors.is_empty() {
        return Err(Error::Invalid(errors));
    }
    let rules = policy::rules(tx).await?;
    let (customary, dropper) =
        (rules.customary.into(), Dropper::of_policy(rules.version, &rules.drops_per_ml));
    Ok(Written { content, ingredients, customary, dropper, preparation, route })
}

fn unknown<'a>(pointer: &str, given: &str, accepted: impl Iterator<Item = &'a str>) -> FieldError {
    FieldError::new(
        pointer,
        format!(
            "{given:?} is not accepted here. Accepted values: {}.",
            accepted.collect::<Vec<_>>().join("; ")
        ),
    )
}

/// Checks that need no look-up in the database: lengths, counts and notations.
fn form(content: &Content) -> Vec<FieldError> {
    let (mut errors, mut hidden) = (Vec::new(), Vec::new());
    let mut length = |pointer: String, text: &str, most: usize| {
        let count = text.trim().chars().count();
        if !(1..=most).contains(&count) || text.chars().any(|c| c.is_control() && c != '\n') {
            errors.push(FieldError::new(
                pointer,
                format!("Enter 1 to {most} printable characters. This text has {count}."),
            ));
        }
    };
    // A name is one line that looks like no other; other text may go over several.
    let names = std::iter::once(("/content/title".to_owned(), &content.title, 200)).chain(
        content
            .phases
            .iter()
            .enumerate()
            .map(|(p, phase)| (format!("/content/phases/{p}/name"), &phase.name, 100)),
    );
    for (pointer, name, most) in names {
        match names::refusal(pointer.clone(), name.trim()) {
            Some(refused) => hidden.push(refused),
            None => length(pointer, name, most),
        }
    }
    for (i, step) in content.method.iter().enumerate() {
        length(format!("/content/method/{i}/do"), &step.do_, 2000);
    }
    for (i, caution) in content.cautions.iter().enumerate() {
        length(format!("/content/cautions/{i}/text"), &caution.text, 1000);
        for (a, audience) in caution.audiences.iter().enumerate() {
            if let Err(refused) = audience.trim().to_lowercase().parse::<materia::Audience>() {
                hidden.push(FieldError::new(
                    format!("/content/cautions/{i}/audiences/{a}"),
                    refused.to_string(),
                ));
            }
        }
    }
    for (name, text) in [
        ("directions", &content.label.directions),
        ("storage", &content.label.storage),
        ("container", &content.label.container),
        ("after_opening", &content.label.after_opening),
    ] {
        if !text.is_empty() {
            length(format!("/content/label/{name}"), text, 1000);
        }
    }
    errors.extend(hidden);
    for (p, _) in content.phases.iter().enumerate().filter(|(_, phase)| phase.lines.is_empty()) {
        errors.push(FieldError::new(
            format!("/content/phases/{p}/lines"),
            "Add at least one line to this phase.",
        ));
    }
    if content.phases.is_empty() {
        errors.push(FieldError::new("/content/phases", "Add at least one phase."));
    }
    let lines: usize = content.phases.iter().map(|phase| phase.lines.len()).sum();
    for (pointer, count, what, cure) in [
        ("/content/phases", content.phases.len(), "phases", "Put several phases into one."),
        ("/content/phases", lines, "lines", "Put some of them into a formula of their own."),
        ("/content/method", content.method.len(), "steps", "Put several steps into one."),
        (
            "/content/cautions",
            content.cautions.len(),
            "cautions of its own",
            "Put several cautions into one.",
        ),
    ] {
        if count > LINES {
            errors.push(FieldError::new(
                pointer,
                format!("A formula may have at most {LINES} {what}. This one has {count}. {cure}"),
            ));
        }
    }
    if let Some(Err(cure)) = content.site.as_deref().map(meant::site) {
        errors.push(FieldError::new("/content/site", cure));
    }
    if let Some(Err(cure)) = content.youngest.as_deref().map(meant::months) {
        errors.push(FieldError::new("/content/youngest", cure));
    }
    // Every family reads the same household words, so that any tells whether an amount can be read.
    let any_family = galenics::Customary::Metric;
    let used_daily = content.used_daily.as_deref();
    if used_daily.is_some_and(|text| judgement::amount_used(text, any_family).is_none()) {
        let cure = "Enter how much is used in a day, such as 5 g, 15 mL or 3 tsp.";
        errors.push(FieldError::new("/content/used_daily", cure));
    }
    let serving = content.serving.as_ref().map(|typed| judgement::serving::serving(typed, any_family));
    if let Some(Err((field, cure))) = serving {
        errors.push(FieldError::new(format!("/content/serving/{field}"), cure));
    }
    if let Some(Err(cure)) = content.target_ph.as_deref().map(galenics::TargetPh::parse) {
        errors.push(FieldError::new("/content/target_ph", cure.to_string()));
    }
    to_ph(content, &mut errors);
    let filed = content.stability.as_ref().map(|it| stability::on_file(&it.period, &it.source));
    if let Some(Err((field, cure))) = filed {
        errors.push(FieldError::new(format!("/content/stability/{field}"), cure));
    }
    let filed = content.water_activity.as_ref();
    let filed = filed.map(|it| judgement::measured::water_activity_on_file(&it.value, &it.source));
    if let Some(Err((field, cure))) = filed {
        errors.push(FieldError::new(format!("/content/water_activity/{field}"), cure));
    }
    steps(content, &mut errors);
    functions(content, &mut errors);
    errors
}

fn steps(content: &Content, errors: &mut Vec<FieldError>) {
    for (i, step) in content.method.iter().enumerate() {
        if let Some(text) = &step.temperature
            && let Err(cure) = judgement::StepTemperature::parse(text)
        {
            errors.push(FieldError::new(format!("/content/method/{i}/temperature"), cure));
        }
        if let Some(name) = &step.phase
            && !content.phases.is_empty()
            && !content.phases.iter().any(|phase| phase.name == *name)
        {
            errors.push(unknown(
                &format!("/content/method/{i}/phase"),
                name,
                content.phases.iter().map(|phase| phase.name.as_str()),
            ));
        }
    }
}

/// Lines that go to the target pH of a formula that states none.
fn to_ph(content: &Content, errors: &mut Vec<FieldError>) {
    let unstated = |line: &Line| {
        let amount = galenics::Amount::parse(&line.amount).ok();
        matches!(amount.as_ref().map(galenics::Amount::kind), Some(galenics::AmountKind::ToPh(None)))
    };
    for (p, phase) in content.phases.iter().enumerate().filter(|_| content.target_ph.is_none()) {
        for (l, _) in phase.lines.iter().enumerate().filter(|(_, line)| unstated(line)) {
            errors.push(FieldError::new(
                format!("/content/phases/{p}/lines/{l}/amount"),
                "The formula has no target pH for q.s. pH. Enter `target_ph`, such as 4.5-5.0, or write q.s. \
                 pH 4.5-5.0.",
            ));
        }
    }
}

fn functions(content: &Content, errors: &mut Vec<FieldError>) {
    let lines = content.phases.iter().enumerate().flat_map(|(p, phase)| {
        phase.lines.iter().enumerate().map(move |(l, line): (usize, &Line)| (p, l, line))
    });
    for (p, l, line) in lines {
        if let Some(text) = &line.function
            && let Err(error) = text.parse::<galenics::Function>()
        {
            errors
                .push(FieldError::new(format!("/content/phases/{p}/lines/{l}/function"), error.to_string()));
        }
    }
}

/// The approved revision with this title, formula ID or revision ID in the author's libraries. The author must hold a
/// grant for it.
async fn nested(tx: &mut Tx<'_>, text: &str, nests: Nests) -> Result<Ingredient> {
    let me = tx.actor()?.holder();
    let id: Option<Uuid> = text.trim().parse().ok();
    let found: Vec<Candidate> = diesel::sql_query(
        "SELECT r.id, r.formula_id, r.title, r.digest FROM formula f
         JOIN revision r ON r.id = f.approved_revision_id
         JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
         WHERE (lower(f.title) = lower($2) OR f.id = $3 OR r.id = $3) AND r.digest IS NOT NULL
         ORDER BY r.id LIMIT 10",
    )
    .bind::<diesel::sql_types::Uuid, _>(me.0)
    .bind::<diesel::sql_types::Text, _>(text.trim())
    .bind::<diesel::sql_types::Nullable<diesel::sql_types::Uuid>, _>(id)
    .load(tx.conn())
    .await?;
    match found.as_slice() {
        [] if nests == Nests::OwnDraftsToo
            && let Some(draft) = own_draft(tx, text, id).await? =>
        {
            Ok(draft)
        }
        [] => Err(Error::field(
            "",
            format!("Your libraries have no approved formula called {text:?}. Check the title or the ID."),
        )),
        [one] => {
            gate::open(tx, RevisionId(one.id)).await?;
            Ok(Ingredient::Revision {
                id: one.id,
                formula: one.formula_id,
                title: one.title.clone(),
                digest: hex::encode(&one.digest),
            })
        }
        many => {
            let ids: Vec<String> = many.iter().map(|one| one.formula_id.to_string()).collect();
            Err(Error::field(
                "",
                format!(
                    "Several formulas are called {text:?}. Give the ID of one of them: {}.",
                    ids.join(", ")
                ),
            ))
        }
    }
}

/// The caller's own draft with this title, formula ID or revision ID; the newest of several.
async fn own_draft(tx: &mut Tx<'_>, text: &str, id: Option<Uuid>) -> Result<Option<Ingredient>> {
    let Ok(author) = tx.instructor() else { return Ok(None) };
    let author = author.id();
    let found: Option<Candidate> = diesel::sql_query(
        "SELECT r.id, r.formula_id, r.title, ''::bytea AS digest FROM revision r
         JOIN formula f ON f.id = r.formula_id
         JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
         WHERE r.author_id = $1 AND r.state = 'draft'
           AND (lower(r.title) = lower($2) OR r.formula_id = $3 OR r.id = $3)
         ORDER BY r.id DESC LIMIT 1",
    )
    .bind::<diesel::sql_types::Uuid, _>(author.0)
    .bind::<diesel::sql_types::Text, _>(text.trim())
    .bind::<diesel::sql_types::Nullable<diesel::sql_types::Uuid>, _>(id)
    .load(tx.conn())
    .await?
    .pop();
    Ok(found.map(|draft| Ingredient::Revision {
        id: draft.id,
        formula: draft.formula_id,
        title: draft.title,
        // A draft has no digest, and a trial is never kept.
        digest: String::new(),
    }))
}

#[derive(QueryableByName)]
struct Candidate {
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    formula_id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Text)]
    title: String,
    #[diesel(sql_type = diesel::sql_types::Binary)]
    digest: Vec<u8>,
}
