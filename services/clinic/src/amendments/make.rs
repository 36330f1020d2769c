//! Creation of an amendment: validation, then immediate application or a wait for a second person.

use std::collections::BTreeSet;

use ::formulary::change::{Change, ChangeCaution, ClinicCaution, StoredChange};
use diesel::prelude::*;
use diesel::sql_types::{Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use materia::{Audience, Material};
use schema::{amendment, material};
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Tx, word};
use uuid::Uuid;
use wire::amendments::{Amendment, AmendmentKind, AmendmentState, NewAmendment};
use wire::problem::FieldError;
use wire::safety::CautionLevel;

use super::kept::AMENDMENT;
use super::{apply, show};
use crate::Clinic;

/// Creates an amendment.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, [`Error::Invalid`] with every refused field, and
/// [`Error::Conflict`] if the subject has changed since the caller read it.
pub async fn make(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewAmendment,
) -> Result<Amendment> {
    clinic
        .store
        .create(
            credentials,
            once,
            async |tx| {
                let me = tx.instructor()?.id();
                if !(1..=2000).contains(&request.reason.trim().chars().count()) {
                    return Err(Error::field("/reason", "State the reason, in 1 to 2000 characters."));
                }
                // Before anything is read that the change rests on.
                ::formulary::settle(tx).await?;
                let (change, careful) = checked(tx, Change::from(&request.change)).await?;
                let alone = !::policy::rules(tx).await?.second_person;
                let waits = careful && !alone;
                let stored = StoredChange::from(change);
                let change = &stored.change;
                let id = tx.new_id();
                let now = tx.now();
                let state =
                    if waits { AmendmentState::AwaitingSecondPerson } else { AmendmentState::InForce };
                diesel::insert_into(amendment::table)
                    .values((
                        amendment::id.eq(id),
                        amendment::kind.eq(kind(change).as_str()),
                        amendment::state.eq(state.as_str()),
                        amendment::change.eq(serde_json::to_value(&stored)?),
                        amendment::reason.eq(request.reason.trim()),
                        amendment::created_by.eq(me.0),
                        amendment::created_at.eq(now),
                        amendment::decided_by.eq((careful && alone).then_some(me.0)),
                        amendment::decided_at.eq((!waits).then_some(now)),
                        amendment::own_decision.eq(careful && alone),
                    ))
                    .execute(tx.conn())
                    .await?;
                let detail = json!({ "kind": kind(change).as_str() });
                tx.record(NewEvent::new("amendment", id, "made").detail(detail).keeps(&AMENDMENT, [id]));
                if !waits {
                    apply::apply(tx, id, change, me).await?;
                }
                Ok(id)
            },
            async |tx, id| show::one(tx, id).await,
        )
        .await
}

const fn kind(change: &Change) -> AmendmentKind {
    match change {
        Change::AddMaterial(_) => AmendmentKind::AddMaterial,
        Change::ReviseMaterial(_) => AmendmentKind::ReviseMaterial,
        Change::MergeMaterials(_) => AmendmentKind::MergeMaterials,
        Change::ImportMaterials(_) => AmendmentKind::ImportMaterials,
        Change::AddCaution(_) => AmendmentKind::AddCaution,
        Change::ChangeCaution(_) => AmendmentKind::ChangeCaution,
    }
}

/// The change in its stored form, and whether a second person must confirm it.
async fn checked(tx: &mut Tx<'_>, mut change: Change) -> Result<(Change, bool)> {
    let careful = match &mut change {
        Change::AddMaterial(entry) => {
            let facts = apply::complete(tx, entry, None, "/change/add_material")?;
            unused_name(tx, &facts.name).await?;
            true
        }
        Change::ReviseMaterial(revise) => {
            let (before, facts) = apply::revised(tx, revise).await?;
            if before.facts.says_the_same_as(&facts) {
                return Err(Error::field(
                    "/change/revise_material/entry",
                    "The entry contains no change. Change at least one field.",
                ));
            }
            is_about_safety(&before.facts, &facts)
        }
        Change::MergeMaterials(merge) => {
            if merge.merged == merge.into {
                return Err(Error::field(
                    "/change/merge_materials/into",
                    "A material cannot be merged into itself. Choose another material.",
                ));
            }
            for id in [merge.merged, merge.into] {
                ::materials::standing(tx, id).await?;
            }
            if ::materials::is_of_reference(tx, merge.merged).await? {
                return Err(Error::field(
                    "/change/merge_materials/merged",
                    "Limits and stops of the reference data refer to this material. Merge the clinic's material into it instead.",
                ));
            }
            true
        }
        Change::ImportMaterials(import) => {
            import.read_at = None;
            let rows = apply::imported(tx, import).await?;
            let before = rows.iter().filter_map(|(before, _)| before.as_ref());
            import.read_at = Some(before.map(|it| (it.id, it.version.unsigned_abs())).collect());
            true
        }
        Change::AddCaution(caution) => {
            added(tx, caution).await?;
            false
        }
        Change::ChangeCaution(change) => lowers(tx, change).await?,
    };
    Ok((change, careful))
}

