//! What is asked of the shelf: receiving, checking, counting, and taking out of use.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Receiving a lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "material": "yellow beeswax", "supplier": "Quillbrook apiary", "supplier_lot": "QB-26-117",
    "expires": "2028-06", "amount": "500 g", "price": "18.40 per kg"
}))]
pub struct NewLot {
    /// The material: any of its names, or its ID.
    #[schema(example = "yellow beeswax")]
    pub material: String,
    /// Who supplied it, or "own garden".
    #[schema(example = "Quillbrook apiary")]
    pub supplier: String,
    /// The supplier's lot, as it stands on the container.
    #[schema(example = "QB-26-117")]
    pub supplier_lot: String,
    /// How much came in: a mass, or a volume, which becomes a mass by the density of the material. Kept as typed.
    #[schema(example = "500 g")]
    pub amount: String,
    /// The day on which it was received; today if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub received: Option<NaiveDate>,
    /// The expiry that is printed on it: a day such as `2028-06-30`, or a month such as `2028-06`. Without one, it keeps
    /// for at most one year from receipt, or less by the kind of material.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2028-06")]
    pub expires: Option<String>,
    /// The day on which it was opened, if it is open already. The first weighing opens a lot by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub opened: Option<NaiveDate>,
    /// The price in the clinic's currency, such as `18.40 per kg`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "18.40 per kg")]
    pub price: Option<String>,
    /// The lot's own assay of a substance that is limited by the day, such as `0.5 ug/g pyrrolizidine alkaloids`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub assay: Option<String>,
    /// What the certificate says, and where it is filed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Certificate of 2026-03-02, folder 4.")]
    pub certificate: Option<String>,
    /// Who collected it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub collector: Option<String>,
    /// Where it was collected or grown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub site: Option<String>,
    /// When it was collected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub collected: Option<NaiveDate>,
}

/// The identity of a lot, as an instructor checked it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "confirmed": true, "species": "Calendula officinalis", "part": "flower", "condition": "dried, whole",
    "organoleptic": "Orange ray florets, faint smell, slightly bitter.",
    "look_alikes": "No smooth fruits, no disc florets of Heterotheca.", "foreign_matter": "Under 1 %, stalks."
}))]
pub struct NewIdentityCheck {
    /// Whether it is the material that it was received as.
    pub confirmed: bool,
    /// The botanical species that was found. A herb and an essential oil need it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Calendula officinalis")]
    pub species: Option<String>,
    /// The part of the plant. A herb needs it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "flower")]
    pub part: Option<String>,
    /// Fresh or dried, whole or cut. A herb needs it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "dried, whole")]
    pub condition: Option<String>,
    /// Appearance, smell and, where it is safe, taste. Of what the clinic made nothing else is described.
    #[schema(example = "Orange ray florets, faint smell, slightly bitter.")]
    pub organoleptic: String,
    /// How the plants that are mistaken for it were ruled out. A material of which some are known needs it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "No smooth fruits, no disc florets of Heterotheca.")]
    pub look_alikes: Option<String>,
    /// What did not belong in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Under 1 %, stalks.")]
    pub foreign_matter: Option<String>,
    /// Loss on drying.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub loss_on_drying: Option<String>,
    /// Why it was not confirmed, or why its own maker lets it in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub reason: Option<String>,
}

/// Why a lot is taken out of use, or thrown away.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LotReason {
    /// The reason, in 1 to 1000 characters.
    #[schema(example = "The lid was open, and it smells rancid.")]
    pub reason: String,
}

/// A count of what is left of a lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCount {
    /// What was found: a mass, or a volume, which becomes a mass by the density of the material. `0 g` for nothing.
    #[schema(example = "412 g")]
    pub counted: String,
    /// Why it is not what the ledger says, in 1 to 1000 characters.
    #[schema(example = "Counted at the end of term; crumbs stay in the jar.")]
    pub reason: String,
}

/// What a batch made, as it is put on the shelf.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "amount": "150 g" }))]
pub struct NewMadeLot {
    /// The mass of it. All lots of a batch together hold no more than its recorded yield.
    #[schema(example = "150 g")]
    pub amount: String,
    /// The last day on which it may be used, where that is earlier than the batch's own use-by date; that date if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub use_by: Option<NaiveDate>,
}
