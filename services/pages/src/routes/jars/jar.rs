//! The page of a jar, for whoever holds it: whether it may be used, how, and what to do if something is wrong. No sign-in, no
//! cookie, no script, no person and nothing of the recipe.

use actix_web::http::StatusCode;
use actix_web::web::{Data, Path, Query};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use clinic::jars;
use serde::Deserialize;
use wire::jars::{JarPage, JarStands};
use wire::label::LabelIngredient;
use wire::safety::CautionLevel;

use crate::answer::{page, to};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::state::Pages;
use crate::texts::{t, t1};
use crate::trouble::Trouble;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/jars", typed);
    mount.get("/jars/{code}", jar);
}

#[derive(Template)]
#[template(path = "jar.html")]
struct Shown {
    frame: Frame,
    code: String,
    title: String,
    fill: String,
    /// What it is, where it is used, and which clinic made it.
    of: String,
    batch: String,
    jar: u32,
    today: String,
    stands: String,
    /// What more there is to say of how it stands.
    beside: String,
    not_for: Vec<(String, String)>,
    ask_first: Vec<(String, String)>,
    uses: Vec<String>,
    keep: Vec<String>,
    contains: String,
    allergens: String,
}

#[derive(Template)]
#[template(path = "jar_code.html")]
struct CodePage {
    frame: Frame,
    code: String,
    cure: String,
}

#[derive(Deserialize)]
struct Typed {
    #[serde(default)]
    code: String,
}

fn count(request: &HttpRequest, pages: &Pages) -> Result<(), Trouble> {
    (pages.settings.admit_stranger)(request).map_err(|retry_after| Trouble::TooFast { retry_after })
}

fn code_page(pages: &Pages, status: StatusCode, code: &str, cure: String) -> Result<HttpResponse, Trouble> {
    let frame = Frame::anybody(t("jar-code-title"), pages.clinic.clock().now());
    page(status, &CodePage { frame, code: code.to_owned(), cure })
}

/// Where a code is typed by hand.
async fn typed(
    request: HttpRequest,
    pages: Data<Pages>,
    typed: Query<Typed>,
) -> Result<HttpResponse, Trouble> {
    count(&request, &pages)?;
    let code = typed.code.trim();
    if code.is_empty() {
        return code_page(&pages, StatusCode::OK, "", String::new());
    }
    // Only letters and digits go into an address; what else was typed names no jar.
    let plain: String = code.chars().filter(char::is_ascii_alphanumeric).take(64).collect();
    match jars::jar_page(&pages.clinic, code).await {
        Ok(_) => Ok(to(&format!("/jars/{plain}"))),
        Err(clinic::Error::NotFound(_)) => {
            code_page(&pages, StatusCode::NOT_FOUND, code, t("jar-code-unknown"))
        }
        Err(other) => Err(other.into()),
    }
}

async fn jar(request: HttpRequest, pages: Data<Pages>, code: Path<String>) -> Result<HttpResponse, Trouble> {
    count(&request, &pages)?;
    match jars::jar_page(&pages.clinic, &code).await {
        Ok(found) => page(StatusCode::OK, &told(&pages, &code, found)),
        Err(clinic::Error::NotFound(_)) => {
            code_page(&pages, StatusCode::NOT_FOUND, &code, t("jar-code-unknown"))
        }
        Err(other) => Err(other.into()),
    }
}

fn told(pages: &Pages, code: &str, of: JarPage) -> Shown {
    let mut frame = Frame::anybody(of.facts.title.clone(), pages.clinic.clock().now());
    frame.notice = of.notice;
    let shortened = if of.shortened { t("jar-shortened") } else { String::new() };
    let (stands, beside) = match of.stands {
        JarStands::InDate(day) => (
            t1("jar-in-date", frame.day(&day)),
            [shortened.as_str(), &of.facts.after_opening].join(" ").trim().to_owned(),
        ),
        JarStands::Past(day) => {
            let since = t1("jar-past-since", frame.day(&day));
            (t("jar-past"), [since.as_str(), &shortened].join(" ").trim().to_owned())
        }
        JarStands::Recalled(Some(day)) => (t1("jar-recalled-on", frame.day(&day)), String::new()),
        JarStands::Recalled(None) => (t("jar-recalled"), String::new()),
        JarStands::Discarded => (t("jar-discarded"), String::new()),
        JarStands::NotReleased => (t("jar-not-released"), t("jar-not-released-why")),
        JarStands::Sample => (t("jar-sample"), t("jar-sample-why")),
        JarStands::Empty => {
            (t("jar-decanted"), t1("jar-decanted-why", super::emptied::numbers(&of.decanted_into)))
        }
        JarStands::PracticeOnly => (t("jar-practice"), t("jar-practice-why")),
        JarStands::Stopped => (t("jar-stopped"), t("jar-stopped-why")),
    };
    let facts = of.facts;
    let (mut not_for, mut ask_first, mut others) = (Vec::new(), Vec::new(), Vec::new());
    for group in of.warnings {
        let everyone = group.audiences.iter().all(|audience| audience == "everyone");
        for warning in group.warnings {
            match warning.level {
                CautionLevel::Stop | CautionLevel::Contraindication => {
                    not_for.push((group.heading.clone(), warning.text));
                }
                CautionLevel::Caution | CautionLevel::Note if everyone => others.push(warning.text),
                CautionLevel::Caution | CautionLevel::Note => {
                    ask_first.push((group.heading.clone(), warning.text));
                }
            }
        }
    }
    let uses = facts.directions.into_iter().chain(facts.meant_for).chain(of.patch_test);
    Shown {
        // Only letters and digits go into an address.
        code: code.chars().filter(char::is_ascii_alphanumeric).take(64).collect(),
        title: facts.title,
        fill: of.fill,
        of: [facts.route, facts.regime, of.clinic].join(" "),
        batch: of.batch_number,
        jar: of.number,
        today: frame.day(&of.today),
        stands,
        beside,
        not_for,
        ask_first,
        uses: uses.chain(of.longest_use).chain(others).collect(),
        keep: facts.storage.into_iter().chain([facts.children, facts.after_opening]).collect(),
        contains: facts
            .strength
            .into_iter()
            .chain([contains(&facts.ingredients)])
            .collect::<Vec<_>>()
            .join(" "),
        allergens: facts.allergens.join(", "),
        frame,
    }
}

/// The ingredients in their order, those that were strained off last and said so.
fn contains(ingredients: &[LabelIngredient]) -> String {
    let name = |one: &LabelIngredient| one.inci.clone().unwrap_or_else(|| one.name.clone());
    let of = |drawn_out: bool| {
        let some = ingredients.iter().filter(|one| one.drawn_out == drawn_out);
        some.map(name).collect::<Vec<_>>().join(", ")
    };
    let (within, drawn_out) = (of(false), of(true));
    match (within.is_empty(), drawn_out.is_empty()) {
        (_, true) => format!("{within}."),
        (true, false) => t1("jar-drawn-out", drawn_out),
        (false, false) => format!("{within}; {}", t1("jar-drawn-out", drawn_out)),
    }
}
