//! The particular takes the place of the general, and texts that say the same are one.

use std::collections::{HashMap, HashSet};

use materia::{JointCaution, Materia};
use uuid::Uuid;
use wire::safety::Caution;

use super::found::{At, Candidate, Counted, Found, level, of_reference};
use crate::clinic_cautions::ClinicCautions;

/// Removes the cautions of a material that a finding on the same material replaces. Returns each removed caution with the
/// key of the finding. A finding that the clinic lowered replaces nothing.
pub(super) fn for_material<'a>(
    reference: &Materia,
    own: &ClinicCautions,
    candidates: Vec<Candidate<'a>>,
) -> (Vec<Candidate<'a>>, Vec<(Candidate<'a>, String)>) {
    let mut replaced: HashMap<(Uuid, &str), &str> = HashMap::new();
    for candidate in &candidates {
        let (Some(material), Some(rule)) = (candidate.at.material, candidate.rule(reference)) else {
            continue;
        };
        if own.level(&rule.key, candidate.new.level) >= candidate.new.level {
            for key in &rule.replaces_for_material {
                replaced.insert((material, key), &rule.key);
            }
        }
    }
    let (mut kept, mut removed) = (Vec::with_capacity(candidates.len()), Vec::new());
    for candidate in candidates {
        let by = candidate.at.material.and_then(|id| replaced.get(&(id, &*candidate.new.key)).copied());
        match by {
            Some(by) => removed.push((candidate, by.to_owned())),
            None => kept.push(candidate),
        }
    }
    (kept, removed)
}

/// Removes the cautions that another caution of the set says in full, at the levels that the clinic gave. Returns each
/// with the key of the other.
pub(super) fn anywhere(reference: &Materia, all: &mut Vec<Counted>) -> Vec<(Counted, String)> {
    let mut replaced: HashMap<String, (String, wire::safety::CautionLevel)> = HashMap::new();
    for counted in &*all {
        let Some(rule) = reference.caution_rules.get(&counted.rule) else { continue };
        for key in &rule.replaces {
            let level = counted.caution.level;
            let strongest = replaced.entry(key.clone()).or_insert_with(|| (rule.key.clone(), level));
            if level > strongest.1 {
                *strongest = (rule.key.clone(), level);
            }
        }
    }
    take(all, |counted| {
        let (by, level) = replaced.get(&counted.rule)?;
        (*level >= counted.caution.level && counted.caution.changed.is_none()).then(|| by.clone())
    })
}

/// Adds the cautions that say several others at once, where all of those stand as the reference data say them. What the
/// clinic changed is not joined, and a joint caution that the clinic lowered joins nothing.
pub(super) fn joint(reference: &Materia, own: &ClinicCautions, all: &mut Vec<Counted>) {
    for JointCaution { caution, of } in &reference.joint {
        let parts: Vec<&Caution> = of
            .iter()
            .filter_map(|key| all.iter().find(|it| it.rule == *key))
            .map(|counted| &counted.caution)
            .filter(|part| part.changed.is_none())
            .collect();
        let computed = level(caution.level);
        if parts.len() != of.len() || own.level(&caution.key, computed) < computed {
            continue;
        }
        let mut found = Found::default();
        for part in parts {
            for origin in &part.origins {
                let new = of_reference(caution);
                found.add(reference, Candidate { new, origin: origin.clone(), at: At::default() });
            }
        }
        all.extend(found.into_cautions().map(|mut caution| {
            let rule = caution.key.clone();
            own.apply(&rule, &mut caution);
            Counted { rule, caution }
        }));
    }
}

/// Removes the cautions whose text stands in the set already, at least as strong and for the same audiences.
pub(super) fn same_text(all: &mut Vec<Counted>) -> Vec<(Counted, String)> {
    let normal = |text: &str| text.trim_end_matches('.').to_lowercase();
    // The reference data come before what somebody entered, and the stronger before the weaker.
    let mut order: Vec<usize> = (0..all.len()).collect();
    let rank = |i: &usize| {
        all.get(*i).map(|it| (it.caution.source.starts_with("the "), std::cmp::Reverse(it.caution.level)))
    };
    order.sort_by_key(rank);
    let mut first: HashMap<String, usize> = HashMap::new();
    let mut doubled: HashMap<usize, String> = HashMap::new();
    for i in order {
        let Some(counted) = all.get(i) else { continue };
        let earlier = first.get(&normal(&counted.caution.text)).and_then(|at| all.get(*at));
        match earlier {
            Some(earlier)
                if earlier.caution.level >= counted.caution.level
                    && counted.caution.audiences.iter().all(|it| earlier.caution.audiences.contains(it)) =>
            {
                doubled.insert(i, earlier.caution.key.clone());
            }
            Some(_) => {}
            None => {
                first.insert(normal(&counted.caution.text), i);
            }
        }
    }
    let mut place = 0;
    take(all, |_| {
        place += 1;
        doubled.remove(&(place - 1))
    })
}

fn take(all: &mut Vec<Counted>, mut by: impl FnMut(&Counted) -> Option<String>) -> Vec<(Counted, String)> {
    let (mut kept, mut removed) = (Vec::with_capacity(all.len()), Vec::new());
    let mut keys = HashSet::new();
    for counted in all.drain(..) {
        match by(&counted) {
            Some(by) => {
                if keys.insert(counted.caution.key.clone()) {
                    removed.push((counted, by));
                }
            }
            None => kept.push(counted),
        }
    }
    *all = kept;
    removed
}
