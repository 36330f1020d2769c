//! Maceration once or several times: what the marc holds back, what is pressed out, and how much of the herb
//! comes with it when it is evenly spread through the liquid each time.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{Figure, Input, Mass, Refusal, Rule, Source, Status, Volume, number::divide, units};

static RETAINED: Rule = Rule::definition("marc_retention", "held back by {herb} of herb at {each}: {=}");
static PRESSED: Rule = Rule::definition("pressed_out", "pressed out of {liquid} of liquid: {=}");
static TOTAL: Rule = Rule::definition("pressed_together", "total pressed out: {=}");
static RECOVERED: Rule = Rule::new(
    "herb_recovered",
    "share of the herb extracted, spread evenly through the liquid each time: {=}",
    Source::fixed("even distribution between the pressed liquid and the marc", Status::CommonPractice),
);
static YIELD: Rule = Rule::definition("press_yield", "{pressed} pressed of {menstruum} added: {=}");

/// A maceration in one or more turns.
#[derive(Debug, Clone, Serialize)]
pub struct Maceration {
    /// What the marc holds back after each pressing, in g.
    pub retained: Figure,
    /// What is pressed out in each turn, in g.
    pub pressed: Vec<Figure>,
    /// What is pressed out altogether, in g.
    pub total: Figure,
    /// The share of the herb that comes with it, at most one.
    pub recovered: Figure,
}

/// Works out a maceration in turns. `retained_each` is how many g of liquid one g of herb holds back after
/// pressing, from the clinic's own record of the herb.
///
/// # Errors
/// Refuses no turns, more than twenty, a herb of nothing, and a first turn that the marc would drink up, with
/// the menstruum that would be needed.
/// ```
/// use galenics::{Mass, extraction::macerate, number::dec};
/// let grams = |value| Mass::grams(dec(value)).expect("a mass");
/// // 100 g of herb hold back 150 g. Two turns of 250 g take up more than one of 500 g.
/// let once = macerate(grams("100"), dec("1.5"), &[grams("500")])?;
/// let twice = macerate(grams("100"), dec("1.5"), &[grams("250"), grams("250")])?;
/// assert_eq!((once.recovered.to_string(), twice.recovered.to_string()), ("70 %".into(), "77.5 %".into()));
/// # Ok::<(), galenics::Refusal>(())
/// ```
pub fn macerate(herb: Mass, retained_each: Decimal, turns: &[Mass]) -> Result<Maceration, Refusal> {
    let turns: Vec<Decimal> = turns.iter().map(|turn| turn.g()).collect();
    macerate_in(herb, retained_each, &turns, units::GRAM)
}

/// The same by volume: the turns in mL, and how many mL one g of herb holds back.
///
/// # Errors
/// As [`macerate`].
pub fn macerate_by_volume(
    herb: Mass,
    retained_each: Decimal,
    turns: &[Volume],
) -> Result<Maceration, Refusal> {
    let turns: Vec<Decimal> = turns.iter().map(|turn| turn.ml()).collect();
    macerate_in(herb, retained_each, &turns, units::MILLILITRE)
}

fn macerate_in(
    herb: Mass,
    retained_each: Decimal,
    turns: &[Decimal],
    unit: &'static str,
) -> Result<Maceration, Refusal> {
    if herb.g().is_zero() {
        return Err(Refusal::out_of_range("herb", "Enter a herb amount above 0 g."));
    }
    if retained_each < Decimal::ZERO || retained_each > Decimal::from(20) {
        return Err(Refusal::out_of_range(
            "retained",
            "Each g of marc holds back 0 to 20 g of liquid; most herbs hold 0.5 to 2.",
        ));
    }
    if turns.is_empty() || turns.len() > 20 {
        return Err(Refusal::out_of_range("turns", "Enter 1 to 20 turns, each with its menstruum."));
    }
    let too_large = || Refusal::too_large("turns");
    let retained = herb.g().checked_mul(retained_each).ok_or_else(too_large)?;
    let (mut held, mut left, mut total) = (Decimal::ZERO, Decimal::ONE, Decimal::ZERO);
    let mut pressed = Vec::with_capacity(turns.len());
    for (turn, menstruum) in turns.iter().enumerate() {
        let liquid = held.checked_add(*menstruum).ok_or_else(too_large)?;
        if liquid <= retained {
            return Err(Refusal::impossible(
                "turns",
                format!(
                    "The marc holds back {} {unit}. Turn {} needs more menstruum than that.",
                    retained.normalize(),
                    turn + 1
                ),
            ));
        }
        let out = liquid - retained;
        left = left.checked_mul(divide(retained, liquid).ok_or_else(too_large)?).ok_or_else(too_large)?;
        held = retained;
        total = total.checked_add(out).ok_or_else(too_large)?;
        pressed.push(Figure::number(
            out,
            unit,
            &PRESSED,
            vec![Input::number("liquid", liquid, unit), Input::number("retained", retained, unit)],
        ));
    }
    let inputs = vec![
        Input::number("herb", herb.g(), units::GRAM),
        Input::number(
            "each",
            retained_each,
            if unit == units::GRAM { units::GRAM_PER_GRAM } else { units::ML_PER_GRAM },
        ),
    ];
    let turns = pressed.iter().map(|figure| Input::figure("turn", figure)).collect();
    Ok(Maceration {
        retained: Figure::number(retained, unit, &RETAINED, inputs),
        total: Figure::number(total, unit, &TOTAL, turns),
        recovered: Figure::number(Decimal::ONE - left, units::SHARE, &RECOVERED, Vec::new()),
        pressed,
    })
}

/// What was pressed out as a share of the menstruum put on.
///
/// # Errors
/// Refuses a menstruum of nothing.
pub fn press_yield(menstruum: Mass, pressed: Mass) -> Result<Figure, Refusal> {
    press_yield_in(menstruum.g(), pressed.g(), units::GRAM)
}

/// The same by volume.
///
/// # Errors
/// As [`press_yield`].
pub fn press_yield_by_volume(menstruum: Volume, pressed: Volume) -> Result<Figure, Refusal> {
    press_yield_in(menstruum.ml(), pressed.ml(), units::MILLILITRE)
}

fn press_yield_in(menstruum: Decimal, pressed: Decimal, unit: &'static str) -> Result<Figure, Refusal> {
    let value =
        divide(pressed, menstruum).ok_or(Refusal::out_of_range("menstruum", "Enter a menstruum above 0."))?;
    let inputs = vec![Input::number("pressed", pressed, unit), Input::number("menstruum", menstruum, unit)];
    Ok(Figure::number(value, units::SHARE, &YIELD, inputs))
}
