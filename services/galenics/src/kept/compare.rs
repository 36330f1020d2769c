//! What another engine, or another edition of the facts, makes different.

use std::{collections::HashMap, fmt};

use serde::Serialize;

use super::document::{Answer, Exact, Fact, HerbEntry, KeptEvaluation, LineEntry, MaterialEntry};
use crate::Text;

/// A value, unit or verdict that is not what it was.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// The figure, such as `phases/1/lines/2/mass` or `composition/beeswax/share`, counted from 0.
    pub path: String,
    /// What was kept, with its unit; nothing where the figure was not there.
    pub kept: Option<String>,
    /// What it is now, with its unit; nothing where the figure is gone.
    pub now: Option<String>,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = |value: &Option<String>| value.clone().unwrap_or_else(|| "absent".to_owned());
        write!(f, "{}: {} was kept, {} is computed now", self.path, shown(&self.kept), shown(&self.now))
    }
}

/// Every value, unit and verdict in which two results differ, in the order in which the results have them.
///
/// Numbers are compared as numbers: 1.0 is 1.00. Sentences, names, sources and the inputs of a figure are not
/// compared, nor is the wording of what an unknown figure misses. The facts of the materials are, because
/// later work derives from them.
#[must_use]
pub fn compare(kept: &KeptEvaluation, now: &KeptEvaluation) -> Vec<Difference> {
    let mut now: HashMap<String, (usize, Entry<'_>)> =
        entries(now).into_iter().enumerate().map(|(at, (path, entry))| (path, (at, entry))).collect();
    let mut differences = Vec::new();
    for (path, before) in entries(kept) {
        let after = now.remove(&path).map(|(_, after)| after);
        if after.as_ref().is_none_or(|after| !before.is_same(after)) {
            differences.push(Difference {
                path,
                kept: Some(before.to_string()),
                now: after.as_ref().map(ToString::to_string),
            });
        }
    }
    let mut added: Vec<_> = now.into_iter().collect();
    added.sort_by_key(|(_, (at, _))| *at);
    differences.extend(added.into_iter().map(|(path, (_, after))| Difference {
        path,
        kept: None,
        now: Some(after.to_string()),
    }));
    differences
}

/// What is compared of one figure.
struct Entry<'a> {
    answer: Answer,
    unit: &'a str,
}

impl Entry<'_> {
    fn is_same(&self, other: &Self) -> bool {
        let same = match (&self.answer, &other.answer) {
            (Answer::Unknown(_), Answer::Unknown(_)) => true,
            (one, other) => one == other,
        };
        same && self.unit == other.unit
    }
}

impl fmt::Display for Entry<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.answer {
            Answer::Number(value) => fmt::Display::fmt(&value.0, f)?,
            Answer::Words(words) => f.write_str(words)?,
            Answer::Day(day) => fmt::Display::fmt(day, f)?,
            Answer::Unknown(missing) => {
                write!(f, "unknown ({})", missing.iter().map(Text::as_str).collect::<Vec<_>>().join("; "))?;
            }
        }
        if self.unit.is_empty() { Ok(()) } else { write!(f, " {}", self.unit) }
    }
}

/// The entries of a result by their paths.
#[derive(Default)]
struct Entries<'a>(Vec<(String, Entry<'a>)>);

impl<'a> Entries<'a> {
    fn figure(&mut self, of: &'a KeptEvaluation, path: String, at: usize) {
        // A reference that leads nowhere is damage, which restoring reports; here the figure is absent.
        if let Some(figure) = of.figures.get(at) {
            self.0.push((path, Entry { answer: figure.value.clone(), unit: &figure.unit }));
        }
    }

    fn number(&mut self, path: String, value: Exact, unit: &'a str) {
        self.0.push((path, Entry { answer: Answer::Number(value), unit }));
    }

    fn words(&mut self, path: String, words: &'static str) {
        self.0.push((path, Entry { answer: Answer::Words(words.into()), unit: "" }));
    }

    fn fact(&mut self, path: String, fact: Option<&Fact>, unit: &'a str) {
        if let Some(Fact(value, _)) = fact {
            self.number(path, *value, unit);
        }
    }

