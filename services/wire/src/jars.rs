//! Jars: filling them, deciding whether what is in them may be used, and what their labels say to whoever holds one.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::bench::Disposition;
use crate::ids::{BatchId, JarId, LibraryId, PersonId};
use crate::label::{Label, LabelIngredient, LabelWarnings};
use crate::safety::CautionLevel;
use crate::words::words;

/// Filling jars alike.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "jars": 12, "fill": "30 g", "samples": 1 }))]
pub struct NewJars {
    /// How many: 1 to 500.
    #[schema(example = 12)]
    pub jars: u32,
    /// What each holds: a mass, or a volume together with `density`.
    #[schema(example = "30 g")]
    pub fill: String,
    /// The density of the product, as it was measured: for a fill by volume.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub density: Option<String>,
    /// An earlier last day than that of the batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub use_by: Option<NaiveDate>,
    /// How many of them are kept as samples, to be looked at and never handed out: the last ones.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 1)]
    pub samples: Option<u32>,
}

/// One jar.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Jar {
    /// The jar.
    pub id: JarId,
    /// Its number within the batch, from 1.
    #[schema(example = 7)]
    pub number: u32,
    /// Its code: 26 letters and digits, chosen at random. Whoever types or scans it reads the page of the jar.
    #[schema(example = "4t6qk0x9w2m8n5c7r3h1vjzb0e")]
    pub code: String,
    /// The path of the page of the jar.
    #[schema(example = "/jars/4t6qk0x9w2m8n5c7r3h1vjzb0e")]
    pub page: String,
    /// What it holds, as typed.
    #[schema(example = "30 g")]
    pub fill: String,
    /// The last day on which it may be used: its own, or that of its batch where somebody brought that forward. Absent where
    /// no rule dates it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-12-19")]
    pub use_by: Option<NaiveDate>,
    /// Whether it is kept as a sample. Such a jar is never handed out.
    #[serde(default)]
    #[schema(example = false)]
    pub sample: bool,
    /// The number of the jar whose content fills it; absent where it was filled from the yield.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub decanted_from: Option<u32>,
    /// The numbers of the jars into which its content was filled. It is empty then.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!([]))]
    pub decanted_into: Vec<u32>,
    /// Where it went. For instructors; absent while it is here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub handed: Option<JarHanded>,
}

/// That a jar was handed out, and to which reference of the clinic.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct JarHanded {
    /// The clinic's own reference.
    #[schema(example = "C-1042")]
    pub reference: String,
    /// The day.
    #[schema(example = "2026-11-30")]
    pub on: NaiveDate,
    /// Who handed it out.
    pub by: PersonId,
    /// The name of the person who handed it out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// That it came back. It is not handed out again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub returned: Option<JarReturned>,
}

/// That a jar came back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct JarReturned {
    /// What is said of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Half used.")]
    pub note: Option<String>,
    /// Who took it back.
    pub by: PersonId,
    /// The name of the person who took it back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// Handing a jar out.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "reference": "C-1042", "suitability_asked": true, "cautions_told": true, "opening_told": true
}))]
pub struct NewHanding {
    /// The clinic's own reference for whom it is: 3 to 24 letters, digits, dashes and strokes, with a digit in it. Never a name.
    #[schema(example = "C-1042")]
    pub reference: String,
    /// That it was asked whether it suits. The answer is stored nowhere. Must be `true`.
    pub suitability_asked: bool,
    /// That the cautions of the label were told. Must be `true`.
    pub cautions_told: bool,
    /// That it was told how long it keeps once it was opened. Must be `true`.
    pub opening_told: bool,
}

/// Jars of one size into which another is decanted.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DecantInto {
    /// How many.
    #[schema(example = 2)]
    pub jars: u32,
    /// What each holds: a mass, or a volume together with `density`.
    #[schema(example = "5 g")]
    pub fill: String,
    /// The density of the product, as it was measured: for a fill by volume.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub density: Option<String>,
}

