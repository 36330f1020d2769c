//! Several weighings at once: each line is an entry of its own.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use wire::bench::{AtBench, EntryKind, NewEntry};
use wire::ids::BatchId;
use wire::stock::LotChoice;

use super::record::{read, writable};
use super::written::{meant, with_unit, write_entries};
use crate::acts::{self, Act};
use crate::answer::{page, to};
use crate::form::Form;
use crate::frame::Frame;
use crate::routes::shelf::at_bench::chosen;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// One line of the list, as it came back.
struct ListLine {
    act: Act,
    once: String,
    typed: String,
    cure: String,
    /// What could have been meant; one act writes it.
    instead: Vec<String>,
    /// Why it is outside the tolerance.
    deviation: String,
}

/// What was not accepted of a line: the cure, and what could have been meant.
struct Cure {
    line: String,
    said: String,
    instead: Vec<String>,
}

impl ListLine {
    /// The lot of the shelf that it is weighed from: of those that hold enough, the one that expires first.
    fn shelf(&self) -> Option<&LotChoice> {
        self.act.aid.lots.iter().find(|lot| lot.enough)
    }
}

#[derive(Template)]
#[template(path = "bench_list.html")]
struct ListPage {
    frame: Frame,
    batch: BatchId,
    title: String,
    made_for: String,
    lines: Vec<ListLine>,
    done: usize,
    all: usize,
}

pub(super) async fn list(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    list_page(&visitor, id, StatusCode::OK, &Form::default(), &[]).await
}

async fn list_page(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: &[Cure],
) -> Result<HttpResponse, Trouble> {
    let AtBench { record, aids, .. } = read(visitor, id).await?;
    if record.summary.maker != visitor.person().id || !writable(record.summary.state) {
        return Ok(to(&format!("/batches/{id}")));
    }
    let frame = visitor.frame(t("list-title")).with("forms.js");
    let acts = acts::acts(&frame, &record, &aids);
    let weighings: Vec<&Act> = acts.iter().filter(|act| act.is_weigh()).collect();
    let all = weighings.len();
    let open: Vec<Act> = weighings.into_iter().filter(|act| !act.is_written()).cloned().collect();
    let lines: Vec<ListLine> = open
        .into_iter()
        .map(|act| ListLine {
            once: form.given(&format!("once-{}", act.line)).unwrap_or_else(|| visitor.pages().once()),
            typed: form.text(&format!("q-{}", act.line)),
            deviation: form.text(&format!("deviation-{}", act.line)),
            cure: cures.iter().filter(|one| one.line == act.line).map(|one| one.said.as_str()).collect(),
            instead: cures
                .iter()
                .filter(|one| one.line == act.line)
                .flat_map(|one| one.instead.clone())
                .collect(),
            act,
        })
        .collect();
    let (title, made_for) = (record.summary.title.clone(), record.recipe.made_for.clone());
    let page_of = ListPage { frame, batch: id, title, made_for, done: all - lines.len(), all, lines };
    page(status, &page_of)
}

/// Each line is an entry with a key of its own; one that is refused stays with its cure while the others are written.
pub(super) async fn write_all(
    visitor: Visitor,
    id: Path<String>,
    form: Form,
) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let mut cures = Vec::new();
    let lines =
        form.fields().iter().filter_map(|(name, value)| Some((name.strip_prefix("q-")?, value.trim())));
    for (line, typed) in lines.filter(|(_, typed)| !typed.is_empty()) {
        // What was meant goes before what was typed, since somebody chose it.
        let instead = form.given(&format!("instead-{line}"));
        let typed = instead.as_deref().unwrap_or(typed);
        let entry = NewEntry {
            kind: EntryKind::Weighing,
            line: Some(line.to_owned()),
            quantity: Some(with_unit(typed, "g")),
            lot: form.given(&format!("lot-{line}")),
            lot_id: chosen(&form, &format!("lot_id-{line}"))?,
            lot_expires: form.given(&format!("until-{line}")),
            price: form.given(&format!("price-{line}")),
            assay: form.given(&format!("assay-{line}")),
            step: None,
            note: None,
            corrects: None,
            reason: None,
            deviation: form.given(&format!("deviation-{line}")),
            reason_later: false,
        };
        match write_entries(&visitor, id, &form.text(&format!("once-{line}")), &[entry]).await {
            Ok(_) | Err(clinic::Error::KeyReused) => {}
            Err(clinic::Error::Invalid(errors)) => {
                let said = errors.iter().map(|error| error.detail.as_str()).collect::<Vec<_>>().join(" ");
                cures.push(Cure { line: line.to_owned(), said, instead: meant(&errors, typed) });
            }
            Err(other) => return Err(other.into()),
        }
    }
    if cures.is_empty() {
        return Ok(to(&format!("/batches/{id}/bench")));
    }
    list_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, &cures).await
}
