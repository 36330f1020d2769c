//! Reading cautions: in which groups they are read, and what of them a person has not read yet.
//!
//! Every contraindication is an act of its own; every other group is one act. Which group a caution belongs to is said by
//! its data alone.

use std::collections::HashSet;

use wire::bench::AsMade;
use wire::safety::{Caution, CautionGroup, CautionLevel, CautionSet, CautionsInRecipe};

use crate::figures::{sourced, spelled};
use crate::form::Form;
use crate::texts::{t, t1, t2};

/// The groups that are read, in order. Of the first, each contraindication is an act of its own.
const GROUPS: [CautionGroup; 5] = [
    CautionGroup::MustNot,
    CautionGroup::AskFirst,
    CautionGroup::HowToUse,
    CautionGroup::HowToKeep,
    CautionGroup::ForTheMaker,
];

/// Where a caution is read. What the clinic made a contraindication is read with those that bar somebody.
fn group(caution: &Caution) -> CautionGroup {
    if is_alone(caution) { CautionGroup::MustNot } else { caution.group }
}

/// Whether it is read in an act of its own.
fn is_alone(caution: &Caution) -> bool {
    caution.level >= CautionLevel::Contraindication
}

fn heading(group: CautionGroup) -> String {
    match group {
        CautionGroup::MustNot => t("reading-must-not"),
        CautionGroup::AskFirst => t("reading-ask-first"),
        CautionGroup::HowToUse => t("reading-use"),
        CautionGroup::HowToKeep => t("reading-keep"),
        CautionGroup::ForTheMaker => t("reading-maker"),
    }
}

/// One caution as it is read.
pub(crate) struct Shown {
    /// `contra`, `stop`, `note`, or nothing: how it looks.
    pub(crate) class: &'static str,
    /// What stands above it: for whom, or that it is a contraindication.
    pub(crate) kind: String,
    pub(crate) text: String,
    /// How it was read before, where it changed.
    pub(crate) before: String,
    /// Why it is there and where it comes from.
    pub(crate) why: String,
}

/// What an evaporation loss raises beside the acknowledged cautions: planned, and as made.
pub(crate) fn by_loss(planned: &CautionsInRecipe, made: Option<&AsMade>) -> Vec<String> {
    let made = made.map(|made| made.cautions.as_slice()).unwrap_or_default();
    let mut said: Vec<String> = planned.by_loss.iter().chain(made).map(|it| spelled(&it.text)).collect();
    said.extend(planned.loss_not_judged.as_deref().map(spelled));
    let mut once = HashSet::new();
    said.retain(|text| once.insert(text.clone()));
    said
}

/// One act of reading.
pub(crate) struct Act {
    pub(crate) heading: String,
    /// What the form sends when it was read.
    pub(crate) value: String,
    /// What its box says.
    pub(crate) words: String,
    pub(crate) cautions: Vec<Shown>,
    /// Whether it was ticked in the form that came back.
    pub(crate) read: bool,
}

/// What is to be read of a set.
pub(crate) struct Reading {
    pub(crate) digest: String,
    pub(crate) acts: Vec<Act>,
    /// What was read before and is as it was.
    pub(crate) unchanged: Vec<Shown>,
    /// How many are new, and how many are stronger or worded otherwise.
    pub(crate) new: usize,
    pub(crate) changed: usize,
}

/// An allergy group by its key, as people call it.
pub(crate) fn allergy_group(key: &str) -> String {
    match key {
        "apiaceae" => t("group-apiaceae"),
        "asteraceae" => t("group-asteraceae"),
        "lamiaceae" => t("group-lamiaceae"),
        "peru-balsam" => t("group-peru-balsam"),
        other => other.replace('-', " "),
    }
}

