//! The ratio of a herb to what it is drawn out with, as the trade writes it: `1:5 in 45 %`, `1:2 fresh in 95 %`,
//! `1:10 in oil`, `DER 4:1`.

use rust_decimal::Decimal;

use super::{basis::Basis, error::AmountError};
use crate::{
    Fraction, Text,
    number::{self, HUNDRED},
    words::words,
};

words! {
    /// What a ratio of a herb is a ratio to.
    RatioTo, "end of a ratio" {
        /// To the menstruum put on.
        Menstruum = "herb to menstruum",
        /// To the extract that is made.
        Extract = "drug to extract",
    }
}

words! {
    /// The state that a ratio says its herb is in.
    RatioState, "state of a herb" {
        Fresh = "fresh",
        Dried = "dried",
    }
}

/// What a ratio says that the herb is drawn out with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Menstruum {
    /// Spirit of a strength by volume at 20 °C.
    Spirit(Fraction),
    /// A fixed oil.
    Oil,
    /// Something else, as typed.
    Other(Text),
}

/// A ratio of a herb.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HerbRatio {
    /// Parts of herb, by mass.
    pub herb: Decimal,
    /// Parts of menstruum or extract.
    pub to: Decimal,
    /// By mass in mass or mass in volume, where it is stated.
    pub basis: Option<Basis>,
    /// To the menstruum or to the extract.
    pub ratio_to: RatioTo,
    /// Fresh or dried, where it is stated.
    pub state: Option<RatioState>,
    /// What it is drawn out with, where it is stated.
    pub menstruum: Option<Menstruum>,
}

impl HerbRatio {
    /// A bare ratio of herb to menstruum.
    pub(crate) const fn bare(herb: Decimal, to: Decimal, basis: Option<Basis>) -> Self {
        Self { herb, to, basis, ratio_to: RatioTo::Menstruum, state: None, menstruum: None }
    }
}

/// Reads a ratio that says more than two numbers and a basis; `None` where it says no more.
pub(super) fn read(typed: &str) -> Result<Option<HerbRatio>, AmountError> {
    let refuse = || AmountError::HerbRatio(typed.chars().take(40).collect());
    let lower = typed.to_lowercase();
    let (ratio, drawn_with) = match lower.split_once(" in ") {
        Some((ratio, medium)) => (ratio.trim(), Some(medium.trim())),
        None => (lower.as_str(), None),
    };
    let named = ["der ", "d.e.r. ", "drug to extract ", "herb to extract "];
    let extract = named.iter().find_map(|name| ratio.strip_prefix(name));
    let (herb, rest) = extract.unwrap_or(ratio).split_once(':').ok_or_else(refuse)?;
    let (herb, (to, rest)) = (number::parse(herb)?, number::leading(rest)?);
    let mut found = HerbRatio::bare(herb, to, None);
    if extract.is_some() {
        found.ratio_to = RatioTo::Extract;
    }
    let mut said_more = extract.is_some() || drawn_with.is_some();
    let rest = rest.trim().replace("drug to extract", "der").replace("herb to extract", "der");
    for word in rest.split_whitespace() {
        match word.trim_matches(['(', ')', ',']) {
            "w/w" | "m/m" => found.basis = Some(Basis::MassInMass),
            "w/v" | "m/v" => found.basis = Some(Basis::MassInVolume),
            "fresh" => (found.state, said_more) = (Some(RatioState::Fresh), true),
            "dried" | "dry" => (found.state, said_more) = (Some(RatioState::Dried), true),
            "der" => (found.ratio_to, said_more) = (RatioTo::Extract, true),
            "in" => return Err(refuse()),
            _ if said_more => return Err(refuse()),
            // A ratio strength with another basis: it has a refusal of its own.
            _ => return Ok(None),
        }
    }
    if !said_more {
        return Ok(None);
    }
    if herb.is_zero() || to.is_zero() {
        return Err(refuse());
    }
    if found.ratio_to == RatioTo::Menstruum && herb > to {
        return Err(AmountError::DrugToExtract(format!("{}:{}", herb.normalize(), to.normalize())));
    }
    found.menstruum = drawn_with.map(medium).transpose()?;
    Ok(Some(found))
}

/// What the herb is drawn out with.
fn medium(text: &str) -> Result<Menstruum, AmountError> {
    let refuse = || AmountError::HerbRatio(format!("in {}", text.chars().take(40).collect::<String>()));
    if text.is_empty() || text.len() > 60 {
        return Err(refuse());
    }
    if text == "oil" || text.ends_with(" oil") {
        return Ok(Menstruum::Oil);
    }
    let Some((number, of)) = text.split_once('%') else {
        return Ok(Menstruum::Other(text.to_owned().into()));
    };
    let percent = number::parse(number)?;
    if percent > HUNDRED {
        return Err(AmountError::PastHundred(percent.normalize()));
    }
    let of = of.trim().trim_start_matches("v/v").trim_start_matches("vol.").trim_start_matches("vol").trim();
    let spirit = matches!(of, "" | "alcohol" | "ethanol" | "spirit" | "abv" | "a.b.v.");
    match Fraction::percent(percent) {
        Ok(strength) if spirit => Ok(Menstruum::Spirit(strength)),
        Ok(_) => Ok(Menstruum::Other(text.to_owned().into())),
        Err(_) => Err(refuse()),
    }
}
