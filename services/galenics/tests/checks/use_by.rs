//! Use-by dates under published rules, and what no rule may lift.

use chrono::NaiveDate;
use galenics::{
    Decimal, Fraction, MaterialKind, Preparation, Source, Sourced, Status,
    use_by::{
        AcidPreservative, Conditions, DatedPart, DatingFacts, DatingRule, DayCounting, Expiry, Period,
        PreservationFacts, PreservationRules, RouteClass, RuleOutcome, RuleSet, Scope, Storage, SugarCounts,
        WaterActivity, preservation, undissociated_share, use_by, watery_phase,
    },
};
use proptest::prelude::*;
use serde::Deserialize;

use crate::support::{dec, evaluated, file, formula, line, line_of, material, near};

#[derive(Deserialize)]
struct Published {
    set: Vec<SetRow>,
    period: Vec<PeriodRow>,
}
#[derive(Deserialize)]
struct SetRow {
    key: String,
    name: String,
    from: Option<String>,
    until: Option<String>,
    rules: Vec<RuleRow>,
}
#[derive(Deserialize)]
struct RuleRow {
    key: String,
    watery: Option<bool>,
    preserved: Option<bool>,
    #[serde(default)]
    routes: Vec<RouteClass>,
    liquid: Option<bool>,
    days: Option<u32>,
    months: Option<u32>,
    storage: Vec<Storage>,
    source: String,
}
#[derive(Deserialize)]
struct PeriodRow {
    from: String,
    days: Option<u32>,
    months: Option<u32>,
    day_one: bool,
    ends: String,
    source: String,
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn period(days: Option<u32>, months: Option<u32>) -> Period {
    days.map(Period::Days).or(months.map(Period::Months)).unwrap()
}

fn sets() -> Vec<RuleSet> {
    file::<Published>("galenics-dating.toml")
        .set
        .into_iter()
        .map(|set| RuleSet {
            key: set.key.into(),
            name: set.name.into(),
            in_force_from: set.from.as_deref().map(day),
            in_force_until: set.until.as_deref().map(day),
            scope: Scope::default(),
            counting: DayCounting::MakingIsDayOne,
            rules: set
                .rules
                .into_iter()
                .map(|rule| DatingRule {
                    key: rule.key.into(),
                    when: Conditions {
                        watery: rule.watery,
                        preserved: rule.preserved,
                        routes: rule.routes,
                        liquid: rule.liquid,
                        ..Conditions::default()
                    },
                    period: period(rule.days, rule.months),
                    storage: rule.storage,
                    source: Source::new(rule.source, Status::Verified),
                })
                .collect(),
        })
        .collect()
}

fn cream(made_on: &str) -> DatingFacts {
    DatingFacts {
        made_on: day(made_on),
        regime: "cosmetic".into(),
        preparation: Preparation::Cream,
        route: RouteClass::Skin,
        liquid: false,
        water: WaterActivity::ByClass { watery: true },
        preserved: false,
        alcohol: None,
        sugar: None,
        holds: Vec::new(),
        kept: true,
        storage: Storage::Refrigerator,
        parts: Vec::new(),
        opened: None,
        stability_evidence: None,
        switched_off: Vec::new(),
    }
}

fn date(facts: &DatingFacts) -> NaiveDate {
    use_by(facts, &sets()).unwrap().date.unwrap()
}

#[test]
fn periods_end_as_published_and_both_ways_of_counting_are_told_apart() {
    for row in file::<Published>("galenics-dating.toml").period {
        let counting = if row.day_one { DayCounting::MakingIsDayOne } else { DayCounting::AfterMaking };
        let ends = period(row.days, row.months).end(day(&row.from), counting);
        assert_eq!(ends, Some(day(&row.ends)), "{}", row.source);
    }
    assert_eq!(Expiry::Month { year: 2028, month: 2 }.last_day(), Some(day("2028-02-29")));
    assert_eq!(Expiry::Month { year: 2028, month: 13 }.last_day(), None);
}

#[test]
fn the_rules_of_2023_date_each_class() {
    let made = "2026-01-01";
    let unpreserved = cream(made);
    assert_eq!(date(&unpreserved), day("2026-01-14"));
    let preserved = DatingFacts { preserved: true, ..cream(made) };
    assert_eq!(date(&preserved), day("2026-02-04"));
    let salve = DatingFacts {
        water: WaterActivity::ByClass { watery: false },
        preparation: Preparation::Salve,
        ..cream(made)
    };
    assert_eq!(date(&salve), day("2026-06-29"));
    let oil = DatingFacts { route: RouteClass::Mouth, liquid: true, ..salve };
    assert_eq!(date(&oil), day("2026-03-31"));
}

#[test]
fn the_rules_of_2014_hold_only_in_their_time() {
    let old = DatingFacts { preserved: true, ..cream("2020-01-01") };
    let answer = use_by(&old, &sets()).unwrap();
    assert_eq!(answer.date, Some(day("2020-01-30")));
    assert_eq!(answer.answers[0].outcome, RuleOutcome::NotInForce);
    assert_eq!(answer.limited_by.unwrap().as_str(), "USP <795>, 2014 and before");
    let salve = DatingFacts { water: measured("0.3"), ..cream("2020-08-31") };
    assert_eq!(date(&salve), day("2021-02-28"));
}

/// Acid alone preserves by no recorded rule but as vinegar or an acid preservative; the answer says so.
#[test]
fn an_acid_without_vinegar_or_preservative_names_the_missing_rule() {
    let at = |ph: &str, vinegar: Option<&str>| {
        let facts = PreservationFacts {
            ph: Some(dec(ph)),
            acid: true,
            vinegar: vinegar.map(|share| Fraction::percent(dec(share)).unwrap()),
            ..PreservationFacts::default()
        };
        preservation(&facts, &PreservationRules::remembered()).unwrap()
    };
    for (ph, vinegar) in [("3.2", None), ("3.2", Some("4.4"))] {
        let said = at(ph, vinegar);
        assert!(!said.preserved);
        assert!(said.figure.sentence().contains("no rule is recorded by which acid alone preserves"), "{ph}");
    }
    assert!(at("3.2", Some("4.5")).preserved);
    assert!(!at("7.4", None).figure.sentence().contains("acid alone"));
}

fn measured(activity: &str) -> WaterActivity {
    WaterActivity::Measured(Sourced::entered(dec(activity)))
}

/// Nothing grows below 0.60, whatever is or is not in it.
#[test]
fn a_low_water_activity_preserves_by_itself() {
    let judge = |activity: &str| {
        let facts = PreservationFacts {
            water: Some(Fraction::percent(dec("30")).unwrap()),
            water_activity: Some(Sourced::entered(dec(activity))),
            ..PreservationFacts::default()
        };
        preservation(&facts, &PreservationRules::remembered())
    };
    assert!(!judge("0.6").unwrap().preserved);
    let dry = judge("0.599").unwrap();
    assert!(dry.preserved);
    assert!(dry.figure.sentence().contains("0.599"), "{}", dry.figure.sentence());
    assert_eq!(judge("1.01").unwrap_err().field, "water_activity");
}

#[test]
fn water_activity_decides_and_not_knowing_means_watery() {
    let at = |water| use_by(&DatingFacts { water, preserved: true, ..cream("2026-01-01") }, &sets()).unwrap();
    assert_eq!(at(measured("0.60")).date, Some(day("2026-02-04")));
    assert_eq!(at(measured("0.599")).date, Some(day("2026-06-29")));
    assert_eq!(at(WaterActivity::NotKnown).date, Some(day("2026-02-04")));
    assert!(at(measured("0.7")).watery.sentence().contains("0.7"));
    let wrong = use_by(&DatingFacts { water: measured("1.2"), ..cream("2026-01-01") }, &sets());
    assert_eq!(wrong.unwrap_err().field, "water_activity");
}

#[test]
fn an_unpreserved_watery_preparation_never_passes_14_days_without_evidence() {
    let generous = RuleSet {
        key: "house".into(),
        name: "habit of the house".into(),
        in_force_from: None,
        in_force_until: None,
        scope: Scope::default(),
        counting: DayCounting::AfterMaking,
        rules: vec![DatingRule {
            key: "three-months".into(),
            when: Conditions::default(),
            period: Period::Months(3),
            storage: vec![Storage::Refrigerator],
            source: Source::fixed("about three months refrigerated", Status::CommonPractice),
        }],
    };
    let only_generous = |facts: &DatingFacts| use_by(facts, std::slice::from_ref(&generous)).unwrap();
    let cream = cream("2026-01-01");
    let bare = only_generous(&cream);
    assert_eq!(bare.date, Some(day("2026-01-14")));
    let said = bare.answers.last().unwrap().figure.as_ref().unwrap().sentence();
    assert!(said.contains("14 days from 2026-01-01 (the day of making is day 1)"), "{said}");
    let off = DatingFacts {
        switched_off: vec![("house".into(), "we follow the law only".into())],
        ..cream.clone()
    };
    assert_eq!(only_generous(&off).date, Some(day("2026-01-14")), "no switch lifts it");
    let warm = DatingFacts { storage: Storage::RoomTemperature, ..cream.clone() };
    assert!(only_generous(&warm).refrigerate, "the date holds only in the cold");
    assert!(only_generous(&cream).refrigerate, "kept there, it still holds only there");
    let evidence = Sourced::new(Period::Days(60), Source::fixed("challenge test, file 12", Status::Entered));
    let filed = DatingFacts { stability_evidence: Some(evidence), ..cream };
    assert_eq!(only_generous(&filed).date, Some(day("2026-03-02")));
}

#[test]
fn what_it_is_made_of_binds_it_and_the_strictest_wins() {
    let salve = DatingFacts { water: WaterActivity::ByClass { watery: false }, ..cream("2026-01-01") };
    let part = |name: &'static str, expiry| DatedPart { name: name.into(), expiry, watery: false };
    let bound = DatingFacts {
        parts: vec![
            part("infused oil", Expiry::Day(day("2026-05-20"))),
            part("beeswax, lot 3", Expiry::Month { year: 2026, month: 4 }),
        ],
        ..salve.clone()
    };
    let answer = use_by(&bound, &sets()).unwrap();
    assert_eq!(answer.date, Some(day("2026-04-30")));
    assert_eq!(answer.limited_by.unwrap().as_str(), "beeswax, lot 3");
    assert_eq!(answer.answers.len(), 4, "both sets and both parts have their say");
    let opened = DatingFacts { opened: Some((day("2026-02-01"), Period::Months(1))), ..salve.clone() };
    assert_eq!(date(&opened), day("2026-03-01"));
    let early = DatingFacts { opened: Some((day("2025-12-31"), Period::Months(1))), ..salve.clone() };
    assert_eq!(use_by(&early, &sets()).unwrap_err().field, "opened");
    let no_month = DatingFacts { parts: vec![part("wax", Expiry::Month { year: 2026, month: 0 })], ..salve };
    assert_eq!(use_by(&no_month, &sets()).unwrap_err().field, "parts");
}

#[test]
fn a_table_for_semisolids_does_not_date_a_tincture() {
    let mut sets = sets();
    sets.truncate(1);
    sets[0].scope.preparations = vec![Preparation::Cream, Preparation::Salve, Preparation::Ointment];
    let tincture = DatingFacts { preparation: Preparation::Tincture, preserved: true, ..cream("2026-01-01") };
    let answer = use_by(&tincture, &sets).unwrap();
    assert_eq!(answer.answers[0].outcome, RuleOutcome::OutOfScope);
    assert_eq!(answer.date, None);
    assert_eq!(
        answer.figure.sentence(),
        "unknown: dating rule for tincture that is watery and preserved, made as cosmetic"
    );
}

#[test]
fn a_rule_set_is_switched_off_only_with_a_reason_and_says_so() {
    let facts = |reason: &'static str| DatingFacts {
        switched_off: vec![("compounding-2023".into(), reason.into())],
        preserved: true,
        ..cream("2026-01-01")
    };
    assert_eq!(use_by(&facts("  "), &sets()).unwrap_err().field, "switched_off");
    let answer = use_by(&facts("teaching only, nothing leaves the room"), &sets()).unwrap();
    assert_eq!(
        answer.answers[0].outcome,
        RuleOutcome::SwitchedOff { reason: "teaching only, nothing leaves the room".into() }
    );
}

