//! Reading a picture within bounds, and drawing it anew.
//!
//! Pure. What kind it is, is told by its first bytes; its size is read before anything is decoded. The pixels of a still
//! picture are all that goes on: turned upright, made small enough, on white where it was transparent, as JPEG without
//! metadata. Its colour profile goes with the metadata, so that the colours of a wide one come out a little paler.

use std::fmt;
use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngDecoder;
use image::codecs::webp::WebPDecoder;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, RgbImage};
use sha2::{Digest, Sha256};
use store::Error;

/// The most bytes that are taken: 10 MB.
pub const LARGEST: usize = 10_000_000;

/// The most pixels that are decoded: more than the cameras of phones take by default.
pub const MOST_PIXELS: u64 = 40_000_000;

/// The longest side that is kept, in pixels: a scale of a balance and a label can be read on it.
pub const LONGEST_SIDE: u32 = 2560;

/// The longest side of a preview, in pixels.
const PREVIEW_SIDE: u32 = 480;

/// The most bytes that the decoded pixels may take, and a decoder beside them: four for each pixel.
const MOST_MEMORY: u64 = MOST_PIXELS * 4;

/// How closely JPEG follows the picture, of 100.
const QUALITY: u8 = 85;
const PREVIEW_QUALITY: u8 = 75;

/// A picture as it was drawn anew: JPEG without metadata.
#[derive(Clone, PartialEq, Eq)]
pub struct Drawn {
    bytes: Vec<u8>,
    width: u32,
    height: u32,
    sha256: [u8; 32],
}

/// Without the picture, so that it gets into no log.
impl fmt::Debug for Drawn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Drawn({} x {}, {} bytes)", self.width, self.height, self.bytes.len())
    }
}

impl Drawn {
    fn of(picture: &RgbImage, quality: u8) -> Result<Self, Error> {
        let mut bytes = Vec::new();
        JpegEncoder::new_with_quality(&mut bytes, quality)
            .encode_image(picture)
            .map_err(|error| Error::Internal(error.into()))?;
        let sha256 = Sha256::digest(&bytes).into();
        Ok(Self { width: picture.width(), height: picture.height(), sha256, bytes })
    }

    /// The file.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// In pixels.
    #[must_use]
    pub const fn width(&self) -> u32 {
        self.width
    }

    /// In pixels.
    #[must_use]
    pub const fn height(&self) -> u32 {
        self.height
    }

    /// SHA-256 of the file.
    #[must_use]
    pub const fn sha256(&self) -> &[u8; 32] {
        &self.sha256
    }
}

/// A photograph that was drawn anew, with its preview. Only [`develop`] makes one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Developed {
    picture: Drawn,
    preview: Drawn,
}

impl Developed {
    /// The photograph.
    #[must_use]
    pub const fn picture(&self) -> &Drawn {
        &self.picture
    }

    /// The same, small.
    #[must_use]
    pub const fn preview(&self) -> &Drawn {
        &self.preview
    }
}

fn refused(cure: impl Into<String>) -> Error {
    Error::field("", cure)
}

const NO_PICTURE: &str =
    "This file is no JPEG, PNG or WebP picture. Send a photograph in one of these formats.";
const BROKEN: &str =
    "This picture is damaged or incomplete. Take the photograph again, or send the whole file.";
const MOVING: &str = "This picture is animated. Send a still photograph.";

/// The format that the first bytes tell, whatever the file is called or said to be.
fn format_of(bytes: &[u8]) -> Option<ImageFormat> {
    match bytes {
        [0xff, 0xd8, 0xff, ..] => Some(ImageFormat::Jpeg),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => Some(ImageFormat::Png),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some(ImageFormat::WebP),
        _ => None,
    }
}

/// Reads what was sent and draws it anew.
///
/// Takes at most some 400 MB beside `bytes`: [`MOST_PIXELS`] with nine bytes for each, of a JPEG that comes in several scans.
///
/// # Errors
/// Returns [`Error::Invalid`], with the cure, for what is no picture in one of the three formats, is too large, animated,
/// damaged or incomplete.
pub fn develop(bytes: &[u8]) -> Result<Developed, Error> {
    if bytes.len() > LARGEST {
        return Err(too_large());
    }
    let format = format_of(bytes).ok_or_else(|| refused(NO_PICTURE))?;
    let complete = match format {
        ImageFormat::Jpeg => jpeg_ends(bytes),
        ImageFormat::WebP => riff_is_whole(bytes),
        _ => true,
    };
    if !complete {
        return Err(refused(BROKEN));
    }
    if is_animated(format, bytes)? {
        return Err(refused(MOVING));
    }
    let mut picture = decode(format, bytes)?;
    if picture.width().max(picture.height()) > LONGEST_SIDE {
        picture = picture.thumbnail(LONGEST_SIDE, LONGEST_SIDE);
    }
    let orientation = orientation(format, bytes);
    picture.apply_orientation(orientation);
    let picture = on_white(picture);
    let small = match picture.width().max(picture.height()) > PREVIEW_SIDE {
        true => {
            let (width, height) = fitted(picture.width(), picture.height(), PREVIEW_SIDE);
            Drawn::of(&image::imageops::thumbnail(&picture, width, height), PREVIEW_QUALITY)?
        }
        false => Drawn::of(&picture, PREVIEW_QUALITY)?,
    };
    Ok(Developed { picture: Drawn::of(&picture, QUALITY)?, preview: small })
}

