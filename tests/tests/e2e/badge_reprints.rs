//! Badges printed again, spoiled and lost: the old serial ends in the transaction that makes the new one.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_store::audit;
use sellion_tests::harness::{Client, day::id_of};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::hand_overs::Desk;

impl Desk {
    fn because(&self, reason: &str) -> Value {
        json!({ "id": Uuid::now_v7(), "reason": reason, "happened_at": self.hospital.now() })
    }

    fn status_of(&self, badge: &Value) -> Value {
        self.desk.get(&format!("/api/v1/badges/{}", id_of(badge))).ok(200)["status"].clone()
    }

    fn lost_path(&self) -> String {
        format!("/api/v1/people/{}/lost_badges", self.person)
    }
}

fn reprints(badge: &Value) -> String {
    format!("/api/v1/badges/{}/reprints", id_of(badge))
}

#[test]
fn a_reprint_ends_the_old_serial_and_is_counted() {
    let at = Desk::open();
    let mut misprint = at.because("misprint");
    misprint["misprint"] = json!("smeared");
    let second = at.desk.post(&reprints(&at.badge), &misprint).ok(201);
    assert_ne!(second["serial"], at.badge["serial"]);
    assert_eq!((at.status_of(&at.badge), at.status_of(&second)), (json!("ended"), json!("valid")));
    assert_eq!(second["reprints"], 1);
    assert_eq!(at.desk.post(&reprints(&at.badge), &misprint).ok(201), second, "a repeat");
    at.desk.post(&reprints(&at.badge), &at.because("damaged")).refused(409, "badge_already_ended");
    let mut other = misprint.clone();
    other["happened_at"] = json!(at.hospital.ago(9));
    at.desk.post(&reprints(&at.badge), &other).refused(409, "id_reused");

    let third = at.desk.post(&reprints(&second), &at.because("damaged")).ok(201);
    let mut renamed = at.because("name_changed");
    renamed["misprint"] = json!("smeared");
    at.desk.post(&reprints(&third), &renamed).refused(422, "invalid_value");
    at.desk.post(&reprints(&third), &at.because("misprint")).refused(422, "invalid_value");
    let fourth = at.desk.post(&reprints(&third), &at.because("name_changed")).ok(201);
    assert_eq!((at.status_of(&third), &fourth["reprints"]), (json!("replaced"), &json!(3)));
    let stranger = at.hospital.signed_in_at(at.hospital.another_site("Tollmere"), &[Role::BadgeDesk]);
    stranger.post(&reprints(&fourth), &at.because("lost")).refused(404, "not_found");

    // Spoiled and not printed again: counted all the same.
    let mut spoiled = at.because("misprint");
    spoiled["misprint"] = json!("cut_wrong");
    at.desk.post(&format!("/api/v1/badges/{}/endings", id_of(&fourth)), &spoiled).ok(201);
    let mut lost = at.because("lost");
    lost["misprint"] = json!("cut_wrong");
    at.desk.post(&format!("/api/v1/badges/{}/endings", id_of(&fourth)), &lost).refused(422, "invalid_value");
    let (from, to) =
        (at.hospital.ago(86_400).date_naive(), (at.hospital.now() + TimeDelta::days(1)).date_naive());
    let figures = at.desk.get(&format!("/api/v1/badge_figures?from={from}&to={to}")).ok(200);
    let day = &figures["items"][0];
    assert_eq!((&day["made"], &day["handed_over"]), (&json!(4), &json!(0)));
    let counts = json!([{ "cause": "smeared", "count": 1 }, { "cause": "cut_wrong", "count": 1 }]);
    assert_eq!(day["misprints"], counts);
    let counts = json!([
        { "reason": "damaged", "count": 1 }, { "reason": "name_changed", "count": 1 },
        { "reason": "misprint", "count": 1 },
    ]);
    assert_eq!(day["reprints"], counts);
    at.desk.get(&format!("/api/v1/badge_figures?from={to}&to={from}")).refused(422, "invalid_value");
    at.desk.get("/api/v1/badge_figures?from=2020-01-01&to=2026-01-01").refused(422, "invalid_value");
    let report = audit::verify(&mut at.hospital.db(), at.hospital.site_id, |_, _| ()).unwrap();
    assert!(report.broken.is_none(), "{:?}", report.broken);
}

#[test]
fn whoever_is_not_cleared_or_under_review_keeps_the_badge_they_have() {
    let at = Desk::open();
    at.hospital.db_clearance(at.person, at.respirator, "not_cleared", at.hospital.now() + TimeDelta::days(9));
    at.desk.post(&reprints(&at.badge), &at.because("damaged")).refused(422, "not_cleared");
    assert_eq!(at.status_of(&at.badge), "valid", "nothing was half done");
    at.hospital.db_clear(at.person, at.respirator);
    at.desk.post(&format!("/api/v1/badges/{}/holds", id_of(&at.badge)), &at.because("under_review")).ok(201);
    at.desk.post(&reprints(&at.badge), &at.because("damaged")).refused(409, "badge_held");
    assert_eq!(at.status_of(&at.badge), "held");
}

#[test]
fn a_lost_badge_ends_with_one_call_that_needs_no_serial() {
    let at = Desk::open();
    let lost = at.body();
    let ended = at.desk.post(&at.lost_path(), &lost).ok(201);
    assert_eq!((&ended["id"], &ended["status"]), (&at.badge["id"], &json!("ended")));
    at.desk.post(&at.lost_path(), &at.body()).refused(422, "no_badge");
    let next = at.hospital.badge(&at.desk, at.person);
    let again = at.desk.post(&at.lost_path(), &lost).ok(201);
    assert_eq!(again["id"], at.badge["id"], "a repeat is about the badge that was lost then");
    assert_eq!(at.status_of(&next), "valid");
    let other = at.hospital.db_named_person("Oda", "Brennick");
    at.desk.post(&format!("/api/v1/people/{other}/lost_badges"), &lost).refused(409, "id_reused");
    let nobody = format!("/api/v1/people/{}/lost_badges", Uuid::now_v7());
    at.desk.post(&nobody, &at.body()).refused(404, "not_found");
    let stranger = at.hospital.signed_in_at(at.hospital.another_site("Tollmere"), &[Role::BadgeDesk]);
    stranger.post(&at.lost_path(), &at.body()).refused(404, "not_found");
}

#[test]
fn desks_that_print_again_at_once_leave_one_badge() {
    let at = Desk::open();
    let desks: Vec<Client> = (0..6).map(|_| at.hospital.signed_in(Role::BadgeDesk)).collect();
    let made: usize = std::thread::scope(|scope| {
        let asking: Vec<_> = desks
            .iter()
            .map(|desk| {
                let (at, path) = (&at, reprints(&at.badge));
                scope.spawn(move || {
                    let reply = desk.post(&path, &at.because("damaged"));
                    match reply.status {
                        201 => 1,
                        _ => reply.refused(409, "badge_already_ended").is_null().into(),
                    }
                })
            })
            .collect();
        asking.into_iter().map(|asking| asking.join().unwrap()).sum()
    });
    assert_eq!(made, 1);
    let listed = at.desk.get(&format!("/api/v1/badges?person_id={}", at.person)).ok(200);
    let statuses: Vec<&Value> =
        listed["items"].as_array().unwrap().iter().map(|badge| &badge["status"]).collect();
    assert_eq!(statuses, ["ended", "valid"]);
}
