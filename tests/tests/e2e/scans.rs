//! Scans: the answer follows from what is stored at that moment, and is stored before it is given.

use std::sync::atomic::{AtomicUsize, Ordering};

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::TimeDelta;
use diesel::{
    QueryableByName, RunQueryDsl,
    sql_types::{BigInt, Text, Uuid as SqlUuid},
};
use sellion_badge::{BadgeClaims, ClearedRespirator, KeyRing, Serial, SigningKey, base45, code, token};
use sellion_rules::roles::Role;
use sellion_store::{Limits, audit};
use sellion_tests::harness::{Client, Hospital};
use serde_json::{Value, json};
use uuid::Uuid;

/// A hospital with one person, cleared for one respirator that one gate accepts, and a badge for it.
struct Morning {
    hospital: Hospital,
    gatekeeper: Client,
    desk: Client,
    person: Uuid,
    respirator: Uuid,
    gate: Uuid,
    badge: Value,
}

impl Morning {
    fn begin() -> Self {
        let hospital = Hospital::open();
        let (gatekeeper, desk) = (hospital.signed_in(Role::Gate), hospital.signed_in(Role::BadgeDesk));
        let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
        hospital.db_clear(person, respirator);
        let gate = hospital.gate_accepting("North entrance", &[respirator]);
        let badge = hospital.badge(&desk, person);
        Self { hospital, gatekeeper, desk, person, respirator, gate, badge }
    }

    fn code(&self) -> &str {
        self.badge["code"].as_str().unwrap()
    }

    fn path(&self) -> String {
        format!("/api/v1/gates/{}/scans", self.gate)
    }

    /// The answer to a code, and the reason that is kept for the auditor.
    fn answer(&self, code: &str) -> (String, String) {
        let answer = self.hospital.scan(&self.gatekeeper, self.gate, code);
        assert_eq!(answer.get("reason"), None, "the reason is not for the gate");
        let auditor = self.hospital.signed_in(Role::Auditor);
        let stored = auditor.get(&format!("{}?limit=500", self.path())).ok(200);
        let items = stored["items"].as_array().unwrap();
        let row = items.iter().find(|item| item["id"] == answer["id"]).expect("a stored scan");
        assert_eq!(row["answer"], answer["answer"]);
        (answer["answer"].as_str().unwrap().to_owned(), row["reason"].as_str().unwrap().to_owned())
    }

    #[track_caller]
    fn expect(&self, answer: &str, reason: &str) {
        assert_eq!(self.answer(self.code()), (answer.to_owned(), reason.to_owned()));
    }
}

fn assert_chain_holds(hospital: &Hospital) {
    let report = audit::verify(&mut hospital.db(), hospital.site_id, |_, _| {}).unwrap();
    assert!(report.broken.is_none(), "{report:?}");
}

#[test]
fn a_cleared_person_enters_with_the_respirator_used_here() {
    let morning = Morning::begin();
    let answer = morning.hospital.scan(&morning.gatekeeper, morning.gate, morning.code());
    assert_eq!(answer["answer"], "enter");
    assert_eq!(answer["name"], "Ines Valdrun", "to match with the face");
    assert_eq!(answer["respirator"], "Orlevane model 1 fold medium");
    assert_eq!(answer["knowledge_age_seconds"], 0);
    morning.expect("enter", "ok");
    assert_chain_holds(&morning.hospital);
}

#[test]
fn what_was_stored_a_moment_ago_changes_the_next_answer() {
    let morning = Morning::begin();
    let lasts = morning.hospital.now() + TimeDelta::days(9);
    let set = |state, until| morning.hospital.db_clearance(morning.person, morning.respirator, state, until);
    set("not_cleared", lasts);
    morning.expect("not_cleared", "person_not_cleared");
    set("held", lasts);
    morning.expect("cannot_confirm", "clearance_held");
    set("cleared", morning.hospital.ago(1));
    morning.expect("not_cleared", "person_not_cleared");
    set("cleared", lasts);
    morning.expect("enter", "ok");
}

