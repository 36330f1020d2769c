//! Control charts of how closely records follow their recipes.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{CohortId, FormulaId, WorkSubmissionId};

/// A formula of which a cohort handed records in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ChartedFormula {
    /// The formula.
    pub formula: FormulaId,
    /// Its title.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// How many records.
    #[schema(example = 24)]
    pub records: u32,
}

/// The formulas of which a cohort handed records in.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ChartedFormulas {
    /// The cohort.
    pub cohort: CohortId,
    /// The formulas, those with most records first; at most 200.
    pub formulas: Vec<ChartedFormula>,
}

/// One point of a control chart.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ControlPoint {
    /// The submission.
    pub submission: WorkSubmissionId,
    /// The number of its batch.
    #[schema(example = "2026-0042")]
    pub batch_number: String,
    /// When it was handed in.
    pub handed_in_at: DateTime<Utc>,
    /// The value in per cent. Of a weighing, how far it is off its target, above nothing where it is too much; of a yield,
    /// how much came out of what was expected.
    #[schema(example = "0.42")]
    pub percent: String,
    /// Whether it is beyond the limits. Left out where there are no limits: nothing was judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = false)]
    pub beyond: Option<bool>,
    /// The moving range: how far it is from the point before it, in per cent. None of the first point.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.61")]
    pub range_percent: Option<String>,
    /// Whether the moving range is beyond its limit. Left out where there is no limit or no range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = false)]
    pub range_beyond: Option<bool>,
}

/// The lines of a control chart, in per cent.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ControlLimits {
    /// The mean of the values.
    #[schema(example = "0.12")]
    pub mean: String,
    /// The lower limit of the values.
    #[schema(example = "-1.40")]
    pub lower: String,
    /// The upper limit of the values.
    #[schema(example = "1.64")]
    pub upper: String,
    /// The mean of the moving ranges.
    #[schema(example = "0.57")]
    pub mean_range: String,
    /// The upper limit of the moving ranges. The lower one is nothing.
    #[schema(example = "1.87")]
    pub range_upper: String,
}

/// A control chart of individual values with their moving range.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ControlChart {
    /// The points in the order of their time, the newest ones of many.
    pub points: Vec<ControlPoint>,
    /// The limits, from `points_needed` points on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits: Option<ControlLimits>,
    /// Why there are no limits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub why_not: Option<String>,
}

/// Control charts of weighing error and yield, from the last version of each work. Relative errors tell no amount.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ControlCharts {
    /// From how many points on there are limits.
    #[schema(example = 20)]
    pub points_needed: u32,
    /// How many points a chart has at most, the newest ones.
    #[schema(example = 200)]
    pub most_points: u32,
    /// The rule behind the limits.
    #[schema(
        example = "Limits lie three times mean moving range / 1.128 from the mean, and at 3.267 mean ranges (constants from memory of ISO 7870-2), from 20 points on."
    )]
    pub rule: String,
    /// How far each weighed line is off its target.
    pub weighing_error: ControlChart,
    /// How much came out of what was expected. Recipes with a marc are left out, since what a marc keeps is not known.
    pub yield_share: ControlChart,
}
