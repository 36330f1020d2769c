//! What the owner of the database changes is found.

use diesel_async::AsyncPgConnection;
use store::journal::{Breaks, Check, RowFault, Verdict, number_events, prove_row, verify};
use store::{Error, Store};
use uuid::Uuid;

use crate::database::{Database, run, texts};
use crate::shelf::{JAR, KEPT, fill_jar, insert_jar, remove_jar, rename_jar, write_label};

const TABLES: [&str; 9] = [
    "jug",
    "jar_note",
    "label",
    "word",
    "row_digest",
    "event_order",
    "event_unnumbered",
    "event_head",
    "event",
];

/// A journal with every kind of row and event, and a copy of every table to put things back from.
struct Shelf {
    database: Database,
    store: Store,
    owner: AsyncPgConnection,
    jug: Uuid,
    removed: Uuid,
}

impl Shelf {
    async fn new() -> Self {
        let database = Database::new().await;
        let store = database.store();
        let jug = fill_jar(&store).await;
        rename_jar(&store, jug, jug, "Marigold ointment").await.unwrap();
        let removed = fill_jar(&store).await;
        remove_jar(&store, removed).await;
        for (place, word) in [(2, "decoction"), (10, "marc/pressed")] {
            write_label(&store, place, word).await;
        }
        assert_eq!(number_events(&store).await.unwrap(), 6);
        fill_jar(&store).await;
        store.run_unauthenticated(async |tx| insert_jar(tx, "draft").await).await.unwrap();
        let mut owner = database.owner().await;
        for constraint in texts(
            &mut owner,
            "SELECT format('ALTER TABLE %s DROP CONSTRAINT %I', conrelid::regclass, conname) AS value
             FROM pg_constraint WHERE connamespace = 'public'::regnamespace AND contype IN ('f', 'c')
                 AND conrelid <> 0",
        )
        .await
        {
            run(&mut owner, &constraint).await;
        }
        for table in TABLES {
            run(&mut owner, &format!("CREATE TABLE was_{table} AS TABLE {table}")).await;
        }
        Self { database, store, owner, jug, removed }
    }

    async fn verdict(&self) -> Verdict {
        verify(&self.store, KEPT, &[]).await.unwrap()
    }

