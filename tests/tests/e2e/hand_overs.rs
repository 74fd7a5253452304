//! The badge desk's scanner: a clear word for every badge, and a hand-over that is never silent.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_store::audit;
use sellion_tests::harness::{Client, Hospital, day::id_of};
use serde_json::{Value, json};
use uuid::Uuid;

/// A desk with one person's badge on it.
pub(crate) struct Desk {
    pub(crate) hospital: Hospital,
    pub(crate) desk: Client,
    pub(crate) person: Uuid,
    pub(crate) respirator: Uuid,
    pub(crate) badge: Value,
}

impl Desk {
    pub(crate) fn open() -> Self {
        let hospital = Hospital::open();
        let desk = hospital.signed_in(Role::BadgeDesk);
        let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
        hospital.db_clear(person, respirator);
        let badge = hospital.badge(&desk, person);
        Self { hospital, desk, person, respirator, badge }
    }

    fn reads(&self, text: &str) -> Value {
        self.desk.post("/api/v1/badge_readings", &json!({ "text": text })).ok(200)
    }

    #[track_caller]
    fn says(&self, word: &str) -> Value {
        let said = self.reads(self.badge["code"].as_str().unwrap());
        assert_eq!(said["word"], word, "{said}");
        assert!(!said["instruction"].as_str().unwrap().is_empty());
        said
    }

    fn hand_overs(&self) -> String {
        format!("/api/v1/badges/{}/hand_overs", id_of(&self.badge))
    }

    pub(crate) fn body(&self) -> Value {
        json!({ "id": Uuid::now_v7(), "happened_at": self.hospital.now() })
    }

    fn is_refused(&self, status: u16, code: &str) {
        self.desk.post(&self.hand_overs(), &self.body()).refused(status, code);
        let seen = self.desk.get(&format!("/api/v1/badges/{}", id_of(&self.badge))).ok(200);
        assert_eq!(seen.get("handed_over_at"), None, "a refused hand-over is none");
    }

    fn ends(&self, reason: &str) {
        let mut body = self.body();
        body["reason"] = json!(reason);
        self.desk.post(&format!("/api/v1/badges/{}/endings", id_of(&self.badge)), &body).ok(201);
    }
}

#[test]
fn a_badge_is_handed_over_once_and_reading_it_hands_over_nothing() {
    let at = Desk::open();
    for text in [at.badge["code"].as_str().unwrap(), at.badge["serial"].as_str().unwrap()] {
        let said = at.reads(text);
        assert_eq!((&said["word"], &said["badge"]["id"]), (&json!("hand_over"), &at.badge["id"]));
        assert_eq!(said["badge"].get("code"), None, "the desk has the badge in its hand");
    }
    // Typed as people do: small letters, a blank for the dash, a line's end from the scanner.
    let typed = at.badge["serial"].as_str().unwrap().to_lowercase().replace('-', " ");
    assert_eq!(at.reads(&format!("{typed}\r\n"))["word"], "hand_over");
    let body = at.body();
    let handed = at.desk.post(&at.hand_overs(), &body).ok(201);
    assert_eq!(handed["handed_over_at"], body["happened_at"]);
    assert_eq!(at.desk.post(&at.hand_overs(), &body).ok(201), handed, "a repeat");
    at.says("handed_over");
    at.desk.post(&at.hand_overs(), &at.body()).refused(409, "badge_handed_over");
    let other = json!({ "id": body["id"], "happened_at": at.hospital.ago(4) });
    at.desk.post(&at.hand_overs(), &other).refused(409, "id_reused");
    at.ends("lost");
    assert_eq!(at.desk.post(&at.hand_overs(), &body).ok(201)["status"], "ended", "a repeat, after it ended");
    let report = audit::verify(&mut at.hospital.db(), at.hospital.site_id, |_, _| ()).unwrap();
    assert!(report.broken.is_none(), "{:?}", report.broken);
}

#[test]
fn a_badge_that_says_what_no_longer_holds_is_printed_again() {
    let at = Desk::open();
    let other = at.hospital.db_respirator(2);
    at.hospital.db_clear(at.person, other);
    at.says("hand_over");
    // What it says still holds; that it could say more is the list's business, not a reason to hold it back.
    at.hospital.db_clearance(at.person, at.respirator, "not_cleared", at.hospital.now() + TimeDelta::days(9));
    at.says("print_again");
    at.is_refused(409, "badge_outdated");
    at.hospital.db_clearance(at.person, other, "not_cleared", at.hospital.now() + TimeDelta::days(9));
    at.says("not_cleared");
    at.is_refused(422, "not_cleared");
    at.hospital.db_clearance(at.person, at.respirator, "held", at.hospital.now() + TimeDelta::days(9));
    at.says("hold_back");
    at.is_refused(409, "badge_held");
    at.hospital.db_clear(at.person, at.respirator);
    at.says("hand_over");
    at.desk.post(&at.hand_overs(), &at.body()).ok(201);
}

