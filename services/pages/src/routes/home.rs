//! The first page of each role: what its reader does next.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use clinic::overview::{self, BatchInHand, OpenRecipe};
use wire::handovers::Handover;

use crate::answer::page;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::bench::{handovers, long_work};
use crate::routes::jars::observing::{self, Due};
use crate::routes::work_list::{self, Work};
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/today", today);
}

#[derive(Template)]
#[template(path = "today.html")]
struct TodayPage {
    frame: Frame,
    now: String,
    day: String,
    bench: Vec<BatchInHand>,
    more_bench: bool,
    returned: Vec<BatchInHand>,
    due: Vec<Work>,
    decided: Vec<BatchInHand>,
    /// Batches whose samples are to be looked at.
    samples: Vec<Due>,
    /// The visitor's batches that are to be looked at or taken up again.
    long: Vec<long_work::Due>,
    /// Batches that are offered to the visitor.
    offered: Vec<Handover>,
    recipes: Vec<OpenRecipe>,
}

impl TodayPage {
    fn until(&self, recipe: &OpenRecipe) -> String {
        self.frame.short_day(&self.frame.day_of(&recipe.until))
    }
}

async fn today(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    let mut home = overview::student_home(visitor.clinic(), visitor.credentials()).await?;
    let more_bench = home.bench.len() > overview::SHOWN;
    home.bench.truncate(overview::SHOWN);
    let frame = visitor.frame(t("today-title"));
    let due = work_list::due(&visitor, &frame).await?;
    let samples = observing::due(&visitor, &frame).await?;
    let long = long_work::due(&visitor, &frame).await?;
    let offered = handovers::waiting(&visitor).await?;
    let now = visitor.clinic().clock().now();
    let (day, now) = (frame.short_day(&frame.today()), frame.time(&now));
    let (bench, returned, decided, recipes) = (home.bench, home.returned, home.decided, home.recipes);
    let page_of = TodayPage {
        frame,
        now,
        day,
        bench,
        more_bench,
        returned,
        due,
        decided,
        samples,
        long,
        offered,
        recipes,
    };
    page(StatusCode::OK, &page_of)
}
