//! Finding a formula, by its title, by what is in it, by its kind, and by whom it suits.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Query;
use askama::Template;
use clinic::overview::{self, Found, Search};
use serde::Deserialize;
use wire::formulary::Regime;
use wire::ids::RevisionId;
use wire::safety::AudienceSuits;

use crate::answer::page;
use crate::audience::{Choice, choices};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/formulas", find);
}

/// What was asked, as it stands in the address.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    q: String,
    kind: String,
    regime: String,
    audience: String,
    age: String,
    which: String,
    /// Set where only those are shown against which nothing but care is recorded for the audience.
    fits: String,
    after: String,
    after_id: String,
}

struct Row {
    found: Found,
    /// Whom it suits, where that was asked.
    suits: String,
    rank: u8,
}

#[derive(Template)]
#[template(path = "find.html")]
struct FindPage {
    frame: Frame,
    asked: Asked,
    kinds: Vec<String>,
    regimes: Vec<(&'static str, String)>,
    audiences: Vec<Choice>,
    /// Some groups of people, each with how many of the formulas shown suit it, and the address that shows these.
    whom: Vec<(String, usize, String)>,
    rows: Vec<Row>,
    next: String,
    searched: bool,
    instructor: bool,
}

async fn find(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let asked = asked.into_inner();
    let search = Search {
        text: asked.q.trim().to_owned(),
        kind: Some(asked.kind.clone()).filter(|kind| !kind.is_empty()),
        regime: asked.regime.parse().ok(),
        after: asked.after_id.parse().ok().map(|id| (asked.after.clone(), id)),
    };
    let (mut found, kinds) = overview::search(visitor.clinic(), visitor.credentials(), &search).await?;
    let more = found.len() > overview::PAGE;
    found.truncate(overview::PAGE);
    let next = match found.last().filter(|_| more) {
        Some(last) => further(&asked, last),
        None => String::new(),
    };
    let audience = crate::audience::asked(&asked.audience, &asked.age, &asked.which);
    let approved: Vec<RevisionId> = found.iter().filter_map(|one| one.approved).collect();
    let groups: Vec<String> =
        GROUPS.iter().map(|(group, _)| (*group).to_owned()).chain(audience.clone()).collect();
    let answers =
        clinic::formulary::suiting(visitor.clinic(), visitor.credentials(), &approved, &groups).await?;
    let answer = |one: &Found, group: usize| {
        let of_one = answers.iter().find(|(id, _)| Some(*id) == one.approved)?;
        of_one.1.get(group).copied()
    };
    let whom = GROUPS.iter().enumerate().map(|(at, (group, name))| {
        let fitting = found.iter().filter(|one| answer(one, at).is_some_and(fits)).count();
        (t(name), fitting, of_group(&asked, group))
    });
    let whom = whom.collect();
    let mut rows = Vec::with_capacity(found.len());
    for one in found {
        let asked_for = audience.as_ref().and_then(|_| answer(&one, GROUPS.len()));
        if !asked.fits.is_empty() && audience.is_some() && !asked_for.is_some_and(fits) {
            continue;
        }
        let (suits, rank) = asked_for.map(suits).unwrap_or_default();
        rows.push(Row { found: one, suits, rank });
    }
    if audience.is_some() {
        rows.sort_by_key(|row| row.rank);
    }
    let searched =
        !asked.q.is_empty() || !asked.kind.is_empty() || search.regime.is_some() || audience.is_some();
    let audiences = choices(&asked.audience);
    let instructor = visitor.role() == wire::people::Role::Instructor;
    let frame = visitor.frame(t("formulas-title")).with("follow.js");
    let regimes = Regime::ALL.iter().map(|one| (one.as_str(), one.as_str().replace('_', " "))).collect();
    page(
        StatusCode::OK,
        &FindPage { frame, asked, kinds, regimes, audiences, whom, rows, next, searched, instructor },
    )
}

// word("whom")
/// The groups of people that are counted, and their names.
const GROUPS: [(&str, &str); 5] = [
    ("pregnant", "whom-pregnant"),
    ("breast-feeding", "whom-breast-feeding"),
    ("age:2", "whom-two"),
    ("age:6", "whom-six"),
    ("age:12", "whom-twelve"),
];

/// Whether nothing, or nothing but care, is recorded against it.
const fn fits(answer: AudienceSuits) -> bool {
    matches!(answer, AudienceSuits::NothingKnownAgainst | AudienceSuits::WithCare)
}

/// The address that shows what suits a group, of what was asked for besides.
fn of_group(asked: &Asked, group: &str) -> String {
    let (audience, age) = match group.strip_prefix("age:") {
        Some(age) => ("age", age),
        None => (group, ""),
    };
    let pairs = [
        ("q", asked.q.as_str()),
        ("kind", asked.kind.as_str()),
        ("regime", asked.regime.as_str()),
        ("audience", audience),
        ("age", age),
        ("fits", "yes"),
        ("after", asked.after.as_str()),
        ("after_id", asked.after_id.as_str()),
    ];
    address(&pairs)
}

fn address(pairs: &[(&str, &str)]) -> String {
    let given: Vec<_> = pairs.iter().filter(|(_, value)| !value.is_empty()).collect();
    format!("/formulas?{}", serde_urlencoded::to_string(given).unwrap_or_default())
}

/// What the recorded cautions come to, in words, with the order in which it is shown: the best first.
pub(super) fn suits(answer: AudienceSuits) -> (String, u8) {
    match answer {
        AudienceSuits::NothingKnownAgainst => (t("suits-nothing"), 0),
        AudienceSuits::WithCare => (t("suits-notes"), 1),
        AudienceSuits::NotKnown => (t("suits-unknown"), 2),
        AudienceSuits::AskFirst => (t("suits-ask"), 3),
        AudienceSuits::NotSuitable => (t("suits-not"), 4),
        AudienceSuits::Stop => (t("suits-stop"), 5),
    }
}

fn further(asked: &Asked, last: &Found) -> String {
    let id = last.id.to_string();
    let pairs = [
        ("q", asked.q.as_str()),
        ("kind", asked.kind.as_str()),
        ("regime", asked.regime.as_str()),
        ("audience", asked.audience.as_str()),
        ("age", asked.age.as_str()),
        ("which", asked.which.as_str()),
        ("fits", asked.fits.as_str()),
        ("after", last.title.as_str()),
        ("after_id", id.as_str()),
    ];
    address(&pairs)
}
