//! Export and import of materials as a table (CSV, RFC 4180).
//!
//! A cell that a spreadsheet would evaluate as a formula is written with a leading apostrophe, which reading removes.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use materia::{Entry, EntryCaution, EntryConstituent, Material};
use schema::{material, material_version};
use serde_json::Value;
use store::{Credentials, Error, Result, Store};

/// The headings, in order.
const HEADINGS: [&str; 24] = [
    "name",
    "kind",
    "synonyms",
    "inci",
    "botanical_name",
    "botanical_author",
    "family",
    "part",
    "state",
    "density_g_per_ml",
    "density_at_celsius",
    "water_percent",
    "fresh_water_percent",
    "dried_water_percent",
    "ethanol_percent_by_volume",
    "drops_per_ml",
    "hlb",
    "required_hlb",
    "allergy_groups",
    "pregnancy",
    "breast_feeding",
    "constituents",
    "cautions",
    "source_and_status",
];

/// The most rows of an imported table.
const MOST: usize = 2000;

/// One parsed row.
pub struct Row {
    /// Line of the row in the file, counted from 1.
    pub line: u64,
    /// The material in the row.
    pub entry: Entry,
}

/// All materials as a table, by name.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor or administrator.
pub async fn export(store: &Store, credentials: &Credentials) -> Result<String> {
    store
        .read(credentials, async |tx| {
            tx.staff()?;
            let rows: Vec<Value> = material::table
                .inner_join(
                    material_version::table.on(material_version::material_id
                        .eq(material::id)
                        .and(material_version::version.eq(material::current_version))),
                )
                .filter(material::merged_into.is_null())
                .order((store::sql::by_bytes(material::name), material::id))
                .select(material_version::facts)
                .load(tx.conn())
                .await?;
            let mut out = csv::Writer::from_writer(Vec::new());
            out.write_record(HEADINGS).map_err(broken)?;
            for facts in rows {
                let material: Material = serde_json::from_value(facts)?;
                out.write_record(cells(&Entry::of(&material)).map(harmless)).map_err(broken)?;
            }
            let bytes = out.into_inner().map_err(|error| Error::internal(error.to_string()))?;
            String::from_utf8(bytes).map_err(|error| Error::internal(error.to_string()))
        })
        .await
}

fn broken(error: csv::Error) -> Error {
    Error::Internal(error.into())
}

/// Whether a spreadsheet would evaluate the cell as a formula.
fn is_formula(cell: &str) -> bool {
    cell.starts_with(['=', '+', '-', '@', '\t', '\r'])
}

fn harmless(cell: String) -> String {
    if is_formula(&cell) { format!("'{cell}") } else { cell }
}

fn as_meant(cell: &str) -> String {
    let cell = cell.trim();
    cell.strip_prefix('\'').filter(|rest| is_formula(rest)).unwrap_or(cell).to_owned()
}

fn cells(entry: &Entry) -> [String; 24] {
    let or_empty = |text: &Option<String>| text.clone().unwrap_or_default();
    let constituents = entry
        .constituents
        .iter()
        .map(|held| format!("{} {}-{}", held.substance, held.low_percent, held.high_percent))
        .collect::<Vec<_>>();
    let cautions = entry
        .cautions
        .iter()
        .map(|own| format!("{} | {} | {}", own.level, own.audiences.join(", "), own.text))
        .collect::<Vec<_>>();
    [
        entry.name.clone(),
        entry.kind.clone(),
        entry.synonyms.join("; "),
        or_empty(&entry.inci),
        or_empty(&entry.botanical_name),
        or_empty(&entry.botanical_author),
        or_empty(&entry.family),
        or_empty(&entry.part),
        or_empty(&entry.state),
        or_empty(&entry.density_g_per_ml),
        or_empty(&entry.density_at_celsius),
        or_empty(&entry.water_percent),
        or_empty(&entry.fresh_water_percent),
        or_empty(&entry.dried_water_percent),
        or_empty(&entry.ethanol_percent_by_volume),
        or_empty(&entry.drops_per_ml),
        or_empty(&entry.hlb),
        or_empty(&entry.required_hlb),
        entry.allergy_groups.join("; "),
        or_empty(&entry.pregnancy),
        or_empty(&entry.breast_feeding),
        constituents.join("; "),
        cautions.join("\n"),
        format!("{} | {}", entry.source, entry.status),
    ]
}

/// Where each heading stands in a table, whatever its order.
struct Columns([usize; 24]);

