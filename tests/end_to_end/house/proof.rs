//! What the journal vouches for: whatever value of whatever kept row the owner of the database changes, verifying finds
//! it; and no table or column stands aside without a reason.

use std::collections::BTreeSet;

use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use server::demo;
use stillroom_tests::clinic::serve;
use stillroom_tests::database;
use store::journal::{self, Kept, NewEvent, Verdict};
use store::{Clock, Rng, Store};
use uuid::Uuid;

use super::texts;

/// Tables that no digest is over, each with the reason. What holds a secret, and what is worked out anew from elsewhere,
/// is not vouched for; what the journal itself consists of is verified as such.
const NOT_KEPT: [(&str, &str); 28] = [
    ("__diesel_schema_migrations", "which migrations were run"),
    ("attempt", "counters of failed sign-ins, deleted after a time"),
    ("maker_of_batch", "kept by triggers from batches and accepted handovers"),
    ("batch_counter", "the year's last number; the numbers stand in the batches"),
    ("lot_counter", "the year's last number; the numbers stand in the lots"),
    ("lot_held", "the sum of what is reserved, kept by triggers"),
    ("lot_reservation", "gone after some days; what was drawn stands in the movements"),
    ("lot_reserved", "how much is reserved, gone with the reservation"),
    ("event", "verified as a chain"),
    ("event_head", "verified as a chain"),
    ("event_order", "verified as an order"),
    ("event_unnumbered", "verified as an order"),
    ("idempotency", "answers of requests that may be repeated, deleted after a time"),
    ("jar_here", "which jars are on the shelf, kept by triggers from what was done with them"),
    ("kept_phrase", "words of one's own, which nobody else reads and their author removes"),
    ("material_term", "the index of names that materials are searched by"),
    ("principal", "an id and its kind, held by foreign keys"),
    ("reference_rule", "digests of the reference data, worked out at every load"),
    ("page_session", "a secret, gone with its session"),
    ("reaction_counter", "the year's last number; the numbers stand in the cases"),
    ("reaction_words", "words that are removed where they name somebody"),
    ("reflection_draft", "a draft that its author overwrites; what is handed in is kept with the submission"),
    ("refresh_token", "a secret, replaced at every use"),
    ("row_digest", "compared with events and rows"),
    ("work_limit_words", "words that their author withdraws, and that go then"),
    ("work_waiting", "what the queue is ordered by, kept by triggers from what was handed in"),
    ("handed_finding", "kinds and numbers of findings, kept by a trigger from what was handed in"),
    ("security_event", "who tried and was refused, which changed nothing; removed after a time"),
];

/// Columns of kept tables that no digest is over, each with the reason.
const NOT_DIGESTED: [(&str, &str, &str); 4] = [
    ("api_client", "kind", "always the same, by a CHECK"),
    ("api_client", "last_used_at", "noted to the hour without an event"),
    ("person", "kind", "always the same, by a CHECK"),
    ("session", "idle_expires_at", "moves with every refresh, without an event"),
];

/// Every column of every table: "table column type".
async fn columns(owner: &mut AsyncPgConnection) -> Vec<(String, String, String)> {
    texts(
        owner,
        "SELECT relname || ' ' || attname || ' ' || format_type(atttypid, NULL) AS value
         FROM pg_attribute JOIN pg_class c ON c.oid = attrelid
         WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND attnum > 0 AND NOT attisdropped
         ORDER BY relname, attnum",
    )
    .await
    .into_iter()
    .map(|line| {
        let mut words = line.splitn(3, ' ').map(str::to_owned);
        (words.next().unwrap(), words.next().unwrap(), words.next().unwrap())
    })
    .collect()
}

