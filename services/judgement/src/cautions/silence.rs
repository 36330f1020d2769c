//! Why a caution that a material, kind or route carries is not raised: only a known figure below a sourced threshold, or
//! a form, regime or stage that its rule is not about.

use std::collections::{BTreeMap, HashMap, HashSet};

use materia::{Amount, CautionRule, Group, Materia, OnlyAs, Stage, Threshold, ThresholdSubject};
use uuid::Uuid;
use wire::safety::{Caution, NotRaised};

use super::found::{Candidate, Counted};
use crate::assembled::Assembled;
use crate::error::Result;
use crate::thresholds;
use crate::written::Written;

/// Why a caution was not raised.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Why {
    /// It concerns making or keeping a nested preparation, whose own recipe says it.
    WithNested(String),
    /// It is raised under other regimes.
    Regime(Vec<String>),
    /// It is about another form of the material.
    Form(OnlyAs),
    /// Known amounts stay below sourced thresholds.
    Below(Vec<Threshold>),
    /// Another caution says it in full.
    SaidBy(String),
}

/// Decides which candidates are silent.
pub(super) struct Silence<'a> {
    reference: &'a Materia,
    whole: &'a Assembled,
    regime: String,
    /// The material that the product is, where it is one material and nothing else.
    pure: Option<String>,
    below: HashMap<String, Vec<Threshold>>,
}

