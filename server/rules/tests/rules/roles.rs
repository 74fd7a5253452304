//! The matrix of operations and roles, against what each role must never do.

use std::collections::BTreeSet;

use sellion_rules::roles::{MATRIX, Op, Operation, PUBLIC_OPERATIONS, Role, allowed, matrix_as_text, op};

fn of(role: Role) -> BTreeSet<&'static str> {
    let held = MATRIX.iter().filter(|(operation, _)| allowed(*operation, &[role]));
    held.map(|(operation, _)| operation.as_str()).collect()
}

fn writes(operation: &str) -> bool {
    !["list_", "read_", "delete_current_session"].iter().any(|start| operation.starts_with(start))
}

#[test]
fn every_operation_stands_in_the_matrix_once_and_somebody_may_do_it() {
    assert_eq!(MATRIX.iter().map(|(operation, _)| *operation).collect::<Vec<_>>(), Operation::ALL);
    for (operation, roles) in MATRIX {
        assert_eq!(*roles, operation.roles());
        assert!(!roles.is_empty(), "{operation}");
        assert_eq!(roles.len(), roles.iter().collect::<BTreeSet<_>>().len(), "{operation}");
        assert!(!PUBLIC_OPERATIONS.contains(&operation.as_str()), "{operation}");
    }
}

#[test]
fn nobody_may_do_anything_without_a_role() {
    assert!(Operation::ALL.iter().all(|operation| !allowed(*operation, &[])));
    assert!(allowed(Operation::CreateAttempt, &[Role::Gate, Role::Tester]), "any one role is enough");
}

#[test]
fn everybody_may_see_and_end_their_own_session() {
    for role in Role::ALL {
        assert!(
            allowed(Operation::ReadCurrentSession, &[*role])
                && allowed(Operation::DeleteCurrentSession, &[*role])
        );
    }
}

#[test]
fn a_gate_scans_and_nothing_else() {
    let expected = [
        "create_badge_find",
        "create_lead_entry",
        "create_scan",
        "delete_current_session",
        "list_gate_policies",
        "read_current_session",
        "read_gate_pack",
    ];
    assert_eq!(of(Role::Gate), BTreeSet::from(expected));
}

#[test]
fn the_lead_of_the_guards_sees_numbers_and_no_person() {
    let expected = [
        "delete_current_session",
        "list_gate_policies",
        "list_gates",
        "read_current_session",
        "read_gate_figures",
        "read_gate_outlook_counts",
        "read_stream",
    ];
    assert_eq!(of(Role::GateLead), BTreeSet::from(expected));
}

#[test]
fn the_storekeeper_sees_no_person_and_no_result() {
    let personal = [
        "person",
        "people",
        "permission",
        "visit",
        "queue",
        "screening",
        "attempt",
        "referral",
        "clearance",
        "badge",
        "scan",
        "roster",
        "audit",
        "user",
    ];
    for operation in of(Role::Storekeeper) {
        assert!(!personal.iter().any(|word| operation.contains(word)), "{operation}");
    }
}

#[test]
fn the_auditor_writes_nothing() {
    assert!(of(Role::Auditor).iter().all(|operation| !writes(operation)));
}

#[test]
fn only_the_clinician_writes_permissions_and_writes_nothing_else() {
    assert_eq!(Operation::CreatePermission.roles(), [Role::Clinician]);
    let written: Vec<_> = of(Role::Clinician).into_iter().filter(|operation| writes(operation)).collect();
    assert_eq!(written, ["create_permission"]);
}

#[test]
fn only_testers_run_and_sign() {
    let runs = [
        Operation::CreateScreening,
        Operation::AppendScreeningEvents,
        Operation::CreateAttempt,
        Operation::AppendAttemptEvents,
    ];
    assert!(runs.iter().all(|operation| operation.roles() == [Role::Tester]));
}

#[test]
fn the_admin_sees_no_result() {
    for operation in of(Role::Admin) {
        let results =
            ["attempt", "screening", "clearance", "permission", "referral", "scan", "visit", "person"];
        assert!(!results.iter().any(|word| operation.contains(word)), "{operation}");
    }
}

#[test]
fn marker_types_stand_for_their_operations() {
    assert_eq!(op::CreateAttempt::OPERATION, Operation::CreateAttempt);
    assert_eq!(op::ReadCurrentSession::OPERATION.as_str(), "read_current_session");
}

#[test]
fn the_matrix_as_text_has_a_line_for_each_operation_and_a_mark_for_each_role() {
    let text = matrix_as_text();
    let mut lines = text.lines();
    let head: Vec<_> = lines.next().expect("a head").split_whitespace().collect();
    assert_eq!(head[1..], Role::ALL.iter().map(|role| role.as_str()).collect::<Vec<_>>());
    for (line, (operation, roles)) in lines.by_ref().zip(MATRIX) {
        let cells: Vec<_> = line.split_whitespace().collect();
        assert_eq!((cells[0], cells.len()), (operation.as_str(), Role::ALL.len() + 1));
        for (cell, role) in cells[1..].iter().zip(Role::ALL) {
            assert_eq!(*cell == "yes", roles.contains(role), "{operation} {role}");
        }
    }
    assert_eq!(text.lines().count(), MATRIX.len() + 1);
}
