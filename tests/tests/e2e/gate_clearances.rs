//! Who was cleared at a gate at a moment: under the policy in force then, as known then and as known now.

use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_tests::harness::{Client, Hospital, day::id_of, taste::Ending};
use serde_json::Value;
use uuid::Uuid;

fn moment(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Micros, true)
}

/// The people that the gate's answer names.
fn people(auditor: &Client, gate: Uuid, query: &str) -> Vec<Uuid> {
    let answer = auditor.get(&format!("/api/v1/gates/{gate}/clearances{query}")).ok(200);
    let person = |item: &Value| item["person_id"].as_str().unwrap().parse().unwrap();
    answer["items"].as_array().unwrap().iter().map(person).collect()
}

#[test]
fn only_passes_on_what_the_gate_accepts_count_and_only_while_they_do() {
    let hospital = Hospital::open();
    let (accepted, other) = (id_of(&hospital.respirator("M")), id_of(&hospital.respirator("L")));
    let persons: Vec<Uuid> =
        (0..3).map(|number| id_of(&hospital.permitted_person(&format!("004{number}")))).collect();
    let gate = hospital.gate_accepting("East door", &[accepted]);
    let auditor = hospital.signed_in(Role::Auditor);
    assert!(people(&auditor, gate, "").is_empty());
    let _ = hospital.passes(persons[0], accepted);
    let _ = hospital.passes(persons[1], other);
    let _ = hospital.tests(persons[2], accepted, Ending::Fail, hospital.ago(1200));
    assert_eq!(people(&auditor, gate, ""), [persons[0]]);
    assert!(
        people(&auditor, gate, &format!("?at={}", moment(hospital.ago(3600)))).is_empty(),
        "no policy yet"
    );
    hospital
        .signed_in(Role::Tester)
        .get(&format!("/api/v1/gates/{gate}/clearances"))
        .refused(403, "wrong_role");
}

#[test]
fn what_was_known_at_the_time_stays_answerable() {
    let hospital = Hospital::open();
    let respirator = id_of(&hospital.respirator("M"));
    let person = id_of(&hospital.permitted_person("0047"));
    let gate = hospital.gate_accepting("East door", &[respirator]);
    let auditor = hospital.signed_in(Role::Auditor);
    let _ = hospital.passes(person, respirator);
    let evening = hospital.now();
    hospital.clock.shift(TimeDelta::hours(2));
    // A fail in between that is entered late.
    let _ = hospital.tests(person, respirator, Ending::Fail, evening + TimeDelta::minutes(1));
    let later = evening + TimeDelta::hours(1);
    assert_eq!(people(&auditor, gate, &format!("?at={0}&known_at={0}", moment(later))), [person]);
    assert!(people(&auditor, gate, &format!("?at={}", moment(later))).is_empty(), "as known now");
}

#[test]
fn a_long_list_comes_in_pages() {
    let hospital = Hospital::open();
    let respirator = id_of(&hospital.respirator("M"));
    let gate = hospital.gate_accepting("East door", &[respirator]);
    let auditor = hospital.signed_in(Role::Auditor);
    let mut persons: Vec<Uuid> = (0..3)
        .map(|number| {
            let person = id_of(&hospital.permitted_person(&format!("004{number}")));
            let _ = hospital.passes(person, respirator);
            person
        })
        .collect();
    persons.sort_unstable();
    let first = auditor.get(&format!("/api/v1/gates/{gate}/clearances?limit=2")).ok(200);
    let cursor = first["next"].as_str().unwrap();
    assert_eq!(first["items"].as_array().unwrap().len(), 2);
    assert_eq!(people(&auditor, gate, &format!("?limit=2&cursor={cursor}")), [persons[2]]);
}
