//! Lots of materials and of what the clinic made, and what is left of them.

mod levels;
mod requests;
mod reserved;

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::figure::FigureSource;
use crate::ids::{BatchId, EntryId, LotDecisionId, LotId, LotMovementId, MaterialId, PersonId, RevisionId};
use crate::words::words;

pub use levels::{
    BatchLots, LineLots, LotChoice, MaterialStock, NewThreshold, StockCost, StockQuery, Threshold,
};
pub use requests::{LotReason, NewCount, NewIdentityCheck, NewLot, NewMadeLot};
pub use reserved::{LineReserved, LotReserved, NewReservations, Reservations};

words! {
    /// Whether a lot may be used.
    LotState {
        /// Kept apart until an instructor has confirmed what it is, or after a doubt.
        Quarantine = "quarantine",
        /// May be used until its date.
        Usable = "usable",
        /// Thrown away.
        Discarded = "discarded",
        /// Called back, with everything that was made of it. Not to be used.
        Recalled = "recalled",
    }
}

words! {
    /// What was decided of a lot.
    LotDecisionKind {
        /// It is the material that it was received as. It becomes usable.
        Confirmed = "confirmed",
        /// It is another material, or nobody can tell. It stays in quarantine.
        NotConfirmed = "not_confirmed",
        /// Taken out of use for a doubt.
        Quarantined = "quarantined",
        /// Thrown away.
        Discarded = "discarded",
        /// Called back.
        Recalled = "recalled",
    }
}

words! {
    /// How the balance of a lot moved.
    MovementKind {
        /// It came in.
        Received = "received",
        /// An entry of a batch weighed it out.
        Used = "used",
        /// An entry was corrected, and what it had weighed came back.
        Returned = "returned",
        /// It was counted, and there was more or less than the ledger said.
        Adjusted = "adjusted",
        /// What was left was thrown away.
        Discarded = "discarded",
    }
}

/// What was decided of a lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LotDecision {
    /// The decision.
    pub id: LotDecisionId,
    /// What was decided.
    pub decision: LotDecisionKind,
    /// The species that was found.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Calendula officinalis")]
    pub species: Option<String>,
    /// The part of the plant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "flower")]
    pub part: Option<String>,
    /// Fresh or dried, whole or cut.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "dried, whole")]
    pub condition: Option<String>,
    /// Appearance, smell and taste.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub organoleptic: Option<String>,
    /// How look-alikes were ruled out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub look_alikes: Option<String>,
    /// What did not belong in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub foreign_matter: Option<String>,
    /// Loss on drying.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loss_on_drying: Option<String>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Set where its own maker let it in, because the policy asks for no second person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Who decided.
    pub by: PersonId,
    /// The name of that person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// A plant that is mistaken for the material, or sold as it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LotLookAlike {
    /// Botanical and common name.
    #[schema(example = "Teucrium species, germander")]
    pub name: String,
    /// Whether the mistake can poison.
    pub poisonous: bool,
    /// How they are told apart.
    pub text: String,
    /// Where that is written.
    pub source: FigureSource,
}

/// A lot, in a list.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LotSummary {
    /// The lot.
    pub id: LotId,
    /// What the clinic writes on the container.
    #[schema(example = "L2026-0042")]
    pub number: String,
    /// The material; absent of what the clinic made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub material: Option<MaterialId>,
    /// The revision that it was made by, of what the clinic made. A formula that nests this revision is weighed from it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revision: Option<RevisionId>,
    /// The name of the material, or the title of the formula that it was made by.
    #[schema(example = "yellow beeswax")]
    pub material_name: String,
    /// Whether it may be used.
    pub state: LotState,
    /// Who supplied it; `made here` of what the clinic made.
    #[schema(example = "Quillbrook apiary")]
    pub supplier: String,
    /// The supplier's lot, or the number of the batch that made it.
    #[schema(example = "QB-26-117")]
    pub supplier_lot: String,
    /// The last day on which it may be used.
    pub keeps_until: NaiveDate,
    /// Whether that day has passed.
    pub expired: bool,
    /// The day on which it was opened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-03-02")]
    pub opened: Option<NaiveDate>,
    /// Whether nothing is left.
    pub used_up: bool,
    /// What is left, in g. For instructors and administrators.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "412.5")]
    pub on_hand_grams: Option<String>,
}

