//! One line of a recipe: scaled, rounded to the balance, and in the unit in which the formula has it.

use rust_decimal::Decimal;

use super::worked::WorkedLine;
use crate::{
    Balance, Figure, Input, Line, LineFigures, Rule, Text, evaluation::MakeUp, number::significant, units,
};

static EXACT: Rule = Rule::definition("line_scaled", "{mass} in the formula × the factor {factor} = {=}");
static WEIGH: Rule =
    Rule::definition("line_to_balance", "{exact}, rounded to the balance step of {step}: {shown}");
static TOO_SMALL: Rule =
    Rule::definition("line_too_small", "{=} is too little for a balance with a step of {step}");
static ERROR: Rule = Rule::definition("rounding_error", "rounded {way} by {size}");
static NO_ERROR: Rule = Rule::definition("rounding_none", "no rounding");
static MAKE_UP: Rule = Rule::definition("line_make_up", "make up to {=}");

/// Works a line out, which makes up `to` so much if it is the q.s. line; `None` beyond the range of a decimal.
pub(super) fn work_line(
    line: &Line,
    figures: &LineFigures,
    to: Option<&MakeUp>,
    factor: Decimal,
    balance: &Balance,
) -> Option<WorkedLine> {
    let times = |value: Decimal, unit: &'static str| {
        let scaled = value.checked_mul(factor)?;
        let inputs = vec![Input::number("mass", value, unit), Input::number("factor", factor, units::RATIO)];
        Some(Figure::number(scaled, unit, &EXACT, inputs))
    };
    let (exact, weigh, error, too_small, over_capacity) = match figures.mass.known() {
        Ok(mass) => {
            let exact = times(mass, units::GRAM)?;
            let grams = exact.value()?;
            let rounded = balance.round(grams)?;
            let asked = Input::figure("exact", &exact);
            let step = Input::number("step", balance.readability().g(), units::GRAM);
            // What the balance cannot show is not rounded to what it shows: the nearest step may be nothing, or twice.
            let (grams_to_weigh, rule) =
                if rounded.too_small { (significant(grams, 4), &TOO_SMALL) } else { (rounded.weigh, &WEIGH) };
            let shown = Input::words("shown", format!("{} g", balance.shows(grams_to_weigh)));
            let weigh = Figure::number(grams_to_weigh, units::GRAM, rule, vec![asked, step, shown]);
            let error = rounding(grams_to_weigh.checked_sub(grams)?);
            (exact, weigh, error, rounded.too_small, rounded.over_capacity)
        }
        Err(unknown) => {
            let missing = |rule| Figure::unknown_for(unknown.clone(), units::GRAM, rule, Vec::new());
            (missing(&EXACT), missing(&WEIGH), missing(&ERROR), false, false)
        }
    };
    let volume = match &figures.volume {
        Some(volume) => match volume.value() {
            Some(value) => Some(times(value, units::MILLILITRE)?),
            None => Some(volume.clone()),
        },
        None => None,
    };
    Some(WorkedLine {
        name: figures.name.clone(),
        written: figures.written.amount(line),
        in_written_unit: match figures.written.number(line) {
            Some((number, unit)) => Some(times(number, unit)?),
            None => None,
        },
        exact,
        weigh,
        error,
        volume,
        make_up: to.and_then(|to| make_up(figures.written.amount(line), to, factor)),
        too_small,
        over_capacity,
    })
}

/// What rounding to the balance adds, in g.
fn rounding(off: Decimal) -> Figure {
    if off.is_zero() {
        return Figure::number(off, units::GRAM, &NO_ERROR, Vec::new());
    }
    let way = if off.is_sign_negative() { "down" } else { "up" };
    let inputs = vec![Input::words("way", way), Input::number("size", off.abs(), units::GRAM)];
    Figure::number(off, units::GRAM, &ERROR, inputs)
}

fn make_up(amount: Text, to: &MakeUp, factor: Decimal) -> Option<Figure> {
    let inputs = vec![Input::words("written", amount), Input::number("factor", factor, units::RATIO)];
    Some(Figure::number(to.value.checked_mul(factor)?, to.unit, &MAKE_UP, inputs))
}