/// For whom a caution is, in words.
pub(crate) fn audience(word: &str) -> String {
    let (kind, which) = word.split_once(':').unwrap_or((word, ""));
    match kind {
        "everyone" => t("audience-everyone"),
        "pregnant" => t("audience-pregnant"),
        "breast-feeding" => t("audience-breast-feeding"),
        "under" => under(which),
        "age" => under(which),
        "allergy" => t1("audience-allergy", allergy_group(which)),
        "condition" => t1("audience-condition", which.replace('-', " ")),
        other => other.to_owned(),
    }
}

fn under(age: &str) -> String {
    let number = age.trim_end_matches(['y', 'm']).parse::<i64>().unwrap_or_default();
    if age.ends_with('m') { t1("audience-under-months", number) } else { t1("audience-under-years", number) }
}

fn shown(caution: &Caution, place: Option<(usize, usize)>, before: Option<&Caution>) -> Shown {
    let audiences = || caution.audiences.iter().map(|word| audience(word)).collect::<Vec<_>>().join(", ");
    let (class, kind) = match (caution.level, place) {
        (CautionLevel::Stop, _) => ("stop", t("level-stop")),
        (CautionLevel::Contraindication, Some((i, all))) if all > 1 => (
            "contra",
            t2(
                "level-contraindication-of",
                i64::try_from(i + 1).unwrap_or(0),
                i64::try_from(all).unwrap_or(0),
            ),
        ),
        (CautionLevel::Contraindication, _) => ("contra", t("level-contraindication")),
        (CautionLevel::Caution, _) => ("", audiences()),
        (CautionLevel::Note, _) => ("note", String::new()),
    };
    let mut why = t1("why-path", caution.origins.join("; "));
    why.push(' ');
    why.push_str(&t1("why-source", sourced(&caution.source, &caution.status)));
    if let Some(change) = &caution.changed {
        why.push(' ');
        why.push_str(&t1("why-changed", change.reason.clone()));
    }
    let before = before.map(|old| {
        if old.level == caution.level {
            t1("read-before-as", old.text.clone())
        } else {
            t2("read-before-level", old.level.as_str(), old.text.clone())
        }
    });
    Shown { class, kind, text: caution.text.clone(), before: before.unwrap_or_default(), why }
}

/// Whether a caution was read as it is.
fn same<'o>(caution: &Caution, old: &'o CautionSet) -> (bool, Option<&'o Caution>) {
    (old.covers(caution), old.cautions.iter().find(|known| known.key == caution.key))
}

impl Reading {
    /// What a person reads of a set: all of it, or, where an earlier set was read, only what changed since.
    pub(crate) fn of(set: &CautionSet, earlier: Option<&CautionSet>, form: Option<&Form>) -> Self {
        let fresh: Vec<(&Caution, Option<&Caution>)> = set
            .cautions
            .iter()
            .filter_map(|caution| match earlier.map(|old| same(caution, old)) {
                Some((true, _)) => None,
                Some((false, before)) => Some((caution, before)),
                None => Some((caution, None)),
            })
            .collect();
        let ticked = form.map(|form| form.all("read")).unwrap_or_default();
        let mut acts = Vec::new();
        let alone: Vec<_> = fresh.iter().filter(|(caution, _)| is_alone(caution)).collect();
        for (i, (caution, before)) in alone.iter().enumerate() {
            acts.push(Act {
                heading: heading(CautionGroup::MustNot),
                value: caution.key.clone(),
                words: t1("read-these", 1),
                cautions: vec![shown(caution, Some((i, alone.len())), *before)],
                read: ticked.contains(&caution.key),
            });
        }
        for of in GROUPS {
            let together: Vec<_> =
                fresh.iter().filter(|(caution, _)| !is_alone(caution) && group(caution) == of).collect();
            if together.is_empty() {
                continue;
            }
            acts.push(Act {
                heading: heading(of),
                value: of.as_str().to_owned(),
                words: t1("read-these", i64::try_from(together.len()).unwrap_or(0)),
                cautions: together.iter().map(|(caution, before)| shown(caution, None, *before)).collect(),
                read: ticked.iter().any(|value| value == of.as_str()),
            });
        }
        let new = fresh.iter().filter(|(_, before)| before.is_none()).count();
        let unchanged = set
            .cautions
            .iter()
            .filter(|caution| earlier.is_some_and(|old| same(caution, old).0))
            .map(|caution| shown(caution, None, None))
            .collect();
        Self { digest: set.digest.clone(), changed: fresh.len() - new, new, acts, unchanged }
    }

