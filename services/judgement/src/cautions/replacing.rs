//! The particular takes the place of the general, and texts that say the same are one.

use std::collections::{BTreeMap, HashMap, HashSet};

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
/// with the key of the other. Where both say it in the same words, what stands comes from where the other came from, too.
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
    let removed = take(all, |counted| {
        let (by, level) = replaced.get(&counted.rule)?;
        (*level >= counted.caution.level && counted.caution.changed.is_none()).then(|| by.clone())
    });
    for (counted, by) in &removed {
        let same = |it: &&mut Counted| it.rule == *by && it.caution.text == counted.caution.text;
        if let Some(stands) = all.iter_mut().find(same) {
            comes_from(&mut stands.caution, &counted.caution.origins);
        }
    }
    removed
}

/// Adds the origins that a caution does not have yet.
fn comes_from(caution: &mut Caution, origins: &[String]) {
    for origin in origins {
        if !caution.origins.contains(origin) {
            caution.origins.push(origin.clone());
        }
    }
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

/// Removes the cautions whose text stands in the set already, at least as strong and for the same audiences. What stands
/// comes from where they came from, too.
pub(super) fn same_text(all: &mut Vec<Counted>) -> Vec<(Counted, String)> {
    let normal = |text: &str| text.trim_end_matches('.').to_lowercase();
    // The reference data come before what somebody entered, and the stronger before the weaker.
    let mut order: Vec<usize> = (0..all.len()).collect();
    let rank = |i: &usize| {
        all.get(*i).map(|it| (it.caution.source.starts_with("the "), std::cmp::Reverse(it.caution.level)))
    };
    order.sort_by_key(rank);
    let mut first: HashMap<String, usize> = HashMap::new();
    let mut doubled: BTreeMap<usize, usize> = BTreeMap::new();
    for i in order {
        let Some(counted) = all.get(i) else { continue };
        let earlier = first.get(&normal(&counted.caution.text)).and_then(|at| Some((*at, all.get(*at)?)));
        match earlier {
            Some((at, earlier))
                if earlier.caution.level >= counted.caution.level
                    && counted.caution.audiences.iter().all(|it| earlier.caution.audiences.contains(it)) =>
            {
                doubled.insert(i, at);
            }
            Some(_) => {}
            None => {
                first.insert(normal(&counted.caution.text), i);
            }
        }
    }
    let mut by: HashMap<usize, String> = HashMap::new();
    for (i, at) in doubled {
        let origins = all.get(i).map(|it| it.caution.origins.clone()).unwrap_or_default();
        let Some(stands) = all.get_mut(at) else { continue };
        comes_from(&mut stands.caution, &origins);
        by.insert(i, stands.caution.key.clone());
    }
    let mut place = 0;
    take(all, |_| {
        place += 1;
        by.remove(&(place - 1))
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
