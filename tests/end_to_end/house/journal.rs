//! The journal shows what was done to it.

use clinic::journal;
use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use stillroom_tests::{TestClinic, database};

use super::texts;
use crate::formulas::infused_oil;

/// Does damage as the owner of the database could, and answers what verifying finds in this subject's chain; then puts
/// everything back. What the rows and the order say besides is tried in `proof`.
async fn found_after(
    clinic: &TestClinic,
    owner: &mut AsyncPgConnection,
    subject: &str,
    damage: &str,
) -> Vec<String> {
    owner.batch_execute(damage).await.unwrap_or_else(|error| panic!("{damage}: {error}"));
    let verdict = journal::verify(&clinic.service.clinic).await.unwrap();
    owner
        .batch_execute(
            "DELETE FROM event; INSERT INTO event SELECT * FROM kept_event;
             DELETE FROM event_head; INSERT INTO event_head SELECT * FROM kept_head",
        )
        .await
        .unwrap();
    let chain = format!("{subject}: ");
    verdict.breaks.listed().iter().filter(|found| found.starts_with(&chain)).cloned().collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn verifying_finds_what_was_changed_removed_cut_off_or_slipped_in() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let marek = clinic.person("marek.dvorsky", "instructor").await;
    let library = clinic.library(&ilse, "First-year creams", &[&marek]).await;
    let revision = clinic.approved(&ilse, &marek, &library, infused_oil()).await;
    let mut owner = database::owner(&clinic.database).await;
    owner
        .batch_execute(
            "ALTER TABLE row_digest DROP CONSTRAINT row_digest_event_id_fkey;
             ALTER TABLE event_order DROP CONSTRAINT event_order_event_id_fkey;
             ALTER TABLE event_unnumbered DROP CONSTRAINT event_unnumbered_event_id_fkey;
             CREATE TABLE kept_event AS TABLE event; CREATE TABLE kept_head AS TABLE event_head",
        )
        .await
        .unwrap();
    let last: i64 = texts(
        &mut owner,
        &format!("SELECT max(number)::text AS value FROM event WHERE subject_id = '{revision}'"),
    )
    .await[0]
        .parse()
        .unwrap();
    assert!(last >= 4, "drafted, proposed, acknowledged, approved: {last}");
    let untouched = journal::verify(&clinic.service.clinic).await.unwrap();
    assert!(untouched.holds(), "an untouched journal holds: {untouched}");

    // Every column of an event is under its hash.
    let second = format!("WHERE subject_id = '{revision}' AND number = 2");
    for set in [
        "action = 'approved'",
        "at = at - interval '1 microsecond'",
        &format!("actor_id = '{}'", marek.id),
        "actor_id = NULL",
        &format!("on_authority_of = '{}'", marek.id),
        "subject_kind = 'batch'",
        "detail = detail || '{\"note\": \"x\"}'",
        "before_digest = decode(repeat('00', 32), 'hex')",
        "after_digest = decode(repeat('00', 32), 'hex')",
        "id = '01900000-0000-7000-8000-000000000000'",
    ] {
        let changed = format!("UPDATE event SET {set} {second} AND (action, actor_id) IS NOT NULL");
        let found = found_after(&clinic, &mut owner, &revision, &changed).await;
        assert_eq!(found, [format!("{revision}: event 2 was changed after it was written")], "{set}");
    }
    // A changed hash breaks the event itself and the one that follows it.
    let found = found_after(
        &clinic,
        &mut owner,
        &revision,
        &format!("UPDATE event SET hash = decode(repeat('00', 32), 'hex') {second}"),
    )
    .await;
    assert_eq!(
        found,
        [
            format!("{revision}: event 2 was changed after it was written"),
            format!("{revision}: event 3 does not follow the one before it"),
        ]
    );

    let removed = format!("DELETE FROM event {second}");
    let found = found_after(&clinic, &mut owner, &revision, &removed).await;
    assert_eq!(found, [format!("{revision}: event 2 is missing before event 3")]);
    let removed = format!("DELETE FROM event WHERE subject_id = '{revision}' AND number = 1");
    let found = found_after(&clinic, &mut owner, &revision, &removed).await;
    assert_eq!(found, [format!("{revision}: event 1 is missing before event 2")]);
    // Removed and the rest numbered anew: the hashes say so.
    let renumbered = format!(
        "DELETE FROM event {second}; UPDATE event SET number = number + 1000 WHERE subject_id = '{revision}' AND number > 2; UPDATE event SET number = number - 1001 WHERE number > 1000"
    );
    assert!(found_after(&clinic, &mut owner, &revision, &renumbered).await.len() > 1);

    let cut = format!("DELETE FROM event WHERE subject_id = '{revision}' AND number = {last}");
    let found = found_after(&clinic, &mut owner, &revision, &cut).await;
    assert_eq!(
        found,
        [format!("{revision}: the chain's head names event {last}, which is not there as it was")]
    );
    let all = format!("DELETE FROM event WHERE subject_id = '{revision}'");
    let found = found_after(&clinic, &mut owner, &revision, &all).await;
    assert_eq!(
        found,
        [format!("{revision}: the chain's head names event {last}, which is not there as it was")]
    );

    // One slipped in behind the head, or a head taken away.
    let slipped = format!(
        "INSERT INTO event SELECT '01900000-0000-7000-8000-000000000000', subject_kind, subject_id, number + 1, at,
             actor_id, on_authority_of, action, before_digest, after_digest, detail, hash, hash, form
         FROM event WHERE subject_id = '{revision}' AND number = {last}"
    );
    let found = found_after(&clinic, &mut owner, &revision, &slipped).await;
    assert!(found.iter().any(|one| one.contains(&format!("event {}", last + 1))), "{found:?}");
    let headless = format!("DELETE FROM event_head WHERE subject_id = '{revision}'");
    let found = found_after(&clinic, &mut owner, &revision, &headless).await;
    let behind: Vec<String> = (1..=last)
        .map(|number| format!("{revision}: event {number} stands behind the chain's head"))
        .collect();
    assert_eq!(found, behind);
    let rewound = format!("UPDATE event_head SET number = 1 WHERE subject_id = '{revision}'");
    assert!(!found_after(&clinic, &mut owner, &revision, &rewound).await.is_empty());
    drop(owner);
    clinic.stop().await;
}
