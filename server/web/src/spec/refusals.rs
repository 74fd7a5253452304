//! Which refusals each operation declares. The end-to-end tests fail on a refusal that its operation does not declare.

use sellion_rules::refusal::Code;

/// Refusals that any operation may give, so none declares them for itself.
pub(crate) const COMMON: &[Code] = &[
    Code::NotSignedIn,
    Code::SessionEnded,
    Code::WrongRole,
    Code::TlsRequired,
    Code::BadJson,
    Code::WrongContentType,
    Code::BodyTooLarge,
    Code::InvalidValue,
    Code::HappenedInFuture,
    Code::NotFound,
    Code::IdReused,
    Code::StaleVersion,
    Code::Busy,
    Code::DatabaseUnavailable,
    Code::Internal,
];

/// A list that comes in pages.
const PAGES: &[Code] = &[Code::InvalidCursor];

/// Something with a name or a number that only one may have.
const NAMED: &[Code] = &[Code::AlreadyExists];

/// A file that cannot be read as a roster.
const ROSTER: &[Code] = &[Code::RosterNotText, Code::RosterColumnMissing];

/// A file that cannot be read as readings, or that does not fit the attempt it is for.
const READING_FILE: &[Code] = &[Code::ReadingFileInvalid, Code::EventBeforePrevious];

/// Events that come in a sequence.
const SEQUENCE: &[Code] = &[Code::EventOutOfOrder, Code::EventConflict, Code::EventBeforePrevious];

/// A bottle that something is taken from.
const BOTTLE: &[Code] = &[Code::LotStopped, Code::BottleExpired, Code::BottleNotOpened, Code::OpenedLifeOver];

/// Something that another may have taken meanwhile.
const PLACED: &[Code] = &[Code::MovedMeanwhile];

/// A fill that a run is made with, on top of what holds for its bottle. It is looked at when the run is opened, and
/// for an attempt once more at its first dose.
const FILL: &[Code] = &[Code::FillMissing, Code::FillTooOld, Code::NebulizerOut, Code::HoodNotReady];

/// A bottle, a fill, a nebulizer or a hood that is used.
const STOPPED: &[Code] = &[Code::Stopped];

/// A screening or an attempt about to be opened: the day, the station, the visit and the ladder allow one.
const RUN: &[Code] = &[
    Code::DayClosed,
    Code::VisitNotOpen,
    Code::PermissionMissing,
    Code::StoppedNeedsClinician,
    Code::ScreeningOpen,
    Code::AttemptOpen,
    Code::ReferredToday,
    Code::WaitAfterFail,
    Code::IntakeTooRecent,
];

/// The first dose of an attempt, judged by what is known of the person by then.
const FIRST_DOSE: &[Code] =
    &[Code::PermissionMissing, Code::HairAtSeal, Code::VisitNotOpen, Code::IntakeTooRecent];

/// What the machine of an attempt refuses, beyond the sequence of its events and the facts of its first dose.
const ATTEMPT: &[Code] = &[
    Code::EventNotNow,
    Code::MustBeDonnedByWearer,
    Code::DonnedBeforeScreening,
    Code::AlreadyDonned,
    Code::NotDonned,
    Code::WearTimeShort,
    Code::SealCheckMissing,
    Code::RedonFirst,
    Code::NotReady,
    Code::WrongDose,
    Code::DoseTooEarly,
    Code::DoseDue,
    Code::ImplausibleValue,
    Code::ExerciseOutOfOrder,
    Code::ExerciseTooShort,
    Code::ClosingIncomplete,
    Code::AttemptEnded,
];

