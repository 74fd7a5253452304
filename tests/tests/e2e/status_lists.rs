//! Status lists: what all badges of a site are worth, signed, for whoever checks them without asking.

use std::time::{Duration, Instant};

use chrono::TimeDelta;
use diesel::RunQueryDsl;
use sellion_badge::{
    KeyRing, code, keys,
    status_list::{Status, StatusList, read},
    token,
};
use sellion_rules::roles::Role;
use sellion_store::Limits;
use sellion_tests::harness::{Client, Hospital, Reply, TestServer};
use serde_json::{Value, json};
use uuid::Uuid;

/// How long after a change a list may still be the old one.
const PATIENCE: Duration = Duration::from_secs(1);

/// A hospital with people who have badges.
struct Records {
    hospital: Hospital,
    desk: Client,
    respirators: Vec<Uuid>,
}

impl Records {
    fn open() -> Self {
        let hospital = Hospital::open();
        let desk = hospital.signed_in(Role::BadgeDesk);
        let respirators = (1..=2).map(|number| hospital.db_respirator(number)).collect();
        Self { hospital, desk, respirators }
    }

    /// Somebody cleared for both respirators, with a badge that says so.
    fn person_with_badge(&self) -> (Uuid, Value) {
        let person = self.hospital.db_named_person("Ines", "Valdrun");
        for respirator in &self.respirators {
            self.hospital.db_clear(person, *respirator);
        }
        (person, self.hospital.badge(&self.desk, person))
    }

    fn ring(&self) -> KeyRing {
        KeyRing::from_jwks(&self.hospital.nobody().get("/.well-known/jwks.json").text()).unwrap()
    }

    /// Where the badge says that its status stands.
    fn place(&self, badge: &Value) -> (String, u64) {
        let jwt = code::unpack(badge["code"].as_str().unwrap()).unwrap();
        let claims = token::verify(&self.ring(), &jwt, self.hospital.now()).unwrap();
        (claims.issuer, claims.status_index)
    }

    fn issuer(&self) -> String {
        let site = self.hospital.site_id.simple().to_string();
        site[20..].to_owned()
    }

    fn fetch(&self, server: &TestServer, etag: Option<&str>) -> Reply {
        let headers: Vec<(&str, &str)> = etag.map(|tag| ("if-none-match", tag)).into_iter().collect();
        let path = format!("/api/v1/status_lists/{}", self.issuer());
        self.hospital.nobody().at(&server.base()).send("GET", &path, &headers, None)
    }

    fn list(&self) -> StatusList {
        self.list_of(&self.fetch(&self.hospital.server, None))
    }

    fn list_of(&self, reply: &Reply) -> StatusList {
        assert_eq!(reply.status, 200, "{}", reply.text());
        read(&self.ring(), &reply.text(), &self.issuer(), self.hospital.now()).unwrap()
    }

    /// Waits, for no longer than a second, until the list says so.
    #[track_caller]
    fn comes_to(&self, badge: &Value, wanted: Status) {
        let (_, index) = self.place(badge);
        let started = Instant::now();
        let mut found = None;
        while found != Some(wanted) {
            assert!(started.elapsed() < PATIENCE, "after a second {wanted:?} is still {found:?}");
            found = self.list().status(index);
        }
    }
}

#[test]
fn a_list_is_signed_and_says_what_it_is() {
    let records = Records::open();
    records.fetch(&records.hospital.server, None).refused(404, "not_found");
    let (_, badge) = records.person_with_badge();
    let reply = records.fetch(&records.hospital.server, None);
    assert_eq!(reply.header("content-type"), Some("application/statuslist+jwt"));
    assert_eq!(reply.header("content-encoding"), None, "it is compressed already");
    assert_eq!(reply.header("cache-control"), Some("public, no-cache"));
    let list = records.list_of(&reply);
    let (issuer, index) = records.place(&badge);
    let address = records.hospital.server.base();
    assert_eq!(list.terms.subject, format!("{address}/api/v1/status_lists/{issuer}"));
    assert_eq!(list.terms.ttl_seconds, Some(300));
    assert!((records.hospital.now() - list.terms.issued_at).num_seconds().abs() <= 2);
    assert_eq!(list.terms.expires_at, Some(list.terms.issued_at + TimeDelta::days(7)));
    assert_eq!(list.status(index), Some(Status::Valid));
    assert_eq!(list.value(index + 8), None, "no badge was issued there");
    records.hospital.nobody().get("/api/v1/status_lists/000000000000").refused(404, "not_found");
    records.hospital.nobody().get("/api/v1/status_lists/%00").refused(404, "not_found");
}

