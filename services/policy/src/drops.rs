//! Drops in a millilitre from the clinic's own dropper, as they are stored and read.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use store::Result;
use wire::policy::DropsPerMl;
use wire::problem::FieldError;

/// Drops by kind of liquid, as they are stored.
#[derive(Serialize, Deserialize)]
struct Stored {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    water: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    spirit: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    oil: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    essential_oil: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    glycerol: Option<String>,
}

/// The drops of a stored version; none of one that states none.
pub(crate) fn read(stored: Option<serde_json::Value>) -> Result<DropsPerMl> {
    let Some(stored) = stored else { return Ok(DropsPerMl::default()) };
    let Stored { water, spirit, oil, essential_oil, glycerol } = serde_json::from_value(stored)?;
    Ok(DropsPerMl { water, spirit, oil, essential_oil, glycerol })
}

/// The drops as they are stored; nothing where the clinic states none, as in versions from before.
pub(crate) fn written(drops: &DropsPerMl) -> Result<Option<serde_json::Value>> {
    if *drops == DropsPerMl::default() {
        return Ok(None);
    }
    let number = |text: &Option<String>| text.as_deref().map(|text| text.trim().to_owned());
    let stored = Stored {
        water: number(&drops.water),
        spirit: number(&drops.spirit),
        oil: number(&drops.oil),
        essential_oil: number(&drops.essential_oil),
        glycerol: number(&drops.glycerol),
    };
    Ok(Some(serde_json::to_value(stored)?))
}

/// Refusals of numbers that no dropper gives.
pub(crate) fn refusals(drops: &DropsPerMl) -> Vec<FieldError> {
    let range = Decimal::from(5)..=Decimal::from(200);
    let given = [
        ("water", &drops.water),
        ("spirit", &drops.spirit),
        ("oil", &drops.oil),
        ("essential_oil", &drops.essential_oil),
        ("glycerol", &drops.glycerol),
    ];
    let wrong = given.into_iter().filter(|(_, text)| {
        text.as_deref().is_some_and(|text| !text.trim().parse().is_ok_and(|drops| range.contains(&drops)))
    });
    let refuse = |(field, _)| {
        FieldError::new(
            format!("/drops_per_ml/{field}"),
            "Count the drops in 1 mL. Enter 5 to 200 as a decimal number, such as \"30\".",
        )
    };
    wrong.map(refuse).collect()
}
