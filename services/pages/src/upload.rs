//! A form that brings a photograph, in parts (RFC 7578). It is read once the right of whoever sends it is proved, in bounded
//! time and memory. Without a file it is a form as any other.

use std::future::{Ready, ready};
use std::time::Duration;

use actix_multipart::{Field, Multipart, MultipartError};
use actix_web::dev::Payload;
use actix_web::http::header::{self, HeaderMap};
use actix_web::web::BytesMut;
use actix_web::{FromRequest, HttpMessage, HttpRequest, rt};
use clinic::Clinic;
use clinic::photographs::{Admitted, LARGEST, admit};
use futures_util::StreamExt;

use crate::form::Form;
use crate::trouble::Trouble;

/// The name of the field with the file.
const FILE: &str = "photograph";

/// How long it may take to arrive in full: as long as the API gives a photograph.
const TIME: Duration = Duration::from_secs(60);

/// In bytes, of all fields but the file.
const LARGEST_FIELDS: usize = 64 * 1024;

/// In bytes. So much of a file that is too large is taken and thrown away, so that its sender reads what to do.
const THROWN_AWAY: usize = 4 * LARGEST;

/// The most parts.
const PARTS: usize = 20;

/// A form that has not been read yet.
pub(crate) struct Upload {
    /// What was read before the route was found: a form without a file.
    form: Option<Form>,
    headers: HeaderMap,
    payload: Payload,
}

/// The file of a form.
pub(crate) enum Brought {
    /// No file was chosen.
    Nothing,
    /// It is larger than what is taken.
    TooLarge,
    /// Its bytes, with the place that it takes up.
    File(Vec<u8>, Admitted),
}

/// Whether a form comes in parts.
pub(crate) fn in_parts(headers: &HeaderMap) -> bool {
    let kind = headers.get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    kind.starts_with("multipart/form-data")
}

impl FromRequest for Upload {
    type Error = Trouble;
    type Future = Ready<Result<Self, Trouble>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let form = request.extensions().get::<Form>().cloned();
        ready(Ok(Self { form, headers: request.headers().clone(), payload: payload.take() }))
    }
}

impl Upload {
    /// Reads it.
    ///
    /// # Errors
    /// Returns `Trouble` for what is no such form, takes too long, or finds no place.
    pub(crate) async fn read(self, clinic: &Clinic) -> Result<(Form, Brought), Trouble> {
        let Self { form, headers, payload } = self;
        if let Some(form) = form {
            return Ok((form, Brought::Nothing));
        }
        if !in_parts(&headers) {
            return Err(Trouble::Malformed);
        }
        let place = admit(clinic)?;
        let parts = Multipart::new(&headers, payload);
        let (fields, file) =
            rt::time::timeout(TIME, collect(parts)).await.map_err(|_| Trouble::TooSlow)??;
        let form = Form::of_parts(fields).ok_or(Trouble::Malformed)?;
        let brought = match file {
            None => Brought::Nothing,
            Some(bytes) if bytes.is_empty() => Brought::Nothing,
            Some(bytes) if bytes.len() > LARGEST => Brought::TooLarge,
            Some(bytes) => Brought::File(bytes, place),
        };
        Ok((form, brought))
    }
}

type Parts = (Vec<(String, String)>, Option<Vec<u8>>);

async fn collect(mut parts: Multipart) -> Result<Parts, Trouble> {
    let (mut fields, mut file, mut left, mut count) = (Vec::new(), None, LARGEST_FIELDS, 0_usize);
    while let Some(part) = parts.next().await {
        let part = part.map_err(unreadable)?;
        count += 1;
        let name = part.name().unwrap_or_default().to_owned();
        if count > PARTS || name.is_empty() {
            return Err(Trouble::Malformed);
        }
        if name == FILE {
            if file.is_some() {
                return Err(Trouble::Malformed);
            }
            file = Some(bytes_of(part).await?);
            continue;
        }
        let value = text_of(part, &mut left).await?;
        fields.push((name, value));
    }
    Ok((fields, file))
}

fn unreadable(_: MultipartError) -> Trouble {
    Trouble::Malformed
}

/// The bytes of the file. One that is too large keeps one byte more than is taken, and no other.
async fn bytes_of(mut part: Field) -> Result<Vec<u8>, Trouble> {
    let (mut bytes, mut length) = (BytesMut::new(), 0_usize);
    while let Some(chunk) = part.next().await {
        let chunk = chunk.map_err(unreadable)?;
        length = length.saturating_add(chunk.len());
        if length > THROWN_AWAY {
            return Err(Trouble::TooLarge);
        }
        let room = (LARGEST + 1).saturating_sub(bytes.len()).min(chunk.len());
        bytes.extend_from_slice(chunk.get(..room).unwrap_or_default());
    }
    Ok(bytes.to_vec())
}

async fn text_of(mut part: Field, left: &mut usize) -> Result<String, Trouble> {
    let mut bytes = Vec::new();
    while let Some(chunk) = part.next().await {
        let chunk = chunk.map_err(unreadable)?;
        *left = left.checked_sub(chunk.len()).ok_or(Trouble::TooLarge)?;
        bytes.extend_from_slice(&chunk);
    }
    String::from_utf8(bytes).map_err(|_| Trouble::Malformed)
}
