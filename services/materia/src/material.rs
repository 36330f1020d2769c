//! Materials: everything that can stand in a line of a formula.

use crate::binding::Prohibition;
use crate::botany::{binomial_of, genus_of};
use crate::caution::{Caution, Evidence, Finding, OWN, Origin};
use crate::property::{Density, Measured};
use crate::source::{Source, Status};
use crate::substance::Constituent;
use crate::words::words;
use serde::{Deserialize, Serialize};

words! {
    /// What a material is.
    pub enum MaterialKind {
        /// A plant or part of it, fresh or dried.
        Herb = "herb",
        /// A fatty oil, liquid at room temperature.
        FixedOil = "fixed oil",
        /// A plant fat, solid at room temperature.
        Butter = "butter",
        /// A wax.
        Wax = "wax",
        /// Mineral hydrocarbons: paraffins.
        Hydrocarbon = "hydrocarbon",
        /// Holds oil and water together.
        Emulsifier = "emulsifier",
        /// A volatile oil.
        EssentialOil = "essential oil",
        /// Dissolves or extracts: ethanol, vinegar.
        Solvent = "solvent",
        /// Water, or water with traces of something: aromatic waters.
        WateryBase = "watery base",
        /// Holds water in the product or the skin.
        Humectant = "humectant",
        /// Hinders microbes.
        Preservative = "preservative",
        /// Hinders rancidity.
        Antioxidant = "antioxidant",
        /// A salt, an acid or an alkali.
        Salt = "salt",
        /// Thickens.
        Thickener = "thickener",
        /// A mineral powder.
        Mineral = "mineral",
        /// Sugar and its like.
        Sweetener = "sweetener",
        /// Comes from an animal and is none of the above.
        AnimalProduct = "animal product",
        /// A single volatile substance that the trade uses as such: menthol, camphor.
        AromaticSubstance = "aromatic substance",
        /// A resin or balsam.
        Resin = "resin",
    }
}

words! {
    /// What a material is chemically, where calculations must tell it from others of its kind.
    pub enum Nature {
        /// A long-chain alcohol that stiffens and helps an emulsifier.
        FattyAlcohol = "fatty alcohol",
        /// A long-chain acid; an alkali makes soap of it.
        FattyAcid = "fatty acid",
        /// Lowers the pH.
        Acid = "acid",
        /// Raises the pH, and makes soap of fatty acids.
        Alkali = "alkali",
    }
}

words! {
    /// In what way a material holds oil and water together, if it does.
    pub enum Emulsifies {
        /// By its balance of water-loving and oil-loving parts, judged on the HLB scale.
        ByHlb = "by-hlb",
        /// A finished blend, dosed by its share of the whole; the HLB scale is not applied to it.
        ByUseRate = "by-use-rate",
        /// Only together with an alkali, which makes soap of its acids in place.
        BySoap = "by-soap",
        /// By its own nature, like lecithin, egg yolk and wool fat; no single HLB describes it.
        ByNature = "by-nature",
    }
}

words! {
    /// The state of a herb.
    pub enum State {
        /// As gathered.
        Fresh = "fresh",
        /// Left to lose part of its water.
        Wilted = "wilted",
        /// Dried for keeping.
        Dried = "dried",
    }
}

words! {
    /// How a herb is cut.
    pub enum Cut {
        /// Not cut.
        Whole = "whole",
        /// Cut or crushed.
        Cut = "cut",
        /// Ground to powder.
        Powdered = "powdered",
    }
}

/// A botanical species.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Species {
    /// Stable key: `calendula-officinalis`.
    pub key: String,
    /// Botanical name without author: `Calendula officinalis`.
    pub name: String,
    /// Author of the name.
    pub author: String,
    /// Botanical names that the species also bears, without author.
    #[serde(default)]
    pub synonyms: Vec<String>,
    /// Botanical family.
    pub family: String,
    /// Common names in English.
    pub common_names: Vec<String>,
    /// Plants mistaken for it.
    pub look_alikes: Vec<LookAlike>,
    /// Where names and family come from.
    pub source: Source,
    /// How far they were checked.
    pub status: Status,
}

impl Species {
    /// The botanical names that the species bears, its own first.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        [&self.name].into_iter().chain(&self.synonyms).map(String::as_str)
    }

    /// Whether this botanical name is one of the species', whatever its case, hybrid sign, rank or author.
    #[must_use]
    pub fn is_named(&self, name: &str) -> bool {
        let wanted = binomial_of(name);
        self.names().any(|one| binomial_of(one) == wanted)
    }
}

/// A plant that is mistaken for another.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct LookAlike {
    /// Botanical and common name.
    pub name: String,
    /// Whether the mistake can poison.
    pub poisonous: bool,
    /// How they are told apart.
    pub text: String,
    /// Where the fact comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

/// What plant a material comes from.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Botanical {
    /// The species.
    pub species: Species,
    /// The part of the plant.
    pub part: String,
    /// The state of a herb; absent for what is pressed or distilled from the plant.
    pub state: Option<State>,
    /// How a herb is cut.
    pub cut: Option<Cut>,
}

/// Balances of an emulsifier, or those that an oil phase asks for.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct HlbValues {
    /// The emulsifier's own.
    pub own: Vec<Measured>,
    /// Required for an oil-in-water emulsion. Published lists disagree; each keeps its source, best first.
    pub required_oil_in_water: Vec<Measured>,
    /// Required for a water-in-oil emulsion.
    pub required_water_in_oil: Vec<Measured>,
}

/// A form in which a material is ordinarily used.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct UsualForm {
    /// Key of the preparation kind.
    pub preparation: String,
    /// Ratio or strength as the trade writes it.
    pub ratio: String,
    /// Where it comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

