//! The tables of these tests: jars with their notes, labels kept by two columns, and a word kept by a text.

use diesel::sql_types::{Integer, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::journal::{Belonging, Column, Kept, Key, NewEvent};
use store::{Result, Store, Tx};
use uuid::Uuid;

pub(crate) const TABLES: &str = "
    CREATE TABLE jug (
        id uuid PRIMARY KEY, name text NOT NULL, note text, grams numeric NOT NULL, filled_at timestamptz NOT NULL,
        mark bytea NOT NULL, open boolean NOT NULL, facts jsonb NOT NULL, state text NOT NULL
    );
    CREATE TABLE jar_note (
        jar_id uuid NOT NULL, position integer NOT NULL, text text NOT NULL, PRIMARY KEY (jar_id, position)
    );
    CREATE TABLE label (room text NOT NULL, place integer NOT NULL, text text NOT NULL, PRIMARY KEY (room, place));
    CREATE TABLE word (word text PRIMARY KEY, meaning text NOT NULL);
    GRANT SELECT, INSERT, UPDATE, DELETE ON jug, jar_note, label, word TO stillroom_service";

pub(crate) static JAR: Kept = Kept {
    table: "jug",
    key: &[Key("id", "uuid")],
    columns: &[
        Column::Text("id"),
        Column::Text("name"),
        Column::Text("note"),
        Column::Text("grams"),
        Column::Time("filled_at"),
        Column::Bytes("mark"),
        Column::Text("open"),
        Column::Text("facts"),
        Column::Text("state"),
    ],
    belonging: &[Belonging {
        table: "jar_note",
        on: &[("jar_id", "id")],
        order: &["position"],
        columns: &[Column::Text("position"), Column::Text("text")],
    }],
    only: "t.state <> 'draft'",
};

pub(crate) static LABEL: Kept = Kept {
    table: "label",
    key: &[Key("room", "text"), Key("place", "integer")],
    columns: &[Column::Text("room"), Column::Text("place"), Column::Text("text")],
    belonging: &[],
    only: "",
};

pub(crate) static WORD: Kept = Kept {
    table: "word",
    key: &[Key("word", "text")],
    columns: &[Column::Text("word"), Column::Text("meaning")],
    belonging: &[],
    only: "true",
};

pub(crate) static KEPT: &[&Kept] = &[&JAR, &LABEL, &WORD];

/// Adds a jug without an event.
pub(crate) async fn insert_jar(tx: &mut Tx<'_>, state: &str) -> Result<Uuid> {
    let id = tx.new_id();
    diesel::sql_query(
        "INSERT INTO jug VALUES ($1, 'Calendula ointment', NULL, 12.50, '2026-11-28 10:00:00.000001Z', '\\x0102', false,
             '{\"a\": 1.0}', $2)",
    )
    .bind::<SqlUuid, _>(id)
    .bind::<Text, _>(state)
    .execute(tx.conn())
    .await?;
    diesel::sql_query("INSERT INTO jar_note VALUES ($1, 1, 'one'), ($1, 2, 'two')")
        .bind::<SqlUuid, _>(id)
        .execute(tx.conn())
        .await?;
    Ok(id)
}

/// Adds a jug with its event.
pub(crate) async fn fill_jar(store: &Store) -> Uuid {
    store
        .run_unauthenticated(async |tx| {
            let id = insert_jar(tx, "filled").await?;
            tx.record(NewEvent::new("jug", id, "filled").keeps(&JAR, [id]));
            Ok(id)
        })
        .await
        .unwrap()
}

/// Changes a jug, under the subject of the jug or another.
pub(crate) async fn rename_jar(store: &Store, id: Uuid, subject: Uuid, name: &str) -> Result<()> {
    store
        .run_unauthenticated(async |tx| {
            diesel::sql_query("UPDATE jug SET name = $1 WHERE id = $2")
                .bind::<Text, _>(name)
                .bind::<SqlUuid, _>(id)
                .execute(tx.conn())
                .await?;
            tx.record(NewEvent::new("jug", subject, "renamed").keeps(&JAR, [id]));
            Ok(())
        })
        .await
}

/// Removes a jug with its notes.
pub(crate) async fn remove_jar(store: &Store, id: Uuid) {
    store
        .run_unauthenticated(async |tx| {
            for sql in ["DELETE FROM jar_note WHERE jar_id = $1", "DELETE FROM jug WHERE id = $1"] {
                diesel::sql_query(sql).bind::<SqlUuid, _>(id).execute(tx.conn()).await?;
            }
            tx.record(NewEvent::new("jug", id, "removed").keeps(&JAR, [id]));
            Ok(())
        })
        .await
        .unwrap();
}

/// Adds a label and a word with one event.
pub(crate) async fn write_label(store: &Store, place: i32, word: &str) {
    store
        .run_unauthenticated(async |tx| {
            diesel::sql_query("INSERT INTO label VALUES ('cellar', $1, 'Ointments')")
                .bind::<Integer, _>(place)
                .execute(tx.conn())
                .await?;
            diesel::sql_query("INSERT INTO word VALUES ($1, 'a meaning')")
                .bind::<Text, _>(word)
                .execute(tx.conn())
                .await?;
            tx.record(
                NewEvent::new("shelf", Uuid::from_u128(7), "labelled")
                    .keeps(&LABEL, ["cellar".to_owned(), place.to_string()])
                    .keeps(&WORD, [word]),
            );
            Ok(())
        })
        .await
        .unwrap();
}
