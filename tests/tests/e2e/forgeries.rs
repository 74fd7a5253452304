//! A thousand good badges, a thousand with one flipped bit, and every forgery that is known: the server's word on each.
//!
//! All of it is written to a folder as well, where a verifier that shares nothing with this program reads it and has
//! to come to the same word: tests/outside/verifier.

use std::{fs, path::PathBuf, time::Duration};

use aws_lc_rs::{
    hmac,
    rand::SystemRandom,
    signature::{ECDSA_P256_SHA256_FIXED_SIGNING, EcdsaKeyPair},
};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::TimeDelta;
use diesel::{
    RunQueryDsl,
    sql_types::{Array, Text, Uuid as SqlUuid},
};
use rand::RngExt;
use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};
use sellion_badge::{
    BadgeClaims, KeyRing, SigningKey, base45, code,
    status_list::{self, Statuses, Terms},
    token,
};
use sellion_rules::roles::Role;
use sellion_tests::harness::{Client, Hospital};
use serde_json::{Value, json};
use uuid::Uuid;

/// As many as the independent verifier is asked for.
const BADGES: usize = 1000;
const SEED: u64 = 45;

/// A text that a gate reads, and the word of the server for it.
struct Case {
    name: String,
    text: String,
    answer: String,
}

/// A hospital with many badges and one gate that accepts what is on them.
struct Town {
    hospital: Hospital,
    gatekeeper: Client,
    desk: Client,
    gate: Uuid,
    people: Vec<Uuid>,
}

impl Town {
    fn open() -> Self {
        let hospital = Hospital::open();
        let (gatekeeper, desk) = (hospital.signed_in(Role::Gate), hospital.signed_in(Role::BadgeDesk));
        let respirators: Vec<Uuid> = (1..=4).map(|number| hospital.db_respirator(number)).collect();
        let gate = hospital.gate_accepting("North entrance", &respirators);
        let people: Vec<Uuid> = (0..BADGES).map(|_| Uuid::now_v7()).collect();
        diesel::sql_query(PEOPLE)
            .bind::<SqlUuid, _>(hospital.site_id)
            .bind::<Array<SqlUuid>, _>(&people)
            .bind::<Array<SqlUuid>, _>(&respirators)
            .execute(&mut hospital.db())
            .unwrap();
        Self { hospital, gatekeeper, desk, gate, people }
    }

    /// The badge of each person, in order, made by some desks at once.
    fn badges(&self, people: &[Uuid]) -> Vec<Value> {
        at_once(people, |person| self.hospital.badge(&self.desk, *person))
    }

    fn scan(&self, text: &str) -> String {
        let answer = self.hospital.scan(&self.gatekeeper, self.gate, text);
        answer["answer"].as_str().unwrap().to_owned()
    }

    fn cases(&self, texts: Vec<(String, String)>) -> Vec<Case> {
        let answers = at_once(&texts, |(_, text)| self.scan(text));
        let named = texts.into_iter().zip(answers);
        named.map(|((name, text), answer)| Case { name, text, answer }).collect()
    }

    fn do_to(&self, badge: &Value, what: &str, reason: &str) {
        let path = format!("/api/v1/badges/{}/{what}", badge["id"].as_str().unwrap());
        let body = json!({ "id": Uuid::now_v7(), "reason": reason, "happened_at": self.hospital.now() });
        self.desk.post(&path, &body).ok(201);
    }

    fn jwks(&self) -> Value {
        self.hospital.nobody().get("/.well-known/jwks.json").ok(200)
    }
}

/// Each person is cleared for one to four of the respirators.
const PEOPLE: &str = "\
with p as (insert into people (id, site_id, staff_number, given_name, family_name) \
  select id, $1, id::text, 'Ines', 'Valdrun ' || n from unnest($2) with ordinality q(id, n) returning id), \
r as (select id, n from unnest($3) with ordinality q(id, n)) \
insert into clearances (person_id, respirator_id, site_id, state, reasons, tested_on, due_on, valid_from, \
    valid_until, computed_at) \
  select q.id, r.id, $1, 'cleared', '{}', current_date, current_date + 300, now() - interval '1 day', \
    now() + interval '300 days', now() \
  from unnest($2) with ordinality q(id, n) join r on r.n <= 1 + q.n % 4";

