//! Measured fit factors over HTTP: from the referral to the clearance, with records, recordings and files of readings.

use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::id_of,
    measure::{MODIFIED, MeasuringRoom, STARTED, later},
    taste::{Script, events_path},
};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use uuid::Uuid;

/// Somebody at the instrument, on a filtering facepiece.
struct Case<'h> {
    hospital: &'h Hospital,
    room: MeasuringRoom<'h>,
    person: Uuid,
    visit: Value,
    respirator: Uuid,
    at: chrono::DateTime<chrono::Utc>,
}

fn case(hospital: &Hospital) -> Case<'_> {
    let at = hospital.ago(3000);
    let room = hospital.measuring_room();
    let person = id_of(&hospital.permitted_person("0047"));
    let visit = room.called(person, at);
    let respirator = id_of(&hospital.respirator("M"));
    Case { hospital, room, person, visit, respirator, at }
}

impl Case<'_> {
    fn refused(&self, change: impl FnOnce(&mut Value), code: &str) -> Value {
        let mut body =
            self.room.attempt(&self.visit, self.respirator, "modified_ambient_aerosol_filtering", self.at);
        change(&mut body);
        self.room.tester.post("/api/v1/attempts", &body).refused(422, code)
    }

    fn state(&self) -> Value {
        let coordinator = self.hospital.signed_in(Role::Coordinator);
        let found = coordinator.get(&format!("/api/v1/people/{}/clearances", self.person)).ok(200);
        found["items"][0]["state"].clone()
    }
}

/// 29 CFR 1910.134 App. A Table A-2 and (f)(7); row 10.6: 120, 80, 150, 100 give 106.666.
#[test]
fn a_measured_pass_clears_and_its_record_has_the_five_items() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let ended = case.room.measures(&case.visit, case.respirator, ["120", "80", "150", "100"], case.at);
    assert_eq!(ended["state"]["verdict"]["outcome"], "pass", "{ended}");
    assert_eq!(ended["state"]["fit"]["overall"], "106.666");
    assert_eq!(ended["next_step"]["step"], "done");
    assert_eq!(case.state(), "cleared");

    // 29 CFR 1910.134(m)(2)(i)(A)-(E).
    let auditor = hospital.signed_in(Role::Auditor);
    let path = format!("/api/v1/attempts/{}", id_of(&ended));
    let record = auditor.get(&format!("{path}/record")).ok(200);
    assert_eq!(record["person"]["staff_number"], "0047");
    assert_eq!(record["type_of_test"], "modified_ambient_aerosol_filtering");
    assert_eq!(
        record["respirator"],
        json!({ "make": "Tarn & Vale", "model": "Linnet 2", "style": "folded", "size": "M" })
    );
    assert_eq!(record["date"], ended["tested_on"]);
    let result = &record["result"];
    assert_eq!((&result["outcome"], &result["fit_factor"]), (&json!("pass"), &json!("106.666")));
    assert_eq!((&result["pass_level"], &result["recordings"]), (&json!(100), &json!([])));
    assert_eq!(result["recording_missing"], true);
    let listed = auditor.get(&format!("/api/v1/attempts?person_id={}", case.person)).ok(200);
    assert_eq!(listed["items"][0]["verdict"]["fit_factor"], "106.666");
}

/// A fail by measuring ends an older pass; the same respirator may be refitted (App. A I.C.2(b)(7)).
#[test]
fn a_fit_factor_below_the_level_is_a_fail_and_may_be_refitted() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let failed = case.room.measures(&case.visit, case.respirator, ["100", "100", "100", "99.9"], case.at);
    let verdict = &failed["state"]["verdict"];
    assert_eq!((&verdict["outcome"], &verdict["reason"]), (&json!("fail"), &json!("fit_factor_too_low")));
    assert_eq!(failed["next_step"]["step"], "measure");
    assert_eq!(failed["next_step"]["excluded_respirators"], json!([]));
    assert_eq!(case.state(), "not_cleared");
    let again = later(case.at, 600);
    let passed = case.room.measures(&case.visit, case.respirator, ["100"; 4], again);
    assert_eq!(passed["state"]["verdict"]["outcome"], "pass", "the level itself passes");
    assert_eq!(case.state(), "cleared");
}

