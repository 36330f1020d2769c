//! What the demo clinic holds: formulas of every kind, nested ones, an old official one, one that waits, one that a
//! stop holds up, one that was revised and one that was withdrawn.

use std::collections::HashMap;

use clinic::{Clinic, Credentials, formulary, policy};
use wire::formulary::{Decide, Decision, FormulaContent, NewLibrary, Regime, Withdraw};
use wire::ids::{FormulaId, LibraryId, PersonId, RevisionId};
use wire::safety::CautionLevel;

use super::requests::{acknowledge, once};
use super::{batches, custody, long_work, lots, teaching, work};
use crate::error::StartError;

/// The formulas, in the order they build on each other. One whose title was there before is a further revision.
const FORMULAS: [&str; 2] =
    [include_str!("../../demo/for_the_skin.json"), include_str!("../../demo/by_mouth.json")];

/// The formula that waits for a decision, so that a newcomer has one to take.
const WAITING: &str = "Lavender balm";

/// The formula that was approved once and is withdrawn, and why.
const WITHDRAWN: (&str, &str) =
    ("Lemon hand balm", "Hands see the sun: it is to be written anew without the lemon oil.");

/// The two libraries: what is made to be used, and what is made to learn from.
struct Libraries {
    first_year: LibraryId,
    old: LibraryId,
}

pub(super) async fn load(
    clinic: &Clinic,
    administrator: Credentials,
    author: Credentials,
    second: Credentials,
    (noor, tomas): ((Credentials, PersonId), (Credentials, PersonId)),
    class: &[(Credentials, PersonId)],
) -> Result<(), StartError> {
    rules(clinic, &administrator).await?;
    let second_id = clinic::people::me(clinic, &second).await?.person.map(|person| person.id);
    let described = "What the first-year cohort makes in its first term.";
    let libraries = Libraries {
        first_year: library(clinic, &author, "First-year formulas", described).await?,
        old: library(
            clinic,
            &author,
            "Old official formulas",
            "Read and made for teaching, never given out.",
        )
        .await?,
    };
    for library in [libraries.first_year, libraries.old] {
        let students = class.iter().map(|student| student.1);
        for member in second_id.into_iter().chain([noor.1, tomas.1]).chain(students) {
            formulary::member_add(clinic, &author, library, member.into()).await?;
        }
    }
    let approved = formulas(clinic, &author, &second, &libraries).await?;
    let of = |title: &str| {
        approved
            .get(title)
            .copied()
            .ok_or_else(|| StartError::Clinic(format!("the demo has no formula {title:?}")))
    };
    // On the heap, since loading the demo is one long future.
    Box::pin(batches::accepted_after_a_comment(clinic, &noor.0, &second, of("Calendula cream")?)).await?;
    Box::pin(batches::handed_in_with_too_much_wax(clinic, &tomas.0, &second, of("Plain salve")?)).await?;
    lots::load(clinic, &administrator, &author).await?;
    Box::pin(batches::being_made(clinic, &noor.0, of("Calendula salve")?)).await?;
    let marker = second_id.ok_or_else(|| StartError::Clinic("an instructor without an account".into()))?;
    let students: Vec<PersonId> = class.iter().map(|student| student.1).collect();
    let assignment = teaching::load(clinic, &author, marker, noor, &students, of("Calendula cream")?).await?;
    let oil = of("Infused oil of calendula")?;
    let oil = Box::pin(batches::oil_to_make_others_from(clinic, &tomas.0, &second, oil)).await?;
    Box::pin(lots::shelve(clinic, &tomas.0, &second, oil)).await?;
    Box::pin(batches::planned_with_reserved_lots(clinic, &second, of("Calendula cream")?)).await?;
    Box::pin(work::load(clinic, (&author, &second), assignment, class, of("Calendula cream")?)).await?;
    let powder = of("Sage foot powder")?;
    let powder = Box::pin(batches::powder_to_give_out(clinic, &tomas.0, &second, powder)).await?;
    Box::pin(custody::given_out(clinic, &tomas.0, &second, powder)).await?;
    if let [imke, bram, ..] = class {
        let tincture = of("Tincture of purple coneflower")?;
        long_work::handed_over_while_it_macerates(clinic, &imke.0, (&bram.0, bram.1), tincture).await?;
    }
    Box::pin(lots::call_one_back(clinic, &administrator, &author)).await?;
    let request = Withdraw { reason: WITHDRAWN.1.into() };
    formulary::withdraw(clinic, &second, of(WITHDRAWN.0)?, &request).await?;
    Ok(())
}

