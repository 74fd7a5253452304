// @generated automatically by Diesel CLI.

diesel::table! {
    alarm_acknowledgements (id) {
        id -> Uuid,
        site_id -> Uuid,
        day_id -> Uuid,
        kind -> Text,
        subject -> Uuid,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    attempt_corrections (id) {
        id -> Uuid,
        site_id -> Uuid,
        attempt_id -> Uuid,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    attempt_events (attempt_id, seq) {
        attempt_id -> Uuid,
        seq -> Int4,
        event -> Jsonb,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        told_by -> Nullable<Text>,
    }
}

diesel::table! {
    attempt_late_events (attempt_id, seq) {
        attempt_id -> Uuid,
        seq -> Int4,
        event -> Jsonb,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    attempt_recordings (id) {
        id -> Uuid,
        site_id -> Uuid,
        attempt_id -> Uuid,
        name -> Text,
        media_type -> Text,
        bytes -> Bytea,
        sha256 -> Bytea,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    attempt_verdicts (attempt_id) {
        attempt_id -> Uuid,
        outcome -> Text,
        reason -> Text,
        tested_on -> Date,
        started_testing_at -> Nullable<Timestamptz>,
        decided_at -> Timestamptz,
        ended_at -> Timestamptz,
        exercise -> Nullable<Int4>,
        second -> Nullable<Int4>,
        recorded_at -> Timestamptz,
        fit_factor -> Nullable<Text>,
        pass_level -> Nullable<Int4>,
    }
}

diesel::table! {
    attempts (id) {
        id -> Uuid,
        site_id -> Uuid,
        visit_id -> Uuid,
        person_id -> Uuid,
        station_id -> Uuid,
        respirator_id -> Uuid,
        screening_id -> Nullable<Uuid>,
        fill_id -> Nullable<Uuid>,
        method -> Text,
        rule_set_name -> Text,
        rule_set_version -> Text,
        setup -> Jsonb,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        fitted_filter -> Nullable<Text>,
        test_mode -> Nullable<Text>,
        instrument -> Nullable<Text>,
        hood_id -> Nullable<Uuid>,
        facepiece_lot_id -> Nullable<Uuid>,
        reported -> Nullable<Text>,
    }
}

diesel::table! {
    audit_heads (site_id) {
        site_id -> Uuid,
        seq -> Int8,
        hash -> Bytea,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    audit_rows (site_id, seq) {
        site_id -> Uuid,
        seq -> Int8,
        recorded_at -> Timestamptz,
        actor_kind -> Text,
        actor_id -> Nullable<Uuid>,
        action -> Text,
        subject_table -> Text,
        subject_id -> Uuid,
        subject_digest -> Nullable<Bytea>,
        detail -> Text,
        previous_hash -> Bytea,
        hash -> Bytea,
    }
}

diesel::table! {
    badge_batch_outcomes (badge_batch_id, seq) {
        badge_batch_id -> Uuid,
        seq -> Int4,
        badge_id -> Nullable<Uuid>,
        left_out -> Nullable<Text>,
        recorded_at -> Timestamptz,
    }
}

diesel::table! {
    badge_batch_people (badge_batch_id, seq) {
        badge_batch_id -> Uuid,
        seq -> Int4,
        person_id -> Uuid,
        recorded_at -> Timestamptz,
    }
}

diesel::table! {
    badge_batches (id) {
        id -> Uuid,
        site_id -> Uuid,
        day_id -> Uuid,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        ended_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    badge_endings (id) {
        id -> Uuid,
        site_id -> Uuid,
        badge_id -> Uuid,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        misprint -> Nullable<Text>,
    }
}

diesel::table! {
    badge_finds (id) {
        id -> Uuid,
        site_id -> Uuid,
        badge_id -> Uuid,
        gate_id -> Nullable<Uuid>,
        place -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    badge_hand_overs (id) {
        id -> Uuid,
        site_id -> Uuid,
        badge_id -> Uuid,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    badge_hold_releases (id) {
        id -> Uuid,
        site_id -> Uuid,
        badge_hold_id -> Uuid,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    badge_holds (id) {
        id -> Uuid,
        site_id -> Uuid,
        badge_id -> Uuid,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    badge_reprints (badge_id) {
        badge_id -> Uuid,
        site_id -> Uuid,
        replaces_id -> Uuid,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    badge_respirators (badge_id, respirator_id) {
        badge_id -> Uuid,
        respirator_id -> Uuid,
        due_on -> Date,
        recorded_at -> Timestamptz,
    }
}

diesel::table! {
    badges (id) {
        id -> Uuid,
        site_id -> Uuid,
        person_id -> Uuid,
        serial -> Text,
        status_index -> Int8,
        signing_key_id -> Uuid,
        code -> Text,
        expires_at -> Timestamptz,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        printed_name -> Nullable<Text>,
    }
}

diesel::table! {
    bottle_movements (id) {
        id -> Uuid,
        site_id -> Uuid,
        bottle_id -> Uuid,
        movement -> Text,
        volume_ul -> Int8,
        guessed -> Bool,
        prepared_lot_id -> Nullable<Uuid>,
        place_id -> Nullable<Uuid>,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    bottle_openings (id) {
        id -> Uuid,
        site_id -> Uuid,
        bottle_id -> Uuid,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    bottles (id) {
        id -> Uuid,
        site_id -> Uuid,
        lot_id -> Uuid,
        label -> Text,
        volume_ul -> Int8,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    calls (id) {
        id -> Uuid,
        site_id -> Uuid,
        station_id -> Uuid,
        visit_id -> Uuid,
        step -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    clearances (person_id, respirator_id) {
        person_id -> Uuid,
        respirator_id -> Uuid,
        site_id -> Uuid,
        state -> Text,
        reasons -> Array<Nullable<Text>>,
        basis_attempt_id -> Nullable<Uuid>,
        tested_on -> Nullable<Date>,
        due_on -> Nullable<Date>,
        due_anniversary -> Nullable<Date>,
        due_strict -> Nullable<Date>,
        valid_from -> Nullable<Timestamptz>,
        valid_until -> Nullable<Timestamptz>,
        computed_at -> Timestamptz,
    }
}

diesel::table! {
    days (id) {
        id -> Uuid,
        site_id -> Uuid,
        place -> Text,
        opens_at -> Timestamptz,
        closes_at -> Timestamptz,
        rule_set_name -> Text,
        rule_set_version -> Text,
        closed_at -> Nullable<Timestamptz>,
        version -> Int4,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    devices (id) {
        id -> Uuid,
        site_id -> Uuid,
        name -> Text,
        role -> Text,
        gate_id -> Nullable<Uuid>,
        station_id -> Nullable<Uuid>,
        expires_at -> Timestamptz,
        revoked_at -> Nullable<Timestamptz>,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    equipment (id) {
        id -> Uuid,
        site_id -> Uuid,
        kind -> Text,
        label -> Text,
        lot_id -> Nullable<Uuid>,
        contact_seconds -> Nullable<Int4>,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    equipment_checks (id) {
        id -> Uuid,
        site_id -> Uuid,
        equipment_id -> Uuid,
        finding -> Text,
        other_equipment_id -> Nullable<Uuid>,
        note -> Nullable<Text>,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    face_panels (id) {
        id -> Uuid,
        site_id -> Uuid,
        panel -> Jsonb,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    fill_emptyings (id) {
        id -> Uuid,
        site_id -> Uuid,
        fill_id -> Uuid,
        discarded_ul -> Nullable<Int8>,
        rinsed -> Bool,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    fill_gaps (id) {
        id -> Uuid,
        site_id -> Uuid,
        station_id -> Uuid,
        agent -> Nullable<Text>,
        solution -> Nullable<Text>,
        from_at -> Timestamptz,
        until_at -> Timestamptz,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    fills (id) {
        id -> Uuid,
        site_id -> Uuid,
        station_id -> Uuid,
        bottle_id -> Uuid,
        nebulizer -> Text,
        volume_ul -> Int8,
        rinsed -> Bool,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        topped_up_fill_id -> Nullable<Uuid>,
        reported -> Nullable<Text>,
    }
}

diesel::table! {
    gate_policies (id) {
        id -> Uuid,
        site_id -> Uuid,
        gate_id -> Uuid,
        effective_from -> Timestamptz,
        none_needed -> Bool,
        knowledge_age_max_seconds -> Int4,
        fallback -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        none_needed_until -> Nullable<Timestamptz>,
        leads -> Nullable<Array<Nullable<Text>>>,
    }
}

diesel::table! {
    gate_policy_classes (gate_policy_id, place) {
        gate_policy_id -> Uuid,
        place -> Int4,
        facepiece -> Nullable<Text>,
        filter_class -> Nullable<Text>,
        accepted_until -> Nullable<Timestamptz>,
        recorded_at -> Timestamptz,
    }
}

diesel::table! {
    gate_policy_respirators (gate_policy_id, respirator_id) {
        gate_policy_id -> Uuid,
        respirator_id -> Uuid,
        place -> Int4,
        recorded_at -> Timestamptz,
        accepted_until -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    gates (id) {
        id -> Uuid,
        site_id -> Uuid,
        name -> Text,
        created_at -> Timestamptz,
        version -> Nullable<Int4>,
    }
}

diesel::table! {
    given_answers (scan_id) {
        scan_id -> Uuid,
        batch_id -> Uuid,
        site_id -> Uuid,
        known_at -> Nullable<Timestamptz>,
        clock_showed -> Timestamptz,
        recorded_at -> Timestamptz,
    }
}

diesel::table! {
    lead_entries (id) {
        id -> Uuid,
        site_id -> Uuid,
        gate_id -> Uuid,
        gate_policy_id -> Nullable<Uuid>,
        of_scan -> Nullable<Uuid>,
        lead -> Text,
        reason -> Text,
        told_at -> Nullable<Timestamptz>,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    lead_entry_reviews (id) {
        id -> Uuid,
        site_id -> Uuid,
        lead_entry_id -> Uuid,
        note -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    look_back_readings (id) {
        id -> Uuid,
        site_id -> Uuid,
        asked -> Text,
        asked_id -> Uuid,
        from_at -> Nullable<Timestamptz>,
        until_at -> Nullable<Timestamptz>,
        form -> Text,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    lot_marks (id) {
        id -> Uuid,
        site_id -> Uuid,
        lot_id -> Uuid,
        mark -> Text,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        reach -> Nullable<Text>,
    }
}

diesel::table! {
    lots (id) {
        id -> Uuid,
        site_id -> Uuid,
        agent -> Nullable<Text>,
        solution -> Nullable<Text>,
        lot_number -> Text,
        printed_expiry -> Nullable<Text>,
        expires_on -> Nullable<Date>,
        opened_life_days -> Nullable<Int4>,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        prepared -> Nullable<Jsonb>,
        supply -> Nullable<Text>,
        respirator_id -> Nullable<Uuid>,
        box_lot_number -> Nullable<Text>,
        gtin -> Nullable<Text>,
        label_read -> Nullable<Text>,
        maker -> Nullable<Text>,
        box_count -> Nullable<Int4>,
    }
}

diesel::table! {
    people (id) {
        id -> Uuid,
        site_id -> Uuid,
        staff_number -> Text,
        given_name -> Text,
        family_name -> Text,
        birth_date -> Nullable<Date>,
        unit -> Text,
        kind -> Text,
        sponsor -> Nullable<Text>,
        left_on -> Nullable<Date>,
        left_recorded_at -> Nullable<Timestamptz>,
        version -> Int4,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    permissions (id) {
        id -> Uuid,
        site_id -> Uuid,
        person_id -> Uuid,
        decision -> Text,
        limits -> Nullable<Text>,
        valid_from -> Date,
        valid_until -> Nullable<Date>,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    piece_movements (id) {
        id -> Uuid,
        site_id -> Uuid,
        lot_id -> Uuid,
        movement -> Text,
        pieces -> Int8,
        from_place_id -> Nullable<Uuid>,
        to_place_id -> Nullable<Uuid>,
        handed_to -> Nullable<Uuid>,
        reason -> Nullable<Text>,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    placements (id) {
        id -> Uuid,
        site_id -> Uuid,
        bottle_id -> Nullable<Uuid>,
        equipment_id -> Nullable<Uuid>,
        movement -> Text,
        from_place_id -> Nullable<Uuid>,
        to_place_id -> Uuid,
        handed_to -> Nullable<Uuid>,
        reason -> Nullable<Text>,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    places (id) {
        id -> Uuid,
        site_id -> Uuid,
        station_id -> Nullable<Uuid>,
        name -> Text,
        created_at -> Timestamptz,
        purpose -> Nullable<Text>,
        version -> Nullable<Int4>,
    }
}

diesel::table! {
    reading_mappings (id) {
        id -> Uuid,
        site_id -> Uuid,
        name -> Text,
        mapping -> Jsonb,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    referrals (id) {
        id -> Uuid,
        site_id -> Uuid,
        visit_id -> Uuid,
        person_id -> Uuid,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    respirator_changes (id) {
        id -> Uuid,
        site_id -> Uuid,
        respirator_id -> Uuid,
        filter_class -> Text,
        retired_at -> Nullable<Timestamptz>,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    respirators (id) {
        id -> Uuid,
        site_id -> Uuid,
        number -> Int4,
        make -> Text,
        model -> Text,
        style -> Text,
        size -> Text,
        facepiece -> Text,
        filter_class -> Text,
        approval_number -> Nullable<Text>,
        protection_factor -> Int4,
        retired_at -> Nullable<Timestamptz>,
        version -> Int4,
        created_at -> Timestamptz,
        air_supply -> Nullable<Text>,
        other_names -> Nullable<Array<Nullable<Text>>>,
    }
}

diesel::table! {
    roster_imports (id) {
        id -> Uuid,
        site_id -> Uuid,
        file -> Bytea,
        file_sha256 -> Bytea,
        headers -> Jsonb,
        row_count -> Int4,
        added_count -> Int4,
        changed_count -> Int4,
        unchanged_count -> Int4,
        missing_count -> Int4,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    rule_sets (id) {
        id -> Uuid,
        site_id -> Uuid,
        name -> Text,
        version -> Text,
        document -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    scan_prunings (id) {
        id -> Uuid,
        site_id -> Uuid,
        after_seq -> Int8,
        through_seq -> Int8,
        kept_days -> Int4,
        scans -> Int8,
        batches -> Int8,
        digest -> Bytea,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    scans (id) {
        id -> Uuid,
        batch_id -> Uuid,
        site_id -> Uuid,
        gate_id -> Uuid,
        badge_id -> Nullable<Uuid>,
        respirator_id -> Nullable<Uuid>,
        gate_policy_id -> Nullable<Uuid>,
        code_digest -> Bytea,
        typed -> Bool,
        answer -> Text,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        repeats_at -> Nullable<Timestamptz>,
        twin_gate_id -> Nullable<Uuid>,
        clock_ahead_ms -> Nullable<Int4>,
    }
}

diesel::table! {
    screening_events (screening_id, seq) {
        screening_id -> Uuid,
        seq -> Int4,
        event -> Jsonb,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    screening_verdicts (screening_id) {
        screening_id -> Uuid,
        outcome -> Text,
        reason -> Text,
        level -> Nullable<Int4>,
        squeezes -> Int4,
        ended_at -> Timestamptz,
        recorded_at -> Timestamptz,
    }
}

diesel::table! {
    screenings (id) {
        id -> Uuid,
        site_id -> Uuid,
        visit_id -> Uuid,
        person_id -> Uuid,
        station_id -> Uuid,
        agent -> Text,
        fill_id -> Uuid,
        rule_set_name -> Text,
        rule_set_version -> Text,
        setup -> Jsonb,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        hood_id -> Nullable<Uuid>,
        reported -> Nullable<Text>,
    }
}

diesel::table! {
    sessions (id) {
        id -> Uuid,
        user_id -> Uuid,
        site_id -> Uuid,
        expires_at -> Timestamptz,
        ended_at -> Nullable<Timestamptz>,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    sign_in_failures (id) {
        id -> Int8,
        account -> Text,
        address -> Text,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    signing_keys (id) {
        id -> Uuid,
        site_id -> Uuid,
        kid -> Text,
        public_jwk -> Jsonb,
        private_sealed -> Bytea,
        signs_until -> Nullable<Timestamptz>,
        retired_at -> Nullable<Timestamptz>,
        created_at -> Timestamptz,
        stands_by_since -> Nullable<Timestamptz>,
        withdrawn_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    sites (id) {
        id -> Uuid,
        name -> Text,
        time_zone -> Text,
        rule_set_name -> Text,
        rule_set_version -> Text,
        version -> Int4,
        created_at -> Timestamptz,
        clock_tolerance_seconds -> Nullable<Int4>,
        repeat_scan_seconds -> Nullable<Int4>,
        scans_kept_days -> Nullable<Int4>,
        lead_entries_kept_days -> Nullable<Int4>,
        unclaimed_after_days -> Nullable<Int4>,
        unclaimed_closed_at -> Nullable<Timestamptz>,
        found_badges -> Nullable<Text>,
    }
}

diesel::table! {
    squeeze_weighings (id) {
        id -> Uuid,
        site_id -> Uuid,
        equipment_id -> Uuid,
        squeezes -> Int4,
        before_mg -> Int8,
        after_mg -> Int8,
        scale_step_mg -> Int8,
        density_ug_per_ul -> Int4,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    stations (id) {
        id -> Uuid,
        site_id -> Uuid,
        day_id -> Uuid,
        name -> Text,
        parts -> Array<Nullable<Text>>,
        hood_forbids_bending -> Bool,
        created_at -> Timestamptz,
        version -> Nullable<Int4>,
        closed_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    status_versions (site_id) {
        site_id -> Uuid,
        version -> Int8,
        computed_at -> Timestamptz,
        policies -> Int8,
    }
}

diesel::table! {
    stop_releases (id) {
        id -> Uuid,
        site_id -> Uuid,
        stop_id -> Uuid,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    stops (id) {
        id -> Uuid,
        site_id -> Uuid,
        bottle_id -> Nullable<Uuid>,
        fill_id -> Nullable<Uuid>,
        equipment_id -> Nullable<Uuid>,
        tester_id -> Nullable<Uuid>,
        station_id -> Nullable<Uuid>,
        from_at -> Nullable<Timestamptz>,
        until_at -> Nullable<Timestamptz>,
        reach -> Nullable<Text>,
        reason -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    twin_notice_reviews (id) {
        id -> Uuid,
        site_id -> Uuid,
        twin_notice_id -> Uuid,
        note -> Text,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    twin_notices (id) {
        id -> Uuid,
        site_id -> Uuid,
        badge_id -> Uuid,
        first_gate_id -> Uuid,
        first_at -> Timestamptz,
        second_gate_id -> Uuid,
        second_at -> Timestamptz,
        walk_seconds -> Int4,
        tolerance_seconds -> Int4,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    users (id) {
        id -> Uuid,
        site_id -> Uuid,
        username -> Text,
        display_name -> Text,
        password_hash -> Text,
        roles -> Array<Nullable<Text>>,
        disabled_at -> Nullable<Timestamptz>,
        version -> Int4,
        created_at -> Timestamptz,
    }
}

diesel::table! {
    visit_answers (id) {
        id -> Uuid,
        site_id -> Uuid,
        visit_id -> Uuid,
        last_intake_at -> Nullable<Timestamptz>,
        hair_at_seal -> Bool,
        feels_well -> Bool,
        face_changed -> Bool,
        gear_worn -> Nullable<Text>,
        needs -> Nullable<Text>,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    visit_returns (id) {
        id -> Uuid,
        site_id -> Uuid,
        visit_id -> Uuid,
        station_id -> Uuid,
        reason -> Text,
        wait_seconds -> Int4,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::table! {
    visits (id) {
        id -> Uuid,
        site_id -> Uuid,
        day_id -> Uuid,
        person_id -> Uuid,
        ticket -> Int4,
        walk_in -> Bool,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        step -> Text,
        not_before -> Timestamptz,
        ready_at -> Timestamptz,
        held_by_station_id -> Nullable<Uuid>,
    }
}

diesel::table! {
    walking_times (id) {
        id -> Uuid,
        site_id -> Uuid,
        gate_id -> Uuid,
        other_gate_id -> Uuid,
        seconds -> Int4,
        happened_at -> Timestamptz,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

diesel::joinable!(alarm_acknowledgements -> days (day_id));
diesel::joinable!(alarm_acknowledgements -> sites (site_id));
diesel::joinable!(attempt_corrections -> attempts (attempt_id));
diesel::joinable!(attempt_corrections -> sites (site_id));
diesel::joinable!(attempt_events -> attempts (attempt_id));
diesel::joinable!(attempt_late_events -> attempts (attempt_id));
diesel::joinable!(attempt_recordings -> attempts (attempt_id));
diesel::joinable!(attempt_recordings -> sites (site_id));
diesel::joinable!(attempt_verdicts -> attempts (attempt_id));
diesel::joinable!(attempts -> equipment (hood_id));
diesel::joinable!(attempts -> fills (fill_id));
diesel::joinable!(attempts -> lots (facepiece_lot_id));
diesel::joinable!(attempts -> people (person_id));
diesel::joinable!(attempts -> respirators (respirator_id));
diesel::joinable!(attempts -> screenings (screening_id));
diesel::joinable!(attempts -> sites (site_id));
diesel::joinable!(attempts -> stations (station_id));
diesel::joinable!(attempts -> visits (visit_id));
diesel::joinable!(audit_heads -> sites (site_id));
diesel::joinable!(audit_rows -> sites (site_id));
diesel::joinable!(badge_batch_outcomes -> badges (badge_id));
diesel::joinable!(badge_batch_people -> badge_batches (badge_batch_id));
diesel::joinable!(badge_batch_people -> people (person_id));
diesel::joinable!(badge_batches -> days (day_id));
diesel::joinable!(badge_batches -> sites (site_id));
diesel::joinable!(badge_endings -> badges (badge_id));
diesel::joinable!(badge_endings -> sites (site_id));
diesel::joinable!(badge_finds -> badges (badge_id));
diesel::joinable!(badge_finds -> gates (gate_id));
diesel::joinable!(badge_finds -> sites (site_id));
diesel::joinable!(badge_hand_overs -> badges (badge_id));
diesel::joinable!(badge_hand_overs -> sites (site_id));
diesel::joinable!(badge_hold_releases -> badge_holds (badge_hold_id));
diesel::joinable!(badge_hold_releases -> sites (site_id));
diesel::joinable!(badge_holds -> badges (badge_id));
diesel::joinable!(badge_holds -> sites (site_id));
diesel::joinable!(badge_reprints -> sites (site_id));
diesel::joinable!(badge_respirators -> badges (badge_id));
diesel::joinable!(badge_respirators -> respirators (respirator_id));
diesel::joinable!(badges -> people (person_id));
diesel::joinable!(badges -> signing_keys (signing_key_id));
diesel::joinable!(badges -> sites (site_id));
diesel::joinable!(bottle_movements -> bottles (bottle_id));
diesel::joinable!(bottle_movements -> lots (prepared_lot_id));
diesel::joinable!(bottle_movements -> places (place_id));
diesel::joinable!(bottle_movements -> sites (site_id));
diesel::joinable!(bottle_openings -> bottles (bottle_id));
diesel::joinable!(bottle_openings -> sites (site_id));
diesel::joinable!(bottles -> lots (lot_id));
diesel::joinable!(bottles -> sites (site_id));
diesel::joinable!(calls -> sites (site_id));
diesel::joinable!(calls -> stations (station_id));
diesel::joinable!(calls -> visits (visit_id));
diesel::joinable!(clearances -> attempts (basis_attempt_id));
diesel::joinable!(clearances -> people (person_id));
diesel::joinable!(clearances -> respirators (respirator_id));
diesel::joinable!(clearances -> sites (site_id));
diesel::joinable!(days -> sites (site_id));
diesel::joinable!(devices -> gates (gate_id));
diesel::joinable!(devices -> sites (site_id));
diesel::joinable!(devices -> stations (station_id));
diesel::joinable!(equipment -> lots (lot_id));
diesel::joinable!(equipment -> sites (site_id));
diesel::joinable!(equipment_checks -> sites (site_id));
diesel::joinable!(face_panels -> sites (site_id));
diesel::joinable!(fill_emptyings -> fills (fill_id));
diesel::joinable!(fill_emptyings -> sites (site_id));
diesel::joinable!(fill_gaps -> sites (site_id));
diesel::joinable!(fill_gaps -> stations (station_id));
diesel::joinable!(fills -> bottles (bottle_id));
diesel::joinable!(fills -> sites (site_id));
diesel::joinable!(fills -> stations (station_id));
diesel::joinable!(gate_policies -> gates (gate_id));
diesel::joinable!(gate_policies -> sites (site_id));
diesel::joinable!(gate_policy_classes -> gate_policies (gate_policy_id));
diesel::joinable!(gate_policy_respirators -> gate_policies (gate_policy_id));
diesel::joinable!(gate_policy_respirators -> respirators (respirator_id));
diesel::joinable!(gates -> sites (site_id));
diesel::joinable!(given_answers -> scans (scan_id));
diesel::joinable!(given_answers -> sites (site_id));
diesel::joinable!(lead_entries -> gate_policies (gate_policy_id));
diesel::joinable!(lead_entries -> gates (gate_id));
diesel::joinable!(lead_entries -> sites (site_id));
diesel::joinable!(lead_entry_reviews -> lead_entries (lead_entry_id));
diesel::joinable!(lead_entry_reviews -> sites (site_id));
diesel::joinable!(look_back_readings -> sites (site_id));
diesel::joinable!(lot_marks -> lots (lot_id));
diesel::joinable!(lot_marks -> sites (site_id));
diesel::joinable!(lots -> respirators (respirator_id));
diesel::joinable!(lots -> sites (site_id));
diesel::joinable!(people -> sites (site_id));
diesel::joinable!(permissions -> people (person_id));
diesel::joinable!(permissions -> sites (site_id));
diesel::joinable!(piece_movements -> lots (lot_id));
diesel::joinable!(piece_movements -> sites (site_id));
diesel::joinable!(piece_movements -> users (handed_to));
diesel::joinable!(placements -> bottles (bottle_id));
diesel::joinable!(placements -> equipment (equipment_id));
diesel::joinable!(placements -> sites (site_id));
diesel::joinable!(placements -> users (handed_to));
diesel::joinable!(places -> sites (site_id));
diesel::joinable!(places -> stations (station_id));
diesel::joinable!(reading_mappings -> sites (site_id));
diesel::joinable!(referrals -> people (person_id));
diesel::joinable!(referrals -> sites (site_id));
diesel::joinable!(referrals -> visits (visit_id));
diesel::joinable!(respirator_changes -> respirators (respirator_id));
diesel::joinable!(respirator_changes -> sites (site_id));
diesel::joinable!(respirators -> sites (site_id));
diesel::joinable!(roster_imports -> sites (site_id));
diesel::joinable!(rule_sets -> sites (site_id));
diesel::joinable!(scan_prunings -> sites (site_id));
diesel::joinable!(scans -> badges (badge_id));
diesel::joinable!(scans -> gate_policies (gate_policy_id));
diesel::joinable!(scans -> respirators (respirator_id));
diesel::joinable!(scans -> sites (site_id));
diesel::joinable!(screening_events -> screenings (screening_id));
diesel::joinable!(screening_verdicts -> screenings (screening_id));
diesel::joinable!(screenings -> equipment (hood_id));
diesel::joinable!(screenings -> fills (fill_id));
diesel::joinable!(screenings -> people (person_id));
diesel::joinable!(screenings -> sites (site_id));
diesel::joinable!(screenings -> stations (station_id));
diesel::joinable!(screenings -> visits (visit_id));
diesel::joinable!(sessions -> sites (site_id));
diesel::joinable!(sessions -> users (user_id));
diesel::joinable!(signing_keys -> sites (site_id));
diesel::joinable!(squeeze_weighings -> equipment (equipment_id));
diesel::joinable!(squeeze_weighings -> sites (site_id));
diesel::joinable!(stations -> days (day_id));
diesel::joinable!(stations -> sites (site_id));
diesel::joinable!(status_versions -> sites (site_id));
diesel::joinable!(stop_releases -> sites (site_id));
diesel::joinable!(stop_releases -> stops (stop_id));
diesel::joinable!(stops -> bottles (bottle_id));
diesel::joinable!(stops -> equipment (equipment_id));
diesel::joinable!(stops -> fills (fill_id));
diesel::joinable!(stops -> sites (site_id));
diesel::joinable!(stops -> stations (station_id));
diesel::joinable!(stops -> users (tester_id));
diesel::joinable!(twin_notice_reviews -> sites (site_id));
diesel::joinable!(twin_notice_reviews -> twin_notices (twin_notice_id));
diesel::joinable!(twin_notices -> badges (badge_id));
diesel::joinable!(twin_notices -> sites (site_id));
diesel::joinable!(users -> sites (site_id));
diesel::joinable!(visit_answers -> sites (site_id));
diesel::joinable!(visit_answers -> visits (visit_id));
diesel::joinable!(visit_returns -> sites (site_id));
diesel::joinable!(visit_returns -> stations (station_id));
diesel::joinable!(visit_returns -> visits (visit_id));
diesel::joinable!(visits -> days (day_id));
diesel::joinable!(visits -> people (person_id));
diesel::joinable!(visits -> sites (site_id));
diesel::joinable!(visits -> stations (held_by_station_id));
diesel::joinable!(walking_times -> sites (site_id));

diesel::allow_tables_to_appear_in_same_query!(
    alarm_acknowledgements,
    attempt_corrections,
    attempt_events,
    attempt_late_events,
    attempt_recordings,
    attempt_verdicts,
    attempts,
    audit_heads,
    audit_rows,
    badge_batch_outcomes,
    badge_batch_people,
    badge_batches,
    badge_endings,
    badge_finds,
    badge_hand_overs,
    badge_hold_releases,
    badge_holds,
    badge_reprints,
    badge_respirators,
    badges,
    bottle_movements,
    bottle_openings,
    bottles,
    calls,
    clearances,
    days,
    devices,
    equipment,
    equipment_checks,
    face_panels,
    fill_emptyings,
    fill_gaps,
    fills,
    gate_policies,
    gate_policy_classes,
    gate_policy_respirators,
    gates,
    given_answers,
    lead_entries,
    lead_entry_reviews,
    look_back_readings,
    lot_marks,
    lots,
    people,
    permissions,
    piece_movements,
    placements,
    places,
    reading_mappings,
    referrals,
    respirator_changes,
    respirators,
    roster_imports,
    rule_sets,
    scan_prunings,
    scans,
    screening_events,
    screening_verdicts,
    screenings,
    sessions,
    sign_in_failures,
    signing_keys,
    sites,
    squeeze_weighings,
    stations,
    status_versions,
    stop_releases,
    stops,
    twin_notice_reviews,
    twin_notices,
    users,
    visit_answers,
    visit_returns,
    visits,
    walking_times,
);