    fn line(&mut self, of: &'a KeptEvaluation, path: &str, line: &'a LineEntry) {
        self.figure(of, format!("{path}/mass"), line.mass);
        self.figure(of, format!("{path}/share"), line.share);
        if let Some(volume) = line.volume {
            self.figure(of, format!("{path}/volume"), volume);
        }
        self.words(format!("{path}/fate"), line.fate.as_str());
        if let Some((value, unit)) = &line.number {
            self.number(format!("{path}/number"), *value, unit);
        }
        if let Some(density) = line.density {
            self.number(format!("{path}/density"), density, crate::units::GRAM_PER_ML);
        }
        if let Some(drops) = line.drops_per_ml {
            self.number(format!("{path}/drops_per_ml"), drops, "");
        }
    }

    fn material(&mut self, path: &str, material: &'a MaterialEntry) {
        use crate::units::{CELSIUS, GRAM_PER_ML, SHARE_OF_MASS, SHARE_OF_VOLUME};
        self.words(format!("{path}/kind"), material.kind.as_str());
        if let Some(density) = &material.density {
            self.number(format!("{path}/density"), density.g_per_ml, GRAM_PER_ML);
            self.number(format!("{path}/density_at"), density.celsius, CELSIUS);
        }
        self.fact(format!("{path}/drops_per_ml"), material.drops_per_ml.as_ref(), "");
        match &material.herb {
            Some(HerbEntry::Dried) => self.words(format!("{path}/herb"), "dried"),
            Some(HerbEntry::Fresh { water, dried_water }) => {
                self.words(format!("{path}/herb"), "fresh");
                self.fact(format!("{path}/water"), water.as_ref(), SHARE_OF_MASS);
                self.fact(format!("{path}/dried_water"), dried_water.as_ref(), SHARE_OF_MASS);
            }
            None => {}
        }
        self.fact(format!("{path}/dissolved_water"), material.water.as_ref(), SHARE_OF_MASS);
        self.fact(format!("{path}/ethanol_by_volume"), material.ethanol_by_volume.as_ref(), SHARE_OF_VOLUME);
    }
}

fn entries(of: &KeptEvaluation) -> Vec<(String, Entry<'_>)> {
    let mut all = Entries::default();
    for (path, at) in [
        ("charged", Some(of.charged)),
        ("product", Some(of.product)),
        ("against_stated_yield", of.against_stated_yield),
        ("expected_yield", of.expected_yield),
        ("boiled_off", of.boiled_off),
        ("volume", Some(of.volume)),
        ("density", Some(of.density)),
        ("oil", Some(of.oil)),
        ("water", Some(of.water)),
        ("emulsifier", Some(of.emulsifier)),
        ("emulsifying_oil", Some(of.emulsifying_oil)),
        ("oil_to_water", Some(of.oil_to_water)),
        ("emulsifier_to_oil", Some(of.emulsifier_to_oil)),
    ] {
        if let Some(at) = at {
            all.figure(of, path.to_owned(), at);
        }
    }
    if let Some((_, ethanol, water)) = of.evaporated {
        all.number("evaporated/ethanol".to_owned(), ethanol, crate::units::SHARE_OF_MASS);
        all.number("evaporated/water".to_owned(), water, crate::units::SHARE_OF_MASS);
    }
    all.words("preparation".to_owned(), of.preparation.as_str());
    for (p, phase) in of.phases.iter().enumerate() {
        all.figure(of, format!("phases/{p}/mass"), phase.mass);
        all.figure(of, format!("phases/{p}/share"), phase.share);
        for (l, line) in phase.lines.iter().enumerate() {
            all.line(of, &format!("phases/{p}/lines/{l}"), line);
        }
    }
    if let Some((p, l, value, unit)) = &of.make_up {
        all.number(format!("phases/{p}/lines/{l}/make_up"), *value, unit);
    }
    for leaf in &of.composition {
        all.figure(of, format!("composition/{}/share", name(of, leaf.material)), leaf.share);
    }
    for herb in &of.herbs {
        all.figure(of, format!("herbs/{}/per_gram", name(of, herb.material)), herb.per_gram);
    }
    for contained in &of.contains {
        all.words(format!("contains/{}/fate", name(of, contained.material)), contained.fate.as_str());
    }
    for (at, material) in of.materials.iter().enumerate() {
        // One id may stand for two states of a material, where nested formulas were frozen at other times.
        let before = of.materials.iter().take(at).filter(|other| other.id == material.id).count();
        let path = match before {
            0 => format!("materials/{}", material.id),
            _ => format!("materials/{}/{before}", material.id),
        };
        all.material(&path, material);
    }
    all.0
}

fn name(of: &KeptEvaluation, material: usize) -> &str {
    of.materials.get(material).map_or("?", |material| material.id.as_str())
}
