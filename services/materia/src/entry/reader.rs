//! From an entry to a material: every field checked, what did not change kept with the source that it had.

use super::{Entry, EntryRefusal, OWN, general};
use crate::caution::{Audience, Caution, Evidence, Finding, Level, Origin};
use crate::material::{AllergyMembership, Botanical, HlbValues, Material, MaterialKind, Species, State};
use crate::property::{Density, Measured, PropertyUnit};
use crate::source::{DateIs, Source, Status};
use crate::substance::Constituent;
use crate::{Error, Materia};
use rust_decimal::Decimal;
use std::str::FromStr;

impl Materia {
    /// Makes a material of an entry. `before` is the material that the entry revises: its key stays, and so does
    /// every fact that the entry does not change, with the source that it had.
    ///
    /// # Errors
    /// Every field that was not accepted.
    pub fn complete(&self, entry: &Entry, before: Option<&Material>) -> Result<Material, Vec<EntryRefusal>> {
        let mut reader = Reader { materia: self, entry, before, refusals: Vec::new() };
        let material = reader.material();
        if !reader.refusals.is_empty() {
            return Err(reader.refusals);
        }
        let mut material = material;
        self.apply_rules(&mut material).map_err(|Error { problem, .. }| vec![refusal("", problem)])?;
        Ok(material)
    }
}

fn refusal(field: impl Into<String>, detail: impl Into<String>) -> EntryRefusal {
    EntryRefusal { field: field.into(), detail: detail.into() }
}

/// Small letters, digits and hyphens, from any text.
fn slug(text: &str) -> String {
    let words: Vec<String> = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    words.join("-")
}

/// What is said, trimmed; an empty text says nothing.
fn said(text: Option<&String>) -> Option<&str> {
    text.map(|text| text.trim()).filter(|text| !text.is_empty())
}

struct Reader<'r> {
    materia: &'r Materia,
    entry: &'r Entry,
    before: Option<&'r Material>,
    refusals: Vec<EntryRefusal>,
}

