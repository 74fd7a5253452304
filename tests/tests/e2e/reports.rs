//! Reports: shares with their uncertainty, small groups kept together, the flow of a day.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::id_of,
    taste::{Ending, Room},
};
use serde_json::{Value, json};
use uuid::Uuid;

/// Lets these people be tested on the respirator, one after another; the last `fails` of them fail. Whoever fails is ready
/// again only after the next one has come.
fn tested(hospital: &Hospital, room: &Room<'_>, respirator: Uuid, people: std::ops::Range<u32>, fails: u32) {
    for number in people.clone() {
        let person = id_of(&hospital.permitted_person(&format!("{number:02}")));
        let at = hospital.ago(20_000 - 900 * i64::from(number));
        let visit = room.check_in(person, at);
        let screening = room.screens(&visit, Some(10), at);
        let ending = if number + fails >= people.end { Ending::Fail } else { Ending::Pass };
        let _ = room.tests(&visit, respirator, &screening, ending, at + TimeDelta::seconds(120));
    }
}

fn of(report: &Value, respirator: Uuid) -> &Value {
    let rows = report["passes"].as_array().unwrap();
    rows.iter().find(|row| row["respirator_id"] == json!(respirator)).unwrap()
}

fn near(value: &Value, expected: f64) {
    let value = value.as_f64().unwrap();
    assert!((value - expected).abs() < 5e-5, "{value} is not {expected}");
}

/// 3 of 5: Wilson's limits by the expressions of the NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1, worked
/// out by hand with z = 1.959964: 0.2307 and 0.8824. Newcombe's published values are checked where the interval is made.
#[test]
fn shares_come_with_their_range_and_small_groups_without() {
    let hospital = Hospital::open();
    let (enough, few) = (id_of(&hospital.respirator("M")), id_of(&hospital.respirator("L")));
    let room = hospital.room(hospital.ago(20_100));
    tested(&hospital, &room, few, 0..3, 0);
    tested(&hospital, &room, enough, 3..8, 2);
    let auditor = hospital.signed_in(Role::Auditor);
    let report = auditor.get("/api/v1/reports").ok(200);
    let row = of(&report, enough);
    assert_eq!((&row["people"], &row["voids"], &row["stops"]), (&json!(5), &json!(0), &json!(0)), "{row}");
    assert_eq!((&row["passes"]["count"], &row["passes"]["of"]), (&json!(3), &json!(5)));
    near(&row["passes"]["share"], 0.6);
    near(&row["passes"]["low"], 0.23072);
    near(&row["passes"]["high"], 0.88238);
    let hidden = of(&report, few);
    assert_eq!(
        (hidden.get("people"), hidden.get("passes"), hidden.get("voids")),
        (None, None, None),
        "{hidden}"
    );
    assert_eq!(report["all_passes"], row["passes"], "the sum would tell what is not shown");
    assert_eq!(of(&auditor.get("/api/v1/reports?smallest_group=6").ok(200), enough).get("people"), None);

    let levels = &report["levels"][0];
    assert_eq!((&levels["people"], &levels["level_10"]["count"]), (&json!(8), &json!(8)), "{levels}");
    assert!(report.get("flow").is_none());
    let of_day = auditor.get(&format!("/api/v1/reports?day_id={}", id_of(&room.day))).ok(200);
    let flow = of_day["flow"].as_array().unwrap();
    let sum = |member: &str| flow.iter().map(|half| half[member].as_u64().unwrap()).sum::<u64>();
    assert_eq!((sum("arrivals"), sum("tests"), sum("passes")), (8, 8, 6), "{flow:?}");
    let next =
        |half: &Value| half["from"].as_str().unwrap().parse::<chrono::DateTime<chrono::Utc>>().unwrap();
    assert!(flow.windows(2).all(|two| next(&two[1]) - next(&two[0]) == TimeDelta::minutes(30)), "no gaps");
}

#[test]
fn what_was_corrected_and_what_lies_outside_counts_nowhere() {
    let hospital = Hospital::open();
    let (person, respirator) = (id_of(&hospital.permitted_person("01")), id_of(&hospital.respirator("M")));
    let attempt = hospital.passes(person, respirator);
    let coordinator = hospital.signed_in(Role::Coordinator);
    let count = || {
        let report = coordinator.get("/api/v1/reports").ok(200);
        report["passes"].as_array().unwrap().len()
    };
    assert_eq!(count(), 1);
    let old = coordinator.get("/api/v1/reports?from=2001-01-01&until=2001-12-31").ok(200);
    assert_eq!((&old["passes"], &old["levels"]), (&json!([]), &json!([])));
    let correction =
        json!({ "id": Uuid::now_v7(), "reason": "Another person sat there.", "happened_at": hospital.now() });
    coordinator.post(&format!("/api/v1/attempts/{}/corrections", id_of(&attempt)), &correction).ok(201);
    assert_eq!(count(), 0);
}

#[test]
fn a_report_that_cannot_be_is_refused() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    for (query, field) in [
        ("from=2026-02-02&until=2026-02-01", "from"),
        ("until=0026-02-01", "until"),
        ("smallest_group=4", "smallest_group"),
        ("smallest_group=1001", "smallest_group"),
    ] {
        let problem = coordinator.get(&format!("/api/v1/reports?{query}")).refused(422, "invalid_value");
        assert_eq!(problem["field"], field);
    }
    let day = hospital.day();
    let stranger = hospital.signed_in_at(hospital.another_site("Heronwick"), &[Role::Coordinator]);
    stranger.get(&format!("/api/v1/reports?day_id={}", id_of(&day))).refused(404, "not_found");
}