/// Who made what stands in a lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LotMade {
    /// The batch whose record tells what is in it, for members of its library.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<BatchId>,
    /// Who made it. Another instructor lets it in.
    pub maker: PersonId,
    /// The name of that person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub maker_name: Option<String>,
}

/// A lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Lot {
    /// What stands in lists.
    #[serde(flatten)]
    pub summary: LotSummary,
    /// The version of the lot: every movement and decision raises it.
    pub version: u64,
    /// The day on which it was received.
    pub received: NaiveDate,
    /// The expiry that is printed on it, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2028-06")]
    pub expires: Option<String>,
    /// By which rule it keeps until `keeps_until`, and where the rule comes from.
    pub keeps_rule: String,
    /// How much came in, as typed. Of what the clinic made, for instructors and administrators.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "500 g")]
    pub amount: Option<String>,
    /// Who made it, of what the clinic made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made: Option<LotMade>,
    /// By which density a volume became grams.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "500 mL, 0.915 g/mL")]
    pub converted_by: Option<String>,
    /// The price, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "18.40 per kg")]
    pub price: Option<String>,
    /// The currency of the price.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "EUR")]
    pub currency: Option<String>,
    /// The lot's own assay.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "0.5 ug/g pyrrolizidine alkaloids")]
    pub assay: Option<String>,
    /// What the certificate says, and where it is filed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub certificate: Option<String>,
    /// Who collected it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub collector: Option<String>,
    /// Where it was collected or grown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<String>,
    /// When it was collected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-06-24")]
    pub collected: Option<NaiveDate>,
    /// Who received it.
    pub received_by: PersonId,
    /// The name of that person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Petra Hollweg")]
    pub received_by_name: Option<String>,
    /// When that was entered.
    pub received_at: DateTime<Utc>,
    /// What was decided of it, the newest first, twenty at most.
    pub decisions: Vec<LotDecision>,
    /// How many batches have reserved some of it. For instructors and administrators.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 1)]
    pub reserved_for: Option<u32>,
    /// The plants that are mistaken for the material, as far as the materia medica knows them.
    pub known_look_alikes: Vec<LotLookAlike>,
}

/// Which lots are listed.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct LotQuery {
    /// Only lots in this state; all but discarded ones if absent.
    #[param(inline)]
    pub state: Option<LotState>,
    /// Only lots of this material, by any of its names or its ID.
    #[param(example = "yellow beeswax")]
    pub material: Option<String>,
    /// Only lots that this batch made.
    #[param(example = json!(null))]
    pub batch: Option<BatchId>,
    /// The lot with this number, such as `L2026-0042`, whatever its state.
    #[param(example = json!(null))]
    pub number: Option<String>,
    /// Only lots with something left that keep for at most so many days from today, those past their date too: 0 to 3650.
    #[param(example = 60)]
    pub expiring_within_days: Option<u16>,
    /// Maximum number of items: 1 to 100, 50 if absent.
    #[param(minimum = 1, maximum = 100, example = 50)]
    pub limit: Option<u32>,
    /// The `next` of the previous page.
    pub after: Option<String>,
}

/// A movement of a lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct LotMovement {
    /// The movement.
    pub id: LotMovementId,
    /// Its number within the lot.
    pub number: u32,
    /// How the balance moved.
    pub kind: MovementKind,
    /// By how much, in g, with its sign. What a batch used stands in its record only, which not everybody may read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "-3.5")]
    pub grams: Option<String>,
    /// What was counted, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "412 g")]
    pub counted: Option<String>,
    /// The batch that used it, for members of its library.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<BatchId>,
    /// The number of that batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-0042")]
    pub batch_number: Option<String>,
    /// The entry of that batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entry: Option<EntryId>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Who did it.
    pub by: PersonId,
    /// The name of that person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}