/// Filling the content of a jar into smaller ones of its batch.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "into": [{ "jars": 2, "fill": "5 g" }], "reason": "A small jar is needed." }))]
pub struct NewDecanting {
    /// The sizes, 1 to 10. Together they hold no more than the jar; what is missing was lost.
    pub into: Vec<DecantInto>,
    /// Why, 1 to 1000 characters.
    #[schema(example = "A small jar is needed.")]
    pub reason: String,
}

/// Keeping a jar as a sample that was filled before.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "reason": "The first sample was used up." }))]
pub struct NewSample {
    /// Why, 1 to 1000 characters.
    #[schema(example = "The first sample was used up.")]
    pub reason: String,
}

/// Taking a jar back.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "note": "Half used." }))]
pub struct NewJarReturn {
    /// 1 to 1000 characters, without a name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Half used.")]
    pub note: Option<String>,
}

/// A jar, with what is told when it is handed out.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct JarSheet {
    /// The batch.
    pub batch: BatchId,
    /// The number of the batch.
    #[schema(example = "2026-0042")]
    pub batch_number: String,
    /// What is in it.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// Whether what was made may be used.
    pub disposition: Disposition,
    /// The cautions to be told, the strongest first.
    #[schema(example = json!(["For external use only."]))]
    pub cautions: Vec<String>,
    /// For how long once it was opened.
    #[schema(example = "Use within three months of opening.")]
    pub after_opening: String,
    /// Why it is not handed out. Absent where it may be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub barred: Option<String>,
    /// The jar.
    pub jar: Jar,
}

words! {
    /// Which of the jars on the shelf.
    JarsOf {
        /// They may be handed out today.
        Ready = "ready",
        /// They are in date, and nobody has released them.
        Quarantine = "quarantine",
        /// Their last day is past. Whoever is responsible discards their batch.
        Past = "past",
    }
}

/// Which jars of the shelf are listed.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct JarQuery {
    /// Only those that stand so; all if absent.
    #[param(inline)]
    pub of: Option<JarsOf>,
    /// Only jars of this library.
    #[param(example = json!(null))]
    pub library: Option<LibraryId>,
    /// Only jars of this batch.
    #[param(example = json!(null))]
    pub batch: Option<BatchId>,
    /// Only jars whose last day comes within so many days from today: 0 to 3650.
    #[param(example = 14)]
    pub use_by_within_days: Option<u16>,
    /// Maximum number of items: 1 to 100, 50 if absent.
    #[param(minimum = 1, maximum = 100, example = 50)]
    pub limit: Option<u32>,
    /// The `next` of the previous page.
    pub after: Option<String>,
}

/// Jars on the shelf that were filled alike.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct JarsHere {
    /// Their batch.
    pub batch: BatchId,
    /// The number of the batch.
    #[schema(example = "2026-0042")]
    pub batch_number: String,
    /// What is in them.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// Whether what was made may be used.
    pub disposition: Disposition,
    /// What each holds, as typed.
    #[schema(example = "30 g")]
    pub fill: String,
    /// Their last day. Absent where no rule dates them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-12-19")]
    pub use_by: Option<NaiveDate>,
    /// The jars, by their numbers.
    pub jars: Vec<JarNumbered>,
    /// Why they are not handed out. Absent where they may be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub barred: Option<String>,
}

impl JarsHere {
    /// The numbers of the jars in words, such as `1 to 5, 8`.
    #[must_use]
    pub fn numbers(&self) -> String {
        let mut runs: Vec<(u32, u32)> = Vec::new();
        for JarNumbered { number, .. } in &self.jars {
            match runs.last_mut() {
                Some((_, last)) if last.checked_add(1) == Some(*number) => *last = *number,
                _ => runs.push((*number, *number)),
            }
        }
        let told = runs.into_iter().map(|(first, last)| match last - first {
            0 => first.to_string(),
            1 => format!("{first}, {last}"),
            _ => format!("{first} to {last}"),
        });
        told.collect::<Vec<_>>().join(", ")
    }
}