#[test]
fn the_method_has_to_suit_the_respirator() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    for method in ["controlled_negative_pressure", "modified_ambient_aerosol_elastomeric"] {
        let problem = case.refused(|body| body["method"] = json!(method), "test_method_not_allowed");
        assert!(problem["source"].as_str().unwrap().contains("App. A I.C."), "{problem}");
    }
    let problem = case.refused(|body| body["method"] = json!("generated_aerosol"), "filter_not_suitable");
    assert_eq!(problem["field"], "fitted_filter");
    case.refused(|body| body["fitted_filter"] = json!("P100"), "filter_not_suitable");
    case.refused(|body| body["method"] = json!("saccharin"), "new_screening_required");
    case.refused(|body| body["instrument"] = Value::Null, "invalid_value");
    case.refused(|body| body["method"] = Value::Null, "invalid_value");
    case.refused(|body| body["screening_id"] = json!(Uuid::now_v7()), "invalid_value");
    let coordinator = hospital.signed_in(Role::Coordinator);
    let powered = json!({
        "id": Uuid::now_v7(), "make": "Tarn & Vale", "model": "Kestrel", "size": "one size",
        "facepiece": "full_facepiece", "filter_class": "HEPA", "air_supply": "powered",
    });
    let powered = coordinator.post("/api/v1/respirators", &powered).ok(201);
    assert_eq!(powered["protection_factor"], 1000, "29 CFR 1910.134(d)(3)(i)(A) Table 1");
    let by = |body: &mut Value| {
        body["respirator_id"] = powered["id"].clone();
        body["method"] = json!("ambient_aerosol");
    };
    let problem = case.refused(by, "negative_pressure_mode_required");
    assert_eq!(problem["source"], "29 CFR 1910.134(f)(8)");
    let mut body = case.room.attempt(&case.visit, id_of(&powered), "ambient_aerosol", case.at);
    body["negative_pressure_mode"] = json!(true);
    let opened = case.room.tester.post("/api/v1/attempts", &body).ok(201);
    assert_eq!(opened["plan"]["measuring"]["pass_level"], 500);
    assert_eq!(case.room.tester.post("/api/v1/attempts", &body).ok(201), opened, "a repeat");
}

#[test]
fn only_a_station_that_measures_measures_and_only_who_was_called() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let taste = hospital.station(&case.room.day, "Room 1", &["screening", "testing"]);
    case.refused(|body| body["station_id"] = taste["id"].clone(), "invalid_value");
    let other = hospital.check_in(
        &hospital.signed_in(Role::CheckIn),
        &case.room.day,
        id_of(&hospital.permitted_person("0048")),
        case.at,
    );
    case.refused(|body| body["visit_id"] = other["id"].clone(), "visit_not_open");
}

/// Where no station of the day measures, a referral still ends the visit.
#[test]
fn without_an_instrument_a_referral_ends_the_visit() {
    let hospital = Hospital::open();
    let at = hospital.ago(3000);
    let room = hospital.room(at);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), at);
    let referral =
        json!({ "id": Uuid::now_v7(), "visit_id": id_of(&visit), "reason": "disputed", "happened_at": at });
    room.tester.post("/api/v1/referrals", &referral).ok(201);
    let read = room.tester.get(&format!("/api/v1/visits/{}", id_of(&visit))).ok(200);
    assert_eq!(read["step"], "referred");
}

#[test]
fn implausible_peaks_and_order_are_refused_over_http() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let attempt = case.room.opened(&case.visit, case.respirator, case.at);
    let path = events_path(&attempt);
    let start = Script::from(case.at).worn().then(STARTED, json!({ "kind": "measuring_started" }));
    let read = |exercise: u8, factor: &str| json!({ "kind": "measured", "exercise": exercise, "reading": { "basis": "fit_factor", "fit_factor": factor } });
    let with = |second, event| start.clone().then(STARTED + second, event).events(3);
    case.room.tester.post(&path, &with(50, read(2, "120"))).refused(422, "exercise_out_of_order");
    case.room.tester.post(&path, &with(49, read(1, "120"))).refused(422, "exercise_too_short");
    case.room.tester.post(&path, &with(50, read(1, "0.4"))).refused(422, "implausible_value");
    case.room.tester.post(&path, &with(50, json!({ "kind": "tasted" }))).refused(422, "event_not_now");
    let mut again = read(1, "120");
    again["typed_first"] = json!({ "basis": "fit_factor", "fit_factor": "0.4" });
    let kept = case.room.tester.post(&path, &with(50, again)).ok(200);
    assert_eq!(kept["events"][3]["typed_first"]["fit_factor"], "0.4");
    assert_eq!(kept["events"][3]["reading"]["fit_factor"], "120");
    assert_eq!(kept["state"]["next_measurement"]["exercise"], 2);
}

