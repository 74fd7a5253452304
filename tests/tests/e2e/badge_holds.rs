//! Holds of badges: a held badge opens no gate, until every hold of it is released.

use sellion_rules::roles::Role;
use sellion_store::audit;
use sellion_tests::harness::{Client, Hospital};
use serde_json::{Value, json};
use uuid::Uuid;

/// A hospital with one person, whose badge opens one gate.
struct Ward {
    hospital: Hospital,
    gatekeeper: Client,
    desk: Client,
    person: Uuid,
    gate: Uuid,
    badge: Value,
}

impl Ward {
    fn open() -> Self {
        let hospital = Hospital::open();
        let (gatekeeper, desk) = (hospital.signed_in(Role::Gate), hospital.signed_in(Role::BadgeDesk));
        let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
        hospital.db_clear(person, respirator);
        let gate = hospital.gate_accepting("North entrance", &[respirator]);
        let badge = hospital.badge(&desk, person);
        Self { hospital, gatekeeper, desk, person, gate, badge }
    }

    fn body(&self, reason: &str) -> Value {
        json!({ "id": Uuid::now_v7(), "reason": reason, "happened_at": self.hospital.now() })
    }

    fn holds_path(&self) -> String {
        format!("/api/v1/badges/{}/holds", self.badge["id"].as_str().unwrap())
    }

    /// Holds the badge and returns the hold.
    fn hold(&self, reason: &str) -> Value {
        let body = self.body(reason);
        assert_eq!(self.desk.post(&self.holds_path(), &body).ok(201)["status"], "held");
        body
    }

    fn release(&self, hold: &Value, reason: &str) -> Value {
        self.desk.post(&releases_path(hold), &self.body(reason)).ok(201)
    }

    #[track_caller]
    fn gate_says(&self, answer: &str) {
        let code = self.badge["code"].as_str().unwrap();
        assert_eq!(self.hospital.scan(&self.gatekeeper, self.gate, code)["answer"], answer);
    }
}

fn releases_path(hold: &Value) -> String {
    format!("/api/v1/badge_holds/{}/releases", hold["id"].as_str().unwrap())
}

#[test]
fn a_held_badge_cannot_be_confirmed_until_its_last_hold_is_released() {
    let ward = Ward::open();
    ward.gate_says("enter");
    let (lost, changed) = (ward.hold("lost_reported"), ward.hold("change_since_printing"));
    ward.gate_says("cannot_confirm");
    let typed = json!({
        "id": Uuid::now_v7(), "serial": ward.badge["serial"], "happened_at": ward.hospital.now(),
    });
    let answer = ward.gatekeeper.post(&format!("/api/v1/gates/{}/scans", ward.gate), &typed).ok(201);
    assert_eq!(answer["answer"], "cannot_confirm", "nor by its serial");

    let seen = ward.release(&lost, "back_with_person");
    assert_eq!(seen["status"], "held", "one hold is left");
    assert_eq!(seen["holds"][0]["id"], changed["id"]);
    assert_eq!(seen["holds"][0]["reason"], "change_since_printing");
    ward.gate_says("cannot_confirm");
    let seen = ward.release(&changed, "checked");
    assert_eq!((&seen["status"], &seen["holds"]), (&json!("valid"), &json!([])));
    ward.gate_says("enter");

    let auditor = ward.hospital.signed_in(Role::Auditor);
    let scans = auditor.get(&format!("/api/v1/gates/{}/scans", ward.gate)).ok(200);
    let reasons: Vec<&Value> =
        scans["items"].as_array().unwrap().iter().map(|scan| &scan["reason"]).collect();
    assert_eq!(reasons, ["ok", "badge_held", "badge_held", "badge_held", "ok"]);
    let report = audit::verify(&mut ward.hospital.db(), ward.hospital.site_id, |_, _| {}).unwrap();
    assert!(report.broken.is_none(), "{report:?}");
}

