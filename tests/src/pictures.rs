//! Pictures for tests, drawn by code.

use std::io::Cursor;

use image::{DynamicImage, ImageFormat, Rgb, RgbImage};

/// Red above, blue below, so that a test sees how it stands.
#[must_use]
pub fn two_halves(width: u32, height: u32) -> RgbImage {
    let colour = |y: u32| if y * 2 < height { Rgb([220, 30, 30]) } else { Rgb([30, 30, 220]) };
    RgbImage::from_fn(width, height, |_, y| colour(y))
}

/// The same as a file.
#[must_use]
pub fn file(width: u32, height: u32, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    DynamicImage::from(two_halves(width, height)).write_to(&mut bytes, format).expect("a picture");
    bytes.into_inner()
}

/// A small photograph, as JPEG.
#[must_use]
pub fn photograph() -> Vec<u8> {
    file(64, 48, ImageFormat::Jpeg)
}

/// A picture that was answered, decoded.
#[must_use]
pub fn read(bytes: &[u8]) -> RgbImage {
    image::load_from_memory_with_format(bytes, ImageFormat::Jpeg).expect("a JPEG").into_rgb8()
}
