//! Who hears of what on the live stream: each stored table with its noun and the operation that reads it.
//!
//! A table that is not named here is silent, so a new one tells nobody anything until somebody has decided who may
//! know. Signing in, keys, scans and who looked at a look-back stay silent on purpose.

use crate::roles::{Operation, Role, allowed};

/// One table, the noun that the stream calls its rows, and the operation whose roles hear of it.
///
/// Rows that belong to a larger whole under its id carry the noun of that whole: the events of an attempt are news of
/// the attempt.
const NOUNS: &[(&str, &str, Operation)] = &[
    ("alarm_acknowledgements", "alarm_acknowledgements", Operation::ReadBoard),
    ("attempt_corrections", "attempt_corrections", Operation::ReadAttempt),
    ("attempt_events", "attempts", Operation::ReadAttempt),
    ("attempt_late_events", "attempts", Operation::ReadAttempt),
    ("attempt_recordings", "attempt_recordings", Operation::ReadAttemptRecording),
    ("attempt_verdicts", "attempts", Operation::ReadAttempt),
    ("attempts", "attempts", Operation::ReadAttempt),
    ("badge_batch_outcomes", "badge_batches", Operation::ReadBadgeBatch),
    ("badge_batch_people", "badge_batches", Operation::ReadBadgeBatch),
    ("badge_batches", "badge_batches", Operation::ReadBadgeBatch),
    ("badge_endings", "badge_endings", Operation::ReadBadge),
    ("badge_finds", "badge_finds", Operation::ListBadgeFinds),
    ("badge_hand_overs", "badge_hand_overs", Operation::ReadBadge),
    ("badge_hold_releases", "badge_holds", Operation::ReadBadge),
    ("badge_holds", "badge_holds", Operation::ReadBadge),
    ("badge_reprints", "badges", Operation::ReadBadge),
    ("badge_respirators", "badges", Operation::ReadBadge),
    ("badges", "badges", Operation::ReadBadge),
    ("bottle_movements", "bottle_movements", Operation::ReadBottleLedger),
    ("bottle_openings", "bottle_openings", Operation::ListBottles),
    ("bottles", "bottles", Operation::ListBottles),
    ("calls", "calls", Operation::ReadQueue),
    ("days", "days", Operation::ReadDay),
    ("devices", "devices", Operation::ListDevices),
    ("equipment", "equipment", Operation::ListEquipment),
    ("equipment_checks", "equipment_checks", Operation::ListEquipmentChecks),
    ("face_panels", "face_panels", Operation::ReadSizeHints),
    ("fill_emptyings", "fill_emptyings", Operation::ListFills),
    ("fill_gaps", "fill_gaps", Operation::ListFills),
    ("fills", "fills", Operation::ListFills),
    ("gate_policies", "gate_policies", Operation::ListGatePolicies),
    ("gate_policy_classes", "gate_policies", Operation::ListGatePolicies),
    ("gate_policy_respirators", "gate_policies", Operation::ListGatePolicies),
    ("gates", "gates", Operation::ListGates),
    ("lead_entries", "lead_entries", Operation::ListLeadEntries),
    ("lead_entry_reviews", "lead_entry_reviews", Operation::ListLeadEntries),
    ("lot_marks", "lot_stops", Operation::ListLots),
    ("lots", "lots", Operation::ListLots),
    ("people", "people", Operation::ReadPerson),
    ("permissions", "permissions", Operation::ListPermissions),
    ("piece_movements", "piece_movements", Operation::ReadLotLedger),
    ("placements", "placements", Operation::ReadPlaceStock),
    ("places", "places", Operation::ListPlaces),
    ("reading_mappings", "reading_mappings", Operation::ListReadingMappings),
    ("referrals", "referrals", Operation::ListReferrals),
    ("respirators", "respirators", Operation::ReadRespirator),
    ("roster_imports", "roster_imports", Operation::ListRosterImports),
    ("rule_sets", "rule_sets", Operation::ReadRuleSet),
    ("screening_events", "screenings", Operation::ReadScreening),
    ("screening_verdicts", "screenings", Operation::ReadScreening),
    ("screenings", "screenings", Operation::ReadScreening),
    ("sites", "sites", Operation::ReadCurrentSite),
    ("squeeze_weighings", "squeeze_weighings", Operation::ListSqueezeWeighings),
    ("stations", "stations", Operation::ListStations),
    ("stop_releases", "stop_releases", Operation::ListLots),
    ("stops", "stops", Operation::ListLots),
    ("twin_notice_reviews", "twin_notice_reviews", Operation::ListTwinNotices),
    ("twin_notices", "twin_notices", Operation::ListTwinNotices),
    ("users", "users", Operation::ListUsers),
    ("visit_answers", "visit_answers", Operation::ReadVisit),
    ("visit_returns", "visit_returns", Operation::ReadVisit),
    ("visits", "visits", Operation::ReadVisit),
    ("walking_times", "walking_times", Operation::ListWalkingTimes),
];

/// What the stream calls a row of this table, for a caller with these roles; nothing when they may not hear of it.
///
/// Nobody hears of what they could not read: the roles are those of the operation that reads the noun. Whoever may not
/// open a stream at all hears nothing.
pub fn noun(table: &str, roles: &[Role]) -> Option<&'static str> {
    let (_, noun, reads) = NOUNS.iter().find(|(named, _, _)| *named == table)?;
    (allowed(Operation::ReadStream, roles) && allowed(*reads, roles)).then_some(*noun)
}

/// Every table that somebody hears of.
pub fn tables() -> impl Iterator<Item = &'static str> {
    NOUNS.iter().map(|(table, _, _)| *table)
}
