// Printed from the database by the test `schema_is_the_databases`; run it with UPDATE_SCHEMA=1 after a migration.

diesel::table! {
    batch_recipe (batch_id) {
        batch_id -> Uuid,
        recipe -> Text,
    }
}

diesel::table! {
    revision_comment (id) {
        id -> Uuid,
        revision_id -> Uuid,
        by_id -> Uuid,
        decision -> Text,
        comment -> Text,
        at -> Timestamptz,
    }
}

diesel::table! {
    revision_content (revision_id) {
        revision_id -> Uuid,
        content -> Text,
        salt -> Nullable<Bytea>,
        evaluation -> Nullable<Text>,
    }
}