/// The refusal of what is larger than [`LARGEST`].
pub(crate) fn too_large() -> Error {
    refused("This file is larger than 10 MB. Take the photograph at a lower resolution.")
}

fn reader(format: ImageFormat, bytes: &[u8]) -> ImageReader<Cursor<&[u8]>> {
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(MOST_MEMORY);
    reader.limits(limits);
    reader
}

fn decode(format: ImageFormat, bytes: &[u8]) -> Result<DynamicImage, Error> {
    let broken = |error| {
        tracing::debug!(%error, "a picture was refused");
        refused(BROKEN)
    };
    let decoder = reader(format, bytes).into_decoder().map_err(broken)?;
    let (width, height) = decoder.dimensions();
    if width == 0 || height == 0 {
        return Err(refused(BROKEN));
    }
    if u64::from(width) * u64::from(height) > MOST_PIXELS {
        return Err(refused(format!(
            "This picture has {width} x {height} pixels. At most 40 megapixels are accepted, such as 7300 x 5400. Take the \
             photograph at a lower resolution."
        )));
    }
    if decoder.total_bytes() > MOST_MEMORY {
        return Err(refused(
            "This picture has 16 bits for each colour. Save it with 8 bits for each colour.",
        ));
    }
    DynamicImage::from_decoder(decoder).map_err(broken)
}

/// How the camera was held. What cannot be read turns nothing.
fn orientation(format: ImageFormat, bytes: &[u8]) -> image::metadata::Orientation {
    let read = reader(format, bytes).into_decoder().and_then(|mut decoder| decoder.orientation());
    read.unwrap_or(image::metadata::Orientation::NoTransforms)
}

fn is_animated(format: ImageFormat, bytes: &[u8]) -> Result<bool, Error> {
    let read = match format {
        ImageFormat::Png => {
            let mut limits = Limits::no_limits();
            limits.max_alloc = Some(MOST_MEMORY);
            PngDecoder::with_limits(Cursor::new(bytes), limits).and_then(|decoder| decoder.is_apng())
        }
        ImageFormat::WebP => WebPDecoder::new(Cursor::new(bytes)).map(|decoder| decoder.has_animation()),
        _ => Ok(false),
    };
    read.map_err(|_| refused(BROKEN))
}

/// Whether a JPEG has its end. Its decoder would draw what is missing in grey. What stands before the first scan has
/// lengths, and may hold a small picture with an end of its own.
fn jpeg_ends(bytes: &[u8]) -> bool {
    let mut rest = bytes.get(2..).unwrap_or_default();
    loop {
        match rest {
            // Filling before a marker.
            [0xff, 0xff, ..] => rest = &rest[1..],
            [0xff, 0xda, ..] => return rest.windows(2).any(|pair| pair == [0xff, 0xd9]),
            [0xff, _, high, low, ..] => {
                let length = usize::from(u16::from_be_bytes([*high, *low]));
                match rest.get(2 + length..) {
                    Some(next) if length >= 2 => rest = next,
                    _ => return false,
                }
            }
            _ => return false,
        }
    }
}

/// Whether all is there that the head of a RIFF file says.
fn riff_is_whole(bytes: &[u8]) -> bool {
    let Some(length) = bytes.get(4..8).and_then(|length| length.try_into().ok()) else { return false };
    let length = usize::try_from(u32::from_le_bytes(length)).unwrap_or(usize::MAX);
    bytes.len().saturating_sub(8) >= length
}

/// The picture without transparency.
fn on_white(picture: DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.into_rgb8();
    }
    let picture = picture.into_rgba8();
    let mut flat = RgbImage::new(picture.width(), picture.height());
    for (to, from) in flat.pixels_mut().zip(picture.pixels()) {
        let [red, green, blue, alpha] = from.0.map(u16::from);
        let over = |colour: u16| u8::try_from((colour * alpha + 255 * (255 - alpha)) / 255).unwrap_or(255);
        to.0 = [over(red), over(green), over(blue)];
    }
    flat
}