/// 29 CFR 1910.134(m)(2)(i)(E): the strip chart or other recording, byte for byte.
#[test]
fn recordings_are_kept_byte_for_byte_with_their_hash() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let ended = case.room.measures(&case.visit, case.respirator, ["200"; 4], case.at);
    let path = format!("/api/v1/attempts/{}/recordings", id_of(&ended));
    let bytes: Vec<u8> = (0..=255).cycle().take(5000).collect();
    let id = Uuid::now_v7();
    let at = later(case.at, 500).format("%Y-%m-%dT%H:%M:%SZ");
    let query = format!("{path}?id={id}&name=chart.bin&happened_at={at}");
    let send = |query: &str, bytes: &[u8]| {
        case.room.tester.send("POST", query, &[("content-type", "application/octet-stream")], Some(bytes))
    };
    let kept = send(&query, &bytes).ok(201);
    let digest: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(kept["sha256"], digest);
    assert_eq!(send(&query, &bytes).ok(201), kept, "a repeat");
    send(&query, b"other").refused(409, "id_reused");
    let fresh = format!("{path}?id={}&name=chart.bin&happened_at={at}", Uuid::now_v7());
    send(&fresh, b"").refused(422, "invalid_value");
    send(&fresh, &vec![7; 5 * 1024 * 1024 + 1]).refused(413, "body_too_large");
    let read = hospital.signed_in(Role::Auditor).get(&format!("{path}/{id}"));
    assert_eq!((read.status, read.header("content-disposition")), (200, Some("attachment")));
    assert_eq!(read.body, bytes);
    let record = case.room.tester.get(&format!("/api/v1/attempts/{}/record", id_of(&ended))).ok(200);
    assert_eq!(record["result"]["recordings"][0]["sha256"], digest);
    assert_eq!(record["result"]["recording_missing"], false);
    let stranger = hospital.signed_in_at(hospital.another_site("Sallowmere"), &[Role::Auditor]);
    stranger.get(&format!("{path}/{id}")).refused(404, "not_found");
    stranger.get(&format!("/api/v1/attempts/{}/record", id_of(&ended))).refused(404, "not_found");
}

#[test]
fn a_taste_test_has_a_record_and_no_recording() {
    let hospital = Hospital::open();
    let person = id_of(&hospital.permitted_person("0047"));
    let ended = hospital.passes(person, id_of(&hospital.respirator("M")));
    let tester = hospital.signed_in(Role::Tester);
    let path = format!("/api/v1/attempts/{}", id_of(&ended));
    let record = tester.get(&format!("{path}/record")).ok(200);
    assert_eq!(
        (&record["type_of_test"], &record["result"]["outcome"]),
        (&json!("saccharin"), &json!("pass"))
    );
    assert!(record["result"]["fit_factor"].is_null());
    let query = format!("{path}/recordings?id={}&name=a&happened_at=2026-01-01T00:00:00Z", Uuid::now_v7());
    tester.send("POST", &query, &[("content-type", "text/plain")], Some(b"x")).refused(422, "invalid_value");
}

#[test]
fn an_open_attempt_has_no_record_yet() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let attempt = case.room.opened(&case.visit, case.respirator, case.at);
    case.room
        .tester
        .get(&format!("/api/v1/attempts/{}/record", id_of(&attempt)))
        .refused(422, "attempt_open");
}

fn mapping(hospital: &Hospital) -> Uuid {
    let mapping = json!({
        "decimal_mark": "comma", "delimiter": "semicolon",
        "layout": {
            "rows": "row_per_exercise", "exercise": { "by": "column", "column": "ex" },
            "columns": { "basis": "fit_factor", "fit_factor": "ff" },
        },
    });
    let body = json!({ "id": Uuid::now_v7(), "name": "Counter 2", "mapping": mapping, "happened_at": hospital.ago(9000) });
    let tester = hospital.signed_in(Role::Tester);
    let stored = tester.post("/api/v1/reading_mappings", &body).ok(201);
    assert_eq!(tester.post("/api/v1/reading_mappings", &body).ok(201), stored, "a repeat");
    assert_eq!(tester.get("/api/v1/reading_mappings").ok(200)["items"], json!([stored]));
    let mut broken = body.clone();
    (broken["id"], broken["mapping"]["header_line"]) = (json!(Uuid::now_v7()), json!(0));
    tester.post("/api/v1/reading_mappings", &broken).refused(422, "invalid_value");
    id_of(&stored)
}

