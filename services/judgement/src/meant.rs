//! Intended site of use and intended age, as people write them.

use galenics::{Customary, Decimal, Measure, Quantity};
use materia::Site;

/// Parses a part of the body that limits distinguish.
///
/// # Errors
/// Returns a sentence for the user that lists the accepted words, if `text` is not one of them.
pub fn site(text: &str) -> Result<Site, String> {
    match text.trim().parse::<Site>() {
        Ok(site) if site != Site::Any => Ok(site),
        Ok(_) | Err(_) => {
            let known: Vec<&str> =
                Site::ALL.iter().filter(|site| **site != Site::Any).map(|site| site.word()).collect();
            Err(format!("Enter one of {}, or omit the field for no particular site.", known.join(", ")))
        }
    }
}

/// The highest age that is accepted, in years.
const MOST_YEARS: u32 = 120;

/// Parses an age such as `12 months` or `3 years` into completed months.
///
/// # Errors
/// Returns a sentence for the user that shows the notation, if `text` is no age or exceeds 120 years.
pub fn months(text: &str) -> Result<u32, &'static str> {
    const CURE: &str = "Enter an age up to 120 years, such as 6 years or 30 months.";
    let (count, unit) = text.trim().split_once(' ').ok_or(CURE)?;
    let count: u32 = count.parse().map_err(|_| CURE)?;
    let months = match unit.trim() {
        "year" | "years" => count.checked_mul(12).ok_or(CURE)?,
        "month" | "months" => count,
        _ => return Err(CURE),
    };
    if months > MOST_YEARS * 12 { Err(CURE) } else { Ok(months) }
}

/// Parses how much is used in a day or at once, as a formula states it: a mass, a volume, spoons or drops. `None` unless
/// `text` is such an amount above zero.
#[must_use]
pub fn amount_used(text: &str, customary: Customary) -> Option<Quantity> {
    let typed = Quantity::parse_with(text, customary).ok()?;
    let above_zero = match typed.measure() {
        Measure::Mass(mass) => mass.g() > Decimal::ZERO,
        Measure::Volume(volume) => volume.ml() > Decimal::ZERO,
        Measure::Drops { count, .. } => count > Decimal::ZERO,
    };
    above_zero.then_some(typed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_of_the_body_is_named_and_any_is_none() {
        assert_eq!(site(" hair "), Ok(Site::Hair));
        for wrong in ["any", "", "elbow", "Hair"] {
            assert!(site(wrong).unwrap_err().contains("body, face, lips, hair"), "{wrong:?}");
        }
    }

    #[test]
    fn an_age_is_years_or_months() {
        assert_eq!(months("12 months"), Ok(12));
        assert_eq!(months(" 1 year "), Ok(12));
        assert_eq!(months("120 years"), Ok(1440));
        for wrong in
            ["", "three years", "3", "3 weeks", "121 years", "-1 years", "1.5 years", "4294967295 years"]
        {
            assert!(months(wrong).is_err(), "{wrong:?}");
        }
    }
}
