//! The sums of substances and materials in what is made, held against the limits that bind its use.

use rust_decimal::Decimal;
use serde::Serialize;

use super::{
    held::{Held, Sum},
    limit::{Limit, LimitBasis, Purpose, Subject, Use, Verdict},
    profile::Profile,
};
use crate::{Figure, Input, Leaf, Rule, Source, Text, Unknown, number::divide, units};

static SHARE: Rule =
    Rule::definition("share_of_substance", "{substance} in the product, at the top of each range: {=}");
static MATERIAL: Rule = Rule::definition("share_of_material", "{substance} in the product: {=}");
static OF_LIMIT: Rule = Rule::definition("fraction_of_limit", "{share} is {=} of the limit, {limit}");
static AT_LEAST: Rule = Rule::definition(
    "known_share_of_substance",
    "known part of {substance} in the product: {=}; the rest is unknown",
);
static PROHIBITED: Rule = Rule::definition("prohibited", "the limit is 0; the product contains {=}");
static LARGEST: Rule = Rule::definition(
    "largest_that_passes",
    "maximum share of {material}, if every source of the substance is reduced in proportion: {=}",
);
static GROUP: Rule =
    Rule::definition("sum_of_fractions", "part used of the limits that share an effect: {=}");

/// One limit held against what is made.
#[derive(Debug, Clone, Serialize)]
pub struct Finding {
    /// The limit's key.
    pub limit: Text,
    /// What it is on.
    pub subject: Subject,
    /// What it comes to.
    pub verdict: Verdict,
    /// The share that was counted.
    pub share: Figure,
    /// The share as a fraction of the limit; of a prohibition the share itself.
    pub of_limit: Figure,
    /// Where it is exceeded, for each material that holds it the largest share that would still pass.
    pub would_pass: Vec<Figure>,
    /// Where the limit comes from.
    pub source: Source,
}

/// Everything that the limits say.
#[derive(Debug, Clone, Serialize)]
pub struct LimitReport {
    /// The worst verdict of all; not covered where no limit binds anything in it.
    pub verdict: Verdict,
    /// Every limit that binds and whose subject is there or may be there.
    pub findings: Vec<Finding>,
    /// For each group of limits that share an effect, the sum of the fractions.
    pub groups: Vec<GroupUse>,
}

/// Limits that share an effect, together.
#[derive(Debug, Clone, Serialize)]
pub struct GroupUse {
    /// The group.
    pub group: Text,
    /// What it comes to.
    pub verdict: Verdict,
    /// The sum of the fractions of its limits that is used up.
    pub used: Figure,
}

/// What one subject comes to.
struct Counted {
    share: Sum,
    from: Vec<(Text, Decimal)>,
    inputs: Vec<Input>,
    there: bool,
}

/// The limits of one group, being added up.
struct Group {
    name: Text,
    sum: Sum,
    inputs: Vec<Input>,
}

impl Group {
    fn take(&mut self, limit: &Limit, found: &Finding) {
        self.sum.add(found.of_limit.known());
        self.inputs.push(Input::figure(limit.name.clone(), &found.of_limit));
    }

    fn used(self) -> GroupUse {
        let verdict = self.sum.against(Decimal::ONE);
        let used = Figure::from_result(self.sum.counted(Decimal::ONE), units::RATIO, &GROUP, self.inputs);
        GroupUse { group: self.name, verdict, used }
    }
}

fn counts(limit: &Limit, leaf: &Leaf, of: &Use) -> bool {
    let preserves = of.preservatives.contains(&leaf.material.id);
    match limit.purpose {
        Purpose::Any => true,
        Purpose::Preservative => preserves,
        Purpose::OtherThanPreservative => !preserves,
    }
}

fn count(limit: &Limit, held: &Held<'_>, of: &Use) -> Counted {
    let mut counted = Counted { share: Sum::new(), from: Vec::new(), inputs: Vec::new(), there: false };
    let mut take = |leaf: &Leaf, part: Result<Decimal, Unknown>| {
        counted.there = true;
        if let (Ok(_), Ok(share)) = (&part, leaf.share.known()) {
            counted.from.push((leaf.material.name.clone(), share));
        }
        counted.share.add(part);
    };
    match &limit.subject {
        Subject::Material(id) => {
            if let Some(leaf) = held.material(id).filter(|leaf| counts(limit, leaf, of)) {
                take(leaf, leaf.share.known());
            }
        }
        Subject::Substance(id) => {
            for holding in held.substance(id).iter().filter(|holding| counts(limit, holding.leaf, of)) {
                if let Some(constituent) = holding.constituent {
                    if constituent.as_acid && limit.basis == LimitBasis::AsIs {
                        continue;
                    }
                    counted.inputs.push(Input::constant(
                        holding.leaf.material.name.clone(),
                        constituent.most.get(),
                        units::SHARE_OF_MASS,
                        constituent.source.clone(),
                    ));
                }
                take(holding.leaf, holding.part(&limit.name));
            }
        }
    }
    counted
}

