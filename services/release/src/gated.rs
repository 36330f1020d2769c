// Printed from the database by the test `schema_is_the_databases`; run it with UPDATE_SCHEMA=1 after a migration.

diesel::table! {
    batch_entry (id) {
        id -> Uuid,
        batch_id -> Uuid,
        number -> Int4,
        kind -> Text,
        line -> Nullable<Text>,
        step -> Nullable<Int4>,
        quantity -> Nullable<Text>,
        grams -> Nullable<Numeric>,
        celsius -> Nullable<Numeric>,
        lot -> Nullable<Text>,
        note -> Nullable<Text>,
        corrects_id -> Nullable<Uuid>,
        reason -> Nullable<Text>,
        by_id -> Uuid,
        at -> Timestamptz,
        before_acknowledged -> Bool,
        ph -> Nullable<Numeric>,
        lot_expires -> Nullable<Text>,
        assay -> Nullable<Text>,
        price -> Nullable<Text>,
        water_activity -> Nullable<Numeric>,
        deviation -> Nullable<Text>,
        recipe -> Nullable<Text>,
        labels -> Nullable<Int4>,
    }
}

diesel::table! {
    batch_recipe (batch_id) {
        batch_id -> Uuid,
        recipe -> Text,
    }
}

diesel::table! {
    review (id) {
        id -> Uuid,
        batch_id -> Uuid,
        submission_number -> Int4,
        maker_id -> Uuid,
        reviewer_id -> Uuid,
        verdict -> Text,
        summary -> Text,
        own_review -> Bool,
        at -> Timestamptz,
    }
}

diesel::table! {
    review_comment (review_id, position) {
        review_id -> Uuid,
        position -> Int2,
        entry_id -> Nullable<Uuid>,
        text -> Text,
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
        form -> Int2,
    }
}

diesel::table! {
    revision_result (revision_id) {
        revision_id -> Uuid,
        engine -> Int4,
        result -> Text,
        at -> Timestamptz,
    }
}

diesel::table! {
    submission (batch_id, number) {
        batch_id -> Uuid,
        number -> Int4,
        answer -> Nullable<Text>,
        findings -> Text,
        last_entry -> Int4,
        at -> Timestamptz,
    }
}