#[test]
fn preserved_is_earned_in_the_watery_phase_at_its_ph() {
    let rules = PreservationRules::remembered();
    let judge = |facts: PreservationFacts| preservation(&facts, &rules).unwrap();
    let percent = |value: &str| Some(Fraction::percent(dec(value)).unwrap());
    assert!(judge(PreservationFacts { alcohol: percent("25"), ..Default::default() }).preserved);
    assert!(!judge(PreservationFacts { alcohol: percent("20"), ..Default::default() }).preserved);
    assert!(judge(PreservationFacts { alcohol: percent("20"), acid: true, ..Default::default() }).preserved);
    assert!(judge(PreservationFacts { glycerol: percent("55"), ..Default::default() }).preserved);
    assert!(judge(PreservationFacts { sugar: percent("65"), ..Default::default() }).preserved);
    let none = judge(PreservationFacts::default());
    assert!(!none.preserved && none.figure.sentence().starts_with("unpreserved"));

    let sorbic = |ph: Option<&str>| PreservationFacts {
        preservative: Some(AcidPreservative {
            name: "sorbic acid".into(),
            share: Fraction::percent(dec("0.3")).unwrap(),
            pka: Sourced::new(dec("4.76"), Source::fixed("pKa of sorbic acid", Status::FromMemory)),
            enough: Sourced::new(
                Fraction::percent(dec("0.1")).unwrap(),
                Source::fixed("policy", Status::Entered),
            ),
        }),
        ph: ph.map(dec),
        ..Default::default()
    };
    assert!(judge(sorbic(Some("4.76"))).preserved, "half of 0.3 % is enough");
    assert!(!judge(sorbic(Some("6.5"))).preserved);
    let unmeasured = judge(sorbic(None));
    assert!(!unmeasured.preserved && unmeasured.figure.sentence().contains("the pH was not measured"));
    assert_eq!(preservation(&sorbic(Some("15")), &rules).unwrap_err().field, "ph");

    let pka = Sourced::new(dec("4.20"), Source::fixed("pKa of benzoic acid", Status::FromMemory));
    let share = |ph: &str| undissociated_share(dec(ph), &pka).unwrap().value().unwrap();
    assert!(near(share("4.20"), dec("0.5"), "0.0000000001"));
    assert!(near(share("5.20"), dec("1") / dec("11"), "0.0000000001"));
    assert!(rules.alcohol_acid.source.status == Status::FromMemory, "remembered, and says so");
}

