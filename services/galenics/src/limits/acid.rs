//! A preservative salt as the acid that it gives.

use rust_decimal::Decimal;

use crate::{Figure, Input, Refusal, Rule, Source, Status, number::divide, units};

static AS_ACID: Rule = Rule::new(
    "as_acid",
    "{acids} of acid at {acid} from a salt of {salt}: {=} from each g",
    Source::fixed("ratio of molar masses", Status::Definition),
);

/// The acid in g that one g of a salt gives, from the molar masses in g/mol and the acids in one of the salt.
///
/// # Errors
/// Refuses molar masses outside 1 to 10000 g/mol and a salt that gives more acid than it could hold.
/// ```
/// use galenics::{limits::as_acid, number::dec};
/// // Potassium sorbate as sorbic acid.
/// let factor = as_acid(dec("112.128"), dec("150.218"), 1)?;
/// assert_eq!(factor.to_string(), "0.7464 g/g");
/// # Ok::<(), galenics::Refusal>(())
/// ```
pub fn as_acid(acid: Decimal, salt: Decimal, acids: u8) -> Result<Figure, Refusal> {
    let range = Decimal::ONE..=Decimal::from(10_000);
    for (field, value) in [("acid", acid), ("salt", salt)] {
        if !range.contains(&value) {
            return Err(Refusal::out_of_range(field, "The molar mass must be 1 to 10000 g/mol."));
        }
    }
    let acids = Decimal::from(acids);
    let value = divide(acid * acids, salt).ok_or(Refusal::too_large("salt"))?;
    // Free acid is heavier than its anion by one hydrogen, a salt at least by one lithium.
    if value > Decimal::ONE || value.is_zero() {
        return Err(Refusal::impossible(
            "salt",
            "The salt must weigh more than its acid. Check the two molar masses.",
        ));
    }
    let inputs = vec![
        Input::number("acid", acid, "g/mol"),
        Input::number("salt", salt, "g/mol"),
        Input::number("acids", acids, units::RATIO),
    ];
    Ok(Figure::number(value, units::GRAM_PER_GRAM, &AS_ACID, inputs))
}
