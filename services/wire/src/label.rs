//! What stands on a label, as structured data: open before the gate, so without amounts and without method.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::figure::{Figure, FigureSource};
use crate::ids::{BatchId, RevisionId};
use crate::safety::{CautionLevel, ChangedLevel};
use crate::words::words;

words! {
    /// Where something on a label comes from.
    LabelOrigin {
        /// The formula's author wrote it.
        Formula = "formula",
        /// The materia medica says it.
        Materia = "materia",
        /// The clinic's instructors added it.
        Clinic = "clinic",
        /// The clinic's policy says it.
        Policy = "policy",
        /// It was worked out.
        Calculation = "calculation",
        /// The batch record says it.
        Batch = "batch",
        /// Whoever asked for the label said it.
        Request = "request",
        /// The trade does it so; no source.
        CommonPractice = "common_practice",
    }
}

words! {
    /// Which composition a label tells of.
    LabelComposition {
        /// What the formula asks for.
        Planned = "planned",
        /// What was really weighed.
        Made = "made",
    }
}

/// Something that stands on a label.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LabelFact {
    /// What it says.
    #[schema(example = "Keep cool and dark.")]
    pub text: String,
    /// Where it comes from.
    pub from: LabelOrigin,
    /// The source of the fact or of the rule, where it has one of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<FigureSource>,
}

/// One ingredient. Its place in the list is all that is said of how much there is of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LabelIngredient {
    /// Its common name.
    #[schema(example = "olive oil")]
    pub name: String,
    /// Its name on a cosmetic's list of ingredients; absent where the materia medica knows none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Olea Europaea Fruit Oil")]
    pub inci: Option<String>,
    /// Set for a herb that was drawn out and strained off: what it gave is in there, it is not.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    #[schema(example = false)]
    pub drawn_out: bool,
    /// Set where its share is not known, so that its place says nothing.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    #[schema(example = false)]
    pub place_unknown: bool,
}

/// The ingredients, most of it first, through every level of nesting; herbs that were strained off come last.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LabelIngredients {
    /// Of what was planned or of what was made: the latter once the batch is submitted with every line weighed, for
    /// readers who have acknowledged the cautions of the formula and of every nested formula.
    pub of: LabelComposition,
    /// Why the label of a batch tells of what was planned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "These lines have not been weighed yet: 1.2.")]
    pub why_planned: Option<String>,
    /// The order comes from here; the names are the materia medica's.
    pub from: LabelOrigin,
    /// The ingredients.
    pub items: Vec<LabelIngredient>,
}

/// A fragrance allergen that the label must name, or may have to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LabelAllergen {
    /// Its name on the label.
    #[schema(example = "Linalool")]
    pub label_name: String,
    /// What has to be known before it can be decided; absent where the label must name it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub unknown: Option<String>,
    /// Where it comes from.
    pub from: LabelOrigin,
    /// Where the rule comes from.
    pub source: FigureSource,
}

/// One warning.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LabelWarning {
    /// What it says.
    #[schema(example = "Not for children under two years.")]
    pub text: String,
    /// The same for a small label, where there is a shorter form.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Not under two years")]
    pub short: Option<String>,
    /// How strongly it binds.
    pub level: CautionLevel,
    /// Where it comes from.
    pub from: LabelOrigin,
    /// The source of the fact.
    pub source: FigureSource,
    /// Set where the clinic gave it another level, or set it aside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changed: Option<ChangedLevel>,
}

/// The warnings for one audience, strongest first. A text that is meant for several stands once, under all of them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LabelWarnings {
    /// The audiences as cautions name them.
    #[schema(example = json!(["pregnant", "breast-feeding"]))]
    pub audiences: Vec<String>,
    /// The same for a reader.
    #[schema(example = "In pregnancy; while breast-feeding")]
    pub heading: String,
    /// The warnings.
    pub warnings: Vec<LabelWarning>,
}

/// A day on a label.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LabelDay {
    /// The day.
    #[schema(example = "2026-03-21")]
    pub day: NaiveDate,
    /// Where it comes from.
    pub from: LabelOrigin,
}

