//! Printed documents, read with poppler's programs, which `./tests/run` puts on the path.

use std::io::{Read, Write};
use std::process::{Command, Stdio};

/// What one of poppler's programs answers about a document that it is given.
///
/// # Panics
/// Fails the test where the program is missing or refuses the document.
#[must_use]
pub fn poppler(program: &str, options: &[&str], pdf: &[u8]) -> Vec<u8> {
    let mut child = Command::new(program)
        .args(options)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| panic!("{program}, which ./tests/run sets up: {error}"));
    let mut into = child.stdin.take().unwrap();
    let pdf = pdf.to_vec();
    let writing = std::thread::spawn(move || into.write_all(&pdf));
    let output = child.wait_with_output().unwrap();
    writing.join().unwrap().unwrap();
    assert!(output.status.success(), "{program} refused it");
    output.stdout
}

/// The words of a document as they stand on its pages, so that whoever looks for a word in an answer finds it on paper too. An answer
/// without a body has none.
#[must_use]
pub fn words(pdf: &[u8]) -> String {
    if pdf.is_empty() {
        return String::new();
    }
    String::from_utf8_lossy(&poppler("pdftotext", &["-raw", "-", "-"], pdf)).into_owned()
}

/// A grey image, its rows from above.
pub struct Grey {
    /// How many dots a row has.
    pub wide: usize,
    /// How many rows there are.
    pub high: usize,
    dots: Vec<u8>,
}

impl Grey {
    /// How light a dot is: 0 is black, 255 is white.
    #[must_use]
    pub fn at(&self, x: usize, y: usize) -> u8 {
        self.dots[y * self.wide + x]
    }

    /// What the codes on it say, as a camera reads them.
    ///
    /// # Panics
    /// Fails the test where a code is seen and cannot be read.
    #[must_use]
    pub fn codes(&self) -> Vec<String> {
        let mut prepared =
            rqrr::PreparedImage::prepare_from_greyscale(self.wide, self.high, |x, y| self.at(x, y));
        prepared.detect_grids().iter().map(|grid| grid.decode().unwrap().1).collect()
    }
}

/// A page of a document as an image, from 1.
///
/// # Panics
/// Fails the test where the document has no such page.
#[must_use]
pub fn page(pdf: &[u8], number: usize, dots_per_inch: u16) -> Grey {
    let (dots, number) = (dots_per_inch.to_string(), number.to_string());
    let image = poppler("pdftoppm", &["-gray", "-r", &dots, "-f", &number, "-l", &number, "-"], pdf);
    // A portable graymap: kind, sides, the lightest value, and then the dots.
    let mut heads = image.splitn(4, |byte| *byte == b'\n');
    let (kind, sides, _) = (heads.next().unwrap(), heads.next().unwrap(), heads.next().unwrap());
    assert_eq!(kind, b"P5");
    let sides: Vec<usize> =
        str::from_utf8(sides).unwrap().split(' ').map(|side| side.parse().unwrap()).collect();
    Grey { wide: sides[0], high: sides[1], dots: heads.next().unwrap().to_vec() }
}

/// A PNG as we draw it: eight bits a channel, with colours and transparency, not interlaced (ISO/IEC 15948).
///
/// # Panics
/// Fails the test where it is another kind of PNG.
#[must_use]
pub fn png(bytes: &[u8]) -> Grey {
    let number =
        |at: usize| usize::try_from(u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap())).unwrap();
    let (wide, high) = (number(16), number(20));
    assert_eq!(bytes[24..29], [8, 6, 0, 0, 0], "eight bits, red green blue and transparency, not interlaced");
    let (mut at, mut packed) = (8, Vec::new());
    while at < bytes.len() {
        let long = number(at);
        if &bytes[at + 4..at + 8] == b"IDAT" {
            packed.extend_from_slice(&bytes[at + 8..at + 8 + long]);
        }
        at += long + 12;
    }
    let mut plain = Vec::new();
    flate2::read::ZlibDecoder::new(&packed[..]).read_to_end(&mut plain).unwrap();
    let row = wide * 4;
    let mut before = vec![0_u8; row];
    let mut dots = Vec::new();
    for line in plain.chunks(row + 1) {
        let mut now = vec![0_u8; row];
        for i in 0..row {
            let left = if i < 4 { 0 } else { now[i - 4] };
            let (above, corner) = (before[i], if i < 4 { 0 } else { before[i - 4] });
            let predicted = match line[0] {
                0 => 0,
                1 => left,
                2 => above,
                3 => u8::try_from((u16::from(left) + u16::from(above)) / 2).unwrap(),
                _ => paeth(left, above, corner),
            };
            now[i] = line[i + 1].wrapping_add(predicted);
        }
        dots.extend(now.chunks(4).map(|dot| if dot[3] < 128 { 255 } else { dot[1] }));
        before = now;
    }
    Grey { wide, high, dots }
}

/// ISO/IEC 15948, 9.4.
fn paeth(left: u8, above: u8, corner: u8) -> u8 {
    let of = |one: u8| i16::from(one);
    let guess = of(left) + of(above) - of(corner);
    let far = |one: u8| (guess - of(one)).abs();
    if far(left) <= far(above) && far(left) <= far(corner) {
        left
    } else if far(above) <= far(corner) {
        above
    } else {
        corner
    }
}
