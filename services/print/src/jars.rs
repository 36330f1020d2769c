//! Labels of jars: one for each, with its number, its code, and the code that a camera reads.
//!
//! A label client prints them, too: what it may print of a batch it may print for each jar. The code of a jar opens the page
//! of the jar and nothing else, and whoever gets the jar gets it with it.

use std::sync::Arc;

use clinic::{Clinic, Credentials, Error, Result};
use wire::ids::BatchId;
use wire::jars::JarLabels;
use wire::label::{JarLabelImageQuery, JarLabelQuery, LabelPiece};
use wire::problem::FieldError;

use crate::asked::{self, Numbers};
use crate::labels::{self, OfJars};
use crate::scan::{self, Place, Scan};
use crate::size::Size;
use crate::unprintable::Unprintable;
use crate::{HOLDS_ALL, too_small, unprintable};

/// How many characters the number and the code of a jar take, in cm2 of a label: some fifty, at forty to the square centimetre.
const OF_JAR: f64 = 1.25;
/// Square millimetres in a square centimetre.
const CM2: f64 = 100.0;
/// For how much of its room a label is laid out, one after the other until it can be set. How much room letters take is
/// reckoned for usual letters, and a word that stands at the end of a line takes more.
const SHARES: [f64; 4] = [1.0, 0.85, 0.7, 0.55];

/// Labels of which jars, for what label and printer.
struct Wanted<'a> {
    clinic: &'a Clinic,
    credentials: &'a Credentials,
    id: BatchId,
    size: Size,
    dots: Option<u16>,
    numbers: Numbers,
}

/// The labels of the jars of a batch as PDF.
///
/// # Errors
/// As [`clinic::jars::labels`]; [`Error::Invalid`] for what cannot be read, and with the size where a part of a label, or the
/// code that a camera reads, has no room.
pub async fn jar_labels(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    query: &JarLabelQuery,
) -> Result<Vec<u8>> {
    let (asked, numbers) = asked::jar_labels(query)?;
    let wanted = Wanted { clinic, credentials, id, size: asked.size, dots: None, numbers };
    let asked = Arc::new(asked);
    Ok(fitted(&wanted, move |of| labels::of_jars(of, &asked)).await?.1)
}

/// The label of one jar as PNG, at the printer's own dots per inch. The modules of its code are whole dots.
///
/// # Errors
/// As [`jar_labels`]; [`Error::NotFound`] if the batch has no jar of this number.
pub async fn jar_label_image(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    number: u32,
    query: &JarLabelImageQuery,
) -> Result<Vec<u8>> {
    let (size, dots) = asked::sides_and_dots(query.size.as_deref(), query.dpi)?;
    let numbers = Numbers::one(number);
    let wanted = Wanted { clinic, credentials, id, size, dots: Some(dots), numbers };
    let set = fitted(&wanted, move |of| labels::image_of_jar(of, size, dots)).await;
    let (_, image) = set.map_err(|error| match error {
        // The number stands in the address, and not in the query.
        Error::Invalid(faults) if faults.iter().any(|fault| fault.pointer == "?jars") => {
            Error::NotFound("jar")
        }
        other => other,
    })?;
    Ok(image)
}

/// The leaflet that goes with the jars of a batch, as PDF: in full what their labels shorten or cannot hold. It is that of the
/// least that a label of this size ever holds, so that no label says less than was thought.
///
/// # Errors
/// As [`jar_labels`]; [`Error::State`] where the labels hold everything.
pub async fn jar_leaflet(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    query: &JarLabelImageQuery,
) -> Result<Vec<u8>> {
    let (size, dots) = asked::sides_and_dots(query.size.as_deref(), query.dpi)?;
    let wanted = Wanted { clinic, credentials, id, size, dots: Some(dots), numbers: Numbers::default() };
    let least = SHARES.into_iter().fold(1.0, f64::min);
    let longest =
        laid_out(&wanted, least).await?.groups.into_iter().max_by_key(|group| on_leaflet(group).len());
    match longest {
        Some(group) if !on_leaflet(&group).is_empty() => {
            clinic.set_document(move || labels::leaflet(&group.label).map_err(unprintable)).await
        }
        _ => Err(Error::State { state: "complete".to_owned(), detail: HOLDS_ALL.to_owned() }),
    }
}

