//! Everything that people write: whatever the bytes, the readers answer or refuse, and what they answer keeps the
//! text, is not negative, and reads back as the same.

#![no_main]

use galenics::{
    Amount, Customary, Decimal, Measure, Quantity, Temperature, Yield,
    extraction::{Convention, ExtractRatio},
    strength::Strength,
};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    for family in Customary::ALL {
        if let Ok(quantity) = Quantity::parse_with(text, *family) {
            assert_eq!(quantity.text(), text.trim());
            let base = match quantity.measure() {
                Measure::Mass(mass) => mass.g(),
                Measure::Volume(volume) => volume.ml(),
                Measure::Drops { count, .. } => count,
            };
            assert!(base > Decimal::ZERO, "{text}");
            assert_eq!(Quantity::parse_with(quantity.text(), *family).as_ref(), Ok(&quantity));
        }
        if let Ok(amount) = Amount::parse_with(text, *family) {
            assert_eq!(Amount::parse_with(amount.text(), *family).as_ref(), Ok(&amount));
        }
    }
    let _ = Yield::parse(text);
    let _ = Temperature::parse(text);
    if let Ok(strength) = Strength::parse(text) {
        assert!(strength.fraction() > Decimal::ZERO);
        let _ = strength.stated(None);
    }
    let _ = ExtractRatio::parse(text, Some(Convention::DrugToNativeExtract));
});