/// Does something to all of them on four threads, and returns what came of it in their order.
fn at_once<T: Sync, R: Send>(all: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let share = all.len().div_ceil(4).max(1);
    std::thread::scope(|scope| {
        let work = &work;
        let parts: Vec<_> = all
            .chunks(share)
            .map(|part| scope.spawn(move || part.iter().map(work).collect::<Vec<R>>()))
            .collect();
        parts.into_iter().flat_map(|part| part.join().unwrap()).collect()
    })
}

fn code_of(badge: &Value) -> &str {
    badge["code"].as_str().unwrap()
}

/// The text with one bit flipped anywhere behind the prefix.
fn flipped(text: &str, random: &mut ChaCha8Rng) -> String {
    let mut bytes = base45::decode(text.strip_prefix(code::PREFIX).unwrap()).unwrap();
    let place = random.random_range(0..bytes.len());
    bytes[place] ^= 1 << random.random_range(0..8);
    packed(&bytes)
}

fn packed(bytes: &[u8]) -> String {
    format!("{}{}", code::PREFIX, base45::encode(bytes))
}

/// A code from parts as a forger packs them, canonical or not.
fn packed_parts(header: &[u8], payload: &[u8], signature: &[u8]) -> String {
    let mut bytes = vec![u8::try_from(header.len()).unwrap()];
    bytes.extend(u16::try_from(payload.len()).unwrap().to_be_bytes());
    bytes.extend([header, payload, signature].concat());
    packed(&bytes)
}

/// A key that the site accepts and whose private half the forger has: the worst case, in which nothing but the form of
/// a token is left to be wrong.
fn stolen_key(hospital: &Hospital) -> SigningKey {
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
    // Unknown keys cost a forger nothing, so a server looks for them in the database no more often than this.
    std::thread::sleep(Duration::from_millis(300));
    key
}

/// What a forger has: the text and the parts of a true badge, the public keys, a key of their own, and a stolen one.
struct Forger {
    text: String,
    header: Vec<u8>,
    payload: Vec<u8>,
    signature: Vec<u8>,
    claims: BadgeClaims,
    point: Vec<u8>,
    own: SigningKey,
    stolen: SigningKey,
}

impl Forger {
    fn begin(town: &Town, badge: &Value) -> Self {
        let text = code_of(badge).to_owned();
        let jwt = code::unpack(&text).unwrap();
        let parts: Vec<Vec<u8>> = jwt.split('.').map(|part| URL_SAFE_NO_PAD.decode(part).unwrap()).collect();
        let [header, payload, signature] = parts.try_into().unwrap();
        let jwks = town.jwks();
        let ring = KeyRing::from_jwks(&jwks.to_string()).unwrap();
        let claims = token::verify(&ring, &jwt, town.hospital.now()).unwrap();
        let kid = serde_json::from_slice::<Value>(&header).unwrap()["kid"].clone();
        let key = jwks["keys"].as_array().unwrap().iter().find(|key| key["kid"] == kid).unwrap().clone();
        let coordinate = |name: &str| URL_SAFE_NO_PAD.decode(key[name].as_str().unwrap()).unwrap();
        let point = [vec![4], coordinate("x"), coordinate("y")].concat();
        let stolen = stolen_key(&town.hospital);
        let own = SigningKey::generate().unwrap();
        Self { text, header, payload, signature, claims, point, own, stolen }
    }