async fn unused_name(tx: &mut Tx<'_>, name: &str) -> Result<()> {
    let taken: Option<Uuid> = material::table
        .filter(store::sql::lower(material::name).eq(name.to_lowercase()))
        .select(material::id)
        .first(tx.conn())
        .await
        .optional()?;
    match taken {
        None => Ok(()),
        Some(id) => Err(Error::field(
            "/change/add_material/name",
            format!("A material with this name exists. Revise material {id}, or choose another name."),
        )),
    }
}

/// Whether two versions of a material differ in a property that cautions, limits or preservation depend on. The name
/// counts, because formulas refer to materials by name; so does the density, because it converts volumes to shares.
fn is_about_safety(before: &Material, after: &Material) -> bool {
    fn of(it: &Material) -> impl PartialEq {
        let groups: BTreeSet<String> = it.allergy_groups.iter().map(|group| group.group.clone()).collect();
        let evidence: BTreeSet<String> = it
            .evidence
            .iter()
            .map(|it| format!("{} {} {}", it.audience, it.finding, it.routes.join(" ")))
            .collect();
        let cautions: BTreeSet<String> = it
            .cautions
            .iter()
            .map(|it| format!("{} {} {:?} {}", it.key, it.level, it.audiences, it.text))
            .collect();
        let constituents: BTreeSet<String> = it
            .constituents
            .iter()
            .map(|it| {
                format!("{} {} {}", it.substance, it.low_percent.normalize(), it.high_percent.normalize())
            })
            .collect();
        let botanical =
            it.botanical.as_ref().map(|it| (it.species.key.clone(), it.species.family.clone(), it.state));
        let held = |measured: &Option<materia::Measured>| measured.as_ref().map(|it| it.value.normalize());
        let waters = [
            &it.ethanol,
            &it.water_content,
            &it.water_content_fresh,
            &it.water_content_dried,
            &it.drops_per_ml,
        ]
        .map(held);
        let density = it.density.as_ref().map(|it| (it.g_per_ml.normalize(), it.at_celsius.normalize()));
        let itself = (it.name.clone(), it.kind, density);
        (itself, botanical, groups, evidence, cautions, constituents, waters)
    }
    of(before) != of(after)
}

/// Validates a caution that the clinic adds, and replaces names of kinds and routes by their keys.
async fn added(tx: &mut Tx<'_>, caution: &mut ClinicCaution) -> Result<()> {
    let mut errors = Vec::new();
    let mut refuse = |field: &str, detail: String| {
        errors.push(FieldError::new(format!("/change/add_caution/{field}"), detail));
    };
    let text = caution.text.trim().to_owned();
    if !(1..=1000).contains(&text.chars().count()) {
        refuse("text", "Enter 1 to 1000 characters.".into());
    }
    caution.text = text;
    for (i, audience) in caution.audiences.iter_mut().enumerate() {
        match audience.trim().parse::<Audience>() {
            Ok(Audience::Allergy(group)) if tx.reference.allergy_group(&group).is_none() => {
                refuse(
                    &format!("audiences/{i}"),
                    format!("{group:?} is not an allergy group. Enter the key of an allergy group."),
                );
            }
            Ok(known) => *audience = known.to_string(),
            Err(error) => refuse(&format!("audiences/{i}"), error.to_string()),
        }
    }
    let on = &mut caution.on;
    let given = [on.material.is_some(), on.preparation.is_some(), on.route.is_some()];
    if given.into_iter().filter(|given| *given).count() > 1 {
        refuse("on", "Name only one target: a material, a kind of preparation or a route.".into());
    }
    if let Some(text) = &on.preparation {
        match tx.reference.preparation(text) {
            Some(known) => on.preparation = Some(known.key.clone()),
            None => refuse(
                "on/preparation",
                format!("{text:?} is not a kind of preparation. Enter one, such as cream."),
            ),
        }
    }
    if let Some(text) = &on.route {
        match tx.reference.route(text) {
            Some(known) => on.route = Some(known.key.clone()),
            None => refuse(
                "on/route",
                format!("{text:?} is not a route. Enter one, such as on intact skin, leave-on."),
            ),
        }
    }
    if !errors.is_empty() {
        return Err(Error::Invalid(errors));
    }
    if let Some(id) = on.material {
        ::materials::standing(tx, id).await?;
    }
    Ok(())
}