impl Columns {
    /// # Errors
    /// Names the headings that are missing, unknown or there twice. A table without a column is never read: what the clinic
    /// recorded under it would be lost.
    fn of(headings: &csv::StringRecord) -> Result<Self, Vec<String>> {
        let there: Vec<&str> = headings.iter().map(str::trim).collect();
        let named = |one: usize| if one == 1 { "heading" } else { "headings" };
        let mut told = Vec::new();
        let missing: Vec<&str> = HEADINGS.into_iter().filter(|heading| !there.contains(heading)).collect();
        if !missing.is_empty() {
            told.push(format!(
                "line 1: The {} {} missing. An older export has fewer columns: export the materials again and enter your \
                 changes there, or add the column. An empty cell removes what is recorded.",
                format_args!("{} {}", named(missing.len()), missing.join(", ")),
                if missing.len() == 1 { "is" } else { "are" },
            ));
        }
        let unknown: Vec<&str> = there.iter().copied().filter(|text| !HEADINGS.contains(text)).collect();
        if !unknown.is_empty() {
            let quoted: Vec<String> = unknown.iter().map(|text| format!("{text:?}")).collect();
            told.push(format!(
                "line 1: Unknown {} {}. Accepted headings: {}.",
                named(unknown.len()),
                quoted.join(", "),
                HEADINGS.join(", ")
            ));
        }
        let twice = HEADINGS.into_iter().find(|heading| there.iter().filter(|it| *it == heading).count() > 1);
        if let Some(heading) = twice {
            told.push(format!(
                "line 1: The heading {heading} is there twice. Remove one of the two columns."
            ));
        }
        if !told.is_empty() {
            return Err(told);
        }
        Ok(Self(HEADINGS.map(|heading| there.iter().position(|it| *it == heading).unwrap_or_default())))
    }

    /// Where the cells of a heading stand.
    fn at(&self, heading: &str) -> Option<usize> {
        self.0.get(HEADINGS.iter().position(|it| *it == heading)?).copied()
    }
}

/// Parses a table.
///
/// # Errors
/// Returns one sentence for each line that cannot be read. The table is then refused as a whole.
pub fn read(text: &str) -> Result<Vec<Row>, Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let headings = reader.headers().map_err(|error| vec![format!("line 1: {error}")])?;
    let columns = Columns::of(headings)?;
    let (mut rows, mut refused) = (Vec::new(), Vec::new());
    for record in reader.records() {
        match record {
            Err(error) => {
                let line = error.position().map_or(0, csv::Position::line);
                refused.push(format!("line {line}: The row must have {} cells ({error}).", HEADINGS.len()));
            }
            Ok(record) => {
                let line = record.position().map_or(0, csv::Position::line);
                match entry(&record, &columns) {
                    Ok(entry) => rows.push(Row { line, entry }),
                    Err(why) => refused.push(format!("line {line}, {why}")),
                }
            }
        }
        if rows.len() + refused.len() > MOST {
            return Err(vec![format!("The table has more than {MOST} rows. Import it in parts.")]);
        }
    }
    if rows.is_empty() && refused.is_empty() {
        refused.push("line 2: The table has no row. Add at least one.".into());
    }
    if refused.is_empty() { Ok(rows) } else { Err(refused) }
}

