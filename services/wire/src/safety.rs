//! Cautions and their acknowledgement.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::ids::{AcknowledgementId, AmendmentId, ApiClientId, HolderId, PersonId, RevisionId};
use crate::words::words;

words! {
    /// How strongly a caution binds.
    CautionLevel {
        /// Shown.
        Note = "note",
        /// Acknowledged with the set.
        Caution = "caution",
        /// Acknowledged on its own.
        Contraindication = "contraindication",
        /// Blocks approval until it is resolved.
        Stop = "stop",
    }
}

words! {
    /// The groups in which a caution set is read, in this order.
    CautionGroup {
        /// Who must not use it.
        MustNot = "must_not",
        /// Who asks a professional first.
        AskFirst = "ask_first",
        /// How it is used.
        HowToUse = "how_to_use",
        /// How it is kept.
        HowToKeep = "how_to_keep",
        /// For whoever makes it.
        ForTheMaker = "for_the_maker",
    }
}

words! {
    /// The part of a preparation's life that a caution is about.
    CautionStage {
        /// While it is made.
        Making = "making",
        /// While it is kept.
        Keeping = "keeping",
        /// When it is used.
        Use = "use",
    }
}

impl CautionGroup {
    /// Group and stage of a caution that was entered or stored without either.
    #[must_use]
    pub fn unstated(level: CautionLevel, audiences: &[String]) -> (Self, CautionStage) {
        let for_everyone = audiences.iter().all(|audience| audience == "everyone");
        let group = match level {
            CautionLevel::Contraindication | CautionLevel::Stop => Self::MustNot,
            CautionLevel::Note | CautionLevel::Caution if for_everyone => Self::HowToUse,
            CautionLevel::Note | CautionLevel::Caution => Self::AskFirst,
        };
        (group, CautionStage::Use)
    }
}

words! {
    /// What an acknowledgement opens the gate for.
    Purpose {
        /// An approved revision, to be made.
        Make = "make",
        /// Any state, for those who decide about it: never for making.
        Decide = "decide",
        /// A batch that was opened before its revision was superseded, withdrawn or withheld: to go on with its record
        /// and hand it in. Opens no recipe.
        Record = "record",
    }
}

/// One caution of a revision.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Caution {
    /// The caution's stable name.
    #[schema(example = "beeswax-allergy-bee-products")]
    pub key: String,
    /// The version of its text.
    pub text_version: u32,
    /// How strongly it binds.
    pub level: CautionLevel,
    /// Where it is read in the set.
    pub group: CautionGroup,
    /// What it is about.
    pub stage: CautionStage,
    /// The language of the text (BCP 47).
    #[schema(example = "en")]
    pub language: String,
    /// What it says.
    #[schema(example = "For external use only.")]
    pub text: String,
    /// The same for a small label, where there is a shorter form.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "External use only")]
    pub label: Option<String>,
    /// For whom it is meant: `everyone`, `pregnant`, `breast-feeding`, `under:6y`, `allergy:GROUP`, `condition:WORD`.
    #[schema(example = json!(["everyone"]))]
    pub audiences: Vec<String>,
    /// Where it comes from.
    pub source: String,
    /// `verified`, `secondary`, `from memory` or `common practice`.
    pub status: String,
    /// Why it is there: paths from the formula down to what brought it. Of the paths that lead to one nested revision,
    /// the first eight are named, from top to bottom.
    #[schema(example = json!(["infused oil of calendula > Calendula officinalis"]))]
    pub origins: Vec<String>,
    /// What the clinic made of its level, where it did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changed: Option<ChangedLevel>,
}

/// What a caution says, as it stands in a recipe. Its source and why it is there stand in the caution set, at
/// `/v1/revisions/{id}/cautions`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CautionInRecipe {
    /// The caution's stable name.
    #[schema(example = "beeswax-allergy-bee-products")]
    pub key: String,
    /// How strongly it binds.
    pub level: CautionLevel,
    /// Where it is read.
    pub group: CautionGroup,
    /// What it says.
    #[schema(example = "For external use only.")]
    pub text: String,
    /// For whom it is meant, as in the caution set.
    #[schema(example = json!(["everyone"]))]
    pub audiences: Vec<String>,
}

/// The acknowledged cautions, as they stand in a recipe.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CautionsInRecipe {
    /// The digest of the caution set that was acknowledged.
    #[schema(example = "7f83b1657ff1fc53b92dc18148a1d65dfc2d4b1fa3d677284addd200126d9069")]
    pub digest: String,
    /// The strongest first.
    pub cautions: Vec<CautionInRecipe>,
    /// What the evaporation loss of this recipe raises and the acknowledged set does not hold. It goes on the label of the
    /// batch too. A loss that raises a contraindication is refused.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub by_loss: Vec<CautionInRecipe>,
    /// Set where it could not be judged which cautions the evaporation loss raises.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub loss_not_judged: Option<String>,
    /// The notice that the clinic puts on everything it gives out.
    pub notice: String,
}

