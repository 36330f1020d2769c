//! The formula as the calculations see it: phases of lines, each a material or another formula, with an
//! amount as the trade writes it.

use std::{fmt, sync::Arc};

use rust_decimal::Decimal;
use thiserror::Error;

use crate::{
    Amount, Density, Function, MaterialFacts, Preparation, Quantity, QuantityError, Sourced, Text,
    unit::{Customary, Dimension},
    words::words,
};

/// A formula.
#[derive(Debug, Clone)]
pub struct Formula {
    /// The formula's own id, the same for all its revisions.
    pub id: Text,
    /// The title, by which problems and explanations name it.
    pub title: Text,
    /// The kind of preparation; it decides whether herbs leave with the marc.
    pub preparation: Preparation,
    /// The phases in their order.
    pub phases: Vec<Phase>,
    /// What it is stated to yield. Of a pressed preparation this is the expected amount after pressing.
    pub yields: Option<Yield>,
    /// The density of what is made, where it was measured.
    pub density: Option<Sourced<Density>>,
    /// How dried herb is reckoned against an extract.
    pub extract_basis: ExtractBasis,
}

impl Formula {
    /// A formula without phases.
    pub fn new(id: impl Into<Text>, title: impl Into<Text>, preparation: Preparation) -> Self {
        Self {
            id: id.into(),
            title: title.into(),
            preparation,
            phases: Vec::new(),
            yields: None,
            density: None,
            extract_basis: ExtractBasis::default(),
        }
    }

    /// The same with one more phase.
    #[must_use]
    pub fn with_phase(mut self, name: impl Into<Text>, lines: Vec<Line>) -> Self {
        self.phases.push(Phase { name: name.into(), lines });
        self
    }

    /// The same with a stated yield.
    #[must_use]
    pub fn with_yield(mut self, yields: Yield) -> Self {
        self.yields = Some(yields);
        self
    }

    /// Every line with the place where it stands.
    pub fn lines(&self) -> impl Iterator<Item = (usize, usize, &Line)> {
        self.phases
            .iter()
            .enumerate()
            .flat_map(|(phase, of)| of.lines.iter().enumerate().map(move |(line, it)| (phase, line, it)))
    }
}

words! {
    /// How the dried herb behind an extract is reckoned.
    #[derive(Default)]
    ExtractBasis, "extract basis" {
        /// Each gram of menstruum carries the same share of the herb, whether it is pressed out or stays in
        /// the marc: herb over menstruum.
        #[default]
        Solvent = "drug to solvent",
        /// The product carries the whole herb, as when percolated to a stated amount: herb over product.
        Product = "drug to product",
    }
}

/// A phase: lines that are put together before they meet the others.
#[derive(Debug, Clone)]
pub struct Phase {
    /// Its name, such as "oil phase".
    pub name: Text,
    /// Its lines in their order.
    pub lines: Vec<Line>,
}

/// One material or nested preparation of a phase.
#[derive(Debug, Clone)]
pub struct Line {
    /// What.
    pub ingredient: Ingredient,
    /// How much.
    pub amount: Amount,
    /// What for.
    pub function: Option<Function>,
    /// Whether it stays in what is made; decided by the preparation and the material where it is not said.
    pub fate: Option<Fate>,
    /// Drops in a millilitre from the dropper that is used, which goes before what the material's facts say.
    pub drops_per_ml: Option<Sourced<Decimal>>,
}

impl Line {
    /// A line without a stated function.
    #[must_use]
    pub const fn new(ingredient: Ingredient, amount: Amount) -> Self {
        Self { ingredient, amount, function: None, fate: None, drops_per_ml: None }
    }

    /// Drops in a millilitre of what it puts in: of the dropper that is used, else as the material's facts say.
    #[must_use]
    pub fn drops_per_ml(&self) -> Option<&Sourced<Decimal>> {
        self.drops_per_ml.as_ref().or_else(|| match &self.ingredient {
            Ingredient::Material(facts) => facts.drops_per_ml.as_ref(),
            Ingredient::Nested(_) => None,
        })
    }

    /// The same with a function.
    #[must_use]
    pub const fn with_function(mut self, function: Function) -> Self {
        self.function = Some(function);
        self
    }
}

words! {
    /// Whether what a line puts in stays in.
    Fate, "fate" {
        /// It is in what is made.
        Stays = "stays",
        /// It is strained or pressed off; only what it gave stays.
        Marc = "marc",
    }
}

