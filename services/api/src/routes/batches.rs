//! Batch records.

use crate::mount::{Mount, operations};
use actix_web::HttpRequest;
use actix_web::web::Data;
use clinic::{Detail, Reader, bench};
use serde::Deserialize;
use utoipa::IntoParams;
use wire::adjustments::{Adjustment, NewAdjustment};
use wire::bench::{
    BatchRecord, BatchState, BatchSummary, EntryWritten, NewBatch, NewEntry, NewReview, Submit,
};
use wire::checks::{Check, NewCheck};
use wire::deviations::{Authorisation, NewAuthorisation};
use wire::holds::{HoldRelease, NewHoldRelease};
use wire::ids::BatchId;
use wire::page::Page;
use wire::recipe::ExplainQuery;
use wire::stock::{BatchLots, Lot, NewMadeLot, NewReservations, Reservations};

use crate::answer::{self, Answer};
use crate::body::Create;
use crate::caller::Caller;
use crate::params::{Explained, Nothing, Path, Query};
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        batch_create,
        batch_list,
        batch_view,
        batch_lots,
        batch_shelve,
        reservation_list,
        reservation_create,
        reservation_delete,
        entry_create,
        check_create,
        hold_release,
        authorise,
        adjustment,
        adjust,
        batch_submit,
        batch_review,
        batch_abandon
    );
}

/// Open a batch record
///
/// From an approved revision whose cautions you have acknowledged, scaled to the quantity to be made.
#[utoipa::path(post, path = "/v1/batches",
    tag = "batches", request_body = NewBatch, responses((status = 201, body = BatchRecord)))]
async fn batch_create(state: Data<ApiState>, caller: Caller, create: Create<NewBatch>) -> Answer {
    let made = bench::batch_create(&state.clinic, &caller.0, &create.once, &create.body).await?;
    answer::created(&bench::address(&made), &made)
}

/// Filters of the list.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct BatchQuery {
    /// Only in this state.
    state: Option<BatchState>,
    /// Only your own. Students see only their own in any case.
    own: Option<bool>,
    /// Maximum number of items: 1 to 100, 50 if absent.
    #[param(minimum = 1, maximum = 100, example = 50)]
    limit: Option<u32>,
    /// The `next` of the previous page.
    after: Option<String>,
}

/// List batches
///
/// Oldest first. Your own; for instructors also those of the libraries shared with them.
#[utoipa::path(get, path = "/v1/batches",
    tag = "batches", params(BatchQuery), responses((status = 200, body = Page<BatchSummary>)))]
async fn batch_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    query: Query<BatchQuery>,
) -> Answer {
    let query = bench::BatchQuery {
        state: query.0.state,
        own: query.0.own.unwrap_or(false),
        limit: query.0.limit,
        after: query.0.after,
    };
    answer::page(&request, &bench::batches(&state.clinic, &caller.0, &query).await?)
}

/// Read a batch record
///
/// The recipe as it was opened, every entry, what is out of tolerance or missing, submissions and reviews.
#[utoipa::path(get, path = "/v1/batches/{id}",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch"), ExplainQuery),
    responses((status = 200, body = BatchRecord)))]
async fn batch_view(
    request: HttpRequest,
    state: Data<ApiState>,
    reader: Data<Reader>,
    caller: Caller,
    id: Path<BatchId>,
    asked: Explained<Nothing>,
) -> Answer {
    if asked.detail == Detail::Brief {
        let record = bench::batch_rendered(&state.clinic, &reader, &caller.0, id.0).await?;
        return answer::released(&request, &record);
    }
    answer::read(&request, &bench::batch(&state.clinic, &caller.0, id.0, asked.detail).await?)
}

/// List the lots that a batch can be weighed from
///
/// For each line of its recipe, what expires first before the others. `lot_id` of an entry names one of them.
#[utoipa::path(get, path = "/v1/batches/{id}/lots",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, body = BatchLots)))]
async fn batch_lots(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
) -> Answer {
    answer::read(&request, &bench::lots(&state.clinic, &caller.0, id.0).await?)
}

/// Put what a batch made on the shelf
///
/// An infused oil, a tincture and the like become a lot, from which a formula that nests this very revision is weighed. The
/// record is accepted, the lot keeps no longer than the batch is dated, and it waits in quarantine until an instructor who
/// did not make it lets it in (`/v1/lots/{id}/identity`).
#[utoipa::path(post, path = "/v1/batches/{id}/made-lots",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewMadeLot, responses((status = 201, body = Lot)))]
async fn batch_shelve(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewMadeLot>,
) -> Answer {
    let lot = bench::shelve(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?.value;
    answer::created(&format!("/v1/lots/{}", lot.summary.id), &lot)
}

/// Read what a batch has reserved
///
/// By line, without amounts.
#[utoipa::path(get, path = "/v1/batches/{id}/reservations",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, body = Reservations)))]
async fn reservation_list(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
) -> Answer {
    answer::read(&request, &bench::reserved(&state.clinic, &caller.0, id.0).await?)
}

/// Reserve lots for a batch
///
/// For each line that is not weighed yet, what expires first before the others, in the place of what the batch had reserved.
/// Others cannot draw it; the weighing of the line takes it first. It ends after the days, and when the record is submitted
/// or abandoned.
#[utoipa::path(post, path = "/v1/batches/{id}/reservations",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewReservations, responses((status = 201, body = Reservations)))]
async fn reservation_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewReservations>,
) -> Answer {
    let reserved = bench::reserve(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}/reservations", id.0), &reserved)
}

