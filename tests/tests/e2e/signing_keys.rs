//! Private keys: sealed in the database, opened by one secret only, changed by command while servers run.

use std::time::{Duration, Instant};

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use diesel::{
    QueryableByName, RunQueryDsl,
    sql_types::{BigInt, Bool, Text},
};
use sellion_badge::{KeyRing, code, status_list::Status};
use sellion_rules::{refusal::Code, roles::Role};
use sellion_store::{Limits, StoreError, audit, signing_key};
use sellion_tests::harness::{Client, Hospital};
use sellion_web::{
    Secret,
    keys::{self, Made},
};
use serde_json::{Value, json};
use uuid::Uuid;

/// For so long a server may take a retired key's badges for good.
const NOTICED: Duration = Duration::from_secs(7);

/// A hospital whose badges open one gate.
struct Town {
    hospital: Hospital,
    desk: Client,
    gatekeeper: Client,
    gate: Uuid,
    respirator: Uuid,
}

impl Town {
    fn open() -> Self {
        let hospital = Hospital::open();
        let (desk, gatekeeper) = (hospital.signed_in(Role::BadgeDesk), hospital.signed_in(Role::Gate));
        let respirator = hospital.db_respirator(1);
        let gate = hospital.gate_accepting("North entrance", &[respirator]);
        Self { hospital, desk, gatekeeper, gate, respirator }
    }

    fn person(&self) -> Uuid {
        let person = self.hospital.db_named_person("Ines", "Valdrun");
        self.hospital.db_clear(person, self.respirator);
        person
    }

    fn badge(&self) -> Value {
        self.hospital.badge(&self.desk, self.person())
    }

    fn answer(&self, badge: &Value) -> String {
        let code = badge["code"].as_str().unwrap();
        self.hospital.scan(&self.gatekeeper, self.gate, code)["answer"].as_str().unwrap().to_owned()
    }

    fn typed(&self, badge: &Value) -> Value {
        let body = json!({
            "id": Uuid::now_v7(), "serial": badge["serial"], "happened_at": self.hospital.now(),
        });
        let path = format!("/api/v1/gates/{}/scans", self.gate);
        self.gatekeeper.post(&path, &body).ok(201)["answer"].clone()
    }

    fn create(&self) -> Made {
        let Hospital { site_id, .. } = self.hospital;
        keys::create(&mut self.hospital.db(), site_id, self.hospital.secret(), self.hospital.now()).unwrap()
    }

    fn rotate(&self) -> (String, String) {
        let Hospital { site_id, .. } = self.hospital;
        keys::rotate(&mut self.hospital.db(), site_id, self.hospital.secret(), self.hospital.now()).unwrap()
    }

    fn retire(&self, kid: &str, even_so: bool) -> anyhow::Result<i64> {
        let Hospital { site_id, .. } = self.hospital;
        keys::retire(&mut self.hospital.db(), site_id, (kid, even_so), self.hospital.now())
    }

    fn withdraw(&self, kid: &str) -> (usize, Option<String>) {
        let Hospital { site_id, .. } = self.hospital;
        let (secret, now) = (self.hospital.secret(), self.hospital.now());
        keys::withdraw(&mut self.hospital.db(), site_id, kid, secret, now).unwrap()
    }

    /// The state of each key by its short id, in the order of their making.
    fn states(&self) -> Vec<(String, &'static str, i64)> {
        let listed = signing_key::list(&mut self.hospital.db(), self.hospital.site_id, self.hospital.now());
        listed
            .unwrap()
            .into_iter()
            .map(|(key, badges)| (key.kid.clone(), key.state().as_str(), badges))
            .collect()
    }

    fn published(&self) -> KeyRing {
        KeyRing::from_jwks(&self.hospital.nobody().get("/.well-known/jwks.json").text()).unwrap()
    }

    fn assert_chain_holds(&self) {
        let report = audit::verify(&mut self.hospital.db(), self.hospital.site_id, |_, _| {}).unwrap();
        assert!(report.broken.is_none(), "{report:?}");
    }
}

fn kid_of(badge: &Value) -> String {
    let jwt = code::unpack(badge["code"].as_str().unwrap()).unwrap();
    let header = URL_SAFE_NO_PAD.decode(jwt.split('.').next().unwrap()).unwrap();
    serde_json::from_slice::<Value>(&header).unwrap()["kid"].as_str().unwrap().to_owned()
}

fn refusal(error: &anyhow::Error) -> &sellion_rules::Refusal {
    match error.downcast_ref::<StoreError>() {
        Some(StoreError::Refused(refusal)) => refusal,
        _ => panic!("no refusal: {error:#}"),
    }
}

#[derive(QueryableByName)]
struct Dump {
    #[diesel(sql_type = Text)]
    row: String,
}