#[test]
fn a_file_of_readings_is_previewed_taken_and_kept() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let mapping = mapping(&hospital);
    let attempt = case.room.opened(&case.visit, case.respirator, case.at);
    let began = later(case.at, STARTED).format("%Y-%m-%dT%H:%M:%SZ");
    let id = Uuid::now_v7();
    let path = format!("/api/v1/attempts/{}/reading_files", id_of(&attempt));
    let query = format!("?id={id}&mapping_id={mapping}&began_at={began}");
    let csv = |path: &str, file: &str| {
        case.room.tester.send("POST", path, &[("content-type", "text/csv")], Some(file.as_bytes()))
    };
    let good = "ex;ff\n1;120,5\n2;80\n3;150\n4;100\n";
    let preview = csv(&format!("{path}/previews{query}"), good).ok(200);
    assert_eq!(preview["events"].as_array().unwrap().len(), 6);
    assert_eq!(preview["fit"]["exercises"][0]["fit_factor"], "120.5");
    let before = case.room.tester.get(&format!("/api/v1/attempts/{}", id_of(&attempt))).ok(200);
    assert_eq!(before["events"].as_array().unwrap().len(), 2, "a preview stores nothing");

    let problem =
        csv(&format!("{path}{query}"), "ex;ff\n1;abc\n2;80\n9;150\n").refused(422, "reading_file_invalid");
    assert!(problem["problems"].as_array().is_some_and(|problems| problems[0]["line"] == 2), "{problem}");
    let problem =
        csv(&format!("{path}{query}"), "ex;ff\n2;80\n1;120\n").refused(422, "exercise_out_of_order");
    assert_eq!(problem["line"], 2);
    csv(&format!("{path}{query}"), "ex;ff\n1;0,5\n2;80\n3;150\n4;100\n").refused(422, "implausible_value");
    let late =
        format!("?id={id}&mapping_id={mapping}&began_at={}", hospital.now().format("%Y-%m-%dT%H:%M:%SZ"));
    csv(&format!("{path}{late}"), good).refused(422, "happened_in_future");

    let taken = csv(&format!("{path}{query}"), good).ok(201);
    assert_eq!(taken["state"]["phase"], "closing");
    assert_eq!(
        csv(&format!("{path}{query}"), good).ok(201)["events"],
        taken["events"],
        "a repeat changes nothing"
    );
    let kept = case.room.tester.get(&format!("/api/v1/attempts/{}/recordings/{id}", id_of(&attempt)));
    assert_eq!(kept.text(), good);
    let closing = Script::from(case.at).worn().measured(["120.5", "80", "150", "100"]).after_measuring();
    let ended = case.room.tester.post(&events_path(&attempt), &closing.events(9)).ok(200);
    assert_eq!(ended["state"]["verdict"]["outcome"], "pass");
    assert_eq!(ended["state"]["verdict"]["second"], MODIFIED + 25);
}

/// On a day without a station that screens, everybody is measured, without any referral.
#[test]
fn a_day_that_only_measures_measures_everybody() {
    let hospital = Hospital::open();
    let at = hospital.ago(3000);
    let room = hospital.measuring_room();
    let person = id_of(&hospital.permitted_person("0047"));
    let visit = hospital.check_in(&hospital.signed_in(Role::CheckIn), &room.day, person, at);
    assert_eq!(visit["step"], "measuring");
    let call = json!({ "id": Uuid::now_v7(), "step": "measuring", "happened_at": at });
    let called = room.tester.post(&format!("/api/v1/stations/{}/calls", id_of(&room.station)), &call).ok(201);
    assert_eq!(called["next_step"]["step"], "measure");
    let ended = room.measures(&visit, id_of(&hospital.respirator("M")), ["200"; 4], at);
    assert_eq!(ended["next_step"]["step"], "done");
}
