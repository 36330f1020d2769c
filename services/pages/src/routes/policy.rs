//! The clinic's rules, as sentences.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use clinic::policy;
use wire::policy::{Customary, DatingSetOff, DropsPerMl, PolicyContent};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/policy", policy_page);
    mount.post("/policy", policy_change);
}

#[derive(Template)]
#[template(path = "policy.html")]
struct PolicyPage {
    frame: Frame,
    version: i64,
    since: String,
    content: PolicyContent,
    audiences: String,
    sets_off: String,
    /// Kind of liquid, its label, and the drops that were stated of it.
    drops: Vec<(&'static str, String, String)>,
    /// The word, what it means, and whether it is in force.
    customary: Vec<(&'static str, String, bool)>,
    editable: bool,
    cures: Vec<(String, String)>,
    stale: bool,
}

impl PolicyPage {
    fn cure(&self, field: &str) -> String {
        self.cures
            .iter()
            .filter(|(of, _)| of.starts_with(field))
            .map(|(_, cure)| cure.clone())
            .collect::<Vec<_>>()
            .join(" ")
    }
}

async fn policy_page(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    policy_show(&visitor, StatusCode::OK, None, Vec::new(), false).await
}

async fn policy_show(
    visitor: &Visitor,
    status: StatusCode,
    typed: Option<PolicyContent>,
    cures: Vec<(String, String)>,
    stale: bool,
) -> Result<HttpResponse, Trouble> {
    let found = policy::policy(visitor.clinic(), visitor.credentials()).await?;
    let frame = visitor.frame(t("policy-title")).with("forms.js");
    let content =
        typed.unwrap_or_else(|| PolicyContent { reason: String::new(), ..found.value.content.clone() });
    let sets = content.dating_sets_off.iter().map(|set| format!("{}: {}", set.set, set.reason));
    let page_of = PolicyPage {
        since: t2("policy-since", i64::from(found.value.version), frame.when(&found.value.made_at)),
        version: found.version,
        audiences: content.countersign_audiences.join(", "),
        sets_off: sets.collect::<Vec<_>>().join("\n"),
        drops: drops_of(&content.drops_per_ml, &frame),
        // word("customary")
        customary: Customary::ALL
            .iter()
            .map(|one| (one.as_str(), t(&format!("customary-{}", one.as_str())), *one == content.customary))
            .collect(),
        editable: visitor.role() == wire::people::Role::Administrator,
        content,
        cures,
        stale,
        frame,
    };
    page(status, &page_of)
}

/// The fields for drops in a millilitre, one for each kind of liquid.
fn drops_of(drops: &DropsPerMl, frame: &Frame) -> Vec<(&'static str, String, String)> {
    let typed = |drops: &Option<String>| drops.clone().unwrap_or_default();
    vec![
        ("water", frame.t("drops-water"), typed(&drops.water)),
        ("spirit", frame.t("drops-spirit"), typed(&drops.spirit)),
        ("oil", frame.t("drops-oil"), typed(&drops.oil)),
        ("essential_oil", frame.t("drops-essential-oil"), typed(&drops.essential_oil)),
        ("glycerol", frame.t("drops-glycerol"), typed(&drops.glycerol)),
    ]
}

async fn policy_change(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let version = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    let list = form.text("countersign_audiences");
    let drops = |liquid: &str| {
        Some(form.text(&format!("drops_{liquid}")).trim().to_owned()).filter(|typed| !typed.is_empty())
    };
    let content = PolicyContent {
        clinic_name: form.text("clinic_name"),
        notice: form.text("notice"),
        time_zone: form.text("time_zone"),
        currency: form.text("currency"),
        customary: form.text("customary").parse().map_err(|_| Trouble::Malformed)?,
        second_person: form.ticked("second_person"),
        acknowledgement_days: form.text("acknowledgement_days").parse().unwrap_or(0),
        countersign_audiences: list
            .split(',')
            .map(|one| one.trim().to_owned())
            .filter(|one| !one.is_empty())
            .collect(),
        tolerance_percent: form.text("tolerance_percent"),
        active_tolerance_percent: form.text("active_tolerance_percent"),
        dating_sets_off: form
            .text("dating_sets_off")
            .lines()
            .filter_map(|line| line.split_once(':'))
            .map(|(set, reason)| DatingSetOff {
                set: set.trim().to_owned(),
                reason: reason.trim().to_owned(),
            })
            .collect(),
        drops_per_ml: DropsPerMl {
            water: drops("water"),
            spirit: drops("spirit"),
            oil: drops("oil"),
            essential_oil: drops("essential_oil"),
            glycerol: drops("glycerol"),
        },
        reason: form.text("reason"),
    };
    match policy::policy_change(visitor.clinic(), visitor.credentials(), version, &content).await {
        Ok(_) => Ok(to("/policy")),
        Err(clinic::Error::PreconditionFailed) => {
            policy_show(&visitor, StatusCode::PRECONDITION_FAILED, Some(content), Vec::new(), true).await
        }
        Err(error) => {
            let cures = form::faults(error)?;
            policy_show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, Some(content), cures, false).await
        }
    }
}