#[test]
fn the_watery_phase_is_read_from_the_composition_and_concentrates_what_is_in_it() {
    let mut spirit = material("spirit", MaterialKind::Ethanol);
    spirit.ethanol_by_volume =
        Some(Sourced::new(Fraction::percent(dec("96")).unwrap(), Source::fixed("label", Status::Entered)));
    let cream = formula(
        "cream",
        Preparation::Cream,
        vec![
            line("olive oil", MaterialKind::FixedOil, "60 %"),
            line("glycerol", MaterialKind::Humectant, "10 %"),
            line_of(spirit, "10 %"),
            line("purified water", MaterialKind::Water, "20 %"),
        ],
    );
    let phase = watery_phase(&evaluated(&cream), &["glycerol".into()]).unwrap();
    assert_eq!(phase.share.value(), Some(dec("0.4")));
    assert_eq!(phase.glycerol.get(), dec("0.25"));
    assert_eq!(
        phase.concentration(dec("0.004")).unwrap().get(),
        dec("0.01"),
        "0.4 % of the whole is 1 % of it"
    );
    // 9.38 g of ethanol in 30 g of water and spirit: 31.3 % by mass, about 37.7 % by volume.
    assert!(near(phase.alcohol.get(), dec("0.377"), "0.002"), "{:?}", phase.alcohol);
}

