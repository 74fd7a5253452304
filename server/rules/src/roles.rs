//! Who may do what: the one table of operations and the roles that hold each.

use crate::text_enum::text_enum;

pub use crate::role::{Role, each_once, matrix_as_text};

/// An operation as a type, so that a handler names its permission in its signature.
pub trait Op {
    /// The operation this type stands for.
    const OPERATION: Operation;
}

macro_rules! operations {
    ($($(#[doc = $does:literal])+ $variant:ident $name:literal [$($role:ident),+];)+) => {
        text_enum! {
            /// Every operation that needs a signed-in caller; the text is its operation id in the API description.
            pub enum Operation { $( $(#[doc = $does])+ $variant = $name ),+ }
        }

        /// Each operation with the roles that may do it.
        pub const MATRIX: &[(Operation, &[Role])] = &[
            $((Operation::$variant, &[$(Role::$role),+])),+
        ];

        impl Operation {
            /// The roles that may do it.
            pub const fn roles(self) -> &'static [Role] {
                match self { $(Self::$variant => &[$(Role::$role),+]),+ }
            }
        }

        /// One type per operation, for signatures such as `Caller<op::CreateAttempt>`.
        pub mod op {
            use super::{Op, Operation};

            $(
                $(#[doc = $does])+
                #[derive(Debug, Clone, Copy)]
                pub struct $variant;

                impl Op for $variant {
                    const OPERATION: Operation = Operation::$variant;
                }
            )+
        }
    };
}

operations! {
    /// Who the caller is signed in as.
    ReadCurrentSession "read_current_session"
        [Coordinator, CheckIn, Tester, Storekeeper, BadgeDesk, Gate, GateLead, Clinician, Auditor, Admin];
    /// Sign out.
    DeleteCurrentSession "delete_current_session"
        [Coordinator, CheckIn, Tester, Storekeeper, BadgeDesk, Gate, GateLead, Clinician, Auditor, Admin];

    /// News of what was written, as it happens.
    ReadStream "read_stream"
        [Coordinator, CheckIn, Tester, Storekeeper, BadgeDesk, GateLead, Clinician, Auditor, Admin];

    /// The users of the site.
    ListUsers "list_users" [Auditor, Admin];
    /// Add a user.
    CreateUser "create_user" [Admin];
    /// Change a user's name, roles or password, or close the account.
    UpdateUser "update_user" [Admin];
    /// The devices of the site.
    ListDevices "list_devices" [Auditor, Admin];
    /// Give a device its token.
    CreateDevice "create_device" [Admin];
    /// Take a device's token away.
    DeleteDevice "delete_device" [Admin];
    /// The site's name, time zone and settings.
    ReadCurrentSite "read_current_site"
        [Coordinator, CheckIn, Tester, Storekeeper, BadgeDesk, Clinician, Auditor, Admin];
    /// Change the site's name, time zone or settings.
    UpdateCurrentSite "update_current_site" [Admin];
    /// The rule sets the server knows.
    ListRuleSets "list_rule_sets" [Coordinator, CheckIn, Tester, Storekeeper, Clinician, Auditor, Admin];
    /// One rule set with its values and their sources.
    ReadRuleSet "read_rule_set" [Coordinator, CheckIn, Tester, Storekeeper, Clinician, Auditor, Admin];

    /// Take a site's own rule set.
    CreateRuleSet "create_rule_set" [Coordinator, Admin];

    /// What a roster file would change, with its problems, before anything is stored.
    PreviewRosterImport "preview_roster_import" [Coordinator];
    /// Take a roster file, all or nothing.
    CreateRosterImport "create_roster_import" [Coordinator];
    /// The roster files taken so far.
    ListRosterImports "list_roster_imports" [Coordinator, Auditor];
    /// People of the site.
    ListPeople "list_people" [Coordinator, CheckIn, Tester, BadgeDesk, Clinician, Auditor];
    /// Add a person who is on no roster.
    CreatePerson "create_person" [Coordinator, CheckIn];
    /// One person.
    ReadPerson "read_person" [Coordinator, CheckIn, Tester, BadgeDesk, Clinician, Auditor];
    /// Change a person's data.
    UpdatePerson "update_person" [Coordinator, CheckIn];
    /// The decisions about one person: never a reason.
    ListPermissions "list_permissions" [Coordinator, Clinician, Auditor];
    /// Store a clinician's decision.
    CreatePermission "create_permission" [Clinician];

    /// The respirators of the site.
    ListRespirators "list_respirators"
        [Coordinator, CheckIn, Tester, Storekeeper, BadgeDesk, Clinician, Auditor, Admin];
    /// Add a respirator.
    CreateRespirator "create_respirator" [Coordinator, Admin];
    /// One respirator.
    ReadRespirator "read_respirator"
        [Coordinator, CheckIn, Tester, Storekeeper, BadgeDesk, Clinician, Auditor, Admin];
    /// Change a respirator's data.
    UpdateRespirator "update_respirator" [Coordinator, Admin];

    /// Fit-testing days.
    ListDays "list_days" [Coordinator, CheckIn, Tester, Storekeeper, BadgeDesk, Auditor];
    /// Plan a day.
    CreateDay "create_day" [Coordinator];
    /// One day.
    ReadDay "read_day" [Coordinator, CheckIn, Tester, Storekeeper, BadgeDesk, Auditor];
    /// Change or close a day.
    UpdateDay "update_day" [Coordinator];
    /// The stations of a day.
    ListStations "list_stations" [Coordinator, CheckIn, Tester, Storekeeper, BadgeDesk, Auditor];
    /// Set up a station.
    CreateStation "create_station" [Coordinator];
    /// Change or close a station.
    UpdateStation "update_station" [Coordinator];
    /// The plans a station needs when it is out of reach.
    ReadStationPlans "read_station_plans" [Tester];
    /// Attempts of one person that overlap, to be decided.
    ListAttemptOverlaps "list_attempt_overlaps" [Coordinator, Tester, Auditor];
    /// Who waits for what, and since when.
    ReadQueue "read_queue" [Coordinator, CheckIn, Tester, Auditor];
    /// How far a day has come, its stations, and what waits for somebody's name.
    ReadBoard "read_board" [Coordinator, Auditor];
    /// Take an alarm of a day on under one's own name.
    CreateAlarmAcknowledgement "create_alarm_acknowledgement" [Coordinator];
    /// Shares of passes, levels of screenings and the flow of a day, with their uncertainty.
    ReadReport "read_report" [Coordinator, Auditor];
    /// Call the next person to a station.
    CreateCall "create_call" [Coordinator, CheckIn, Tester];

    /// Check a person in.
    CreateVisit "create_visit" [Coordinator, CheckIn];
    /// The visits of a day.
    ListVisits "list_visits" [Coordinator, CheckIn, Tester, BadgeDesk, Auditor];
    /// One visit.
    ReadVisit "read_visit" [Coordinator, CheckIn, Tester, BadgeDesk, Auditor];
    /// Store the answers given at check-in.
    CreateVisitAnswers "create_visit_answers" [Coordinator, CheckIn];
    /// Send a called person back into the queue.
    CreateVisitReturn "create_visit_return" [Coordinator, CheckIn, Tester];
    /// Open a taste screening.
    CreateScreening "create_screening" [Tester];
    /// One screening.
    ReadScreening "read_screening" [Coordinator, Tester, Auditor];
    /// Add events to a screening.
    AppendScreeningEvents "append_screening_events" [Tester];
    /// Open an attempt.
    CreateAttempt "create_attempt" [Tester];
    /// One attempt with its plan, events and verdict.
    ReadAttempt "read_attempt" [Coordinator, Tester, Auditor];
    /// Add events to an attempt, the signature among them.
    AppendAttemptEvents "append_attempt_events" [Tester];
    /// Load a panel of face lengths.
    CreateFacePanel "create_face_panel" [Coordinator, Admin];
    /// What to try first with a person.
    ReadSizeHints "read_size_hints" [Coordinator, Tester];
    /// What has to be recorded of an attempt.
    ReadAttemptRecord "read_attempt_record" [Coordinator, Tester, Auditor];
    /// Keep the recording of a measured attempt.
    CreateAttemptRecording "create_attempt_recording" [Tester];
    /// The bytes of a recording.
    ReadAttemptRecording "read_attempt_recording" [Coordinator, Tester, Auditor];
    /// How the site reads files of readings.
    ListReadingMappings "list_reading_mappings" [Coordinator, Tester, Auditor];
    /// Remember which cell of a source's files means what.
    CreateReadingMapping "create_reading_mapping" [Coordinator, Tester];
    /// What a file of readings would do to an attempt, before anything is stored.
    PreviewReadingFile "preview_reading_file" [Tester];
    /// Take a file of readings into an attempt.
    CreateReadingFile "create_reading_file" [Tester];
    /// Attempts.
    ListAttempts "list_attempts" [Coordinator, Tester, Auditor];
    /// Correct a wrong record; the old one stays readable.
    CreateAttemptCorrection "create_attempt_correction" [Coordinator];
    /// Refer a person to another kind of test.
    CreateReferral "create_referral" [Coordinator, Tester];
    /// Referrals.
    ListReferrals "list_referrals" [Coordinator, Tester, Auditor];

    /// Lots of solution.
    ListLots "list_lots" [Coordinator, Tester, Storekeeper, Auditor];
    /// Receive a lot.
    CreateLot "create_lot" [Coordinator, Storekeeper];
    /// Record a solution made in-house, as a lot like any other.
    CreatePreparation "create_preparation" [Coordinator, Storekeeper];
    /// Stop a lot.
    CreateLotStop "create_lot_stop" [Coordinator, Storekeeper];
    /// Release a stopped lot.
    CreateLotRelease "create_lot_release" [Coordinator, Storekeeper];
    /// Stops of lots with their releases: who decided what, and why.
    ListLotStops "list_lot_stops" [Coordinator, Storekeeper, Auditor];
    /// Who tests here or has tested, for naming a tester.
    ListTesters "list_testers" [Coordinator, Storekeeper, Auditor];
    /// Stop a bottle, a fill, a nebulizer, a hood, a tester's runs or a station's for a time.
    CreateStop "create_stop" [Coordinator, Storekeeper];
    /// Release such a stop.
    CreateStopRelease "create_stop_release" [Coordinator, Storekeeper];
    /// Such stops, with their releases.
    ListStops "list_stops" [Coordinator, Storekeeper, Auditor];
    /// Record a time for which nobody knows what a station sprayed.
    CreateFillGap "create_fill_gap" [Coordinator, Tester, Storekeeper];
    /// Such times.
    ListFillGaps "list_fill_gaps" [Coordinator, Tester, Storekeeper, Auditor];
    /// Who stands on what is in doubt.
    ReadLookBack "read_look_back" [Coordinator, Auditor];
    /// The same as a table.
    ReadLookBackExport "read_look_back_export" [Coordinator, Auditor];
    /// How many stand on what is in doubt, and where: numbers and stations only.
    ReadLookBackCounts "read_look_back_counts" [Coordinator, Storekeeper, Auditor];
    /// Where what is in doubt is now, as a list to walk with.
    ReadRunnerList "read_runner_list" [Coordinator, Storekeeper];
    /// Bottles.
    ListBottles "list_bottles" [Coordinator, Tester, Storekeeper, Auditor];
    /// Add a bottle of a lot.
    CreateBottle "create_bottle" [Coordinator, Storekeeper];
    /// Record that a bottle was opened.
    CreateBottleOpening "create_bottle_opening" [Coordinator, Tester, Storekeeper];
    /// Fills of nebulizers.
    ListFills "list_fills" [Coordinator, Tester, Storekeeper, Auditor];
    /// Record the filling of a nebulizer.
    CreateFill "create_fill" [Coordinator, Tester, Storekeeper];
    /// Record that a nebulizer was emptied.
    CreateFillEmptying "create_fill_emptying" [Coordinator, Tester, Storekeeper];
    /// Tell what a label means.
    ReadLabel "read_label" [Coordinator, Tester, Storekeeper, Auditor];
    /// Print labels for bottles, nebulizers and hoods.
    CreateLabelSheet "create_label_sheet" [Coordinator, Storekeeper];
    /// Storerooms and stations.
    ListPlaces "list_places" [Coordinator, Tester, Storekeeper, Auditor];
    /// Set up a storeroom.
    CreatePlace "create_place" [Coordinator, Storekeeper];
    /// Change a storeroom.
    UpdatePlace "update_place" [Coordinator, Storekeeper];
    /// What is at a place.
    ReadPlaceStock "read_place_stock" [Coordinator, Tester, Storekeeper, Auditor];
    /// Issue, hand over, move or return a bottle.
    CreateBottlePlacement "create_bottle_placement" [Coordinator, Tester, Storekeeper];
    /// Issue, hand over, move or return a nebulizer or a hood.
    CreateEquipmentPlacement "create_equipment_placement" [Coordinator, Tester, Storekeeper];
    /// Nebulizers and hoods with their states.
    ListEquipment "list_equipment" [Coordinator, Tester, Storekeeper, Auditor];
    /// Register a nebulizer or a hood.
    CreateEquipment "create_equipment" [Coordinator, Storekeeper];
    /// What was found on a nebulizer or a hood.
    ListEquipmentChecks "list_equipment_checks" [Coordinator, Tester, Storekeeper, Auditor];
    /// Record what was found on a nebulizer or a hood, or done to it.
    CreateEquipmentCheck "create_equipment_check" [Coordinator, Tester, Storekeeper];
    /// Which runs were made with a nebulizer since it last sprayed: people among them.
    ReadEquipmentReview "read_equipment_review" [Coordinator, Tester, Auditor];
    /// Weighings of a nebulizer.
    ListSqueezeWeighings "list_squeeze_weighings" [Coordinator, Tester, Storekeeper, Auditor];
    /// Keep a weighing of a nebulizer.
    CreateSqueezeWeighing "create_squeeze_weighing" [Coordinator, Tester, Storekeeper];
    /// Record what was thrown away, spilled, taken for a preparation or counted in a bottle.
    CreateBottleMovement "create_bottle_movement" [Coordinator, Tester, Storekeeper];
    /// Record pieces that were received, moved, used, thrown away or counted.
    CreateLotMovement "create_lot_movement" [Coordinator, Tester, Storekeeper];
    /// Where everything of every lot went.
    ListBalances "list_balances" [Coordinator, Storekeeper, Auditor];
    /// Everything that happened to a bottle.
    ReadBottleLedger "read_bottle_ledger" [Coordinator, Tester, Storekeeper, Auditor];
    /// What was sprayed against what is gone.
    ReadUsage "read_usage" [Coordinator, Storekeeper, Auditor];
    /// What runs out where and when, and what to order.
    ReadForecast "read_forecast" [Coordinator, Storekeeper];
    /// Everything that happened to the pieces of a lot.
    ReadLotLedger "read_lot_ledger" [Coordinator, Tester, Storekeeper, Auditor];

    /// Who is cleared for what, as computed.
    ListClearances "list_clearances" [Coordinator, BadgeDesk, Auditor];
    /// Badges.
    ListBadges "list_badges" [Coordinator, BadgeDesk, Auditor];
    /// Issue a badge.
    CreateBadge "create_badge" [Coordinator, BadgeDesk];
    /// One badge.
    ReadBadge "read_badge" [Coordinator, BadgeDesk, Auditor];
    /// End a badge.
    EndBadge "end_badge" [Coordinator, BadgeDesk];
    /// Hold a badge while something is being looked into.
    CreateBadgeHold "create_badge_hold" [Coordinator, BadgeDesk];
    /// Release such a hold.
    CreateBadgeHoldRelease "create_badge_hold_release" [Coordinator, BadgeDesk];
    /// Make a badge in place of another one, which ends.
    CreateBadgeReprint "create_badge_reprint" [Coordinator, BadgeDesk];
    /// End the badge of somebody who has lost it.
    CreateLostBadge "create_lost_badge" [Coordinator, BadgeDesk];
    /// Report a badge that was found. Nothing of it is told.
    CreateBadgeFind "create_badge_find" [Coordinator, BadgeDesk, Gate];
    /// Badges that were found, and where.
    ListBadgeFinds "list_badge_finds" [Coordinator, BadgeDesk, Auditor];
    /// What a badge is that lies at the desk, and what to do with it.
    ReadBadgeCode "read_badge_code" [Coordinator, BadgeDesk];
    /// Record that a badge went to its person.
    CreateBadgeHandOver "create_badge_hand_over" [Coordinator, BadgeDesk];
    /// Badges that were made and not handed over in time.
    ListUnclaimedBadges "list_unclaimed_badges" [Coordinator, BadgeDesk, Auditor];
    /// How many badges were made, handed over, spoiled and printed again on each day.
    ReadBadgeFigures "read_badge_figures" [Coordinator, BadgeDesk, Auditor];
    /// Who is ready on a day and needs a badge.
    ListBadgesDue "list_badges_due" [Coordinator, BadgeDesk, Auditor];
    /// Make the badges of everybody who is ready on a day.
    CreateBadgeBatch "create_badge_batch" [Coordinator, BadgeDesk];
    /// Such batches, with how far each has come.
    ListBadgeBatches "list_badge_batches" [Coordinator, BadgeDesk, Auditor];
    /// One batch: the badges made, and who was left out and why.
    ReadBadgeBatch "read_badge_batch" [Coordinator, BadgeDesk, Auditor];
    /// Print the badges of a batch.
    ReadBadgeBatchSheet "read_badge_batch_sheet" [Coordinator, BadgeDesk];
    /// Print badges.
    CreateBadgeSheet "create_badge_sheet" [Coordinator, BadgeDesk];
    /// Print rulers to set a printer right.
    CreateProofSheet "create_proof_sheet" [Coordinator, BadgeDesk, Admin];

    /// How the keys that sign badges stand.
    ListSigningKeys "list_signing_keys" [Coordinator, Auditor, Admin];
    /// Gates.
    ListGates "list_gates" [Coordinator, GateLead, Auditor, Admin];
    /// Set up a gate.
    CreateGate "create_gate" [Coordinator, Admin];
    /// Change a gate.
    UpdateGate "update_gate" [Coordinator, Admin];
    /// What a gate accepts, and since when. A gate sees its own.
    ListGatePolicies "list_gate_policies" [Coordinator, Gate, GateLead, Auditor, Admin];
    /// Decide what a gate accepts from a moment on.
    CreateGatePolicy "create_gate_policy" [Coordinator];
    /// What a gate has to know to answer alone. Its own device gets it.
    ReadGatePack "read_gate_pack" [Gate];
    /// Scan a badge at a gate.
    CreateScan "create_scan" [Gate];
    /// Scans with their reasons.
    ListScans "list_scans" [Coordinator, Auditor];
    /// What gates answered alone beside what would have been said.
    ListScanComparisons "list_scan_comparisons" [Coordinator, Auditor];
    /// How often a gate said what.
    ReadGateFigures "read_gate_figures" [Coordinator, GateLead, Auditor];
    /// Whom a gate will turn away at a moment ahead, by name.
    ReadGateOutlook "read_gate_outlook" [Coordinator];
    /// How many a gate will turn away at a moment ahead.
    ReadGateOutlookCounts "read_gate_outlook_counts" [Coordinator, GateLead];
    /// Keep an entry under a lead's name.
    CreateLeadEntry "create_lead_entry" [Gate];
    /// Entries under a lead's name.
    ListLeadEntries "list_lead_entries" [Coordinator, Auditor];
    /// Write down what was found about an entry under a lead's name.
    CreateLeadEntryReview "create_lead_entry_review" [Coordinator];
    /// How long somebody walks between two gates.
    ListWalkingTimes "list_walking_times" [Coordinator, Auditor, Admin];
    /// Set how long somebody walks between two gates.
    CreateWalkingTime "create_walking_time" [Coordinator, Admin];
    /// Badges that were read at two gates sooner than a person walks.
    ListTwinNotices "list_twin_notices" [Coordinator, Auditor];
    /// Sign such a pair off.
    CreateTwinNoticeReview "create_twin_notice_review" [Coordinator];
    /// Who was cleared at a gate at a moment, as known then or now.
    ListGateClearances "list_gate_clearances" [Coordinator, Auditor];
    /// Who did what, in order.
    ListAuditRows "list_audit_rows" [Auditor];
}

/// The operation ids that nobody needs to sign in for.
pub const PUBLIC_OPERATIONS: &[&str] =
    &["create_session", "read_jwks", "read_liveness", "read_readiness", "read_status_list"];

/// Whether a caller with these roles may do the operation.
pub fn allowed(operation: Operation, roles: &[Role]) -> bool {
    operation.roles().iter().any(|role| roles.contains(role))
}