/// Free what a batch has reserved
#[utoipa::path(delete, path = "/v1/batches/{id}/reservations",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 204)))]
async fn reservation_delete(state: Data<ApiState>, caller: Caller, id: Path<BatchId>) -> Answer {
    bench::free(&state.clinic, &caller.0, id.0).await?;
    answer::done()
}

/// Write an entry into a batch record
///
/// A weighing, a temperature, an observation, a finished step or the yield. A correction names the entry it corrects
/// and the reason; both stay readable. The answer is the entry with what was found at its line or step; the whole
/// record stands at the address in `Location`.
#[utoipa::path(post, path = "/v1/batches/{id}/entries",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewEntry, responses((status = 201, body = EntryWritten)))]
async fn entry_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewEntry>,
) -> Answer {
    let written = bench::entry_create(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}", id.0), &written)
}

/// Write a check before the start into a batch record
///
/// Line clearance, cleaning and sanitising, the check-weight of the balance, thermometer, pH meter, room conditions, and the
/// equipment used. What is missing, failed or came after the first weighing stands among the findings. After a check-weight
/// that failed nothing is weighed until one passes. A correction names the check it corrects and the reason.
#[utoipa::path(post, path = "/v1/batches/{id}/checks",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewCheck, responses((status = 201, body = Check)))]
async fn check_create(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewCheck>,
) -> Answer {
    let check = bench::check_create(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}", id.0), &check)
}

/// Release a hold
///
/// A step of the method with `hold` lets its maker go on only after a second person has looked: an instructor of the library who
/// reads the record. The maker may do so only where the policy asks for no second person.
#[utoipa::path(post, path = "/v1/batches/{id}/hold-releases",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewHoldRelease, responses((status = 201, body = HoldRelease)))]
async fn hold_release(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewHoldRelease>,
) -> Answer {
    let released = bench::hold_release(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}", id.0), &released)
}

/// Authorise a deviation
///
/// Of a weighing whose reason is recorded, or of an entry of the kind `deviation` or `adjustment`. For instructors of the library
/// who read the record and did not make the batch. An entry that corrects it is authorised anew. From an adjustment on the batch
/// is judged by its adjusted recipe; it is refused once the phases are combined.
#[utoipa::path(post, path = "/v1/batches/{id}/authorisations",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewAuthorisation, responses((status = 201, body = Authorisation)))]
async fn authorise(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewAuthorisation>,
) -> Answer {
    let authorised = bench::authorise(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}", id.0), &authorised)
}

/// Work out what could correct a batch
///
/// Where too much of a line was weighed, more of everything else makes it right: the recipe is worked out anew for what was
/// weighed of the line that is furthest above its target, with the losses and the balance of before. As long as nothing is
/// combined: the step that says how far the phases may be apart is not done, or, where the method has none, no step is.
#[utoipa::path(get, path = "/v1/batches/{id}/adjustments",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, body = Adjustment)))]
async fn adjustment(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
) -> Answer {
    answer::read(&request, &bench::adjustment(&state.clinic, &caller.0, id.0).await?)
}

/// Propose an adjustment
///
/// Writes what could correct the batch, as it is worked out now, into the record as an entry of the kind `adjustment`. It counts
/// once a second person has authorised that entry; until then the batch is judged by the amounts from before it.
#[utoipa::path(post, path = "/v1/batches/{id}/adjustments",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewAdjustment, responses((status = 201, body = EntryWritten)))]
async fn adjust(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewAdjustment>,
) -> Answer {
    let written = bench::adjust(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&format!("/v1/batches/{}", id.0), &written)
}

/// Submit a batch record
///
/// Entries out of tolerance or missing do not prevent it: the findings are listed and saved with the submission.
#[utoipa::path(post, path = "/v1/batches/{id}/submissions",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = Submit, responses((status = 201, body = BatchRecord)))]
async fn batch_submit(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<Submit>,
) -> Answer {
    let record = bench::submit(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&bench::address(&record), &record)
}

/// Review a submitted batch record
///
/// Return it with comments, accept it or reject it. For instructors of the library other than the maker.
#[utoipa::path(post, path = "/v1/batches/{id}/reviews",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    request_body = NewReview, responses((status = 201, body = BatchRecord)))]
async fn batch_review(
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
    create: Create<NewReview>,
) -> Answer {
    let record = bench::review(&state.clinic, &caller.0, &create.once, id.0, &create.body).await?;
    answer::created(&bench::address(&record), &record)
}

/// Abandon a batch
///
/// Possible before it is submitted, and after it is returned.
#[utoipa::path(post, path = "/v1/batches/{id}/abandonment",
    tag = "batches", params(("id" = BatchId, Path, description = "The batch")),
    responses((status = 200, body = BatchRecord)))]
async fn batch_abandon(
    request: HttpRequest,
    state: Data<ApiState>,
    caller: Caller,
    id: Path<BatchId>,
) -> Answer {
    answer::read(&request, &bench::abandon(&state.clinic, &caller.0, id.0).await?)
}
