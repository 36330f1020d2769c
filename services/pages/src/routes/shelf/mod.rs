//! The shelf: which lots there are, receiving one, and what was decided of it.

pub(super) mod at_bench;
pub(super) mod fields;
mod jars;
mod lot;
pub(super) mod made;
mod receive;
pub(super) mod reserve;
mod standing;
mod threshold;

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Query;
use askama::Template;
use clinic::stock;
use serde::Deserialize;
use wire::stock::{LotQuery, LotState, LotSummary, MaterialStock, StockQuery};

use self::standing::{keeps, numbered, stands, until};
use crate::answer::{page, to};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/shelf", shelf);
    jars::routes(mount);
    receive::routes(mount);
    reserve::routes(mount);
    lot::routes(mount);
    made::routes(mount);
    threshold::routes(mount);
}

/// In how many days a lot counts as expiring soon.
const SOON: u16 = 60;

/// Which part of the shelf is shown.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Usable,
    Quarantine,
    Expiring,
    Low,
}

impl Part {
    const fn word(self) -> &'static str {
        // word("shelf")
        match self {
            Self::Usable => "usable",
            Self::Quarantine => "quarantine",
            Self::Expiring => "expiring",
            Self::Low => "low",
        }
    }
}

/// What was asked for, as the address says.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    show: String,
    number: String,
    after: String,
}

#[derive(Template)]
#[template(path = "shelf.html")]
struct ShelfPage {
    frame: Frame,
    /// The parts of the shelf: address, words, whether it is shown.
    parts: Vec<(String, String, bool)>,
    lots: Vec<LotSummary>,
    stocks: Vec<MaterialStock>,
    low: bool,
    none: String,
    number: String,
    not_found: bool,
    next: String,
    keeper: bool,
    reads_jars: bool,
}

impl ShelfPage {
    fn until(&self, lot: &LotSummary) -> String {
        until(&self.frame, &lot.keeps_until)
    }

    fn stands(&self, lot: &LotSummary) -> String {
        stands(&self.frame, lot)
    }

    fn cost(&self, stock: &MaterialStock) -> String {
        let sums = stock.cost.iter().map(|cost| format!("{} {}", cost.amount, cost.currency));
        let mut said = sums.collect::<Vec<_>>().join(", ");
        if !said.is_empty() {
            said = t1("stock-cost", said);
        }
        if stock.lots_without_cost > 0 {
            said = format!("{said} {}", self.frame.count("stock-without-cost", stock.lots_without_cost));
        }
        said.trim_start().to_owned()
    }
}

async fn shelf(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let asked = asked.into_inner();
    let keeper = keeps(visitor.role());
    let number = asked.number.trim().to_owned();
    if !number.is_empty()
        && let Some(lot) = numbered(&visitor, &number).await?
    {
        return Ok(to(&format!("/shelf/lots/{lot}")));
    }
    let mut offered = vec![Part::Usable, Part::Quarantine, Part::Expiring];
    if keeper {
        offered.push(Part::Low);
    }
    let part = offered.iter().find(|part| part.word() == asked.show).copied().unwrap_or(Part::Usable);
    let after = Some(asked.after.clone()).filter(|after| !after.is_empty());
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let (mut lots, mut stocks) = (Vec::new(), Vec::new());
    let next = if part == Part::Low {
        // Every material stands here, those that run low before the others.
        let query = StockQuery { low: None, limit: Some(50), after };
        let found = stock::stocks(clinic, credentials, &query).await?;
        stocks = found.items;
        stocks.sort_by_key(|stock| !stock.low);
        found.next
    } else {
        let mut query = LotQuery { limit: Some(50), after, ..LotQuery::default() };
        match part {
            Part::Quarantine => query.state = Some(LotState::Quarantine),
            Part::Expiring => query.expiring_within_days = Some(SOON),
            Part::Usable | Part::Low => query.state = Some(LotState::Usable),
        }
        let found = stock::lots(clinic, credentials, &query).await?;
        lots = found.items;
        found.next
    };
    let next = next.map(|next| {
        let query = [("show", part.word()), ("after", &next)];
        format!("/shelf?{}", serde_urlencoded::to_string(query).unwrap_or_default())
    });
    let words = |part: Part| t(&format!("shelf-{}", part.word()));
    let page_of = ShelfPage {
        frame: visitor.frame(t("shelf-title")),
        parts: offered
            .iter()
            .map(|one| (format!("/shelf?show={}", one.word()), words(*one), *one == part))
            .collect(),
        lots,
        stocks,
        low: part == Part::Low,
        // word("shelf-none")
        none: t(&format!("shelf-none-{}", part.word())),
        not_found: !number.is_empty(),
        number,
        next: next.unwrap_or_default(),
        keeper,
        reads_jars: jars::reads_jars(visitor.role()),
    };
    page(StatusCode::OK, &page_of)
}
