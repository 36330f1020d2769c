//! What the journal vouches for of people, their sessions and codes, and of API clients.

use store::columns;
use store::journal::{Kept, Key};

/// Accounts.
pub static PERSON: Kept = Kept::whole(
    "person",
    &[Key("id", "uuid")],
    columns!(Text(id sign_in_name name role state version) Time(created_at)),
);

/// Password hashes.
pub static CREDENTIAL: Kept = Kept::whole(
    "credential",
    &[Key("person_id", "uuid")],
    columns!(Text(person_id password_hash) Time(changed_at)),
);

/// One-time codes.
pub static CODE: Kept = Kept::whole(
    "one_time_code",
    &[Key("id", "uuid")],
    columns!(
        Text(id person_id purpose created_by) Bytes(code_hash) Time(created_at valid_until used_at)
    ),
);

/// Sessions, but for the time at which they end when they are not refreshed: that moves without an event.
pub static SESSION: Kept = Kept::whole(
    "session",
    &[Key("id", "uuid")],
    columns!(Text(id person_id role) Time(started_at valid_until ended_at)),
);

/// API clients, but for when they were last used: that is noted without an event.
pub static API_CLIENT: Kept = Kept::whole(
    "api_client",
    &[Key("id", "uuid")],
    columns!(
        Text(id name key_prefix responsible_id scopes state version) Bytes(key_hash) Time(created_at
        valid_until)
    ),
);

/// All of them.
pub static KEPT: &[&Kept] = &[&PERSON, &CREDENTIAL, &CODE, &SESSION, &API_CLIENT];
