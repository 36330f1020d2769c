//! Ratios of drug to solvent, product or native extract, and the dried herb behind an amount of extract.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Figure, Input, Mass, Measure, Quantity, Refusal, Rule, Source, Status, Text, Volume,
    number::{self, divide},
    units,
    words::words,
};

words! {
    /// What a ratio is a ratio to.
    Convention, "convention of a ratio" {
        /// Grams of drug to grams of menstruum put on.
        DrugToSolventByMass = "drug to solvent, w/w",
        /// Grams of drug to millilitres of menstruum put on.
        DrugToSolventInVolume = "drug to solvent, w/v",
        /// Grams of drug to grams of finished preparation.
        DrugToProductByMass = "drug to product, w/w",
        /// Grams of drug to millilitres of finished preparation.
        DrugToProductInVolume = "drug to product, w/v",
        /// Grams of drug to grams of extract before anything is added.
        DrugToNativeExtract = "drug to native extract",
        /// Grams of drug to grams of extract with its carriers.
        DrugToTotalPreparation = "drug to total preparation",
    }
}

static EQUIVALENT: Rule = Rule::new(
    "dried_equivalent",
    "dried herb in {extract} of a {ratio} extract, {convention}: {=}",
    Source::fixed("dry equivalent = extract x drug / extract parts of the ratio", Status::Verified),
);
static EXTRACT: Rule = Rule::new(
    "extract_for_dried",
    "extract {ratio}, {convention}, from {herb} of dried herb: {=}",
    Source::fixed("extract = herb x extract parts of the ratio / drug", Status::Verified),
);
static PRESSED: Rule = Rule::new(
    "pressed_ratio",
    "{pressed} pressed from {herb} of drug: 1 to {=}",
    Source::fixed("practical ratio of drug to native extract after pressing", Status::Verified),
);
static CARRIED: Rule = Rule::new(
    "herb_carried",
    "herb in the pressed liquid, evenly through the menstruum: {=}",
    Source::fixed("drug to solvent reckoning, evenly through the menstruum", Status::CommonPractice),
);

/// A ratio with its convention, as `1:5` or `4:1`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExtractRatio {
    text: Text,
    drug: Decimal,
    to: Decimal,
    convention: Convention,
}

impl ExtractRatio {
    /// Reads a ratio; its convention must be named.
    ///
    /// # Errors
    /// Refuses what is no ratio, and a ratio without its convention, since the two readings differ.
    ///
    /// ```
    /// use galenics::extraction::{Convention, ExtractRatio};
    /// assert!(ExtractRatio::parse("1:5", None).is_err());
    /// assert!(ExtractRatio::parse("1:5", Some(Convention::DrugToSolventByMass)).is_ok());
    /// ```
    pub fn parse(text: &str, convention: Option<Convention>) -> Result<Self, Refusal> {
        let refuse = || {
            Refusal::out_of_range(
                "ratio",
                "This is not a ratio. Write drug to extract, such as \
             1:5 or 4:1.",
            )
        };
        let typed = text.trim();
        let (drug, to) = typed.split_once(':').filter(|_| typed.len() <= 40).ok_or_else(refuse)?;
        let (drug, to) =
            (number::parse(drug).map_err(|_| refuse())?, number::parse(to).map_err(|_| refuse())?);
        if drug.is_zero() || to.is_zero() {
            return Err(refuse());
        }
        let accepted: Vec<_> = Convention::ALL.iter().map(|convention| convention.as_str()).collect();
        let convention = convention.ok_or_else(|| {
            Refusal::out_of_range(
                "convention",
                format!("{typed} is ambiguous. State the convention, one of: {}.", accepted.join("; ")),
            )
        })?;
        Ok(Self { text: typed.to_owned().into(), drug, to, convention })
    }

    /// The convention.
    #[must_use]
    pub const fn convention(&self) -> Convention {
        self.convention
    }

    fn by_volume(&self) -> bool {
        matches!(self.convention, Convention::DrugToSolventInVolume | Convention::DrugToProductInVolume)
    }

    fn inputs(&self, first: Input) -> Vec<Input> {
        vec![
            first,
            Input::words("ratio", self.text.clone()),
            Input::words("convention", self.convention.as_str()),
        ]
    }
}

