//! Gate packs: one gate's own device gets what it needs to answer alone, and nothing else.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::{DateTime, TimeDelta, Utc};
use sellion_badge::{
    KeyRing, Pack, Read,
    pack::{Current, Moment},
};
use sellion_rules::{gate::Answer, roles::Role};
use sellion_store::{Limits, audit};
use sellion_tests::harness::{Client, Hospital, Reply};
use serde_json::{Value, json};
use uuid::Uuid;

const PATH: &str = "/api/v1/gate_pack";

/// A hospital with one cleared person, a gate, and the gate's own device.
struct Evening {
    hospital: Hospital,
    person: Uuid,
    respirator: Uuid,
    gate: Uuid,
    device: Client,
    badge: Value,
}

impl Evening {
    fn begin() -> Self {
        let hospital = Hospital::open();
        let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
        hospital.db_clear(person, respirator);
        let gate = hospital.gate_accepting("North entrance", &[respirator]);
        let badge = hospital.badge(&hospital.signed_in(Role::BadgeDesk), person);
        let device = hospital.gate_device(gate);
        Self { hospital, person, respirator, gate, device, badge }
    }

    /// The keys that the server publishes.
    fn ring(&self) -> KeyRing {
        KeyRing::from_jwks(&self.hospital.nobody().get("/.well-known/jwks.json").text()).unwrap()
    }

    /// The pack as a gate reads it, and since when it is known to be current.
    fn read(&self, reply: &Reply) -> (Pack, DateTime<Utc>) {
        assert_eq!(reply.status, 200, "{}", reply.text());
        let pack = Pack::open(&self.ring(), &reply.text()).unwrap();
        let current = current(pack.keys(), reply);
        assert_eq!((current.gate, current.content.as_str()), (pack.gate(), pack.content()));
        (pack, current.at)
    }

    fn answer(&self, read: &Read) -> Answer {
        let (pack, known_at) = self.read(&self.device.get(PATH));
        let moment = Moment { at: self.hospital.now(), known_at, clock_trusted: true };
        pack.answer(read, moment).unwrap().decision.answer
    }

    fn code(&self) -> Read {
        Read::code(self.badge["code"].as_str().unwrap())
    }
}

fn current(ring: &KeyRing, reply: &Reply) -> Current {
    Current::open(ring, reply.header("sellion-pack-current").expect("the server's word")).unwrap()
}

#[test]
fn a_gate_that_is_named_anew_hears_of_it_with_its_next_pack() {
    let evening = Evening::begin();
    let (before, _) = evening.read(&evening.device.get(PATH));
    assert_eq!(before.gate_name(), "North entrance");
    let coordinator = evening.hospital.signed_in(Role::Coordinator);
    let path = format!("/api/v1/gates/{}", evening.gate);
    coordinator.patch(&path, 1, &json!({ "name": "Ward side" })).ok(200);
    let (after, _) = evening.read(&evening.device.get(PATH));
    assert_eq!(after.gate_name(), "Ward side");
}

#[test]
fn a_gates_device_gets_a_pack_that_answers_as_the_server_does() {
    let evening = Evening::begin();
    let reply = evening.device.get(PATH);
    assert_eq!(reply.header("content-type"), Some("application/jose"));
    let (pack, known_at) = evening.read(&reply);
    assert_eq!((pack.gate(), pack.gate_name(), pack.badges()), (evening.gate, "North entrance", 1));
    assert!((evening.hospital.now() - known_at).num_seconds() < 30);
    assert_eq!(evening.answer(&evening.code()), Answer::Enter);
    let scanned =
        evening.hospital.scan(&evening.device, evening.gate, evening.badge["code"].as_str().unwrap());
    assert_eq!(scanned["answer"], "enter");
}