/// Each kept table and each whose rows belong to a kept row, with the columns that are digested.
fn digested(kept: &[&'static Kept]) -> BTreeSet<(&'static str, &'static str)> {
    let own = kept.iter().flat_map(|of| of.columns.iter().map(|column| (of.table, column.name())));
    let belonging = kept.iter().flat_map(|of| of.belonging).flat_map(|of| {
        // The columns that join them are those of the row itself.
        let joins = of.on.iter().map(|(theirs, _)| (of.table, *theirs));
        of.columns.iter().map(|column| (of.table, column.name())).chain(joins)
    });
    own.chain(belonging).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn every_table_and_column_is_vouched_for_or_exempt_for_a_reason() {
    let url = database::copy().await;
    let mut owner = database::owner(&url).await;
    let kept = clinic::journal::kept();
    let known: BTreeSet<&str> = kept.iter().flat_map(|of| of.tables()).collect();
    let digested = digested(&kept);
    for (table, _) in NOT_KEPT {
        assert!(!known.contains(table), "{table} is kept and listed as exempt");
    }
    let mut aside = Vec::new();
    for (table, column, _) in columns(&mut owner).await {
        let table_exempt = NOT_KEPT.iter().any(|(exempt, _)| *exempt == table);
        let column_exempt = NOT_DIGESTED.iter().any(|(of, exempt, _)| (*of, *exempt) == (&table, &column));
        let of_column = digested.contains(&(table.as_str(), column.as_str()));
        assert!(!(of_column && column_exempt), "{table}.{column} is digested and listed as exempt");
        if !(table_exempt || column_exempt || of_column) {
            aside.push(format!("{table}.{column}"));
        }
    }
    assert!(aside.is_empty(), "nobody vouches for {aside:#?}");
    drop(owner);
    database::remove(&url).await;
}

/// A database in which every kept table has rows, and a copy of every table to put things back from.
struct Clinic {
    url: String,
    store: Store,
    kept: Vec<&'static Kept>,
    owner: AsyncPgConnection,
    columns: Vec<(String, String, String)>,
}

impl Clinic {
    /// The demo clinic, its service stopped, its constraints and triggers taken away as only the owner can.
    async fn new() -> Self {
        let url = database::copy().await;
        let service = serve(&url, &[]).await;
        demo::load(&service.clinic).await.expect("the demo loads");
        service.stop().await.expect("a graceful end");
        Self::unguarded(url, clinic::journal::kept()).await
    }

    async fn unguarded(url: String, kept: Vec<&'static Kept>) -> Self {
        let store = Store::open(&database::pool(&url), Clock::System, Rng::system()).unwrap();
        let mut owner = database::owner(&url).await;
        let columns = columns(&mut owner).await;
        for kinds in ["'f'", "'c', 'u', 'x'"] {
            let drop = format!(
                "SELECT format('ALTER TABLE %s DROP CONSTRAINT %I', conrelid::regclass, conname) AS value
                 FROM pg_constraint WHERE connamespace = 'public'::regnamespace AND conrelid <> 0
                     AND contype IN ({kinds})"
            );
            for statement in texts(&mut owner, &drop).await {
                run(&mut owner, &statement).await;
            }
        }
        for of in &kept {
            for table in of.tables() {
                run(&mut owner, &format!("ALTER TABLE {table} DISABLE TRIGGER USER")).await;
            }
        }
        let mut it = Self { url, store, kept, owner, columns };
        for of in it.kept.clone() {
            it.plant(of).await;
        }
        for of in it.kept.clone() {
            for table in of.tables() {
                run(&mut it.owner, &format!("CREATE TABLE was_{table} AS TABLE {table}")).await;
            }
        }
        let verdict = it.verdict().await;
        assert!(verdict.holds(), "{verdict}");
        it
    }

    /// A value for every column of a table, with some given.
    fn values(&self, table: &str, given: &[(&str, String)]) -> (String, String) {
        let (mut names, mut values) = (Vec::new(), Vec::new());
        for (_, name, sql_type) in self.columns.iter().filter(|(of, ..)| of == table) {
            let value = given.iter().find(|(of, _)| of == name).map_or_else(
                || match sql_type.as_str() {
                    "uuid" => "gen_random_uuid()".to_owned(),
                    "boolean" => "false".to_owned(),
                    "date" => "date '2026-03-02'".to_owned(),
                    "timestamp with time zone" => "timestamptz '2026-03-02 08:00Z'".to_owned(),
                    "bytea" => "decode(repeat('07', 32), 'hex')".to_owned(),
                    "jsonb" => "'[]'".to_owned(),
                    "text" => "'x'".to_owned(),
                    "smallint" | "integer" | "bigint" | "numeric" => "1".to_owned(),
                    "smallint[]" | "numeric[]" => "'{1}'".to_owned(),
                    "text[]" => "'{x}'".to_owned(),
                    other => panic!("{table}.{name}: a value of type {other}"),
                },
                |(_, value)| format!("'{value}'"),
            );
            names.push(name.clone());
            values.push(value);
        }
        (names.join(", "), values.join(", "))
    }

    /// Adds a row with its event, and one of each kind that belongs to it, where the demo has none.
    async fn plant(&mut self, of: &'static Kept) {
        let mut key = self.last(of).await;
        if key.is_none() {
            let (names, values) = self.values(of.table, &[]);
            run(&mut self.owner, &format!("INSERT INTO {} ({names}) VALUES ({values})", of.table)).await;
            key = self.last(of).await;
        }
        let (parts, at) = key.unwrap();
        for belonging in of.belonging {
            let count = format!(
                "SELECT count(*)::text AS value FROM {} b WHERE {}",
                belonging.table,
                at_parent(of, belonging, &at)
            );
            if texts(&mut self.owner, &count).await != ["0"] {
                continue;
            }
            let mut given = Vec::new();
            for (theirs, ours) in belonging.on {
                let value =
                    format!("SELECT t.{ours}::text AS value FROM {} t WHERE t.ctid = '{at}'", of.table);
                given.push((*theirs, texts(&mut self.owner, &value).await.remove(0)));
            }
            let (names, values) = self.values(belonging.table, &given);
            let insert = format!("INSERT INTO {} ({names}) VALUES ({values})", belonging.table);
            run(&mut self.owner, &insert).await;
        }
        let subject = Uuid::from_u128(1);
        self.store
            .run_unauthenticated(async |tx| {
                tx.record(NewEvent::new("test", subject, "planted").keeps(of, &parts));
                Ok(())
            })
            .await
            .unwrap();
    }

    /// The parts of the key of a table's last row that must be vouched for, and where the row lies.
    async fn last(&mut self, of: &Kept) -> Option<(Vec<String>, String)> {
        let only = if of.only.is_empty() { "true" } else { of.only };
        let key: Vec<String> = of.key.iter().map(|part| format!("t.{}", part.0)).collect();
        let parts: Vec<String> = key.iter().map(|part| format!("{part}::text")).collect();
        let order: Vec<String> = key.iter().map(|part| format!("{part} DESC")).collect();
        let sql = format!(
            "SELECT t.ctid::text || ' ' || concat_ws('/', {}) AS value FROM {} t WHERE {only} ORDER BY {} LIMIT 1",
            parts.join(", "),
            of.table,
            order.join(", ")
        );
        let found = texts(&mut self.owner, &sql).await.pop()?;
        let (at, key) = found.split_once(' ').unwrap();
        let parts = if of.key.len() == 1 {
            vec![key.to_owned()]
        } else {
            key.split('/').map(str::to_owned).collect()
        };
        Some((parts, at.to_owned()))
    }

    async fn verdict(&self) -> Verdict {
        journal::verify(&self.store, &self.kept, clinic::journal::checks()).await.unwrap()
    }

    /// What verifying finds after one damage to each of several tables, which is then undone. Each damage must be
    /// found, by a sentence that names the table and the key.
    async fn finds(&mut self, damages: Vec<(&'static Kept, String, String)>) {
        for (_, _, damage) in &damages {
            run(&mut self.owner, damage).await;
        }
        let found = self.verdict().await.breaks;
        for (of, key, damage) in damages {
            let row = format!("{} {key}:", of.table);
            assert!(
                found.listed().iter().any(|one| one.starts_with(&row)),
                "{damage}: not found among {:#?}",
                found.listed()
            );
            for table in of.tables() {
                run(
                    &mut self.owner,
                    &format!("TRUNCATE {table}; INSERT INTO {table} SELECT * FROM was_{table}"),
                )
                .await;
            }
        }
    }

    async fn remove(self) {
        drop(self.owner);
        drop(self.store);
        database::remove(&self.url).await;
    }

    /// Every change of one value of a table's last row, or of one that belongs to it.
    async fn changes(&mut self, of: &'static Kept) -> Vec<(&'static Kept, String, String)> {
        let (parts, at) = self.last(of).await.unwrap();
        let key = parts.join("/");
        let mut changes = Vec::new();
        for column in of.columns {
            let changed = self.changed(of.table, column.name());
            let (table, name) = (of.table, column.name());
            changes.push((
                of,
                key.clone(),
                format!("UPDATE {table} SET {name} = {changed} WHERE ctid = '{at}'"),
            ));
        }
        for belonging in of.belonging {
            let table = belonging.table;
            let one =
                format!("ctid = (SELECT max(b.ctid) FROM {table} b WHERE {})", at_parent(of, belonging, &at));
            let joins = belonging.on.iter().map(|(theirs, _)| *theirs);
            for name in belonging.columns.iter().map(|column| column.name()).chain(joins) {
                let changed = self.changed(table, name);
                changes.push((of, key.clone(), format!("UPDATE {table} SET {name} = {changed} WHERE {one}")));
            }
            changes.push((of, key.clone(), format!("DELETE FROM {table} WHERE {one}")));
        }
        changes.push((of, key.clone(), format!("DELETE FROM {} WHERE ctid = '{at}'", of.table)));
        changes
    }

    /// Another value than a column has, as its type allows.
    fn changed(&self, table: &str, column: &str) -> String {
        let (.., sql_type) = self.columns.iter().find(|(of, name, _)| of == table && name == column).unwrap();
        match sql_type.as_str() {
            "uuid" => "gen_random_uuid()".to_owned(),
            "boolean" => format!("NOT coalesce({column}, false)"),
            "date" => format!("coalesce({column}, date '2026-03-02') + 1"),
            "timestamp with time zone" => {
                format!("coalesce({column}, timestamptz '2026-03-02 08:00Z') + interval '1 microsecond'")
            }
            "bytea" => format!("coalesce({column}, '') || '\\x00'::bytea"),
            "jsonb" => format!("jsonb_build_array({column})"),
            "text" => format!("coalesce({column}, '') || 'x'"),
            "smallint" | "integer" | "bigint" | "numeric" => format!("coalesce({column}, 0) + 1000"),
            "smallint[]" => format!("coalesce({column}, '{{}}') || 7::smallint"),
            "numeric[]" => format!("coalesce({column}, '{{}}') || 7::numeric"),
            "text[]" => format!("coalesce({column}, '{{}}') || 'y'::text"),
            other => panic!("{table}.{column}: another value of type {other}"),
        }
    }
}

/// The rows `b` that belong to the row of a kept table that lies at `at`.
fn at_parent(of: &Kept, belonging: &journal::Belonging, at: &str) -> String {
    let on: Vec<String> = belonging
        .on
        .iter()
        .map(|(theirs, ours)| {
            format!("b.{theirs} = (SELECT t.{ours} FROM {} t WHERE t.ctid = '{at}')", of.table)
        })
        .collect();
    on.join(" AND ")
}

async fn run(owner: &mut AsyncPgConnection, sql: &str) {
    owner.batch_execute(sql).await.unwrap_or_else(|error| panic!("{sql}: {error}"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_change_of_any_value_of_any_kept_row_is_found() {
    let mut clinic = Clinic::new().await;
    // One damage to each table at a time, so that verifying runs as often as the widest table has columns.
    for round in 0.. {
        let mut damages = Vec::new();
        for of in clinic.kept.clone() {
            damages.extend(clinic.changes(of).await.into_iter().nth(round));
        }
        if damages.is_empty() {
            break;
        }
        clinic.finds(damages).await;
    }
    let verdict = clinic.verdict().await;
    assert!(verdict.holds(), "everything was put back: {verdict}");
    clinic.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_row_slipped_into_any_kept_table_is_found() {
    let mut clinic = Clinic::new().await;
    for of in clinic.kept.clone() {
        let (names, values) = clinic.values(of.table, &[]);
        run(
            &mut clinic.owner,
            &format!("DELETE FROM {}; DELETE FROM row_digest WHERE table_name = '{0}'", of.table),
        )
        .await;
        run(&mut clinic.owner, &format!("INSERT INTO {} ({names}) VALUES ({values})", of.table)).await;
    }
    let mut slipped = BTreeSet::new();
    for found in clinic.verdict().await.breaks.listed() {
        if found.ends_with("no digest is kept for the row, and no event vouches for it") {
            slipped.extend(found.split(' ').next().map(str::to_owned));
        }
    }
    let tables: BTreeSet<String> = clinic.kept.iter().map(|of| of.table.to_owned()).collect();
    assert_eq!(slipped, tables);
    clinic.remove().await;
}
