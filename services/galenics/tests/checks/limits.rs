//! Limits on the skin: sums over oils, exact comparisons, salts as acid, allergens, daily amounts.

use galenics::{
    Evaluation, Fraction, HerbState, Mass, MaterialFacts, MaterialKind, Preparation, Source, Sourced, Status,
    limits::{
        Allergen, Bound, Constituent, DailyExposure, Driest, Exposure, HerbPart, Limit, LimitBasis, Profile,
        Purpose, Subject, Use, Verdict, as_acid, check_daily, check_herb, check_limits, declare_allergens,
    },
};
use proptest::prelude::*;
use serde::Deserialize;

use crate::support::{dec, evaluated, file, formula, line, line_of, material, near};

#[derive(Deserialize)]
struct Published {
    limit: Vec<LimitRow>,
    acid: Vec<AcidRow>,
    allergen: Vec<AllergenRow>,
    daily: Vec<DailyRow>,
}
#[derive(Deserialize)]
struct LimitRow {
    key: String,
    substance: String,
    exposure: Option<Exposure>,
    site: Option<String>,
    purpose: Option<Purpose>,
    under_years: Option<u32>,
    /// None for a prohibition.
    percent: Option<String>,
    basis: LimitBasis,
    source: String,
}
#[derive(Deserialize)]
struct AcidRow {
    acid_mass: String,
    salt_mass: String,
    factor: String,
    acid_percent: Option<String>,
    salt_percent: Option<String>,
    source: String,
}
#[derive(Deserialize)]
struct AllergenRow {
    oil_percent: String,
    held_percent: String,
    leave_on: bool,
    rinse_off: bool,
    source: String,
}
#[derive(Deserialize)]
struct DailyRow {
    substance: String,
    micrograms: String,
    source: String,
}

fn published() -> Published {
    file("galenics-limits.toml")
}

fn percent(value: &str) -> Fraction {
    Fraction::percent(dec(value)).unwrap()
}

fn law(text: &str) -> Source {
    Source::new(text.to_owned(), Status::Verified)
}

fn limits() -> Vec<Limit> {
    published()
        .limit
        .into_iter()
        .map(|row| Limit {
            key: row.key.into(),
            regime: "cosmetic".into(),
            authority: "EU law".into(),
            name: row.substance.clone().into(),
            subject: Subject::Substance(row.substance.into()),
            exposure: row.exposure,
            site: row.site.map(Into::into),
            purpose: row.purpose.unwrap_or(Purpose::Any),
            under_months: row.under_years.map(|years| years * 12),
            bound: row.percent.map_or(Bound::Prohibited, |most| Bound::Maximum(percent(&most))),
            basis: row.basis,
            group: None,
            source: law(&row.source),
            date: "2024-05-13".into(),
        })
        .collect()
}

fn holds(material: &str, substance: &'static str, least: &str, most: &str, as_acid: bool) -> Profile {
    let constituent = Constituent {
        substance: substance.into(),
        name: substance.into(),
        least: Fraction::new(dec(least)).unwrap(),
        most: Fraction::new(dec(most)).unwrap(),
        as_acid,
        source: law("made up for the test"),
    };
    Profile { material: material.to_owned().into(), constituents: vec![constituent], untested: Vec::new() }
}

fn meant(exposure: Exposure) -> Use {
    Use { regime: "cosmetic".into(), exposure, site: None, youngest_months: None, preservatives: Vec::new() }
}

/// A cream with so many per cent of some materials, water to the hundred.
fn cream(parts: &[(&str, &str)]) -> Evaluation {
    let mut lines: Vec<_> = parts
        .iter()
        .map(|(name, share)| line(name, MaterialKind::EssentialOil, &format!("{share} %")))
        .collect();
    lines.push(line("purified water", MaterialKind::Water, "q.s."));
    evaluated(&formula("cream", Preparation::Cream, lines))
}

fn verdict_on(key: &str, evaluation: &Evaluation, profiles: &[Profile], of: &Use) -> Option<Verdict> {
    let report = check_limits(&evaluation.composition, profiles, &limits(), of);
    report.findings.iter().find(|finding| finding.limit.as_str() == key).map(|finding| finding.verdict)
}

