//! A hospital for one test: its own database, a real server on a real socket, and signed-in actors who call it.

mod client;
pub mod cut;
pub mod day;
mod examples;
mod gates;
pub mod hours;
pub mod measure;
mod operations;
mod people;
mod plain;
mod server;
pub mod stores;
pub mod stream;
pub mod taste;
mod told;

use std::sync::OnceLock;

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{Connection, PgConnection};
use sellion_rules::{roles::Role, ruleset::RuleSet};
use sellion_store::{Actor, Limits, Store, TextList, site, user, write_on};
use sellion_web::{Clock, Secret, StreamLimits, Tls};
use uuid::Uuid;

pub use client::{Client, Reply};
pub use people::{permissions_path, respirator_body};
pub use server::TestServer;
pub use told::tells;

use crate::database::TestDatabase;

/// The password of every user that tests add.
pub const PASSWORD: &str = "a long pass phrase";

/// The rule set that test sites open their days under.
pub const RULE_SET: &str = "us-29cfr1910-134";

/// One site with a server in front of it.
pub struct Hospital {
    /// The site's id.
    pub site_id: Uuid,
    /// What the server believes the time to be.
    pub clock: Clock,
    /// The server.
    pub server: TestServer,
    /// The database behind it.
    pub database: TestDatabase,
    secret: Secret,
}

impl Hospital {
    /// A new hospital in a new database, on an afternoon.
    #[must_use]
    pub fn open() -> Self {
        Self::open_with(Limits::default())
    }

    /// A new hospital whose server holds other limits.
    #[must_use]
    pub fn open_with(limits: Limits) -> Self {
        Self::open_at(hours::afternoon(), limits)
    }

    /// A new hospital in the machine's own time, which other programs that take part go by.
    #[must_use]
    pub fn in_machine_time() -> Self {
        Self::open_at(Clock::default(), Limits::default())
    }

    fn open_at(clock: Clock, limits: Limits) -> Self {
        let database = TestDatabase::fresh();
        let secret = Secret::generate().expect("randomness");
        let store = Store::open(database.url(), limits);
        let server = TestServer::start(store, &clock, &secret);
        let site_id = add_site(&database, "Marrowfield", clock.now());
        Self { site_id, clock, server, database, secret }
    }

    /// A second site in the same database, behind the same server.
    #[must_use]
    pub fn another_site(&self, name: &str) -> Uuid {
        add_site(&self.database, name, self.now())
    }

    /// What the server believes the time to be.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        self.clock.now()
    }

    /// A moment so many seconds ago.
    #[must_use]
    pub fn ago(&self, seconds: i64) -> DateTime<Utc> {
        self.now() - TimeDelta::seconds(seconds)
    }

    /// The installation's secret.
    #[must_use]
    pub fn secret(&self) -> &Secret {
        &self.secret
    }

    /// Somebody who is not signed in.
    #[must_use]
    pub fn nobody(&self) -> Client {
        Client::new(self.server.base())
    }

    /// Somebody with one role, signed in.
    #[must_use]
    pub fn signed_in(&self, role: Role) -> Client {
        self.signed_in_at(self.site_id, &[role])
    }

    /// Somebody with some roles at some site, signed in.
    #[must_use]
    pub fn signed_in_at(&self, site_id: Uuid, roles: &[Role]) -> Client {
        let username = self.db_user(site_id, roles);
        self.nobody().sign_in(&username, PASSWORD)
    }

    /// Adds a user by the back door and returns the username.
    #[must_use]
    pub fn db_user(&self, site_id: Uuid, roles: &[Role]) -> String {
        let id = Uuid::now_v7();
        let new = user::NewUser {
            id,
            site_id,
            username: format!("user-{}", id.simple()),
            display_name: "Ines Valdrun".to_owned(),
            roles: TextList::of(roles.iter().map(|role| role.as_str())),
        };
        let mut conn = self.db();
        write_on(&mut conn, &Actor::program(site_id), "test", self.now(), |tx| {
            user::create(tx, &new, password_hash())
        })
        .expect("a user");
        new.username
    }

    /// A connection by the back door.
    #[must_use]
    pub fn db(&self) -> PgConnection {
        PgConnection::establish(self.database.url()).expect("a connection")
    }

    /// A further server on the same database with other limits on its live streams.
    #[must_use]
    pub fn server_with_streams(&self, limits: StreamLimits) -> TestServer {
        let store = Store::open(self.database.url(), Limits::default());
        TestServer::start_with(store, &self.clock, &self.secret, limits)
    }

    /// A further server that speaks TLS.
    #[must_use]
    pub fn tls_server(&self, tls: Tls) -> TestServer {
        let store = Store::open(self.database.url(), Limits::default());
        TestServer::start_tls(store, &self.clock, &self.secret, tls)
    }

    /// What a server says that cannot start with these files.
    #[must_use]
    pub fn refused_tls(&self, tls: Tls) -> String {
        let store = Store::open(self.database.url(), Limits::default());
        TestServer::refused_tls(store, &self.clock, &self.secret, tls)
    }

    /// A second server on the same database, as when several share one.
    #[must_use]
    pub fn second_server(&self, limits: Limits) -> TestServer {
        TestServer::start(Store::open(self.database.url(), limits), &self.clock, &self.secret)
    }
}

/// Hashing is slow on purpose, so the one password that all test users share is hashed once.
fn password_hash() -> &'static str {
    static HASH: OnceLock<String> = OnceLock::new();
    HASH.get_or_init(|| sellion_web::hash_password(PASSWORD).expect("a hash"))
}

fn add_site(database: &TestDatabase, name: &str, now: DateTime<Utc>) -> Uuid {
    let new = site::NewSite {
        id: Uuid::now_v7(),
        name: name.to_owned(),
        time_zone: "Europe/Lisbon".to_owned(),
        rule_set_name: RULE_SET.to_owned(),
        rule_set_version: rule_set_version(),
    };
    let mut conn = PgConnection::establish(database.url()).expect("a connection");
    write_on(&mut conn, &Actor::program(new.id), "test", now, |tx| site::create(tx, &new)).expect("a site");
    new.id
}

fn rule_set_version() -> String {
    RuleSet::newest(RULE_SET).expect("the rule set").version
}
