//! Who hears of what: nobody of anything that they could not read, and nobody of a table that nobody has named.

use sellion_rules::{
    roles::Role,
    stream::{noun, tables},
};

fn heard_by(role: Role) -> Vec<&'static str> {
    let mut nouns: Vec<_> = tables().filter_map(|table| noun(table, &[role])).collect();
    nouns.sort_unstable();
    nouns.dedup();
    nouns
}

#[test]
fn the_storekeeper_hears_of_supplies_and_of_no_person_and_no_result() {
    let expected = [
        "bottle_movements",
        "bottle_openings",
        "bottles",
        "days",
        "equipment",
        "equipment_checks",
        "fill_emptyings",
        "fill_gaps",
        "fills",
        "lot_stops",
        "lots",
        "piece_movements",
        "placements",
        "places",
        "respirators",
        "rule_sets",
        "sites",
        "squeeze_weighings",
        "stations",
        "stop_releases",
        "stops",
    ];
    assert_eq!(heard_by(Role::Storekeeper), expected);
}

#[test]
fn a_gate_hears_nothing() {
    assert!(heard_by(Role::Gate).is_empty());
    // What a gate may read is no news for it either: it opens no stream.
    assert_eq!(noun("gate_policies", &[Role::Gate]), None);
    assert_eq!(noun("gate_policies", &[Role::Gate, Role::Coordinator]), Some("gate_policies"));
}

#[test]
fn a_table_that_nobody_has_named_is_silent_for_everybody() {
    for table in ["sessions", "signing_keys", "scans", "sign_in_failures", "a_new_table", "", "Lots"] {
        assert_eq!(noun(table, Role::ALL), None, "{table}");
    }
}

#[test]
fn without_a_role_nothing_is_heard() {
    assert!(tables().all(|table| noun(table, &[]).is_none()));
}

#[test]
fn results_are_for_those_who_may_read_them() {
    for table in ["attempts", "attempt_events", "attempt_verdicts", "screenings", "screening_verdicts"] {
        let heard: Vec<Role> =
            Role::ALL.iter().copied().filter(|role| noun(table, &[*role]).is_some()).collect();
        assert_eq!(heard, [Role::Coordinator, Role::Tester, Role::Auditor], "{table}");
    }
    let of_permissions = Role::ALL.iter().filter(|role| noun("permissions", &[**role]).is_some());
    assert_eq!(
        of_permissions.copied().collect::<Vec<_>>(),
        [Role::Coordinator, Role::Clinician, Role::Auditor]
    );
    let of_admin = heard_by(Role::Admin);
    let results = ["attempt", "screening", "permission", "referral", "visit", "people", "badge"];
    assert!(!of_admin.iter().any(|noun| results.iter().any(|word| noun.contains(word))), "{of_admin:?}");
}

#[test]
fn every_table_is_named_once_and_somebody_hears_of_it() {
    let named: Vec<_> = tables().collect();
    let mut sorted = named.clone();
    sorted.sort_unstable();
    sorted.dedup();
    assert_eq!(named, sorted, "in order and each once");
    assert!(named.iter().all(|table| noun(table, &[Role::Coordinator]).is_some() || noun(table, &[Role::Admin]).is_some()));
}
