//! The container: net contents, day of making and room on the label.

use chrono::{Datelike, NaiveDate};
use galenics::{Customary, Decimal, Figure, Input, Measure, Quantity, Rule, Source, Status};
use store::{Error, Result};
use wire::label::{LabelOrigin, LabelOverflow, LabelRoom};
use wire::problem::FieldError;

use judgement::figures::Detail;

/// Net contents of the container and their origin.
pub(super) struct Net {
    pub(super) text: String,
    pub(super) from: LabelOrigin,
}

/// The area of a label in cm², with its text as entered.
#[derive(Debug)]
pub(super) struct Area {
    text: String,
    cm2: Decimal,
}

/// Characters per cm² at the smallest legible size. Common practice, no source.
const CHARACTERS: Decimal = Decimal::from_parts(40, 0, 0, false, 0);
/// Unit of the area.
const CM2: &str = "cm2";
/// The largest accepted area, in cm².
const MOST: Decimal = Decimal::from_parts(10_000, 0, 0, false, 0);

static NEEDED: Rule = Rule::new(
    "label_room",
    "required area: {characters} characters / {characters per cm2} per cm2 = {=}",
    Source::fixed(
        "letters of about 5 points, set close, without margins: common practice, no source",
        Status::CommonPractice,
    ),
);

type Read<T> = std::result::Result<T, FieldError>;

/// Parses an area such as `40 cm2`.
///
/// # Errors
/// Returns the refused field with a sentence for the user.
pub(super) fn area(text: Option<&str>) -> Read<Option<Area>> {
    let Some(text) = text else { return Ok(None) };
    let typed = text.trim();
    let number = ["cm2", "cm\u{b2}"].iter().find_map(|unit| typed.strip_suffix(unit));
    let stated = number.and_then(|number| number.trim().parse::<Decimal>().ok());
    let cm2 = stated.or_else(|| of_sides(typed));
    match cm2 {
        Some(cm2) if cm2 > Decimal::ZERO && cm2 <= MOST => Ok(Some(Area { text: typed.to_owned(), cm2 })),
        _ => Err(FieldError::new(
            "?area",
            "Enter an area above 0 and up to 10000 cm2, such as 40 cm2 or 60 x 40 mm.",
        )),
    }
}

/// The area of a label of two sides in millimetres.
fn of_sides(typed: &str) -> Option<Decimal> {
    let (wide, high) = typed.strip_suffix("mm")?.split_once(['x', '\u{d7}'])?;
    let side = |text: &str| text.trim().trim_end_matches("mm").trim().parse::<Decimal>().ok();
    let (wide, high) = (side(wide)?, side(high)?);
    if wide <= Decimal::ZERO || high <= Decimal::ZERO {
        return None;
    }
    wide.checked_mul(high)?.checked_div(Decimal::ONE_HUNDRED)
}

impl Area {
    /// How many characters find room.
    pub(super) fn characters(&self) -> usize {
        usize::try_from((self.cm2 * CHARACTERS).floor()).unwrap_or(usize::MAX)
    }
}

/// The area that so many characters need.
pub(super) fn needed(characters: usize) -> Figure {
    let needed = Decimal::from(characters).checked_div(CHARACTERS).unwrap_or(MOST);
    Figure::number(
        needed.round_dp_with_strategy(1, rust_decimal::RoundingStrategy::AwayFromZero),
        CM2,
        &NEEDED,
        vec![
            Input::number("characters", Decimal::from(characters), ""),
            Input::constant("characters per cm2", CHARACTERS, "", NEEDED.source.clone()),
        ],
    )
}

/// Parses net contents: a mass or a volume.
///
/// # Errors
/// Returns the refused field with a sentence for the user.
pub(super) fn net(text: Option<&str>, customary: Customary) -> Read<Option<Net>> {
    let Some(text) = text else { return Ok(None) };
    let quantity =
        Quantity::parse_with(text, customary).map_err(|error| FieldError::new("?net", error.to_string()))?;
    let some = match quantity.measure() {
        Measure::Mass(mass) => !mass.g().is_zero(),
        Measure::Volume(volume) => !volume.ml().is_zero(),
        Measure::Drops { .. } => false,
    };
    if some {
        Ok(Some(Net { text: quantity.text().to_owned(), from: LabelOrigin::Request }))
    } else {
        Err(FieldError::new("?net", "Enter a mass or a volume above 0, such as 30 g or 50 mL."))
    }
}