#[test]
fn a_gate_goes_by_its_policy() {
    let morning = Morning::begin();
    let coordinator = morning.hospital.signed_in(Role::Coordinator);
    let path = format!("/api/v1/gates/{}/policies", morning.gate);
    let other = morning.hospital.db_respirator(2);
    coordinator.post(&path, &morning.hospital.policy(&[other], false)).ok(201);
    morning.expect("not_cleared", "person_not_cleared");
    coordinator.post(&path, &morning.hospital.policy(&[other, morning.respirator], false)).ok(201);
    morning.expect("enter", "ok");
    coordinator.post(&path, &morning.hospital.policy(&[], true)).ok(201);
    morning.expect("enter", "policy_needs_none");
    let mut ahead = morning.hospital.policy(&[other], false);
    ahead["effective_from"] = json!(morning.hospital.now() + TimeDelta::hours(1));
    coordinator.post(&path, &ahead).ok(201);
    morning.expect("enter", "policy_needs_none");
    morning.hospital.clock.shift(TimeDelta::hours(2));
    morning.expect("not_cleared", "person_not_cleared");

    let bare = Morning { gate: morning.hospital.gate("South entrance"), ..morning };
    bare.expect("cannot_confirm", "no_policy");
}

#[test]
fn an_ended_replaced_or_expired_badge_is_not_valid() {
    let morning = Morning::begin();
    let newer = morning.hospital.badge(&morning.desk, morning.person);
    morning.expect("not_valid", "badge_replaced");
    let morning = Morning { badge: newer, ..morning };
    morning.expect("enter", "ok");
    let path = format!("/api/v1/badges/{}/endings", morning.badge["id"].as_str().unwrap());
    let ending = json!({ "id": Uuid::now_v7(), "reason": "lost", "happened_at": morning.hospital.now() });
    morning.desk.post(&path, &ending).ok(201);
    morning.expect("not_valid", "badge_ended");

    let badge = morning.hospital.badge(&morning.desk, morning.person);
    let mut morning = Morning { badge, ..morning };
    morning.expect("enter", "ok");
    morning.hospital.clock.shift(TimeDelta::days(400));
    morning.gatekeeper = morning.hospital.signed_in(Role::Gate);
    morning.expect("not_valid", "badge_expired");
}