/// What a line puts in.
#[derive(Debug, Clone)]
pub enum Ingredient {
    /// A material.
    Material(Arc<MaterialFacts>),
    /// What another formula makes.
    Nested(Nested),
}

/// What another formula makes. Its title and density are open; its lines are reached through [`crate::Graph`] alone,
/// which goes through every formula once, however many ways lead to it.
#[derive(Clone)]
pub struct Nested(Arc<Formula>);

impl Nested {
    /// The title.
    #[must_use]
    pub fn title(&self) -> &Text {
        &self.0.title
    }

    /// The kind of preparation.
    #[must_use]
    pub fn preparation(&self) -> Preparation {
        self.0.preparation
    }

    /// The density of what is made, where it was measured.
    #[must_use]
    pub fn density(&self) -> Option<&Sourced<Density>> {
        self.0.density.as_ref()
    }

    /// What was kept of it, put back with its lines, which belong to it: see [`crate::kept::KeptEvaluation::restore`].
    ///
    /// # Errors
    /// Those of `restore`.
    pub fn restored<T, E>(&self, restore: impl FnOnce(&Formula) -> Result<T, E>) -> Result<T, E> {
        restore(&self.0)
    }

    pub(crate) fn formula(&self) -> &Formula {
        &self.0
    }

    /// A number that is the same for copies and differs for others, as long as they live.
    #[must_use]
    pub fn address(&self) -> usize {
        Arc::as_ptr(&self.0).addr()
    }
}

impl From<Arc<Formula>> for Nested {
    fn from(formula: Arc<Formula>) -> Self {
        Self(formula)
    }
}

impl fmt::Debug for Nested {
    /// The title alone: what is nested stands once in the graph, and would stand here once for every way to it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Nested").field(self.title()).finish()
    }
}

impl Ingredient {
    /// The name of the material or the title of the formula.
    #[must_use]
    pub fn name(&self) -> &Text {
        match self {
            Self::Material(material) => &material.name,
            Self::Nested(nested) => nested.title(),
        }
    }
}

/// A stated yield, as typed: "about 1000 g", "850 g", "500 mL".
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Yield {
    text: Text,
    quantity: Quantity,
    about: bool,
    measured: bool,
}

impl Yield {
    /// Reads a yield: a mass or a volume, with "about" before it where it is not exact.
    ///
    /// # Errors
    /// Says what is wrong and what would be accepted; a yield in drops is refused.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        Self::parse_with(text, Customary::default())
    }

    /// Reads a yield; bare cups, spoons and fluid ounces are taken within `family`.
    ///
    /// # Errors
    /// Says what is wrong and what would be accepted; a yield in drops is refused.
    pub fn parse_with(text: &str, family: Customary) -> Result<Self, QuantityError> {
        let typed = text.trim();
        let bare =
            ["about ", "About ", "ca. ", "c. ", "~"].iter().find_map(|prefix| typed.strip_prefix(prefix));
        let quantity = Quantity::parse_with(bare.unwrap_or(typed), family)?;
        if quantity.dimension() == Dimension::Drops {
            return Err(QuantityError::UnknownUnit("drops (of a yield)".to_owned()));
        }
        Ok(Self { text: typed.to_owned().into(), quantity, about: bare.is_some(), measured: false })
    }

    /// A yield that was measured.
    #[must_use]
    pub fn measured(mass: crate::Mass) -> Self {
        let quantity = Quantity::of_mass(mass);
        Self { text: quantity.typed(), quantity, about: false, measured: true }
    }

    /// The text as typed.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The quantity stated.
    #[must_use]
    pub const fn quantity(&self) -> &Quantity {
        &self.quantity
    }

    /// Whether it was measured: then it is kept as it was read, whatever went in.
    #[must_use]
    pub const fn is_measured(&self) -> bool {
        self.measured
    }

    /// Whether it says "about".
    #[must_use]
    pub const fn is_about(&self) -> bool {
        self.about
    }
}

/// Where in a formula a problem lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Location {
    /// The phase, counted from 0.
    pub phase: Option<usize>,
    /// The line within the phase, counted from 0.
    pub line: Option<usize>,
    /// The field, as a formula travels.
    pub field: &'static str,
}

impl Location {
    /// The formula as a whole, at one of its fields.
    #[must_use]
    pub const fn formula(field: &'static str) -> Self {
        Self { phase: None, line: None, field }
    }

    /// A field of a line.
    #[must_use]
    pub const fn line(phase: usize, line: usize, field: &'static str) -> Self {
        Self { phase: Some(phase), line: Some(line), field }
    }

