//! Rows of people, sessions, codes and API clients that the journal vouches for.

use store::journal::Column::{Bytes, Text, Time};
use store::journal::{Kept, Key};

/// Accounts.
pub static PERSON: Kept = Kept {
    table: "person",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("sign_in_name"),
        Text("name"),
        Text("role"),
        Text("state"),
        Text("version"),
        Time("created_at"),
    ],
    belonging: &[],
    only: "true",
};

/// Password hashes.
pub static CREDENTIAL: Kept = Kept {
    table: "credential",
    key: &[Key("person_id", "uuid")],
    columns: &[Text("person_id"), Text("password_hash"), Time("changed_at")],
    belonging: &[],
    only: "true",
};

/// One-time codes.
pub static CODE: Kept = Kept {
    table: "one_time_code",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("person_id"),
        Text("purpose"),
        Bytes("code_hash"),
        Text("created_by"),
        Time("created_at"),
        Time("valid_until"),
        Time("used_at"),
    ],
    belonging: &[],
    only: "true",
};

/// Sessions, without their expiry for lack of a refresh, which moves without an event.
pub static SESSION: Kept = Kept {
    table: "session",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("person_id"),
        Text("role"),
        Time("started_at"),
        Time("valid_until"),
        Time("ended_at"),
    ],
    belonging: &[],
    only: "true",
};

/// API clients, without the time of their last use, which is recorded without an event.
pub static API_CLIENT: Kept = Kept {
    table: "api_client",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("name"),
        Bytes("key_hash"),
        Text("key_prefix"),
        Text("responsible_id"),
        Text("scopes"),
        Text("state"),
        Text("version"),
        Time("created_at"),
        Time("valid_until"),
    ],
    belonging: &[],
    only: "true",
};

/// Every kind of row of this crate.
pub static KEPT: &[&Kept] = &[&PERSON, &CREDENTIAL, &CODE, &SESSION, &API_CLIENT];
