//! What a batch reserves of the shelf.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::LotId;

/// Reserving lots for a batch.
#[derive(Clone, Debug, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewReservations {
    /// For how many days: 1 to 14, 3 if absent (common practice, no source).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 3)]
    pub days: Option<u8>,
}

/// What a batch has reserved. How much of a lot is an amount of its recipe and is told to nobody.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Reservations {
    /// Until when; absent where nothing is reserved.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<DateTime<Utc>>,
    /// The lines for which something is reserved, in the order of the recipe.
    pub lines: Vec<LineReserved>,
}

/// What a batch has reserved for a line.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LineReserved {
    /// The line.
    #[schema(example = "1.1")]
    pub line: String,
    /// Whether that was all that the line asks for.
    pub enough: bool,
    /// From which lots.
    pub lots: Vec<LotReserved>,
}

/// A lot of which a batch has reserved some.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LotReserved {
    /// The lot.
    pub id: LotId,
    /// What the clinic writes on the container.
    #[schema(example = "L2026-0042")]
    pub number: String,
    /// The last day on which it may be used.
    pub keeps_until: NaiveDate,
}
