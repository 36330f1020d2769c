//! A record as it is read: its acts with what was said of them, its submissions, and what was made.

use clinic::bench;
use clinic::overview::{self};
use wire::bench::{AtBench, BatchRecord, BatchState, Finding, FindingKind};
use wire::ids::{BatchId, PersonId};

use crate::acts::{self, Act};
use crate::dated;
use crate::effects;
use crate::figures::{self, spelled};
use crate::frame::Frame;
use crate::shown::shown;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// A comment of a review, with its writer.
pub(in crate::routes) struct Comment {
    pub(in crate::routes) who: String,
    pub(in crate::routes) text: String,
}

/// An act with what reviewers said of its entries.
pub(in crate::routes) struct Row {
    pub(in crate::routes) act: Act,
    pub(in crate::routes) comments: Vec<Comment>,
    /// Changed or added since the last submission.
    pub(in crate::routes) newer: bool,
}

impl Row {
    pub(in crate::routes) fn stands_out(&self) -> bool {
        !self.act.findings.is_empty() || !self.comments.is_empty()
    }
}

pub(super) struct Submission {
    pub(super) number: u32,
    pub(super) at: String,
    pub(super) answer: String,
    pub(super) review: Option<(String, String, String)>,
}

pub(in crate::routes) struct Made {
    pub(in crate::routes) name: String,
    pub(in crate::routes) value: String,
    pub(in crate::routes) sentence: String,
}

pub(super) struct Read {
    pub(super) record: BatchRecord,
    pub(super) names: Vec<(PersonId, String)>,
    pub(super) rows: Vec<Row>,
}

impl Read {
    /// Whether the record is marked blind, and names nobody.
    pub(super) fn is_unnamed(&self) -> bool {
        self.record.summary.maker.0.is_nil()
    }

    /// The maker's name, or the candidate, which stands in place of the number then.
    pub(super) fn maker(&self) -> String {
        if self.is_unnamed() {
            self.record.summary.number.clone()
        } else {
            self.name(self.record.summary.maker)
        }
    }

    pub(super) fn name(&self, of: PersonId) -> String {
        self.names.iter().find(|(id, _)| *id == of).map(|(_, name)| name.clone()).unwrap_or_default()
    }
}

pub(super) async fn read(visitor: &Visitor, frame: &Frame, id: BatchId) -> Result<Read, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let AtBench { record, aids, .. } = shown(&bench::at_bench(clinic, credentials, id).await?)?;
    let mut ids = vec![record.summary.maker];
    ids.extend(record.submissions.iter().filter_map(|one| Some(one.review.as_ref()?.reviewer)));
    let names = overview::names(clinic, credentials, &ids).await?;
    let name = |of: PersonId| {
        names.iter().find(|(id, _)| *id == of).map(|(_, name)| name.clone()).unwrap_or_default()
    };
    let last_at = record.submissions.iter().rev().find(|one| one.review.is_some()).map(|one| one.at);
    let mut acts = acts::acts(frame, &record, &aids);
    effects::told(visitor, &record, &mut acts).await?;
    let rows = acts
        .into_iter()
        .map(|act| {
            let ids: Vec<_> = act.written.iter().map(|written| written.id).collect();
            let of_act = |entry: &Option<wire::ids::EntryId>| {
                entry.is_some_and(|id| {
                    ids.contains(&id) || corrected_into(&record, id).is_some_and(|id| ids.contains(&id))
                })
            };
            let comments = record
                .submissions
                .iter()
                .filter_map(|one| one.review.as_ref())
                .flat_map(|review| review.comments.iter().map(move |comment| (review.reviewer, comment)))
                .filter(|(_, comment)| of_act(&comment.entry))
                .map(|(who, comment)| Comment { who: name(who), text: comment.text.clone() })
                .collect();
            let newer = last_at.is_some_and(|last| {
                record.entries.iter().any(|entry| ids.contains(&entry.id) && entry.at > last)
            });
            Row { act, comments, newer }
        })
        .collect();
    Ok(Read { record, names, rows })
}

/// The entry that stands in the place of a corrected one now.
pub(super) fn corrected_into(record: &BatchRecord, id: wire::ids::EntryId) -> Option<wire::ids::EntryId> {
    let mut now = record.entries.iter().find(|entry| entry.id == id)?;
    while let Some(next) = now.corrected_by.and_then(|id| record.entries.iter().find(|entry| entry.id == id))
    {
        now = next;
    }
    Some(now.id)
}

pub(super) fn submissions(frame: &Frame, read: &Read) -> Vec<Submission> {
    let all = read.record.submissions.iter();
    all.map(|one| Submission {
        number: one.number,
        at: frame.when(&one.at),
        answer: one.answer.clone().unwrap_or_default(),
        review: one.review.as_ref().map(|review| {
            let who = t2("who-when", read.name(review.reviewer), frame.when(&review.at));
            // word("verdict")
            (who, t(&format!("verdict-{}", review.verdict.as_str())), review.summary.clone())
        }),
    })
    .collect()
}

/// What was made, and what may become of the jars.
pub(super) fn made(frame: &Frame, record: &BatchRecord) -> Vec<Made> {
    let mut all = product(frame, record);
    if record.as_made.is_some() {
        // word("disposition")
        all.push(Made {
            name: t("the-jars"),
            value: t(&format!("disposition-{}", record.summary.disposition.as_str().replace('_', "-"))),
            sentence: String::new(),
        });
    }
    all
}

/// What was made.
pub(in crate::routes) fn product(frame: &Frame, record: &BatchRecord) -> Vec<Made> {
    let mut all = Vec::new();
    let Some(made) = &record.as_made else { return all };
    if let Some(use_by) = &made.use_by {
        let date = dated::date(frame, use_by);
        all.push(Made { name: t("use-by"), value: date.value, sentence: date.sentence });
    }
    for figure in &made.yields {
        let (value, sentence) = (figures::shown(figure).whole(), figures::beside(figure));
        all.push(Made { name: figure.name.clone(), value, sentence });
    }
    if let Some(total) = made.cost.as_ref().and_then(|cost| cost.figures.first()) {
        all.push(Made {
            name: t("cost-word"),
            value: figures::shown(total).whole(),
            sentence: String::new(),
        });
    }
    all
}

/// What is missing of the record as a whole.
pub(in crate::routes) fn missing(record: &BatchRecord) -> Vec<String> {
    let of_whole = |finding: &&Finding| match finding.kind {
        FindingKind::Missing | FindingKind::Check => finding.entry.is_none(),
        // At a line it stands with the weighing.
        FindingKind::Deviation => finding.line.is_none(),
        _ => false,
    };
    record.findings.iter().filter(of_whole).map(|finding| spelled(&finding.sentence)).collect()
}

/// The state in one sentence, and who acts next.
pub(super) fn state_of(frame: &Frame, read: &Read, own: bool) -> String {
    let record = &read.record;
    let submitted = record.submissions.last().map(|one| frame.when(&one.at)).unwrap_or_default();
    let reviewer = record.submissions.iter().rev().find_map(|one| one.review.as_ref());
    let by = reviewer.map(|review| read.name(review.reviewer)).unwrap_or_default();
    match record.summary.state {
        BatchState::Planned => t("record-planned"),
        BatchState::Making if own => t("record-making"),
        BatchState::Making => t1("record-making-by", read.maker()),
        BatchState::Submitted => t1("record-submitted", submitted),
        BatchState::Returned => t1("record-returned", by),
        BatchState::Accepted => t1("record-accepted", by),
        BatchState::Rejected => t1("record-rejected", by),
        BatchState::Abandoned => t("record-abandoned"),
    }
}