proptest! {
    #[test]
    fn the_answer_is_never_later_than_any_rule_that_applies(
        days in 0_i64..20_000, (watery, preserved, cold) in any::<(bool, bool, bool)>(), part in -10_i64..1000, infused: bool,
        evidence in prop::option::of(1_u32..1000),
    ) {
        let made_on = day("1990-01-01") + chrono::Duration::days(days);
        let facts = DatingFacts {
            made_on,
            water: WaterActivity::ByClass { watery },
            preserved,
            storage: if cold { Storage::Refrigerator } else { Storage::RoomTemperature },
            parts: vec![DatedPart { name: "lot".into(), expiry: Expiry::Day(made_on + chrono::Duration::days(part)), watery: infused }],
            stability_evidence: evidence.map(|days| {
                Sourced::new(Period::Days(days), Source::fixed("filed", Status::Entered))
            }),
            ..cream("1990-01-01")
        };
        let answer = use_by(&facts, &sets()).unwrap();
        let date = answer.date.unwrap();
        for said in answer.answers {
            if let RuleOutcome::Dated { date: other, .. } = said.outcome {
                prop_assert!(date <= other);
            }
        }
        // Evidence and parts bind whatever the rules would allow; a watery part in date only where nothing preserves it.
        if let Some(days) = evidence {
            prop_assert!(date <= made_on + chrono::Duration::days(i64::from(days)));
        }
        if !infused || part < 0 || (watery && !preserved) {
            prop_assert!(date <= made_on + chrono::Duration::days(part));
        }
        if watery && !preserved && evidence.is_none() {
            prop_assert!(date < made_on + chrono::Duration::days(14));
        }
    }
}

