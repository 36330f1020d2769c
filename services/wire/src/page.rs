//! Lists: a page of items and the way to the next.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// One page of a list. There are no totals: counting would cost more than the list.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Page<T> {
    /// The items, in the list's order.
    pub items: Vec<T>,
    /// Pass it as `after` for the next page; absent on the last. The same address stands in the `Link` header.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub next: Option<String>,
}

/// Which page of a list.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct PageQuery {
    /// Maximum number of items: 1 to 100, 50 if absent.
    #[param(minimum = 1, maximum = 100, example = 50)]
    pub limit: Option<u32>,
    /// The `next` of the previous page.
    pub after: Option<String>,
}
