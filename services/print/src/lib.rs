//! Documents on paper: jar labels, the leaflet that goes with a jar, and a batch record for the file.
//!
//! What is printed is what its reader is given by the clinic, and nothing besides: a label, or a record as it is written for
//! a reader. Nothing is left out where it finds no room, and nothing is cut: the part that does not fit is named. Every
//! letter is in a font that the document carries, and every PDF is tagged for screen readers (PDF/A-2a, ISO 19005-2).
//!
//! Setting a page takes tens of milliseconds, off the executor. Never here: a figure that was not given, the network, a
//! file, a query.

mod asked;
mod document;
mod jars;
mod labels;
mod record;
mod scan;
mod size;
mod unprintable;
mod world;

use clinic::{Clinic, Credentials, Detail, Error, Result};
use wire::ids::BatchId;
use wire::label::{BatchLabelQuery, Label, LabelImageQuery, LabelPrintQuery};
use wire::problem::FieldError;

pub use jars::{JarLabelsShown, jar_label_image, jar_labels, jar_labels_shown, jar_leaflet};

use record::Written;
use size::Size;
use unprintable::Unprintable;

/// Why there is no leaflet.
const HOLDS_ALL: &str = "A label of this size holds everything. No leaflet is needed.";

/// The labels of a batch as PDF.
///
/// # Errors
/// As [`clinic::bench::label`]; [`Error::Invalid`] for what cannot be read, and with the size where a part of the label has
/// no room in letters of five points.
pub async fn batch_labels(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    query: &LabelPrintQuery,
) -> Result<Vec<u8>> {
    let asked = asked::labels(query)?;
    let label = label_of(clinic, credentials, id, query.net.as_ref(), asked.size).await?;
    clinic.set_document(move || labels::labels(&label, &asked).map_err(|why| refused(&label, why))).await
}

/// One label of a batch as PNG, at the printer's own dots per inch.
///
/// # Errors
/// As [`batch_labels`].
pub async fn batch_label_image(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    query: &LabelImageQuery,
) -> Result<Vec<u8>> {
    let (size, dots) = asked::image(query)?;
    let label = label_of(clinic, credentials, id, query.net.as_ref(), size).await?;
    clinic.set_document(move || labels::image(&label, size, dots).map_err(|why| refused(&label, why))).await
}

/// The leaflet of a batch as PDF: in full what a label of this size shortens or cannot hold.
///
/// # Errors
/// As [`batch_labels`]; [`Error::State`] where the label holds everything.
pub async fn batch_leaflet(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    query: &LabelImageQuery,
) -> Result<Vec<u8>> {
    let (size, _) = asked::image(query)?;
    let label = label_of(clinic, credentials, id, query.net.as_ref(), size).await?;
    if label.layout.as_ref().is_none_or(|layout| layout.leaflet.is_empty()) {
        return Err(Error::State { state: "complete".to_owned(), detail: HOLDS_ALL.to_owned() });
    }
    clinic.set_document(move || labels::leaflet(&label).map_err(|why| refused(&label, why))).await
}

/// The sheet of a batch to take to the bench, as PDF: cautions, what to weigh and do, and room to write.
///
/// # Errors
/// As [`clinic::bench::batch`].
pub async fn batch_sheet(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<Vec<u8>> {
    let record = clinic::bench::batch(clinic, credentials, id, Detail::Brief).await?;
    let (written, name) = (Written::of(&record)?, name(clinic, credentials).await?);
    clinic.set_document(move || record::sheet(&written, &name).map_err(unprintable)).await
}

/// The record of a batch for the file, as PDF: everything written in it, with its digests and how they are verified.
///
/// # Errors
/// As [`clinic::bench::filed`].
pub async fn batch_record(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<Vec<u8>> {
    let filed = clinic::bench::filed(clinic, credentials, id).await?;
    let (written, name) = (Written::of(&filed)?, name(clinic, credentials).await?);
    clinic.set_document(move || record::record(&written, &name).map_err(unprintable)).await
}

/// The clinic's name.
async fn name(clinic: &Clinic, credentials: &Credentials) -> Result<String> {
    Ok(clinic::policy::policy(clinic, credentials).await?.value.content.clinic_name)
}

async fn label_of(
    clinic: &Clinic,
    credentials: &Credentials,
    id: BatchId,
    net: Option<&String>,
    size: Size,
) -> Result<Label> {
    let area = Some(format!("{} x {} mm", size.wide, size.high));
    let query = BatchLabelQuery { net: net.cloned(), area };
    let label = clinic::bench::label(clinic, credentials, id, &query).await?;
    match &label.layout {
        Some(layout) if !layout.fits => Err(too_small(&label, "warnings")),
        _ => Ok(label),
    }
}

/// What must stay on the jar has no room: the size is what the reader can change.
fn too_small(label: &Label, part: &str) -> Error {
    let least = label.layout.as_ref().and_then(|layout| layout.least_area.value.as_deref());
    let cure = match least {
        Some(least) => {
            format!("Take a larger label; what must stay on the jar needs about {least} cm\u{b2}.")
        }
        None => "Take a larger label.".to_owned(),
    };
    Error::Invalid(vec![FieldError::new("?size", format!("The label has no room for its {part}. {cure}"))])
}

fn refused(label: &Label, why: Unprintable) -> Error {
    match why {
        Unprintable::NoRoom { part } => too_small(label, &part.replace('_', " ")),
        other => unprintable(other),
    }
}

fn unprintable(why: Unprintable) -> Error {
    match why {
        Unprintable::NoRoom { part } => Error::Internal(format!("{part} has no room on a page").into()),
        Unprintable::Letters { text } => Error::State {
            state: "unprintable".to_owned(),
            detail: format!(
                "The printer's fonts lack a letter of this text. Write it in other letters. ({text})"
            ),
        },
        Unprintable::Fault(fault) => Error::Internal(fault.into()),
    }
}