/// A material's membership in an allergy group.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct AllergyMembership {
    /// Key of the group.
    pub group: String,
    /// How the material comes to be in it.
    pub origin: Origin,
    /// Where the fact comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

/// People who react to one of these tend to react to the others.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct AllergyGroup {
    /// Stable key, as it stands in `allergy:KEY`.
    pub key: String,
    /// English name.
    pub name: String,
    /// The botanical family all of whose herbs and essential oils belong to it.
    pub family: Option<String>,
    /// Whether food law has it named and set apart in a food's list of ingredients.
    pub declared_in_food: bool,
    /// Where the group comes from.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

/// One entry of the materia medica.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Material {
    /// Stable key: `beeswax-yellow`.
    pub key: String,
    /// English name, unique: `yellow beeswax`.
    pub name: String,
    /// What it is.
    pub kind: MaterialKind,
    /// What it is chemically, where that matters beyond its kind.
    pub nature: Option<Nature>,
    /// In what way it holds oil and water together; absent when it does not.
    pub emulsifies: Option<Emulsifies>,
    /// The plant that it comes from.
    pub botanical: Option<Botanical>,
    /// Name on a cosmetic's list of ingredients.
    pub inci: Option<String>,
    /// Other names, common and botanical.
    pub synonyms: Vec<String>,
    /// Density to calculate with; absent means unknown, never 1.
    pub density: Option<Density>,
    /// Melting range, °C.
    pub melting: Option<Measured>,
    /// Drop point, °C.
    pub drop_point: Option<Measured>,
    /// Water in the fresh herb, per cent by mass.
    pub water_content_fresh: Option<Measured>,
    /// Water that the fresh herb keeps once it is dried, per cent by mass; for its worth in dried herb.
    pub water_content_dried: Option<Measured>,
    /// Water in the material as supplied, per cent by mass.
    pub water_content: Option<Measured>,
    /// Ethanol in the material as supplied, per cent by volume.
    pub ethanol: Option<Measured>,
    /// Balances of emulsifiers and oil phases.
    pub hlb: HlbValues,
    /// Acid value, mg KOH/g.
    pub acid_value: Option<Measured>,
    /// Ester value, mg KOH/g.
    pub ester_value: Option<Measured>,
    /// Saponification value, mg KOH/g.
    pub saponification_value: Option<Measured>,
    /// Drops in a millilitre, from the dropper that the source states or that the clinic counted with.
    #[serde(default)]
    pub drops_per_ml: Option<Measured>,
    /// Usual share of the whole, per cent by mass.
    pub use_rate: Option<Measured>,
    /// What it consists of, as far as limits, allergens or cautions depend on it.
    pub constituents: Vec<Constituent>,
    /// Forms in which it is ordinarily used.
    pub usual_forms: Vec<UsualForm>,
    /// Allergy groups that it belongs to.
    pub allergy_groups: Vec<AllergyMembership>,
    /// What is known in pregnancy and while breast-feeding; never empty for either.
    pub evidence: Vec<Evidence>,
    /// Cautions that it carries, of its own and from species, family, kind, constituents and allergy groups.
    pub cautions: Vec<Caution>,
    /// Regimes that prohibit it.
    pub prohibited_in: Vec<Prohibition>,
    /// Where name and kind come from.
    pub source: Source,
    /// How far they were checked.
    pub status: Status,
}

impl Material {
    /// Whether the name, the key, a synonym or the INCI name is this text, whatever its case.
    #[must_use]
    pub fn is_called(&self, text: &str) -> bool {
        let wanted = text.trim().to_lowercase();
        let names = [&self.key, &self.name];
        names.into_iter().chain(&self.synonyms).chain(&self.inci).any(|name| name.to_lowercase() == wanted)
    }

    /// Whether two entries say the same, in whatever order they say it.
    #[must_use]
    pub fn says_the_same_as(&self, other: &Self) -> bool {
        fn in_order(it: &Material) -> Material {
            let mut it = it.clone();
            it.synonyms.sort();
            it.constituents.sort_by(|a, b| a.substance.cmp(&b.substance));
            it.allergy_groups.sort_by(|a, b| a.group.cmp(&b.group));
            it.evidence.sort_by(|a, b| (&a.audience, &a.routes).cmp(&(&b.audience, &b.routes)));
            it.cautions.sort_by(|a, b| (&a.key, &a.routes, &a.text).cmp(&(&b.key, &b.routes, &b.text)));
            it
        }
        in_order(self) == in_order(other)
    }

    /// Whether the material comes from the species with this key of the reference data.
    #[must_use]
    pub fn is_of_species(&self, key: &str) -> bool {
        self.botanical.as_ref().is_some_and(|botanical| botanical.species.key == key)
    }

    /// Whether the material comes from a plant of this genus.
    #[must_use]
    pub fn is_of_genus(&self, genus: &str) -> bool {
        let wanted = genus_of(genus);
        let species = self.botanical.as_ref().map(|botanical| &botanical.species);
        species.is_some_and(|species| species.names().any(|name| genus_of(name) == wanted))
    }

    /// Whether whoever entered it stated a caution or a finding about it, beside what follows from its kind and plant.
    #[must_use]
    pub fn has_own_findings(&self) -> bool {
        let stated =
            |evidence: &Evidence| evidence.finding != Finding::NoData && evidence.source == self.source;
        self.cautions.iter().any(|caution| caution.key.starts_with(OWN)) || self.evidence.iter().any(stated)
    }

    /// Whether the material belongs to the allergy group with this key.
    #[must_use]
    pub fn is_in_allergy_group(&self, group: &str) -> bool {
        self.allergy_groups.iter().any(|membership| membership.group == group)
    }
}