#[derive(Deserialize)]
struct Syrups {
    syrup: Vec<PublishedSyrup>,
}

#[derive(Deserialize)]
struct PublishedSyrup {
    sucrose: String,
    water: String,
    keeps: bool,
    source: String,
}

#[test]
fn published_syrups_keep_by_their_sugar_or_do_not() {
    for row in file::<Syrups>("galenics-dating.toml").syrup {
        let syrup = formula(
            "syrup",
            Preparation::Syrup,
            vec![
                line("sucrose", MaterialKind::Sugar, &format!("{} g", row.sucrose)),
                line("purified water", MaterialKind::Water, &format!("{} g", row.water)),
            ],
        );
        let phase = watery_phase(&evaluated(&syrup), &[]).unwrap();
        let facts = PreservationFacts { sugar: Some(phase.sugar), ..PreservationFacts::default() };
        let found = preservation(&facts, &PreservationRules::remembered()).unwrap();
        assert_eq!(found.preserved, row.keeps, "{}", row.source);
    }
}

#[derive(Deserialize)]
struct WeakSyrups {
    weak_syrup: Vec<WeakSyrup>,
}

#[derive(Deserialize)]
struct WeakSyrup {
    sucrose: String,
    /// What the sugar leaves free, alcohol included, in mL.
    free: String,
    alcohol: String,
    keeps: bool,
    source: String,
}

/// The phase of a syrup by its grams of sucrose, water and ethanol.
fn syrup_of(sugar: Decimal, water: Decimal, ethanol: Decimal) -> PreservationFacts {
    let all = sugar + water + ethanol;
    let share = |part: Decimal| Some(Fraction::new(part / all).unwrap());
    PreservationFacts {
        sugar: share(sugar),
        water: share(water),
        ethanol: share(ethanol),
        sugar_counts: SugarCounts::WithAlcohol,
        ..PreservationFacts::default()
    }
}

