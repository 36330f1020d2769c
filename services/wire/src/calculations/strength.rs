//! Strength and dilution.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::questions;

questions! {
    /// A question about strengths: name one.
    StrengthQuestion {
        /// A strength stated in every other way.
        Statement(StrengthStatement) = statement,
        /// The parts in which two strengths make a third.
        AlligationAlternate(AlligationAlternate) = alligation_alternate,
        /// The parts in which three or more strengths make another.
        AlligationOfMany(AlligationOfMany) = alligation_of_many,
        /// The mean strength of portions.
        AlligationMedial(AlligationMedial) = alligation_medial,
        /// How much of a stock makes a wanted amount of a lower strength.
        StockDilution(StockDilution) = stock_dilution,
        /// The strength of a stock that is made up to more.
        MadeUp(MadeUp) = made_up,
        /// How much powder brings an ointment to a share.
        Powder(PowderIntoBase) = powder,
        /// The specific gravity of a liquid.
        SpecificGravity(SpecificGravity) = specific_gravity,
        /// An amount enlarged or reduced in proportion.
        Proportion(Proportion) = proportion,
    }
}

/// A strength as it is stated.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StrengthStatement {
    /// `0.5 %`, `2 % w/v`, `1:200`, `1 in 500`, `50 ppm`, `1 mg/5 mL`, `250 mcg/mL` or `0.1 mg/g`.
    #[schema(example = "1:200")]
    pub strength: String,
    /// The density of the whole, by which mass in volume becomes mass in mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub density: Option<String>,
}

/// Two strengths and the one wanted between them. Nothing contracts; for alcohol by volume ask the alcohol
/// calculator.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AlligationAlternate {
    /// One strength.
    #[schema(example = "95 %")]
    pub one: String,
    /// The other.
    #[schema(example = "30 %")]
    pub other: String,
    /// The strength wanted.
    #[schema(example = "70 %")]
    pub wanted: String,
    /// How much is wanted in all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "650 mL")]
    pub amount: Option<String>,
    /// Instead: how much there is of `one`, to which the other is to be added.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub amount_of_one: Option<String>,
}

/// Three strengths or more and the one wanted among them: the strongest is paired with the weakest, and so on inwards.
/// Other proportions make the same strength. Nothing contracts.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AlligationOfMany {
    /// From 2 to 20 strengths.
    #[schema(example = json!(["20 %", "15 %", "5 %", "3 %"]))]
    pub strengths: Vec<String>,
    /// The strength wanted.
    #[schema(example = "10 %")]
    pub wanted: String,
    /// How much is wanted in all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "270 g")]
    pub amount: Option<String>,
}

/// Portions to mix. Nothing contracts.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AlligationMedial {
    /// From 1 to 50 portions, all by mass or all by volume.
    pub portions: Vec<StrengthPortion>,
}

/// A portion of a strength.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StrengthPortion {
    /// How much.
    #[schema(example = "3000 mL")]
    pub amount: String,
    /// How strong.
    #[schema(example = "40 %")]
    pub strength: String,
}

/// A stock to make a lower strength of.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StockDilution {
    /// How much is wanted.
    #[schema(example = "400 mL")]
    pub wanted: String,
    /// The strength wanted, on the same basis as the stock's.
    #[schema(example = "5 % w/v")]
    pub strength: String,
    /// The strength of the stock.
    #[schema(example = "20 % w/v")]
    pub stock: String,
}

/// A stock made up to more.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MadeUp {
    /// The strength of the stock.
    #[schema(example = "1:20")]
    pub stock: String,
    /// How much of it.
    #[schema(example = "50 mL")]
    pub stock_amount: String,
    /// To how much it is made up.
    #[schema(example = "1000 mL")]
    pub whole: String,
}

/// Powder to rub into a base.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PowderIntoBase {
    /// The base, by mass.
    #[schema(example = "60 g")]
    pub base: String,
    /// The share of powder in the base already, by mass; nothing where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "5 %")]
    pub present: Option<String>,
    /// The share wanted, by mass of the whole.
    #[schema(example = "20 %")]
    pub wanted: String,
}

/// A liquid, weighed and measured.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SpecificGravity {
    /// Its mass.
    #[schema(example = "125 g")]
    pub mass: String,
    /// Its volume.
    #[schema(example = "99 mL")]
    pub volume: String,
    /// The density of water at the same temperature; at 25 °C where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.997 g/mL")]
    pub water: Option<String>,
}

/// An amount out of a whole, for another whole.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Proportion {
    /// How much of it is in the whole.
    #[schema(example = "60 g")]
    pub amount: String,
    /// The whole as it is written.
    #[schema(example = "1000 g")]
    pub whole: String,
    /// The whole that is wanted.
    #[schema(example = "20 g")]
    pub part: String,
}