/// Each operation that refuses for reasons of its own, with those reasons. In the order of the routes.
const REFUSALS: &[(&str, &[&[Code]])] = &[
    ("create_session", &[&[Code::SignInRefused, Code::SignInThrottled]]),
    ("read_stream", &[&[Code::StreamsFull]]),
    ("update_current_site", &[NAMED, &[Code::RuleSetOpen]]),
    ("list_users", &[PAGES]),
    ("create_user", &[NAMED]),
    ("update_user", &[&[Code::StillInUse]]),
    ("list_devices", &[PAGES]),
    ("list_audit_rows", &[PAGES]),
    ("create_rule_set", &[NAMED, &[Code::RuleSetInvalid]]),
    ("preview_roster_import", &[ROSTER]),
    ("create_roster_import", &[ROSTER, &[Code::RosterLineInvalid]]),
    ("list_roster_imports", &[PAGES]),
    ("list_people", &[PAGES]),
    ("create_person", &[NAMED]),
    ("update_person", &[NAMED]),
    ("list_permissions", &[PAGES]),
    ("list_respirators", &[PAGES]),
    ("create_respirator", &[NAMED]),
    ("update_respirator", &[NAMED]),
    ("list_days", &[PAGES]),
    ("create_day", &[&[Code::RuleSetOpen]]),
    ("list_stations", &[PAGES]),
    ("create_station", &[NAMED]),
    ("update_station", &[NAMED]),
    ("create_visit", &[NAMED, &[Code::DayClosed]]),
    ("list_visits", &[PAGES]),
    ("create_visit_answers", &[&[Code::VisitNotOpen]]),
    ("create_visit_return", &[&[Code::EventNotNow, Code::ScreeningOpen, Code::AttemptOpen]]),
    ("create_call", &[&[Code::DayClosed, Code::StationClosed, Code::StillInUse, Code::NobodyReady]]),
    ("create_alarm_acknowledgement", &[NAMED]),
    ("list_referrals", &[PAGES]),
    ("create_referral", &[&[Code::ScreeningOpen, Code::AttemptOpen]]),
    ("list_lots", &[PAGES]),
    ("create_lot", &[NAMED, &[Code::LabelUnreadable, Code::ExpiryAmbiguous]]),
    ("create_preparation", &[NAMED]),
    ("create_lot_release", &[&[Code::StopReleased]]),
    ("create_stop_release", &[&[Code::StopReleased]]),
    ("list_stops", &[PAGES]),
    ("list_lot_stops", &[PAGES]),
    ("list_testers", &[PAGES]),
    ("list_fill_gaps", &[PAGES]),
    ("read_look_back", &[PAGES]),
    ("read_runner_list", &[&[Code::NoGlyph]]),
    ("list_bottles", &[PAGES]),
    ("create_bottle", &[NAMED]),
    ("create_bottle_opening", &[NAMED]),
    ("list_fills", &[PAGES]),
    (
        "create_fill",
        &[
            BOTTLE,
            &[
                Code::FillWrongAgent,
                Code::FillWrongSolution,
                Code::FillOnTop,
                Code::BottleEmpty,
                Code::BottleElsewhere,
                Code::NebulizerOut,
                Code::NebulizerUnknown,
            ],
            STOPPED,
        ],
    ),
    ("create_fill_emptying", &[NAMED]),
    ("read_label", &[&[Code::LabelUnreadable]]),
    ("create_label_sheet", &[&[Code::NoGlyph]]),
    ("list_places", &[PAGES]),
    ("create_place", &[NAMED]),
    ("update_place", &[NAMED]),
    ("create_bottle_placement", &[PLACED, &[Code::FirstExpiredFirst, Code::LotStopped, Code::BottleExpired]]),
    ("create_equipment_placement", &[PLACED]),
    ("list_equipment", &[PAGES]),
    ("create_equipment", &[NAMED]),
    ("create_bottle_movement", &[&[Code::BottleEmpty]]),
    (
        "create_lot_movement",
        &[&[Code::FirstExpiredFirst, Code::LotStopped, Code::BottleExpired, Code::LabelUnreadable]],
    ),
    ("list_balances", &[PAGES]),
    (
        "create_screening",
        &[
            RUN,
            &[Code::TestMethodNotAllowed, Code::AgentClosedToday, Code::AgentSwitchWait],
            FILL,
            BOTTLE,
            STOPPED,
        ],
    ),
    (
        "append_screening_events",
        &[
            SEQUENCE,
            &[
                Code::ExplainFirst,
                Code::PlainWaterFirst,
                Code::EventNotNow,
                Code::IntakeTooRecent,
                Code::ScreeningEnded,
            ],
        ],
    ),
    (
        "create_attempt",
        &[
            RUN,
            &[
                Code::HairAtSeal,
                Code::DifferentRespiratorRequired,
                Code::NewScreeningRequired,
                Code::TestMethodNotAllowed,
                Code::NegativePressureModeRequired,
                Code::FilterNotSuitable,
                Code::LabelUnreadable,
            ],
            FILL,
            BOTTLE,
            STOPPED,
        ],
    ),
    ("list_attempts", &[PAGES]),
    ("append_attempt_events", &[SEQUENCE, ATTEMPT, FIRST_DOSE, FILL, BOTTLE, STOPPED]),
    ("create_attempt_correction", &[&[Code::AlreadyCorrected, Code::AttemptOpen]]),
    ("list_reading_mappings", &[PAGES]),
    ("preview_reading_file", &[READING_FILE, ATTEMPT]),
    ("create_reading_file", &[READING_FILE, ATTEMPT, FIRST_DOSE]),
    ("read_attempt_record", &[&[Code::AttemptOpen]]),
    ("list_clearances", &[PAGES]),
    ("list_gate_clearances", &[PAGES]),
    ("list_badges", &[PAGES]),
    ("create_badge", &[&[Code::NotCleared, Code::BadgeHeld]]),
    ("end_badge", &[&[Code::BadgeAlreadyEnded]]),
    ("create_badge_hold", &[&[Code::BadgeAlreadyEnded]]),
    ("create_badge_hold_release", &[&[Code::HoldReleased]]),
    ("create_badge_reprint", &[&[Code::NotCleared, Code::BadgeAlreadyEnded, Code::BadgeHeld]]),
    ("create_lost_badge", &[&[Code::NoBadge, Code::BadgeAlreadyEnded]]),
    ("list_badge_finds", &[PAGES]),
    (
        "create_badge_hand_over",
        &[&[
            Code::NotCleared,
            Code::BadgeAlreadyEnded,
            Code::BadgeHeld,
            Code::BadgeOutdated,
            Code::BadgeHandedOver,
            Code::BadgeOfAnother,
        ]],
    ),
    ("list_unclaimed_badges", &[PAGES]),
    ("list_badges_due", &[PAGES]),
    ("create_badge_batch", &[&[Code::NoBadgeDue]]),
    ("list_badge_batches", &[PAGES]),
    ("read_badge_batch_sheet", &[&[Code::BatchRunning, Code::BadgeOutdated, Code::NoGlyph]]),
    (
        "create_badge_sheet",
        &[&[Code::NotCleared, Code::BadgeAlreadyEnded, Code::BadgeHeld, Code::BadgeOutdated, Code::NoGlyph]],
    ),
    ("list_gates", &[PAGES]),
    ("create_gate", &[NAMED]),
    ("update_gate", &[NAMED]),
    ("list_gate_policies", &[PAGES]),
    ("list_scans", &[PAGES]),
    ("list_scan_comparisons", &[PAGES]),
    ("list_lead_entries", &[PAGES]),
    ("create_lead_entry_review", &[&[Code::AlreadyReviewed]]),
    ("list_twin_notices", &[PAGES]),
    ("create_twin_notice_review", &[&[Code::AlreadyReviewed]]),
];

/// What this operation refuses for reasons of its own.
pub(crate) fn declared(operation_id: &str) -> Vec<Code> {
    let rows = REFUSALS.iter().filter(|(id, _)| *id == operation_id);
    rows.flat_map(|(_, groups)| groups.concat()).collect()
}
