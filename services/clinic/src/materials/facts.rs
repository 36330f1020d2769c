//! A material's facts, as the calculations need them.

use std::collections::HashMap;
use std::sync::Arc;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::{Density, Fraction, HerbState, MaterialFacts, Sourced, Temperature};
use materia::Material;
use schema::material_version;
use uuid::Uuid;

use crate::error::{Error, Result};
use crate::tx::Tx;

/// The facts of materials in given versions, in one statement.
pub(crate) async fn facts_of(
    tx: &mut Tx<'_>,
    wanted: impl IntoIterator<Item = (Uuid, i32)>,
) -> Result<HashMap<(Uuid, i32), Arc<Material>>> {
    let wanted: Vec<(Uuid, i32)> = wanted.into_iter().collect();
    let ids: Vec<Uuid> = wanted.iter().map(|(id, _)| *id).collect();
    let rows: Vec<(Uuid, i32, serde_json::Value)> = material_version::table
        .filter(material_version::material_id.eq_any(&ids))
        .select((material_version::material_id, material_version::version, material_version::facts))
        .load(tx.conn())
        .await?;
    rows.into_iter()
        .filter(|(id, version, _)| wanted.contains(&(*id, *version)))
        .map(|(id, version, facts)| Ok(((id, version), Arc::new(serde_json::from_value(facts)?))))
        .collect()
}

/// As [`facts_of`], under the same ids and versions, with the facts as they are now; those of a merged material are the
/// other's.
pub(crate) async fn facts_now(
    tx: &mut Tx<'_>,
    wanted: impl IntoIterator<Item = (Uuid, i32)>,
) -> Result<HashMap<(Uuid, i32), Arc<Material>>> {
    let wanted: Vec<(Uuid, i32)> = wanted.into_iter().collect();
    let ids: Vec<Uuid> = wanted.iter().map(|(id, _)| *id).collect();
    let rows: Vec<Present> = diesel::sql_query(
        "SELECT m.id, v.facts FROM material m
         JOIN material c ON c.id = coalesce(m.merged_into, m.id)
         JOIN material_version v ON v.material_id = c.id AND v.version = c.current_version
         WHERE m.id = ANY($1)",
    )
    .bind::<diesel::sql_types::Array<diesel::sql_types::Uuid>, _>(&ids)
    .load(tx.conn())
    .await?;
    let now: HashMap<Uuid, Arc<Material>> = rows
        .into_iter()
        .map(|row| Ok((row.id, Arc::new(serde_json::from_value(row.facts)?))))
        .collect::<Result<_>>()?;
    Ok(wanted.into_iter().filter_map(|key| Some((key, Arc::clone(now.get(&key.0)?)))).collect())
}

#[derive(QueryableByName)]
struct Present {
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Jsonb)]
    facts: serde_json::Value,
}

/// What the calculations need to know of a material.
pub(crate) fn calculable(id: Uuid, material: &Material) -> Result<MaterialFacts> {
    let mut facts = MaterialFacts::new(id.to_string(), material.name.clone(), kind(material));
    if let Some(density) = &material.density {
        let value = Temperature::celsius(density.at_celsius)
            .and_then(|at| Density::new(density.g_per_ml, at))
            .map_err(|error| impossible(material, &error))?;
        let text = format!("{} ({})", density.source.text, density.as_published);
        facts.density = Some(Sourced::new(value, source(&text, density.status)));
    }
    if let Some(botanical) = &material.botanical {
        facts.herb = Some(match botanical.state {
            Some(materia::State::Fresh | materia::State::Wilted) => HerbState::Fresh {
                water: percent(material, material.water_content_fresh.as_ref())?,
                dried_water: percent(material, material.water_content_dried.as_ref())?,
            },
            Some(materia::State::Dried) | None => HerbState::Dried,
        });
    }
    facts.ethanol_by_volume = percent(material, material.ethanol.as_ref())?;
    Ok(facts)
}

fn percent(material: &Material, measured: Option<&materia::Measured>) -> Result<Option<Sourced<Fraction>>> {
    measured
        .map(|measured| {
            let value = Fraction::percent(measured.value).map_err(|error| impossible(material, &error))?;
            Ok(Sourced::new(value, source(&measured.source.text, measured.status)))
        })
        .transpose()
}

pub(crate) fn source(text: &str, status: materia::Status) -> galenics::Source {
    let status = match status {
        materia::Status::Verified => galenics::Status::Verified,
        materia::Status::FromMemory => galenics::Status::FromMemory,
        materia::Status::CommonPractice => galenics::Status::CommonPractice,
    };
    galenics::Source::new(text.to_owned(), status)
}

fn impossible(material: &Material, error: &dyn std::fmt::Display) -> Error {
    Error::internal(format!("the facts of {} cannot be calculated with: {error}", material.key))
}

fn kind(material: &Material) -> galenics::MaterialKind {
    use galenics::MaterialKind as To;
    use materia::MaterialKind as From;
    match material.kind {
        From::Herb => To::Herb,
        From::FixedOil => To::FixedOil,
        From::Butter => To::Butter,
        From::Wax => To::Wax,
        From::Hydrocarbon => To::Hydrocarbon,
        From::Emulsifier => To::Emulsifier,
        From::EssentialOil | From::AromaticSubstance => To::EssentialOil,
        From::Solvent if material.ethanol.is_some() => To::Ethanol,
        From::Solvent => To::Solvent,
        From::WateryBase => To::WateryBase,
        From::Humectant => To::Humectant,
        From::Preservative => To::Preservative,
        From::Antioxidant => To::Antioxidant,
        From::Salt => To::Salt,
        From::Thickener => To::Gum,
        From::Mineral => To::Powder,
        From::Sweetener => To::Sugar,
        From::AnimalProduct => To::AnimalProduct,
        From::Resin => To::Resin,
    }
}