impl<'a> Silence<'a> {
    /// Compares the amounts of what carries the candidates' cautions with their thresholds.
    pub(super) fn of(
        reference: &'a Materia,
        written: &Written,
        whole: &'a Assembled,
        candidates: &[Candidate<'_>],
    ) -> Result<Self> {
        let mut carriers: BTreeMap<&str, HashSet<Uuid>> = BTreeMap::new();
        for candidate in candidates {
            let rule = candidate.rule(reference).filter(|rule| rule.amount == Amount::Threshold);
            if let (Some(rule), Some(material)) = (rule, candidate.at.material) {
                carriers.entry(&rule.key).or_default().insert(material);
            }
        }
        Ok(Self {
            reference,
            whole,
            regime: written.content.regime.as_str().replace('_', "-"),
            pure: pure(whole),
            below: if carriers.is_empty() || !whole.worked_out {
                HashMap::new()
            } else {
                thresholds::below(reference, written, whole, &carriers)?
            },
        })
    }

    /// Why a candidate is not raised; `None` if it is.
    pub(super) fn why(&self, candidate: &Candidate<'_>) -> Option<Why> {
        let rule = candidate.rule(self.reference)?;
        if let Some(title) = candidate.at.nested
            && matches!(rule.group, Group::ForTheMaker | Group::HowToKeep)
            && rule.stage != Stage::Use
        {
            return Some(Why::WithNested(title.to_owned()));
        }
        if !rule.regimes.is_empty() && !rule.regimes.contains(&self.regime) {
            return Some(Why::Regime(rule.regimes.clone()));
        }
        if self.is_another_form(rule, candidate) {
            return Some(Why::Form(rule.only_as.clone()));
        }
        let below = self.below.get(&rule.key)?;
        candidate.at.material.map(|_| Why::Below(below.clone()))
    }

    fn is_another_form(&self, rule: &CautionRule, candidate: &Candidate<'_>) -> bool {
        match (&rule.only_as, candidate.at.material) {
            (OnlyAs::Any, _) | (_, None) => false,
            (OnlyAs::Pure, Some(material)) => {
                self.whole.worked_out && self.pure.as_deref() != Some(material.to_string().as_str())
            }
            (OnlyAs::In(kinds), Some(_)) => {
                candidate.at.kind.is_some_and(|kind| !kinds.iter().any(|meant| meant == kind))
            }
        }
    }
}

/// The only material of a product, where every other share is known to be nothing.
fn pure(whole: &Assembled) -> Option<String> {
    let mut there = whole
        .evaluation
        .composition
        .iter()
        .filter(|leaf| leaf.share.value().is_none_or(|share| !share.is_zero()));
    match (there.next(), there.next()) {
        (Some(leaf), None) => Some(leaf.material.id.to_string()),
        _ => None,
    }
}

/// What was left out, each caution once for each reason, without those that were raised all the same from elsewhere.
pub(super) fn told(reference: &Materia, left_out: Vec<(Caution, Why)>, raised: &[Counted]) -> Vec<NotRaised> {
    let mut all: BTreeMap<(String, String), NotRaised> = BTreeMap::new();
    let by: HashMap<String, String> = left_out
        .iter()
        .filter_map(|(caution, why)| match why {
            Why::SaidBy(by) => Some((caution.key.clone(), by.clone())),
            _ => None,
        })
        .collect();
    for (caution, why) in left_out {
        let why = match why {
            Why::SaidBy(key) => Why::SaidBy(last(&by, key, raised)),
            other => other,
        };
        if raised.iter().any(|counted| counted.caution.text == caution.text) {
            continue;
        }
        let (because, source) = because(reference, &why, raised);
        let told = all.entry((caution.key.clone(), because.clone())).or_insert_with(|| NotRaised {
            key: caution.key,
            text: caution.text,
            level: caution.level,
            audiences: caution.audiences,
            because,
            source,
            origins: Vec::new(),
        });
        for origin in caution.origins {
            if !told.origins.contains(&origin) {
                told.origins.push(origin);
            }
        }
    }
    all.into_values().collect()
}

/// The caution that stands in the end for one that was replaced: what replaced it may have been replaced itself.
fn last(by: &HashMap<String, String>, mut key: String, raised: &[Counted]) -> String {
    let stands = |key: &str| raised.iter().any(|it| it.rule == key || it.caution.key == key);
    // Nothing replaces what replaces it, so that this ends.
    while !stands(&key) {
        match by.get(&key) {
            Some(next) => key.clone_from(next),
            None => break,
        }
    }
    key
}

/// The reason in a sentence without any figure of the formula, and the source of a threshold.
fn because(reference: &Materia, why: &Why, raised: &[Counted]) -> (String, Option<String>) {
    let names = |keys: &[String], name: &dyn Fn(&str) -> Option<String>| {
        keys.iter().map(|key| name(key).unwrap_or_else(|| key.clone())).collect::<Vec<_>>().join(", ")
    };
    match why {
        Why::WithNested(title) => (format!("The recipe of {title:?} says it."), None),
        Why::Regime(keys) => {
            let regime = |key: &str| reference.regime(key).map(|regime| regime.name.to_lowercase());
            (format!("It is about preparations made as {}.", names(keys, &regime)), None)
        }
        Why::Form(OnlyAs::In(keys)) => {
            let kind = |key: &str| reference.preparation(key).map(|kind| kind.name.clone());
            (format!("It is about these forms: {}.", names(keys, &kind)), None)
        }
        Why::Form(OnlyAs::Any | OnlyAs::Pure) => ("It is about the undiluted material.".to_owned(), None),
        Why::Below(thresholds) => {
            let told = thresholds.iter().map(|threshold| {
                let subject = match &threshold.subject {
                    ThresholdSubject::Material(key) => reference.material(key).map(|it| it.name.clone()),
                    ThresholdSubject::Substance(key) => reference.substance(key).map(|it| it.name.clone()),
                };
                format!("{}: not above {}", subject.unwrap_or_default(), thresholds::in_words(threshold))
            });
            let sources: Vec<&str> = {
                let mut sources: Vec<&str> = thresholds.iter().map(|it| it.source.text.as_str()).collect();
                sources.dedup();
                sources
            };
            (format!("{}.", told.collect::<Vec<_>>().join("; ")), Some(sources.join("; ")))
        }
        Why::SaidBy(key) => {
            let by = raised.iter().find(|counted| counted.rule == *key || counted.caution.key == *key);
            let text = by.map_or_else(|| key.clone(), |counted| counted.caution.text.clone());
            (format!("This caution takes its place: {text}"), None)
        }
    }
}
