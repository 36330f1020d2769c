// Printed from the database by the test `schema_is_the_databases`; run it with UPDATE_SCHEMA=1 after a migration.

diesel::table! {
    acknowledgement (id) {
        id -> Uuid,
        holder_id -> Uuid,
        given_by -> Uuid,
        revision_id -> Uuid,
        revision_digest -> Bytea,
        set_number -> Int4,
        caution_digest -> Bytea,
        contraindications -> Jsonb,
        language -> Text,
        purpose -> Text,
        at -> Timestamptz,
        valid_until -> Timestamptz,
        meant_for -> Jsonb,
        countersign -> Bool,
    }
}

diesel::table! {
    amendment (id) {
        id -> Uuid,
        kind -> Text,
        state -> Text,
        change -> Jsonb,
        reason -> Text,
        created_by -> Nullable<Uuid>,
        created_at -> Timestamptz,
        decided_by -> Nullable<Uuid>,
        decided_at -> Nullable<Timestamptz>,
        own_decision -> Bool,
    }
}

diesel::table! {
    amendment_effect (amendment_id, revision_id) {
        amendment_id -> Uuid,
        revision_id -> Uuid,
        set_number -> Int4,
        cautions_changed -> Bool,
        evaluation_changed -> Bool,
        withheld -> Bool,
    }
}

diesel::table! {
    amendment_material (amendment_id, material_id) {
        amendment_id -> Uuid,
        material_id -> Uuid,
    }
}

