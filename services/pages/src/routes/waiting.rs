//! The markers' queue on the pages: which work, in what order, and what stands out of each.

use clinic::{marking, teaching};
use serde::Deserialize;
use wire::ids::BatchId;
use wire::page::PageQuery;
use wire::teaching::{QueueOrder, QueueQuery, StandsOut, WaitingWork};

use crate::form::Form;
use crate::frame::Frame;
use crate::routes::own_work::when;
use crate::texts::{t, t1, t2, text};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// Which work waits, as an address or a form says. It goes along with a record, so that the next one is of the same.
#[derive(Clone, Default, Deserialize)]
#[serde(default)]
pub(super) struct Asked {
    pub(super) order: String,
    pub(super) class: String,
    pub(super) came_back: String,
    after: String,
    /// Where the other records go on.
    pub(super) rest: String,
}

/// How many are shown at once.
pub(super) const SHOWN: u32 = 20;

impl Asked {
    pub(super) fn of(form: &Form) -> Self {
        Self {
            order: form.text("order"),
            class: form.text("class"),
            came_back: form.text("came_back"),
            after: String::new(),
            rest: String::new(),
        }
    }

    fn query(&self) -> QueueQuery {
        QueueQuery {
            order: self.order.parse().ok(),
            cohort: self.class.parse().ok(),
            came_back: self.came_back().then_some(true),
            limit: Some(SHOWN),
            after: Some(self.after.clone()).filter(|after| !after.is_empty()),
        }
    }

    pub(super) fn came_back(&self) -> bool {
        !self.came_back.is_empty()
    }

    /// The address of the same queue where the other records go on.
    pub(super) fn with_rest(&self, next: &str) -> String {
        let suffix = self.suffix();
        format!("/queue{suffix}{}rest={next}#rev", if suffix.is_empty() { "?" } else { "&" })
    }

    /// What it adds to an address. Only what was understood goes along.
    pub(super) fn suffix(&self) -> String {
        let query = self.query();
        let mut parts = Vec::new();
        parts.extend(query.order.map(|order| format!("order={order}")));
        parts.extend(query.cohort.map(|cohort| format!("class={cohort}")));
        parts.extend(query.came_back.map(|_| "came_back=yes".to_owned()));
        if parts.is_empty() { String::new() } else { format!("?{}", parts.join("&")) }
    }
}

/// Something to choose in the filter.
pub(super) struct Choice {
    pub(super) value: String,
    pub(super) words: String,
    pub(super) chosen: bool,
}

/// One line of the queue.
pub(super) struct Line {
    pub(super) work: WaitingWork,
    /// The one thing that stands out; empty of clean work.
    pub(super) stands_out: String,
    /// Who holds it; empty where nobody does.
    pub(super) held: String,
}

/// The queue as a page shows it.
pub(super) struct Waiting {
    pub(super) asked: Asked,
    pub(super) lines: Vec<Line>,
    pub(super) next: String,
    pub(super) orders: Vec<Choice>,
    /// The classes to choose from, where there are several.
    pub(super) classes: Vec<Choice>,
}

/// The work that waits, without its words.
pub(super) async fn first(visitor: &Visitor, asked: &Asked) -> Result<Vec<WaitingWork>, Trouble> {
    Ok(marking::queue(visitor.clinic(), visitor.credentials(), &asked.query()).await?.items)
}

/// The queue as it was asked for.
pub(super) async fn waiting(visitor: &Visitor, frame: &Frame, asked: Asked) -> Result<Waiting, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let query = asked.query();
    let found = marking::queue(clinic, credentials, &query).await?;
    let next = found.next.map(|after| {
        let suffix = asked.suffix();
        format!("/queue{suffix}{}after={after}", if suffix.is_empty() { "?" } else { "&" })
    });
    let all = PageQuery { limit: Some(100), after: None };
    let classes = teaching::cohorts(clinic, credentials, &all).await?.items.into_iter();
    let classes: Vec<Choice> = classes
        .filter(|class| class.role.is_some())
        .map(|class| Choice {
            value: class.id.to_string(),
            words: class.name,
            chosen: query.cohort == Some(class.id),
        })
        .collect();
    let order = query.order.unwrap_or(QueueOrder::Exceptions);
    let orders = QueueOrder::ALL.iter().map(|one| Choice {
        value: one.to_string(),
        // word("queue-by")
        words: t(&format!("queue-by-{one}")),
        chosen: *one == order,
    });
    let me = visitor.person().id;
    let line = |work: WaitingWork| Line {
        stands_out: stands_out(frame, &work),
        held: work
            .claim
            .as_ref()
            .map(|claim| {
                let until = when(frame, &claim.until);
                match claim.marker == me {
                    true => t1("claim-yours", until),
                    false => t2("held-by", claim.marker_name.clone().unwrap_or_default(), until),
                }
            })
            .unwrap_or_default(),
        work,
    };
    Ok(Waiting {
        lines: found.items.into_iter().map(line).collect(),
        next: next.unwrap_or_default(),
        orders: orders.collect(),
        classes: if classes.len() > 1 { classes } else { Vec::new() },
        asked,
    })
}

fn stands_out(frame: &Frame, work: &WaitingWork) -> String {
    let Some(what) = work.stands_out else { return String::new() };
    match what {
        StandsOut::CameBack => t1("stands-came-back", i64::from(work.number)),
        StandsOut::Noted => t("stands-noted"),
        StandsOut::Late => t1("stands-late", when(frame, &work.due)),
        StandsOut::Found => {
            // word("found")
            let kind = work.finding.map(|kind| t(&format!("found-{}", kind.as_str().replace('_', "-"))));
            let values = [("a", i64::from(work.findings).into()), ("b", kind.unwrap_or_default().into())];
            text("stands-found", &values)
        }
    }
}

/// The address of the review of a record, with the queue that it was opened from.
pub(super) fn review_of(id: BatchId, asked: &Asked) -> String {
    format!("/batches/{id}/review{}", asked.suffix())
}
