//! The ID of the request that is being answered: set by the boundary, read by whatever reports on the request.

use std::future::Future;

tokio::task_local! {
    static REQUEST_ID: String;
}

/// The current request's ID; empty outside a request.
pub(crate) fn current() -> String {
    REQUEST_ID.try_with(Clone::clone).unwrap_or_default()
}

/// Runs `work` as the request with this ID.
pub(crate) async fn scope<T>(id: String, work: impl Future<Output = T>) -> T {
    REQUEST_ID.scope(id, work).await
}

/// As [`scope`], for work that waits for nothing.
pub(crate) fn as_request<T>(id: String, work: impl FnOnce() -> T) -> T {
    REQUEST_ID.sync_scope(id, work)
}
