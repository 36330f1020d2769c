//! What a caution, an allergy or a finding is said of: `species:calendula-officinalis`, `kind:essential oil`.

use super::Known;
use crate::caution::{Audience, Finding, Origin};
use crate::error::Error;
use crate::material::{Material, MaterialKind};
use crate::table::Row;
use rust_decimal::Decimal;

/// One target of a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Target {
    Material(String),
    Species(String),
    Family(String),
    Kind(MaterialKind),
    /// Materials whose range for the substance reaches at least this many per cent.
    Substance(String, Decimal),
    Group(String),
    Preparation(String),
    Route(String),
    Evidence(Audience, Finding),
    /// Raised by a calculation and carried by nothing.
    Calculation(String),
    /// Raised where the cautions with these keys all stand, and said in their place.
    Together(Vec<String>),
}

const CURE: &str = "Write material:KEY, species:KEY, family:Name, kind:WORD, substance:KEY@PERCENT, group:KEY, \
                    preparation:KEY, route:KEY, evidence:pregnant:WORD, calculation:NAME or together:KEY+KEY, separated by semicolons";

impl Target {
    pub(crate) fn list(row: Row<'_>, field: &str, known: &Known) -> Result<Vec<Self>, Error> {
        let targets = row
            .items(field)
            .map(|item| Self::read(row, field, item, known))
            .collect::<Result<Vec<_>, Error>>()?;
        if targets.is_empty() {
            return Err(row.refuse(field, "the field is empty", CURE));
        }
        Ok(targets)
    }

    pub(crate) fn one(row: Row<'_>, field: &str, known: &Known) -> Result<Self, Error> {
        Self::read(row, field, row.text(field)?, known)
    }

    fn read(row: Row<'_>, field: &str, item: &str, known: &Known) -> Result<Self, Error> {
        let refuse = || row.refuse(field, format!("{item:?} is not accepted"), CURE);
        let (sort, name) = item.split_once(':').ok_or_else(refuse)?;
        let refers = |to| row.refers(field, name, to).map(str::to_owned);
        match sort {
            "material" => refers(&known.materials).map(Self::Material),
            "species" => refers(&known.species).map(Self::Species),
            "family" => refers(&known.families).map(Self::Family),
            "group" => refers(&known.groups).map(Self::Group),
            "preparation" => refers(&known.preparations).map(Self::Preparation),
            "route" => refers(&known.routes).map(Self::Route),
            "calculation" => Ok(Self::Calculation(name.to_owned())),
            "together" => Ok(Self::Together(name.split('+').map(str::to_owned).collect())),
            "kind" => name.parse().map(Self::Kind).map_err(|_unknown_word| refuse()),
            "substance" => {
                let (key, percent) = name.split_once('@').unwrap_or((name, "0"));
                let key = row.refers(field, key, &known.substances)?;
                let percent = Decimal::from_str_exact(percent).map_err(|_not_a_number| refuse())?;
                Ok(Self::Substance(key.to_owned(), percent))
            }
            "evidence" => {
                let (audience, finding) = name.split_once(':').ok_or_else(refuse)?;
                match (audience.parse(), finding.parse()) {
                    (Ok(audience), Ok(finding)) => Ok(Self::Evidence(audience, finding)),
                    _ => Err(refuse()),
                }
            }
            _ => Err(refuse()),
        }
    }

    /// Whether this is said of the material, and how the material comes by it.
    ///
    /// A family speaks for herbs, essential oils, resins and aromatic waters; a pressed and refined oil holds too
    /// little of the plant's protein for that, and has rows of its own where the trade warns.
    pub(crate) fn origin(&self, of: &Material, names: &dyn Fn(&Self) -> String) -> Option<Origin> {
        let species = of.botanical.as_ref().map(|botanical| &botanical.species);
        match self {
            Self::Material(key) => (of.key == *key).then_some(Origin::Itself),
            Self::Species(key) => species
                .filter(|species| species.key == *key)
                .map(|species| Origin::Species(species.name.clone())),
            Self::Family(family) => species
                .filter(|species| species.family == *family && family_speaks_for(of.kind))
                .map(|species| Origin::Family(species.family.clone())),
            Self::Kind(kind) => (of.kind == *kind).then(|| Origin::Kind(kind.to_string())),
            Self::Substance(key, least) => of
                .constituents
                .iter()
                .any(|constituent| constituent.substance == *key && constituent.high_percent >= *least)
                .then(|| Origin::Constituent(names(self))),
            Self::Group(group) => of.is_in_allergy_group(group).then(|| Origin::AllergyGroup(names(self))),
            Self::Preparation(_)
            | Self::Route(_)
            | Self::Evidence(..)
            | Self::Calculation(_)
            | Self::Together(_) => None,
        }
    }
}

pub(crate) const fn family_speaks_for(kind: MaterialKind) -> bool {
    matches!(
        kind,
        MaterialKind::Herb | MaterialKind::EssentialOil | MaterialKind::Resin | MaterialKind::WateryBase
    )
}