fn entry(record: &csv::StringRecord, columns: &Columns) -> Result<Entry, String> {
    let cell =
        |heading: &str| as_meant(columns.at(heading).and_then(|at| record.get(at)).unwrap_or_default());
    let optional = |heading: &str| Some(cell(heading)).filter(|text| !text.is_empty());
    let list = |heading: &str, separator: char| -> Vec<String> {
        cell(heading).split(separator).map(str::trim).filter(|it| !it.is_empty()).map(str::to_owned).collect()
    };
    let constituents = list("constituents", ';')
        .iter()
        .map(|text| {
            let parts = text.rsplit_once(' ').and_then(|(key, range)| Some((key, range.split_once('-')?)));
            let (substance, (low, high)) = parts.ok_or_else(|| {
                format!("constituents: {text:?} cannot be read. Enter it as limonene 60-75.")
            })?;
            Ok(EntryConstituent {
                substance: substance.trim().into(),
                low_percent: low.trim().into(),
                high_percent: high.trim().into(),
            })
        })
        .collect::<Result<_, String>>()?;
    let cautions = list("cautions", '\n')
        .iter()
        .map(|text| {
            let parts: Vec<&str> = text.splitn(3, '|').map(str::trim).collect();
            let [level, audiences, text] = parts.as_slice() else {
                return Err(format!(
                    "cautions: {text:?} cannot be read. Enter it as caution | pregnant, under:6y | Text."
                ));
            };
            Ok(EntryCaution {
                level: (*level).to_owned(),
                audiences: audiences
                    .split(',')
                    .map(str::trim)
                    .filter(|it| !it.is_empty())
                    .map(str::to_owned)
                    .collect(),
                text: (*text).to_owned(),
            })
        })
        .collect::<Result<_, String>>()?;
    let said = cell("source_and_status");
    let (source, status) = said.rsplit_once('|').ok_or(
        "source_and_status: Enter the source, a bar (|), and verified, secondary, from memory or common practice.",
    )?;
    Ok(Entry {
        name: cell("name"),
        kind: cell("kind"),
        synonyms: list("synonyms", ';'),
        inci: optional("inci"),
        botanical_name: optional("botanical_name"),
        botanical_author: optional("botanical_author"),
        family: optional("family"),
        part: optional("part"),
        state: optional("state"),
        density_g_per_ml: optional("density_g_per_ml"),
        density_at_celsius: optional("density_at_celsius"),
        water_percent: optional("water_percent"),
        fresh_water_percent: optional("fresh_water_percent"),
        dried_water_percent: optional("dried_water_percent"),
        ethanol_percent_by_volume: optional("ethanol_percent_by_volume"),
        drops_per_ml: optional("drops_per_ml"),
        hlb: optional("hlb"),
        required_hlb: optional("required_hlb"),
        allergy_groups: list("allergy_groups", ';'),
        pregnancy: optional("pregnancy"),
        breast_feeding: optional("breast_feeding"),
        constituents,
        cautions,
        source: source.trim().to_owned(),
        status: status.trim().to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_preserves_every_material_of_the_reference_data() {
        let reference = materia::Materia::embedded().unwrap();
        let mut out = csv::Writer::from_writer(Vec::new());
        out.write_record(HEADINGS).unwrap();
        for material in &reference.materials {
            out.write_record(cells(&Entry::of(material)).map(harmless)).unwrap();
        }
        let text = String::from_utf8(out.into_inner().unwrap()).unwrap();
        let rows = read(&text).unwrap_or_else(|refused| panic!("{refused:?}"));
        assert_eq!(rows.len(), reference.materials.len());
        for (row, material) in rows.iter().zip(&reference.materials) {
            assert_eq!(row.entry, Entry::of(material), "line {}", row.line);
        }
    }

    #[test]
    fn the_columns_may_stand_in_any_order_and_a_wrong_heading_is_named() {
        let mut headings = HEADINGS;
        headings.reverse();
        let mut cells = [""; 24];
        for (heading, cell) in [("name", "Plain oil"), ("kind", "fixed oil"), ("drops_per_ml", "30")] {
            cells[headings.iter().position(|it| *it == heading).unwrap()] = cell;
        }
        cells[0] = "house list | common practice";
        let table = |headings: &[&str]| format!("{}\n{}\n", headings.join(","), cells.join(","));
        let rows = read(&table(&headings)).unwrap();
        assert_eq!(rows[0].entry.name, "Plain oil");
        assert_eq!(rows[0].entry.drops_per_ml.as_deref(), Some("30"));

        // The columns of the first export.
        let older: Vec<&str> = HEADINGS
            .into_iter()
            .filter(|heading| !["drops_per_ml", "dried_water_percent"].contains(heading))
            .collect();
        let refused = read(&older.join(",")).err().unwrap();
        assert!(refused[0].contains("headings dried_water_percent, drops_per_ml are missing"), "{refused:?}");
        let other = HEADINGS.map(|heading| if heading == "inci" { "INCI name" } else { heading });
        let refused = read(&other.join(",")).err().unwrap();
        assert!(refused[0].contains("heading inci is missing"), "{refused:?}");
        assert!(refused[1].contains("Unknown heading \"INCI name\""), "{refused:?}");
        let twice = HEADINGS.map(|heading| if heading == "inci" { "name" } else { heading });
        assert!(read(&twice.join(",")).err().unwrap().concat().contains("heading name is there twice"));
    }

    #[test]
    fn a_cell_that_a_spreadsheet_would_evaluate_is_escaped() {
        for evil in ["=1+1", "+49", "-2", "@SUM(A1)", "\tx"] {
            let written = harmless(evil.to_owned());
            assert!(written.starts_with('\''), "{written}");
            assert_eq!(as_meant(&written), evil);
        }
        assert_eq!(as_meant("'s-Hertogenbosch gin"), "'s-Hertogenbosch gin");
    }
}