/// Writes, proposes and approves the formulas. Answers the approved revisions by title.
async fn formulas(
    clinic: &Clinic,
    author: &Credentials,
    second: &Credentials,
    libraries: &Libraries,
) -> Result<HashMap<String, RevisionId>, StartError> {
    let mut written: HashMap<String, FormulaId> = HashMap::new();
    let mut approved = HashMap::new();
    for file in FORMULAS {
        let contents: Vec<FormulaContent> = serde_json::from_str(file).map_err(std::io::Error::other)?;
        for content in contents {
            let before = written.get(&content.title).copied();
            let (formula, revision) = proposed(clinic, author, libraries, before, &content).await?;
            written.insert(content.title.clone(), formula);
            if content.title == WAITING || is_stopped(clinic, author, revision).await? {
                continue;
            }
            acknowledge(clinic, second, revision).await?;
            let decide = Decide { decision: Decision::Approve, comment: String::new() };
            formulary::decide(clinic, second, revision, &decide).await?;
            // The author may then put it into other formulas.
            acknowledge(clinic, author, revision).await?;
            approved.insert(content.title, revision);
        }
    }
    Ok(approved)
}

async fn rules(clinic: &Clinic, administrator: &Credentials) -> Result<(), StartError> {
    let found = policy::policy(clinic, administrator).await?;
    let mut content = found.value.content;
    content.clinic_name = "Aldergrove Teaching Clinic".into();
    content.time_zone = "Europe/Berlin".into();
    content.reason = "The demo clinic's own name and time zone.".into();
    policy::policy_change(clinic, administrator, found.version, &content).await?;
    Ok(())
}

async fn library(
    clinic: &Clinic,
    by: &Credentials,
    name: &str,
    description: &str,
) -> Result<LibraryId, StartError> {
    let request = NewLibrary { name: name.into(), description: description.into() };
    Ok(formulary::library_create(clinic, by, &once(clinic), &request).await?.value.id)
}

/// Writes a formula, or a further revision of one that was there before, and proposes it.
async fn proposed(
    clinic: &Clinic,
    author: &Credentials,
    libraries: &Libraries,
    before: Option<FormulaId>,
    content: &FormulaContent,
) -> Result<(FormulaId, RevisionId), StartError> {
    let told = |error: clinic::Error| match &error {
        clinic::Error::Invalid(fields) => StartError::Clinic(format!("{}: {fields:?}", content.title)),
        _ => StartError::from(error),
    };
    let once = once(clinic);
    let (formula, revision) = match before {
        Some(formula) => {
            let made =
                formulary::revision_create(clinic, author, &once, formula, content).await.map_err(told)?;
            (formula, made.value.id)
        }
        None => {
            let library = match content.regime {
                Regime::TeachingOnly => libraries.old,
                Regime::Cosmetic | Regime::HerbalMedicine | Regime::Food => libraries.first_year,
            };
            let made =
                formulary::formula_create(clinic, author, &once, library, content).await.map_err(told)?;
            let draft = made.revisions.first().map(|revision| revision.id);
            let draft = draft.ok_or_else(|| StartError::Clinic("a formula without a draft".into()))?;
            (made.summary.id, draft)
        }
    };
    formulary::propose(clinic, author, revision, 1).await.map_err(told)?;
    Ok((formula, revision))
}

/// Whether a stop blocks its approval: it stays proposed, so that a newcomer can see why.
async fn is_stopped(clinic: &Clinic, by: &Credentials, revision: RevisionId) -> Result<bool, StartError> {
    let set = formulary::cautions(clinic, by, revision).await?;
    Ok(set.cautions.iter().any(|caution| caution.level == CautionLevel::Stop))
}