#[test]
fn what_is_not_our_badge_is_not_valid() {
    let morning = Morning::begin();
    let unreadable = |text: &str| {
        assert_eq!(morning.answer(text), ("not_valid".to_owned(), "code_unreadable".to_owned()), "{text}");
    };
    unreadable("https://shop.example/p/4006381333931");
    unreadable("");
    unreadable("SL1:");
    unreadable(&"SL1:A".repeat(300));
    let whole = morning.code();
    assert_eq!(morning.answer(&whole[..whole.len() - 3]).0, "not_valid", "the end was not read");

    let not_signed = ("not_valid".to_owned(), "wrong_signature".to_owned());
    let jwt = code::unpack(whole).unwrap();
    let [header, payload, signature] = jwt.split('.').collect::<Vec<_>>().try_into().unwrap();
    // RFC 7515 s.10.8 and RFC 8725 s.3.1: a token whose text was altered, or that names no algorithm, is worth nothing.
    let altered = format!("{header}.{}.{signature}", altered(payload));
    assert_eq!(morning.answer(&code::pack(&altered).unwrap()), not_signed);
    let none = base64(br#"{"alg":"none","kid":"x"}"#);
    let unsigned = pack_raw(&none, payload, "AA");
    assert_eq!(morning.answer(&unsigned), not_signed);

    let ring = KeyRing::from_jwks(&morning.hospital.nobody().get("/.well-known/jwks.json").text()).unwrap();
    let claims = token::verify(&ring, &jwt, morning.hospital.now()).unwrap();
    let forger = SigningKey::generate().unwrap();
    let forged = code::pack(&token::sign(&claims, &forger).unwrap()).unwrap();
    assert_eq!(morning.answer(&forged), not_signed, "signed by another key");
    assert_chain_holds(&morning.hospital);
}

/// The payload with the digit of a date raised by one.
fn altered(payload: &str) -> String {
    let mut claims: Value = serde_json::from_slice(&URL_SAFE_NO_PAD.decode(payload).unwrap()).unwrap();
    claims["exp"] = json!(claims["exp"].as_i64().unwrap() + 86_400);
    URL_SAFE_NO_PAD.encode(claims.to_string())
}

fn base64(bytes: &[u8]) -> String {
    URL_SAFE_NO_PAD.encode(bytes)
}

/// A code from parts as a forger would pack them.
fn pack_raw(header: &str, payload: &str, signature: &str) -> String {
    let [header, payload, signature] =
        [header, payload, signature].map(|part| URL_SAFE_NO_PAD.decode(part).unwrap());
    let mut bytes = vec![u8::try_from(header.len()).unwrap()];
    bytes.extend(u16::try_from(payload.len()).unwrap().to_be_bytes());
    bytes.extend(header.into_iter().chain(payload).chain(signature));
    format!("{}{}", code::PREFIX, base45::encode(&bytes))
}

#[test]
fn a_badge_signed_with_our_key_that_was_never_issued_is_unknown() {
    let morning = Morning::begin();
    let key = accepted_key(&morning.hospital);
    let claims = BadgeClaims {
        issuer: "anybody".to_owned(),
        serial: Serial::from_number(5).unwrap(),
        issued_at: morning.hospital.ago(60),
        expires_at: morning.hospital.now() + TimeDelta::days(1),
        status_index: 900,
        respirators: vec![ClearedRespirator {
            code: "1".to_owned(),
            due_on: morning.hospital.now().date_naive(),
        }],
    };
    let code = code::pack(&token::sign(&claims, &key).unwrap()).unwrap();
    assert_eq!(morning.answer(&code), ("not_valid".to_owned(), "unknown_badge".to_owned()));
}

/// A key that the site accepts, though it signs with another one.
fn accepted_key(hospital: &Hospital) -> SigningKey {
    let key = SigningKey::generate().unwrap();
    let mut ring = KeyRing::new();
    ring.insert(key.verifying_key().clone()).unwrap();
    diesel::sql_query(
        "insert into signing_keys (id, site_id, kid, public_jwk, private_sealed, signs_until) \
         values ($1, $2, $3, $4::jsonb, '', now())",
    )
    .bind::<SqlUuid, _>(Uuid::now_v7())
    .bind::<SqlUuid, _>(hospital.site_id)
    .bind::<Text, _>(key.kid())
    .bind::<Text, _>(ring.to_jwks()["keys"][0].to_string())
    .execute(&mut hospital.db())
    .unwrap();
    key
}

#[test]
fn a_serial_can_be_typed() {
    let morning = Morning::begin();
    let serial = morning.badge["serial"].as_str().unwrap();
    let scan = |serial: &str| {
        let body = json!({ "id": Uuid::now_v7(), "serial": serial, "happened_at": morning.hospital.now() });
        morning.gatekeeper.post(&morning.path(), &body).ok(201)["answer"].clone()
    };
    assert_eq!(scan(serial), "enter");
    assert_eq!(scan(&format!(" {} ", serial.to_lowercase().replace('-', " "))), "enter");
    let swapped: String = [&serial[1..2], &serial[..1], &serial[2..]].concat();
    let expected = if swapped == serial { "enter" } else { "not_valid" };
    assert_eq!(scan(&swapped), expected, "two characters changed places");
    assert_eq!(scan(&Serial::from_number(5).unwrap().to_string()), "not_valid", "never issued");
    let both =
        json!({ "id": Uuid::now_v7(), "serial": serial, "code": "x", "happened_at": morning.hospital.now() });
    morning.gatekeeper.post(&morning.path(), &both).refused(422, "invalid_value");
    let neither = json!({ "id": Uuid::now_v7(), "happened_at": morning.hospital.now() });
    morning.gatekeeper.post(&morning.path(), &neither).refused(422, "invalid_value");
}

#[test]
fn what_a_scanner_types_around_a_code_is_no_part_of_it() {
    let morning = Morning::begin();
    for (before, after) in [("", "\r\n"), ("", "\t"), ("\n", ""), (" ", " "), ("", " \r"), ("\t", "\n")] {
        let (answer, reason) = morning.answer(&format!("{before}{}{after}", morning.code()));
        assert_eq!((answer.as_str(), reason.as_str()), ("enter", "ok"), "{before:?} {after:?}");
    }
    let typed = json!({
        "id": Uuid::now_v7(), "serial": format!("\u{feff}{}\u{200b}\r", morning.badge["serial"].as_str().unwrap()),
        "happened_at": morning.hospital.now(),
    });
    assert_eq!(morning.gatekeeper.post(&morning.path(), &typed).ok(201)["answer"], "enter");
}

#[test]
fn a_repeated_scan_gets_the_stored_answer() {
    let morning = Morning::begin();
    let body = json!({ "id": Uuid::now_v7(), "code": morning.code(), "happened_at": morning.hospital.now() });
    let first = morning.gatekeeper.post(&morning.path(), &body).ok(201);
    let lasts = morning.hospital.now() + TimeDelta::days(9);
    morning.hospital.db_clearance(morning.person, morning.respirator, "not_cleared", lasts);
    assert_eq!(morning.gatekeeper.post(&morning.path(), &body).ok(201), first);
    let other = json!({ "id": body["id"], "code": "SL1:AB", "happened_at": body["happened_at"] });
    morning.gatekeeper.post(&morning.path(), &other).refused(409, "id_reused");
    let late = json!({
        "id": Uuid::now_v7(), "code": "x", "happened_at": morning.hospital.now() + TimeDelta::hours(1),
    });
    morning.gatekeeper.post(&morning.path(), &late).refused(422, "happened_in_future");
    assert_chain_holds(&morning.hospital);
}

#[test]
fn a_sign_in_that_ended_scans_no_more() {
    let morning = Morning::begin();
    morning.expect("enter", "ok");
    morning.gatekeeper.delete("/api/v1/sessions/current").ok(204);
    let body = json!({ "id": Uuid::now_v7(), "code": morning.code(), "happened_at": morning.hospital.now() });
    morning.gatekeeper.post(&morning.path(), &body).refused(401, "session_ended");
    morning.desk.post(&morning.path(), &body).refused(403, "wrong_role");
    morning.hospital.nobody().post(&morning.path(), &body).refused(401, "not_signed_in");
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

fn count(hospital: &Hospital, what: &str) -> i64 {
    let counted: Count = diesel::sql_query(format!("select count(*) as count from {what}"))
        .get_result(&mut hospital.db())
        .unwrap();
    counted.count
}

#[test]
fn a_thousand_scans_at_once_at_two_servers_are_each_stored_once() {
    let morning = Morning::begin();
    let second = morning.hospital.second_server(Limits::default());
    let bodies: Vec<Value> = (0..1000)
        .map(|number| {
            let code = if number % 3 == 0 { "SL1:AB" } else { morning.code() };
            json!({ "id": Uuid::now_v7(), "code": code, "happened_at": morning.hospital.now() })
        })
        .collect();
    let next = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for place in 0..16 {
            let here = morning.gatekeeper.clone();
            let there = morning.gatekeeper.at(&second.base());
            let (bodies, next, path) = (&bodies, &next, morning.path());
            scope.spawn(move || {
                while let Some(body) = bodies.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let client = if place % 2 == 0 { &here } else { &there };
                    let answer = client.post(&path, body).ok(201);
                    assert_eq!(answer["id"], body["id"]);
                    let expected = if body["code"] == "SL1:AB" { "not_valid" } else { "enter" };
                    assert_eq!(answer["answer"], expected);
                }
            });
        }
        // The same scans once more, from a gate that did not hear the answers.
        let again = morning.gatekeeper.at(&second.base());
        let (bodies, path) = (&bodies, morning.path());
        scope.spawn(move || {
            for body in bodies.iter().rev().take(300) {
                assert_eq!(again.post(&path, body).ok(201)["id"], body["id"]);
            }
        });
    });
    assert_eq!(count(&morning.hospital, "scans"), 1000);
    let rows = count(&morning.hospital, "audit_rows where subject_table = 'scans'");
    assert_eq!(rows, count(&morning.hospital, "(select distinct batch_id from scans) b"));
    assert_chain_holds(&morning.hospital);
}

#[test]
fn a_scan_that_was_changed_outside_the_program_breaks_the_chain() {
    let morning = Morning::begin();
    morning.expect("enter", "ok");
    assert_chain_holds(&morning.hospital);
    morning
        .hospital
        .database
        .execute("set session_replication_role = replica; update scans set answer = 'not_cleared'");
    let report = audit::verify(&mut morning.hospital.db(), morning.hospital.site_id, |_, _| {}).unwrap();
    assert!(report.broken.is_some_and(|broken| broken.subject.starts_with("scans ")));
}

#[test]
fn scans_come_back_by_themselves_after_the_database_was_gone() {
    let morning = Morning::begin();
    morning.expect("enter", "ok");
    morning.hospital.database.go_away();
    let body = json!({ "id": Uuid::now_v7(), "code": morning.code(), "happened_at": morning.hospital.now() });
    let reply = morning.gatekeeper.post(&morning.path(), &body);
    assert_eq!(reply.header("retry-after"), Some("1"));
    reply.refused(503, "database_unavailable");
    morning.hospital.database.come_back();
    assert_eq!(morning.gatekeeper.post(&morning.path(), &body).ok(201)["answer"], "enter");
    assert_eq!(count(&morning.hospital, "scans"), 2);
}
