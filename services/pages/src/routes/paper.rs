//! Printing a batch: its labels with their size and paper and how one looks, the sheet for the bench, the record.

use actix_web::HttpResponse;
use actix_web::http::{StatusCode, header};
use actix_web::web::{Path, Query};
use askama::Template;
use serde::{Deserialize, Serialize};
use wire::ids::BatchId;
use wire::jars::Jars;
use wire::label::{BatchLabelQuery, JarLabelImageQuery, JarLabelQuery, LabelImageQuery, LabelPrintQuery};
use wire::problem::FieldError;

use crate::answer::page;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/labels", labels);
    mount.get("/batches/{id}/label.pdf", pdf);
    mount.get("/batches/{id}/label.png", png);
    mount.get("/batches/{id}/leaflet.pdf", leaflet);
    mount.get("/batches/{id}/jars/labels.pdf", jar_labels);
    mount.get("/batches/{id}/jars/{number}/label.png", jar_label);
    mount.get("/batches/{id}/jars/leaflet.pdf", jar_leaflet);
    mount.get("/batches/{id}/sheet.pdf", sheet);
    mount.get("/batches/{id}/record.pdf", record);
}

/// What was asked, as it stands in the address.
#[derive(Clone, Default, Deserialize, Serialize)]
#[serde(default)]
struct Asked {
    /// `jars` for a label of each jar, else labels that are all alike.
    of: String,
    jars: String,
    size: String,
    net: String,
    copies: String,
    paper: String,
    top: String,
    left: String,
    gap_across: String,
    gap_down: String,
    used: String,
}

/// A field of the form: its name, its label, what stands in it, and its cure.
struct Field {
    name: &'static str,
    label: String,
    value: String,
    cure: String,
}

#[derive(Template)]
#[template(path = "labels.html")]
struct LabelsPage {
    frame: Frame,
    id: BatchId,
    number: String,
    fields: Vec<Field>,
    /// Where labels stand on a sheet.
    places: Vec<Field>,
    /// Whether there are jars, so that each can have a label of its own.
    has_jars: bool,
    of_jars: bool,
    /// Why the labels of jars have no code to scan.
    no_scan: String,
    /// What labels are printed on: word, name, chosen.
    papers: Vec<(&'static str, String, bool)>,
    paper_cure: String,
    /// What was not accepted and belongs to no field.
    fault: String,
    /// The question as an address; empty until it was accepted.
    asked: String,
    /// The addresses of one label, of all of them, and of the leaflet.
    image: String,
    document: String,
    leaflet_at: String,
    /// What a screen reader hears in the image's place.
    said: String,
    leaflet: bool,
    missing: Vec<String>,
    marks: Vec<String>,
}

impl LabelsPage {
    /// Whether a place on the sheet was not accepted, and so has to be seen.
    fn placed_wrongly(&self) -> bool {
        self.places.iter().any(|field| !field.cure.is_empty())
    }
}

const PAPERS: [&str; 3] = ["a4", "letter", "roll"];

fn given(text: &str) -> Option<String> {
    Some(text.trim().to_owned()).filter(|text| !text.is_empty())
}

/// A whole number; what is none is refused as 0 copies or as more used labels than any sheet has.
fn number(text: &str, otherwise: u32) -> Option<u32> {
    given(text).map(|text| text.parse().unwrap_or(otherwise))
}

impl Asked {
    fn query(&self) -> LabelPrintQuery {
        LabelPrintQuery {
            size: given(&self.size),
            net: given(&self.net),
            copies: number(&self.copies, 0),
            paper: given(&self.paper),
            top: given(&self.top),
            left: given(&self.left),
            gap_across: given(&self.gap_across),
            gap_down: given(&self.gap_down),
            used: number(&self.used, u32::MAX),
        }
    }

    fn jar_query(&self) -> JarLabelQuery {
        let LabelPrintQuery { size, paper, top, left, gap_across, gap_down, used, .. } = self.query();
        JarLabelQuery { jars: given(&self.jars), size, paper, top, left, gap_across, gap_down, used }
    }

    fn image(&self) -> LabelImageQuery {
        LabelImageQuery { size: given(&self.size), net: given(&self.net), dpi: None }
    }

