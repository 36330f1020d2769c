//! The work that is set, as lists: a student's own, and the classes of those who teach.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Query;
use askama::Template;
use clinic::teaching;
use wire::ids::AssignmentId;
use wire::page::PageQuery;
use wire::people::Role;
use wire::teaching::{Cohort, CohortAssignment, CohortTime, OwnAssignment, WorkState};

use crate::answer::page;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::own_work::{clock, when};
use crate::routes::people::After;
use crate::texts::{t, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/assignments", list);
}

/// An assignment of a student, as a line of a list.
pub(super) struct Work {
    pub(super) id: AssignmentId,
    pub(super) title: String,
    pub(super) cohort: String,
    pub(super) state: WorkState,
    /// The day that it is due, for the left pan.
    pub(super) day: String,
    pub(super) due: String,
    pub(super) questions: u32,
    pub(super) answered: u32,
}

impl Work {
    fn of(frame: &Frame, own: OwnAssignment) -> Self {
        let at = clock(&own.due);
        Self {
            id: own.id,
            title: own.title,
            cohort: own.cohort_name,
            state: own.state,
            day: frame.short_day(&at.date_naive()),
            due: when(frame, &own.due),
            questions: own.questions,
            answered: own.answered,
        }
    }

    /// How it stands.
    pub(super) fn stands(&self) -> String {
        // word("work")
        t(&format!("work-{}", self.state))
    }

    /// How many of its questions are answered.
    pub(super) fn answers(&self) -> String {
        match self.questions {
            0 => t("no-questions"),
            all => t2("questions-answered", self.answered, all),
        }
    }
}

/// How many assignments the first page shows.
const SHOWN: usize = 5;

/// What is due of a student, the soonest first; the first few.
pub(super) async fn due(visitor: &Visitor, frame: &Frame) -> Result<Vec<Work>, Trouble> {
    let query = PageQuery { limit: Some(100), after: None };
    let all = teaching::own_assignments(visitor.clinic(), visitor.credentials(), &query).await?;
    use WorkState as S;
    let waits = |own: &OwnAssignment| matches!(own.state, S::Open | S::Due | S::Late | S::Returned);
    let mut waiting: Vec<OwnAssignment> = all.items.into_iter().filter(waits).collect();
    waiting.sort_by_key(|own| own.due.at);
    waiting.truncate(SHOWN);
    Ok(waiting.into_iter().map(|own| Work::of(frame, own)).collect())
}

/// A cohort with its assignments, for those who teach it.
struct Class {
    cohort: Cohort,
    assignments: Vec<CohortAssignment>,
}

#[derive(Template)]
#[template(path = "work_list.html")]
struct ListPage {
    frame: Frame,
    works: Vec<Work>,
    classes: Vec<Class>,
    next: String,
    student: bool,
    /// Instructors make classes.
    instructor: bool,
}

impl ListPage {
    fn state(&self, of: &CohortAssignment) -> String {
        // word("assignment")
        t(&format!("assignment-{}", of.state))
    }

    fn day(&self, time: &CohortTime) -> String {
        self.frame.short_day(&clock(time).date_naive())
    }
}

async fn list(visitor: Visitor, after: Query<After>) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let student = visitor.role() == Role::Student;
    let frame = visitor.frame(if student { t("assignments-title") } else { t("classes-title") });
    let (mut works, mut classes) = (Vec::new(), Vec::new());
    let next = if student {
        let found = teaching::own_assignments(clinic, credentials, &after.query()).await?;
        works = found.items.into_iter().map(|own| Work::of(&frame, own)).collect();
        found.next
    } else {
        let found = teaching::cohorts(clinic, credentials, &after.query()).await?;
        for cohort in found.items {
            // An administrator looks after the people and sees no work.
            let of = match cohort.role {
                Some(_) => {
                    teaching::assignments_of(clinic, credentials, cohort.id, &PageQuery::default())
                        .await?
                        .items
                }
                None => Vec::new(),
            };
            classes.push(Class { cohort, assignments: of });
        }
        found.next
    };
    let next = next.map(|next| format!("/assignments?after={next}")).unwrap_or_default();
    page(
        StatusCode::OK,
        &ListPage { frame, works, classes, next, student, instructor: visitor.role() == Role::Instructor },
    )
}