/// Width and height whose longer one is `longest`, at least a pixel each.
fn fitted(width: u32, height: u32, longest: u32) -> (u32, u32) {
    let long = u64::from(width.max(height)).max(1);
    let fit =
        |side: u32| u32::try_from(u64::from(side) * u64::from(longest) / long).unwrap_or(longest).max(1);
    (fit(width), fit(height))
}

#[cfg(test)]
mod tests {
    use image::{Rgb, Rgba, RgbaImage};
    use proptest::prelude::*;

    use super::*;

    /// Red above, blue below.
    fn two_halves(width: u32, height: u32) -> RgbImage {
        RgbImage::from_fn(
            width,
            height,
            |_, y| {
                if y * 2 < height { Rgb([220, 30, 30]) } else { Rgb([30, 30, 220]) }
            },
        )
    }

    fn written(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, format).unwrap();
        bytes.into_inner()
    }

    fn cure(bytes: &[u8]) -> String {
        match develop(bytes) {
            Err(Error::Invalid(errors)) => errors[0].detail.clone(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn each_format_becomes_a_jpeg_with_a_preview() {
        for format in [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::WebP] {
            let sent = written(&two_halves(600, 300).into(), format);
            let developed = develop(&sent).unwrap();
            let (picture, preview) = (developed.picture(), developed.preview());
            assert_eq!((picture.width(), picture.height()), (600, 300));
            assert_eq!((preview.width(), preview.height()), (480, 240));
            let read = image::load_from_memory_with_format(picture.bytes(), ImageFormat::Jpeg).unwrap();
            let read = read.into_rgb8();
            assert!(read.get_pixel(300, 20).0[0] > 180 && read.get_pixel(300, 280).0[2] > 180, "{format:?}");
        }
    }

    #[test]
    fn a_large_photograph_is_made_smaller() {
        let sent = written(&two_halves(3000, 100).into(), ImageFormat::Png);
        let developed = develop(&sent).unwrap();
        assert_eq!((developed.picture().width(), developed.picture().height()), (2560, 85));
    }

    #[test]
    fn what_was_transparent_is_white() {
        let clear = RgbaImage::from_pixel(20, 20, Rgba([0, 0, 0, 0]));
        let developed = develop(&written(&clear.into(), ImageFormat::Png)).unwrap();
        let read = image::load_from_memory(developed.picture().bytes()).unwrap().into_rgb8();
        assert!(read.get_pixel(10, 10).0.iter().all(|colour| *colour > 250));
    }

    #[test]
    fn a_cut_picture_is_refused() {
        for format in [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::WebP] {
            let sent = written(&two_halves(200, 200).into(), format);
            assert_eq!(cure(&sent[..sent.len() - sent.len() / 3]), BROKEN, "{format:?}");
        }
    }

    #[test]
    fn a_huge_picture_is_refused_by_its_head() {
        let mut sent = written(&two_halves(2, 2).into(), ImageFormat::Png);
        for at in [16, 20] {
            sent[at..at + 4].copy_from_slice(&40_000_u32.to_be_bytes());
        }
        // The check sum of the head, which a sender can make as well.
        let sum = crc(&sent[12..29]);
        sent[29..33].copy_from_slice(&sum.to_be_bytes());
        let said = cure(&sent);
        assert!(said.contains("40000 x 40000 pixels"), "{said}");
    }

    /// CRC-32 as PNG uses it (ISO 3309).
    fn crc(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(u32::MAX, |sum, byte| {
            (0..8).fold(sum ^ u32::from(*byte), |sum, _| match sum & 1 {
                0 => sum >> 1,
                _ => (sum >> 1) ^ 0xedb8_8320,
            })
        })
    }

    #[test]
    fn what_is_no_picture_is_refused() {
        for sent in
            [&b""[..], b"<script>alert(1)</script>", b"GIF89a", b"PK\x03\x04", b"%PDF-1.7", &[0; 4096]]
        {
            assert_eq!(cure(sent), NO_PICTURE);
        }
        assert_eq!(cure(b"\xff\xd8\xff<script>"), BROKEN);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn a_changed_byte_is_refused_or_drawn_and_never_a_crash(at in any::<prop::sample::Index>(), byte: u8, kind in 0..3) {
            let format = [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::WebP][usize::try_from(kind).unwrap()];
            let mut sent = written(&two_halves(24, 16).into(), format);
            let at = at.index(sent.len());
            sent[at] = byte;
            match develop(&sent) {
                Ok(_) | Err(Error::Invalid(_)) => {}
                Err(other) => panic!("{other:?}"),
            }
        }
    }
}
