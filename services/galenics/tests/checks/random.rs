//! Formulas of every sort from random numbers: nested, made up, in shares and parts, by volume and in drops,
//! with and without densities, strained and whole, fresh and dried.

use std::sync::Arc;

use galenics::{
    Amount, ExtractBasis, Fate, Formula, Fraction, Function, HerbState, Ingredient, Line, MaterialFacts,
    MaterialKind, Phase, Preparation, Source, Sourced, Status, Yield,
};

use crate::support::{dec, density, material, nested};

/// Numbers that are drawn one after the other; zeros when they are used up.
struct Draw<'a>(std::slice::Iter<'a, u16>);

impl Draw<'_> {
    fn below(&mut self, most: u16) -> u16 {
        self.0.next().copied().unwrap_or_default() % most
    }

    fn chance(&mut self, in_ten: u16) -> bool {
        self.below(10) < in_ten
    }

    fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[usize::from(self.below(u16::try_from(of.len()).unwrap()))]
    }
}

/// A formula, up to three deep.
pub(crate) fn formula_from(entropy: &[u16]) -> Formula {
    formula(&mut Draw(entropy.iter()), 3, "f")
}

fn entered<T>(value: T) -> Sourced<T> {
    Sourced::new(value, Source::fixed("made up for the property", Status::Entered))
}

fn facts(draw: &mut Draw<'_>) -> MaterialFacts {
    let number = draw.below(12);
    let herb = number < 3;
    let kind = if herb { MaterialKind::Herb } else { MaterialKind::ALL[usize::from(number) * 2 + 1] };
    let mut facts = material(&format!("material {number}"), kind);
    let share = |value: &str| entered(Fraction::percent(dec(value)).unwrap());
    if draw.chance(8) {
        facts.density = Some(density(&format!("0.{}", 71 + number), "20", "made up for the property"));
    }
    if draw.chance(6) {
        facts.drops_per_ml = Some(entered(dec("23")));
    }
    if kind == MaterialKind::Herb {
        facts.herb = draw.below(4).checked_sub(1).map(|state| match state {
            0 => HerbState::Dried,
            1 => HerbState::Fresh { water: None, dried_water: Some(share("10")) },
            _ => HerbState::Fresh { water: Some(share("78.5")), dried_water: Some(share("9.7")) },
        });
    }
    if kind == MaterialKind::Ethanol {
        facts.ethanol_by_volume = Some(share("43.1"));
    }
    facts
}

fn amount(draw: &mut Draw<'_>, style: u16) -> String {
    let number = format!("{}.{}", 1 + draw.below(90), draw.below(1000));
    match style {
        0 => format!(
            "{number} {}",
            draw.one(&["g", "g", "g", "oz", "mL", "US fl oz", "drops", "gr", "US tsp"])
        ),
        1 => format!("{} parts", 1 + draw.below(9)),
        2 => format!("{} %", 1 + draw.below(9)),
        _ => match draw.below(6) {
            0 => format!("{} %", 1 + draw.below(7)),
            1 => format!("{} % w/v", 1 + draw.below(7)),
            2 => format!("{} % v/v", 1 + draw.below(7)),
            3 => format!("1:{}", 20 + draw.below(90)),
            _ => format!("{number} g"),
        },
    }
}

fn formula(draw: &mut Draw<'_>, depth: u16, id: &str) -> Formula {
    let style = draw.below(4);
    let preparation = draw.one(Preparation::ALL);
    let mut out = Formula::new(id.to_owned(), format!("formula {id}"), preparation);
    for phase in 0..=draw.below(2) {
        let mut lines = Vec::new();
        for at in 0..=draw.below(5) {
            let amount = amount(draw, style);
            let mut line = if depth > 0 && draw.chance(3) {
                nested(&Arc::new(formula(draw, depth - 1, &format!("{id}.{phase}{at}"))), &amount)
            } else {
                of(facts(draw), &amount)
            };
            if draw.chance(2) {
                line.function = Some(draw.one(Function::ALL));
            }
            if draw.chance(1) {
                line.fate = Some(draw.one(Fate::ALL));
            }
            lines.push(line);
        }
        out.phases.push(Phase { name: format!("phase {phase}").into(), lines });
    }
    if style >= 2 || draw.chance(1) {
        let filler = draw.one(&["q.s. 2000 g", "q.s. 2 L", "q.s. 70 US fl oz", "q.s."]);
        out.phases[0].lines.push(of(facts(draw), filler));
    }
    if draw.chance(4) {
        let yields = draw.one(&["19 g", "about 8 g", "20 mL", "4 oz"]);
        out.yields = Some(Yield::parse(yields).unwrap());
    }
    if draw.chance(2) {
        out.density = Some(density("0.953", "25", "measured for the property"));
    }
    out.extract_basis = draw.one(ExtractBasis::ALL);
    out
}

fn of(facts: MaterialFacts, amount: &str) -> Line {
    Line::new(Ingredient::Material(Arc::new(facts)), Amount::parse(amount).unwrap())
}