/// Until when it may be used.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LabelUseBy {
    /// The last day; absent where no rule dates it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-04-25")]
    pub day: Option<NaiveDate>,
    /// Which rule limited it, or why there is no date.
    #[schema(example = "published compounding rules of 2023")]
    pub because: String,
    /// Where it comes from.
    pub from: LabelOrigin,
}

/// A part of a label that has no room left.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LabelOverflow {
    /// The part, by its name in the label.
    #[schema(example = "warnings")]
    pub part: String,
    /// How many characters it has.
    #[schema(example = 412)]
    pub characters: usize,
    /// How many of them find no room.
    #[schema(example = 120)]
    pub too_many: usize,
}

/// Whether everything finds room on the label. Nothing is left out where it does not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LabelRoom {
    /// The area as it was stated.
    #[schema(example = "40 cm2")]
    pub area: String,
    /// The area that everything needs.
    pub needed: Figure,
    /// Whether it fits.
    pub fits: bool,
    /// What finds no room, when the parts are printed in the order in which they stand here.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub exceeding: Vec<LabelOverflow>,
}

/// What stands on a label, in the order in which it is printed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Label {
    /// The revision.
    pub revision: RevisionId,
    /// The batch, where it is the label of one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<BatchId>,
    /// Its name.
    pub name: LabelFact,
    /// What kind of preparation it is.
    pub preparation: LabelFact,
    /// What holds of all of it: "For practice, not for use", in quarantine, approved by its author.
    pub marks: Vec<LabelFact>,
    /// The batch number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch_number: Option<LabelFact>,
    /// What it is made as.
    pub regime: LabelFact,
    /// The alcohol by volume and the ratio of herb to liquid, of a kind that always holds alcohol.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub strength: Vec<LabelFact>,
    /// Where and how it is used.
    pub route: LabelFact,
    /// For which part of the body and from which age on, where the formula says it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meant_for: Option<LabelFact>,
    /// How it is used, in the author's words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub directions: Option<LabelFact>,
    /// Trying it on a small spot first, for the kinds that the materia medica asks it of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub patch_test: Option<LabelFact>,
    /// For how long at most.
    pub longest_use: Vec<LabelFact>,
    /// For whom it is not, or not without asking; those that bind most come first.
    pub warnings: Vec<LabelWarnings>,
    /// What it is made of.
    pub ingredients: LabelIngredients,
    /// Fragrance allergens that the label must name, and those of which it is not known.
    pub allergens: Vec<LabelAllergen>,
    /// How much is in it, as it was stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub net_contents: Option<LabelFact>,
    /// The day of making.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_on: Option<LabelDay>,
    /// Until when it may be used; absent without a day of making.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub use_by: Option<LabelUseBy>,
    /// For how long once it was opened.
    pub after_opening: LabelFact,
    /// How it is kept.
    pub storage: Vec<LabelFact>,
    /// Keeping it from children.
    pub children: LabelFact,
    /// The clinic.
    pub clinic: LabelFact,
    /// The clinic's notice.
    pub notice: LabelFact,
    /// What a label should say and this one cannot, each with the cure.
    #[schema(example = json!(["net_contents: Enter the net contents, such as net=30 g."]))]
    pub missing: Vec<String>,
    /// Whether it finds room, where an area was stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub room: Option<LabelRoom>,
    /// What stands on the jar and what on the leaflet that goes with it, where an area was stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub layout: Option<LabelLayout>,
}

/// A piece of text on a jar or on its leaflet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct LabelPiece {
    /// The part, by its name in the label.
    #[schema(example = "warnings")]
    pub part: String,
    /// What it says there.
    #[schema(example = "Daisy family: not if allergic")]
    pub text: String,
}

/// How a label is divided between the jar and a folded leaflet that is handed out with it.
///
/// Name, marks, strength, net contents, batch, days, storage, route, children and every contraindication stay on the jar.
/// Warnings are shortened before anything moves; what moves, moves in the order of least harm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LabelLayout {
    /// On the jar, in printing order.
    pub jar: Vec<LabelPiece>,
    /// On the leaflet, in full; empty where the jar holds everything.
    pub leaflet: Vec<LabelPiece>,
    /// Whether the jar's warnings stand in their short form.
    pub shortened: bool,
    /// Whether the jar holds what must stay on it. If not, a label of `least_area` is required.
    pub fits: bool,
    /// The area that what must stay on the jar needs, in its short form.
    pub least_area: Figure,
}

