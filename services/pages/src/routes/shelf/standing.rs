//! How a lot stands, in words; who keeps the stock; and a lot by its number.

use chrono::NaiveDate;
use clinic::stock;
use wire::ids::LotId;
use wire::people::Role;
use wire::stock::{LotQuery, LotState, LotSummary};

use crate::frame::Frame;
use crate::texts::{t, t1, t2};
use crate::visitor::Visitor;

/// A day with its year, such as "30 Jun 2028", for the left pan.
pub(super) fn until(frame: &Frame, day: &NaiveDate) -> String {
    t2("date-with-year", frame.short_day(day), day.format("%Y").to_string())
}

/// How a lot stands, in words.
pub(super) fn stands(frame: &Frame, lot: &LotSummary) -> String {
    let mut said = vec![match (lot.state, lot.expired) {
        (LotState::Usable, true) => t("lot-expired"),
        // word("lot-state")
        (state, _) => t(&format!("lot-state-{state}")),
    }];
    if let Some(day) = &lot.opened {
        said.push(t1("lot-opened", frame.day(day)));
    }
    match &lot.on_hand_grams {
        _ if lot.used_up => said.push(t("lot-used-up")),
        Some(grams) => said.push(t1("lot-left", grams.clone())),
        None => {}
    }
    said.join(" ")
}

/// Whether a role keeps the stock. The use cases prove it anew.
pub(super) const fn keeps(role: Role) -> bool {
    matches!(role, Role::Instructor | Role::Administrator)
}

/// The lot with a number that was typed or read from a container.
pub(super) async fn numbered(visitor: &Visitor, number: &str) -> Result<Option<LotId>, clinic::Error> {
    let query = LotQuery { number: Some(number.to_owned()), ..LotQuery::default() };
    let found = stock::lots(visitor.clinic(), visitor.credentials(), &query).await?;
    Ok(found.items.first().map(|lot| lot.id))
}