/// The dried herb in g behind an amount of extract. Where the ratio is to the solvent, each part of what was
/// pressed carries what each part of the solvent took up.
///
/// # Errors
/// Refuses a mass for a ratio by volume and the other way round: only a density leads from one to the other.
pub fn dried_equivalent(extract: &Quantity, ratio: &ExtractRatio) -> Result<Figure, Refusal> {
    let amount = match (extract.measure(), ratio.by_volume()) {
        (Measure::Volume(volume), true) => volume.ml(),
        (Measure::Mass(mass), false) => mass.g(),
        (_, true) => {
            return Err(Refusal::out_of_range(
                "extract",
                "This ratio is to mL. Enter the extract as a volume, such as 10 mL.",
            ));
        }
        (_, false) => {
            return Err(Refusal::out_of_range(
                "extract",
                "This ratio is to g. Enter the extract as a mass, such as 10 g.",
            ));
        }
    };
    let value = amount
        .checked_mul(ratio.drug)
        .and_then(|above| divide(above, ratio.to))
        .ok_or(Refusal::too_large("extract"))?;
    let inputs = ratio.inputs(Input::words("extract", extract.typed()));
    Ok(Figure::number(value, units::GRAM, &EQUIVALENT, inputs))
}

/// How much extract stands for a mass of dried herb, in g or mL as the ratio has it.
///
/// # Errors
/// Refuses amounts beyond the range of a decimal.
pub fn extract_for_dried(herb: Mass, ratio: &ExtractRatio) -> Result<Figure, Refusal> {
    let value = herb
        .g()
        .checked_mul(ratio.to)
        .and_then(|above| divide(above, ratio.drug))
        .ok_or(Refusal::too_large("herb"))?;
    let unit = if ratio.by_volume() { units::MILLILITRE } else { units::GRAM };
    let inputs = ratio.inputs(Input::number("herb", herb.g(), units::GRAM));
    Ok(Figure::number(value, unit, &EXTRACT, inputs))
}

/// What a pressed extract comes to as a ratio.
#[derive(Debug, Clone, Serialize)]
pub struct PressedRatio {
    /// Parts of native extract to one of drug.
    pub native: Figure,
    /// Dried herb that what was pressed carries, in g, evenly through the menstruum.
    pub carried: Figure,
}

/// The ratio of drug to native extract after pressing.
///
/// # Errors
/// Refuses a herb or menstruum of nothing, and more pressed than was put on with the herb's own juice.
pub fn pressed_ratio(herb: Mass, menstruum: Mass, pressed: Mass) -> Result<PressedRatio, Refusal> {
    pressed_in(herb, menstruum.g(), pressed.g(), units::GRAM)
}

/// The same where menstruum and extract were measured: the parts are mL to the g of drug.
///
/// # Errors
/// As [`pressed_ratio`].
pub fn pressed_ratio_by_volume(
    herb: Mass,
    menstruum: Volume,
    pressed: Volume,
) -> Result<PressedRatio, Refusal> {
    pressed_in(herb, menstruum.ml(), pressed.ml(), units::MILLILITRE)
}

fn pressed_in(
    herb: Mass,
    menstruum: Decimal,
    pressed: Decimal,
    unit: &'static str,
) -> Result<PressedRatio, Refusal> {
    let native =
        divide(pressed, herb.g()).ok_or(Refusal::out_of_range("herb", "Enter a herb amount above 0 g."))?;
    let share =
        divide(pressed, menstruum).ok_or(Refusal::out_of_range("menstruum", "Enter a menstruum above 0."))?;
    if pressed > menstruum + herb.g() {
        return Err(Refusal::impossible(
            "pressed",
            "The pressed liquid weighs more than herb and menstruum together. Weigh again.",
        ));
    }
    let carried = herb.g().checked_mul(share.min(Decimal::ONE)).ok_or(Refusal::too_large("herb"))?;
    let inputs = || {
        vec![
            Input::number("herb", herb.g(), units::GRAM),
            Input::number("menstruum", menstruum, unit),
            Input::number("pressed", pressed, unit),
        ]
    };
    Ok(PressedRatio {
        native: Figure::number(native, units::RATIO, &PRESSED, inputs()),
        carried: Figure::number(carried, units::GRAM, &CARRIED, inputs()),
    })
}
