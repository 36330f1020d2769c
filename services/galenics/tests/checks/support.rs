//! Reading the published rows, and short ways to build formulas.

use std::{path::PathBuf, sync::Arc};

use galenics::{
    Amount, Balance, Decimal, Density, Evaluation, Formula, FormulaProblem, Ingredient, Line, Mass,
    MaterialFacts, MaterialKind, Preparation, Source, Sourced, Status, Temperature, evaluate, number,
};
use serde::de::DeserializeOwned;

/// A decimal in a test.
pub(crate) fn dec(text: &str) -> Decimal {
    text.parse().unwrap_or_else(|_| panic!("{text} is no decimal"))
}

fn reference(name: &str) -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The rows of a CSV file of published values.
pub(crate) fn rows<T: DeserializeOwned>(name: &str) -> Vec<T> {
    let text = reference(name);
    let rows: Vec<T> = csv::Reader::from_reader(text.as_bytes())
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap_or_else(|e| panic!("{name}: {e}"));
    assert!(!rows.is_empty(), "{name} has no rows");
    rows
}

/// A TOML file of published values.
pub(crate) fn file<T: DeserializeOwned>(name: &str) -> T {
    toml::from_str(&reference(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// Whether two decimals differ by at most so much.
pub(crate) fn near(a: Decimal, b: Decimal, within: &str) -> bool {
    (a - b).abs() <= dec(within)
}

/// A density from a source.
pub(crate) fn density(g_per_ml: &str, celsius: &str, source: &str) -> Sourced<Density> {
    let at = Temperature::celsius(dec(celsius)).unwrap();
    Sourced::new(Density::new(dec(g_per_ml), at).unwrap(), Source::new(source.to_owned(), Status::Verified))
}

/// A material whose id is its name.
pub(crate) fn material(name: &str, kind: MaterialKind) -> MaterialFacts {
    MaterialFacts::new(name.to_owned(), name.to_owned(), kind)
}

/// A line of a material without a density.
pub(crate) fn line(name: &str, kind: MaterialKind, amount: &str) -> Line {
    line_of(material(name, kind), amount)
}

/// A line of a material.
pub(crate) fn line_of(facts: MaterialFacts, amount: &str) -> Line {
    Line::new(Ingredient::Material(Arc::new(facts)), parsed(amount))
}

/// A line of a nested formula.
pub(crate) fn nested(formula: &Arc<Formula>, amount: &str) -> Line {
    Line::new(Ingredient::Nested(Arc::clone(formula).into()), parsed(amount))
}

fn parsed(amount: &str) -> Amount {
    Amount::parse(amount).unwrap_or_else(|error| panic!("{amount}: {error}"))
}

/// A formula of one phase.
pub(crate) fn formula(id: &str, preparation: Preparation, lines: Vec<Line>) -> Formula {
    Formula::new(id.to_owned(), id.to_owned(), preparation).with_phase("all", lines)
}

/// Evaluates what must be sound.
pub(crate) fn evaluated(formula: &Formula) -> Evaluation {
    evaluate(formula).unwrap_or_else(|problems| panic!("{}: {problems:?}", formula.title))
}

/// The problems of what must not be sound, each as its pointer, code and message.
pub(crate) fn refused(formula: &Formula) -> Vec<(String, &'static str, String)> {
    let problems: Vec<FormulaProblem> = evaluate(formula).expect_err("it is refused");
    problems
        .into_iter()
        .map(|problem| (problem.at.pointer(), problem.kind.code(), problem.to_string()))
        .collect()
}

/// A balance that reads in so many grams.
pub(crate) fn balance(readability: &str) -> Balance {
    Balance::reading(Mass::grams(number::parse(readability).unwrap()).unwrap()).unwrap()
}

/// A figure's number as a float.
pub(crate) fn float(figure: &galenics::Figure) -> f64 {
    let value = figure.value().unwrap_or_else(|| panic!("{figure:?} is no number"));
    value.to_string().parse().unwrap()
}