#[derive(QueryableByName)]
struct Shown {
    #[diesel(sql_type = Text)]
    rule: String,
    #[diesel(sql_type = Text)]
    level: String,
}

/// Whether a change lowers the level of a caution. Replaces the key of the change by the key of the caution's rule.
async fn lowers(tx: &mut Tx<'_>, change: &mut ChangeCaution) -> Result<bool> {
    let key = change.key.trim().to_owned();
    let shown: Vec<Shown> = diesel::sql_query(
        "SELECT DISTINCT c.rule, c.level FROM caution c
         JOIN gate g ON g.revision_id = c.revision_id AND g.set_number = c.set_number
         WHERE c.rule = $1 OR c.rule IN (SELECT rule FROM caution WHERE key = $1 AND rule <> key)",
    )
    .bind::<Text, _>(&key)
    .load(tx.conn())
    .await?;
    let mut rule = key.clone();
    let mut level: Option<CautionLevel> = None;
    for one in shown {
        level = level.max(Some(word(&one.level)?));
        rule = one.rule;
    }
    let level = match level {
        Some(level) => level,
        None => {
            let base = match of_reference(tx, &key) {
                Some(level) => Some(level),
                None => of_clinic(tx, &key).await?,
            };
            let base = base.ok_or_else(|| {
                let detail = format!("No caution has the key {key:?}. Copy the key from a caution set.");
                Error::field("/change/change_caution/key", detail)
            })?;
            ::formulary::clinic_cautions::read(tx).await?.level(&key, base)
        }
    };
    change.key = rule;
    match change.level.map(CautionLevel::from) {
        Some(new) if new == level => Err(Error::field(
            "/change/change_caution/level",
            format!("This caution already has the level {level}. Choose another level."),
        )),
        Some(new) => Ok(new < level),
        None => Ok(true),
    }
}

/// The level of a caution of the reference data that no caution set contains yet.
fn of_reference(tx: &Tx<'_>, key: &str) -> Option<CautionLevel> {
    let reference = tx.reference;
    let cautions = reference
        .materials
        .iter()
        .flat_map(|it| &it.cautions)
        .chain(reference.preparations.iter().flat_map(|it| &it.cautions))
        .chain(reference.routes.iter().flat_map(|it| &it.cautions))
        .chain(&reference.raised);
    let levels = cautions.filter(|it| it.key == key).map(|it| it.level);
    let stops = reference.stops.iter().filter(|it| it.key == key).map(|it| it.level);
    levels.chain(stops).max().and_then(|level| level.word().parse().ok())
}

/// The level of a caution of the clinic that no caution set contains yet.
async fn of_clinic(tx: &mut Tx<'_>, key: &str) -> Result<Option<CautionLevel>> {
    let Some(id) = key.strip_prefix("clinic-").and_then(|id| id.parse::<Uuid>().ok()) else {
        return Ok(None);
    };
    #[derive(QueryableByName)]
    struct Added {
        #[diesel(sql_type = Text)]
        level: String,
    }
    let row: Option<Added> = diesel::sql_query(
        "SELECT change #>> '{add_caution,level}' AS level FROM amendment
         WHERE id = $1 AND kind = 'add_caution' AND state = 'in_force'",
    )
    .bind::<SqlUuid, _>(id)
    .get_result(tx.conn())
    .await
    .optional()?;
    row.map(|row| word(&row.level)).transpose()
}
