//! What the journal vouches for of teaching.

use store::columns;
use store::journal::{Belonging, Kept, Key};

/// Cohorts.
pub static COHORT: Kept = Kept::whole(
    "cohort",
    &[Key("id", "uuid")],
    columns!(Text(id name time_zone starts_on ends_on version created_by) Time(created_at)),
);

/// Memberships; one that ended has no row.
pub static MEMBER: Kept = Kept::whole(
    "cohort_member",
    &[Key("cohort_id", "uuid"), Key("person_id", "uuid")],
    columns!(Text(cohort_id person_id role added_by) Time(added_at)),
);

/// Codes to join with.
pub static CODE: Kept = Kept::whole(
    "cohort_code",
    &[Key("id", "uuid")],
    columns!(Text(id cohort_id created_by) Bytes(code_hash) Time(created_at valid_until closed_at)),
);

/// Questions of the banks.
pub static BANK: Kept = Kept::whole(
    "bank_question",
    &[Key("id", "uuid")],
    columns!(Text(id cohort_id text answer worked created_by) Time(created_at)),
);

/// Assignments: their state, and which version is in force.
pub static ASSIGNMENT: Kept = Kept::whole(
    "assignment",
    &[Key("id", "uuid")],
    columns!(
        Text(id cohort_id state current_version version created_by withdrawn_because) Bytes(secret)
        Time(created_at published_at)
    ),
);

/// Versions of assignments, each with its formulas and questions.
pub static VERSION: Kept = Kept {
    table: "assignment_version",
    key: &[Key("assignment_id", "uuid"), Key("number", "integer")],
    columns: columns!(
        Text(assignment_id number title instructions quantity attempts returns_allowed rubric marked_blind reason created_by)
        Time(opens_at due_at late_until created_at)
    ),
    belonging: &[
        Belonging {
            table: "assignment_formula",
            on: &[("assignment_id", "assignment_id"), ("version_number", "number")],
            order: &["position"],
            columns: columns!(Text(position revision_id formula_id)),
        },
        Belonging {
            table: "assignment_question",
            on: &[("assignment_id", "assignment_id"), ("version_number", "number")],
            order: &["position"],
            columns: columns!(Text(position kind bank_question_id)),
        },
    ],
    only: "true",
};

/// Students' work.
pub static WORK: Kept = Kept::whole(
    "assignment_work",
    &[Key("id", "uuid")],
    columns!(Text(id assignment_id person_id) Time(begun_at done_at)),
);

/// What stands in place of students' names.
pub static CANDIDATE: Kept =
    Kept::whole("candidate", &[Key("work_id", "uuid")], columns!(Text(work_id assignment_id label)));

/// That students told what they cannot work with.
pub static WORK_LIMIT: Kept = Kept::whole(
    "work_limit",
    &[Key("id", "uuid")],
    columns!(Text(id cohort_id person_id) Time(told_at withdrawn_at)),
);

/// Students' questions.
pub static QUESTION: Kept = Kept::whole(
    "question",
    &[Key("id", "uuid")],
    columns!(
        Text(id work_id assignment_id position kind asked state attempts) Bytes(numbers) Time(answered_at)
    ),
);

/// Answers.
pub static ANSWER: Kept = Kept::whole(
    "question_answer",
    &[Key("id", "uuid")],
    columns!(Text(id question_id number answers found is_right late) Time(at)),
);

/// What single students are allowed.
pub static ALLOWANCE: Kept = Kept::whole(
    "assignment_allowance",
    &[Key("id", "uuid")],
    columns!(Text(id assignment_id person_id number kind extra_minutes reason given_by) Time(at)),
);

/// Which work batches count for.
pub static WORK_BATCH: Kept =
    Kept::whole("work_batch", &[Key("batch_id", "uuid")], columns!(Text(batch_id work_id)));

/// Work that was handed in.
pub static HANDED_WORK: Kept = Kept::whole(
    "handed_work",
    &[Key("id", "uuid")],
    columns!(
        Text(id work_id number batch_id submission_number last_entry assignment_id version_number allowance_id
        late state) Bytes(salt digest) Time(received_at)
    ),
);

/// How records came about that were handed in.
pub static TRACE: Kept = Kept::whole(
    "handed_trace",
    &[Key("handed_id", "uuid")],
    columns!(Text(handed_id assignment_id unvaried seconds) Bytes(figures)),
);