#[test]
fn no_private_key_is_in_the_database_in_clear() {
    let town = Town::open();
    town.badge();
    let dump: Vec<Dump> =
        diesel::sql_query("select k::text as row from signing_keys k").load(&mut town.hospital.db()).unwrap();
    let [Dump { row }] = &dump[..] else { panic!("one key") };
    // RFC 5915 s.3 and RFC 5958 s.2: the object identifiers that stand in every unsealed P-256 key.
    for clear in ["2a8648ce3d030107", "2a8648ce3d0201", "BEGIN", "\"d\""] {
        assert!(!row.contains(clear), "{clear}");
    }
}

#[test]
fn another_secret_opens_no_key_and_says_so() {
    let town = Town::open();
    let mut conn = town.hospital.db();
    sellion_web::check_signing_keys(&mut conn, &Secret::generate().unwrap())
        .expect("no key, nothing to open");
    town.badge();
    sellion_web::check_signing_keys(&mut conn, town.hospital.secret()).expect("its own key");
    let error = sellion_web::check_signing_keys(&mut conn, &Secret::generate().unwrap()).unwrap_err();
    assert!(error.to_string().contains("another secret"), "{error}");
}

#[test]
fn after_a_rotation_servers_that_run_sign_with_the_new_key_and_take_both() {
    let town = Town::open();
    let second = town.hospital.second_server(Limits::default());
    let old = town.badge();
    let (from, to) = town.rotate();
    assert_eq!(kid_of(&old), from);
    let desk = town.desk.at(&second.base());
    let new = town.hospital.badge(&desk, town.person());
    assert_eq!(kid_of(&new), to, "another server signs with the new key at once");
    assert_eq!((town.answer(&old).as_str(), town.answer(&new).as_str()), ("enter", "enter"));
    assert_eq!(town.published().len(), 2);
    assert_eq!(town.states(), [(from, "accepted", 1), (to, "signs", 1)]);
    // What signs no more needs no private half.
    let gone: Vec<Gone> =
        diesel::sql_query("select private_sealed = '' as gone from signing_keys order by created_at")
            .load(&mut town.hospital.db())
            .unwrap();
    assert_eq!(gone.iter().map(|row| row.gone).collect::<Vec<_>>(), [true, false]);
    town.assert_chain_holds();
}

#[derive(QueryableByName)]
struct Gone {
    #[diesel(sql_type = Bool)]
    gone: bool,
}

#[test]
fn a_key_stands_by_published_until_the_site_rotates_to_it() {
    let town = Town::open();
    let error = keys::rotate(
        &mut town.hospital.db(),
        town.hospital.site_id,
        town.hospital.secret(),
        town.hospital.now(),
    );
    assert_eq!(refusal(&error.unwrap_err()).code, Code::NotFound, "nothing to rotate");
    let Made::Signs(first) = town.create() else { panic!("the first key signs") };
    let Made::StandsBy(next) = town.create() else { panic!("a further key stands by") };
    let (secret, now) = (town.hospital.secret(), town.hospital.now());
    let third = keys::create(&mut town.hospital.db(), town.hospital.site_id, secret, now).unwrap_err();
    assert_eq!(refusal(&third).code, Code::AlreadyExists);
    assert!(town.published().get(&next).is_some(), "gates learn of it before it signs");
    assert_eq!(kid_of(&town.badge()), first);
    assert_eq!(town.rotate(), (first.clone(), next.clone()));
    assert_eq!(kid_of(&town.badge()), next);
    assert_eq!(town.states(), [(first, "accepted", 1), (next, "signs", 1)]);
}

#[test]
fn how_the_keys_stand_is_told_to_whoever_answers_for_them() {
    let town = Town::open();
    let auditor = town.hospital.signed_in(Role::Auditor);
    let path = "/api/v1/signing_keys";
    assert_eq!(auditor.get(path).ok(200)["items"], json!([]), "no badge, no key");
    let badge = town.badge();
    let (first, next) = town.rotate();
    assert_eq!(kid_of(&badge), first);
    let Made::StandsBy(third) = town.create() else { panic!("a further key stands by") };
    let told = |client: &Client| {
        let listed = client.get(path).ok(200);
        let all = listed["items"].as_array().unwrap().clone();
        all.iter().map(|key| json!([key["kid"], key["state"], key["badges_in_force"]])).collect::<Vec<_>>()
    };
    let standing = [json!([first, "accepted", 1]), json!([next, "signs", 0]), json!([third, "stands_by", 0])];
    assert_eq!(told(&auditor), standing);
    let text = auditor.get(path).text();
    assert!(!text.contains("jwk") && !text.contains("sealed"), "neither half is told: {text}");
    town.hospital.signed_in(Role::BadgeDesk).get(path).refused(403, "wrong_role");
    let stranger = town.hospital.signed_in_at(town.hospital.another_site("Ostrel"), &[Role::Admin]);
    assert_eq!(stranger.get(path).ok(200)["items"], json!([]));
}