/// Accepts a day of making between 1900 and 2200.
///
/// # Errors
/// Returns the refused field with a sentence for the user.
pub(super) fn day(made_on: Option<NaiveDate>) -> Read<Option<NaiveDate>> {
    match made_on {
        Some(day) if !(1900..=2200).contains(&day.year()) => Err(FieldError::new(
            "?made_on",
            "Enter a day of making between 1900 and 2200, such as 2026-03-21.",
        )),
        day => Ok(day),
    }
}

/// All three fields, or every refusal.
///
/// # Errors
/// Returns [`Error::Invalid`] with the refused fields.
pub(super) fn all<A, B, C>(a: Read<A>, b: Read<B>, c: Read<C>) -> Result<(A, B, C)> {
    match (a, b, c) {
        (Ok(a), Ok(b), Ok(c)) => Ok((a, b, c)),
        (a, b, c) => Err(Error::Invalid([a.err(), b.err(), c.err()].into_iter().flatten().collect())),
    }
}

/// Whether the parts of a label, in printing order, fit on its area, and which parts exceed it. Nothing is cut.
pub(super) fn room(area: &Area, parts: &[(&str, String)]) -> LabelRoom {
    let lengths: Vec<(&str, usize)> =
        parts.iter().map(|(part, text)| (*part, text.chars().count())).filter(|(_, n)| *n > 0).collect();
    let characters: usize = lengths.iter().map(|(_, length)| length).sum();
    let has = (area.cm2 * CHARACTERS).floor();
    let mut used = Decimal::ZERO;
    let mut exceeding = Vec::new();
    for (part, characters) in lengths {
        let length = Decimal::from(characters);
        used += length;
        let over = (used - has).min(length);
        if over > Decimal::ZERO {
            let too_many = usize::try_from(over).unwrap_or(characters);
            exceeding.push(LabelOverflow { part: part.to_owned(), characters, too_many });
        }
    }
    LabelRoom {
        area: area.text.clone(),
        needed: Detail::Explained.figure("room needed", &needed(characters)),
        fits: exceeding.is_empty(),
        exceeding,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area_of(text: &str) -> Area {
        area(Some(text)).unwrap().unwrap()
    }

    #[test]
    fn parts_that_exceed_the_label_are_named_and_kept() {
        // 2 cm2 hold 80 characters: the first part whole, 30 of the second, none of the third.
        let parts = [("name", "n".repeat(50)), ("warnings", "w".repeat(40)), ("notice", "o".repeat(7))];
        let found = room(&area_of("2 cm2"), &parts);
        assert!(!found.fits);
        let over: Vec<_> =
            found.exceeding.iter().map(|one| (one.part.as_str(), one.characters, one.too_many)).collect();
        assert_eq!(over, [("warnings", 40, 10), ("notice", 7, 7)]);
        // 97 characters at 40 to the square centimetre, rounded up so that the area stated does hold them.
        assert_eq!(found.needed.value.as_deref(), Some("2.5"));
        assert_eq!(found.needed.source.unwrap().status, "common practice");
        assert!(room(&area_of("2.425 cm\u{b2}"), &parts).fits);
        assert_eq!(area_of("60 x 40 mm").characters(), area_of("24 cm2").characters());
        assert_eq!(area_of("60mm \u{d7} 40mm").characters(), 960);
    }

    #[test]
    fn letters_are_counted_and_not_bytes() {
        let parts = [("name", "\u{e9}".repeat(40))];
        assert!(room(&area_of("1 cm2"), &parts).fits);
    }

    #[test]
    fn an_invalid_area_is_refused_at_its_field() {
        for text in
            ["", "40", "40 mm2", "0 cm2", "-4 cm2", "20000 cm2", "cm2", "forty cm2", "60 x mm", "0 x 40 mm"]
        {
            assert_eq!(area(Some(text)).unwrap_err().pointer, "?area", "{text}");
        }
    }

    #[test]
    fn net_contents_are_a_mass_or_a_volume() {
        let read = |text| net(Some(text), Customary::Metric).map(|net| net.unwrap().text);
        assert_eq!(read("30 g").unwrap(), "30 g");
        assert_eq!(read(" 1 US fl oz").unwrap(), "1 US fl oz");
        for text in ["0 g", "20 drops", "a jar", "-3 g"] {
            assert_eq!(read(text).unwrap_err().pointer, "?net", "{text}");
        }
    }
}
