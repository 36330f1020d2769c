//! The gate: amounts and method reach nobody who has not acknowledged, whatever they ask and wherever they look.
//!
//! Formulas are planted whose amounts and words stand nowhere else. The served document is walked as everybody whose
//! door is shut, and what was planted, and every figure derived from it, is sought in whatever comes back, in the
//! open tables, in the open columns of the gated ones, in the journal and in the log.

mod doors;
pub(crate) mod logs;
mod planted;
mod search;
mod walk;

use std::collections::BTreeSet;

use crate::authority::document::operations;
use crate::authority::rows::{every_row, every_row_of, may_read};
use planted::{Planted, plant};
use release::columns::GATED;
use search::Sought;
pub(crate) use walk::reads;
use walk::walk;

#[tokio::test(flavor = "multi_thread")]
async fn amounts_and_method_reach_nobody_whose_door_is_shut() {
    logs::listen();
    let planted = plant().await;
    let document = operations(&planted.clinic.nobody).await;

    // The walk finds what it seeks: for somebody who has acknowledged, on the way where it belongs.
    let everything = planted.everything_and_what_follows_from_it().await;
    labels_are_open_and_tell_nothing(&planted, &everything).await;
    let found = walk(&planted, &document, &planted.acknowledged, &everything).await;
    let ways: BTreeSet<&str> = found.iter().map(|hit| hit.operation.as_str()).collect();
    assert!(ways.contains("GET /v1/revisions/{id}/recipe"), "{ways:?}");
    assert!(ways.contains("GET /v1/revisions/{id}/evaluation"), "{ways:?}");
    let gated_ways = [
        "GET /v1/revisions/{id}/recipe",
        "GET /v1/revisions/{id}/evaluation",
        "GET /v1/revisions/{id}/comments",
        "POST /v1/evaluations",
        "POST /v1/batches",
    ];
    for way in &ways {
        assert!(gated_ways.contains(way), "a way past the gate: {way}");
    }
    let seen: BTreeSet<&str> = found.iter().map(|hit| hit.canary.as_str()).collect();
    for canary in planted.readable() {
        assert!(seen.contains(canary.as_str()), "{canary} was planted and is not found by who may read it");
    }

    // Nobody else finds any of it, anywhere.
    let mut leaks = Vec::new();
    for (who, caller, sought) in planted.shut_out(&everything) {
        for hit in walk(&planted, &document, &caller, &sought).await {
            leaks.push(format!("{who}: {hit}"));
        }
    }
    assert!(leaks.is_empty(), "{} leaks:\n{}", leaks.len(), leaks.join("\n"));

    nothing_stands_in_an_open_column(&planted, &everything).await;
    let log = logs::so_far();
    assert!(log.contains("\"answered\""), "the log is listened to: {}", log.len());
    assert_eq!(everything.find(&log), BTreeSet::new(), "in the log");
    planted.clinic.stop().await;
}

/// The walk asks for every label as everybody; here those that must be answered are, and have everything on them.
async fn labels_are_open_and_tell_nothing(planted: &Planted, everything: &Sought) {
    const QUERIES: [&str; 3] = ["", "?net=30%20g&area=40%20cm2", "?net=1%20cup&area=2.5%20cm2"];
    let mut labels = Vec::new();
    for query in QUERIES {
        for revision in planted.may_be_made() {
            let path = format!("/v1/revisions/{revision}/label{query}");
            labels.push(planted.never_acknowledged().get(&path).await.expect(200));
        }
        let path = format!("/v1/batches/{}/label{query}", planted.batch);
        labels.push(planted.outermost.get(&path).await.expect(200));
    }
    for label in labels {
        let items = label.json["ingredients"]["items"].as_array().unwrap();
        assert!(items.iter().any(|item| item["name"] == "dried calendula flower"), "{}", label.text);
        assert_eq!(everything.find(&label.text), BTreeSet::new(), "{}", label.text);
    }
}

/// Tables of amounts that the service adds to and cannot read.
const UNREAD: [&str; 2] = ["lot_held", "lot_reserved"];

/// Neither in an open table nor in an open column of a gated one.
async fn nothing_stands_in_an_open_column(planted: &Planted, sought: &Sought) {
    let tables = every_row(&planted.clinic.database).await;
    let mut behind = BTreeSet::new();
    for (table, rows) in &tables {
        if UNREAD.contains(&table.as_str()) {
            assert!(!may_read(&planted.clinic.database, table).await, "the service may read {table}");
            behind.extend(sought.find(&rows.join("\n")));
            continue;
        }
        let Some(gated) = GATED.iter().find(|gated| gated.name == table) else {
            assert_eq!(sought.find(&rows.join("\n")), BTreeSet::new(), "in the table {table}");
            continue;
        };
        let open = every_row_of(&planted.clinic.database, table, gated.open).await.join("\n");
        assert_eq!(sought.find(&open), BTreeSet::new(), "in an open column of the table {table}");
        for column in gated.gated {
            let rows = every_row_of(&planted.clinic.database, table, &[column]).await;
            behind.extend(sought.find(&rows.join("\n")));
        }
    }
    for canary in planted.written() {
        assert!(behind.contains(&canary), "{canary} is kept nowhere");
    }
    for open in ["event", "idempotency", "release_grant", "acknowledgement", "caution", "revision", "batch"] {
        assert!(!tables[open].is_empty(), "{open} has no rows to look through");
    }
}
