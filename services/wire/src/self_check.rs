//! What a maker asks about a formula before making it, of themselves. The answers are kept nowhere.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{FormulaId, RevisionId};
use crate::safety::{AudienceSuits, Caution};

/// What is true of the maker. It is read, answered and forgotten: no row, event, log or address holds it.
#[derive(Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewSelfCheck {
    /// `pregnant`, `breast-feeding`, `asthma`, `powders` for airways that dust sets off, or `allergy:GROUP`, such as
    /// `allergy:wool-fat`: 1 to 40 of them.
    #[schema(example = json!(["pregnant", "allergy:asteraceae"]))]
    pub answers: Vec<String>,
}

/// A formula that carries no caution for the maker.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Substitute {
    /// The formula.
    pub formula: FormulaId,
    /// Its approved revision.
    pub revision: RevisionId,
    /// Its title.
    #[schema(example = "Beeswax salve")]
    pub title: String,
    /// The name of its library.
    #[schema(example = "First year")]
    pub library_name: String,
    /// Whether an assignment of yours offers both formulas, so that you may choose it.
    #[schema(example = false)]
    pub may_choose: bool,
}

/// What a formula's cautions say to its maker. It is no diagnosis, and nobody else is told.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
pub struct SelfCheck {
    /// The revision that was asked about.
    pub revision: RevisionId,
    /// Its title.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// The gravest answer for what is true of the maker.
    pub answer: AudienceSuits,
    /// The same in a sentence.
    pub sentence: String,
    /// Whom to ask.
    pub ask: String,
    /// The cautions that concern the maker, the strongest first.
    pub concerns: Vec<Caution>,
    /// What was not judged.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!([]))]
    pub missing: Vec<String>,
    /// Formulas of the maker's libraries that carry none of it and of which everything was judged: 10 at most, those to
    /// choose from first, then those of the same kind.
    pub substitutes: Vec<Substitute>,
    /// The clinic's notice.
    pub notice: String,
}