/// A jar on the shelf.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct JarNumbered {
    /// The jar.
    pub id: JarId,
    /// Its number within the batch.
    #[schema(example = 7)]
    pub number: u32,
}

words! {
    /// What was decided about what a batch made.
    BatchDecisionKind {
        /// It may be given out.
        Released = "released",
        /// It was thrown away.
        Discarded = "discarded",
        /// It was called back.
        Recalled = "recalled",
    }
}

impl From<BatchDecisionKind> for Disposition {
    fn from(decision: BatchDecisionKind) -> Self {
        match decision {
            BatchDecisionKind::Released => Self::Released,
            BatchDecisionKind::Discarded => Self::Discarded,
            BatchDecisionKind::Recalled => Self::Recalled,
        }
    }
}

/// A decision about what a batch made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct BatchDecision {
    /// What was decided.
    pub decision: BatchDecisionKind,
    /// Why. Always there but for a release by somebody else than the maker.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub reason: Option<String>,
    /// Who decided.
    pub by: PersonId,
    /// The name of the person who decided.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// `released by its maker`, where the policy allowed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub note: Option<String>,
}

/// The jars of a batch, and what was decided about what is in them.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Jars {
    /// The batch.
    pub batch: BatchId,
    /// Its number, which stands on every jar.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// What was made.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// Whether what is in the jars may be used.
    pub disposition: Disposition,
    /// The jars, by their numbers.
    pub jars: Vec<Jar>,
    /// What of the yield is neither filled, nor on the shelf, nor lost or kept as a sample after the yield was weighed. Absent
    /// where no yield is recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "42.5 g")]
    pub left: Option<String>,
    /// Why the labels of the jars have no code to scan. Absent where they have one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub no_scan: Option<String>,
    /// The decisions, the first one first.
    pub decisions: Vec<BatchDecision>,
}

words! {
    /// What keeps a batch from being released.
    ReleaseBarKind {
        /// Its record is not accepted.
        Record = "record",
        /// It is not in quarantine: made for practice, or decided about already.
        Disposition = "disposition",
        /// A hold was released by nobody.
        Hold = "hold",
        /// Its composition as made is not known.
        Composition = "composition",
        /// A limit is exceeded, or it is not known whether it is kept.
        Limit = "limit",
        /// No use-by date is known, or it has passed.
        UseBy = "use_by",
        /// The pH was not measured, or is not where its preservative works or the formula wants it.
        Ph = "ph",
        /// Its cautions hold a stop.
        Stop = "stop",
        /// Its formula was withdrawn or is withheld.
        Formula = "formula",
    }
}

/// Something that keeps a batch from being released.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReleaseBar {
    /// What kind of thing it is.
    pub kind: ReleaseBarKind,
    /// What it is, in a sentence.
    #[schema(example = "No pH is recorded, and sorbic acid works only at a known one.")]
    pub text: String,
}

/// A caution of the label, to be confirmed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CautionToConfirm {
    /// What names it in the release: it changes when its text, its level or whom it is meant for changes.
    #[schema(example = "7f83b1657ff1fc53b92dc18148a1d65d")]
    pub id: String,
    /// How strongly it binds.
    pub level: CautionLevel,
    /// What it says.
    #[schema(example = "For external use only.")]
    pub text: String,
    /// For whom it is meant, as in the caution set.
    #[schema(example = json!(["everyone"]))]
    pub audiences: Vec<String>,
}

/// What is read before a release: the label by what was weighed, each of its cautions, and what stands in the way.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ReleaseSheet {
    /// Whether the caller made it, or a part of it: then somebody else releases it, where the policy has a second person.
    #[serde(default)]
    #[schema(example = false)]
    pub own: bool,
    /// The batch.
    pub batch: BatchId,
    /// Its number.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// Who made it, and so does not release it.
    pub maker: PersonId,
    /// Whether what is in the jars may be used.
    pub disposition: Disposition,
    /// What stands on the label.
    pub label: Label,
    /// The cautions of the label, the strongest first. A release names each.
    pub cautions: Vec<CautionToConfirm>,
    /// What keeps it from being released; empty where nothing does.
    pub barred: Vec<ReleaseBar>,
}