#[test]
fn a_key_that_badges_stand_on_is_retired_only_when_told_so() {
    let town = Town::open();
    let badge = town.badge();
    town.badge();
    let kid = kid_of(&badge);
    let signs = town.retire(&kid, true).unwrap_err();
    assert!(refusal(&signs).detail.contains("rotate"), "{signs}");
    town.rotate();
    let stands = town.retire(&kid, false).unwrap_err();
    let refused = refusal(&stands);
    assert_eq!(refused.code, Code::StillInUse);
    assert!(refused.detail.starts_with("2 badges"), "{}", refused.detail);
    assert_eq!(town.answer(&badge), "enter");
    assert_eq!(town.retire(&kid, true).unwrap(), 2);
    assert_eq!(town.retire(&kid, true).unwrap(), 0, "a second time there is nothing to do");
    let started = Instant::now();
    while town.answer(&badge) != "not_valid" {
        assert!(started.elapsed() < NOTICED, "a retired key is retired on servers that run");
        std::thread::sleep(Duration::from_millis(100));
    }
    assert!(town.published().get(&kid).is_none());
    let unknown = town.retire("AAAAAAAA", false).unwrap_err();
    assert_eq!(refusal(&unknown).code, Code::NotFound);
    town.assert_chain_holds();
}

#[test]
fn a_withdrawn_key_takes_its_badges_along_in_one_step() {
    let town = Town::open();
    let badges = [town.badge(), town.badge(), town.badge()];
    let kid = kid_of(&badges[0]);
    let ending = json!({ "id": Uuid::now_v7(), "reason": "lost", "happened_at": town.hospital.now() });
    let path = format!("/api/v1/badges/{}/endings", badges[2]["id"].as_str().unwrap());
    town.desk.post(&path, &ending).ok(201);
    assert_eq!(town.answer(&badges[0]), "enter");

    let (ended, successor) = town.withdraw(&kid);
    let successor = successor.expect("another key signs");
    assert_eq!(ended, 2, "one had ended before");
    for badge in &badges {
        assert_eq!(town.answer(badge), "not_valid", "at once, though the key was known a moment ago");
        assert_eq!(town.typed(badge), "not_valid", "nor by its serial");
        let path = format!("/api/v1/badges/{}", badge["id"].as_str().unwrap());
        assert_eq!(town.desk.get(&path).ok(200)["status"], "ended");
    }
    assert!(town.published().get(&kid).is_none());
    let new = town.badge();
    assert_eq!(kid_of(&new), successor);
    assert_eq!(town.answer(&new), "enter");

    let site = town.hospital.site_id.simple().to_string();
    let list = town.hospital.nobody().get(&format!("/api/v1/status_lists/{}", &site[20..])).text();
    let list = sellion_badge::status_list::read(&town.published(), &list, &site[20..], town.hospital.now());
    let list = list.expect("signed by the successor");
    let statuses: Vec<_> = (0..4).map(|place| list.status(place).unwrap()).collect();
    assert_eq!(statuses, [Status::Ended, Status::Ended, Status::Ended, Status::Valid]);
    assert_eq!(town.withdraw(&kid), (0, None), "a second time there is nothing to do");
    town.assert_chain_holds();
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

#[test]
fn no_badge_that_is_being_issued_escapes_a_withdrawal() {
    let town = Town::open();
    let kid = kid_of(&town.badge());
    let people: Vec<Vec<Uuid>> = (0..4).map(|_| (0..8).map(|_| town.person()).collect()).collect();
    let desks: Vec<Client> = people.iter().map(|_| town.hospital.signed_in(Role::BadgeDesk)).collect();
    std::thread::scope(|scope| {
        for (desk, people) in desks.iter().zip(&people) {
            let town = &town;
            scope.spawn(move || people.iter().for_each(|person| drop(town.hospital.badge(desk, *person))));
        }
        std::thread::sleep(Duration::from_millis(60));
        town.withdraw(&kid);
    });
    let left: Count = diesel::sql_query(
        "select count(*) as count from badges b join signing_keys k on k.id = b.signing_key_id \
         where k.withdrawn_at is not null \
           and not exists (select from badge_endings e where e.badge_id = b.id)",
    )
    .get_result(&mut town.hospital.db())
    .unwrap();
    assert_eq!(left.count, 0);
    town.assert_chain_holds();
}

#[test]
fn keys_are_sealed_under_a_new_secret_all_or_none() {
    let town = Town::open();
    let old = town.badge();
    town.create();
    let elsewhere = town.hospital.another_site("Tollmere");
    let (mut conn, now) = (town.hospital.db(), town.hospital.now());
    keys::create(&mut conn, elsewhere, town.hospital.secret(), now).unwrap();
    let next = Secret::generate().unwrap();
    let wrong = Secret::generate().unwrap();
    let error = keys::reseal(&mut conn, &wrong, &next, now).unwrap_err();
    assert!(format!("{error:#}").contains("another secret"), "{error:#}");
    sellion_web::check_signing_keys(&mut conn, town.hospital.secret()).expect("nothing was changed");
    assert_eq!(keys::reseal(&mut conn, town.hospital.secret(), &next, now).unwrap(), 3);
    sellion_web::check_signing_keys(&mut conn, &next).expect("the new secret opens them all");
    sellion_web::check_signing_keys(&mut conn, town.hospital.secret()).unwrap_err();
    assert_eq!(town.answer(&old), "enter", "they are the same keys");
    town.assert_chain_holds();
}