impl From<&Caution> for CautionInRecipe {
    fn from(caution: &Caution) -> Self {
        Self {
            key: caution.key.clone(),
            level: caution.level,
            group: caution.group,
            text: caution.text.clone(),
            audiences: caution.audiences.clone(),
        }
    }
}

impl From<&CautionSet> for CautionsInRecipe {
    fn from(set: &CautionSet) -> Self {
        Self {
            digest: set.digest.clone(),
            cautions: set.cautions.iter().map(CautionInRecipe::from).collect(),
            by_loss: Vec::new(),
            loss_not_judged: None,
            notice: set.notice.clone(),
        }
    }
}

/// A caution's level that the clinic changed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ChangedLevel {
    /// The level that it has without the change.
    pub was: CautionLevel,
    /// Whether the caution was set aside: it is shown and no longer binds.
    pub set_aside: bool,
    /// Why.
    pub reason: String,
    /// The amendment, with who made and who confirmed it.
    pub amendment: AmendmentId,
}

/// The caution set of a revision.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CautionSet {
    /// The revision.
    pub revision: RevisionId,
    /// Names the set in an acknowledgement: SHA-256 over the sorted id, text version and level of every
    /// caution of level `caution` and above.
    #[schema(example = "7f83b1657ff1fc53b92dc18148a1d65dfc2d4b1fa3d677284addd200126d9069")]
    pub digest: String,
    /// The cautions, strongest first.
    pub cautions: Vec<Caution>,
    /// What was looked at and not raised, with the reason. Left out of what was acknowledged.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_raised: Vec<NotRaised>,
    /// Texts that the data already have for what the author of this draft entered. Only in the set of a draft.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub offers: Vec<CautionOffer>,
    /// Whose findings stand behind the set. Absent in what was acknowledged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub looked_at: Option<LookedAt>,
    /// The clinic's notice, which goes with every recipe.
    pub notice: String,
}

/// A caution of the author's that the set says already in other words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CautionOffer {
    /// What the author entered.
    #[schema(example = "External use only.")]
    pub entered: String,
    /// The caution that says it.
    #[schema(example = "liniment-external")]
    pub key: String,
    /// Its text. The author may remove the own one.
    #[schema(example = "For external use only; stop if the skin reddens or itches.")]
    pub text: String,
}

/// What was looked at for a caution set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LookedAt {
    /// The ingredients with findings on record, by name.
    #[schema(example = json!(["calendula flower, dried", "olive oil"]))]
    pub judged: Vec<String>,
    /// The ingredients that the clinic entered without a caution or finding of its own, by name.
    #[schema(example = json!([]))]
    pub not_judged: Vec<String>,
    /// The youngest age that the formula is meant for, in months. Absent if it is for adults only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 72)]
    pub youngest_months: Option<u32>,
}

impl Caution {
    /// Whether somebody who read `earlier` has read this: the same text, no stronger, for nobody else.
    #[must_use]
    pub fn was_read_as(&self, earlier: &Self) -> bool {
        self.key == earlier.key
            && self.text_version == earlier.text_version
            && self.level <= earlier.level
            && self.audiences.iter().all(|audience| earlier.audiences.contains(audience))
    }
}

impl CautionSet {
    /// Whether a caution was read with this set.
    #[must_use]
    pub fn covers(&self, caution: &Caution) -> bool {
        self.cautions.iter().any(|known| caution.was_read_as(known))
    }
}

/// What changed in a caution set since the caller acknowledged one of the same revision.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct CautionChanges {
    /// The digest of the current set, which an acknowledgement names.
    #[schema(example = "7f83b1657ff1fc53b92dc18148a1d65dfc2d4b1fa3d677284addd200126d9069")]
    pub caution_set: String,
    /// The acknowledgement that it is compared with. Absent if there is none whose time still runs: then all is new.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub since: Option<AcknowledgementId>,
    /// In words.
    #[schema(example = "2 new, 1 stronger or reworded, 6 unchanged.")]
    pub sentence: String,
    /// The cautions that were not in that set.
    pub new: Vec<Caution>,
    /// The cautions that are stronger, reworded or meant for more people.
    pub changed: Vec<ChangedCaution>,
    /// The number of cautions that stand as they were.
    #[schema(example = 6)]
    pub unchanged: usize,
}

/// A caution beside what was acknowledged before.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ChangedCaution {
    /// As it was acknowledged.
    pub before: Caution,
    /// As it stands now.
    pub now: Caution,
}

/// A caution that was looked at and not raised. It holds no figure of the formula.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct NotRaised {
    /// The caution's stable name.
    #[schema(example = "furocoumarin-sun")]
    pub key: String,
    /// What it would say.
    #[schema(example = "Keep treated skin out of the sun for twelve hours.")]
    pub text: String,
    /// How strongly it would bind.
    pub level: CautionLevel,
    /// For whom it would be meant.
    #[schema(example = json!(["everyone"]))]
    pub audiences: Vec<String>,
    /// Why it is not raised.
    #[schema(example = "lemon oil: not above 2 % of the product.")]
    pub because: String,
    /// Where the threshold comes from, if it stays below one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// What would bring it.
    #[schema(example = json!(["lemon oil"]))]
    pub origins: Vec<String>,
}

