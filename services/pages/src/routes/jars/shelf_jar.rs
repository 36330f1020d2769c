//! A jar on the shelf: filling it into smaller ones, and keeping it as a sample.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::jars;
use wire::ids::BatchId;
use wire::jars::{DecantInto, Jar, NewDecanting, NewSample};

use super::batch::stands;
use super::emptied::numbers;
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/jars/{number}", view);
    mount.post("/batches/{id}/jars/{number}", act);
}

/// How many sizes the page has fields for.
const SIZES: usize = 3;

/// The fields of one size, with what was typed and why it was not accepted.
struct Size {
    place: usize,
    jars: String,
    fill: String,
    density: String,
    cure: String,
}

#[derive(Template)]
#[template(path = "jar_on_shelf.html")]
struct JarOnShelf {
    frame: Frame,
    id: BatchId,
    number: u32,
    batch_number: String,
    fill: String,
    until: String,
    stands: String,
    /// What it is instead of a full jar on the shelf; empty where it is one.
    gone: String,
    may: bool,
    sizes: Vec<Size>,
    reason: String,
    sample_reason: String,
    /// The form that was sent, and what was not accepted of it.
    sent: String,
    cures: Vec<(String, String)>,
    once: String,
}

impl JarOnShelf {
    fn cure(&self, form: &str, field: &str) -> String {
        let of_form = self.cures.iter().filter(|(name, _)| self.sent == form && name == field);
        of_form.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    }

    /// What stands in the way of the whole.
    fn faults(&self) -> Vec<&str> {
        let others = self.cures.iter().filter(|(name, _)| name != "reason" && !name.starts_with("into/"));
        others.map(|(_, cure)| cure.as_str()).collect()
    }
}

/// What a jar is instead of a full one on the shelf; empty where it is one.
fn gone(jar: &Jar) -> String {
    match jar {
        jar if !jar.decanted_into.is_empty() => t1("decant-is-empty", numbers(&jar.decanted_into)),
        jar if jar.sample => t("jar-is-sample"),
        jar if jar.handed.is_some() => t("decant-handed"),
        _ => String::new(),
    }
}

async fn shown(
    visitor: &Visitor,
    (id, number): (BatchId, u32),
    status: StatusCode,
    form: &Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let of = match jars::jars(visitor.clinic(), visitor.credentials(), id).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/jars/{number}")).await;
        }
        other => other?,
    };
    let jar = of.jars.iter().find(|jar| jar.number == number).ok_or(Trouble::NoPage)?;
    let frame = visitor.frame(t1("decant-title", i64::from(number))).with("forms.js");
    let sent = form.text("do");
    let typed = |of_form: &str, name: &str| if sent == of_form { form.text(name) } else { String::new() };
    let sizes = (0..SIZES).map(|place| {
        let of_place = cures.iter().filter(|(name, _)| name.starts_with(&format!("into/{place}/")));
        Size {
            place,
            jars: typed("decant", &format!("jars-{place}")),
            fill: typed("decant", &format!("fill-{place}")),
            density: typed("decant", &format!("density-{place}")),
            cure: of_place.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" "),
        }
    });
    let gone = gone(jar);
    let usable =
        !matches!(of.disposition, wire::bench::Disposition::Recalled | wire::bench::Disposition::Discarded);
    let page_of = JarOnShelf {
        id,
        number,
        batch_number: of.number.clone(),
        fill: jar.fill.clone(),
        until: jar.use_by.as_ref().map_or_else(|| t("jar-undated"), |day| frame.day(day)),
        stands: stands(of.disposition),
        may: gone.is_empty() && usable,
        gone,
        sizes: sizes.collect(),
        reason: typed("decant", "reason"),
        sample_reason: typed("sample", "reason"),
        sent,
        cures,
        once: visitor.pages().once(),
        frame,
    };
    page(status, &page_of)
}

async fn view(visitor: Visitor, at: Path<(String, String)>) -> Result<HttpResponse, Trouble> {
    let at = place(&at)?;
    shown(&visitor, at, StatusCode::OK, &Form::default(), Vec::new()).await
}

fn place((id, number): &(String, String)) -> Result<(BatchId, u32), Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    Ok((id, number.parse().map_err(|_| Trouble::NoPage)?))
}

/// The sizes that were typed. Each stands in the field that it was typed into; one left empty is none.
fn sizes(form: &Form) -> (Vec<usize>, Vec<DecantInto>) {
    let typed = |place: usize| {
        let field = |name: &str| form.given(&format!("{name}-{place}"));
        let (jars, fill) = (field("jars"), field("fill"));
        (jars.is_some() || fill.is_some()).then(|| {
            // What is no number of jars is refused by the use case as none.
            let jars = jars.and_then(|jars| jars.parse().ok()).unwrap_or_default();
            (place, DecantInto { jars, fill: fill.unwrap_or_default(), density: field("density") })
        })
    };
    (0..SIZES).filter_map(typed).unzip()
}

async fn act(visitor: Visitor, at: Path<(String, String)>, form: Form) -> Result<HttpResponse, Trouble> {
    let (id, number) = place(&at)?;
    let here = format!("/batches/{id}/jars/{number}");
    let once = form.once(&format!("POST {here}"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let of = match jars::jars(clinic, credentials, id).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(&visitor, &outstanding, here).await;
        }
        other => other?,
    };
    let jar = of.jars.iter().find(|jar| jar.number == number).ok_or(Trouble::NoPage)?.id;
    let (places, into) = sizes(&form);
    let done = match form.text("do").as_str() {
        "decant" => {
            let request = NewDecanting { into, reason: form.text("reason") };
            jars::decant(clinic, credentials, &once, jar, &request).await
        }
        "sample" => {
            let request = NewSample { reason: form.text("reason") };
            jars::keep_as_sample(clinic, credentials, &once, jar, &request).await
        }
        _ => return Err(Trouble::Malformed),
    };
    match done {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/batches/{id}/jars"))),
        Err(clinic::Error::GateClosed(outstanding)) => formula::gate(&visitor, &outstanding, here).await,
        Err(error) => {
            let cures =
                form::faults(error)?.into_iter().map(|(field, cure)| (shown_at(&places, &field), cure));
            shown(&visitor, (id, number), StatusCode::UNPROCESSABLE_ENTITY, &form, cures.collect()).await
        }
    }
}

/// The field of the page for a field of the request: a size stands where it was typed.
fn shown_at(places: &[usize], field: &str) -> String {
    let of_size = field.strip_prefix("into/").and_then(|rest| rest.split_once('/'));
    let place = of_size.and_then(|(at, name)| Some((places.get(at.parse::<usize>().ok()?)?, name)));
    place.map_or_else(|| field.to_owned(), |(place, name)| format!("into/{place}/{name}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_stands_where_it_was_typed() {
        let form = Form::parse(b"jars-0=&fill-0=&jars-2=3&fill-2=10+g").unwrap();
        let (places, into) = sizes(&form);
        assert_eq!((places.as_slice(), into.len(), into[0].jars), (&[2_usize][..], 1, 3));
        assert_eq!(shown_at(&places, "into/0/fill"), "into/2/fill");
        assert_eq!(shown_at(&places, "reason"), "reason");
    }
}