    /// The first fields, and those that say where labels stand on a sheet.
    // word("print")
    fn fields(&self, cures: &[FieldError]) -> (Vec<Field>, Vec<Field>) {
        let field = |(name, value): (&'static str, &String)| Field {
            name,
            label: t(&format!("print-{}", name.replace('_', "-"))),
            value: value.clone(),
            cure: cure(cures, name),
        };
        let alike = [("net", &self.net), ("copies", &self.copies)];
        let of_each = [("jars", &self.jars)];
        let first = std::iter::once(("size", &self.size));
        let first: Vec<_> = match self.of == "jars" {
            true => first.chain(of_each).collect(),
            false => first.chain(alike).collect(),
        };
        let places = [
            ("top", &self.top),
            ("left", &self.left),
            ("gap_across", &self.gap_across),
            ("gap_down", &self.gap_down),
            ("used", &self.used),
        ];
        (first.into_iter().map(field).collect(), places.into_iter().map(field).collect())
    }

    /// What a form begins with: the size of a common jar's label, and the edges that printers need.
    fn usual(net: String) -> Self {
        let [size, copies, paper, edge, gap, used] =
            ["60 x 40 mm", "1", "a4", "10 mm", "0 mm", "0"].map(str::to_owned);
        let (top, left, gap_across) = (edge.clone(), edge, gap.clone());
        let (of, jars) = (String::new(), String::new());
        Self { of, jars, size, net, copies, paper, top, left, gap_across, gap_down: gap, used }
    }
}

fn cure(cures: &[FieldError], name: &str) -> String {
    let of = cures.iter().filter(|one| one.pointer.trim_start_matches('?') == name);
    of.map(|one| one.detail.clone()).collect::<Vec<_>>().join(" ")
}

/// What was tried with the answers of the form: what stands on the label, and where to print it.
struct Tried {
    said: String,
    leaflet: bool,
    image: String,
    document: String,
    leaflet_at: String,
}

impl Tried {
    fn at(id: BatchId, image: &str, of: &str, said: String, leaflet: bool) -> Self {
        let at = |name: &str| format!("/batches/{id}/{name}");
        let (document, leaflet_at) = match of {
            "jars" => (at("jars/labels.pdf"), at("jars/leaflet.pdf")),
            _ => (at("label.pdf"), at("leaflet.pdf")),
        };
        Self { said, leaflet, image: at(image), document, leaflet_at }
    }
}

/// The jars of a batch for whoever may read them, where there are some.
async fn jars_of(visitor: &Visitor, id: BatchId) -> Result<Option<Jars>, Trouble> {
    match clinic::jars::jars(visitor.clinic(), visitor.credentials(), id).await {
        Ok(found) => Ok(Some(found).filter(|found| !found.jars.is_empty())),
        Err(clinic::Error::GateClosed(_) | clinic::Error::NotFound(_) | clinic::Error::Forbidden(_)) => {
            Ok(None)
        }
        Err(other) => Err(other.into()),
    }
}

async fn labels(visitor: Visitor, id: Path<String>, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let id = id_of(&id)?;
    let mut asked = asked.into_inner();
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let area = given(&asked.size);
    // The size is judged with the other fields; here it only decides what goes to the leaflet.
    let plain = BatchLabelQuery { net: None, area: None };
    let sized = BatchLabelQuery { net: None, area };
    let label = match clinic::bench::label(clinic, credentials, id, &sized).await {
        Err(clinic::Error::Invalid(_)) => clinic::bench::label(clinic, credentials, id, &plain).await?,
        other => other?,
    };
    let jars = jars_of(&visitor, id).await?;
    let begins = asked.size.is_empty();
    if begins {
        asked = Asked {
            of: if jars.is_some() { "jars".into() } else { String::new() },
            ..Asked::usual(label.net_contents.as_ref().map(|net| net.text.clone()).unwrap_or_default())
        };
    } else if jars.is_none() {
        asked.of = String::new();
    }
    let of_jars = asked.of == "jars";
    let tried = match (begins, of_jars) {
        (true, _) => Ok(None),
        (false, true) => {
            print::jar_labels_shown(clinic, credentials, id, &asked.jar_query()).await.map(|shown| {
                let said = format!("{} {}", shown.said, t1("print-jar", i64::from(shown.first)));
                let image = format!("jars/{}/label.png", shown.first);
                Some(Tried::at(id, &image, "jars", said, shown.leaflet))
            })
        }
        (false, false) => print::batch_labels(clinic, credentials, id, &asked.query()).await.map(|_| {
            let jar = label.layout.iter().flat_map(|layout| &layout.jar);
            let said: Vec<&str> = jar.map(|piece| piece.text.as_str()).collect();
            let leaflet = label.layout.as_ref().is_some_and(|layout| !layout.leaflet.is_empty());
            Some(Tried::at(id, "label.png", "", said.join(" "), leaflet))
        }),
    };
    let (cures, fault, accepted) = match tried {
        Ok(accepted) => (Vec::new(), String::new(), accepted),
        Err(clinic::Error::Invalid(cures)) => (cures, String::new(), None),
        Err(clinic::Error::State { detail, .. }) => (Vec::new(), detail, None),
        Err(other) => return Err(other.into()),
    };
    let number = label.batch_number.as_ref().map(|number| number.text.clone()).unwrap_or_default();
    let status =
        if cures.is_empty() && fault.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let (fields, places) = asked.fields(&cures);
    // word("print-paper")
    let papers = PAPERS.map(|one| (one, t(&format!("print-paper-{one}")), one == asked.paper));
    let as_asked = serde_urlencoded::to_string(&asked).unwrap_or_default();
    let found = accepted.is_some();
    let shown = accepted.unwrap_or_else(|| Tried::at(id, "", "", String::new(), false));
    let page_of = LabelsPage {
        frame: visitor.frame(t1("print-title", number.clone())),
        id,
        number,
        fields,
        places,
        has_jars: jars.is_some(),
        of_jars,
        no_scan: jars.and_then(|jars| jars.no_scan).filter(|_| of_jars).unwrap_or_default(),
        papers: papers.into(),
        paper_cure: cure(&cures, "paper"),
        fault,
        asked: if found { as_asked } else { String::new() },
        image: shown.image,
        document: shown.document,
        leaflet_at: shown.leaflet_at,
        said: shown.said,
        leaflet: shown.leaflet,
        // Each jar knows what it holds.
        missing: label
            .missing
            .into_iter()
            .filter(|one| !(of_jars && one.starts_with("net_contents:")))
            .collect(),
        marks: label.marks.into_iter().map(|mark| mark.text).collect(),
    };
    page(status, &page_of)
}

async fn jar_labels(
    visitor: Visitor,
    id: Path<String>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let bytes = print::jar_labels(clinic, credentials, id_of(&id)?, &asked.jar_query()).await?;
    Ok(document("application/pdf", "jars.pdf", bytes))
}

async fn jar_label(
    visitor: Visitor,
    path: Path<(String, String)>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let (id, number) = path.into_inner();
    let number = number.parse().map_err(|_| Trouble::NoPage)?;
    let query = JarLabelImageQuery { size: given(&asked.size), dpi: None };
    let bytes = print::jar_label_image(clinic, credentials, id_of(&id)?, number, &query).await?;
    Ok(document("image/png", "label.png", bytes))
}

async fn jar_leaflet(
    visitor: Visitor,
    id: Path<String>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let query = JarLabelImageQuery { size: given(&asked.size), dpi: None };
    let bytes = print::jar_leaflet(clinic, credentials, id_of(&id)?, &query).await?;
    Ok(document("application/pdf", "leaflet.pdf", bytes))
}

async fn pdf(visitor: Visitor, id: Path<String>, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let bytes = print::batch_labels(clinic, credentials, id_of(&id)?, &asked.query()).await?;
    Ok(document("application/pdf", "labels.pdf", bytes))
}

async fn png(visitor: Visitor, id: Path<String>, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let bytes = print::batch_label_image(clinic, credentials, id_of(&id)?, &asked.image()).await?;
    Ok(document("image/png", "label.png", bytes))
}

async fn leaflet(visitor: Visitor, id: Path<String>, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let bytes = print::batch_leaflet(clinic, credentials, id_of(&id)?, &asked.image()).await?;
    Ok(document("application/pdf", "leaflet.pdf", bytes))
}

async fn sheet(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let bytes = print::batch_sheet(visitor.clinic(), visitor.credentials(), id_of(&id)?).await?;
    Ok(document("application/pdf", "sheet.pdf", bytes))
}

async fn record(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let bytes = print::batch_record(visitor.clinic(), visitor.credentials(), id_of(&id)?).await?;
    Ok(document("application/pdf", "record.pdf", bytes))
}

fn document(kind: &str, name: &str, bytes: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type(kind)
        .insert_header((header::CONTENT_DISPOSITION, format!("inline; filename=\"{name}\"")))
        .body(bytes)
}

fn id_of(id: &str) -> Result<BatchId, Trouble> {
    id.parse().map_err(|_| Trouble::NoPage)
}
