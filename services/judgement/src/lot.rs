//! What stands on a lot: until when it is good, and what it cost.

use chrono::{Datelike, NaiveDate};
use galenics::cost::Price;
use galenics::use_by::Expiry;
use galenics::{Customary, Decimal, Measure, Quantity, number};
use materia::Materia;

/// The longest price that is read.
const LONGEST: usize = 100;
/// The most that a price may be, and the least g or mL that it may be for: no lot comes near, and no cost leaves the
/// range of a decimal.
const MOST: Decimal = Decimal::from_parts(1_000_000_000, 0, 0, false, 0);
const LEAST: Decimal = Decimal::from_parts(1, 0, 0, false, 3);

/// A gram in micrograms: no lot holds more of anything.
const ALL_OF_IT: Decimal = Decimal::from_parts(1_000_000, 0, 0, false, 0);

/// A day like `2026-08-31`, or a month like `2026-08`, which ends with its last day.
///
/// # Errors
/// The cure, in words.
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
    found.ok_or("write a day like 2026-08-31 or a month like 2026-08")
}

/// A price like `12.50 per 100 g`, in a currency.
///
/// # Errors
/// The cure, in words.
pub fn price(text: &str, currency: &str, customary: Customary) -> Result<Price, String> {
    let typed = text.trim();
    let cure = || format!("write a price in {currency} and for how much it is, like 12.50 per 100 g");
    if typed.chars().count() > LONGEST {
        return Err(cure());
    }
    let (amount, per) = typed.split_once(" per ").ok_or_else(cure)?;
    let amount = number::parse(amount).map_err(|error| format!("{error}; {}", cure()))?;
    // "30 per kg" is for one of it.
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
        return Err(format!("at most {MOST} for 1 mg or more, or 0.001 mL or more; {}", cure()));
    }
    Ok(Price { amount, currency: currency.to_owned().into(), per })
}

/// How much of a substance a lot was found to hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Assay {
    /// The substance's key in the reference data.
    pub substance: String,
    /// In ug for each g of the lot.
    pub micrograms_per_gram: Decimal,
}

/// An assay like `0.5 ug/g pyrrolizidine alkaloids`.
///
/// # Errors
/// The cure, in words.
pub fn assay(reference: &Materia, text: &str) -> Result<Assay, String> {
    let cure = || "write what was found and of what, like 0.5 ug/g pyrrolizidine alkaloids".to_owned();
    let mut words = text.trim().splitn(3, ' ').map(str::trim);
    let (Some(amount), Some("ug/g" | "mg/kg"), Some(name)) = (words.next(), words.next(), words.next())
    else {
        return Err(cure());
    };
    let amount = number::parse(amount).map_err(|error| format!("{error}; {}", cure()))?;
    if text.chars().count() > LONGEST || amount < Decimal::ZERO || amount > ALL_OF_IT {
        return Err(cure());
    }
    let key = name.to_lowercase().replace(' ', "-");
    let called = |it: &&materia::Substance| it.key == key || it.name.eq_ignore_ascii_case(name);
    let substance = reference.substances.iter().find(called).ok_or_else(|| {
        format!("{name:?} is no substance that a limit is about; one such is pyrrolizidine alkaloids")
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
