//! Reading of amounts.

use rust_decimal::Decimal;

use super::{basis::Basis, error::AmountError, herb_ratio, kind::AmountKind};
use crate::{
    TargetPh,
    number::{self, HUNDRED, NumberError},
    quantity::{Measure, Quantity},
    unit::{Customary, Dimension},
};

pub(super) fn read(typed: &str, family: Customary) -> Result<AmountKind, AmountError> {
    if let Some(rest) = after_quantum_satis(typed) {
        return make_up(rest, family);
    }
    if let Some(target) = typed.strip_prefix("ad ").or_else(|| typed.strip_prefix("Ad ")) {
        return Err(AmountError::AdAlone(target.trim().chars().take(40).collect()));
    }
    if let Some(least) = range(typed) {
        return Err(AmountError::Range(least));
    }
    // "1:5 in 45 %" is no per cent.
    if let Some((number, basis)) =
        typed.split_once('%').filter(|_| !typed.contains(':')).or_else(|| in_words(typed))
    {
        return percent(number, basis);
    }
    if typed.contains(':') {
        return match herb_ratio::read(typed)? {
            Some(found) => Ok(AmountKind::HerbRatio(found)),
            None => ratio(typed),
        };
    }
    if let Some(ratio) = one_in(typed)? {
        return Ok(ratio);
    }
    if let Some(parts) = parts(typed)? {
        return Ok(parts);
    }
    if let Some(concentration) = concentration(typed, family)? {
        return Ok(concentration);
    }
    Ok(AmountKind::Quantity(Quantity::parse_with(typed, family)?))
}

/// The number and the basis of a share whose sign is written out, as in "8 per cent w/w".
fn in_words(typed: &str) -> Option<(&str, &str)> {
    const SPELLINGS: [&str; 3] = ["percent", "per cent", "pct"];
    SPELLINGS.iter().find_map(|spelling| {
        let (number, basis) = typed.split_once(spelling)?;
        let apart = basis.is_empty() || basis.starts_with([' ', '(']);
        (apart && number.trim_end().ends_with(|c: char| c.is_ascii_digit())).then_some((number, basis))
    })
}

/// The lesser amount of a range such as "8-10 %"; "1-1/2 cups" is one amount.
fn range(typed: &str) -> Option<String> {
    let is_digit = |c: char| c.is_ascii_digit();
    let (least, most) = ["-", "\u{2013}", " to "].iter().find_map(|dash| typed.split_once(dash))?;
    let (least, most) = (least.trim(), most.trim_start());
    let number = most.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','));
    let plain = least.ends_with(is_digit)
        && least.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ','))
        && most.starts_with(is_digit)
        && !number.starts_with(['/', '\u{2044}']);
    plain.then(|| format!("{least} {}", number.trim().chars().take(20).collect::<String>()).trim().to_owned())
}

fn after_quantum_satis(typed: &str) -> Option<&str> {
    const SPELLINGS: [&str; 5] = ["q.s.", "q. s.", "q.s", "qs", "quantum satis"];
    SPELLINGS.iter().find_map(|spelling| {
        let head = typed.get(..spelling.len())?;
        let rest = typed.get(spelling.len()..)?;
        let ends = rest.chars().next().is_none_or(|c| !c.is_alphanumeric());
        (head.eq_ignore_ascii_case(spelling) && ends).then(|| rest.trim())
    })
}

fn make_up(rest: &str, family: Customary) -> Result<AmountKind, AmountError> {
    let to_ph = rest.trim_start_matches("ad ").trim_start_matches("to ").trim();
    if to_ph.get(..2).is_some_and(|head| head.eq_ignore_ascii_case("ph")) {
        let target = Some(to_ph).filter(|text| text.len() > 2).map(TargetPh::parse).transpose()?;
        return Ok(AmountKind::ToPh(target));
    }
    let target = rest
        .strip_prefix("ad ")
        .or_else(|| rest.strip_prefix("to "))
        .or_else(|| rest.strip_prefix("up to "))
        .unwrap_or(rest)
        .trim();
    if target.is_empty() || target == "100 %" || target == "100%" {
        return Ok(AmountKind::MakeUp);
    }
    let quantity = Quantity::parse_with(target, family)?;
    if quantity.dimension() == Dimension::Drops {
        return Err(AmountError::MakeUpToDrops);
    }
    Ok(AmountKind::MakeUpTo(quantity))
}

fn basis_of(text: &str) -> Result<Basis, AmountError> {
    match text.trim().to_ascii_lowercase().as_str() {
        "" => Ok(Basis::Unstated),
        "w/w" | "m/m" | "(w/w)" | "(m/m)" => Ok(Basis::MassInMass),
        "w/v" | "m/v" | "(w/v)" | "(m/v)" => Ok(Basis::MassInVolume),
        "v/v" | "(v/v)" | "vol" | "vol." => Ok(Basis::VolumeInVolume),
        other => Err(AmountError::Basis(other.chars().take(40).collect())),
    }
}

