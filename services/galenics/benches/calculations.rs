//! How long the calculations take. The aim for the evaluation of a 25-line formula nested three deep is 50
//! microseconds.
#![expect(clippy::unwrap_used, reason = "a benchmark of input that cannot be read must stop")]

use std::{hint::black_box, sync::Arc};

use chrono::NaiveDate;
use criterion::{Criterion, criterion_group, criterion_main};
use galenics::alcohol_content::alcohol_content;
use galenics::{
    Amount, Balance, Density, Formula, Fraction, Ingredient, Line, Losses, Mass, MaterialFacts, MaterialKind,
    Preparation, Quantity, Source, Sourced, Status, Target, Temperature, Yield,
    alcohol::{by_mass, density},
    evaluate,
    kept::KeptEvaluation,
    limits::{
        Allergen, Bound, Constituent, Exposure, Limit, LimitBasis, Profile, Purpose, Subject, Use,
        check_limits, declare_allergens,
    },
    number::dec,
    scale,
    use_by::{
        Conditions, DatedPart, DatingFacts, DatingRule, DayCounting, Expiry, Period, RouteClass, RuleSet,
        Scope, Storage, WaterActivity, use_by,
    },
};

/// The allocator of the service, so that the figures are those of the service.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn material(name: &str, kind: MaterialKind) -> Arc<MaterialFacts> {
    let mut facts = MaterialFacts::new(name.to_owned(), name.to_owned(), kind);
    let density = Density::new(dec("0.9145"), Temperature::TWENTY).unwrap();
    facts.density = Some(Sourced::new(density, Source::fixed("made up for the benchmark", Status::Entered)));
    Arc::new(facts)
}

fn line(name: &str, kind: MaterialKind, amount: &str) -> Line {
    Line::new(Ingredient::Material(material(name, kind)), Amount::parse(amount).unwrap())
}

fn nested(formula: Formula, amount: &str) -> Line {
    Line::new(Ingredient::Nested(Arc::new(formula).into()), Amount::parse(amount).unwrap())
}

/// Twenty-five lines: oils, waters and oddments by mass, volume and share, and a nested base that nests an
/// infused blend that nests an infused oil.
fn cream() -> Formula {
    let infused = Formula::new("infused", "Infused oil", Preparation::InfusedOil)
        .with_phase(
            "all",
            vec![
                line("calendula", MaterialKind::Herb, "100 g"),
                line("st john's wort", MaterialKind::Herb, "50 g"),
                line("olive oil", MaterialKind::FixedOil, "700 g"),
                line("sunflower oil", MaterialKind::FixedOil, "300 mL"),
            ],
        )
        .with_yield(Yield::parse("850 g").unwrap());
    let blend = Formula::new("blend", "Oil blend", Preparation::Liniment).with_phase(
        "all",
        vec![
            nested(infused, "60 %"),
            line("almond oil", MaterialKind::FixedOil, "25 %"),
            line("olive oil", MaterialKind::FixedOil, "10 %"),
            line("vitamin e", MaterialKind::Antioxidant, "5 %"),
        ],
    );
    let base = Formula::new("base", "Salve base", Preparation::Salve).with_phase(
        "all",
        vec![
            nested(blend, "700 g"),
            line("beeswax", MaterialKind::Wax, "4 oz"),
            line("shea butter", MaterialKind::Butter, "1/2 US cup"),
        ],
    );
    let mut oils = vec![nested(base, "250 g")];
    let mut waters = vec![line("purified water", MaterialKind::Water, "q.s. 1000 g")];
    for at in 1..12 {
        oils.push(line(&format!("oil {at}"), MaterialKind::FixedOil, &format!("{}.5 g", 10 + at)));
        waters.push(line(&format!("extract {at}"), MaterialKind::Humectant, "0.7 %"));
    }
    oils.push(line("rose oil", MaterialKind::EssentialOil, "200 uL"));
    Formula::new("cream", "Cream", Preparation::Cream)
        .with_phase("oil phase", oils)
        .with_phase("water phase", waters)
}

fn evaluation(criterion: &mut Criterion) {
    let formula = cream();
    assert_eq!(formula.lines().count(), 25);
    criterion.bench_function("evaluate_25_lines_nested_three_deep", |bench| {
        bench.iter(|| evaluate(black_box(&formula)).unwrap());
    });
    let evaluated = evaluate(&formula).unwrap();
    let target = Target::Containers { count: 12, fill: Quantity::parse("30 g").unwrap() };
    let balance = Balance::reading(Mass::grams(dec("0.1")).unwrap()).unwrap();
    criterion.bench_function("scale_25_lines", |bench| {
        bench.iter(|| scale(black_box(&formula), &evaluated, &target, &Losses::default(), &balance).unwrap());
    });
    criterion.bench_function("evaluation_to_json", |bench| {
        bench.iter(|| serde_json::to_string(black_box(&evaluated)).unwrap());
    });
}

fn kept(criterion: &mut Criterion) {
    let formula = cream();
    let evaluated = evaluate(&formula).unwrap();
    criterion.bench_function("keep_25_lines_as_json", |bench| {
        bench.iter(|| KeptEvaluation::of(&formula, black_box(&evaluated)).unwrap().to_json().unwrap());
    });
    let text = KeptEvaluation::of(&formula, &evaluated).unwrap().to_json().unwrap();
    criterion.bench_function("restore_25_lines_from_json", |bench| {
        bench.iter(|| KeptEvaluation::from_json(black_box(&text)).unwrap().restore(&formula).unwrap());
    });
}