#[test]
fn a_constituent_is_summed_over_oils_at_the_top_of_its_range() {
    let profiles = [
        holds("rose oil", "methyl eugenol", "0.005", "0.02", false),
        holds("bay oil", "methyl eugenol", "0.01", "0.04", false),
    ];
    // 0.006 % of rose oil bring 0.00012 %, 0.002 % of bay oil 0.00008 %: just at the limit, which is allowed.
    let at = cream(&[("rose oil", "0.006"), ("bay oil", "0.002")]);
    let leave_on = meant(Exposure::LeaveOn);
    assert_eq!(verdict_on("methyl-eugenol-leave-on", &at, &profiles, &leave_on), Some(Verdict::Within));
    let past = cream(&[("rose oil", "0.006"), ("bay oil", "0.00200001")]);
    assert_eq!(verdict_on("methyl-eugenol-leave-on", &past, &profiles, &leave_on), Some(Verdict::Exceeded));
    assert_eq!(verdict_on("methyl-eugenol-leave-on", &past, &profiles, &meant(Exposure::RinseOff)), None);
    assert_eq!(
        verdict_on("methyl-eugenol-rinse-off", &past, &profiles, &meant(Exposure::RinseOff)),
        Some(Verdict::Within)
    );
}

#[test]
fn what_would_still_pass_does_pass() {
    let profiles = [holds("rose oil", "methyl eugenol", "0.005", "0.02", false)];
    let report = check_limits(
        &cream(&[("rose oil", "0.5")]).composition,
        &profiles,
        &limits(),
        &meant(Exposure::LeaveOn),
    );
    assert_eq!(report.verdict, Verdict::Exceeded);
    assert_eq!(report.findings[0].of_limit.value(), Some(dec("50")));
    let most = report.findings[0].would_pass[0].value().unwrap();
    assert_eq!(most, dec("0.0001"), "0.01 %");
    let lowered = cream(&[("rose oil", &(most * dec("100")).to_string())]);
    assert_eq!(
        verdict_on("methyl-eugenol-leave-on", &lowered, &profiles, &meant(Exposure::LeaveOn)),
        Some(Verdict::Within)
    );
}

fn water(percent: &str) -> Sourced<Fraction> {
    let weighed = Source::fixed("weighed before and after", Status::Entered);
    Sourced::new(Fraction::percent(dec(percent)).unwrap(), weighed)
}

/// An ointment with dried flowers and with fresh ones of the same plant: 80 % of water before drying, 10 % after.
fn flowers(dried: &str, fresh: &str, dried_water: Option<&str>) -> Evaluation {
    let herb = |name: &str, state| MaterialFacts { herb: Some(state), ..material(name, MaterialKind::Herb) };
    let state = HerbState::Fresh { water: Some(water("80")), dried_water: dried_water.map(water) };
    evaluated(&formula(
        "ointment",
        Preparation::Ointment,
        vec![
            line_of(herb("dried calendula", HerbState::Dried), dried),
            line_of(herb("fresh calendula", state), fresh),
            line("lanolin", MaterialKind::AnimalProduct, "q.s. 1000 g"),
        ],
    ))
}