words! {
    /// What the recorded cautions come to for one audience. It is no diagnosis and no advice.
    Suitability {
        /// A contraindication or a stop is meant for this audience.
        NotSuitable = "not_suitable",
        /// A caution is meant for this audience, such as that safety is not established.
        NotRecommended = "not_recommended",
        /// Only notes are meant for this audience.
        SeeNotes = "see_notes",
        /// Nothing recorded is meant for this audience. That is not the same as safe.
        NothingRecorded = "nothing_recorded",
    }
}

words! {
    /// The answer for one audience, the gravest first. It is no diagnosis and no advice.
    AudienceSuits {
        /// A stop stands: nobody makes it.
        Stop = "stop",
        /// This audience must not use it.
        NotSuitable = "not_suitable",
        /// This audience asks a professional first.
        AskFirst = "ask_first",
        /// Something was not judged; `missing` says what.
        NotKnown = "not_known",
        /// Only what to mind in using it is meant for this audience.
        WithCare = "with_care",
        /// Every ingredient was judged, and nothing is recorded against it.
        NothingKnownAgainst = "nothing_known_against",
    }
}

/// The cautions of a revision that apply to one audience.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct AudienceAnswer {
    /// The audience that was asked for.
    #[schema(example = "age:4")]
    pub audience: String,
    /// The answer.
    pub answer: AudienceSuits,
    /// The answer in fewer steps, by the levels of the cautions alone. `answer` says more.
    pub suitability: Suitability,
    /// The answer in a sentence.
    pub sentence: String,
    /// What was not judged.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!(["The limits were judged for adults only. State the youngest age in the formula."]))]
    pub missing: Vec<String>,
    /// The ingredients whose findings stand behind the answer.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!(["calendula flower, dried", "olive oil"]))]
    pub looked_at: Vec<String>,
    /// What is meant for this audience, strongest first.
    pub meant_for_it: Vec<Caution>,
    /// What is meant for everyone.
    pub meant_for_everyone: Vec<Caution>,
    /// What was looked at for this audience and not raised, with the reason.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_raised: Vec<NotRaised>,
    /// The clinic's notice.
    pub notice: String,
}

/// Which audience.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AudienceQuery {
    /// `pregnant`, `breast-feeding`, `age:4` (years) or `age:18m` (months), `allergy:asteraceae`, `condition:sun`.
    #[param(example = "age:4")]
    pub audience: String,
}

/// Acknowledging a caution set.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "caution_set": "7f83b1657ff1fc53b92dc18148a1d65dfc2d4b1fa3d677284addd200126d9069",
    "contraindications": ["beeswax-allergy-bee-products"],
}))]
pub struct Acknowledge {
    /// The digest of the caution set that was read; a set that changed meanwhile is refused.
    #[schema(example = "7f83b1657ff1fc53b92dc18148a1d65dfc2d4b1fa3d677284addd200126d9069")]
    pub caution_set: String,
    /// The key of every contraindication in the set, each acknowledged on its own. Those that stand unchanged since an
    /// acknowledgement whose time still runs may be left out.
    #[serde(default)]
    pub contraindications: Vec<String>,
    /// For whom the preparation is meant, beside everyone: `pregnant`, `breast-feeding`, `age:4`, `allergy:GROUP`,
    /// `condition:WORD`. The clinic's policy names audiences for which an instructor countersigns first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub meant_for: Vec<String>,
    /// Set by the responsible person to acknowledge for an API client.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub for_api_client: Option<ApiClientId>,
}

/// A given acknowledgement.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Acknowledgement {
    /// The acknowledgement.
    pub id: AcknowledgementId,
    /// For whom it opens the gate.
    pub holder: HolderId,
    /// The holder's name.
    #[schema(example = "Noor Haddad")]
    pub holder_name: String,
    /// The person who answers for it.
    pub given_by: PersonId,
    /// That person's name. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub given_by_name: Option<String>,
    /// The revision.
    pub revision: RevisionId,
    /// The revision's title.
    #[schema(example = "Calendula salve")]
    pub title: String,
    /// The revision's digest.
    pub revision_digest: String,
    /// What it opens the gate for.
    pub purpose: Purpose,
    /// The set that was acknowledged, with the texts as they were shown.
    pub caution_set: CautionSet,
    /// The contraindications that were acknowledged each on its own.
    pub contraindications: Vec<String>,
    /// When it was given.
    pub at: DateTime<Utc>,
    /// When it ends, unless something ends it before.
    pub valid_until: DateTime<Utc>,
    /// For whom the preparation is meant, beside everyone.
    pub meant_for: Vec<String>,
    /// Whether an instructor's countersignature is needed before anything is made by it. One to decide opens the gate at
    /// once, and permits making once the revision is approved and it is countersigned.
    pub needs_countersignature: bool,
    /// Who countersigned it.
    pub countersigned_by: Option<PersonId>,
    /// That person's name. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub countersigned_by_name: Option<String>,
    /// Whether it opens the gate now.
    pub open: bool,
}
