//! The sums of substances and materials in what is made, held against the limits that bind its use.

use rust_decimal::Decimal;
use serde::Serialize;

use super::{
    Limit, LimitBasis, Profile, Purpose, Subject, Use, Verdict,
    held::{Held, add},
};
use crate::{Figure, Input, Leaf, Rule, Source, Text, Unknown, number::divide, units};

static SHARE: Rule = Rule::definition(
    "share_of_substance",
    "counted at the top of each range, {substance} is {=} of what is made",
);
static MATERIAL: Rule = Rule::definition("share_of_material", "{substance} is {=} of what is made");
pub(super) static OF_LIMIT: Rule =
    Rule::definition("fraction_of_limit", "{share} against a limit of {limit} is {=} of it");
static PROHIBITED: Rule = Rule::definition("prohibited", "none is allowed, and there is {=}");
static LARGEST: Rule = Rule::definition(
    "largest_that_passes",
    "with everything that holds it lowered alike, {material} could be at most {=}",
);
static GROUP: Rule =
    Rule::definition("sum_of_fractions", "of the limits that share an effect, {=} is used up");

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
    /// The worst verdict of all.
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
    share: Result<Decimal, Unknown>,
    from: Vec<(Text, Decimal)>,
    inputs: Vec<Input>,
    there: bool,
}

/// The limits of one group, being added up.
struct Group {
    name: Text,
    sum: Result<Decimal, Unknown>,
    inputs: Vec<Input>,
}

impl Group {
    fn take(&mut self, limit: &Limit, found: &Finding) {
        self.sum = add(std::mem::replace(&mut self.sum, Ok(Decimal::ZERO)), found.of_limit.known());
        self.inputs.push(Input::figure(limit.name.clone(), &found.of_limit));
    }

    fn used(self) -> GroupUse {
        let verdict = match &self.sum {
            Ok(sum) if *sum > Decimal::ONE => Verdict::Exceeded,
            Ok(_) => Verdict::Within,
            Err(_) => Verdict::Unknown,
        };
        let used = Figure::from_result(self.sum, units::RATIO, &GROUP, self.inputs);
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
    let mut counted =
        Counted { share: Ok(Decimal::ZERO), from: Vec::new(), inputs: Vec::new(), there: false };
    let mut take = |leaf: &Leaf, part: Result<Decimal, Unknown>| {
        counted.there = true;
        if let (Ok(_), Ok(share)) = (&part, leaf.share.known()) {
            counted.from.push((leaf.material.name.clone(), share));
        }
        counted.share = add(std::mem::replace(&mut counted.share, Ok(Decimal::ZERO)), part);
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
    let rule = match &limit.subject {
        Subject::Substance(_) => &SHARE,
        Subject::Material(_) => &MATERIAL,
    };
    let mut inputs = vec![Input::words("substance", limit.name.clone())];
    inputs.extend(counted.inputs);
    let share = Figure::from_result(counted.share.clone(), units::SHARE_OF_MASS, rule, inputs);
    let (verdict, of_limit, would_pass) = match (&counted.share, limit.maximum()) {
        (Err(unknown), _) => (
            Verdict::Unknown,
            Figure::unknown_for(unknown.clone(), units::RATIO, &OF_LIMIT, Vec::new()),
            Vec::new(),
        ),
        (Ok(share), None) => {
            let verdict = if share.is_zero() { Verdict::Within } else { Verdict::Prohibited };
            (verdict, Figure::number(*share, units::SHARE_OF_MASS, &PROHIBITED, Vec::new()), Vec::new())
        }
        (Ok(share), Some(most)) => {
            let inputs = vec![
                Input::number("share", *share, units::SHARE_OF_MASS),
                Input::constant("limit", most, units::SHARE_OF_MASS, limit.source.clone()),
            ];
            let used = divide(*share, most).ok_or_else(|| Unknown::of("a limit above zero"));
            let of_limit = Figure::from_result(used, units::RATIO, &OF_LIMIT, inputs);
            if *share > most {
                (Verdict::Exceeded, of_limit, lowered(&counted.from, *share, most))
            } else {
                (Verdict::Within, of_limit, Vec::new())
            }
        }
    };
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

/// The largest shares that would still pass, rounded down so that they do.
pub(super) fn lowered(from: &[(Text, Decimal)], share: Decimal, most: Decimal) -> Vec<Figure> {
    from.iter()
        .filter_map(|(name, held)| {
            let largest = held.checked_mul(most)?.checked_div(share)?.trunc_with_scale(12);
            let inputs = vec![
                Input::words("material", name.clone()),
                Input::number("now", *held, units::SHARE_OF_MASS),
            ];
            Some(Figure::number(largest, units::SHARE_OF_MASS, &LARGEST, inputs))
        })
        .collect()
}

/// The worse of two verdicts. Unknown is worse than exceeded in no sense but one: it is not a pass; a known
/// excess is what is shown first.
const fn rank(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Within => 0,
        Verdict::Unknown => 1,
        Verdict::Exceeded => 2,
        Verdict::Prohibited => 3,
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
                groups.push(Group { name: group.clone(), sum: Ok(Decimal::ZERO), inputs: Vec::new() });
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
        .unwrap_or(Verdict::Within);
    LimitReport { verdict, findings, groups }
}