fn on_leaflet(group: &JarLabels) -> &[LabelPiece] {
    group.label.layout.as_ref().map(|layout| layout.leaflet.as_slice()).unwrap_or_default()
}

/// What a page shows before labels of jars are printed.
pub struct JarLabelsShown {
    /// The number of the first jar.
    pub first: u32,
    /// What its label says.
    pub said: String,
    /// Whether a leaflet goes with the jars.
    pub leaflet: bool,
}

/// Sets the labels of jars, and answers what stands on the first one.
///
/// # Errors
/// As [`jar_labels`].
pub async fn jar_labels_shown(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    query: &JarLabelQuery,
) -> Result<JarLabelsShown> {
    let (asked, numbers) = asked::jar_labels(query)?;
    let wanted = Wanted { clinic, credentials, id, size: asked.size, dots: None, numbers };
    let asked = Arc::new(asked);
    let (of, _) = fitted(&wanted, move |of| labels::of_jars(of, &asked)).await?;
    let first = of.groups.first().and_then(|group| group.jars.first());
    let on_jar = of.groups.iter().take(1).filter_map(|group| group.label.layout.as_ref());
    let said: Vec<&str> = on_jar.flat_map(|layout| &layout.jar).map(|piece| piece.text.as_str()).collect();
    Ok(JarLabelsShown {
        first: first.map(|jar| jar.number).unwrap_or_default(),
        said: said.join(" "),
        leaflet: of.groups.iter().any(|group| !on_leaflet(group).is_empty()),
    })
}

/// Lays labels out and sets them. Where a part has no room, more goes to the leaflet, as far as anything may.
async fn fitted<T: Send + 'static>(
    wanted: &Wanted<'_>,
    set: impl Fn(&OfJars) -> std::result::Result<T, Unprintable> + Send + Sync + 'static,
) -> Result<(Arc<OfJars>, T)> {
    let set = Arc::new(set);
    let mut refused = None;
    for part in SHARES {
        let of = Arc::new(laid_out(wanted, part).await?);
        let crowded =
            of.groups.iter().find(|group| group.label.layout.as_ref().is_some_and(|layout| !layout.fits));
        if let Some(crowded) = crowded {
            return Err(refused.unwrap_or_else(|| too_small(&crowded.label, "warnings")));
        }
        let (this, set) = (Arc::clone(&of), Arc::clone(&set));
        match wanted.clinic.set_document(move || Ok(set(&this))).await? {
            Ok(done) => return Ok((of, done)),
            Err(Unprintable::NoRoom { part }) => refused = Some(no_room(&part)),
            Err(other) => return Err(unprintable(other)),
        }
    }
    Err(refused.unwrap_or_else(|| no_room("text")))
}

/// What stands on each jar, and where its code stands, for a share of the room that the letters have.
async fn laid_out(wanted: &Wanted<'_>, share: f64) -> Result<OfJars> {
    let scanned = match wanted.clinic.public_address() {
        None => None,
        Some(base) => Some((base.to_owned(), place(base, wanted.size, wanted.dots)?)),
    };
    let room = scanned.as_ref().map_or(wanted.size, |(_, place)| place.room);
    let area = room.wide * room.high / CM2 - OF_JAR;
    if area < OF_JAR {
        return Err(Error::field("?size", "The label has no room beside its code. Take a larger label."));
    }
    let area = format!("{:.2} cm2", (area * share).max(OF_JAR));
    let groups =
        clinic::jars::labels(wanted.clinic, wanted.credentials, wanted.id, &area, wanted.numbers.ranges())
            .await?;
    Ok(OfJars { groups, scanned })
}

fn no_room(part: &str) -> Error {
    let part = part.replace('_', " ");
    Error::field("?size", format!("The label has no room for its {part}. Take a larger label."))
}

/// The place of the codes of all jars: their addresses are equally long.
fn place(base: &str, size: Size, dots: Option<u16>) -> Result<Place> {
    let longest = format!("{base}/jars/{}", "z".repeat(26));
    let scan = Scan::of(&longest).ok_or_else(|| Error::Internal("an address that no symbol holds".into()))?;
    scan::place(&scan, size, dots).map_err(|side| {
        Error::Invalid(vec![FieldError::new(
            "?size",
            format!(
                "The label has no room for its code, which takes {side:.1} mm either way. Take a label of at least {:.0} mm \
                 either way.",
                (side + 2.0 * scan::MARGIN).ceil()
            ),
        )])
    })
}