#[test]
fn a_limit_on_a_herb_counts_what_is_dried_and_what_was_fresh_together() {
    let tenth = Sourced::new(Fraction::percent(dec("10")).unwrap(), law("made up for the test"));
    let checked = |evaluation: &Evaluation| {
        let herbs: Vec<_> = evaluation.herbs.iter().map(|herb| HerbPart { herb, driest: None }).collect();
        check_herb(&herbs, &tenth).unwrap()
    };
    // 180 g of fresh hold 36 g of solids, as 40 g of dried do: with 60 g of dried just the tenth, which is allowed.
    let at = checked(&flowers("60 g", "180 g", Some("10")));
    assert_eq!((at.verdict, at.share.value()), (Verdict::Within, Some(dec("0.1"))));
    assert_eq!(at.of_limit.value(), Some(dec("1")));
    assert!(at.would_pass.is_empty());
    // Either alone is far within, both together are past it; lowered alike to what would pass, they pass.
    let past = checked(&flowers("90 g", "135 g", Some("10")));
    assert_eq!((past.verdict, past.share.value()), (Verdict::Exceeded, Some(dec("0.12"))));
    let most: Vec<_> = past.would_pass.iter().map(|figure| figure.value().unwrap()).collect();
    assert_eq!(most, [dec("0.075"), dec("0.025")]);
    let lowered = checked(&flowers("75 g", "112.5 g", Some("10")));
    assert_eq!((lowered.verdict, lowered.share.value()), (Verdict::Within, Some(dec("0.1"))));
    // A range of water is counted where it makes the most dried herb: 112.5 g of fresh with 75 % and 16 % of water
    // hold 28.125 g of solids, as 33.482 g of dried do.
    let evaluation = flowers("75 g", "112.5 g", Some("10"));
    let driest = Driest { water: water("75"), dried_water: water("16") };
    let herbs: Vec<_> =
        evaluation.herbs.iter().map(|herb| HerbPart { herb, driest: Some(driest.clone()) }).collect();
    let dry = check_herb(&herbs, &tenth).unwrap();
    assert_eq!(dry.verdict, Verdict::Exceeded);
    assert!(near(dry.share.value().unwrap(), dec("0.075") + dec("0.028125") / dec("0.84"), "0.0000000001"));
    // What is not known is not counted as nothing, and hides no excess of what is.
    let unknown = checked(&flowers("60 g", "1 g", None));
    assert_eq!((unknown.verdict, unknown.share.value()), (Verdict::Unknown, None));
    let hidden = checked(&flowers("150 g", "1 g", None));
    assert_eq!((hidden.verdict, hidden.share.value()), (Verdict::Exceeded, Some(dec("0.15"))));
    assert!(hidden.would_pass.is_empty());
    assert!(check_herb(&[], &tenth).is_none());
}

#[test]
fn salts_count_as_the_acid_that_they_give() {
    for row in published().acid {
        let factor = as_acid(dec(&row.acid_mass), dec(&row.salt_mass), 1).unwrap().value().unwrap();
        assert!(near(factor, dec(&row.factor), "0.00005"), "{factor} by {}", row.source);
        if let (Some(acid), Some(salt)) = (row.acid_percent, row.salt_percent) {
            assert!(near(dec(&acid) / factor, dec(&salt), "0.0005"), "{}", row.source);
        }
    }
    let factor = as_acid(dec("112.128"), dec("150.218"), 1).unwrap().value().unwrap().to_string();
    let profiles = [holds("potassium sorbate", "sorbic acid", &factor, &factor, true)];
    let of = meant(Exposure::LeaveOn);
    let within = cream(&[("potassium sorbate", "0.803")]);
    assert_eq!(verdict_on("sorbic-acid", &within, &profiles, &of), Some(Verdict::Within));
    let past = cream(&[("potassium sorbate", "0.804")]);
    assert_eq!(verdict_on("sorbic-acid", &past, &profiles, &of), Some(Verdict::Exceeded));
    assert_eq!(as_acid(dec("150"), dec("112"), 1).unwrap_err().field, "salt");
    assert_eq!(as_acid(dec("0"), dec("112"), 1).unwrap_err().field, "acid");
}

#[test]
fn a_purpose_and_an_age_decide_which_limit_binds() {
    let profiles = [
        holds("salicylic acid", "salicylic acid", "1", "1", false),
        holds("wintergreen oil", "methyl salicylate", "0.96", "0.99", false),
    ];
    let acid = cream(&[("salicylic acid", "1.5")]);
    let mut of = meant(Exposure::LeaveOn);
    assert_eq!(verdict_on("salicylic-acid-other", &acid, &profiles, &of), Some(Verdict::Within));
    assert_eq!(verdict_on("salicylic-acid-preservative", &acid, &profiles, &of), None);
    of.preservatives.push("salicylic acid".into());
    assert_eq!(verdict_on("salicylic-acid-preservative", &acid, &profiles, &of), Some(Verdict::Exceeded));

    let balm = cream(&[("wintergreen oil", "0.01")]);
    let mut of = meant(Exposure::LeaveOn);
    assert_eq!(verdict_on("methyl-salicylate-children", &balm, &profiles, &of), None, "adults");
    of.youngest_months = Some(72);
    assert_eq!(verdict_on("methyl-salicylate-children", &balm, &profiles, &of), None, "six years old");
    of.youngest_months = Some(71);
    assert_eq!(verdict_on("methyl-salicylate-children", &balm, &profiles, &of), Some(Verdict::Prohibited));
}