diesel::table! {
    api_client (id) {
        id -> Uuid,
        kind -> Text,
        name -> Text,
        key_hash -> Bytea,
        key_prefix -> Text,
        responsible_id -> Uuid,
        scopes -> Text,
        state -> Text,
        version -> Int8,
        created_at -> Timestamptz,
        valid_until -> Timestamptz,
        last_used_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    appeal (handed_id) {
        handed_id -> Uuid,
        mark_id -> Uuid,
        reason -> Text,
        criteria -> Array<Int2>,
        at -> Timestamptz,
    }
}

diesel::table! {
    appeal_decision (handed_id) {
        handed_id -> Uuid,
        decided_by -> Uuid,
        mark_id -> Nullable<Uuid>,
        at -> Timestamptz,
    }
}

diesel::table! {
    assignment (id) {
        id -> Uuid,
        cohort_id -> Uuid,
        state -> Text,
        current_version -> Int4,
        version -> Int8,
        secret -> Bytea,
        created_by -> Uuid,
        created_at -> Timestamptz,
        published_at -> Nullable<Timestamptz>,
        withdrawn_because -> Nullable<Text>,
    }
}

diesel::table! {
    assignment_allowance (id) {
        id -> Uuid,
        assignment_id -> Uuid,
        person_id -> Uuid,
        number -> Int4,
        kind -> Text,
        extra_minutes -> Nullable<Int4>,
        reason -> Text,
        given_by -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    assignment_formula (assignment_id, version_number, position) {
        assignment_id -> Uuid,
        version_number -> Int4,
        position -> Int2,
        revision_id -> Uuid,
        formula_id -> Uuid,
    }
}

diesel::table! {
    assignment_question (assignment_id, version_number, position) {
        assignment_id -> Uuid,
        version_number -> Int4,
        position -> Int2,
        kind -> Text,
        bank_question_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    assignment_version (assignment_id, number) {
        assignment_id -> Uuid,
        number -> Int4,
        title -> Text,
        instructions -> Text,
        quantity -> Text,
        opens_at -> Timestamptz,
        due_at -> Timestamptz,
        late_until -> Nullable<Timestamptz>,
        attempts -> Int2,
        returns_allowed -> Int2,
        rubric -> Jsonb,
        reason -> Nullable<Text>,
        created_by -> Uuid,
        created_at -> Timestamptz,
        marked_blind -> Nullable<Bool>,
    }
}

diesel::table! {
    assignment_work (id) {
        id -> Uuid,
        assignment_id -> Uuid,
        person_id -> Uuid,
        begun_at -> Timestamptz,
        done_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    attempt (throttle_key) {
        throttle_key -> Bytea,
        failures -> Int4,
        last_at -> Timestamptz,
    }
}

diesel::table! {
    bank_question (id) {
        id -> Uuid,
        cohort_id -> Uuid,
        text -> Text,
        answer -> Jsonb,
        worked -> Text,
        created_by -> Uuid,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    batch (id) {
        id -> Uuid,
        number -> Text,
        revision_id -> Uuid,
        revision_digest -> Bytea,
        caution_digest -> Bytea,
        policy_version -> Int4,
        maker_id -> Uuid,
        state -> Text,
        disposition -> Text,
        version -> Int8,
        opened_at -> Timestamptz,
        last_entry -> Int4,
        last_submission -> Int4,
        checks_asked -> Nullable<Bool>,
        adjusted_by -> Nullable<Uuid>,
    }
}

diesel::table! {
    batch_authorisation (entry_id) {
        entry_id -> Uuid,
        batch_id -> Uuid,
        maker_id -> Uuid,
        by_id -> Uuid,
        own_authorisation -> Bool,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_check (id) {
        id -> Uuid,
        batch_id -> Uuid,
        number -> Int4,
        kind -> Text,
        instrument -> Nullable<Text>,
        reference -> Nullable<Text>,
        reading -> Nullable<Text>,
        tolerance -> Nullable<Text>,
        humidity -> Nullable<Text>,
        reference_value -> Nullable<Numeric>,
        reading_value -> Nullable<Numeric>,
        tolerance_value -> Nullable<Numeric>,
        humidity_percent -> Nullable<Numeric>,
        passed -> Nullable<Bool>,
        note -> Nullable<Text>,
        after_entry -> Int4,
        after_submission -> Int4,
        corrects_id -> Nullable<Uuid>,
        reason -> Nullable<Text>,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_counter (year) {
        year -> Int4,
        last -> Int4,
    }
}

diesel::table! {
    batch_decision (id) {
        id -> Uuid,
        batch_id -> Uuid,
        maker_id -> Uuid,
        number -> Int4,
        decision -> Text,
        reason -> Nullable<Text>,
        own_decision -> Bool,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_decision_caution (decision_id, number) {
        decision_id -> Uuid,
        number -> Int4,
        caution -> Text,
        text_version -> Int4,
        level -> Text,
        text -> Text,
    }
}

diesel::table! {
    batch_handover (id) {
        id -> Uuid,
        batch_id -> Uuid,
        number -> Int4,
        from_id -> Uuid,
        to_id -> Uuid,
        reason -> Nullable<Text>,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_handover_answer (handover_id) {
        handover_id -> Uuid,
        batch_id -> Uuid,
        answer -> Text,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_hold_release (id) {
        id -> Uuid,
        batch_id -> Uuid,
        maker_id -> Uuid,
        step -> Int4,
        by_id -> Uuid,
        own_release -> Bool,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_label (id) {
        id -> Uuid,
        batch_id -> Uuid,
        number -> Int4,
        facts -> Text,
        use_by -> Nullable<Date>,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_look_plan (id) {
        id -> Uuid,
        batch_id -> Uuid,
        number -> Int4,
        what -> Array<Text>,
        on_day -> Date,
        every_days -> Nullable<Int4>,
        until_day -> Nullable<Date>,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_observation (id) {
        id -> Uuid,
        batch_id -> Uuid,
        jar_id -> Uuid,
        number -> Int4,
        on_day -> Date,
        seen -> Array<Text>,
        note -> Nullable<Text>,
        next_on -> Date,
        corrects_id -> Nullable<Uuid>,
        reason -> Nullable<Text>,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_pause (id) {
        id -> Uuid,
        batch_id -> Uuid,
        number -> Int4,
        why -> Text,
        note -> Nullable<Text>,
        on_day -> Date,
        until_day -> Date,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_photograph (id) {
        id -> Uuid,
        batch_id -> Uuid,
        number -> Int4,
        subject -> Text,
        entry_id -> Nullable<Uuid>,
        width -> Int4,
        height -> Int4,
        bytes -> Int4,
        sha256 -> Bytea,
        preview_width -> Int4,
        preview_height -> Int4,
        preview_bytes -> Int4,
        preview_sha256 -> Bytea,
        after_submission -> Int4,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_resumption (pause_id) {
        pause_id -> Uuid,
        batch_id -> Uuid,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    batch_shortening (id) {
        id -> Uuid,
        batch_id -> Uuid,
        number -> Int4,
        observation_id -> Uuid,
        last_day -> Date,
        on_day -> Date,
        reason -> Text,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    candidate (work_id) {
        work_id -> Uuid,
        assignment_id -> Uuid,
        label -> Text,
    }
}

diesel::table! {
    caution (revision_id, set_number, position) {
        revision_id -> Uuid,
        set_number -> Int4,
        position -> Int2,
        key -> Text,
        text_version -> Int4,
        level -> Text,
        language -> Text,
        text -> Text,
        source -> Text,
        status -> Text,
        audiences -> Jsonb,
        origins -> Jsonb,
        rule -> Text,
        changed -> Nullable<Jsonb>,
    }
}

diesel::table! {
    caution_reading (revision_id, set_number) {
        revision_id -> Uuid,
        set_number -> Int4,
        reading -> Jsonb,
    }
}

diesel::table! {
    caution_set (revision_id, number) {
        revision_id -> Uuid,
        number -> Int4,
        digest -> Bytea,
        created_at -> Timestamptz,
        evaluation_digest -> Nullable<Bytea>,
        evaluation_form -> Int2,
    }
}

diesel::table! {
    cohort (id) {
        id -> Uuid,
        name -> Text,
        time_zone -> Text,
        starts_on -> Date,
        ends_on -> Date,
        version -> Int8,
        created_by -> Uuid,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    cohort_code (id) {
        id -> Uuid,
        cohort_id -> Uuid,
        code_hash -> Bytea,
        created_by -> Uuid,
        created_at -> Timestamptz,
        valid_until -> Timestamptz,
        closed_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    cohort_member (cohort_id, person_id) {
        cohort_id -> Uuid,
        person_id -> Uuid,
        role -> Text,
        added_by -> Uuid,
        added_at -> Timestamptz,
    }
}

diesel::table! {
    competency (id) {
        id -> Uuid,
        name -> Text,
        says -> Text,
        accepted_works -> Nullable<Int2>,
        accepted_preparation -> Nullable<Text>,
        criterion_works -> Nullable<Int2>,
        criterion_title -> Nullable<Text>,
        right_answers -> Nullable<Int2>,
        question_kind -> Nullable<Text>,
        lasts_months -> Int2,
        added_by -> Nullable<Uuid>,
        added_at -> Timestamptz,
    }
}

diesel::table! {
    countersignature (acknowledgement_id) {
        acknowledgement_id -> Uuid,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    credential (person_id) {
        person_id -> Uuid,
        password_hash -> Text,
        changed_at -> Timestamptz,
    }
}

diesel::table! {
    declared_relation (id) {
        id -> Uuid,
        staff_id -> Uuid,
        student_id -> Uuid,
        declared_at -> Timestamptz,
    }
}

diesel::table! {
    event (id) {
        id -> Uuid,
        subject_kind -> Text,
        subject_id -> Uuid,
        number -> Int8,
        at -> Timestamptz,
        actor_id -> Nullable<Uuid>,
        on_authority_of -> Nullable<Uuid>,
        action -> Text,
        before_digest -> Nullable<Bytea>,
        after_digest -> Nullable<Bytea>,
        detail -> Jsonb,
        previous_hash -> Bytea,
        hash -> Bytea,
        form -> Int2,
    }
}

diesel::table! {
    event_head (subject_id) {
        subject_id -> Uuid,
        subject_kind -> Text,
        number -> Int8,
        hash -> Bytea,
    }
}

diesel::table! {
    event_order (position) {
        position -> Int8,
        event_id -> Uuid,
    }
}

diesel::table! {
    event_unnumbered (event_id) {
        event_id -> Uuid,
    }
}

diesel::table! {
    formula (id) {
        id -> Uuid,
        library_id -> Uuid,
        title -> Text,
        preparation -> Text,
        approved_revision_id -> Nullable<Uuid>,
        last_number -> Int4,
        created_by -> Uuid,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    gate (revision_id) {
        revision_id -> Uuid,
        set_number -> Int4,
        caution_digest -> Bytea,
    }
}

diesel::table! {
    handed_finding (handed_id, kind) {
        handed_id -> Uuid,
        kind -> Text,
        found -> Int4,
    }
}

diesel::table! {
    handed_precision (handed_id) {
        handed_id -> Uuid,
        deviations -> Array<Numeric>,
        yield_share -> Nullable<Numeric>,
    }
}

diesel::table! {
    handed_trace (handed_id) {
        handed_id -> Uuid,
        assignment_id -> Uuid,
        figures -> Nullable<Bytea>,
        unvaried -> Bool,
        seconds -> Nullable<Int4>,
    }
}

diesel::table! {
    handed_work (id) {
        id -> Uuid,
        work_id -> Uuid,
        number -> Int4,
        batch_id -> Uuid,
        submission_number -> Int4,
        last_entry -> Int4,
        assignment_id -> Uuid,
        version_number -> Int4,
        allowance_id -> Nullable<Uuid>,
        received_at -> Timestamptz,
        late -> Bool,
        salt -> Bytea,
        digest -> Bytea,
        state -> Text,
    }
}

diesel::table! {
    idempotency (principal_id, key) {
        principal_id -> Uuid,
        key -> Text,
        route -> Text,
        request_digest -> Bytea,
        status -> Int2,
        resource_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    jar (id) {
        id -> Uuid,
        batch_id -> Uuid,
        filling_id -> Uuid,
        number -> Int4,
        token -> Text,
    }
}

diesel::table! {
    jar_decanting (jar_id) {
        jar_id -> Uuid,
        batch_id -> Uuid,
        on_day -> Date,
        reason -> Text,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    jar_filling (id) {
        id -> Uuid,
        batch_id -> Uuid,
        number -> Int4,
        jars -> Int4,
        fill -> Text,
        grams -> Numeric,
        density -> Nullable<Text>,
        use_by -> Nullable<Date>,
        by_id -> Uuid,
        at -> Timestamptz,
        decanted_from -> Nullable<Uuid>,
    }
}

diesel::table! {
    jar_handing (id) {
        id -> Uuid,
        jar_id -> Uuid,
        reference -> Text,
        on_day -> Date,
        suitability_asked -> Bool,
        cautions_told -> Bool,
        opening_told -> Bool,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    jar_here (jar_id) {
        jar_id -> Uuid,
        batch_id -> Uuid,
        filling_id -> Uuid,
        number -> Int4,
        use_by -> Date,
    }
}

diesel::table! {
    jar_return (jar_id) {
        jar_id -> Uuid,
        note -> Nullable<Text>,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    kept_phrase (id) {
        id -> Uuid,
        person_id -> Uuid,
        text -> Text,
        added_at -> Timestamptz,
    }
}

diesel::table! {
    library (id) {
        id -> Uuid,
        name -> Text,
        description -> Text,
        version -> Int8,
        created_by -> Uuid,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    library_member (library_id, holder_id) {
        library_id -> Uuid,
        holder_id -> Uuid,
        added_by -> Uuid,
        added_at -> Timestamptz,
    }
}

diesel::table! {
    lot (id) {
        id -> Uuid,
        number -> Text,
        material_id -> Nullable<Uuid>,
        state -> Text,
        supplier -> Text,
        supplier_lot -> Text,
        received_on -> Date,
        expires -> Nullable<Text>,
        opened_on -> Nullable<Date>,
        keeps_until -> Date,
        keeps_rule -> Text,
        amount -> Text,
        converted_by -> Nullable<Text>,
        price -> Nullable<Text>,
        currency -> Nullable<Text>,
        price_per_gram -> Nullable<Numeric>,
        assay -> Nullable<Text>,
        certificate -> Nullable<Text>,
        collector -> Nullable<Text>,
        site -> Nullable<Text>,
        collected_on -> Nullable<Date>,
        version -> Int8,
        last_decision -> Int4,
        received_by -> Uuid,
        received_at -> Timestamptz,
        batch_id -> Nullable<Uuid>,
        revision_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    lot_balance (lot_id) {
        lot_id -> Uuid,
        on_hand -> Numeric,
        last_movement -> Int4,
    }
}

diesel::table! {
    lot_counter (year) {
        year -> Int4,
        last -> Int4,
    }
}

diesel::table! {
    lot_decision (id) {
        id -> Uuid,
        lot_id -> Uuid,
        number -> Int4,
        decision -> Text,
        species -> Nullable<Text>,
        part -> Nullable<Text>,
        condition -> Nullable<Text>,
        organoleptic -> Nullable<Text>,
        look_alikes -> Nullable<Text>,
        foreign_matter -> Nullable<Text>,
        loss_on_drying -> Nullable<Text>,
        reason -> Nullable<Text>,
        by_id -> Uuid,
        at -> Timestamptz,
        own_decision -> Nullable<Bool>,
    }
}

diesel::table! {
    lot_held (lot_id) {
        lot_id -> Uuid,
        on_hand -> Numeric,
        reserved -> Numeric,
    }
}

diesel::table! {
    lot_movement (id) {
        id -> Uuid,
        lot_id -> Uuid,
        number -> Int4,
        kind -> Text,
        grams -> Nullable<Numeric>,
        counted -> Nullable<Text>,
        batch_id -> Nullable<Uuid>,
        entry_id -> Nullable<Uuid>,
        reason -> Nullable<Text>,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    lot_reservation (id) {
        id -> Uuid,
        lot_id -> Uuid,
        batch_id -> Uuid,
        phase -> Int2,
        line -> Int2,
        completes -> Bool,
        by_id -> Uuid,
        at -> Timestamptz,
        expires_at -> Timestamptz,
    }
}

diesel::table! {
    lot_reserved (reservation_id) {
        reservation_id -> Uuid,
        lot_id -> Uuid,
        grams -> Numeric,
    }
}

diesel::table! {
    maker_of_batch (batch_id, person_id) {
        batch_id -> Uuid,
        person_id -> Uuid,
    }
}

diesel::table! {
    material (id) {
        id -> Uuid,
        reference_key -> Nullable<Text>,
        name -> Text,
        kind -> Text,
        current_version -> Int4,
        merged_into -> Nullable<Uuid>,
    }
}

diesel::table! {
    material_synonym (synonym) {
        synonym -> Text,
        material_id -> Uuid,
    }
}

diesel::table! {
    material_term (material_id, term) {
        material_id -> Uuid,
        term -> Text,
    }
}

diesel::table! {
    material_version (material_id, version) {
        material_id -> Uuid,
        version -> Int4,
        facts -> Jsonb,
        digest -> Bytea,
        reference_version -> Nullable<Text>,
        created_by -> Nullable<Uuid>,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    moderation (id) {
        id -> Uuid,
        handed_id -> Uuid,
        assignment_id -> Uuid,
        mark_id -> Uuid,
        percent -> Int2,
        second_id -> Nullable<Uuid>,
        drawn_at -> Timestamptz,
        second_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    moderation_settlement (moderation_id) {
        moderation_id -> Uuid,
        outcome -> Text,
        settled_by -> Uuid,
        mark_id -> Nullable<Uuid>,
        at -> Timestamptz,
    }
}

diesel::table! {
    moderation_share (cohort_id, number) {
        cohort_id -> Uuid,
        number -> Int4,
        percent -> Int2,
        set_by -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    older_evaluation (revision_id, set_number) {
        revision_id -> Uuid,
        set_number -> Int4,
        digest -> Bytea,
    }
}

diesel::table! {
    one_time_code (id) {
        id -> Uuid,
        person_id -> Uuid,
        purpose -> Text,
        code_hash -> Bytea,
        created_by -> Nullable<Uuid>,
        created_at -> Timestamptz,
        valid_until -> Timestamptz,
        used_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    page_session (secret_hash) {
        secret_hash -> Bytea,
        session_id -> Uuid,
        issued_at -> Timestamptz,
    }
}

diesel::table! {
    person (id) {
        id -> Uuid,
        kind -> Text,
        sign_in_name -> Text,
        name -> Text,
        role -> Text,
        state -> Text,
        version -> Int8,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    photograph_withdrawal (photograph_id) {
        photograph_id -> Uuid,
        batch_id -> Uuid,
        reason -> Text,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    policy (version) {
        version -> Int4,
        clinic_name -> Text,
        notice -> Text,
        time_zone -> Text,
        currency -> Text,
        customary -> Text,
        second_person -> Bool,
        acknowledgement_days -> Int4,
        tolerance_percent -> Numeric,
        active_tolerance_percent -> Numeric,
        created_by -> Nullable<Uuid>,
        created_at -> Timestamptz,
        reason -> Text,
        countersign_audiences -> Jsonb,
        dating_sets_off -> Jsonb,
        drops_per_ml -> Nullable<Jsonb>,
    }
}

diesel::table! {
    principal (id) {
        id -> Uuid,
        kind -> Text,
    }
}

diesel::table! {
    question (id) {
        id -> Uuid,
        work_id -> Uuid,
        assignment_id -> Uuid,
        position -> Int2,
        kind -> Text,
        asked -> Jsonb,
        numbers -> Nullable<Bytea>,
        state -> Text,
        attempts -> Int2,
        answered_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    question_answer (id) {
        id -> Uuid,
        question_id -> Uuid,
        number -> Int4,
        answers -> Jsonb,
        found -> Jsonb,
        is_right -> Bool,
        late -> Bool,
        at -> Timestamptz,
    }
}

diesel::table! {
    reaction_case (id) {
        id -> Uuid,
        number -> Text,
        state -> Text,
        version -> Int8,
        opened_at -> Timestamptz,
        joined_id -> Nullable<Uuid>,
        causality -> Nullable<Text>,
        conclusion -> Nullable<Text>,
        ended_by -> Nullable<Uuid>,
        ended_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    reaction_counter (year) {
        year -> Int4,
        last -> Int4,
    }
}

diesel::table! {
    reaction_note (id) {
        id -> Uuid,
        case_id -> Uuid,
        number -> Int4,
        text -> Text,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    reaction_report (id) {
        id -> Uuid,
        case_id -> Uuid,
        jar_id -> Uuid,
        reference -> Text,
        told -> Text,
        by_id -> Nullable<Uuid>,
        form -> Nullable<Bytea>,
        began_on -> Nullable<Date>,
        outcome -> Text,
        serious -> Array<Text>,
        at -> Timestamptz,
    }
}

diesel::table! {
    reaction_words (report_id) {
        report_id -> Uuid,
        text -> Text,
    }
}

diesel::table! {
    recall (id) {
        id -> Uuid,
        cause -> Text,
        lot_id -> Nullable<Uuid>,
        batch_id -> Nullable<Uuid>,
        formula_id -> Nullable<Uuid>,
        material_id -> Nullable<Uuid>,
        reason -> Text,
        state -> Text,
        version -> Int8,
        last_outcome -> Int4,
        by_id -> Uuid,
        at -> Timestamptz,
        closed_by -> Nullable<Uuid>,
        closed_at -> Nullable<Timestamptz>,
        closed_because -> Nullable<Text>,
    }
}

diesel::table! {
    recall_item (recall_id, number) {
        recall_id -> Uuid,
        number -> Int4,
        lot_id -> Nullable<Uuid>,
        batch_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    recall_jar_outcome (id) {
        id -> Uuid,
        recall_id -> Uuid,
        item -> Int4,
        jar_id -> Uuid,
        number -> Int4,
        outcome -> Text,
        note -> Nullable<Text>,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    recall_outcome (id) {
        id -> Uuid,
        recall_id -> Uuid,
        item -> Int4,
        number -> Int4,
        outcome -> Text,
        note -> Nullable<Text>,
        by_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    recipe_pull (acknowledgement_id) {
        acknowledgement_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    reference_rule (key) {
        key -> Text,
        digest -> Bytea,
    }
}

diesel::table! {
    reflection_draft (work_id) {
        work_id -> Uuid,
        text -> Text,
        version -> Int8,
        saved_at -> Timestamptz,
    }
}

diesel::table! {
    refresh_token (token_hash) {
        token_hash -> Bytea,
        session_id -> Uuid,
        issued_at -> Timestamptz,
        used_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    release_grant (holder_id, revision_id) {
        holder_id -> Uuid,
        revision_id -> Uuid,
        digest -> Bytea,
        caution_digest -> Bytea,
        purpose -> Text,
        acknowledgement_id -> Uuid,
        valid_until -> Timestamptz,
        pulled -> Bool,
        set_number -> Int4,
    }
}

diesel::table! {
    retained_sample (jar_id) {
        jar_id -> Uuid,
        batch_id -> Uuid,
        first_on -> Date,
        by_id -> Uuid,
        at -> Timestamptz,
        reason -> Nullable<Text>,
    }
}

diesel::table! {
    revision (id) {
        id -> Uuid,
        formula_id -> Uuid,
        number -> Int4,
        state -> Text,
        title -> Text,
        preparation -> Text,
        route -> Text,
        regime -> Text,
        version -> Int8,
        author_id -> Uuid,
        created_at -> Timestamptz,
        proposed_at -> Nullable<Timestamptz>,
        digest -> Nullable<Bytea>,
        decided_by -> Nullable<Uuid>,
        decided_at -> Nullable<Timestamptz>,
        own_approval -> Bool,
    }
}

diesel::table! {
    revision_ingredient (revision_id, phase, line) {
        revision_id -> Uuid,
        phase -> Int2,
        line -> Int2,
        phase_name -> Text,
        name -> Text,
        function -> Nullable<Text>,
        material_id -> Nullable<Uuid>,
        material_version -> Nullable<Int4>,
        nested_revision_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    revision_material (revision_id, material_id) {
        revision_id -> Uuid,
        material_id -> Uuid,
    }
}

diesel::table! {
    revision_nested (revision_id, nested_id) {
        revision_id -> Uuid,
        nested_id -> Uuid,
    }
}

diesel::table! {
    row_digest (table_name, row_key) {
        table_name -> Text,
        row_key -> Text,
        form -> Int2,
        salt -> Bytea,
        digest -> Bytea,
        event_id -> Uuid,
    }
}

diesel::table! {
    second_mark (moderation_id) {
        moderation_id -> Uuid,
        marker_id -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    second_mark_criterion (moderation_id, position) {
        moderation_id -> Uuid,
        position -> Int2,
        level -> Nullable<Int2>,
        points -> Nullable<Int4>,
        met -> Nullable<Bool>,
    }
}

diesel::table! {
    security_event (id) {
        id -> Uuid,
        kind -> Text,
        first_at -> Timestamptz,
        last_at -> Timestamptz,
        count -> Int8,
        principal_id -> Nullable<Uuid>,
        account_digest -> Nullable<Bytea>,
        network_digest -> Nullable<Bytea>,
        operation -> Nullable<Text>,
    }
}

diesel::table! {
    session (id) {
        id -> Uuid,
        person_id -> Uuid,
        role -> Text,
        started_at -> Timestamptz,
        idle_expires_at -> Timestamptz,
        valid_until -> Timestamptz,
        ended_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    sign_off (id) {
        id -> Uuid,
        competency_id -> Uuid,
        person_id -> Uuid,
        cohort_id -> Uuid,
        accepted_works -> Int4,
        criterion_works -> Int4,
        right_answers -> Int4,
        signed_by -> Uuid,
        at -> Timestamptz,
        ends_at -> Timestamptz,
    }
}

diesel::table! {
    sign_off_revocation (sign_off_id) {
        sign_off_id -> Uuid,
        reason -> Text,
        revoked_by -> Uuid,
        at -> Timestamptz,
    }
}

diesel::table! {
    stock_threshold (material_id) {
        material_id -> Uuid,
        least -> Nullable<Text>,
        grams -> Nullable<Numeric>,
        version -> Int8,
        set_by -> Uuid,
        set_at -> Timestamptz,
    }
}

diesel::table! {
    withholding (revision_id) {
        revision_id -> Uuid,
        amendment_id -> Uuid,
        since -> Timestamptz,
    }
}

diesel::table! {
    work_batch (batch_id) {
        batch_id -> Uuid,
        work_id -> Uuid,
    }
}

diesel::table! {
    work_claim (handed_id) {
        handed_id -> Uuid,
        marker_id -> Uuid,
        claimed_at -> Timestamptz,
        ends_at -> Timestamptz,
    }
}

diesel::table! {
    work_limit (id) {
        id -> Uuid,
        cohort_id -> Uuid,
        person_id -> Uuid,
        told_at -> Timestamptz,
        withdrawn_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    work_limit_words (limit_id) {
        limit_id -> Uuid,
        text -> Text,
    }
}

diesel::table! {
    work_mark (id) {
        id -> Uuid,
        handed_id -> Uuid,
        number -> Int4,
        marker_id -> Uuid,
        reason -> Nullable<Text>,
        at -> Timestamptz,
    }
}

diesel::table! {
    work_mark_criterion (mark_id, position) {
        mark_id -> Uuid,
        position -> Int2,
        level -> Nullable<Int2>,
        points -> Nullable<Int4>,
        met -> Nullable<Bool>,
        review_id -> Nullable<Uuid>,
        comment_position -> Nullable<Int2>,
    }
}

diesel::table! {
    work_waiting (handed_id) {
        handed_id -> Uuid,
        cohort_id -> Uuid,
        student_id -> Uuid,
        received_at -> Timestamptz,
        due_at -> Timestamptz,
        late -> Bool,
        came_back -> Bool,
        findings -> Array<Text>,
        noted -> Bool,
        clean -> Bool,
    }
}
