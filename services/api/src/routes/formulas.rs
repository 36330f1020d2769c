//! Formulas: adding, listing, reading.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::{Reader, formulary};
use serde::Deserialize;
use utoipa::IntoParams;
use wire::formulary::{Formula, FormulaSummary, NewFormula, NewRevision, Regime, Revision};
use wire::ids::{FormulaId, LibraryId};
use wire::page::Page;

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(config, formula_create, formula_list, formula_view, revision_create);
}

/// Add a formula
///
/// With its first draft. For instructors of the library. The draft is evaluated before it is saved. Ingredients are
/// looked up in the materia medica and among the approved formulas whose cautions you have acknowledged.
#[utoipa::path(post, path = "/v1/libraries/{id}/formulas",
    tag = "formulas", params(("id" = LibraryId, Path, description = "The library")),
    request_body = NewFormula, responses((status = 201, body = Formula)))]
async fn formula_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<LibraryId>,
    create: Create<NewFormula>,
) -> Answer {
    let made =
        formulary::formula_create(&state.clinic, &caller.0, &create.once, id.0, &create.body.content).await?;
    answer::created(&format!("/v1/formulas/{}", made.summary.id), &made)
}

/// Filters of the list.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct FormulaQuery {
    /// Only of this library.
    library: Option<LibraryId>,
    /// Only those with an approved revision. Students and API clients see only those in any case.
    #[serde(default)]
    approved: Option<bool>,
    /// Only formulas whose title contains this, in upper or lower case: 2 to 100 characters.
    #[param(example = "cream")]
    title: Option<String>,
    /// Only formulas that contain this material, themselves or in a formula nested at any level: its ID, or 2 to 100
    /// characters of one of its names.
    #[param(example = "calendula")]
    material: Option<String>,
    /// Only this kind of preparation, by its name or synonym.
    #[param(example = "cream")]
    kind: Option<String>,
    /// Only formulas that are made as this.
    regime: Option<Regime>,
    /// Maximum number of items: 1 to 100, 50 if absent.
    #[param(minimum = 1, maximum = 100, example = 50)]
    limit: Option<u32>,
    /// The `next` of the previous page.
    after: Option<String>,
}

/// List formulas
///
/// Of your libraries, by title. With `title`, `material`, `kind` or `regime` only those that meet every condition given:
/// what is searched is the approved revision, or for instructors the proposed one where none is approved. API clients
/// need the scope `formulas:read`.
#[utoipa::path(get, path = "/v1/formulas",
    tag = "formulas", params(FormulaQuery), responses((status = 200, body = Page<FormulaSummary>)))]
async fn formula_list(
    request: HttpRequest,
    reader: Data<Reader>,
    caller: Caller,
    query: Query<FormulaQuery>,
) -> Answer {
    let query = formulary::FormulaQuery {
        library: query.0.library,
        approved: query.0.approved.unwrap_or(false),
        title: query.0.title,
        material: query.0.material,
        kind: query.0.kind,
        regime: query.0.regime,
        limit: query.0.limit,
        after: query.0.after,
    };
    answer::ready_page(&request, &*formulary::formulas(&reader, &caller.0, &query).await?)
}

/// Read a formula
///
/// With its revisions, newest first.
#[utoipa::path(get, path = "/v1/formulas/{id}",
    tag = "formulas", params(("id" = FormulaId, Path, description = "The formula")),
    responses((status = 200, body = Formula)))]
async fn formula_view(
    request: HttpRequest,
    reader: Data<Reader>,
    caller: Caller,
    id: Path<FormulaId>,
) -> Answer {
    answer::read(&request, &formulary::formula(&reader, &caller.0, id.0).await?)
}

/// Start a new revision
///
/// An approved revision never changes. A change is a new revision, which must be proposed and approved as well.
#[utoipa::path(post, path = "/v1/formulas/{id}/revisions",
    tag = "formulas", params(("id" = FormulaId, Path, description = "The formula")),
    request_body = NewRevision, responses((status = 201, body = Revision)))]
async fn revision_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<FormulaId>,
    create: Create<NewRevision>,
) -> Answer {
    let made = formulary::revision_create(&state.clinic, &caller.0, &create.once, id.0, &create.body.content)
        .await?;
    answer::created_version(&format!("/v1/revisions/{}", made.value.id), &made)
}
