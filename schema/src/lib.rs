//! Diesel's view of the database, printed from the migrated database and compared with it by a test.
//!
//! The tables behind the gate are missing on purpose: only the crate `release` knows them.
//! Words such as states and roles are text with a check in Postgres; their Rust enumerations are in `wire`.

#[expect(missing_docs, reason = "printed from the database; the migrations say what each table is for")]
#[rustfmt::skip]
pub mod schema;

mod rows;

pub use rows::BatchRow;
pub use schema::*;

diesel::joinable!(credential -> person (person_id));
diesel::joinable!(one_time_code -> person (person_id));
diesel::joinable!(page_session -> session (session_id));
diesel::joinable!(assignment_work -> assignment (assignment_id));
diesel::joinable!(sign_off_revocation -> sign_off (sign_off_id));

// Only tables that are joined: allowing every pair would make the compiler's work explode.
diesel::allow_tables_to_appear_in_same_query!(
    person,
    credential,
    session,
    one_time_code,
    api_client,
    page_session
);
diesel::allow_tables_to_appear_in_same_query!(batch_photograph, photograph_withdrawal);
diesel::allow_tables_to_appear_in_same_query!(library, library_member, formula, revision, batch, gate);
diesel::allow_tables_to_appear_in_same_query!(revision, revision_nested);
diesel::allow_tables_to_appear_in_same_query!(sign_off, sign_off_revocation);
diesel::allow_tables_to_appear_in_same_query!(material, material_version, material_synonym);
diesel::allow_tables_to_appear_in_same_query!(gate, caution_set, caution, caution_reading);
diesel::allow_tables_to_appear_in_same_query!(session, release_grant);
diesel::allow_tables_to_appear_in_same_query!(api_client, release_grant);
diesel::allow_tables_to_appear_in_same_query!(revision, release_grant);
diesel::allow_tables_to_appear_in_same_query!(formula, release_grant);
diesel::allow_tables_to_appear_in_same_query!(library_member, release_grant);
diesel::allow_tables_to_appear_in_same_query!(event, event_head);
diesel::allow_tables_to_appear_in_same_query!(session, policy);
diesel::allow_tables_to_appear_in_same_query!(release_grant, policy);
diesel::allow_tables_to_appear_in_same_query!(api_client, policy);
diesel::allow_tables_to_appear_in_same_query!(amendment, amendment_material);
diesel::allow_tables_to_appear_in_same_query!(acknowledgement, gate);
diesel::allow_tables_to_appear_in_same_query!(event, row_digest);
diesel::allow_tables_to_appear_in_same_query!(event, event_order, event_unnumbered);
diesel::allow_tables_to_appear_in_same_query!(acknowledgement, release_grant, countersignature);
diesel::allow_tables_to_appear_in_same_query!(cohort_member, person);
diesel::allow_tables_to_appear_in_same_query!(assignment_work, assignment);
diesel::allow_tables_to_appear_in_same_query!(lot, lot_balance, lot_movement);
diesel::allow_tables_to_appear_in_same_query!(batch_handover, batch_handover_answer);
diesel::allow_tables_to_appear_in_same_query!(batch_pause, batch_resumption);
diesel::allow_tables_to_appear_in_same_query!(
    jar,
    jar_decanting,
    jar_filling,
    retained_sample,
    batch_observation
);