    /// The JSON pointer into the formula as it travels, such as `/phases/0/lines/2/amount`.
    #[must_use]
    pub fn pointer(&self) -> String {
        match (self.phase, self.line) {
            (Some(phase), Some(line)) => format!("/phases/{phase}/lines/{line}/{}", self.field),
            (Some(phase), None) => format!("/phases/{phase}/{}", self.field),
            (None, _) => format!("/{}", self.field),
        }
    }
}

/// What is wrong with a formula, where, and how to mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FormulaProblem {
    /// Where.
    pub at: Location,
    /// What.
    pub kind: ProblemKind,
}

impl fmt::Display for FormulaProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.kind, f)
    }
}

impl std::error::Error for FormulaProblem {}

/// What can be wrong with a formula. The message says how to mend it.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ProblemKind {
    /// There is nothing in it.
    #[error("A formula needs at least one line. Add one.")]
    NoLines,
    /// More lines than are worked with.
    #[error("A formula may have at most {0} lines. Move some into a formula of their own.")]
    TooManyLines(usize),
    /// More lines, with those of all that is nested, than are worked with.
    #[error(
        "A formula may have at most {0} lines, including those of its nested formulas. Remove lines, or nest \
         smaller formulas."
    )]
    TooManyLinesInAll(usize),
    /// Nested deeper than is worked with.
    #[error("Formulas may be nested at most {0} levels deep. Replace a nested formula with its lines.")]
    TooDeep(usize),
    /// More nested formulas than are worked with.
    #[error(
        "A formula may nest at most {0} formulas over all levels. Replace some of them with their lines."
    )]
    TooManyNested(usize),
    /// More materials than are worked with.
    #[error("A formula may contain at most {0} materials over all levels. Remove some.")]
    TooManyMaterials(usize),
    /// It was stopped from outside.
    #[error("The calculation took too long and was stopped. Try again later, or use fewer lines.")]
    Interrupted,
    /// It contains itself.
    #[error("A formula cannot contain itself: {0}. Remove one of these lines.")]
    Cycle(String),
    /// Something is wrong with a formula that it contains.
    #[error("In {title}: {problem}")]
    Nested {
        /// The title of the nested formula.
        title: Text,
        /// What is wrong with it.
        problem: Box<ProblemKind>,
    },
    /// The per cents pass the whole.
    #[error("The percentages total {0} %, which exceeds 100 %. Reduce them or make one line q.s.")]
    PastHundred(rust_decimal::Decimal),
    /// The per cents leave no room for lines given by mass.
    #[error(
        "The percentages total 100 %, which leaves nothing for the lines given by mass or volume. Reduce \
         them."
    )]
    NothingLeft,
    /// The per cents do not reach the whole.
    #[error("The percentages total {0} %, not 100 %. Make one line q.s., or write parts.")]
    BelowHundred(rust_decimal::Decimal),
    /// Two lines make up.
    #[error("Only one line can be q.s., and {0} already is. Give this line an amount.")]
    SecondMakeUp(Text),
    /// A bare q.s. with nothing to make up to.
    #[error("This q.s. has no total. Write q.s. 1000 g, or state the yield of the formula.")]
    MakeUpToWhat,
    /// More is there than is to be made up to.
    #[error(
        "The q.s. total is {target} {unit}, but the other lines already come to {there} {unit}. Raise the \
         total or reduce the lines."
    )]
    MakeUpBelow {
        /// What was to be made up to.
        target: rust_decimal::Decimal,
        /// What is already there.
        there: rust_decimal::Decimal,
        /// g or mL.
        unit: &'static str,
    },
    /// Parts beside masses.
    #[error(
        "Parts combine only with other parts and percentages. Write the whole formula in parts, or all of it \
         in quantities."
    )]
    PartsMixed,
    /// Parts by volume beside anything else.
    #[error(
        "Parts by volume combine only with parts by volume. Write all lines in parts by volume, all in parts \
         by weight, or all as quantities."
    )]
    VolumePartsMixed,
    /// A ratio of herb to menstruum on a line that is not strained off.
    #[error(
        "{0} is a ratio of herb to menstruum. Use it for a herb in a strained preparation, such as a \
         tincture, or write an amount, such as 100 g."
    )]
    RatioOfWhat(Text),
    /// A ratio of a herb by volume.
    #[error("{0} measures a herb by volume. Write the ratio w/v (g of herb to mL) or w/w (g to g).")]
    RatioByVolume(Text),
    /// A ratio that names another state of the herb.
    #[error(
        "{ratio} does not fit {herb}. Choose the herb in the state that the ratio names, or change the ratio."
    )]
    RatioOfOtherState {
        /// The ratio.
        ratio: Text,
        /// The herb.
        herb: Text,
    },
    /// A ratio of a herb without what it is a ratio to.
    #[error(
        "{0} needs a menstruum. Add one with its amount, such as 500 mL. For drug to extract, state the yield \
         of the formula, such as 250 g."
    )]
    RatioToWhat(Text),
    /// A ratio to what stands in no line.
    #[error(
        "{ratio} names {menstruum}, but no line of the formula is one. Add that line, or change the ratio."
    )]
    RatioInOther {
        /// The ratio.
        ratio: Text,
        /// What it names.
        menstruum: String,
    },
    /// A ratio to spirit of another strength than the lines have.
    #[error(
        "{ratio} differs from the strength of the menstruum, which is {found} % by volume. Change the lines \
         or the ratio."
    )]
    RatioInOtherStrength {
        /// The ratio.
        ratio: Text,
        /// The strength of the lines, in per cent by volume.
        found: rust_decimal::Decimal,
    },
    /// A ratio of a herb where the menstruum is a share of a whole that the herb belongs to.
    #[error(
        "The ratio needs the menstruum in mL or g, or all of it in % or parts. Give each line of the \
         menstruum a quantity."
    )]
    RatioBesideShares,
    /// Everything goes out with the marc.
    #[error("Nothing remains in the product after straining or pressing. Add the water or solvent.")]
    NothingStays,
    /// More comes out than went in.
    #[error(
        "The yield of {stated} g exceeds the {most} g that remain after the marc is removed. Enter the yield \
         you press out, or omit it."
    )]
    YieldAboveInput {
        /// What the formula states, in g.
        stated: Decimal,
        /// All that stays, in g.
        most: Decimal,
    },
    /// A decoction is boiled down to less than what cannot evaporate.
    #[error(
        "A decoction of this formula cannot be boiled down to {stated} g: {least} g cannot evaporate. Check the \
         yield and the amounts."
    )]
    YieldBelowRest {
        /// What the formula states, in g.
        stated: Decimal,
        /// What cannot evaporate, less what the marc keeps, in g.
        least: Decimal,
    },
    /// It comes to nothing.
    #[error("The formula totals 0 g. Give at least one line an amount.")]
    ZeroTotal,
    /// Out of the range of a calculation.
    #[error("The amounts are too large or too far apart to calculate. The total must be at most 1000000 kg.")]
    OutOfRange,
}