impl Reader<'_> {
    fn refuse(&mut self, field: impl Into<String>, detail: impl Into<String>) {
        self.refusals.push(refusal(field, detail));
    }

    /// The material, with stand-ins where a field was refused.
    fn material(&mut self) -> Material {
        let entry = self.entry;
        let name = self.text("/name", &entry.name, 200);
        let kind = self.word("/kind", &entry.kind, MaterialKind::Herb);
        let status = self.word("/status", &entry.status.trim().replace(' ', "_"), Status::FromMemory);
        let text = self.text("/source", &entry.source, 500);
        let source = match self.before {
            Some(before) if before.source.text == text => before.source.clone(),
            _ => Source { text, date: String::new(), date_is: DateIs::Written },
        };
        let botanical = self.botanical(kind, &source, status);
        let before = self.before;
        let synonyms = self.names();
        self.dries();
        Material {
            key: before.map_or_else(|| format!("clinic-{}", slug(&name)), |before| before.key.clone()),
            kind,
            nature: before.and_then(|it| it.nature),
            emulsifies: before.and_then(|it| it.emulsifies),
            botanical,
            inci: self.short("/inci", entry.inci.as_ref()),
            synonyms,
            density: self.density(&source, status),
            melting: before.and_then(|it| it.melting.clone()),
            drop_point: before.and_then(|it| it.drop_point.clone()),
            water_content_fresh: self.percent(
                "/fresh_water_percent",
                entry.fresh_water_percent.as_ref(),
                PropertyUnit::PercentByMass,
                before.and_then(|it| it.water_content_fresh.as_ref()),
                (&source, status),
            ),
            water_content_dried: self.percent(
                "/dried_water_percent",
                entry.dried_water_percent.as_ref(),
                PropertyUnit::PercentByMass,
                before.and_then(|it| it.water_content_dried.as_ref()),
                (&source, status),
            ),
            water_content: self.percent(
                "/water_percent",
                entry.water_percent.as_ref(),
                PropertyUnit::PercentByMass,
                before.and_then(|it| it.water_content.as_ref()),
                (&source, status),
            ),
            ethanol: self.percent(
                "/ethanol_percent_by_volume",
                entry.ethanol_percent_by_volume.as_ref(),
                PropertyUnit::PercentByVolume,
                before.and_then(|it| it.ethanol.as_ref()),
                (&source, status),
            ),
            drops_per_ml: self.drops(&source, status),
            hlb: self.hlb(&source, status),
            acid_value: before.and_then(|it| it.acid_value.clone()),
            ester_value: before.and_then(|it| it.ester_value.clone()),
            saponification_value: before.and_then(|it| it.saponification_value.clone()),
            use_rate: before.and_then(|it| it.use_rate.clone()),
            constituents: self.constituents(&source, status),
            usual_forms: before.map(|it| it.usual_forms.clone()).unwrap_or_default(),
            allergy_groups: self.allergy_groups(&source, status),
            evidence: self.evidence(&source, status),
            cautions: self.cautions(&source, status),
            prohibited_in: Vec::new(),
            name,
            source,
            status,
        }
    }

    fn text(&mut self, field: &str, text: &str, most: usize) -> String {
        let text = text.trim();
        let count = text.chars().count();
        if !(1..=most).contains(&count) {
            self.refuse(field, format!("1 to {most} printable characters; this has {count}"));
        } else if let Some(hidden) = canonical::names::hidden(text) {
            self.refuse(field, canonical::names::refusal(hidden));
        }
        text.to_owned()
    }

    /// A text that may be left out.
    fn short(&mut self, field: &str, text: Option<&String>) -> Option<String> {
        said(text).map(|text| self.text(field, text, 200))
    }

    fn word<T: FromStr<Err: std::fmt::Display>>(&mut self, field: &str, text: &str, otherwise: T) -> T {
        match text.trim().parse() {
            Ok(word) => word,
            Err(error) => {
                self.refuse(field, error.to_string());
                otherwise
            }
        }
    }

    fn names(&mut self) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for (i, name) in self.entry.synonyms.iter().enumerate() {
            let name = self.text(&format!("/synonyms/{i}"), name, 200);
            if !names.contains(&name) {
                names.push(name);
            }
        }
        if names.len() > 50 {
            self.refuse("/synonyms", "up to 50 other names");
        }
        names
    }

    fn botanical(&mut self, kind: MaterialKind, source: &Source, status: Status) -> Option<Botanical> {
        let entry = self.entry;
        let state: Option<State> =
            said(entry.state.as_ref()).map(|text| self.word("/state", text, State::Dried));
        let Some(name) = self.short("/botanical_name", entry.botanical_name.as_ref()) else {
            if matches!(kind, MaterialKind::Herb | MaterialKind::EssentialOil) {
                self.refuse("/botanical_name", format!("a {kind} says which plant it comes from"));
            }
            return None;
        };
        if kind == MaterialKind::Herb && state.is_none() {
            self.refuse("/state", "a herb says its state: fresh, wilted or dried");
        }
        let part = match self.short("/part", entry.part.as_ref()) {
            Some(part) => part,
            None => {
                self.refuse("/part", "say which part of the plant, such as flower or root");
                String::new()
            }
        };
        let species = self.species(&name, source, status);
        let cut = self.before.and_then(|before| before.botanical.as_ref()).and_then(|it| it.cut);
        Some(Botanical { species, part, state, cut })
    }

    /// The reference data's own species of that name, else one as the entry writes it.
    fn species(&mut self, name: &str, source: &Source, status: Status) -> Species {
        let author = self.short("/botanical_author", self.entry.botanical_author.as_ref());
        let family = self.short("/family", self.entry.family.as_ref());
        let (author, family) = (author.as_deref(), family.as_deref());
        let known = self.materia.species.iter().find(|it| it.is_named(name));
        if let Some(known) = known {
            for (field, given, held) in
                [("/botanical_author", author, &known.author), ("/family", family, &known.family)]
            {
                if given.is_some_and(|given| given != held) {
                    self.refuse(
                        field,
                        format!(
                            "the reference data have {held:?} for {}: write that, or leave it out",
                            known.name
                        ),
                    );
                }
            }
            return known.clone();
        }
        if author.is_none() {
            self.refuse(
                "/botanical_author",
                "name the author, as the reference data do not hold this species",
            );
        }
        if family.is_none() {
            self.refuse("/family", "name the family, as the reference data do not hold this species");
        }
        Species {
            key: slug(name),
            name: name.to_owned(),
            author: author.unwrap_or_default().to_owned(),
            synonyms: Vec::new(),
            family: family.unwrap_or_default().to_owned(),
            common_names: Vec::new(),
            look_alikes: Vec::new(),
            source: source.clone(),
            status,
        }
    }

    fn number(
        &mut self,
        field: &str,
        text: Option<&String>,
        least: Decimal,
        most: Decimal,
    ) -> Option<Decimal> {
        let text = said(text)?;
        match Decimal::from_str_exact(text) {
            Ok(number) if (least..=most).contains(&number) => Some(number),
            _ => {
                self.refuse(field, format!("{text:?} is not a number from {least} to {most}"));
                None
            }
        }
    }

    fn density(&mut self, source: &Source, status: Status) -> Option<Density> {
        let entry = self.entry;
        // Lighter than any liquid of the trade, and heavier than any of its powders: what lies outside is a slip.
        let value = self.number(
            "/density_g_per_ml",
            entry.density_g_per_ml.as_ref(),
            Decimal::new(3, 1),
            Decimal::from(8),
        );
        let at = self.number(
            "/density_at_celsius",
            entry.density_at_celsius.as_ref(),
            Decimal::from(-30),
            Decimal::from(120),
        );
        let (value, at) = match (value, at) {
            (Some(value), Some(at)) => (value, at),
            (None, None) => return None,
            _ if !self.refusals.is_empty() => return None,
            _ => {
                self.refuse("/density_at_celsius", "a density and its temperature go together");
                return None;
            }
        };
        let before = self.before.and_then(|it| it.density.as_ref());
        if let Some(before) = before.filter(|it| it.g_per_ml == value && it.at_celsius == at) {
            return Some(before.clone());
        }
        Some(Density {
            g_per_ml: value,
            low_g_per_ml: value,
            high_g_per_ml: value,
            at_celsius: at,
            as_published: format!("{value} g/mL at {at} C"),
            source: source.clone(),
            status,
        })
    }

    /// A herb does not get heavier by drying.
    fn dries(&mut self) {
        let of = |text: &Option<String>| text.as_ref()?.trim().parse::<Decimal>().ok();
        if let (Some(fresh), Some(dried)) =
            (of(&self.entry.fresh_water_percent), of(&self.entry.dried_water_percent))
            && dried >= fresh
        {
            self.refuse(
                "/dried_water_percent",
                format!("a herb holds less water dried than fresh: below {} %", fresh.normalize()),
            );
        }
    }

    fn percent(
        &mut self,
        field: &str,
        text: Option<&String>,
        unit: PropertyUnit,
        before: Option<&Measured>,
        (source, status): (&Source, Status),
    ) -> Option<Measured> {
        let value = self.number(field, text, Decimal::ZERO, Decimal::ONE_HUNDRED)?;
        Some(measured(value, unit, before, source, status))
    }

    /// Droppers give between 5 and 200 drops in a millilitre.
    fn drops(&mut self, source: &Source, status: Status) -> Option<Measured> {
        let (least, most) = (Decimal::from(5), Decimal::from(200));
        let value = self.number("/drops_per_ml", self.entry.drops_per_ml.as_ref(), least, most)?;
        let before = self.before.and_then(|it| it.drops_per_ml.as_ref());
        Some(measured(value, PropertyUnit::DropsPerMillilitre, before, source, status))
    }

    fn hlb(&mut self, source: &Source, status: Status) -> HlbValues {
        let mut values = self.before.map(|it| it.hlb.clone()).unwrap_or_default();
        let entry = self.entry;
        for (field, text, most, held) in [
            ("/hlb", entry.hlb.as_ref(), 50, &mut values.own),
            ("/required_hlb", entry.required_hlb.as_ref(), 20, &mut values.required_oil_in_water),
        ] {
            match self.number(field, text, Decimal::ZERO, Decimal::from(most)) {
                None => held.clear(),
                Some(value) if held.first().is_some_and(|first| first.value == value) => {}
                Some(value) => *held = vec![measured(value, PropertyUnit::Hlb, None, source, status)],
            }
        }
        values
    }

    fn constituents(&mut self, source: &Source, status: Status) -> Vec<Constituent> {
        let mut all: Vec<Constituent> = Vec::new();
        for (i, held) in self.entry.constituents.iter().enumerate() {
            let at = |field: &str| format!("/constituents/{i}/{field}");
            let substance = held.substance.trim();
            if self.materia.substance(substance).is_none() {
                self.refuse(at("substance"), format!("{substance:?} is not the key of a substance that limits, allergens or cautions are about"));
            }
            if all.iter().any(|earlier| earlier.substance == substance) {
                self.refuse(at("substance"), "an earlier one is of the same substance: keep one range");
            }
            let most = Decimal::ONE_HUNDRED;
            let low = self.number(&at("low_percent"), Some(&held.low_percent), Decimal::ZERO, most);
            let high = self.number(&at("high_percent"), Some(&held.high_percent), Decimal::ZERO, most);
            let (Some(low), Some(high)) = (low, high) else {
                self.refuse(at("low_percent"), "a range has both ends, which may be equal");
                continue;
            };
            if low > high {
                self.refuse(at("high_percent"), "the upper end is below the lower end");
            }
            let before = self
                .before
                .into_iter()
                .flat_map(|it| &it.constituents)
                .find(|it| it.substance == substance && it.low_percent == low && it.high_percent == high);
            all.push(before.cloned().unwrap_or_else(|| Constituent {
                substance: substance.to_owned(),
                low_percent: low,
                high_percent: high,
                source: source.clone(),
                status,
            }));
        }
        all
    }

    fn allergy_groups(&mut self, source: &Source, status: Status) -> Vec<AllergyMembership> {
        let mut all: Vec<AllergyMembership> = Vec::new();
        for (i, group) in self.entry.allergy_groups.iter().enumerate() {
            let group = group.trim();
            if self.materia.allergy_group(group).is_none() {
                let known: Vec<&str> =
                    self.materia.allergy_groups.iter().map(|group| group.key.as_str()).collect();
                self.refuse(
                    format!("/allergy_groups/{i}"),
                    format!("{group:?} is not one of: {}", known.join(", ")),
                );
                continue;
            }
            let before = self.before.into_iter().flat_map(|it| &it.allergy_groups);
            let before = before.filter(|it| it.origin == Origin::Itself).find(|it| it.group == group);
            all.push(before.cloned().unwrap_or_else(|| AllergyMembership {
                group: group.to_owned(),
                origin: Origin::Itself,
                source: source.clone(),
                status,
            }));
        }
        all
    }

    /// What is said for all routes; findings for single routes stay as they were.
    fn evidence(&mut self, source: &Source, status: Status) -> Vec<Evidence> {
        let before: &[Evidence] = self.before.map_or(&[], |it| &it.evidence);
        let mut all: Vec<Evidence> = before.iter().filter(|it| !it.routes.is_empty()).cloned().collect();
        let entry = self.entry;
        for (field, audience, text) in [
            ("/pregnancy", Audience::Pregnant, &entry.pregnancy),
            ("/breast_feeding", Audience::BreastFeeding, &entry.breast_feeding),
        ] {
            // What is not said here, the rules say, or that nothing is known.
            let Some(text) = said(text.as_ref()) else { continue };
            let finding = self.word(field, text, Finding::NoData);
            let held = general(before, &audience).filter(|it| it.finding == finding);
            all.push(held.cloned().unwrap_or_else(|| Evidence {
                audience,
                finding,
                routes: Vec::new(),
                source: source.clone(),
                status,
            }));
        }
        all
    }

    fn cautions(&mut self, source: &Source, status: Status) -> Vec<Caution> {
        let mut all: Vec<Caution> = Vec::new();
        for (i, own) in self.entry.cautions.iter().enumerate() {
            let at = |field: &str| format!("/cautions/{i}/{field}");
            let text = self.text(&at("text"), &own.text, 1000);
            let level = self.word(&at("level"), &own.level, Level::Caution);
            let mut audiences = Vec::new();
            for (j, audience) in own.audiences.iter().enumerate() {
                let audience = self.word(&at(&format!("audiences/{j}")), audience, Audience::Everyone);
                if let Audience::Allergy(group) = &audience
                    && self.materia.allergy_group(group).is_none()
                {
                    self.refuse(at(&format!("audiences/{j}")), format!("{group:?} is not an allergy group"));
                }
                audiences.push(audience);
            }
            if audiences.is_empty() {
                audiences.push(Audience::Everyone);
            }
            let key = format!("{OWN}{}", slug(&text).chars().take(60).collect::<String>());
            let held = self.before.into_iter().flat_map(|it| &it.cautions).find(|it| {
                it.key == key && it.text == text && it.level == level && it.audiences == audiences
            });
            all.push(held.cloned().unwrap_or_else(|| Caution {
                key,
                level,
                audiences,
                routes: Vec::new(),
                text,
                origin: Origin::Itself,
                source: source.clone(),
                status,
            }));
        }
        all
    }
}

fn measured(
    value: Decimal,
    unit: PropertyUnit,
    before: Option<&Measured>,
    source: &Source,
    status: Status,
) -> Measured {
    match before {
        Some(before) if before.value == value => before.clone(),
        _ => Measured {
            low: value,
            value,
            high: value,
            unit,
            at_celsius: None,
            source: source.clone(),
            status,
        },
    }
}
