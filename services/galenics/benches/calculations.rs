//! How long the calculations take. The aim for the evaluation of a 25-line formula nested three deep is 50
//! microseconds.
#![expect(clippy::unwrap_used, reason = "a benchmark of input that cannot be read must stop")]

use std::{hint::black_box, sync::Arc};

use criterion::{Criterion, criterion_group, criterion_main};
use galenics::{
    Amount, Balance, Density, Formula, Ingredient, Line, Losses, Mass, MaterialFacts, MaterialKind,
    Preparation, Quantity, Source, Sourced, Status, Target, Temperature, Yield, evaluate, number::dec, scale,
};

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
    Line::new(Ingredient::Nested(Arc::new(formula)), Amount::parse(amount).unwrap())
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

fn parsing(criterion: &mut Criterion) {
    criterion.bench_function("parse_an_amount", |bench| {
        bench.iter(|| Amount::parse(black_box("4 oz av. 179 gr")).unwrap());
    });
}

criterion_group!(calculations, evaluation, parsing);
criterion_main!(calculations);