    /// Signed with the stolen key: any header and payload.
    fn stolen(&self, header: &str, payload: &str) -> String {
        let header = header.replace("KID", self.stolen.kid());
        let message = format!("{}.{}", URL_SAFE_NO_PAD.encode(&header), URL_SAFE_NO_PAD.encode(payload));
        let der = self.stolen.to_pkcs8_der();
        let pair = EcdsaKeyPair::from_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, der).unwrap();
        let signature = pair.sign(&SystemRandom::new(), message.as_bytes()).unwrap();
        packed_parts(header.as_bytes(), payload.as_bytes(), signature.as_ref())
    }

    fn hmac(&self, header: &[u8]) -> String {
        let message = format!("{}.{}", URL_SAFE_NO_PAD.encode(header), URL_SAFE_NO_PAD.encode(&self.payload));
        let key = hmac::Key::new(hmac::HMAC_SHA256, &self.point);
        packed_parts(header, &self.payload, hmac::sign(&key, message.as_bytes()).as_ref())
    }

    /// RFC 8725 section 3, RFC 7515 section 10, fact 10.43; and what the form of a code leaves to try.
    fn forgeries(&self) -> Vec<(String, String)> {
        let header =
            |alg: &str| String::from_utf8(self.header.clone()).unwrap().replace("ES256", alg).into_bytes();
        let mut later = self.claims.clone();
        later.expires_at += TimeDelta::days(1);
        let swapped = [&self.signature[32..], &self.signature[..32]].concat();
        let own = |claims| code::pack(&token::sign(claims, &self.own).unwrap()).unwrap();
        let of_own = base45::decode(own(&self.claims).strip_prefix(code::PREFIX).unwrap()).unwrap();
        let own_signature = &of_own[of_own.len() - 64..];
        let raw = base45::decode(self.text.strip_prefix(code::PREFIX).unwrap()).unwrap();
        let extended = serde_json::to_vec(&later).unwrap();
        let named = [
            ("alg none", packed_parts(&header("none"), &self.payload, &[0])),
            (
                "alg none with the old signature",
                packed_parts(&header("none"), &self.payload, &self.signature),
            ),
            ("HS256 with the public key as secret", self.hmac(&header("HS256"))),
            ("the same, called ES256", self.hmac(&self.header)),
            ("a key of the forger's own", own(&self.claims)),
            ("the same, called ours", packed_parts(&self.header, &self.payload, own_signature)),
            ("one more day", packed_parts(&self.header, &extended, &self.signature)),
            ("R and S swapped", packed_parts(&self.header, &self.payload, &swapped)),
            ("a signature of zeros", packed_parts(&self.header, &self.payload, &[0; 64])),
            ("a short signature", packed(&raw[..raw.len() - 1])),
            ("a byte after the signature", packed(&[&raw[..], &[0]].concat())),
            ("a badge behind the badge", packed(&[&raw[..], &raw[..]].concat())),
            ("lengths beyond the end", packed(&[&[255, 255, 255], &raw[3..]].concat())),
            ("no header", packed(&[&[0], &raw[1..]].concat())),
            ("another prefix", self.text.replacen("SL1:", "SL2:", 1)),
            ("no prefix", self.text["SL1:".len()..].to_owned()),
            ("small letters", self.text.to_lowercase()),
            ("a group of base45 that overflows", format!("{}GGW", self.text)),
            ("a length that base45 does not have", self.text[..self.text.len() / 3 * 3 - 1].to_owned()),
            ("the bare JWT", code::unpack(&self.text).unwrap()),
        ];
        let mut all: Vec<(String, String)> =
            named.into_iter().map(|(name, text)| (name.to_owned(), text)).collect();
        all.extend(self.with_the_stolen_key());
        all
    }

    fn with_the_stolen_key(&self) -> Vec<(String, String)> {
        let good = serde_json::to_string(&self.claims).unwrap();
        let plain = r#"{"alg":"ES256","kid":"KID"}"#;
        let headers = [
            ("typ JWT", r#"{"alg":"ES256","kid":"KID","typ":"JWT"}"#),
            ("typ of a status list", r#"{"alg":"ES256","kid":"KID","typ":"statuslist+jwt"}"#),
            ("a critical extension", r#"{"alg":"ES256","kid":"KID","crit":["exp"]}"#),
            ("a key of its own in the header", r#"{"alg":"ES256","kid":"KID","jwk":{"kty":"EC"}}"#),
            ("an address of a key", r#"{"alg":"ES256","kid":"KID","jku":"https://keys.example/"}"#),
            ("the key named twice", r#"{"alg":"ES256","kid":"KID","kid":"KID"}"#),
            ("the algorithm named twice", r#"{"alg":"none","alg":"ES256","kid":"KID"}"#),
            ("no kid", r#"{"alg":"ES256"}"#),
            ("a header that is no object", r#"["ES256","KID"]"#),
            ("ES384 by name", r#"{"alg":"ES384","kid":"KID"}"#),
        ];
        let payloads = [
            ("the end named twice", good.replacen("{", r#"{"exp":4102444800,"#, 1)),
            ("a claim that badges do not have", good.replacen('{', r#"{"nbf":0,"#, 1)),
            ("no serial", good.replacen("\"jti\"", "\"jtx\"", 1)),
            (
                "an end in words",
                good.replacen(&self.claims.expires_at.timestamp().to_string(), "\"never\"", 1),
            ),
            ("no respirator", {
                let mut claims: Value = serde_json::from_str(&good).unwrap();
                claims["rsp"] = json!([]);
                claims.to_string()
            }),
            ("no JSON", "never mind".to_owned()),
        ];
        let mut all = vec![("a status list".to_owned(), code::pack(&self.status_list()).unwrap())];
        all.extend(headers.map(|(name, header)| (name.to_owned(), self.stolen(header, &good))));
        all.extend(payloads.map(|(name, payload)| (name.to_owned(), self.stolen(plain, &payload))));
        all
    }

    fn status_list(&self) -> String {
        let terms = Terms {
            subject: status_list::path(&self.claims.issuer),
            issued_at: self.claims.issued_at,
            expires_at: Some(self.claims.expires_at),
            ttl_seconds: None,
        };
        status_list::sign(&terms, &Statuses::valid(4).compressed().unwrap(), &self.stolen).unwrap()
    }
}

/// Where the cases go: told by whoever has another program read them, else beside the build.
fn folder() -> PathBuf {
    let told = std::env::var_os("SELLION_BADGE_CASES").map(PathBuf::from);
    told.unwrap_or_else(|| PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("badge-cases"))
}

fn write(town: &Town, groups: &[(&str, &[Case])]) {
    let site = town.hospital.site_id.simple().to_string();
    let issuer = &site[20..];
    let list = town.hospital.nobody().get(&format!("/api/v1/status_lists/{issuer}")).text();
    let cases = |cases: &[Case]| {
        let rows =
            cases.iter().map(|case| json!({ "name": case.name, "code": case.text, "answer": case.answer }));
        rows.collect::<Vec<Value>>()
    };
    let groups: serde_json::Map<String, Value> =
        groups.iter().map(|(name, group)| ((*name).to_owned(), cases(group).into())).collect();
    let all = json!({
        "jwks": town.jwks(), "status_list": list, "issuer": issuer, "at": town.hospital.now().timestamp(),
        "groups": groups,
    });
    fs::create_dir_all(folder()).unwrap();
    fs::write(folder().join("cases.json"), all.to_string()).unwrap();
}

fn numbered(badges: &[Value]) -> Vec<(String, String)> {
    badges.iter().enumerate().map(|(n, badge)| (format!("badge {n}"), code_of(badge).to_owned())).collect()
}

fn all_answer(cases: &[Case], wanted: &str) {
    for case in cases {
        assert_eq!(case.answer, wanted, "{}: {}", case.name, case.text);
    }
}

#[test]
fn a_thousand_badges_enter_and_nothing_that_was_altered_or_forged_does() {
    let town = Town::open();
    let (early, late) = town.people.split_at(BADGES / 2);
    let mut badges = town.badges(early);
    let (mut conn, now) = (town.hospital.db(), town.hospital.now());
    sellion_web::keys::rotate(&mut conn, town.hospital.site_id, town.hospital.secret(), now).unwrap();
    badges.extend(town.badges(late));

    let good = town.cases(numbered(&badges));
    all_answer(&good, "enter");
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let texts =
        numbered(&badges).into_iter().map(|(name, text)| (name, flipped(&text, &mut random))).collect();
    let altered = town.cases(texts);
    all_answer(&altered, "not_valid");
    let forger = Forger::begin(&town, &badges[7]);
    assert_eq!(
        town.scan(&forger.stolen(r#"{"alg":"ES256","kid":"KID"}"#, &payload(&forger))),
        "enter",
        "the form is right"
    );
    let forged = town.cases(forger.forgeries());
    all_answer(&forged, "not_valid");

    // Some end and some are held, after they were let in: the list says so of each.
    let (ended, held) = (&badges[10..30], &badges[30..50]);
    ended.iter().for_each(|badge| town.do_to(badge, "endings", "lost"));
    held.iter().for_each(|badge| town.do_to(badge, "holds", "under_review"));
    let ended = town.cases(numbered(ended));
    all_answer(&ended, "not_valid");
    let held = town.cases(numbered(held));
    all_answer(&held, "cannot_confirm");
    let good = town.cases(numbered(&[&badges[..10], &badges[50..]].concat()));
    all_answer(&good, "enter");
    write(
        &town,
        &[("good", &good), ("altered", &altered), ("forged", &forged), ("ended", &ended), ("held", &held)],
    );
}

fn payload(forger: &Forger) -> String {
    serde_json::to_string(&forger.claims).unwrap()
}
