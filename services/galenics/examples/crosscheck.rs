//! Answers questions in JSON lines, so that general scientific libraries can be held against the calculations
//! (`tests/reference/crosscheck.py`).
//!
//! ```text
//! {"op":"units"}                                      every unit with its dimension
//! {"op":"convert","value":"2.5 US cups","to":"mL"}    a quantity in another unit
//! {"op":"density","by_mass":0.4,"celsius":20}         ethanol and water, kg/m3
//! {"op":"by_mass","by_volume":0.4,"celsius":20}       strength
//! {"op":"formula","lines":[[96,500],[0,500]]}         spirits by % vol and mL as lines of a formula: g and mL
//! {"op":"as_acid","acid":"122.123","salt":"144.105"}  g of acid from one g of salt
//! {"op":"alkalis"}                                    molar masses of the alkalis
//! {"op":"kappa","levels":3,"pairs":[[0,1],[2,2]]}     weighted kappa of levels counted from 0: value, low, high
//! {"op":"control","values":["0.4","-0.2"]}           limits of a control chart: mean, lower, upper, mean range, its limit
//! {"op":"time","what":"by_mass","times":100000}       seconds for so many repetitions
//! ```
//! Each question gets one line back: `{"value": ...}` or `{"refused": "..."}`.

use std::{
    error::Error,
    hint::black_box,
    io::{BufRead, Write, stdin, stdout},
    sync::Arc,
    time::Instant,
};

use galenics::{
    Amount, Decimal, Density, Figure, Formula, Fraction, Ingredient, Line, MaterialFacts, MaterialKind,
    Measure, Preparation, Quantity, Source, Sourced, Status, Temperature, Unit, agreement::Kappa, alcohol,
    control::Limits, emulsion::Alkali, evaluate, limits::as_acid,
};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn Error>> {
    let mut out = stdout().lock();
    for line in stdin().lock().lines() {
        let answer = match answer(&serde_json::from_str(&line?)?) {
            Ok(value) => json!({ "value": value }),
            Err(refused) => json!({ "refused": refused.to_string() }),
        };
        writeln!(out, "{answer}")?;
        out.flush()?;
    }
    Ok(())
}

fn answer(question: &Value) -> Result<Value, Box<dyn Error>> {
    let text = |field: &str| question[field].as_str().ok_or_else(|| format!("{field} is missing"));
    let number = |field: &str| question[field].as_f64().ok_or_else(|| format!("{field} is missing"));
    Ok(match text("op")? {
        "units" => Unit::ALL
            .iter()
            .map(|unit| json!({ "symbol": unit.symbol(), "name": unit.name(), "dimension": format!("{:?}", unit.dimension()) }))
            .collect(),
        "convert" => json!(convert(text("value")?, text("to")?)?.to_string()),
        "density" => json!(alcohol::density(number("by_mass")?, number("celsius")?)?),
        "by_mass" => json!(alcohol::by_mass(number("by_volume")?, number("celsius")?)?),
        "formula" => json!(formula(question["lines"].as_array().ok_or("lines is missing")?)?),
        "as_acid" => json!(as_acid(text("acid")?.parse()?, text("salt")?.parse()?, 1)?.value().map(|v| v.to_string())),
        "alkalis" => Alkali::ALL
            .iter()
            .map(|alkali| json!({ "name": alkali.as_str(), "molar_mass": alkali.equivalents().0.to_string() }))
            .collect(),
        "kappa" => json!(kappa(question)?),
        "control" => json!(control(question)?),
        "time" => json!(time(text("what")?, question["times"].as_u64().unwrap_or(1))?),
        other => return Err(format!("unknown question {other}").into()),
    })
}

/// Weighted kappa and the ends of its interval.
fn kappa(question: &Value) -> Result<[String; 3], Box<dyn Error>> {
    let levels: usize = serde_json::from_value(question["levels"].clone())?;
    let pairs: Vec<(usize, usize)> = serde_json::from_value(question["pairs"].clone())?;
    let kappa = Kappa::of(levels, &pairs)?;
    Ok([kappa.value, kappa.low, kappa.high].map(|number| number.to_string()))
}

/// The lines of a control chart.
fn control(question: &Value) -> Result<[String; 5], Box<dyn Error>> {
    let values: Vec<String> = serde_json::from_value(question["values"].clone())?;
    let values = values.iter().map(|value| value.parse()).collect::<Result<Vec<Decimal>, _>>()?;
    let limits = Limits::of(&values)?;
    Ok([limits.mean, limits.lower, limits.upper, limits.mean_range, limits.range_upper]
        .map(|it| it.to_string()))
}

/// What lines of spirit come to, each as its strength by volume in per cent and its mL: mass in g and volume in mL.
fn formula(lines: &[Value]) -> Result<(f64, f64), Box<dyn Error>> {
    let mut charges = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let (percent, ml) = (&line[0], &line[1]);
        let strength = percent.as_f64().ok_or("a strength is missing")? / 100.0;
        let rho = alcohol::density(alcohol::by_mass(strength, 20.0)?, 20.0)? / 1000.0;
        let source = || Source::fixed("OIML R 22", Status::Verified);
        let density = Density::new(format!("{rho:.12}").parse()?, Temperature::TWENTY)?;
        let mut facts = MaterialFacts::new(format!("{at}"), format!("{percent} %"), MaterialKind::Ethanol)
            .with_density(Sourced::new(density, source()));
        facts.ethanol_by_volume =
            Some(Sourced::new(Fraction::percent(percent.to_string().parse()?)?, source()));
        charges.push(Line::new(Ingredient::Material(Arc::new(facts)), Amount::parse(&format!("{ml} mL"))?));
    }
    let formula = Formula::new("mixture", "mixture", Preparation::Liniment).with_phase("all", charges);
    let made = evaluate(&formula).map_err(|problems| format!("{problems:?}"))?;
    let known = |figure: &Figure| figure.value().and_then(|value| value.to_string().parse().ok());
    known(&made.product).zip(known(&made.volume)).ok_or_else(|| "it is not known".into())
}

fn convert(value: &str, to: &str) -> Result<Decimal, Box<dyn Error>> {
    let base = match Quantity::parse(value)?.measure() {
        Measure::Mass(mass) => mass.g(),
        Measure::Volume(volume) => volume.ml(),
        Measure::Drops { .. } => return Err("drops have no factor".into()),
    };
    let unit = Unit::ALL.iter().find(|unit| unit.symbol() == to).ok_or("unknown unit")?;
    Ok(unit.factor().from_base(base).ok_or("out of range")?)
}

fn time(what: &str, times: u64) -> Result<f64, Box<dyn Error>> {
    let start = Instant::now();
    for _ in 0..times {
        match what {
            "by_mass" => {
                black_box(alcohol::by_mass(black_box(0.4), 15.0)?);
            }
            "convert" => {
                black_box(convert(black_box("2.5 US cups"), "mL")?);
            }
            other => return Err(format!("nothing to time called {other}").into()),
        }
    }
    Ok(start.elapsed().as_secs_f64())
}
