//! What the journal vouches for of batches.

use store::columns;
use store::journal::{Belonging, Kept, Key};

/// Batches: their state, and how many entries and submissions there are.
pub static BATCH: Kept = Kept::whole(
    "batch",
    &[Key("id", "uuid")],
    columns!(
        Text(id number revision_id policy_version maker_id state disposition version last_entry
        last_submission checks_asked adjusted_by) Bytes(revision_digest caution_digest) Time(opened_at)
    ),
);

/// What was checked before the start.
pub static CHECK: Kept = Kept::whole(
    "batch_check",
    &[Key("id", "uuid")],
    columns!(
        Text(id batch_id number kind instrument reference reading tolerance humidity reference_value reading_value
        tolerance_value humidity_percent passed note after_entry after_submission corrects_id reason by_id) Time(at)
    ),
);

/// Holds that were released.
pub static HOLD_RELEASE: Kept = Kept::whole(
    "batch_hold_release",
    &[Key("id", "uuid")],
    columns!(Text(id batch_id maker_id step by_id own_release) Time(at)),
);

/// Deviations that were authorised.
pub static AUTHORISATION: Kept = Kept::whole(
    "batch_authorisation",
    &[Key("entry_id", "uuid")],
    columns!(Text(entry_id batch_id maker_id by_id own_authorisation) Time(at)),
);

/// What was decided about what batches made, with the cautions that were confirmed.
pub static DECISION: Kept = Kept {
    table: "batch_decision",
    key: &[Key("id", "uuid")],
    columns: columns!(Text(id batch_id maker_id number decision reason own_decision by_id) Time(at)),
    belonging: &[Belonging {
        table: "batch_decision_caution",
        on: &[("decision_id", "id")],
        order: &["number"],
        columns: columns!(Text(number caution text_version level text)),
    }],
    only: "true",
};

/// What stood on the labels of batches.
pub static LABEL: Kept = Kept::whole(
    "batch_label",
    &[Key("id", "uuid")],
    columns!(Text(id batch_id number facts use_by by_id) Time(at)),
);

/// Jars, with what was filled alike.
pub static FILLING: Kept = Kept {
    table: "jar_filling",
    key: &[Key("id", "uuid")],
    columns: columns!(Text(id batch_id number jars fill grams density use_by decanted_from by_id) Time(at)),
    belonging: &[Belonging {
        table: "jar",
        on: &[("filling_id", "id")],
        order: &["number"],
        columns: columns!(Text(id batch_id number token)),
    }],
    only: "true",
};

/// Jars that were handed out.
pub static HANDING: Kept = Kept::whole(
    "jar_handing",
    &[Key("id", "uuid")],
    columns!(Text(id jar_id reference on_day suitability_asked cautions_told opening_told by_id) Time(at)),
);

/// Jars that came back.
pub static RETURN: Kept =
    Kept::whole("jar_return", &[Key("jar_id", "uuid")], columns!(Text(jar_id note by_id) Time(at)));

/// Jars that are kept as samples.
pub static SAMPLE: Kept = Kept::whole(
    "retained_sample",
    &[Key("jar_id", "uuid")],
    columns!(Text(jar_id batch_id first_on reason by_id) Time(at)),
);

/// What was seen of batches.
pub static OBSERVATION: Kept = Kept::whole(
    "batch_observation",
    &[Key("id", "uuid")],
    columns!(Text(id batch_id jar_id number on_day seen note next_on corrects_id reason by_id) Time(at)),
);

/// That last days were brought forward.
pub static SHORTENING: Kept = Kept::whole(
    "batch_shortening",
    &[Key("id", "uuid")],
    columns!(Text(id batch_id number observation_id last_day on_day reason by_id) Time(at)),
);

/// Photographs, by what their files must be.
pub static PHOTOGRAPH: Kept = Kept::whole(
    "batch_photograph",
    &[Key("id", "uuid")],
    columns!(
        Text(id batch_id number subject entry_id width height bytes preview_width preview_height preview_bytes
        after_submission by_id) Bytes(sha256 preview_sha256) Time(at)
    ),
);

/// Photographs that were withdrawn.
pub static PHOTOGRAPH_WITHDRAWAL: Kept = Kept::whole(
    "photograph_withdrawal",
    &[Key("photograph_id", "uuid")],
    columns!(Text(photograph_id batch_id reason by_id) Time(at)),
);

/// Pauses.
pub static PAUSE: Kept = Kept::whole(
    "batch_pause",
    &[Key("id", "uuid")],
    columns!(Text(id batch_id number why note on_day until_day by_id) Time(at)),
);

/// That batches were taken up again.
pub static RESUMPTION: Kept = Kept::whole(
    "batch_resumption",
    &[Key("pause_id", "uuid")],
    columns!(Text(pause_id batch_id by_id) Time(at)),
);

/// When batches in the making are looked at.
pub static LOOK_PLAN: Kept = Kept::whole(
    "batch_look_plan",
    &[Key("id", "uuid")],
    columns!(Text(id batch_id number what on_day every_days until_day by_id) Time(at)),
);

/// Offers of batches.
pub static HANDOVER: Kept = Kept::whole(
    "batch_handover",
    &[Key("id", "uuid")],
    columns!(Text(id batch_id number from_id to_id reason by_id) Time(at)),
);

/// What became of offers.
pub static HANDOVER_ANSWER: Kept = Kept::whole(
    "batch_handover_answer",
    &[Key("handover_id", "uuid")],
    columns!(Text(handover_id batch_id answer by_id) Time(at)),
);

/// Jars that were emptied into others.
pub static DECANTING: Kept = Kept::whole(
    "jar_decanting",
    &[Key("jar_id", "uuid")],
    columns!(Text(jar_id batch_id on_day reason by_id) Time(at)),
);

/// All of them.
pub static KEPT: &[&Kept] = &[
    &BATCH,
    &CHECK,
    &HOLD_RELEASE,
    &AUTHORISATION,
    &DECISION,
    &LABEL,
    &FILLING,
    &HANDING,
    &RETURN,
    &SAMPLE,
    &OBSERVATION,
    &SHORTENING,
    &PHOTOGRAPH,
    &PHOTOGRAPH_WITHDRAWAL,
    &PAUSE,
    &RESUMPTION,
    &LOOK_PLAN,
    &HANDOVER,
    &HANDOVER_ANSWER,
    &DECANTING,
];
