//! The live catalogue: indexes, cascades, collations, defaults, frozen content.

use diesel_async::SimpleAsyncConnection;
use stillroom_tests::{TestClinic, database};

use super::texts;
use crate::formulas::infused_oil;

/// Answers nothing, or the test fails with what was found.
async fn finds_nothing(url: &str, rule: &str, sql: &str) {
    let found = texts(&mut database::owner(url).await, sql).await;
    assert!(found.is_empty(), "{rule}, but: {found:#?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn every_foreign_key_is_indexed_and_none_cascades_but_two() {
    let url = database::copy().await;
    finds_nothing(
        &url,
        "the columns of every foreign key lead some whole index",
        "SELECT conrelid::regclass || ': ' || conname AS value FROM pg_constraint c
         WHERE contype = 'f' AND connamespace = 'public'::regnamespace AND NOT EXISTS (
             SELECT 1 FROM pg_index i WHERE i.indrelid = c.conrelid AND i.indpred IS NULL AND i.indisvalid
             AND (SELECT array_agg(k ORDER BY k) FROM unnest((i.indkey::int2[])[0:cardinality(c.conkey) - 1]) k)
               = (SELECT array_agg(k ORDER BY k) FROM unnest(c.conkey) k))",
    )
    .await;
    // `a` is NO ACTION, `r` is RESTRICT: removing or renumbering a row never reaches into another table. Two do, and by
    // changes alone: the role that a session is proved by follows the person's, and the balance beside what is reserved of a
    // lot follows its movements.
    finds_nothing(
        &url,
        "no other foreign key cascades",
        "SELECT conrelid::regclass || ': ' || conname AS value FROM pg_constraint
         WHERE contype = 'f' AND (confdeltype NOT IN ('a', 'r') OR confupdtype NOT IN ('a', 'r'))
             AND NOT (conname IN ('session_person_role', 'lot_held_balance') AND confdeltype = 'a' AND confupdtype = 'c')",
    )
    .await;
    let keys = texts(
        &mut database::owner(&url).await,
        "SELECT count(*)::text AS value FROM pg_constraint WHERE contype = 'f' AND connamespace = 'public'::regnamespace",
    )
    .await;
    assert!(keys[0].parse::<u32>().unwrap() > 50, "the queries above looked at something: {keys:?}");
    database::remove(&url).await;
}

/// The text columns that lists are ordered and continued by, with what stands before them in the index.
const ORDERED_BY: [(&str, &str); 6] = [
    ("person", "(name COLLATE \"C\", id)"),
    ("material", "(name COLLATE \"C\", id)"),
    ("library", "(name COLLATE \"C\", id)"),
    ("formula", "(library_id, preparation, title COLLATE \"C\", id)"),
    ("formula", "(library_id, title COLLATE \"C\", id)"),
    ("formula", "(library_id, title COLLATE \"C\", id) WHERE (approved_revision_id IS NOT NULL)"),
];

#[tokio::test(flavor = "multi_thread")]
async fn what_lists_are_ordered_by_is_indexed_by_bytes() {
    let url = database::copy().await;
    let indexes = texts(
        &mut database::owner(&url).await,
        "SELECT indexdef AS value FROM pg_indexes WHERE schemaname = 'public' AND indexdef LIKE '%COLLATE%' ORDER BY 1",
    )
    .await;
    for (table, columns) in ORDERED_BY {
        assert!(
            indexes.iter().any(|index| index.ends_with(&format!(" ON public.{table} USING btree {columns}"))),
            "{table} lacks an index on {columns}: {indexes:#?}"
        );
    }
    // An index in bytes that no list is ordered by is one to pay for without use; a list without its row here is new.
    assert_eq!(indexes.len(), ORDERED_BY.len(), "{indexes:#?}");
    database::remove(&url).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_default_asks_the_databases_clock() {
    let url = database::copy().await;
    finds_nothing(
        &url,
        "time comes in through one clock, as a parameter",
        "SELECT d.adrelid::regclass || '.' || a.attname || ': ' || pg_get_expr(d.adbin, d.adrelid) AS value
         FROM pg_attrdef d JOIN pg_attribute a ON a.attrelid = d.adrelid AND a.attnum = d.adnum
         JOIN pg_class c ON c.oid = d.adrelid
         WHERE c.relnamespace = 'public'::regnamespace AND c.relname NOT LIKE '\\_\\_%'
         AND pg_get_expr(d.adbin, d.adrelid) ~* '(now|timestamp|timeofday|current_|localtime)'",
    )
    .await;
    finds_nothing(
        &url,
        "neither does a function",
        "SELECT proname::text AS value FROM pg_proc WHERE pronamespace = 'public'::regnamespace
         AND prosrc ~* '(now\\(|_timestamp|current_(date|time)|localtime|timeofday)'",
    )
    .await;
    database::remove(&url).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn frozen_content_cannot_be_changed_even_by_the_owner_of_the_database() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let marek = clinic.person("marek.dvorsky", "instructor").await;
    let library = clinic.library(&ilse, "First-year creams", &[&marek]).await;
    let approved = clinic.approved(&ilse, &marek, &library, infused_oil()).await;
    let mut oil = infused_oil();
    oil["title"] = "Infused oil of arnica".into();
    let proposed = clinic.proposed(&ilse, &library, oil.clone()).await;
    oil["title"] = "Infused oil of yarrow".into();
    let path = format!("/v1/libraries/{library}/formulas");
    let draft =
        ilse.post(&path, serde_json::json!({ "content": oil })).await.expect(201).text_at("/revisions/0/id");

    let mut owner = database::owner(&clinic.database).await;
    for revision in [&approved, &proposed] {
        for change in [
            format!("UPDATE revision_content SET content = '{{}}' WHERE revision_id = '{revision}'"),
            format!("UPDATE revision_content SET evaluation = NULL WHERE revision_id = '{revision}'"),
            format!("UPDATE revision_content SET salt = NULL WHERE revision_id = '{revision}'"),
            format!("UPDATE revision SET digest = decode(repeat('00', 32), 'hex') WHERE id = '{revision}'"),
            format!("UPDATE revision SET title = 'Another' WHERE id = '{revision}'"),
            format!("UPDATE revision SET regime = 'food' WHERE id = '{revision}'"),
            format!("UPDATE revision SET author_id = '{}' WHERE id = '{revision}'", marek.id),
        ] {
            let error = owner.batch_execute(&change).await.expect_err(&change).to_string();
            assert!(error.contains("frozen"), "{change}: {error}");
        }
        // Back to a draft, where it could be changed again, leads no way either.
        let change = format!("UPDATE revision SET state = 'draft', digest = NULL WHERE id = '{revision}'");
        owner.batch_execute(&change).await.expect_err(&change);
        let change = format!("UPDATE revision SET state = 'draft' WHERE id = '{revision}'");
        owner.batch_execute(&change).await.expect_err(&change);
    }
    // The same statements do change a draft: what stopped them is that the others are frozen.
    let change = format!("UPDATE revision_content SET content = content WHERE revision_id = '{draft}'");
    owner.batch_execute(&change).await.unwrap();
    drop(owner);
    clinic.stop().await;
}