#[test]
fn a_hold_and_its_release_can_be_sent_again() {
    let ward = Ward::open();
    let body = ward.body("lost_reported");
    let first = ward.desk.post(&ward.holds_path(), &body).ok(201);
    assert_eq!(ward.desk.post(&ward.holds_path(), &body).ok(201), first);
    let mut other = body.clone();
    other["reason"] = json!("other");
    ward.desk.post(&ward.holds_path(), &other).refused(409, "id_reused");

    let release = ward.body("mistake");
    let freed = ward.desk.post(&releases_path(&body), &release).ok(201);
    assert_eq!(ward.desk.post(&releases_path(&body), &release).ok(201), freed);
    let mut other = release.clone();
    other["reason"] = json!("other");
    ward.desk.post(&releases_path(&body), &other).refused(409, "id_reused");
    ward.desk.post(&releases_path(&body), &ward.body("mistake")).refused(409, "hold_released");
}

#[test]
fn holds_that_make_no_sense_are_refused() {
    let ward = Ward::open();
    let nowhere = format!("/api/v1/badges/{}/holds", Uuid::now_v7());
    ward.desk.post(&nowhere, &ward.body("other")).refused(404, "not_found");
    ward.desk.post(&ward.holds_path(), &ward.body("looks odd")).refused(400, "bad_json");
    let mut ahead = ward.body("other");
    ahead["happened_at"] = json!(ward.hospital.now() + chrono::TimeDelta::hours(1));
    ward.desk.post(&ward.holds_path(), &ahead).refused(422, "happened_in_future");
    let unknown = json!({ "id": Uuid::now_v7() });
    ward.desk.post(&releases_path(&unknown), &ward.body("checked")).refused(404, "not_found");
    let hold = ward.hold("other");
    ward.desk.post(&releases_path(&hold), &ward.body("no reason")).refused(400, "bad_json");
    let mut ahead = ward.body("checked");
    ahead["happened_at"] = json!(ward.hospital.now() + chrono::TimeDelta::hours(1));
    ward.desk.post(&releases_path(&hold), &ahead).refused(422, "happened_in_future");

    let ending = ward.body("lost");
    let path = ward.holds_path().replace("/holds", "/endings");
    assert_eq!(ward.desk.post(&path, &ending).ok(201)["status"], "ended", "a held badge can still end");
    ward.desk.post(&ward.holds_path(), &ward.body("other")).refused(409, "badge_already_ended");
    ward.gate_says("not_valid");
}

#[test]
fn a_badge_under_review_is_neither_printed_nor_replaced() {
    let ward = Ward::open();
    let hold = ward.hold("under_review");
    let new = json!({ "id": Uuid::now_v7(), "person_id": ward.person, "happened_at": ward.hospital.now() });
    let refused = ward.desk.post("/api/v1/badges", &new).refused(409, "badge_held");
    assert_eq!(refused["badge_id"], ward.badge["id"]);
    let sheet = json!({ "layout": "card", "badge_ids": [ward.badge["id"]] });
    ward.desk.post("/api/v1/badge_sheets", &sheet).refused(409, "badge_held");
    ward.release(&hold, "checked");
    assert_eq!(ward.desk.post("/api/v1/badge_sheets", &sheet).status, 200);

    ward.hold("lost_reported");
    let newer = ward.desk.post("/api/v1/badges", &new).ok(201);
    assert_eq!((&newer["status"], &newer["holds"]), (&json!("valid"), &json!([])));
    ward.gate_says("not_valid");
}

#[test]
fn another_site_holds_and_releases_nothing_here() {
    let ward = Ward::open();
    let hold = ward.hold("other");
    let elsewhere = ward.hospital.another_site("Tollmere");
    let stranger = ward.hospital.signed_in_at(elsewhere, &[Role::BadgeDesk]);
    stranger.post(&ward.holds_path(), &ward.body("other")).refused(404, "not_found");
    stranger.post(&releases_path(&hold), &ward.body("checked")).refused(404, "not_found");
    ward.gatekeeper.post(&ward.holds_path(), &ward.body("other")).refused(403, "wrong_role");
    ward.gate_says("cannot_confirm");
}
