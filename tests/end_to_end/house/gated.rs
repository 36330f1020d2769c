//! What lies behind the gate is listed once, by column, and the database and the documentation say the same.

use std::collections::BTreeMap;

use release::columns::GATED;
use stillroom_tests::database;

use super::{holds_or_is_rewritten, root, texts};

#[tokio::test(flavor = "multi_thread")]
async fn every_column_of_a_gated_table_is_either_gated_or_open() {
    let url = database::copy().await;
    let mut conn = database::owner(&url).await;
    let mut listed = BTreeMap::new();
    for table in GATED {
        assert!(listed.insert(table.name, table).is_none(), "{} is listed once", table.name);
        let sql = format!(
            "SELECT column_name::text AS value FROM information_schema.columns
             WHERE table_schema = 'public' AND table_name = '{}'",
            table.name
        );
        let mut there = texts(&mut conn, &sql).await;
        there.sort_unstable();
        let mut named = [table.gated, table.open].concat();
        named.sort_unstable();
        assert_eq!(there, named, "the columns of {}, each named once", table.name);
        assert!(!table.gated.is_empty(), "{} has something behind the gate", table.name);
    }
    drop(conn);
    database::remove(&url).await;
}

const DOCUMENTATION: &str = "DEVELOPERS.md";
const BEGIN: &str = "<!-- gated columns: from release::columns -->\n";
const END: &str = "<!-- end of gated columns -->";

#[test]
fn the_documentation_lists_what_lies_behind_the_gate() {
    let columns =
        |columns: &[&str]| columns.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
    let mut table = String::from("| table | behind the gate | open |\n|---|---|---|\n");
    for of in GATED {
        table.push_str(&format!("| `{}` | {} | {} |\n", of.name, columns(of.gated), columns(of.open)));
    }
    let text = std::fs::read_to_string(root().join(DOCUMENTATION)).unwrap();
    let (before, rest) = text.split_once(BEGIN).expect("the table begins at its marker");
    let (_, after) = rest.split_once(END).expect("the table ends at its marker");
    holds_or_is_rewritten(DOCUMENTATION, &format!("{before}{BEGIN}{table}{END}{after}"), "UPDATE_GATED");
}
