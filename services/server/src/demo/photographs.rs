//! The demo's photographs: drawn by code, so that nobody's bench is on them.

use std::io::Cursor;

use clinic::photographs::{admit, develop, keep};
use clinic::{Clinic, Credentials};
use image::{ImageFormat, Rgb, RgbImage};
use wire::ids::BatchId;
use wire::photographs::{NewPhotographQuery, PhotographSubject};

use super::requests::once;
use crate::error::StartError;

/// In pixels.
const SIDES: (u32, u32) = (640, 480);

const BENCH: Rgb<u8> = Rgb([196, 178, 148]);
const BOWL: Rgb<u8> = Rgb([240, 238, 232]);
const SALVE: Rgb<u8> = Rgb([222, 190, 84]);
const SHADOW: Rgb<u8> = Rgb([166, 148, 120]);
const BALANCE: Rgb<u8> = Rgb([92, 98, 104]);

/// Whether a point lies in a circle.
const fn within((x, y): (u32, u32), (left, top): (u32, u32), radius: u32) -> bool {
    let (across, down) = (x.abs_diff(left), y.abs_diff(top));
    across * across + down * down < radius * radius
}

/// A bowl from above, with what is made in it; of a reading, on the plate of a balance.
fn drawn(subject: PhotographSubject) -> RgbImage {
    let on_balance = subject == PhotographSubject::Reading;
    let middle = (320, if on_balance { 200 } else { 240 });
    RgbImage::from_fn(SIDES.0, SIDES.1, |x, y| {
        let at = (x, y);
        match () {
            () if within(at, middle, 130) => SALVE,
            () if within(at, middle, 160) => BOWL,
            () if within(at, (middle.0 + 14, middle.1 + 14), 164) => SHADOW,
            () if on_balance && (250..390).contains(&x) && (400..450).contains(&y) => BOWL,
            () if on_balance && (110..530).contains(&x) && y > 20 => BALANCE,
            () => BENCH,
        }
    })
}

/// Adds a photograph to a batch.
pub(super) async fn photographed(
    clinic: &Clinic,
    maker: &Credentials,
    batch: BatchId,
    subject: PhotographSubject,
) -> Result<(), StartError> {
    let mut file = Cursor::new(Vec::new());
    drawn(subject).write_to(&mut file, ImageFormat::Png).map_err(std::io::Error::other)?;
    let ready = develop(clinic, admit(clinic)?, file.into_inner()).await?;
    let request = NewPhotographQuery { subject, entry: None };
    keep(clinic, maker, &once(clinic), batch, (&ready, &request)).await?;
    Ok(())
}