#[test]
fn what_is_stored_changes_the_next_pack_and_what_is_not_does_not() {
    let evening = Evening::begin();
    let first = evening.device.get(PATH);
    let etag = first.header("etag").unwrap().to_owned();
    let again = evening.device.with_header("if-none-match", &etag);
    evening.hospital.clock.shift(TimeDelta::seconds(600));
    let same = again.get(PATH);
    assert_eq!((same.status, same.body.len()), (304, 0));
    let (pack, known_at) = evening.read(&first);
    let renewed = current(pack.keys(), &same);
    assert!((renewed.at - known_at).num_seconds() >= 599, "the word makes the pack young again");
    assert_eq!(renewed.content, pack.content());

    let coordinator = evening.hospital.signed_in(Role::Coordinator);
    let lasts = evening.hospital.now() + TimeDelta::days(9);
    evening.hospital.db_clearance(evening.person, evening.respirator, "held", lasts);
    assert_eq!(again.get(PATH).status, 200);
    assert_eq!(evening.answer(&evening.code()), Answer::CannotConfirm);
    evening.hospital.db_clearance(evening.person, evening.respirator, "not_cleared", lasts);
    assert_eq!(evening.answer(&evening.code()), Answer::NotCleared);
    evening.hospital.db_clearance(evening.person, evening.respirator, "cleared", lasts);
    assert_eq!(evening.answer(&evening.code()), Answer::Enter);

    let policies = format!("/api/v1/gates/{}/policies", evening.gate);
    let other = evening.hospital.db_respirator(2);
    coordinator.post(&policies, &evening.hospital.policy(&[other], false)).ok(201);
    assert_eq!(evening.answer(&evening.code()), Answer::NotCleared);
    coordinator.post(&policies, &evening.hospital.policy(&[], true)).ok(201);
    assert_eq!(evening.answer(&evening.code()), Answer::Enter);

    let badge = evening.badge["id"].as_str().unwrap();
    let hold = json!({
        "id": Uuid::now_v7(), "reason": "under_review", "happened_at": evening.hospital.now(),
    });
    coordinator.post(&format!("/api/v1/badges/{badge}/holds"), &hold).ok(201);
    coordinator.post(&policies, &evening.hospital.policy(&[evening.respirator], false)).ok(201);
    assert_eq!(evening.answer(&evening.code()), Answer::CannotConfirm);
    let ending = json!({ "id": Uuid::now_v7(), "reason": "lost", "happened_at": evening.hospital.now() });
    coordinator.post(&format!("/api/v1/badges/{badge}/endings"), &ending).ok(201);
    assert_eq!(evening.answer(&evening.code()), Answer::NotValid);
}

#[test]
fn two_servers_give_packs_of_the_same_content() {
    let evening = Evening::begin();
    let second = evening.hospital.second_server(Limits::default());
    let (here, there) = (evening.device.get(PATH), evening.device.at(&second.base()).get(PATH));
    assert_eq!(here.header("etag"), there.header("etag"));
    let etag = here.header("etag").unwrap();
    assert_eq!(evening.device.at(&second.base()).with_header("if-none-match", etag).get(PATH).status, 304);
}

#[test]
fn a_hospital_without_a_badge_has_a_pack_that_knows_none() {
    let hospital = Hospital::open();
    let gate = hospital.gate_accepting("North entrance", &[hospital.db_respirator(1)]);
    let reply = hospital.gate_device(gate).get(PATH);
    let ring = KeyRing::from_jwks(&hospital.nobody().get("/.well-known/jwks.json").text()).unwrap();
    let pack = Pack::open(&ring, &reply.text()).unwrap();
    assert_eq!(pack.badges(), 0);
    let moment = Moment { at: hospital.now(), known_at: hospital.now(), clock_trusted: true };
    let told = pack.answer(&Read::line("7KQ2M-XW9RD"), moment).unwrap();
    assert_eq!(told.decision.answer, Answer::NotValid);
    let report = audit::verify(&mut hospital.db(), hospital.site_id, |_, _| {}).unwrap();
    assert!(report.broken.is_none(), "{report:?}");
}

#[test]
fn a_pack_holds_nothing_of_people_or_of_other_gates() {
    let evening = Evening::begin();
    let elsewhere = evening.hospital.gate_accepting("South entrance", &[evening.hospital.db_respirator(2)]);
    let text = evening.device.get(PATH).text();
    let payload = URL_SAFE_NO_PAD.decode(text.split('.').nth(1).unwrap()).unwrap();
    let payload = String::from_utf8(payload).unwrap();
    for secret in ["Ines", "Valdrun", &evening.person.to_string(), "South", &elsewhere.to_string(), "model 2"]
    {
        assert!(!payload.contains(secret), "{secret}");
    }
    assert!(payload.contains("North entrance"));
}

#[test]
fn only_the_device_of_a_gate_gets_a_pack_and_only_while_its_token_lives() {
    let evening = Evening::begin();
    evening.hospital.nobody().get(PATH).refused(401, "not_signed_in");
    evening.hospital.signed_in(Role::Coordinator).get(PATH).refused(403, "wrong_role");
    // Somebody who is signed in as a gate stands at no gate of their own.
    evening.hospital.signed_in(Role::Gate).get(PATH).refused(404, "not_found");
    evening.device.get(PATH);
    let admin = evening.hospital.signed_in(Role::Admin);
    let listed = admin.get("/api/v1/devices").ok(200);
    let id = listed["items"][0]["id"].as_str().unwrap();
    admin.delete(&format!("/api/v1/devices/{id}")).ok(204);
    evening.device.get(PATH).refused(401, "session_ended");
}