#[test]
fn what_is_prohibited_is_found_in_the_smallest_amount_and_only_in_its_regime() {
    let profiles = [holds("sodium borate", "sodium borate", "1", "1", false)];
    let ointment = cream(&[("sodium borate", "0.5")]);
    assert_eq!(
        verdict_on("borax", &ointment, &profiles, &meant(Exposure::LeaveOn)),
        Some(Verdict::Prohibited)
    );
    let teaching = Use { regime: "teaching-only".into(), ..meant(Exposure::LeaveOn) };
    assert_eq!(verdict_on("borax", &ointment, &profiles, &teaching), None);
}

/// Annex III, entry 98: salicylic acid 3.0 % in rinse-off hair products, 0.5 % in body lotion, 2.0 % in everything else,
/// and not under three years.
#[test]
fn the_most_particular_limit_takes_the_place_of_the_general_one() {
    let profiles = [holds("salicylic acid", "salicylic acid", "1", "1", false)];
    let binding = |share: &str, of: &Use| -> Vec<(String, Verdict)> {
        let made = cream(&[("salicylic acid", share)]);
        let report = check_limits(&made.composition, &profiles, &limits(), of);
        report.findings.iter().map(|finding| (finding.limit.to_string(), finding.verdict)).collect()
    };
    let on = |exposure, site: &'static str| Use { site: Some(site.into()), ..meant(exposure) };
    let only = |key: &str, verdict| vec![(key.to_owned(), verdict)];
    let hair = on(Exposure::RinseOff, "hair");
    assert_eq!(binding("3", &hair), only("salicylic-acid-rinse-off-hair", Verdict::Within), "laxer than 2 %");
    assert_eq!(binding("3.01", &hair), only("salicylic-acid-rinse-off-hair", Verdict::Exceeded));
    let rinsed = meant(Exposure::RinseOff);
    assert_eq!(binding("3", &rinsed), only("salicylic-acid-other", Verdict::Exceeded));
    assert_eq!(binding("3", &on(Exposure::LeaveOn, "hair")), only("salicylic-acid-other", Verdict::Exceeded));
    let lotion = on(Exposure::LeaveOn, "body");
    assert_eq!(binding("0.6", &lotion), only("salicylic-acid-body-lotion", Verdict::Exceeded), "stricter");
    // An age comes on top, and so does what preserves: it is counted on its own.
    let young = Use { youngest_months: Some(35), ..hair.clone() };
    let both = binding("3", &young);
    assert!(both.contains(&("salicylic-acid-rinse-off-hair".to_owned(), Verdict::Within)), "{both:?}");
    assert!(both.contains(&("salicylic-acid-children".to_owned(), Verdict::Prohibited)), "{both:?}");
    let preserving = Use { preservatives: vec!["salicylic acid".into()], ..hair };
    assert_eq!(binding("0.6", &preserving), only("salicylic-acid-preservative", Verdict::Exceeded));
    // The opinion of one authority lifts no law of another.
    let law = limits().into_iter().find(|limit| limit.key.as_str() == "salicylic-acid-other").unwrap();
    let opinion = Limit { authority: "DE opinion".into(), site: Some("hair".into()), ..law.clone() };
    assert!(!opinion.displaces(&law));
}

#[test]
fn what_was_never_tested_is_unknown_and_no_pass() {
    let untested = Profile {
        material: "old rose oil".into(),
        constituents: Vec::new(),
        untested: vec!["methyl eugenol".into()],
    };
    let report = check_limits(
        &cream(&[("old rose oil", "0.1")]).composition,
        &[untested],
        &limits(),
        &meant(Exposure::LeaveOn),
    );
    assert_eq!(report.verdict, Verdict::Unknown);
    let sentence = report.findings[0].share.sentence();
    assert!(sentence.contains("methyl eugenol in old rose oil"), "{sentence}");
}

