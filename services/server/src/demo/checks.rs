//! The checks before the start of the demo's batches.

use clinic::{Clinic, Credentials, bench};
use wire::checks::{CheckKind, NewCheck};
use wire::ids::BatchId;

use super::requests::once;
use crate::error::StartError;

/// Records every check of a batch, each as it should be.
pub(super) async fn checked(clinic: &Clinic, maker: &Credentials, batch: BatchId) -> Result<(), StartError> {
    let check = |kind| NewCheck {
        kind,
        instrument: None,
        reference: None,
        reading: None,
        tolerance: None,
        humidity: None,
        passed: None,
        note: None,
        corrects: None,
        reason: None,
    };
    let meter = |kind, instrument: &str, [reference, reading, tolerance]: [&str; 3]| NewCheck {
        instrument: Some(instrument.into()),
        reference: Some(reference.into()),
        reading: Some(reading.into()),
        tolerance: Some(tolerance.into()),
        ..check(kind)
    };
    let all = [
        NewCheck { passed: Some(true), ..check(CheckKind::LineClearance) },
        NewCheck {
            passed: Some(true),
            note: Some("Washed, dried and wiped with 70 % alcohol.".into()),
            ..check(CheckKind::Cleaning)
        },
        meter(CheckKind::CheckWeight, "bench balance 2", ["100 g", "100.02 g", "0.05 g"]),
        meter(CheckKind::Thermometer, "probe 1", ["0 C", "0.2 C", "0.5 C"]),
        meter(CheckKind::PhMeter, "pH meter 1", ["7.00", "6.98", "0.05"]),
        NewCheck { reading: Some("21 C".into()), humidity: Some("45 %".into()), ..check(CheckKind::Room) },
        NewCheck { instrument: Some("water bath 1".into()), ..check(CheckKind::Equipment) },
    ];
    for check in all {
        bench::check_create(clinic, maker, &once(clinic), batch, &check).await?;
    }
    Ok(())
}
