//! The yield: more cannot come out than went in, what a press usually gives, and what was stated.

use rust_decimal::Decimal;

use super::{content::Content, weigh::add};
use crate::{
    Figure, Formula, HerbState, Input, Measure, ProblemKind, Rule, Source, Status, Text, Unknown,
    number::{divide, significant},
    units,
};

static AGAINST_YIELD: Rule =
    Rule::definition("mass_made_against_stated", "{yield} stated of {made} calculated: {=}");
static EXPECTED_YIELD: Rule = Rule::new(
    "yield_of_maceration",
    "{menstruum} less {each} held in the marc by each g of {herb} of dried herb: {=}",
    Source::fixed(
        "most herbs keep 0.5 to 2 g of liquid a gram when pressed; 1 g is taken",
        Status::FromMemory,
    ),
);
/// What a gram of dried herb keeps in the marc, in g.
pub(super) const HELD_BACK: Decimal = Decimal::ONE;

impl Content {
    /// A stated yield of a strained preparation that is more than all that stays. A measured one is kept as it was read.
    pub(super) fn yield_above_input(&self, formula: &Formula) -> Option<ProblemKind> {
        let stated = formula.yields.as_ref().filter(|stated| self.strained && !stated.is_measured())?;
        let most = self.kept.as_ref().ok()?;
        let stated = match stated.quantity().measure() {
            Measure::Mass(mass) => mass.g(),
            Measure::Volume(volume) => volume.ml().checked_mul(self.density(formula).value()?)?,
            Measure::Drops { .. } => return None,
        };
        // The tail of a division decides nothing.
        let shown = |value: Decimal| significant(value, 6).normalize();
        (significant(stated, 9) > significant(*most, 9))
            .then(|| ProblemKind::YieldAboveInput { stated: shown(stated), most: shown(*most) })
    }

    /// What is likely to be pressed out, in g: what stays, less what the marc of dried herbs keeps.
    pub(super) fn expected_yield(&self, formula: &Formula) -> Option<Figure> {
        if !self.strained || !formula.preparation.is_pressed() {
            return None;
        }
        let mut dried = Ok(Decimal::ZERO);
        for herb in &self.herbs {
            // Fresh marc gives water off as it keeps some; nothing is recorded of how much.
            if matches!(herb.material.herb, Some(HerbState::Fresh { .. })) {
                return None;
            }
            add(&mut dried, &herb.dried)?;
        }
        let kept = self.kept.clone();
        let value = match (&kept, &dried) {
            (Ok(kept), Ok(dried)) => {
                kept.checked_sub(dried.checked_mul(HELD_BACK)?).filter(|left| *left > Decimal::ZERO)
            }
            _ => return None,
        };
        let inputs = vec![
            Input::number("menstruum", kept.ok()?, units::GRAM),
            Input::number("herb", dried.ok()?, units::GRAM),
            Input::number("each", HELD_BACK, units::GRAM),
        ];
        let value = value.ok_or_else(|| Unknown::of("menstruum beyond the amount that the marc holds"));
        Some(Figure::from_result(value, units::GRAM, &EXPECTED_YIELD, inputs))
    }
}

/// What is made against a stated yield by mass, where nothing is pressed off.
pub(super) fn against_yield(formula: &Formula, product: &Figure, strained: bool) -> Option<Figure> {
    let stated = formula.yields.as_ref().filter(|_| !strained)?;
    let Measure::Mass(mass) = stated.quantity().measure() else { return None };
    let inputs = |made| {
        vec![
            Input::number("made", made, units::GRAM),
            Input::words("yield", Text::from(stated.text().to_owned())),
        ]
    };
    Some(match product.known() {
        Ok(made) => Figure::number(divide(made, mass.g())?, units::SHARE, &AGAINST_YIELD, inputs(made)),
        Err(unknown) => Figure::unknown_for(unknown, units::SHARE, &AGAINST_YIELD, Vec::new()),
    })
}
