//! What questions take from a formula: what every member of its library may read. Never an amount.

use chrono::NaiveDate;
use formulary::sets;
use recipes::RecipeCache;
use recipes::label::label_in;
use store::{Error, Result, Tx};
use wire::ids::RevisionId;
use wire::label::LabelQuery;
use wire::safety::CautionSet;
use wire::teaching::QuestionKind;

/// What every member may read of a formula, as far as the questions need it.
pub(crate) struct Source {
    /// The title.
    pub(crate) title: String,
    /// The names of the ingredients, from the label.
    pub(crate) ingredients: Vec<String>,
    /// The day of making that was asked for, the last day of use and the rule that limits it, from the label.
    pub(crate) dated: Option<Dated>,
    /// The current caution set.
    pub(crate) cautions: Option<CautionSet>,
    /// The names of the dating rules of the reference data, and of the groups that an allergy is about.
    pub(crate) rules: Vec<String>,
    pub(crate) allergies: Vec<String>,
}

/// A use-by date as the label tells it.
pub(crate) struct Dated {
    pub(crate) made_on: NaiveDate,
    pub(crate) use_by: NaiveDate,
    pub(crate) because: String,
}

/// Reads what questions of these kinds need of a revision that the caller may see.
///
/// # Errors
/// Returns [`Error::State`] if the caller may not see the revision, or it has no label any more.
pub(crate) async fn read(
    tx: &mut Tx<'_>,
    cache: &RecipeCache,
    id: RevisionId,
    kinds: &[QuestionKind],
    made_on: NaiveDate,
) -> Result<Source> {
    use QuestionKind as Q;
    let needs = |some: &[Q]| kinds.iter().any(|kind| some.contains(kind));
    let mut source = Source {
        title: formulary::facts(tx, id).await?.title,
        ingredients: Vec::new(),
        dated: None,
        cautions: None,
        rules: tx.reference.dating.iter().map(|set| set.name.clone()).collect(),
        allergies: tx.reference.allergy_groups.iter().map(|group| group.key.clone()).collect(),
    };
    if needs(&[Q::JarFilling, Q::BottleFilling, Q::UseBy]) {
        let query = LabelQuery { made_on: Some(made_on), net: None, area: None };
        let label = label_in(tx, cache, id, &query).await.map_err(not_a_member)?;
        source.ingredients = label.ingredients.items.into_iter().map(|item| item.name).collect();
        source.dated = label.use_by.and_then(|dated| {
            let because = dated.because;
            dated.day.map(|use_by| Dated { made_on, use_by, because })
        });
    }
    if needs(&[Q::MustNotUse]) {
        formulary::visible(tx, id).await.map_err(not_a_member)?;
        source.cautions = Some(sets::current(tx, id).await?);
    }
    Ok(source)
}

fn not_a_member(error: Error) -> Error {
    match error {
        Error::NotFound(_) => Error::state(
            "no_member",
            "The formula is in a library that you are no member of. Ask your instructor to add you.",
        ),
        other => other,
    }
}

impl Source {
    /// Why a question of a kind cannot be asked about this formula, with the cure.
    pub(crate) fn cannot_ask(&self, kind: QuestionKind) -> Option<&'static str> {
        match kind {
            QuestionKind::JarFilling | QuestionKind::BottleFilling | QuestionKind::UseBy
                if self.ingredients.is_empty() =>
            {
                Some("The formula names no ingredient to ask about. Leave this question out.")
            }
            QuestionKind::UseBy if self.dated.is_none() => {
                Some("No rule dates this formula. Leave this question out.")
            }
            _ => None,
        }
    }
}
