//! Cautions being gathered: each where it was found, then each once.

use std::borrow::Cow;
use std::collections::{BTreeMap, HashSet};

use materia::{CautionRule, Group, Level, Materia, Stage};
use uuid::Uuid;
use wire::safety::{Caution, CautionGroup, CautionLevel, CautionStage};

use crate::clinic_cautions::{self, Added};

/// A caution of a set with its rule. One rule can give several cautions, whose texts differ by material.
pub struct Counted {
    /// Key of the rule that raised the caution.
    pub rule: String,
    /// The caution, at the level that the clinic gave to its rule.
    pub caution: Caution,
}

/// The level of `wire` for a level of the reference data.
pub(crate) fn level(level: Level) -> CautionLevel {
    match level {
        Level::Note => CautionLevel::Note,
        Level::Caution => CautionLevel::Caution,
        Level::Contraindication => CautionLevel::Contraindication,
        Level::Stop => CautionLevel::Stop,
    }
}

/// A caution found at one origin.
#[derive(Clone)]
pub(super) struct New<'a> {
    pub(super) key: Cow<'a, str>,
    pub(super) level: CautionLevel,
    pub(super) text: Cow<'a, str>,
    pub(super) audiences: Cow<'a, [String]>,
    pub(super) source: &'a str,
    pub(super) status: &'a str,
    /// Where it is read, if nothing else says so.
    pub(super) stated: Option<(Group, Stage)>,
}

/// Where in a formula a caution was found.
#[derive(Clone, Copy, Default)]
pub(super) struct At<'a> {
    /// The material that carries it, if one does.
    pub(super) material: Option<Uuid>,
    /// The kind of the preparation that it was found in.
    pub(super) kind: Option<&'a str>,
    /// The title of that preparation, if it is nested.
    pub(super) nested: Option<&'a str>,
}

/// A caution that may be raised.
pub(super) struct Candidate<'a> {
    pub(super) new: New<'a>,
    pub(super) origin: String,
    pub(super) at: At<'a>,
}

impl Candidate<'_> {
    pub(super) fn rule<'r>(&self, reference: &'r Materia) -> Option<&'r CautionRule> {
        reference.caution_rules.get(&*self.new.key)
    }
}

/// The audience of a caution that names none.
pub(super) fn everyone() -> [String; 1] {
    [materia::Audience::Everyone.to_string()]
}

/// The version of a caution's text: the first 31 bits of its digest, so that it changes exactly when the text does.
pub(super) fn text_version(text: &str) -> u32 {
    let digest = canonical::digest([text.as_bytes()]);
    u32::from_be_bytes(digest.first_chunk().copied().unwrap_or_default()) >> 1
}

pub(super) fn of_reference(caution: &materia::Caution) -> New<'_> {
    let audiences: Vec<String> = caution.audiences.iter().map(ToString::to_string).collect();
    New {
        key: Cow::Borrowed(&caution.key),
        level: level(caution.level),
        text: Cow::Borrowed(&caution.text),
        audiences: if audiences.is_empty() { everyone().to_vec().into() } else { audiences.into() },
        source: &caution.source.text,
        status: caution.status.word(),
        stated: None,
    }
}

pub(super) fn said_by_clinic(added: &Added) -> New<'_> {
    let Added { amendment, caution, .. } = added;
    New {
        key: clinic_cautions::key(*amendment).into(),
        level: caution.level.into(),
        text: caution.text.trim().into(),
        audiences: if caution.audiences.is_empty() {
            everyone().to_vec().into()
        } else {
            Cow::Borrowed(&caution.audiences)
        },
        source: "the clinic's instructors",
        status: "entered by the clinic",
        stated: None,
    }
}

/// Cautions by key and text, each with the origins that it was found at.
#[derive(Default)]
pub(super) struct Found(BTreeMap<(String, String), (Caution, HashSet<String>)>);

impl Found {
    pub(super) fn add(&mut self, reference: &Materia, candidate: Candidate<'_>) {
        let Candidate { new, origin, .. } = candidate;
        let key = (new.key.to_string(), new.text.to_string());
        let (caution, origins) = self.0.entry(key).or_insert_with_key(|(key, text)| {
            let rule = reference.caution_rules.get(key);
            let stated = rule.map(|rule| (rule.group, rule.stage)).or(new.stated);
            let (group, stage) = match stated {
                Some((group, stage)) => (group_in_wire(group), stage_in_wire(stage)),
                None => CautionGroup::unstated(new.level, &new.audiences),
            };
            let caution = Caution {
                key: key.clone(),
                text_version: text_version(text),
                level: new.level,
                group,
                stage,
                language: "en".into(),
                text: text.clone(),
                label: rule.and_then(|rule| rule.label.clone()),
                audiences: Vec::new(),
                source: new.source.to_owned(),
                status: new.status.replace('_', " "),
                origins: Vec::new(),
                changed: None,
            };
            (caution, HashSet::new())
        });
        caution.level = caution.level.max(new.level);
        for audience in &*new.audiences {
            if !caution.audiences.contains(audience) {
                caution.audiences.push(audience.clone());
            }
        }
        if origins.insert(origin.clone()) {
            caution.origins.push(origin);
        }
    }

    /// The cautions by key and text.
    pub(super) fn into_cautions(self) -> impl Iterator<Item = Caution> {
        self.0.into_values().map(|(caution, _)| caution)
    }
}

const fn group_in_wire(group: Group) -> CautionGroup {
    match group {
        Group::MustNot => CautionGroup::MustNot,
        Group::AskFirst => CautionGroup::AskFirst,
        Group::HowToUse => CautionGroup::HowToUse,
        Group::HowToKeep => CautionGroup::HowToKeep,
        Group::ForTheMaker => CautionGroup::ForTheMaker,
    }
}

const fn stage_in_wire(stage: Stage) -> CautionStage {
    match stage {
        Stage::Making => CautionStage::Making,
        Stage::Keeping => CautionStage::Keeping,
        Stage::Use => CautionStage::Use,
    }
}