/// How closely records that were handed in follow their recipes.
pub static PRECISION: Kept = Kept::whole(
    "handed_precision",
    &[Key("handed_id", "uuid")],
    columns!(Text(handed_id deviations yield_share)),
);

/// Competencies.
pub static COMPETENCY: Kept = Kept::whole(
    "competency",
    &[Key("id", "uuid")],
    columns!(
        Text(id name says accepted_works accepted_preparation criterion_works criterion_title right_answers
        question_kind lasts_months added_by) Time(added_at)
    ),
);

/// Students who were signed off.
pub static SIGN_OFF: Kept = Kept::whole(
    "sign_off",
    &[Key("id", "uuid")],
    columns!(
        Text(id competency_id person_id cohort_id accepted_works criterion_works right_answers signed_by)
        Time(at ends_at)
    ),
);

/// Sign-offs that were taken back.
pub static SIGN_OFF_REVOCATION: Kept = Kept::whole(
    "sign_off_revocation",
    &[Key("sign_off_id", "uuid")],
    columns!(Text(sign_off_id reason revoked_by) Time(at)),
);

/// Relations that staff declared.
pub static RELATION: Kept = Kept::whole(
    "declared_relation",
    &[Key("id", "uuid")],
    columns!(Text(id staff_id student_id) Time(declared_at)),
);

/// Claims on work that was handed in; one that was given up has no row.
pub static CLAIM: Kept = Kept::whole(
    "work_claim",
    &[Key("handed_id", "uuid")],
    columns!(Text(handed_id marker_id) Time(claimed_at ends_at)),
);

/// Marks, each with what was decided on each criterion.
pub static MARK: Kept = Kept {
    table: "work_mark",
    key: &[Key("id", "uuid")],
    columns: columns!(Text(id handed_id number marker_id reason) Time(at)),
    belonging: &[Belonging {
        table: "work_mark_criterion",
        on: &[("mark_id", "id")],
        order: &["position"],
        columns: columns!(Text(position level points met review_id comment_position)),
    }],
    only: "true",
};

/// Appeals against marks.
pub static APPEAL: Kept = Kept::whole(
    "appeal",
    &[Key("handed_id", "uuid")],
    columns!(Text(handed_id mark_id reason criteria) Time(at)),
);

/// What came of appeals.
pub static APPEAL_DECISION: Kept = Kept::whole(
    "appeal_decision",
    &[Key("handed_id", "uuid")],
    columns!(Text(handed_id decided_by mark_id) Time(at)),
);

/// Which shares of a cohort's marks were drawn.
pub static MODERATION_SHARE: Kept = Kept::whole(
    "moderation_share",
    &[Key("cohort_id", "uuid"), Key("number", "integer")],
    columns!(Text(cohort_id number percent set_by) Time(at)),
);

/// Marks that were drawn for a second marker.
pub static MODERATION: Kept = Kept::whole(
    "moderation",
    &[Key("id", "uuid")],
    columns!(Text(id handed_id assignment_id mark_id percent second_id) Time(drawn_at second_at)),
);

/// Second marks, each with what was decided on each criterion.
pub static SECOND_MARK: Kept = Kept {
    table: "second_mark",
    key: &[Key("moderation_id", "uuid")],
    columns: columns!(Text(moderation_id marker_id) Time(at)),
    belonging: &[Belonging {
        table: "second_mark_criterion",
        on: &[("moderation_id", "moderation_id")],
        order: &["position"],
        columns: columns!(Text(position level points met)),
    }],
    only: "true",
};

/// What came of two marks.
pub static SETTLEMENT: Kept = Kept::whole(
    "moderation_settlement",
    &[Key("moderation_id", "uuid")],
    columns!(Text(moderation_id outcome settled_by mark_id) Time(at)),
);

/// All of them.
pub static KEPT: &[&Kept] = &[
    &COHORT,
    &MEMBER,
    &CODE,
    &BANK,
    &ASSIGNMENT,
    &VERSION,
    &WORK,
    &CANDIDATE,
    &WORK_LIMIT,
    &QUESTION,
    &ANSWER,
    &ALLOWANCE,
    &WORK_BATCH,
    &HANDED_WORK,
    &TRACE,
    &PRECISION,
    &RELATION,
    &CLAIM,
    &MARK,
    &APPEAL,
    &APPEAL_DECISION,
    &MODERATION_SHARE,
    &MODERATION,
    &SECOND_MARK,
    &SETTLEMENT,
    &COMPETENCY,
    &SIGN_OFF,
    &SIGN_OFF_REVOCATION,
];