fn is_preserved(facts: &PreservationFacts) -> bool {
    preservation(facts, &PreservationRules::remembered()).unwrap().preserved
}

#[test]
fn a_weaker_syrup_keeps_by_the_alcohol_that_was_published() {
    for row in file::<WeakSyrups>("galenics-dating.toml").weak_syrup {
        let (sugar, alcohol) = (dec(&row.sucrose), dec(&row.alcohol));
        // 0.53 mL of water a gram of sucrose is kept by it; the rest of the litre is free.
        let water = dec(&row.free) - alcohol + sugar * dec("0.53");
        let syrup = syrup_of(sugar, water * dec("0.9982"), alcohol * dec("0.78924"));
        assert_eq!(is_preserved(&syrup), row.keeps, "{}", row.source);
        let plain = PreservationFacts { sugar_counts: SugarCounts::Alone, ..syrup };
        assert!(!is_preserved(&plain), "only in a syrup");
    }
}

/// Vinegar of 5 % keeps by itself, and honey of 82 % sugar does: so does any mixture of the two, until water is put to it.
#[test]
fn honey_and_vinegar_keep_in_every_proportion_and_only_in_an_oxymel() {
    let of = |honey: u32, counts: SugarCounts| {
        let honey = Decimal::from(honey) / dec("100");
        PreservationFacts {
            sugar: Some(Fraction::new(honey * dec("0.82")).unwrap()),
            vinegar: Some(Fraction::new((Decimal::ONE - honey) * dec("0.05")).unwrap()),
            sugar_counts: counts,
            ..PreservationFacts::default()
        }
    };
    for honey in 0..=100 {
        assert!(is_preserved(&of(honey, SugarCounts::WithVinegar)), "{honey} % of honey");
    }
    assert!(!is_preserved(&of(50, SugarCounts::Alone)));
    let moist = of(100, SugarCounts::Not("sugar keeps an electuary only with dry powder".into()));
    let found = preservation(&moist, &PreservationRules::remembered()).unwrap();
    assert!(!found.preserved && found.figure.sentence().contains("only with dry powder"));
}

proptest! {
    /// More sugar, or more alcohol in place of water, never spoils what kept.
    #[test]
    fn a_syrup_never_keeps_less_for_more_sugar_or_more_alcohol(
        sugar in 1_u32..600, water in 1_u32..600, ethanol in 0_u32..100, more in 1_u32..100,
    ) {
        let of = |sugar: u32, water: u32, ethanol: u32| {
            is_preserved(&syrup_of(sugar.into(), water.into(), ethanol.into()))
        };
        if of(sugar, water, ethanol) {
            prop_assert!(of(sugar + more, water, ethanol));
            prop_assert!(of(sugar, water, ethanol + more));
        }
    }
}

#[test]
fn a_rule_about_a_material_dates_only_what_holds_it() {
    let egg = RuleSet {
        key: "egg".into(),
        name: "raw egg".into(),
        in_force_from: None,
        in_force_until: None,
        scope: Scope::default(),
        counting: DayCounting::AfterMaking,
        rules: vec![DatingRule {
            key: "egg".into(),
            when: Conditions { holds: vec!["egg-yolk".into()], ..Conditions::default() },
            period: Period::Days(2),
            storage: Vec::new(),
            source: Source::fixed("house", Status::FromMemory),
        }],
    };
    let sets = [egg, sets().remove(0)];
    let with = DatingFacts { holds: vec!["olive-oil".into(), "egg-yolk".into()], ..cream("2026-01-01") };
    assert_eq!(use_by(&with, &sets).unwrap().date, Some(day("2026-01-03")));
    let without = use_by(&cream("2026-01-01"), &sets).unwrap();
    assert_eq!(without.date, Some(day("2026-01-14")));
    assert_eq!(without.answers[0].outcome, RuleOutcome::NoRuleApplies);
}
