//! Details of a lot as people write them: expiry, price and assay.

use chrono::{Datelike, NaiveDate};
use galenics::cost::Price;
use galenics::use_by::Expiry;
use galenics::{Customary, Decimal, Measure, Quantity, number};
use materia::Materia;

/// The longest price or assay that is read, in characters.
const LONGEST: usize = 100;
/// The highest accepted price, in the currency. With `LEAST` it keeps every cost within the range of a decimal.
const MOST: Decimal = Decimal::from_parts(1_000_000_000, 0, 0, false, 0);
/// The smallest quantity that a price may be for, in g or mL.
const LEAST: Decimal = Decimal::from_parts(1, 0, 0, false, 3);

/// The highest possible assay, in µg/g: one gram in each gram.
const ALL_OF_IT: Decimal = Decimal::from_parts(1_000_000, 0, 0, false, 0);

/// Parses a day such as `2026-08-31`, or a month such as `2026-08`, which lasts until its last day.
///
/// # Errors
/// Returns a sentence for the user that shows the notation, if `text` is neither.
pub fn expiry(text: &str) -> Result<Expiry, &'static str> {
    let typed = text.trim();
    let as_written =
        |(at, byte): (usize, u8)| if matches!(at, 4 | 7) { byte == b'-' } else { byte.is_ascii_digit() };
    let day =
        |text: &str| text.parse::<NaiveDate>().ok().filter(|_| text.bytes().enumerate().all(as_written));
    let found = match typed.len() {
        10 => day(typed).map(Expiry::Day),
        7 => day(&format!("{typed}-01"))
            .map(|first| Expiry::Month { year: first.year(), month: first.month() }),
        _ => None,
    };
    found.ok_or("Enter a day such as 2026-08-31, or a month such as 2026-08.")
}

/// Parses a price such as `12.50 per 100 g`, in the currency `currency`. `per kg` means `per 1 kg`.
///
/// # Errors
/// Returns a sentence for the user, if the notation is different, the quantity is given in drops, or a value is out of
/// range.
pub fn price(text: &str, currency: &str, customary: Customary) -> Result<Price, String> {
    let typed = text.trim();
    let cure = || format!("Enter the price in {currency} and its quantity, such as 12.50 per 100 g.");
    if typed.chars().count() > LONGEST {
        return Err(cure());
    }
    let (amount, per) = typed.split_once(" per ").ok_or_else(cure)?;
    let amount =
        number::parse(amount).map_err(|error| format!("The price in {currency} is not valid. {error}"))?;
    // "30 per kg" means "30 per 1 kg".
    let per = match Quantity::parse_with(per, customary) {
        Err(error) if per.trim_start().starts_with(|c: char| c.is_ascii_digit()) => Err(error),
        Err(error) => Quantity::parse_with(&format!("1 {}", per.trim()), customary).map_err(|_| error),
        found => found,
    };
    let per = per.map_err(|error| error.to_string())?;
    let of = match per.measure() {
        Measure::Mass(mass) => mass.g(),
        Measure::Volume(volume) => volume.ml(),
        Measure::Drops { .. } => return Err(cure()),
    };
    if amount > MOST || of < LEAST {
        return Err(format!(
            "The price may be at most {MOST} {currency}, for at least 1 mg or 0.001 mL. Enter, for example, 12.50 per 100 g."
        ));
    }
    Ok(Price { amount, currency: currency.to_owned().into(), per })
}

/// The measured content of a substance in a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Assay {
    /// The substance's key in the reference data.
    pub substance: String,
    /// Content in µg for each g of the lot.
    pub micrograms_per_gram: Decimal,
}

/// Parses an assay such as `0.5 ug/g pyrrolizidine alkaloids`; `mg/kg` is accepted too.
///
/// # Errors
/// Returns a sentence for the user, if the notation is different, the content is out of range, or the reference data
/// have no such substance.
pub fn assay(reference: &Materia, text: &str) -> Result<Assay, String> {
    let cure = || "Enter the content and the substance, such as 0.5 ug/g pyrrolizidine alkaloids.".to_owned();
    let mut words = text.trim().splitn(3, ' ').map(str::trim);
    let (Some(amount), Some("ug/g" | "mg/kg"), Some(name)) = (words.next(), words.next(), words.next())
    else {
        return Err(cure());
    };
    let amount = number::parse(amount).map_err(|error| format!("The content is not valid. {error}"))?;
    if text.chars().count() > LONGEST || amount < Decimal::ZERO || amount > ALL_OF_IT {
        return Err(cure());
    }
    let key = name.to_lowercase().replace(' ', "-");
    let called = |it: &&materia::Substance| it.key == key || it.name.eq_ignore_ascii_case(name);
    let substance = reference.substances.iter().find(called).ok_or_else(|| {
        format!("No limit restricts {name:?}. Enter a restricted substance, such as pyrrolizidine alkaloids.")
    })?;
    Ok(Assay { substance: substance.key.clone(), micrograms_per_gram: amount })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_month_ends_with_its_last_day() {
        let last = |text| expiry(text).ok().and_then(Expiry::last_day).map(|day| day.to_string());
        assert_eq!(last("2028-02").as_deref(), Some("2028-02-29"));
        assert_eq!(last(" 2027-03-31 ").as_deref(), Some("2027-03-31"));
        for wrong in ["", "2027", "2027-13", "2027-02-29", "03/2027", "2027-3-31", "+2027-1", "next year"] {
            assert!(expiry(wrong).is_err(), "{wrong:?}");
        }
    }

    #[test]
    fn a_price_is_for_a_mass_or_a_volume() {
        let read = |text: &str| price(text, "EUR", Customary::Us);
        assert_eq!(read("12.50 per 100 g").unwrap().amount, Decimal::new(1250, 2));
        assert_eq!(read("8 per 1 L").unwrap().per.typed().as_str(), "1 L");
        assert_eq!(read("30 per kg").unwrap().per, Quantity::parse("1 kg").unwrap());
        for wrong in [
            "12.50",
            "12.50 per",
            "EUR 12 per 1 kg",
            "-1 per 1 kg",
            "3 per 20 drops",
            "3 per jar",
            "3 per 1 ug",
            "1000000001 per 1 kg",
        ] {
            assert!(read(wrong).is_err(), "{wrong:?}");
        }
        assert!(read("12,50").unwrap_err().contains("EUR"));
    }
}