/// For what container a label is.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct BatchLabelQuery {
    /// How much is in the container. A batch that was made for so many containers knows it.
    #[param(example = "30 g")]
    pub net: Option<String>,
    /// The area of the label, in square centimetres or as its sides: `40 cm2`, `60 x 40 mm`.
    #[param(example = "60 x 40 mm")]
    pub area: Option<String>,
}

/// For what container a label is, and the day it is made on.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct LabelQuery {
    /// The day of making, for the use-by date.
    #[param(example = "2026-03-21")]
    pub made_on: Option<NaiveDate>,
    /// How much is in the container.
    #[param(example = "30 g")]
    pub net: Option<String>,
    /// The area of the label, in square centimetres or as its sides: `40 cm2`, `60 x 40 mm`.
    #[param(example = "60 x 40 mm")]
    pub area: Option<String>,
}

/// How the labels of a batch are printed. Lengths are in millimetres.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct LabelPrintQuery {
    /// The sides of a label, its width first; `60 x 40 mm` where nothing is said.
    #[param(example = "60 x 40 mm")]
    pub size: Option<String>,
    /// How much is in the container. A batch that was made for so many containers knows it.
    #[param(example = "30 g")]
    pub net: Option<String>,
    /// How many labels, 1 to 500; one where nothing is said.
    #[param(example = 12)]
    pub copies: Option<u32>,
    /// `a4` or `letter` for a sheet of labels, `roll` for a page for each label; `a4` where nothing is said.
    #[param(example = "a4")]
    pub paper: Option<String>,
    /// From the upper edge of a sheet to the first label.
    #[param(example = "10 mm")]
    pub top: Option<String>,
    /// From the left edge of a sheet to the first label.
    #[param(example = "10 mm")]
    pub left: Option<String>,
    /// Between two labels beside each other.
    #[param(example = "2 mm")]
    pub gap_across: Option<String>,
    /// Between two labels below each other.
    #[param(example = "2 mm")]
    pub gap_down: Option<String>,
    /// How many labels of the first sheet are used already.
    #[param(example = 0)]
    pub used: Option<u32>,
}

/// One label for a label printer.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct LabelImageQuery {
    /// The sides of the label, its width first; `60 x 40 mm` where nothing is said.
    #[param(example = "60 x 40 mm")]
    pub size: Option<String>,
    /// How much is in the container. A batch that was made for so many containers knows it.
    #[param(example = "30 g")]
    pub net: Option<String>,
    /// The printer's dots per inch, 100 to 600; 300 where nothing is said.
    #[param(example = 203)]
    pub dpi: Option<u16>,
}

/// How the labels of jars are printed: one for each jar, with its number and its code. Lengths are in millimetres.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct JarLabelQuery {
    /// The numbers of the jars, such as `1-12, 15`; all jars of the batch where nothing is said. At most 500.
    #[param(example = "1-12")]
    pub jars: Option<String>,
    /// The sides of a label, its width first; `60 x 40 mm` where nothing is said.
    #[param(example = "60 x 40 mm")]
    pub size: Option<String>,
    /// `a4` or `letter` for a sheet of labels, `roll` for a page for each label; `a4` where nothing is said.
    #[param(example = "a4")]
    pub paper: Option<String>,
    /// From the upper edge of a sheet to the first label.
    #[param(example = "10 mm")]
    pub top: Option<String>,
    /// From the left edge of a sheet to the first label.
    #[param(example = "10 mm")]
    pub left: Option<String>,
    /// Between two labels beside each other.
    #[param(example = "2 mm")]
    pub gap_across: Option<String>,
    /// Between two labels below each other.
    #[param(example = "2 mm")]
    pub gap_down: Option<String>,
    /// How many labels of the first sheet are used already.
    #[param(example = 0)]
    pub used: Option<u32>,
}

/// The label of one jar for a label printer.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct JarLabelImageQuery {
    /// The sides of the label, its width first; `60 x 40 mm` where nothing is said.
    #[param(example = "60 x 40 mm")]
    pub size: Option<String>,
    /// The printer's dots per inch, 100 to 600; 300 where nothing is said.
    #[param(example = 203)]
    pub dpi: Option<u16>,
}