fn finding(limit: &Limit, counted: Counted) -> Finding {
    // Of what is prohibited any at all is too much.
    let most = limit.maximum().unwrap_or_default();
    let share = counted.share.counted(most);
    let verdict = match counted.share.against(most) {
        Verdict::Exceeded if limit.maximum().is_none() => Verdict::Prohibited,
        verdict => verdict,
    };
    let rule = match &limit.subject {
        _ if counted.share.is_at_least() => &AT_LEAST,
        Subject::Substance(_) => &SHARE,
        Subject::Material(_) => &MATERIAL,
    };
    let mut inputs = vec![Input::words("substance", limit.name.clone())];
    inputs.extend(counted.inputs);
    let of_limit = match limit.maximum() {
        None => Figure::from_result(share.clone(), units::SHARE_OF_MASS, &PROHIBITED, Vec::new()),
        Some(most) => of_limit(&share, most, &limit.source),
    };
    let would_pass = match &share {
        Ok(share) if verdict == Verdict::Exceeded && !counted.share.is_at_least() => {
            lowered(&LARGEST, &counted.from, *share, most)
        }
        _ => Vec::new(),
    };
    let share = Figure::from_result(share, units::SHARE_OF_MASS, rule, inputs);
    Finding {
        limit: limit.key.clone(),
        subject: limit.subject.clone(),
        verdict,
        share,
        of_limit,
        would_pass,
        source: limit.source.clone(),
    }
}

/// A share as a fraction of a limit.
pub(super) fn of_limit(share: &Result<Decimal, Unknown>, most: Decimal, source: &Source) -> Figure {
    let limit = Input::constant("limit", most, units::SHARE_OF_MASS, source.clone());
    let (used, inputs) = match share {
        Ok(share) => (
            divide(*share, most).ok_or_else(|| Unknown::of("a limit above zero")),
            vec![Input::number("share", *share, units::SHARE_OF_MASS), limit],
        ),
        Err(unknown) => (Err(unknown.clone()), Vec::new()),
    };
    Figure::from_result(used, units::RATIO, &OF_LIMIT, inputs)
}

/// The largest shares that would still pass, by a rule for saying so, rounded down so that they do.
pub(super) fn lowered(
    rule: &'static Rule,
    from: &[(Text, Decimal)],
    share: Decimal,
    most: Decimal,
) -> Vec<Figure> {
    from.iter()
        .filter_map(|(name, held)| {
            let largest = held.checked_mul(most)?.checked_div(share)?.trunc_with_scale(12);
            let inputs = vec![
                Input::words("material", name.clone()),
                Input::number("now", *held, units::SHARE_OF_MASS),
            ];
            Some(Figure::number(largest, units::SHARE_OF_MASS, rule, inputs))
        })
        .collect()
}

/// The worse of two verdicts. Unknown is worse than exceeded in no sense but one: it is not a pass; a known
/// excess is what is shown first.
const fn rank(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Within => 0,
        Verdict::NotCovered => 1,
        Verdict::Unknown => 2,
        Verdict::Exceeded => 3,
        Verdict::Prohibited => 4,
    }
}

/// Holds what is made against every limit that binds its use, of which the more particular take the place of the
/// more general.
///
/// `composition` is [`crate::Evaluation::composition`], or the composition as made. A material without a
/// profile is taken to hold no constituent on which a limit stands; say what was never looked for in
/// [`Profile::untested`].
#[must_use]
pub fn check_limits(composition: &[Leaf], profiles: &[Profile], limits: &[Limit], of: &Use) -> LimitReport {
    let held = Held::of(composition, profiles);
    let mut findings = Vec::new();
    let mut groups: Vec<Group> = Vec::new();
    let binding: Vec<&Limit> = limits.iter().filter(|limit| limit.binds(of)).collect();
    for limit in &binding {
        let counted = count(limit, &held, of);
        if !counted.there || binding.iter().any(|other| other.displaces(limit)) {
            continue;
        }
        let found = finding(limit, counted);
        if let (Some(group), Some(_)) = (&limit.group, limit.maximum()) {
            let place = groups.iter().position(|known| known.name == *group).unwrap_or_else(|| {
                groups.push(Group { name: group.clone(), sum: Sum::new(), inputs: Vec::new() });
                groups.len() - 1
            });
            if let Some(group) = groups.get_mut(place) {
                group.take(limit, &found);
            }
        }
        findings.push(found);
    }
    let groups: Vec<GroupUse> = groups.into_iter().map(Group::used).collect();
    let verdict = findings
        .iter()
        .map(|finding| finding.verdict)
        .chain(groups.iter().map(|group| group.verdict))
        .max_by_key(|verdict| rank(*verdict))
        .unwrap_or(Verdict::NotCovered);
    LimitReport { verdict, findings, groups }
}
