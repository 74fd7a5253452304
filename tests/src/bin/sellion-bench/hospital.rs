//! The hospital that is measured: a durable private database, a server, and as many badges as asked for.

use std::{os::unix::fs::PermissionsExt, time::Duration};

use anyhow::Context;
use chrono::{DateTime, TimeDelta, Utc};
use diesel::{
    Connection, PgConnection, RunQueryDsl,
    connection::SimpleConnection,
    sql_types::{Array, BigInt, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_badge::{BadgeClaims, ClearedRespirator, KeyRing, Serial, SigningKey, code, token};
use sellion_rules::{roles::Role, ruleset::RuleSet};
use sellion_store::{
    Actor, Limits, Store, TextList,
    cluster::{Cluster, Durability, Options},
    migrate, site, user, write_on,
};
use sellion_tests::harness::{Client, PASSWORD, TestServer};
use sellion_web::{Clock, Secret};
use uuid::Uuid;

/// Badges signed and stored at a time.
const PORTION: u32 = 10_000;

/// A hospital on a database that syncs every commit.
pub(crate) struct Hospital {
    pub(crate) site_id: Uuid,
    pub(crate) database_url: String,
    pub(crate) server: TestServer,
    pub(crate) clock: Clock,
    pub(crate) secret: Secret,
    // Fields drop in order: the server first, then its database, then the files.
    _cluster: Cluster,
    _folder: tempfile::TempDir,
}

/// What the scans of a measurement need to know.
pub(crate) struct Badges {
    pub(crate) gate_id: Uuid,
    pub(crate) policy_id: Uuid,
    pub(crate) respirator_id: Uuid,
    /// The texts of the printed codes; the place is the badge's index in the status list.
    pub(crate) codes: Vec<String>,
}

impl Hospital {
    pub(crate) fn open() -> anyhow::Result<Self> {
        let folder = tempfile::Builder::new()
            .prefix("sellion-bench-")
            .permissions(std::fs::Permissions::from_mode(0o755))
            .tempdir()?;
        let cluster = Cluster::start(&Options {
            home: folder.path().join("db"),
            programs: None,
            durability: Durability::Durable,
            max_connections: 300,
            start_timeout: Duration::from_secs(60),
        })?;
        let mut conn = PgConnection::establish(&cluster.database_url("postgres"))?;
        conn.batch_execute("create database sellion")?;
        let database_url = cluster.database_url("sellion");
        let mut conn = PgConnection::establish(&database_url)?;
        migrate(&database_url)?;
        let (clock, secret) = (Clock::default(), Secret::generate()?);
        let site_id = add_site(&mut conn, clock.now())?;
        let server = TestServer::start(Store::open(&database_url, Limits::default()), &clock, &secret);
        Ok(Self { site_id, database_url, server, clock, secret, _cluster: cluster, _folder: folder })
    }

    pub(crate) fn db(&self) -> anyhow::Result<PgConnection> {
        Ok(PgConnection::establish(&self.database_url)?)
    }

    /// Somebody with one role, and the cookie that says so.
    pub(crate) fn signed_in(&self, role: Role) -> anyhow::Result<(Client, String)> {
        let id = Uuid::now_v7();
        let new = user::NewUser {
            id,
            site_id: self.site_id,
            username: format!("user-{}", id.simple()),
            display_name: "Ines Valdrun".to_owned(),
            roles: TextList::of([role.as_str()]),
        };
        let hash = sellion_web::hash_password(PASSWORD)?;
        write_on(&mut self.db()?, &Actor::program(self.site_id), "bench", self.clock.now(), |tx| {
            user::create(tx, &new, &hash)
        })?;
        let nobody = Client::new(self.server.base());
        let body = serde_json::json!({ "username": new.username, "password": PASSWORD });
        let reply = nobody.post("/api/v1/sessions", &body);
        let cookie = reply.header("set-cookie").and_then(|cookie| cookie.split(';').next());
        let cookie = cookie.context("signing in brought no cookie")?.to_owned();
        Ok((nobody.with_header("cookie", &cookie), cookie))
    }

    /// People, each cleared for the one respirator in use, each with a signed badge; and a gate.
    pub(crate) fn fill(&self, people: u32) -> anyhow::Result<Badges> {
        let mut conn = self.db()?;
        let now = self.clock.now();
        let [respirator_id, gate_id, policy_id, key_id] = [(); 4].map(|()| Uuid::now_v7());
        let key = SigningKey::generate()?;
        let mut ring = KeyRing::new();
        ring.insert(key.verifying_key().clone())?;
        let jwk = ring.to_jwks()["keys"][0].to_string();
        conn.batch_execute(&format!(
            "insert into respirators (id, site_id, number, make, model, style, size, facepiece, filter_class, \
               protection_factor) \
             values ('{respirator_id}', '{site}', 1, 'Orlevane', '31', 'fold', 'medium', 'filtering_facepiece', 'N95', 10); \
             insert into gates (id, site_id, name) values ('{gate_id}', '{site}', 'North entrance'); \
             insert into gate_policies (id, site_id, gate_id, effective_from, none_needed, \
               knowledge_age_max_seconds, fallback, happened_at, recorded_at, recorded_by) \
             values ('{policy_id}', '{site}', '{gate_id}', now(), false, 900, '', now(), now(), '{key_id}'); \
             insert into gate_policy_respirators values ('{policy_id}', '{respirator_id}', 0, now()); \
             insert into signing_keys (id, site_id, kid, public_jwk, private_sealed, signs_until) \
             values ('{key_id}', '{site}', '{kid}', '{jwk}', '', now())",
            site = self.site_id,
            kid = key.kid(),
        ))?;
        let mut codes = Vec::with_capacity(people as usize);
        for from in (0..people).step_by(PORTION as usize) {
            let portion = from..people.min(from + PORTION);
            codes.extend(self.add(&mut conn, &key, key_id, respirator_id, portion, now)?);
        }
        conn.batch_execute("analyze; checkpoint")?;
        Ok(Badges { gate_id, policy_id, respirator_id, codes })
    }

    /// One portion of people, clearances and badges; the codes.
    fn add(
        &self,
        conn: &mut PgConnection,
        key: &SigningKey,
        key_id: Uuid,
        respirator_id: Uuid,
        numbers: std::ops::Range<u32>,
        now: DateTime<Utc>,
    ) -> anyhow::Result<Vec<String>> {
        let until = now + TimeDelta::days(364);
        let (mut serials, mut codes) = (Vec::new(), Vec::new());
        for number in numbers.clone() {
            // Spread over all serials, as drawn ones are.
            let serial = Serial::from_number(u64::from(number) * 7_919 * 1_009)?;
            let claims = BadgeClaims {
                issuer: "bench".to_owned(),
                serial,
                issued_at: now,
                expires_at: until,
                status_index: number.into(),
                respirators: vec![ClearedRespirator { code: "1".to_owned(), due_on: until.date_naive() }],
            };
            serials.push(serial.compact());
            codes.push(code::pack(&token::sign(&claims, key)?)?);
        }
        let ids: Vec<Uuid> = numbers.clone().map(|_| Uuid::now_v7()).collect();
        diesel::sql_query(PEOPLE)
            .bind::<Array<SqlUuid>, _>(&ids)
            .bind::<Array<BigInt>, _>(numbers.map(i64::from).collect::<Vec<_>>())
            .bind::<Array<Text>, _>(&serials)
            .bind::<Array<Text>, _>(&codes)
            .bind::<SqlUuid, _>(self.site_id)
            .bind::<SqlUuid, _>(respirator_id)
            .bind::<SqlUuid, _>(key_id)
            .bind::<Timestamptz, _>(now)
            .bind::<Timestamptz, _>(until)
            .execute(conn)?;
        Ok(codes)
    }
}

/// The ids of people serve as those of their badges, which is nobody's business but this program's.
const PEOPLE: &str = "\
with q as (select * from unnest($1, $2, $3, $4) as q(id, number, serial, code)), \
p as (insert into people (id, site_id, staff_number, given_name, family_name) \
  select id, $5, 'B' || lpad(number::text, 7, '0'), 'Given', 'Family ' || number from q returning id), \
c as (insert into clearances (person_id, respirator_id, site_id, state, reasons, tested_on, due_on, valid_from, \
    valid_until, computed_at) \
  select id, $6, $5, 'cleared', '{}', $8::date, $9::date, $8, $9, $8 from q), \
b as (insert into badges (id, site_id, person_id, serial, status_index, signing_key_id, code, expires_at, \
    happened_at, recorded_at, recorded_by) \
  select id, $5, id, serial, number, $7, code, $9, $8, $8, $7 from q) \
insert into badge_respirators (badge_id, respirator_id, due_on, recorded_at) select id, $6, $9::date, $8 from q";

fn add_site(conn: &mut PgConnection, now: DateTime<Utc>) -> anyhow::Result<Uuid> {
    let rules = RuleSet::newest(sellion_tests::harness::RULE_SET);
    let new = site::NewSite {
        id: Uuid::now_v7(),
        name: "Marrowfield".to_owned(),
        time_zone: "Europe/Lisbon".to_owned(),
        rule_set_name: sellion_tests::harness::RULE_SET.to_owned(),
        rule_set_version: rules.context("the rule set is not embedded")?.version,
    };
    write_on(conn, &Actor::program(new.id), "bench", now, |tx| site::create(tx, &new))?;
    Ok(new.id)
}