#[test]
fn limits_that_share_an_effect_are_summed_as_fractions() {
    let group = |key: &'static str, material: &'static str, most: &str| Limit {
        key: key.into(),
        subject: Subject::Material(material.into()),
        name: material.into(),
        bound: Bound::Maximum(percent(most)),
        group: Some("phototoxic".into()),
        exposure: Some(Exposure::LeaveOn),
        ..limits().remove(0)
    };
    let limits = [group("a", "bergamot oil", "0.4"), group("b", "lime oil", "0.8")];
    let of = meant(Exposure::LeaveOn);
    let half_each =
        check_limits(&cream(&[("bergamot oil", "0.2"), ("lime oil", "0.4")]).composition, &[], &limits, &of);
    assert_eq!(half_each.groups[0].used.value(), Some(dec("1")));
    assert_eq!(half_each.verdict, Verdict::Within);
    let past =
        check_limits(&cream(&[("bergamot oil", "0.3"), ("lime oil", "0.4")]).composition, &[], &limits, &of);
    assert_eq!(past.verdict, Verdict::Exceeded, "each is within its own limit, both together are not");
    assert!(past.findings.iter().all(|finding| finding.verdict == Verdict::Within));
}

#[test]
fn allergens_are_declared_strictly_above_their_threshold_and_named_oils_besides() {
    let allergen = |subject, name: &'static str| Allergen {
        subject,
        label_name: name.into(),
        leave_on_above: percent("0.001"),
        rinse_off_above: percent("0.01"),
        source: law("Regulation (EC) No 1223/2009, Annex III as amended by (EU) 2023/1545"),
    };
    let list = [
        allergen(Subject::Substance("linalool".into()), "Linalool"),
        allergen(Subject::Material("lavender oil".into()), "Lavandula Oil/Extract"),
    ];
    for row in published().allergen {
        let share = (dec(&row.held_percent) / dec("100")).to_string();
        let profiles = [holds("lavender oil", "linalool", &share, &share, false)];
        let cream = cream(&[("lavender oil", &row.oil_percent)]);
        for (exposure, expected) in [(Exposure::LeaveOn, row.leave_on), (Exposure::RinseOff, row.rinse_off)] {
            let found = declare_allergens(&cream.composition, &profiles, &list, exposure);
            assert_eq!(
                found[0].declare,
                Some(expected),
                "{} {exposure}: {}",
                row.source,
                found[0].share.sentence()
            );
            let oil = dec(&row.oil_percent);
            let above = if exposure == Exposure::LeaveOn { dec("0.001") } else { dec("0.01") };
            assert_eq!(found[1].declare, Some(oil > above), "the oil as such");
        }
    }
}

#[test]
fn a_daily_limit_rests_on_the_lots_own_assay() {
    let comfrey = cream(&[("comfrey root", "10")]);
    let exposure = |assay: Option<&str>| DailyExposure {
        lot: "comfrey root, lot 7".into(),
        share: comfrey.composition[0].share.clone(),
        assay: assay
            .map(|value| Sourced::new(dec(value), Source::fixed("certificate of the lot", Status::Entered))),
        used: Mass::grams(dec("5")).unwrap(),
    };
    for row in published().daily {
        let limit = Sourced::new(dec(&row.micrograms), law(&row.source));
        // 5 g a day with 10 % of root: 0.5 g of root, so that twice the limit a g is just at it.
        let twice = (dec(&row.micrograms) * dec("2")).to_string();
        let at = check_daily(&row.substance, &exposure(Some(&twice)), &limit);
        assert_eq!(at.verdict, Verdict::Within, "{}", row.source);
        assert_eq!(at.largest_use.value(), Some(dec("5")));
        let past = check_daily(&row.substance, &exposure(Some(&format!("{twice}1"))), &limit);
        assert_eq!(past.verdict, Verdict::Exceeded);
        let untested = check_daily(&row.substance, &exposure(None), &limit);
        assert_eq!(untested.verdict, Verdict::Unknown);
        assert!(untested.amount.sentence().contains("(not tested)"), "{}", untested.amount.sentence());
    }
}

proptest! {
    #[test]
    fn a_share_that_is_suggested_always_passes(oil in 1_u32..100_000, held in 1_u32..=1_000_000) {
        let share = (dec(&held.to_string()) / dec("1000000")).to_string();
        let profiles = [holds("rose oil", "methyl eugenol", "0", &share, false)];
        let oil = (dec(&oil.to_string()) / dec("1001")).to_string();
        let report = check_limits(&cream(&[("rose oil", &oil[..oil.len().min(8)])]).composition, &profiles, &limits(), &meant(Exposure::LeaveOn));
        if report.verdict == Verdict::Exceeded {
            let most = report.findings[0].would_pass[0].value().unwrap();
            prop_assert!(most * dec(&share) <= dec("0.000002"));
        }
    }
}