fn percent(number: &str, basis: &str) -> Result<AmountKind, AmountError> {
    let value = number::parse(number)?;
    let basis = basis_of(basis)?;
    if value.is_zero() {
        return Err(NumberError::Zero.into());
    }
    // More than 100 g can stand in 100 mL (syrup has 131), so that only shares of like in like end at 100.
    let most = if basis == Basis::MassInVolume { Decimal::from(1000) } else { HUNDRED };
    if value > most {
        return Err(AmountError::PastHundred(value.normalize()));
    }
    let fraction = value.checked_div(HUNDRED).ok_or(NumberError::TooManyDigits)?;
    Ok(AmountKind::Percent { fraction, basis })
}

fn ratio(typed: &str) -> Result<AmountKind, AmountError> {
    let (part, whole) = typed.split_once(':').ok_or(AmountError::Ratio)?;
    ratio_of(part, whole)
}

fn ratio_of(part: &str, whole: &str) -> Result<AmountKind, AmountError> {
    let part = number::parse(part)?;
    let (whole, basis) = number::leading(whole)?;
    if part.is_zero() || whole < part {
        return Err(AmountError::Ratio);
    }
    let basis = basis_of(basis)?;
    Ok(AmountKind::Ratio { part, whole, basis })
}

/// "1 in 500", a ratio strength.
fn one_in(typed: &str) -> Result<Option<AmountKind>, AmountError> {
    let Some((part, whole)) = typed.split_once(" in ") else { return Ok(None) };
    let plain = |text: &str| text.trim().chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ','));
    if !plain(part) || !whole.trim_start().starts_with(|c: char| c.is_ascii_digit()) {
        return Ok(None);
    }
    ratio_of(part, whole).map(Some)
}

/// "2 parts", by mass unless it says by volume.
fn parts(typed: &str) -> Result<Option<AmountKind>, AmountError> {
    let Ok((value, rest)) = number::leading(typed) else { return Ok(None) };
    let words = rest.trim().to_ascii_lowercase();
    let by_volume = match words.as_str() {
        "part" | "parts" | "pt. wt" | "p." | "parts by weight" | "part by weight" | "parts w/w"
        | "parts by mass" | "part by mass" => false,
        "part by volume" | "parts by volume" | "part v/v" | "parts v/v" | "parts by measure"
        | "part by measure" | "parts vol" | "parts vol." | "part vol." => true,
        _ => return Ok(None),
    };
    if value.is_zero() {
        return Err(NumberError::Zero.into());
    }
    Ok(Some(if by_volume { AmountKind::VolumeParts(value) } else { AmountKind::Parts(value) }))
}

/// "1 mg/5 mL", "250 mcg/mL", "5 mg per g": a share of the whole on the basis that its units say.
fn concentration(typed: &str, family: Customary) -> Result<Option<AmountKind>, AmountError> {
    let split = typed.split_once('/').or_else(|| typed.split_once(" per "));
    // "1/2 cup" and "20 drops at 25/mL" divide numbers.
    let Some((above, below)) = split.filter(|(above, _)| above.trim_end().ends_with(char::is_alphabetic))
    else {
        return Ok(None);
    };
    let refuse = || AmountError::Concentration(typed.chars().take(40).collect());
    let below = below.trim();
    let counted = if below.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
        below.to_owned()
    } else {
        format!("1 {below}")
    };
    let above = Quantity::parse_with(above, family)?.measure();
    let below = Quantity::parse_with(&counted, family).map_err(|_| refuse())?.measure();
    let (part, whole, basis) = match (above, below) {
        (Measure::Mass(part), Measure::Mass(whole)) => (part.g(), whole.g(), Basis::MassInMass),
        (Measure::Mass(part), Measure::Volume(whole)) => (part.g(), whole.ml(), Basis::MassInVolume),
        (Measure::Volume(part), Measure::Volume(whole)) => (part.ml(), whole.ml(), Basis::VolumeInVolume),
        _ => return Err(refuse()),
    };
    let fraction = part.checked_div(whole).ok_or(NumberError::TooManyDigits)?;
    let most = if basis == Basis::MassInVolume { Decimal::TEN } else { Decimal::ONE };
    if fraction > most {
        return Err(AmountError::PastHundred((fraction * HUNDRED).round_dp(4).normalize()));
    }
    if fraction.is_zero() {
        return Err(refuse());
    }
    Ok(Some(AmountKind::Percent { fraction, basis }))
}