/// Releasing what a batch made.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "confirmed": ["7f83b1657ff1fc53b92dc18148a1d65d"] }))]
pub struct NewRelease {
    /// Every caution of the label, by the `id` that the release sheet gives it.
    pub confirmed: Vec<String>,
    /// Why no other instructor releases it, 1 to 1000 characters: for its maker, where the policy allows it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Discarding what a batch made.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "reason": "The phases separated." }))]
pub struct NewDiscard {
    /// 1 to 1000 characters.
    #[schema(example = "The phases separated.")]
    pub reason: String,
}

/// What is in a jar, for whoever holds it: no amount, no method, no person.
#[derive(Clone, Debug, PartialEq)]
pub struct JarPage {
    /// The number of its batch.
    pub batch_number: String,
    /// Its number within the batch.
    pub number: u32,
    /// What it holds.
    pub fill: String,
    /// Today in the clinic.
    pub today: NaiveDate,
    /// Whether it may be used.
    pub stands: JarStands,
    /// The numbers of the jars into which its content was filled.
    pub decanted_into: Vec<u32>,
    /// Whether its last day was brought forward after a sample was looked at.
    pub shortened: bool,
    /// What stands on its label.
    pub facts: JarFacts,
    /// For whom it is not, or not without asking; those that bind most come first.
    pub warnings: Vec<LabelWarnings>,
    /// Trying it on a small spot first.
    pub patch_test: Option<String>,
    /// For how long at most.
    pub longest_use: Vec<String>,
    /// The clinic.
    pub clinic: String,
    /// The clinic's notice.
    pub notice: String,
}

/// Whether a jar may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JarStands {
    /// It may, up to this day.
    InDate(NaiveDate),
    /// Its last day was this one.
    Past(NaiveDate),
    /// It was called back, on this day where that is known.
    Recalled(Option<NaiveDate>),
    /// It was thrown away.
    Discarded,
    /// Nobody has decided that it may be used.
    NotReleased,
    /// It is kept as a sample.
    Sample,
    /// It is empty: its content was filled into other jars of its batch.
    Empty,
    /// It was made for practice.
    PracticeOnly,
    /// Its formula was withdrawn, or a new warning stops it.
    Stopped,
}

/// What stands on the label of a jar, in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct JarFacts {
    /// Its name.
    pub title: String,
    /// What kind of preparation it is.
    pub preparation: String,
    /// What it is made as.
    pub regime: String,
    /// The alcohol by volume and the ratio of herb to liquid.
    pub strength: Vec<String>,
    /// Where and how it is used.
    pub route: String,
    /// For which part of the body and from which age on.
    pub meant_for: Option<String>,
    /// How it is used.
    pub directions: Option<String>,
    /// What it is made of, most of it first.
    pub ingredients: Vec<LabelIngredient>,
    /// Fragrance allergens that are named.
    pub allergens: Vec<String>,
    /// The day of making.
    pub made_on: Option<NaiveDate>,
    /// For how long once it was opened.
    pub after_opening: String,
    /// How it is kept.
    pub storage: Vec<String>,
    /// Keeping it from children.
    pub children: String,
}

/// A jar on whose label its number and its code stand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LabelledJar {
    /// Its number within the batch.
    pub number: u32,
    /// Its code.
    pub code: String,
    /// The path of its page.
    pub page: String,
}

/// A label, and the jars that bear it.
#[derive(Clone, Debug)]
pub struct JarLabels {
    /// What it says.
    pub label: Label,
    /// The jars, by their numbers.
    pub jars: Vec<LabelledJar>,
}

/// A code in groups of four, as it is read out and typed.
#[must_use]
pub fn grouped(code: &str) -> String {
    let letters: Vec<char> = code.chars().collect();
    letters.chunks(4).map(|four| four.iter().collect::<String>()).collect::<Vec<_>>().join(" ")
}