    /// The breaks that verifying finds after this damage, which is then undone.
    async fn found(&mut self, damage: &str) -> Vec<String> {
        run(&mut self.owner, damage).await;
        let verdict = self.verdict().await;
        for table in TABLES {
            run(&mut self.owner, &format!("TRUNCATE {table}; INSERT INTO {table} SELECT * FROM was_{table}"))
                .await;
        }
        verdict.breaks.listed().to_vec()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_untouched_journal_holds_and_says_how_much_was_verified() {
    let shelf = Shelf::new().await;
    let verdict = shelf.verdict().await;
    assert!(verdict.holds(), "{verdict}");
    let rows: Vec<(&str, u64)> = verdict.rows.iter().map(|(table, count)| (*table, *count)).collect();
    assert_eq!(rows, [("jug", 2), ("label", 2), ("word", 2)]);
    assert_eq!((verdict.events, verdict.chains, verdict.numbered, verdict.removed), (7, 4, 6, 1));
    shelf.database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_change_of_any_column_of_a_row_is_found() {
    let mut shelf = Shelf::new().await;
    let jug = shelf.jug;
    for set in [
        "name = name || ' '",
        "note = ''",
        "grams = 12.500",
        "filled_at = filled_at + interval '1 microsecond'",
        "filled_at = filled_at - interval '4051 years'",
        "filled_at = 'infinity'",
        "mark = '\\x0103'",
        "open = true",
        "facts = '{\"a\": 1}'",
        "state = 'opened'",
        // A row that an event vouches for is not excused by turning into one that need not be.
        "state = 'draft'",
    ] {
        let found = shelf.found(&format!("UPDATE jug SET {set} WHERE id = '{jug}'")).await;
        assert_eq!(
            found,
            [format!("jug {jug}: the row was changed after event 2 of {jug} vouched for it")],
            "{set}"
        );
    }
    for damage in [
        format!("UPDATE jar_note SET text = 'x' WHERE jar_id = '{jug}' AND position = 2"),
        format!("UPDATE jar_note SET position = 3 WHERE jar_id = '{jug}' AND position = 2"),
        format!("DELETE FROM jar_note WHERE jar_id = '{jug}'"),
        format!("INSERT INTO jar_note VALUES ('{jug}', 9, 'x')"),
    ] {
        let found = shelf.found(&damage).await;
        assert_eq!(
            found,
            [format!("jug {jug}: the row was changed after event 2 of {jug} vouched for it")],
            "{damage}"
        );
    }
    let found = shelf.found("UPDATE label SET text = 'x' WHERE place = 10").await;
    assert_eq!(
        found,
        [format!(
            "label cellar/10: the row was changed after event 2 of {} vouched for it",
            Uuid::from_u128(7)
        )]
    );
    let found = shelf.found("UPDATE word SET meaning = 'x' WHERE word = 'marc/pressed'").await;
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].starts_with("word marc/pressed: the row was changed"), "{found:?}");
    shelf.database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_row_added_removed_put_back_or_renamed_is_found() {
    let mut shelf = Shelf::new().await;
    let (jug, removed) = (shelf.jug, shelf.removed);
    let found = shelf.found(&format!("DELETE FROM jug WHERE id = '{jug}'")).await;
    assert_eq!(found, [format!("jug {jug}: the row was removed after event 2 of {jug} vouched for it")]);
    let found = shelf.found("INSERT INTO word VALUES ('zest', 'x')").await;
    assert_eq!(found, ["word zest: no digest is kept for the row, and no event vouches for it"]);
    let found = shelf
        .found(&format!(
            "INSERT INTO jug SELECT '{removed}', name, note, grams, filled_at, mark, open, facts, state
             FROM jug WHERE id = '{jug}'"
        ))
        .await;
    assert_eq!(
        found,
        [format!("jug {removed}: the row was put back after event 2 of {removed} said that it was removed")]
    );
    let found = shelf.found("UPDATE label SET place = 11 WHERE place = 10").await;
    assert_eq!(found.len(), 2, "{found:?}");
    // The row and its digest together.
    let found = shelf
        .found(&format!("DELETE FROM jug WHERE id = '{jug}'; DELETE FROM row_digest WHERE row_key = '{jug}'"))
        .await;
    assert_eq!(found, [format!("jug {jug}: the digest that event 2 of {jug} vouches for was removed")]);
    shelf.database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_digest_that_was_tampered_with_is_found() {
    let mut shelf = Shelf::new().await;
    let jug = shelf.jug;
    for (set, said) in [
        ("digest = sha256('x')", "vouches for another digest of the row than the one that is kept"),
        ("salt = decode(repeat('00', 16), 'hex')", "the row was changed after"),
        ("salt = '\\x00'", "the salt of the digest"),
        ("form = 1", "the row was changed after"),
        ("form = 7", "has the form 7, which this version does not know"),
        ("event_id = gen_random_uuid()", "should vouch for the row, does not exist"),
        ("table_name = 'cup'", "a digest is kept for a table that the journal does not know"),
        ("row_key = 'x'", "no digest is kept for the row, and no event vouches for it"),
        (
            "event_id = (SELECT id FROM event WHERE subject_kind = 'shelf' LIMIT 1)",
            "does not vouch for the row, though its digest names that event",
        ),
    ] {
        let found = shelf.found(&format!("UPDATE row_digest SET {set} WHERE row_key = '{jug}'")).await;
        assert!(found.iter().any(|one| one.contains(said)), "{set}: {found:?}");
        assert!(found.iter().any(|one| one.contains(&jug.to_string())), "{set}: {found:?}");
    }
    shelf.database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_row_put_back_with_its_digest_of_that_time_is_found() {
    let database = Database::new().await;
    let store = database.store();
    let jug = fill_jar(&store).await;
    let mut owner = database.owner().await;
    run(&mut owner, "CREATE TABLE old_jar AS TABLE jug; CREATE TABLE old_digest AS TABLE row_digest").await;
    let other = Uuid::from_u128(9);
    rename_jar(&store, jug, other, "Marigold ointment").await.unwrap();
    assert!(verify(&store, KEPT, &[]).await.unwrap().holds());
    run(
        &mut owner,
        "TRUNCATE jug; INSERT INTO jug SELECT * FROM old_jar;
         TRUNCATE row_digest; INSERT INTO row_digest SELECT * FROM old_digest",
    )
    .await;
    let found = verify(&store, KEPT, &[]).await.unwrap().breaks;
    assert_eq!(
        found.listed(),
        [format!("jug {jug}: the row was put back to what it was before event 1 of {other}")]
    );
    // The service goes on from the row that was put back: the fork stays visible.
    rename_jar(&store, jug, jug, "Rose ointment").await.unwrap();
    let found = verify(&store, KEPT, &[]).await.unwrap().breaks;
    assert_eq!(found.total(), 1, "{found:?}");
    assert!(found.listed()[0].contains("the row was once put back"), "{found:?}");
    database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_changed_missing_or_unreadable_event_is_found() {
    let mut shelf = Shelf::new().await;
    let jug = shelf.jug;
    let second = format!("WHERE subject_id = '{jug}' AND number = 2");
    for set in [
        "action = 'x'",
        "subject_kind = 'x'",
        "at = 'infinity'",
        "at = at - interval '5000 years'",
        "actor_id = gen_random_uuid()",
        "on_authority_of = gen_random_uuid()",
        "before_digest = '\\x00'",
        "after_digest = '\\x00'",
        "detail = '1e400'",
        "detail = (repeat('[', 300) || repeat(']', 300))::jsonb",
        "detail = '{\"rows\": 1}'",
        "form = 1",
        "form = 9",
    ] {
        let found = shelf.found(&format!("UPDATE event SET {set} {second}")).await;
        assert!(
            found.contains(&format!("{jug}: event 2 was changed after it was written")),
            "{set}: {found:?}"
        );
    }
    let found = shelf.found(&format!("DELETE FROM event {second}")).await;
    assert!(
        found.contains(&format!("{jug}: the chain's head names event 2, which is not there as it was")),
        "{found:?}"
    );
    let found = shelf.found("DELETE FROM event_head").await;
    assert_eq!(found.len(), 7, "{found:?}");
    shelf.database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_damaged_order_is_found() {
    let mut shelf = Shelf::new().await;
    for (damage, said) in [
        ("DELETE FROM event_order WHERE position = 3", "place 3 is missing before place 4"),
        ("DELETE FROM event_order WHERE position = 6", "has no place and waits for none"),
        ("DELETE FROM event_unnumbered", "has no place and waits for none"),
        (
            "INSERT INTO event_unnumbered SELECT event_id FROM event_order WHERE position = 2",
            "still waits for one",
        ),
        ("INSERT INTO event_order VALUES (7, gen_random_uuid())", "which does not exist"),
        (
            "ALTER TABLE event_order DROP CONSTRAINT event_order_event_id_key;
             INSERT INTO event_order SELECT 7, event_id FROM event_order WHERE position = 1",
            "has several places, 7 the last",
        ),
    ] {
        let found = shelf.found(damage).await;
        assert!(found.iter().any(|one| one.contains(said)), "{damage}: {found:?}");
    }
    shelf.database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn breaks_beyond_the_first_thousand_are_counted() {
    let mut shelf = Shelf::new().await;
    run(&mut shelf.owner, "INSERT INTO word SELECT 'w' || n, 'x' FROM generate_series(1, 2345) n").await;
    let verdict = shelf.verdict().await;
    assert_eq!((verdict.breaks.total(), verdict.breaks.listed().len()), (2345, 1000));
    assert_eq!(verdict.rows["word"], 2347);
    assert!(verdict.to_string().contains("1345 further breaks are not listed"), "{verdict}");
    shelf.database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_registered_check_adds_its_breaks() {
    static CHECK: Check = Check {
        name: "labels",
        run: |tx, breaks: &mut Breaks| {
            Box::pin(async move {
                breaks.push(format!("label: looked at {}", tx.now().timestamp() > 0));
                Ok(2)
            })
        },
    };
    let shelf = Shelf::new().await;
    let verdict = verify(&shelf.store, KEPT, &[&CHECK]).await.unwrap();
    assert_eq!(verdict.breaks.listed(), ["label: looked at true"]);
    assert_eq!(verdict.checks["labels"], 2);
    shelf.database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_row_is_proved_before_it_is_relied_on() {
    let mut shelf = Shelf::new().await;
    let (jug, removed) = (shelf.jug, shelf.removed);
    let proved = |id: Uuid| shelf.store.run_unauthenticated(async move |tx| prove_row(tx, &JAR, [id]).await);
    proved(jug).await.unwrap();
    proved(removed).await.unwrap();
    run(&mut shelf.owner, "UPDATE jug SET grams = 1").await;
    let Err(Error::Internal(cause)) = proved(jug).await else { panic!("a changed row is refused") };
    let fault: &RowFault = cause.downcast_ref().unwrap();
    assert_eq!((fault.table.as_str(), fault.key.as_str()), ("jug", jug.to_string().as_str()));
    shelf.database.remove().await;
}
