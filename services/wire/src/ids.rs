//! Ids: one type per kind of thing, so that one cannot be passed for another. All are UUIDv7 and sort by time.

/// Defines an id type over a UUID.
macro_rules! id {
    ($($(#[$meta:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
            utoipa::ToSchema)]
        #[serde(transparent)]
        #[schema(value_type = uuid::Uuid, format = Uuid, example = "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80")]
        pub struct $name(pub uuid::Uuid);

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }

        impl std::str::FromStr for $name {
            type Err = uuid::Error;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                text.parse().map(Self)
            }
        }
    )+};
}

id! {
    /// A person with an account.
    PersonId,
    /// Another tool with a key.
    ApiClientId,
    /// A holder of memberships or acknowledgements: a person or an API client.
    HolderId,
    /// One signed-in session.
    SessionId,
    /// One entry of the materia medica.
    MaterialId,
    /// One amendment of materials or cautions.
    AmendmentId,
    /// A shared set of formulas.
    LibraryId,
    /// A formula, with all its revisions.
    FormulaId,
    /// One revision of a formula.
    RevisionId,
    /// One given acknowledgement.
    AcknowledgementId,
    /// One batch record.
    BatchId,
    /// One entry of a batch record.
    EntryId,
    /// One check before the start of a batch.
    CheckId,
    /// One offer of a batch to another maker.
    HandoverId,
    /// One observation of a batch in its jars.
    ObservationId,
    /// One photograph of a batch.
    PhotographId,
    /// One review of a submitted batch record.
    ReviewId,
    /// One event of the journal.
    EventId,
    /// One security event.
    SecurityEventId,
    /// A class of people for a term.
    CohortId,
    /// A code that a student joins a cohort with.
    CohortCodeId,
    /// A question of a cohort's own bank.
    BankQuestionId,
    /// A piece of work that is set to a cohort.
    AssignmentId,
    /// One student's question of an assignment.
    QuestionId,
    /// One answer to a question.
    AnswerId,
    /// A lot of a material.
    LotId,
    /// What was decided of a lot.
    LotDecisionId,
    /// One movement of a lot.
    LotMovementId,
    /// What one student is allowed for an assignment.
    AllowanceId,
    /// Work that was handed in for an assignment.
    WorkSubmissionId,
    /// A mark on work that was handed in.
    MarkId,
    /// A mark that was drawn for a second marker.
    ModerationId,
    /// A declared relation to a student.
    RelationId,
    /// A recall.
    RecallId,
    /// A phrase that an instructor keeps.
    PhraseId,
    /// What a student can be signed off as able to do.
    CompetencyId,
    /// A student who was signed off as able to do something, and the credential of it.
    SignOffId,
    /// A jar that was filled.
    JarId,
    /// A case of a suspected adverse reaction.
    ReactionCaseId,
    /// A report of a suspected adverse reaction.
    ReactionReportId,
}

impl From<PersonId> for HolderId {
    fn from(id: PersonId) -> Self {
        Self(id.0)
    }
}

impl From<ApiClientId> for HolderId {
    fn from(id: ApiClientId) -> Self {
        Self(id.0)
    }
}