#[test]
fn a_shorter_clearance_or_another_name_is_a_change_since_printing() {
    let at = Desk::open();
    at.hospital.db_clearance(at.person, at.respirator, "cleared", at.hospital.now() + TimeDelta::days(30));
    at.says("print_again");
    at.hospital.db_clear(at.person, at.respirator);
    let check_in = at.hospital.signed_in(Role::CheckIn);
    let renamed = json!({ "family_name": "Brennick" });
    check_in.patch(&format!("/api/v1/people/{}", at.person), 1, &renamed).ok(200);
    let said = at.says("print_again");
    assert_eq!(
        (&said["badge"]["name"], &said["name_now"]),
        (&json!("Ines Valdrun"), &json!("Ines Brennick"))
    );
    at.is_refused(409, "badge_outdated");
    let sheet = json!({ "layout": "card", "badge_ids": [at.badge["id"]] });
    at.desk.post("/api/v1/badge_sheets", &sheet).refused(409, "badge_outdated");
    let reprint = json!({ "id": Uuid::now_v7(), "reason": "name_changed", "happened_at": at.hospital.now() });
    let next = at.desk.post(&format!("/api/v1/badges/{}/reprints", id_of(&at.badge)), &reprint).ok(201);
    assert_eq!(next["name"], "Ines Brennick");
    at.says("ended");
}

#[test]
fn held_and_ended_badges_stay_at_the_desk() {
    let at = Desk::open();
    let mut hold = at.body();
    hold["reason"] = json!("lost_reported");
    at.desk.post(&format!("/api/v1/badges/{}/holds", id_of(&at.badge)), &hold).ok(201);
    at.says("hold_back");
    at.is_refused(409, "badge_held");
    at.ends("withdrawn");
    at.says("ended");
    at.is_refused(409, "badge_already_ended");
    at.hospital.clock.shift(TimeDelta::days(400));
    let desk = at.hospital.signed_in(Role::BadgeDesk);
    let said = desk.post("/api/v1/badge_readings", &json!({ "text": at.badge["serial"] })).ok(200);
    assert_eq!(said["word"], "ended");
}

#[test]
fn another_person_s_badge_is_told_and_that_it_nearly_went_is_kept() {
    let at = Desk::open();
    let colleague = at.hospital.db_named_person("Oda", "Brennick");
    let read = json!({ "text": at.badge["serial"], "person_id": colleague });
    let said = at.desk.post("/api/v1/badge_readings", &read).ok(200);
    assert_eq!(said["word"], "another_person");
    let mut body = at.body();
    body["person_id"] = json!(colleague);
    at.desk.post(&at.hand_overs(), &body).refused(422, "badge_of_another");
    let rows = audit::list(&mut at.hospital.db(), at.hospital.site_id, None, (0, 10_000)).unwrap();
    assert_eq!(rows.iter().filter(|row| row.action == "read_badge_code").count(), 1);
    body["person_id"] = json!(at.person);
    at.desk.post(&at.hand_overs(), &body).ok(201);
}

#[test]
fn what_is_none_of_our_badges_is_told_so() {
    let at = Desk::open();
    let code = at.badge["code"].as_str().unwrap();
    let mut altered = code.to_owned();
    altered.replace_range(40..41, if &code[40..41] == "A" { "B" } else { "A" });
    for text in ["4006381333931", "2222222222", altered.as_str()] {
        let said = at.reads(text);
        assert_eq!((&said["word"], said.get("badge")), (&json!("not_ours"), None), "{text}");
    }
    for text in [String::new(), " \n".to_owned(), "A".repeat(5_000)] {
        at.desk.post("/api/v1/badge_readings", &json!({ "text": text })).refused(422, "invalid_value");
    }
    let stranger = at.hospital.signed_in_at(at.hospital.another_site("Tollmere"), &[Role::BadgeDesk]);
    for text in [code, at.badge["serial"].as_str().unwrap()] {
        let said = stranger.post("/api/v1/badge_readings", &json!({ "text": text })).ok(200);
        assert_eq!(said["word"], "not_ours");
    }
    stranger.post(&at.hand_overs(), &at.body()).refused(404, "not_found");
    at.hospital.signed_in(Role::Gate).post(&at.hand_overs(), &at.body()).refused(403, "wrong_role");
}