fn source() -> Source {
    Source::fixed("made up for the benchmark", Status::Entered)
}

/// Four materials that hold eight substances each.
fn profiles() -> Vec<Profile> {
    ["rose oil", "oil 1", "extract 3", "extract 4"]
        .iter()
        .enumerate()
        .map(|(at, material)| Profile {
            material: (*material).into(),
            constituents: (0..8)
                .map(|substance| Constituent {
                    substance: format!("substance {}", at + substance).into(),
                    name: format!("substance {}", at + substance).into(),
                    least: Fraction::ZERO,
                    most: Fraction::new(dec("0.035")).unwrap(),
                    as_acid: false,
                    source: source(),
                })
                .collect(),
            untested: Vec::new(),
        })
        .collect()
}

/// Seventy limits, as many as the reference data hold.
fn limits() -> Vec<Limit> {
    (0..70)
        .map(|at| Limit {
            key: format!("limit {at}").into(),
            regime: "cosmetic".into(),
            authority: "EU law".into(),
            subject: Subject::Substance(format!("substance {at}").into()),
            name: format!("substance {at}").into(),
            exposure: None,
            site: None,
            purpose: Purpose::Any,
            under_months: None,
            bound: Bound::Maximum(Fraction::new(dec("0.0005")).unwrap()),
            basis: LimitBasis::AsIs,
            group: None,
            source: source(),
            date: "2026-01-01".into(),
        })
        .collect()
}

fn allergens() -> Vec<Allergen> {
    (0..80)
        .map(|at| Allergen {
            subject: Subject::Substance(format!("substance {at}").into()),
            label_name: format!("Substance {at}").into(),
            leave_on_above: Fraction::new(dec("0.00001")).unwrap(),
            rinse_off_above: Fraction::new(dec("0.0001")).unwrap(),
            source: source(),
        })
        .collect()
}

fn rule_sets() -> Vec<RuleSet> {
    (0..4)
        .map(|at| RuleSet {
            key: format!("set {at}").into(),
            name: format!("rule set {at}").into(),
            in_force_from: None,
            in_force_until: None,
            scope: Scope::default(),
            counting: DayCounting::AfterMaking,
            rules: (0..4)
                .map(|days| DatingRule {
                    key: format!("rule {days}").into(),
                    when: Conditions { watery: Some(days % 2 == 1), ..Conditions::default() },
                    period: Period::Days(30 + days),
                    storage: Vec::new(),
                    source: source(),
                })
                .collect(),
        })
        .collect()
}

fn whole(criterion: &mut Criterion) {
    let formula = cream();
    let (profiles, limits, allergens, sets) = (profiles(), limits(), allergens(), rule_sets());
    let of = Use {
        regime: "cosmetic".into(),
        exposure: Exposure::LeaveOn,
        site: None,
        youngest_months: None,
        preservatives: Vec::new(),
    };
    let made_on = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap();
    let facts = DatingFacts {
        made_on,
        regime: "cosmetic".into(),
        preparation: Preparation::Cream,
        route: RouteClass::Skin,
        liquid: false,
        water: WaterActivity::NotKnown,
        preserved: false,
        alcohol: None,
        sugar: None,
        holds: Vec::new(),
        kept: true,
        storage: Storage::Refrigerator,
        parts: (0..25)
            .map(|_| DatedPart {
                name: "lot".into(),
                expiry: Expiry::Month { year: 2027, month: 3 },
                watery: false,
            })
            .collect(),
        opened: None,
        stability_evidence: None,
        switched_off: Vec::new(),
    };
    criterion.bench_function("evaluate_with_limits_allergens_alcohol_and_use_by", |bench| {
        bench.iter(|| {
            let evaluation = evaluate(black_box(&formula)).unwrap();
            let report = check_limits(&evaluation.composition, &profiles, &limits, &of);
            let labels = declare_allergens(&evaluation.composition, &profiles, &allergens, Exposure::LeaveOn);
            let alcohol = alcohol_content(&evaluation);
            let date = use_by(&facts, &sets).unwrap();
            (evaluation, report, labels, alcohol, date)
        });
    });
}

fn alcohol(criterion: &mut Criterion) {
    criterion
        .bench_function("abv_to_abw_at_20_c", |bench| bench.iter(|| by_mass(black_box(0.4), 20.0).unwrap()));
    criterion
        .bench_function("abv_to_abw_at_15_c", |bench| bench.iter(|| by_mass(black_box(0.4), 15.0).unwrap()));
    criterion
        .bench_function("alcohol_density", |bench| bench.iter(|| density(black_box(0.4), 15.0).unwrap()));
}

fn parsing(criterion: &mut Criterion) {
    criterion.bench_function("parse_an_amount", |bench| {
        bench.iter(|| Amount::parse(black_box("4 oz av. 179 gr")).unwrap());
    });
}

criterion_group!(calculations, evaluation, kept, whole, alcohol, parsing);
criterion_main!(calculations);