    /// The acts that the form did not tick.
    pub(crate) fn unread(&self) -> usize {
        self.acts.iter().filter(|act| !act.read).count()
    }
}

/// The keys of every contraindication of a set: those ticked now, and those read before and unchanged, which the caller
/// has checked to be all.
pub(crate) fn contraindications(set: &CautionSet) -> Vec<String> {
    let binding = set.cautions.iter().filter(|caution| caution.level >= CautionLevel::Contraindication);
    binding.map(|caution| caution.key.clone()).collect()
}

/// Every caution of a set, to be read again at leisure.
pub(crate) fn all(set: &CautionSet) -> Vec<Act> {
    let whole = Reading::of(set, None, None);
    whole.acts
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;
    use wire::ids::RevisionId;
    use wire::safety::CautionStage;

    use super::*;

    fn caution(key: &str, level: CautionLevel, audience: &str) -> Caution {
        Caution {
            key: key.into(),
            text_version: 1,
            level,
            group: CautionGroup::unstated(level, &[audience.to_owned()]).0,
            stage: CautionStage::Use,
            language: "en".into(),
            text: format!("About {key}."),
            label: None,
            audiences: vec![audience.into()],
            source: "a book".into(),
            status: "verified".into(),
            origins: vec!["it".into()],
            changed: None,
        }
    }

    fn set(cautions: Vec<Caution>) -> CautionSet {
        CautionSet {
            revision: RevisionId(Uuid::nil()),
            digest: "d".into(),
            cautions,
            not_raised: Vec::new(),
            offers: Vec::new(),
            looked_at: None,
            notice: String::new(),
        }
    }

    #[test]
    fn each_contraindication_is_an_act_and_every_other_group_is_one() {
        use CautionLevel::{Caution, Contraindication, Note};
        let now = set(vec![
            caution("a", Contraindication, "allergy:x"),
            caution("b", Contraindication, "everyone"),
            caution("c", Caution, "pregnant"),
            caution("d", Caution, "under:6y"),
            caution("e", Caution, "everyone"),
            caution("f", Note, "everyone"),
        ]);
        let reading = Reading::of(&now, None, None);
        let acts: Vec<&str> = reading.acts.iter().map(|act| act.value.as_str()).collect();
        assert_eq!(acts, ["a", "b", "ask_first", "how_to_use"]);
        assert_eq!(reading.unread(), 4);
        let form = Form::parse(b"read=a&read=how_to_use&read=ask_first").unwrap();
        assert_eq!(Reading::of(&now, None, Some(&form)).unread(), 1);
    }

    #[test]
    fn of_a_changed_set_only_what_changed_is_read() {
        use CautionLevel::{Caution, Contraindication, Note};
        let old = set(vec![caution("a", Contraindication, "everyone"), caution("b", Note, "everyone")]);
        let now = set(vec![
            caution("a", Contraindication, "everyone"),
            caution("b", Caution, "everyone"),
            caution("c", Caution, "pregnant"),
        ]);
        let reading = Reading::of(&now, Some(&old), None);
        assert_eq!((reading.new, reading.changed, reading.unchanged.len()), (1, 1, 1));
        let acts: Vec<&str> = reading.acts.iter().map(|act| act.value.as_str()).collect();
        assert_eq!(acts, ["ask_first", "how_to_use"]);
        assert!(reading.acts[1].cautions[0].before.contains("About b."));
        assert_eq!(contraindications(&now), ["a"]);
    }
}
