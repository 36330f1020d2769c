//! Every published factor, and every way of writing a quantity.

use galenics::{Customary, Measure, Quantity, QuantityError, Unit};
use serde::Deserialize;

use crate::support::{dec, rows};

#[derive(Deserialize)]
struct Row {
    written: String,
    value: String,
    unit: String,
    /// "exact", or to how many decimals the source rounds; negative to tens.
    decimals: String,
    source: String,
    status: String,
}

#[test]
fn every_published_factor_holds() {
    for row in rows::<Row>("galenics-units.csv") {
        assert_eq!(row.status, "verified", "a check rests on a verified row only: {}", row.source);
        let quantity =
            Quantity::parse(&row.written).unwrap_or_else(|error| panic!("{}: {error}", row.written));
        let value = match (row.unit.as_str(), quantity.measure()) {
            ("g", Measure::Mass(mass)) => mass.g(),
            ("mL", measure) => {
                quantity.volume(None).unwrap_or_else(|| panic!("{}: {measure:?}", row.written)).ml()
            }
            (unit, measure) => panic!("{} is {measure:?}, not in {unit}", row.written),
        };
        let published = dec(&row.value);
        if row.decimals == "exact" {
            assert_eq!(value, published, "{} by {}", row.written, row.source);
        } else {
            // Half of the last digit that the source prints.
            let decimals: i32 = row.decimals.parse().unwrap();
            let half = (0..decimals.abs())
                .fold(dec("0.5"), |half, _| if decimals > 0 { half / dec("10") } else { half * dec("10") });
            assert!(
                (value - published).abs() <= half,
                "{}: {value} against {published} by {}",
                row.written,
                row.source
            );
        }
    }
}

#[test]
fn the_digits_and_the_unit_are_kept_as_typed() {
    for text in
        ["2.50 cups", "080 g", "1 1/2 US cups", "½ oz", "4 oz av. 179 gr", "20 drops at 25 per mL", "200 µL"]
    {
        assert_eq!(Quantity::parse(text).unwrap().text(), text);
        let json = serde_json::to_string(&Quantity::parse(text).unwrap()).unwrap();
        assert_eq!(serde_json::from_str::<Quantity>(&json).unwrap().text(), text);
    }
    assert_eq!(Quantity::parse("  80 g ").unwrap().text(), "80 g");
}

#[test]
fn a_bare_household_word_is_taken_within_the_family_in_force_and_says_so() {
    for (family, millilitres) in
        [(Customary::Us, "236.5882365"), (Customary::Imperial, "284.130625"), (Customary::Metric, "250")]
    {
        let cup = Quantity::parse_with("1 cup", family).unwrap();
        assert_eq!(cup.volume(None).unwrap().ml(), dec(millilitres));
        assert_eq!(cup.taken_within(), Some(family));
        assert!(cup.taken_as().unwrap().contains(family.as_str()), "{:?}", cup.taken_as());
        assert_eq!(Quantity::parse_with("1 US cup", family).unwrap().taken_within(), None);
    }
    assert_eq!(Quantity::parse("1 oz").unwrap().measure(), Quantity::parse("437.5 gr").unwrap().measure());
    assert!(matches!(Quantity::parse("1 fl oz").unwrap().measure(), Measure::Volume(_)));
}

#[test]
fn what_is_no_quantity_is_refused_with_what_would_be_accepted() {
    for (text, code, cure) in [
        ("", "empty", "80 g"),
        ("-3 g", "negative", "without a minus"),
        ("0 g", "zero", "above zero"),
        ("1e400", "not_a_number", "plain digits"),
        ("1e3 g", "not_a_number", "plain digits"),
        ("NaN", "not_a_number", "Write one such as 80"),
        ("NaN g", "not_a_number", "Write one such as 80"),
        ("infinity g", "not_a_number", "Write one such as 80"),
        ("1,5 g", "not_a_number", "decimal point"),
        ("3 furlongs", "unknown_unit", "Use one of these: ug, mg, g, kg"),
        ("80", "no_unit", "80 has no unit. Add one of these: ug"),
        ("2 drams", "ambiguous_unit", "fl dr"),
        ("1 Mg", "ambiguous_unit", "mg"),
        ("5 g 5 g", "two_amounts", "such as 5 g"),
        ("179 gr 4 oz", "two_amounts", "Only a smaller unit may follow"),
        ("20 drops 5 drops", "two_amounts", "20 drops"),
        ("a pinch", "by_feel", "A pinch varies from hand to hand"),
        ("2 Handfuls", "by_feel", "Weigh yours once"),
        ("to taste", "by_feel", "such as 0.3 g"),
        ("4 oz 3 mL", "mixed_parts", "all be masses"),
        ("1 g 1 g 1 g 1 g 1 g", "too_many_parts", "four"),
        ("999999999999 kg", "out_of_range", "at most 1000000 kg"),
        ("1000000000 kg", "out_of_range", "at most 1000000 kg"),
        ("20 drops at 3 per mL", "drops_per_ml", "5 to 200 per mL"),
        ("20 g at 25 per mL", "drops_per_ml", "20 drops at 25 per mL"),
        ("1/0 g", "not_a_number", "divides by zero"),
    ] {
        let refused = Quantity::parse(text).expect_err(text);
        assert_eq!(refused.code(), code, "{text}: {refused}");
        assert!(refused.to_string().contains(cure), "{text}: {refused}");
    }
    assert_eq!(Quantity::parse(&"9".repeat(100_000)), Err(QuantityError::TooLong));
    let metric = Quantity::parse_with("1 fl oz", Customary::Metric).unwrap_err();
    assert_eq!(metric.code(), "ambiguous_unit");
}

#[test]
fn drops_are_a_volume_only_through_a_stated_dropper() {
    let bare = Quantity::parse("20 drops").unwrap();
    assert_eq!(bare.volume(None), None);
    assert_eq!(bare.volume(Some(dec("20"))).unwrap().ml(), dec("1"));
    assert_eq!(
        Quantity::parse("20 drops at 25 per mL").unwrap().volume(Some(dec("20"))).unwrap().ml(),
        dec("0.8")
    );
    assert_eq!(Quantity::parse("20 drops @ 25/mL").unwrap().volume(None).unwrap().ml(), dec("0.8"));
}

#[test]
fn every_unit_names_the_source_of_its_factor() {
    for unit in Unit::ALL {
        assert!(!unit.source().text.is_empty(), "{unit}");
    }
}
