//! Materials as a table: written out, read back whole or not at all, and harmless in a spreadsheet.

use serde_json::json;
use stillroom_tests::clinic::TeachingClinic;

use super::{amend, confirm, material};

fn import(csv: &str) -> serde_json::Value {
    json!({ "import_materials": { "csv": csv } })
}

#[tokio::test(flavor = "multi_thread")]
async fn a_table_is_exported_changed_and_imported_again() {
    let here = TeachingClinic::start().await;
    let table = here.ilse.get("/v1/materials.csv").await.expect(200);
    assert_eq!(table.header("content-type"), "text/csv; charset=utf-8; header=present");
    amend(&here.ilse, import(&table.text)).await.fields(&["/change/import_materials/csv"]);

    let headings = table.text.lines().next().unwrap();
    let olive = table.text.lines().find(|line| line.starts_with("olive oil,")).unwrap();
    let renamed = olive.replacen("olive oil,fixed oil,", "olive oil,fixed oil,golden oil; ", 1);
    assert_ne!(renamed, olive);
    let new = "pear kernel oil,fixed oil,,Pyrus Communis Seed Oil,,,,,,0.915,20,,,,,,,,,ordinary-use,no-data,,\
               caution | under:3y | Not for the smallest.,the press house | from memory";
    let csv = format!("{headings}\n{renamed}\n{new}\n");
    let made = amend(&here.ilse, import(&csv)).await.expect(201);
    assert_eq!(made.json["state"], "awaiting_second_person");
    let confirmed = confirm(&here.marek, &made.id()).await.expect(200);
    assert_eq!(confirmed.json["materials"].as_array().unwrap().len(), 2);
    let pear = material(&here.noor, "pear kernel oil").await;
    let entry = here.ilse.get(&format!("/v1/materials/{pear}/entry")).await.expect(200);
    assert_eq!(entry.json["entry"]["cautions"][0]["text"], "Not for the smallest.");
    let oil = material(&here.noor, "olive oil").await;
    let shown = here.noor.get(&format!("/v1/materials/{oil}")).await.expect(200);
    assert!(shown.text.contains("golden oil"), "{}", shown.text);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_bad_row_is_named_by_line_and_reason_and_nothing_of_the_table_is_taken() {
    let here = TeachingClinic::start().await;
    let table = here.ilse.get("/v1/materials.csv").await.expect(200);
    let headings = table.text.lines().next().unwrap();
    let good = "pear kernel oil,fixed oil,,,,,,,,,,,,,,,,,,,,,,the press house | from memory";
    let bad_kind = "plum wine,potion,,,,,,,,,,,,,,,,,,,,,,the press house | from memory";
    let bad_density = "plum oil,fixed oil,,,,,,,,heavy,20,,,,,,,,,,,,,the press house | from memory";
    let short = "too,few";
    let twice = good;
    let csv = [headings, good, bad_kind, bad_density, twice].join("\n");
    let before = here.contents().await;
    let refused = amend(&here.ilse, import(&csv)).await.problem(422, "invalid-request");
    for line in ["line 3, kind", "line 4, density_g_per_ml", "line 5, name"] {
        assert!(refused.text.contains(line), "{line}: {}", refused.text);
    }
    let csv = [headings, good, short].join("\n");
    let refused = amend(&here.ilse, import(&csv)).await.problem(422, "invalid-request");
    assert!(refused.text.contains("line 3"), "{}", refused.text);
    for nothing in ["", "name\n", headings] {
        amend(&here.ilse, import(nothing)).await.fields(&["/change/import_materials/csv"]);
    }
    assert_eq!(before, here.contents().await);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_cell_of_an_export_is_worked_out_by_a_spreadsheet() {
    let here = TeachingClinic::start().await;
    let made = amend(
        &here.ilse,
        json!({ "add_material": {
            "name": "=HYPERLINK(\"http://evil.example\")", "kind": "fixed oil", "synonyms": ["+49 oil"],
            "source": "@the press house", "status": "from memory",
        } }),
    )
    .await
    .expect(201);
    confirm(&here.marek, &made.id()).await.expect(200);
    let table = here.ilse.get("/v1/materials.csv").await.expect(200).text;
    let row = table.lines().find(|line| line.contains("HYPERLINK")).unwrap();
    assert!(row.starts_with("\"'=HYPERLINK"), "{row}");
    assert!(row.contains(",'+49 oil,") && row.contains(",'@the press house"), "{row}");
    for line in table.lines() {
        assert!(!line.starts_with(['=', '+', '-', '@']), "{line}");
    }
    // And read back it is what it was.
    let headings = table.lines().next().unwrap();
    amend(&here.ilse, import(&format!("{headings}\n{row}\n")))
        .await
        .fields(&["/change/import_materials/csv"]);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_table_read_before_a_material_changed_is_not_confirmed_over_it() {
    let here = TeachingClinic::start().await;
    let table = here.ilse.get("/v1/materials.csv").await.expect(200).text;
    let headings = table.lines().next().unwrap();
    let olive = table.lines().find(|line| line.starts_with("olive oil,")).unwrap();
    let csv = format!(
        "{headings}\n{}\n",
        olive.replacen("olive oil,fixed oil,", "olive oil,fixed oil,golden oil; ", 1)
    );
    let import = amend(&here.ilse, import(&csv)).await.expect(201);
    let oil = material(&here.ilse, "olive oil").await;
    let mut entry = here.ilse.get(&format!("/v1/materials/{oil}/entry")).await.expect(200).json;
    entry["entry"]["cautions"] = json!([{ "level": "caution", "text": "From the old press: strain twice." }]);
    let change = json!({ "revise_material": {
        "material": oil, "version": entry["version"], "entry": entry["entry"],
    } });
    let revised = amend(&here.ilse, change).await.expect(201);
    confirm(&here.marek, &revised.id()).await.expect(200);
    let refused = confirm(&here.marek, &import.id()).await.problem(409, "conflict");
    assert!(refused.text.contains("Export the table again"), "{}", refused.text);
    let shown = here.noor.get(&format!("/v1/materials/{oil}")).await.expect(200);
    assert!(shown.text.contains("strain twice"), "{}", shown.text);
    here.stop().await;
}