#[test]
fn what_happens_to_a_badge_shows_within_a_second() {
    let records = Records::open();
    let (person, badge) = records.person_with_badge();
    records.comes_to(&badge, Status::Valid);
    let now = records.hospital.now();
    let id = badge["id"].as_str().unwrap();
    let body = |reason: &str| json!({ "id": Uuid::now_v7(), "reason": reason, "happened_at": now });

    let hold = body("lost_reported");
    records.desk.post(&format!("/api/v1/badges/{id}/holds"), &hold).ok(201);
    records.comes_to(&badge, Status::Held);
    let release = format!("/api/v1/badge_holds/{}/releases", hold["id"].as_str().unwrap());
    records.desk.post(&release, &body("back_with_person")).ok(201);
    records.comes_to(&badge, Status::Valid);

    // One of two respirators in doubt is enough: the list has one word for the whole badge.
    let lasts = now + TimeDelta::days(300);
    for state in ["held", "not_cleared"] {
        records.hospital.db_clearance(person, records.respirators[1], state, lasts);
        records.comes_to(&badge, Status::Held);
        records.hospital.db_clearance(person, records.respirators[1], "cleared", lasts);
        records.comes_to(&badge, Status::Valid);
    }

    let newer = records.hospital.badge(&records.desk, person);
    records.comes_to(&newer, Status::Valid);
    records.comes_to(&badge, Status::Ended);
    let path = format!("/api/v1/badges/{}/endings", newer["id"].as_str().unwrap());
    records.desk.post(&path, &body("left")).ok(201);
    records.comes_to(&newer, Status::Ended);
}

#[test]
fn dates_are_the_badge_s_own_and_what_ends_before_them_is_not() {
    let records = Records::open();
    let (person, badge) = records.person_with_badge();
    let (_, index) = records.place(&badge);
    records.comes_to(&badge, Status::Valid);
    // Nothing is written when a permission runs out: the list has to change by the clock.
    let ends = records.hospital.now() + TimeDelta::hours(2);
    let set = "update clearances set valid_until = $1";
    diesel::sql_query(set)
        .bind::<diesel::sql_types::Timestamptz, _>(ends)
        .execute(&mut records.hospital.db())
        .unwrap();
    records.comes_to(&badge, Status::Valid);
    records.hospital.clock.shift(TimeDelta::hours(3));
    assert_eq!(records.list().status(index), Some(Status::Held), "over before the day on the badge");
    // The days printed on the badge are over: now the badge itself says that it no longer holds.
    records.hospital.clock.shift(TimeDelta::days(400));
    assert_eq!(records.list().status(index), Some(Status::Valid));
    let _ = person;
}

#[test]
fn whoever_holds_the_list_of_now_is_told_so() {
    let records = Records::open();
    let (person, _) = records.person_with_badge();
    let here = &records.hospital.server;
    let first = records.fetch(here, None);
    let etag = first.header("etag").unwrap().to_owned();
    let same = records.fetch(here, Some(&etag));
    assert_eq!((same.status, same.body.len()), (304, 0));
    assert_eq!(same.header("etag"), Some(etag.as_str()));
    assert_eq!(records.fetch(here, Some(&format!("\"x\", {etag}"))).status, 304);
    assert_eq!(records.fetch(here, Some("*")).status, 304);
    assert_eq!(records.fetch(here, Some("\"x\"")).status, 200);

    let there = records.hospital.second_server(Limits::default());
    assert_eq!(records.fetch(&there, Some(&etag)).status, 304, "two servers agree on what is new");

    records.hospital.badge(&records.desk, person);
    std::thread::sleep(PATIENCE);
    for server in [here, &there] {
        let newer = records.fetch(server, Some(&etag));
        assert_eq!(newer.status, 200);
        assert_ne!(newer.header("etag"), Some(etag.as_str()));
    }

    // The age of a list is that of its knowledge, so it is made again though nothing changed.
    let etag = records.fetch(here, None).header("etag").unwrap().to_owned();
    records.hospital.clock.shift(TimeDelta::minutes(6));
    let later = records.fetch(here, Some(&etag));
    let list = records.list_of(&later);
    assert!((records.hospital.now() - list.terms.issued_at).num_seconds().abs() <= 2);
}

#[test]
fn the_list_of_one_site_says_nothing_of_another() {
    let records = Records::open();
    let (_, badge) = records.person_with_badge();
    let elsewhere = records.hospital.another_site("Tollmere");
    let site = elsewhere.simple().to_string();
    let path = format!("/api/v1/status_lists/{}", &site[20..]);
    records.hospital.nobody().get(&path).refused(404, "not_found");
    let (issuer, _) = records.place(&badge);
    assert_eq!(issuer, records.issuer());
    let reply = records.fetch(&records.hospital.server, None);
    let wrong = read(&records.ring(), &reply.text(), &site[20..], records.hospital.now());
    assert!(wrong.is_err(), "one site's list is not read as another's");
    assert!(matches!(keys::KeyRing::from_jwks("{}"), Err(keys::KeyError::Set)));
}

/// Every write that bears on badges has to raise the number by which servers know that their list is old, and no
/// other write should: the list would be made again for nothing.
#[test]
fn only_what_bears_on_badges_makes_a_list_old() {
    let records = Records::open();
    let (person, badge) = records.person_with_badge();
    let hospital = &records.hospital;
    let version =
        || sellion_store::status_list::edition(&mut hospital.db(), hospital.site_id).unwrap().version;
    let before = version();
    let gate = hospital.gate_accepting("North entrance", &records.respirators);
    let gatekeeper = hospital.signed_in(Role::Gate);
    hospital.scan(&gatekeeper, gate, badge["code"].as_str().unwrap());
    let lasts = hospital.now() + TimeDelta::days(300);
    hospital.db_clearance(person, records.respirators[0], "cleared", lasts);
    let once = version();
    assert_eq!(once, before + 1, "the date of a clearance changed");
    hospital.db_clearance(person, records.respirators[0], "cleared", lasts);
    assert_eq!(version(), once, "written again as it was");
    hospital.badge(&records.desk, person);
    assert_eq!(version(), once + 1, "a badge and the end of another in one transaction");
}