impl ProblemKind {
    /// A stable word for tools.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NoLines => "no_lines",
            Self::TooManyLines(_) => "too_many_lines",
            Self::TooManyLinesInAll(_) => "too_many_lines_in_all",
            Self::TooDeep(_) => "too_deep",
            Self::TooManyNested(_) => "too_many_nested",
            Self::TooManyMaterials(_) => "too_many_materials",
            Self::Interrupted => "interrupted",
            Self::Cycle(_) => "contains_itself",
            Self::Nested { .. } => "nested_formula",
            Self::PastHundred(_) => "past_hundred_percent",
            Self::NothingLeft => "nothing_left_for_masses",
            Self::BelowHundred(_) => "below_hundred_percent",
            Self::SecondMakeUp(_) => "second_make_up",
            Self::MakeUpToWhat => "make_up_to_what",
            Self::MakeUpBelow { .. } => "make_up_below_contents",
            Self::PartsMixed => "parts_mixed_with_quantities",
            Self::VolumePartsMixed => "volume_parts_mixed",
            Self::RatioOfWhat(_) => "ratio_of_what",
            Self::RatioByVolume(_) => "ratio_by_volume",
            Self::RatioOfOtherState { .. } => "ratio_of_other_state",
            Self::RatioToWhat(_) => "ratio_to_what",
            Self::RatioInOther { .. } => "ratio_in_other_menstruum",
            Self::RatioInOtherStrength { .. } => "ratio_in_other_strength",
            Self::RatioBesideShares => "ratio_beside_shares",
            Self::NothingStays => "nothing_stays",
            Self::YieldAboveInput { .. } => "yield_above_input",
            Self::YieldBelowRest { .. } => "yield_below_rest",
            Self::ZeroTotal => "zero_total",
            Self::OutOfRange => "out_of_range",
        }
    }
}
