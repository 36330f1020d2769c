//! Adding a line never takes a caution away that comes from what is in a formula, its kind or its route, unless another
//! caution then says it in full, or what carries it is thinned to its threshold or no longer undiluted.
//!
//! What the calculations raise may go, and should: a lotion is no longer unpreserved once enough alcohol is in it, and
//! a share that was past a limit is thinned by more of the rest.

use materia::{Amount, OnlyAs};
use proptest::prelude::*;
use wire::safety::{Caution, NotRaised};

use super::{Made, Put, REFERENCE, cautions_of, of_content, place, raised_by};
use crate::cautions::Raised;
use crate::clinic_cautions::ClinicCautions;

const REGIMES: [&str; 4] = ["cosmetic", "herbal_medicine", "food", "teaching_only"];

fn material() -> impl Strategy<Value = Put> {
    (0..REFERENCE.materials.len(), 1_u32..500_000).prop_map(|(place, mg)| Put::Material(place, mg))
}

/// A formula of any kind, route and regime. A carrier is always there, for a strained herb alone leaves nothing.
fn made(line: impl Strategy<Value = Put> + 'static) -> impl Strategy<Value = Made> {
    let carrier = prop::sample::select(vec!["olive-oil", "purified-water", "ethanol-60"]);
    let kind = 0..REFERENCE.preparations.len();
    let route = 0..REFERENCE.routes.len();
    let regime = prop::sample::select(REGIMES.to_vec());
    let youngest = prop::option::of(1_u32..240);
    (carrier, kind, route, regime, youngest, prop::collection::vec(line, 0..6)).prop_map(
        |(carrier, kind, route, regime, youngest, mut lines)| {
            lines.insert(0, Put::Material(place(carrier), 100_000));
            Made {
                preparation: REFERENCE.preparations[kind].key.clone(),
                route: REFERENCE.routes[route].key.clone(),
                regime,
                youngest,
                dried_water_unknown: false,
                lines,
            }
        },
    )
}

/// A line: mostly a material, now and then a formula, which may itself hold another.
fn line() -> impl Strategy<Value = Put> {
    let formula = |inner: BoxedStrategy<Put>| {
        (made(inner), 1_u32..500_000).prop_map(|(made, mg)| Put::Formula(Box::new(made), mg)).boxed()
    };
    let inner = prop_oneof![4 => material().boxed(), 1 => formula(material().boxed())].boxed();
    prop_oneof![3 => material().boxed(), 1 => formula(inner)]
}

/// Whether everything that a caution comes from and is meant for still stands among these.
fn stands(caution: &Caution, among: &[Caution]) -> bool {
    among.iter().any(|after| {
        after.text == caution.text
            && after.level >= caution.level
            && of_content(caution).all(|origin| after.origins.contains(origin))
            && caution.audiences.iter().all(|audience| after.audiences.contains(audience))
    })
}

/// Whether what is gone may be: its rule says by what, and the reason is told.
fn may_go(caution: &Caution, after: &Raised) -> bool {
    let rule = REFERENCE.caution_rules.get(&caution.key);
    let thinned = rule.is_some_and(|rule| rule.amount == Amount::Threshold || rule.only_as == OnlyAs::Pure);
    let told = |told: &&NotRaised| told.text == caution.text;
    after.not_raised.iter().filter(told).any(|told| replaced(told, after).unwrap_or(thinned))
}

/// Whether the caution stands that is told to take the place of this one, if one is told to.
fn replaced(told: &NotRaised, after: &Raised) -> Option<bool> {
    let text = told.because.strip_prefix("This caution takes its place: ")?;
    Some(after.cautions.iter().any(|it| it.caution.text == text))
}

/// Whether everything that a joint caution said is said still: one of its parts may have found a stronger word.
fn parts_stand(caution: &Caution, after: &Raised) -> bool {
    let part = |key: &String| {
        let told = |told: &NotRaised| told.key == *key && replaced(told, after) == Some(true);
        after.cautions.iter().any(|it| it.rule == *key && it.caution.level >= caution.level)
            || after.not_raised.iter().any(told)
    };
    let joint = REFERENCE.joint.iter().find(|joint| joint.caution.key == caution.key);
    joint.is_some_and(|joint| joint.of.iter().all(part))
}

proptest! {
    #[test]
    fn adding_a_line_removes_no_caution_of_what_is_in_it(
        before in made(line()), added in line(), at in any::<prop::sample::Index>(),
    ) {
        let mut after = before.clone();
        // Between the lines that are there, so that what follows moves down; nested formulas keep their titles, which
        // are given in order, when the new line stands behind them.
        let nests = |line: &Put| matches!(line, Put::Formula(..));
        let position = if nests(&added) { after.lines.len() } else { at.index(after.lines.len() + 1) };
        after.lines.insert(position, added);
        let (before, raised) = (cautions_of(&before), raised_by(&after, &ClinicCautions::default()));
        let after: Vec<Caution> = raised.cautions.iter().map(|counted| counted.caution.clone()).collect();
        for caution in before.iter().filter(|caution| of_content(caution).next().is_some()) {
            prop_assert!(
                stands(caution, &after) || may_go(caution, &raised) || parts_stand(caution, &raised),
                "{caution:?} is gone from {after:#?}"
            );
        }
    }
}

fn has(made: &Made, key: &str) -> bool {
    cautions_of(made).iter().any(|caution| caution.key == key)
}

#[test]
fn what_a_calculation_raised_goes_when_it_is_no_longer_so() {
    let water = [("purified-water", 70)];
    let mut lotion = Made::new("lotion", "intact-skin-leave-on", "cosmetic", &water);
    assert!(has(&lotion, "unpreserved-watery"));
    lotion.lines.push(Put::Material(place("ethanol-96"), 30_000));
    assert!(!has(&lotion, "unpreserved-watery"), "the alcohol keeps it");

    let strong = [("phenoxyethanol", 2), ("purified-water", 98)];
    let mut lotion = Made::new("lotion", "intact-skin-leave-on", "cosmetic", &strong);
    assert!(has(&lotion, "limit-exceeded"));
    lotion.lines.push(Put::Material(place("purified-water"), 400_000));
    assert!(!has(&lotion, "limit-exceeded"), "thinned to a fifth it is within the limit");
    assert!(has(&lotion, "phenoxyethanol-infant"), "what the material carries stays");
}
